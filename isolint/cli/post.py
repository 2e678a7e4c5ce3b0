"""`isolint post`: bring the comments on a request up to date with a review."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from isolint.cli.streams import complain, deliver

if TYPE_CHECKING:
    from isolint.review.values import Review

KINDS = ("github", "gitlab", "gitea")


@click.command(short_help="Post a review on a pull or merge request, and keep it up to date.")
@click.argument("file", metavar="FILE")
@click.option("--forge", "kind", type=click.Choice(KINDS), required=True, help="Whose interface; gitea: Forgejo too.")
@click.option("--url", metavar="URL", help="Base address of the interface. Default: as the forge's own jobs say.")
@click.option("--repository", metavar="NAME", help="OWNER/NAME, or the project. Default: as the forge's own jobs say.")
@click.option("--request", "number", metavar="N", help="Number of the request. Default: as the forge's own jobs say.")
@click.option("--head", metavar="SHA", help="Commit that FILE must be a review of; from the event, never from FILE.")
@click.option("--dry-run", is_flag=True, help="Print the requests that an empty request would get; no token is needed.")
@click.option(
    "--failed", is_flag=True, help="The run that should have made FILE failed: only say so. FILE is not read."
)
@click.option("--untrusted", is_flag=True, help="FILE was made by the request's own run: fix, resolve, delete nothing.")
def post(
    file: str,
    kind: str,
    url: str | None,
    repository: str | None,
    number: str | None,
    head: str | None,
    dry_run: bool,
    failed: bool,
    untrusted: bool,
) -> int:
    """Post the review in FILE (`isolint review --format json`).

    The token comes from ISOLINT_TOKEN, GITHUB_TOKEN, GITLAB_TOKEN or GITEA_TOKEN; it is never printed and goes to the
    stated address only. ISOLINT_MARKER_KEY signs the marks of comments where several jobs share one account.
    Exit status: 0 done, or the head moved; 2 not done. It never tells the findings.
    """
    import os

    from isolint.posting.client import Client, NotDone, Sender
    from isolint.posting.dry import DrySender
    from isolint.posting.forges import FORGES, base_of, chosen
    from isolint.posting.markers import Signer
    from isolint.posting.posting import post as bring
    from isolint.review.values import Review

    forge = FORGES[kind]
    token = "" if dry_run else chosen(forge.tokens, os.environ)
    name = repository or chosen(forge.repositories, os.environ)
    request = number or chosen(forge.numbers, os.environ)
    if not name or not request:
        raise click.UsageError("say which request: --repository NAME --request N")
    if failed and not head:
        raise click.UsageError("--failed needs --head: without a review nothing else tells it")
    if not token and not dry_run:
        raise click.UsageError(f"no token: set {' or '.join(forge.tokens)}, or look with --dry-run")
    review = Review("", "", head or "") if failed else _read(file)
    if not review.head:
        raise NotDone(f"{file} is a review of a work tree, which no request has")
    if head is not None and review.head != head:
        deliver(f"nothing posted: {file} is a review of {review.head[:12]}, not of {head[:12]}\n")
        return 0
    base = base_of(forge, url, os.environ)
    sender = DrySender(review) if dry_run else Sender()
    client = Client(base, forge.headers(token), sender, *([lambda seconds: None] if dry_run else []))
    signer = Signer(client.base, name, request, os.environ.get("ISOLINT_MARKER_KEY", ""))
    try:
        done = bring(forge.make(client, name, request), review, signer, untrusted, failed, once=dry_run)
    finally:
        sender.close()
    if isinstance(sender, DrySender):
        deliver("".join(f"{text}\n" for text in sender.requests) or "nothing would be written\n")
        return 0
    for note in done.notes:
        complain(note)
    deliver(f"nothing more posted: {done.stopped}\n" if done.stopped else f"{done.writes} writes\n")
    return 0


def _read(file: str) -> Review:
    from isolint.errors import IsolintError
    from isolint.review.review_json import MOST_BYTES, load

    try:
        with open(file, "rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the name can't be used").lower()
        raise IsolintError(f"{file}: the review can't be read: {reason}") from None
    try:
        return load(data)
    except IsolintError as error:
        raise IsolintError(f"{file}: {error.text}") from None

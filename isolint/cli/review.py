"""`isolint review`: what a change did to the isolated interfaces."""

from __future__ import annotations

from datetime import date

import click

from isolint.cli.day import read_day
from isolint.cli.screen import laid_out, watched
from isolint.cli.streams import complain, deliver

FORMATS = ("text", "json", "markdown", "sarif-active", "html")


@click.command(short_help="Say what a change did: new, worse, fixed, with before, after and cause.")
@click.argument("folder", metavar="[FOLDER]", default=".")
@click.option(
    "--base", required=True, metavar="REV", help="Revision that the change starts from: its merge base counts."
)
@click.option("--head", metavar="REV", help="Revision with the change. Default: HEAD.")
@click.option("--work-tree", is_flag=True, help="Take the files as they lie in the folder instead of a revision.")
@click.option("--exact", is_flag=True, help="Compare with REV itself, not with the merge base.")
@click.option(
    "--policy", type=click.Choice(("head", "base")), default="head",
    help="Whose settings, records, waivers and baselines judge head. base: for requests of strangers.",
)  # fmt: skip
@click.option(
    "--format", "form", type=click.Choice(FORMATS), default="text", metavar="FORMAT",
    help=f"Output format: {', '.join(FORMATS)}.",
)  # fmt: skip
@click.option("--output", metavar="FILE", help="Write to FILE instead of standard output.")
@click.option("--strict", is_flag=True, help="Count every open result and every card that may be lost as an error.")
@click.option("--today", callback=read_day, metavar="DATE", help="Judge waivers as of DATE (2027-06-30), in both.")
def review(
    folder: str,
    base: str,
    head: str | None,
    work_tree: bool,
    exact: bool,
    policy: str,
    form: str,
    output: str | None,
    strict: bool,
    today: date | None,
) -> int:
    """Compare two revisions of the repository at FOLDER: judge every netlist that depends on the change in either.

    Nothing is checked out, and nothing that the repository says is run. Exit status: 0 the change brought nothing that
    counts, 1 it did, 2 something could not be done.
    """
    from pathlib import Path

    from isolint.app import Options
    from isolint.review.review_formats import render
    from isolint.review.reviewing import Policy, ReviewOrder
    from isolint.review.reviewing import review as compare

    if work_tree and head is not None:
        raise click.UsageError("--head and --work-tree exclude each other")
    whose: Policy = "base" if policy == "base" else "head"
    asked = ReviewOrder(base, None if work_tree else head or "HEAD", exact, whose)
    with watched() as tell:
        options = Options(strict=strict, today=today or date.today(), tell=tell)
        found = compare(Path(folder), asked, options)
    text = render(form, found)
    if output is None:
        deliver(laid_out(text) if form == "text" else text)
    else:
        from isolint.cli.files import store

        store({output: text}, [netlist.new for netlist in found.netlists if netlist.new])
    for line in found.errors:
        complain(line)
    return found.exit_status

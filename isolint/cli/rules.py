"""`isolint rules`: the list of rules, and their pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from isolint.cli.streams import deliver

if TYPE_CHECKING:
    from isolint.results import RuleRecord


@click.command(short_help="List the rules or print their pages.")
@click.argument("slugs", metavar="[RULE...]", nargs=-1)
def rules(slugs: tuple[str, ...]) -> int:
    """List the rules with group, default level and summary; with RULE... print their whole pages."""
    from isolint import app
    from isolint.reports import rulebook

    records = app.rules()
    deliver(rulebook.pages(_named(records, slugs)) if slugs else rulebook.listing(records))
    return 0


def _named(records: Sequence[RuleRecord], slugs: Sequence[str]) -> list[RuleRecord]:
    import difflib

    from isolint.errors import IsolintError

    by_slug = {record.slug: record for record in records}
    found = []
    for slug in slugs:
        if slug not in by_slug:
            nearest = difflib.get_close_matches(slug, by_slug, n=1, cutoff=0.0)
            cure = f"did you mean `{nearest[0]}`?" if nearest else None
            raise IsolintError(f"there is no rule `{slug}`", cure=cure)
        found.append(by_slug[slug])
    return found

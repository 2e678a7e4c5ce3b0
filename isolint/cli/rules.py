"""`isolint rules`: the list of rules, and their pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from isolint.cli.streams import deliver

if TYPE_CHECKING:
    from isolint.results import RuleRecord


@click.command(short_help="List the rules or print their pages; list what is asked of a type of part.")
@click.argument("names", metavar="[RULE|TYPE...]", nargs=-1)
def rules(names: tuple[str, ...]) -> int:
    """List the rules with group, default level and summary; with RULE... print their whole pages.

    With TYPE... (phototriac, relay ...) list the rules that are asked of such parts, and what nothing judges yet.
    """
    from isolint import app
    from isolint.reports import rulebook

    records = app.rules()
    deliver("\n\n".join(_texts(records, names)) if names else rulebook.listing(records))
    return 0


def _texts(records: Sequence[RuleRecord], names: Sequence[str]) -> list[str]:
    import difflib

    from isolint import app
    from isolint.errors import IsolintError
    from isolint.reports import rulebook

    by_slug = {record.slug: record for record in records}
    by_type = {kind.name: kind for kind in app.types()}
    found = []
    for name in names:
        if name in by_slug:
            found.append(rulebook.pages([by_slug[name]]))
        elif name in by_type:
            found.append(rulebook.asked_of(by_type[name], records))
        else:
            nearest = difflib.get_close_matches(name, [*by_slug, *by_type], n=1, cutoff=0.0)
            cure = f"did you mean `{nearest[0]}`?" if nearest else None
            raise IsolintError(f"there is no rule and no type of part `{name}`", cure=cure)
    return found

"""`isolint compare`: two states of an archive, or a row of them."""

from __future__ import annotations

import click

from isolint.cli.screen import laid_out
from isolint.cli.streams import deliver

# As in `archive.comparing` and `archive.compared_pages`, which are loaded only when they are asked for.
CLASSES = (
    "new", "uncovered", "worse", "opened", "unjudged", "hidden", "better", "fixed", "settled", "drift", "added", "gone",
)  # fmt: skip
FORMATS = ("text", "json", "html")


@click.command(short_help="Compare two audits or result files, or show the trend of several.")
@click.argument("states", metavar="OLD NEW", nargs=-1, required=True)
@click.option(
    "--trend", "row", is_flag=True, help="Show several states in the order given: isolint compare --trend A B C"
)
@click.option(
    "--fail-on", "fatal", type=click.Choice(CLASSES), multiple=True, metavar="CLASS",
    help=f"Leave with 1 if there is a change of this class, may be given several times: {', '.join(CLASSES)}.",
)  # fmt: skip
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", help="Default: text.")
@click.option("--output", metavar="FILE", help="Write to FILE instead of standard output.")
def compare(states: tuple[str, ...], row: bool, fatal: tuple[str, ...], form: str, output: str | None) -> int:
    """Say what is new, worse, fixed or judged no more from OLD to NEW: stores of audits, or results of `check --format
    json`, in any mix.

    Exit status: 0, 1 where a change of a class of --fail-on is found, 2 where a state can't be read.
    """
    if len(states) != 2 and not row:
        raise click.UsageError("name two states, or several with --trend")
    from isolint.archive import compared_pages as pages
    from isolint.archive.compared_sources import load
    from isolint.archive.comparing import compare as compared
    from isolint.archive.comparing import short, trend

    loaded = [load(path) for path in states]
    if row:
        steps = trend([(short(path), state) for path, state in zip(states, loaded, strict=True)])
        writers = {"text": pages.trend_text, "json": pages.trend_json, "html": pages.trend_html}
        text = writers[form](steps)
        found = {name for step in steps for name, number in step.changes.items() if number}
    else:
        comparison = compared(*loaded)
        text = {
            "text": pages.comparison_text,
            "json": pages.comparison_json,
            "html": pages.comparison_html,
        }[form](comparison)
        found = {name for name, number in comparison.counts.items() if number}
    if output is None:
        deliver(laid_out(text) if form == "text" else text)
    else:
        from isolint.cli.files import store

        store({output: text}, states)
    return int(bool(found & set(fatal)))

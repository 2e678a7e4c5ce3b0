"""`isolint check`: judge netlists and print the results."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from isolint.cli.day import read_day
from isolint.cli.outputs import FORMATS, WHOLE, destinations, write
from isolint.cli.screen import watched
from isolint.cli.streams import complain, deliver

if TYPE_CHECKING:
    from isolint.app import Options
    from isolint.results import Report


@click.command(short_help="Judge netlists: couplers, drive, load, what joins the sides.")
@click.argument("paths", metavar="PATH...", nargs=-1)
@click.option(
    "--format", "forms", type=click.Choice(FORMATS), multiple=True, metavar="FORMAT",
    help=f"Output format, may be given several times: {', '.join(FORMATS)}. Default: text.",
)  # fmt: skip
@click.option("--changed", is_flag=True, help="PATH... are changed files: judge every netlist that depends on one.")
@click.option(
    "--changed-from", metavar="FILE", help="As --changed, with the names from FILE (`-`: standard input), NUL between."
)
@click.option("--project", is_flag=True, help="PATH is a folder (default: this one): judge every netlist below it.")
@click.option("--strict", is_flag=True, help="Count every open result and every card that may be lost as an error.")
@click.option("--suggest-waivers", is_flag=True, help="Print a waiver ready to paste for each failure (after text).")
@click.option("--passes", is_flag=True, help="Show passes too, with their number (text; json always has them).")
@click.option("--today", callback=read_day, metavar="DATE", help="Judge waivers as of DATE (2027-06-30).")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
@click.option(
    "--output", "outputs", multiple=True, metavar="[FORMAT=]FILE",
    help="Write to FILE instead of standard output; with FORMAT= in front as often as wanted.",
)  # fmt: skip
def check(
    paths: tuple[str, ...],
    forms: tuple[str, ...],
    changed: bool,
    changed_from: str | None,
    project: bool,
    strict: bool,
    suggest_waivers: bool,
    passes: bool,
    today: date | None,
    root: str | None,
    outputs: tuple[str, ...],
) -> int:
    """Judge every coupler and barrier of the netlists PATH...

    Exit status: 0 nothing at or above `fail_on` (default: error), 1 failures, 2 a path can't be read or the settings
    are wrong; whatever could be judged is still printed.
    """
    from isolint import app

    pairs = destinations(forms, outputs)
    if suggest_waivers and ("text", None) not in pairs:
        raise click.UsageError("--suggest-waivers prints after text, and text does not go to standard output here")
    if changed_from is not None:
        if paths or changed or project:
            raise click.UsageError("--changed-from goes without PATH, --changed and --project")
        paths, changed = _names(changed_from), True
    with watched() as tell:
        options = app.Options(strict=strict, today=today, root=root, tell=tell)
        options = options._replace(passes=passes or any(form in WHOLE for form, _ in pairs))
        report, notes = _asked(paths, changed, project, options)
    write(report, pairs, passes, paths if changed_from in (None, "-") else (*paths, str(changed_from)))
    if suggest_waivers:
        from isolint.reports import waiver_lines

        deliver(waiver_lines.render(report, options.day))
    for line in (*notes, *report.errors):
        complain(line)
    return report.exit_status


def _asked(paths: tuple[str, ...], changed: bool, project: bool, options: Options) -> tuple[Report, tuple[str, ...]]:
    if changed and project:
        raise click.UsageError("--changed and --project exclude each other")
    if project:
        if len(paths) > 1:
            raise click.UsageError("--project takes one folder")
        from isolint import selection

        return selection.check_project(paths[0] if paths else ".", options)
    if changed:
        from isolint import selection

        return selection.check_changed(paths, options)
    if not paths:
        raise click.UsageError("Missing argument 'PATH...'.")
    from isolint import app

    return app.check(paths, options), ()


def _names(file: str) -> tuple[str, ...]:
    """The names in a list of changed files."""
    import sys

    from isolint import selection
    from isolint.errors import IsolintError

    try:
        if file != "-":
            with open(file, "rb") as opened:
                data = opened.read(selection.MOST_NAMES + 1)
        elif sys.stdin is None:
            raise IsolintError("standard input is closed", cure="give the list of changed files there")
        else:
            data = sys.stdin.buffer.read(selection.MOST_NAMES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "the name can't be used").lower()
        raise IsolintError(f"{file}: the list of changed files can't be read: {reason}") from None
    return tuple(selection.listed(data))

"""`isolint check`: judge netlists and print the results."""

from __future__ import annotations

from datetime import datetime

import click

from isolint.cli.streams import complain, deliver

FORMATS = ("text", "json")


@click.command(short_help="Judge netlists: couplers, drive, load, what joins the sides.")
@click.argument("paths", metavar="PATH...", nargs=-1, required=True)
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True, help="Output format.")
@click.option("--strict", is_flag=True, help="Count every open result as an error.")
@click.option("--passes", is_flag=True, help="Show passes too, with their number (text; json always has them).")
@click.option(
    "--today", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Judge waivers as of DATE (2027-06-30)."
)
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
@click.option("--output", metavar="FILE", help="Write to FILE instead of standard output.")
def check(
    paths: tuple[str, ...],
    form: str,
    strict: bool,
    passes: bool,
    today: datetime | None,
    root: str | None,
    output: str | None,
) -> int:
    """Judge every coupler and barrier of the netlists PATH...

    Exit status: 0 nothing at or above `fail_on` (default: error), 1 failures, 2 a path can't be read or the settings
    are wrong; whatever could be judged is still printed.
    """
    from isolint import app

    options = app.Options(strict=strict, today=today.date() if today else None, root=root)
    report = app.check(paths, options)
    if form == "json":
        from isolint.reports import json

        deliver(json.render(report), output)
    else:
        from isolint.reports import text

        deliver(text.render(report, passes=passes), output)
    for error in report.errors:
        complain(error)
    return report.exit_status

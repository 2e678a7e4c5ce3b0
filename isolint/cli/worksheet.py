"""`isolint worksheet`: the calculation sheet of each channel."""

from __future__ import annotations

import click

from isolint.cli.streams import complain, deliver


@click.command(short_help="Print the calculation sheet of each channel.")
@click.argument("netlist")
@click.argument("couplers", metavar="[COUPLER...]", nargs=-1)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "html"]),
    default="text",
    help="html: a page that also draws a period and an edge. Default: text.",
)
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def worksheet(netlist: str, couplers: tuple[str, ...], form: str, root: str | None) -> int:
    """Print what was found and computed for each channel of NETLIST, ready to be redone by hand.

    COUPLER limits the sheets to these parts. Each line reads `name = formula = numbers = result unit`, with the origin
    of the numbers after `#`. Exit status: 0, or 2 where a sheet could not be made.
    """
    from isolint import app
    from isolint.errors import IsolintError

    sections, errors = app.worksheet(netlist, couplers, app.Options(root=root))
    if form == "html":
        from isolint.reports import worksheet_page as page

        deliver(page.render(sections, f"Calculation sheets of {netlist}"))
    else:
        from isolint.reports import worksheet_text as sheet

        deliver(sheet.render(sections))
    for error in errors:
        complain(error)
    return IsolintError.exit_status if errors else 0

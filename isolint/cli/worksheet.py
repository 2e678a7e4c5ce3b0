"""`isolint worksheet`: the calculation sheet of each channel."""

from __future__ import annotations

import click

from isolint.cli.streams import complain, deliver


@click.command(short_help="Print the calculation sheet of each channel.")
@click.argument("netlist")
@click.argument("couplers", metavar="[COUPLER...]", nargs=-1)
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def worksheet(netlist: str, couplers: tuple[str, ...], root: str | None) -> int:
    """Print what was found and computed for each channel of NETLIST, ready to be redone by hand.

    COUPLER limits the sheets to these parts. Each line reads `name = formula = numbers = result unit`, with the origin
    of the numbers after `#`. Exit status: 0, or 2 where a sheet could not be made.
    """
    from isolint import app
    from isolint.errors import IsolintError
    from isolint.reports import worksheet_text as sheet

    sections, errors = app.worksheet(netlist, couplers, app.Options(root=root))
    deliver(sheet.render(sections))
    for error in errors:
        complain(error)
    return IsolintError.exit_status if errors else 0

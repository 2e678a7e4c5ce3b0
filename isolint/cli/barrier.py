"""`isolint barrier`: what separates the sides of a netlist, and what crosses."""

from __future__ import annotations

from datetime import date

import click

from isolint.cli.day import read_day
from isolint.cli.files import store
from isolint.cli.streams import complain, deliver


@click.command(short_help="Show the sides of a netlist and what crosses each barrier.")
@click.argument("netlist")
@click.option("--format", "form", type=click.Choice(("text", "html", "svg")), default="text", help="Default: text.")
@click.option("--output", metavar="FILE", help="Write there instead of to standard output.")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
@click.option("--today", callback=read_day, metavar="DATE", help="The day as of which waivers count. Default: today.")
def barrier(netlist: str, form: str, output: str | None, root: str | None, today: date | None) -> int:
    """Show what separates the sides of NETLIST: its sides, what is stated of each barrier, and what crosses it.

    What it must hold beside what holds it, weakest first; barrier parts with their ratings, resistances, capacitors,
    joints and unknown parts; html and svg draw them. Exit status: 0, or 2 where it could not be done; `isolint check`
    judges.
    """
    from isolint import app
    from isolint.errors import IsolintError

    inventory, read = app.barrier(netlist, app.Options(root=root, today=today))
    if form == "svg":
        from isolint.reports.drawing import render as draw

        text = draw(inventory)
    else:
        from isolint.reports import barrier_page as page

        text = page.render_html(inventory) if form == "html" else page.render(inventory)
    if output is None:
        deliver(text)
    else:
        store({output: text}, read)
    if inventory.crashed:
        complain(f"{netlist}: {inventory.crashed}")
    return IsolintError.exit_status if inventory.crashed else 0

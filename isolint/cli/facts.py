"""`isolint facts`: the effective facts of a netlist and where each comes from."""

from __future__ import annotations

import click

from isolint.cli.streams import deliver


@click.command(short_help="Print the settings that hold for a netlist.")
@click.argument("path")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def facts(path: str, root: str | None) -> int:
    """Print the settings that hold for the netlist PATH: each key, its value, the file that states it."""
    from isolint import app
    from isolint.reports import facts as listing

    deliver(listing.render(app.facts(path, app.Options(root=root))))
    return 0

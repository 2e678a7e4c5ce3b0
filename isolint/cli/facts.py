"""`isolint facts`: the effective facts of a netlist and where each comes from; what depends on what."""

from __future__ import annotations

import click

from isolint.cli.streams import complain, deliver


@click.command(short_help="Print the settings that hold for a netlist.")
@click.argument("path", required=False)
@click.option("--files", is_flag=True, help="Print the files that PATH depends on, or the netlists that depend on it.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of isolint.toml, for editors.")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def facts(path: str | None, files: bool, schema: bool, root: str | None) -> int:
    """Print the settings that hold for the netlist PATH: each key, its value, the file that states it or the default.

    With --files PATH may be any file: a netlist, a library, part records, settings, a baseline. This is the map that
    `check --changed` goes by.
    """
    from isolint import app
    from isolint.errors import IsolintError

    if schema:
        if path is not None or files:
            raise click.UsageError("--schema takes no PATH")
        from isolint.reports.escape import json_document

        deliver(json_document(app.facts_schema()))
        return 0
    if path is None:
        raise click.UsageError("Missing argument 'PATH'.")
    from isolint.reports import facts_listing as listing

    options = app.Options(root=root)
    if files:
        from isolint import selection

        deliver(listing.files(path, *selection.files_of(path, options)))
    else:
        rows, crashed = app.facts(path, options)
        deliver(listing.render(rows))
        if crashed:
            complain(crashed)
            return IsolintError.exit_status
    return 0

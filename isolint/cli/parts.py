"""`isolint parts`: part records."""

from __future__ import annotations

import click

from isolint.cli.streams import deliver


@click.group(short_help="Part records.")
def parts() -> None:
    """Part records: what data sheets say, in TOML files that the key `parts` of isolint.toml names."""


@parts.command(short_help="Print the JSON Schema of part records.")
def schema() -> int:
    """Print the JSON Schema of a file of part records, for editors."""
    from isolint import app
    from isolint.reports.escape import json_document

    deliver(json_document(app.parts_schema()))
    return 0

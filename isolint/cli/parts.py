"""`isolint parts`: part records."""

from __future__ import annotations

import click

from isolint.cli.streams import deliver


@click.group(short_help="Part records.")
def parts() -> None:
    """Part records: what data sheets say, in TOML files that the key `parts` of isolint.toml names."""


@parts.command(short_help="Print a whole record to fill in.")
@click.argument("name")
@click.option("--type", "kind", metavar="TYPE", help="What the part is. Default: as recognised, else the usual guess.")
@click.option("--netlist", metavar="FILE", help="The netlist in which NAME is a part or an instance.")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def new(name: str, kind: str | None, netlist: str | None, root: str | None) -> int:
    """Print a record for the part NAME, or for the instance NAME of a netlist, with the data-sheet term of each key.

    It loads as it stands: what is not known is "?". Append it to the file that the key `parts` of isolint.toml names.
    """
    from isolint import app
    from isolint.starter.record_tables import new_record

    deliver(new_record(name, kind, netlist, app.Options(root=root)))
    return 0


@parts.command(short_help="Measure the model of a part; print a record with its typical values.")
@click.argument("file")
@click.argument("name")
@click.option("--type", "kind", metavar="TYPE", help="What the part is. Default: as its structure tells.")
@click.option("--pins", metavar="PIN,PIN...", help="A name for each port, as in a record. Default: as told.")
@click.option("--root", metavar="DIR", help="Folder that includes may not leave. Default: the repository.")
def measure(file: str, name: str, kind: str | None, pins: str | None, root: str | None) -> int:
    """Measure the .subckt NAME in FILE, or the one that its element NAME calls, and print a part record.

    At 27 degC: the forward voltage of the LED; of a transistor output the transfer ratio over LED current and over
    output voltage, the saturation voltage at 8 mA in the LED, the dark current at 10 V. All of it is typical, from the
    model, and nobody guarantees it: the record states what may stand as typical and leaves what only a data sheet can
    say as "?". It loads as it stands; curves follow as comments.

    Computed: R, L, C, K, V, I, D, Q, J, M (level 1), S, W, T; E, F, G, H by factor, POLY, TABLE, VALUE and
    LAPLACE (its gain at rest); B with V, I or R and the usual functions. What can't be computed is named with its card.
    """
    from isolint import app
    from isolint.reports.escape import log_lines
    from isolint.starter.measured import measured_record

    named = tuple(pin.strip() for pin in pins.split(",")) if pins else ()
    deliver(log_lines(measured_record(file, name, kind, named, app.Options(root=root))))
    return 0


@parts.command(short_help="Find mistakes and implausible values in record files.")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
def check(files: tuple[str, ...]) -> int:
    """Check the part records in FILE... without any netlist.

    Exit status: 0 sound, 1 something is implausible, 2 a file can't be read or holds mistakes; all are told at once.
    """
    from isolint.parts import record_files
    from isolint.reports.escape import terminal

    found = record_files.checked(files)
    for line in found.told:
        deliver(f"{terminal(line)}\n")
    count = "1 record" if found.records == 1 else f"{found.records} records"
    unknown = "1 value is" if found.unknown == 1 else f"{found.unknown} values are"
    deliver(f'{count}, {found.mistakes} mistakes, {found.doubts} implausible; {unknown} still "?"\n')
    return 2 if found.mistakes else 1 if found.doubts else 0


@parts.command("list", short_help="List records.")
@click.argument("files", metavar="[FILE...]", nargs=-1)
def list_(files: tuple[str, ...]) -> int:
    """List the part records in FILE..., without any the shipped demonstration parts."""
    from isolint.parts import record_files
    from isolint.reports.escape import terminal

    for record in record_files.held(files).values():
        deliver(terminal(f"{record.name}: {record.type}, {len(record.pins)} pins, {record.file}") + "\n")
    return 0


@parts.command(short_help="Show one record.")
@click.argument("name")
@click.argument("files", metavar="[FILE...]", nargs=-1)
def show(name: str, files: tuple[str, ...]) -> int:
    """Show what the record of the part NAME in FILE... states, in SI units; without any file a shipped one."""
    from isolint.errors import IsolintError
    from isolint.parts import record_files
    from isolint.parts.show import dump
    from isolint.reports.escape import log_lines

    record = record_files.held(files).find(name)
    if record is None:
        raise IsolintError(f"there is no record of {name}", cure="isolint parts list shows all")
    deliver(log_lines(dump(record) + "\n"))
    return 0


@parts.command(short_help="Print the JSON Schema of part records.")
def schema() -> int:
    """Print the JSON Schema of a file of part records, for editors."""
    from isolint import app
    from isolint.reports.escape import json_document

    deliver(json_document(app.parts_schema()))
    return 0

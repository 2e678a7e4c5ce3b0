"""`isolint record`: what an audit found, as pages to be read, printed and signed."""

from __future__ import annotations

import click

from isolint.cli.streams import complain, deliver


@click.command(short_help="Write the record of an audit: pages to sign, tables for spreadsheets.")
@click.argument("store", metavar="STORE")
@click.option("--output", required=True, metavar="DIR", help="Folder of the record, made anew.")
@click.option(
    "--format", "form", type=click.Choice(("html", "pdf")), default="html", help="pdf: printed by a Chromium as well."
)
def record(store: str, output: str, form: str) -> int:
    """Write the record of STORE into DIR: an index, one page a board, CSV of every table.

    The pages need nothing else, no network and no JavaScript; the same findings give the same bytes. Exit status: 0, or
    2 where the audit is incomplete, which the record says first, or the record can't be written.
    """
    import os

    from isolint.archive.recording import record as write
    from isolint.cli.screen import watched

    if form == "pdf":
        from isolint.archive.printing import printer

        printer()
    incomplete = write(store, output)
    deliver(f"{os.path.join(output, 'index.html')}\n")
    if form == "pdf":
        from isolint.archive.printing import print_pages

        with watched() as tell:
            deliver(f"{print_pages(output, tell)} pages printed\n")
    if incomplete:
        complain(f"incomplete: {incomplete}")
        return 2
    return 0

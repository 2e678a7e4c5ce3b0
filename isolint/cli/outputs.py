"""Where the results go: several formats in one run, each to its file, one to standard output."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from isolint.cli.files import store
from isolint.cli.screen import laid_out
from isolint.cli.streams import deliver

if TYPE_CHECKING:
    from isolint.results import Report

# As in `reports.formats`, which is loaded only when results are written; a test compares them.
FORMATS = ("text", "json", "sarif", "sarif-active", "junit", "markdown", "codequality", "annotations")

WHOLE = ("json", "sarif", "junit")
"""The formats that show what passes; to the others it only counts."""


def destinations(forms: Sequence[str], outputs: Sequence[str]) -> list[tuple[str, str | None]]:
    """Pairs of format and file, None for standard output, from `--format` and `--output [FORMAT=]FILE`.

    A plain FILE belongs to the one format asked for. Text goes to standard output where only files with a format
    before them are named. At most one format goes to standard output. A word before `=` is a format, or a mistake:
    raise `UsageError`.
    """
    pairs: list[tuple[str, str | None]] = []
    plain: list[str] = []
    for output in outputs:
        form, equals, file = output.partition("=")
        if equals and form in FORMATS and file:
            pairs.append((form, file))
        elif equals and form.replace("-", "").isalnum():
            raise click.UsageError(
                f"--output {output}: there is no format {form} (known: {', '.join(FORMATS)}); a file of that name is "
                f"./{output}"
            )
        else:
            plain.append(output)
    waiting = [form for form in dict.fromkeys(forms) if form not in {form for form, _ in pairs}]
    if plain:
        if len(plain) > 1 or len(waiting) > 1:
            raise click.UsageError("say which format goes to which file: --output FORMAT=FILE")
        pairs.append(((waiting or ["text"])[0], plain[0]))
    elif waiting:
        pairs.extend((form, None) for form in waiting)
    elif not forms:
        pairs.append(("text", None))
    if sum(file is None for _, file in pairs) > 1:
        raise click.UsageError("one format can go to standard output, the others to files: --output FORMAT=FILE")
    files = [file for _, file in pairs if file is not None]
    if len({os.path.abspath(file) for file in files}) < len(files):
        raise click.UsageError("two formats can't go to the same file")
    return pairs


def write(
    report: Report, pairs: Sequence[tuple[str, str | None]], passes: bool = False, named: Sequence[str] = ()
) -> None:
    """Render first, then print, then write the files, so that nothing that was found is lost with a full disk.

    named: what the command line names as input, which no output may overwrite, nor anything else that was read.
    """
    from isolint.reports.formats import render

    texts = [(file, render(form, report, passes)) for form, file in pairs]
    for (form, file), (_, text) in zip(pairs, texts, strict=True):
        if file is None:
            deliver(laid_out(text) if form == "text" else text)
    read = [file for netlist in report.netlists for file in (netlist.netlist, *netlist.files)]
    store({file: text for file, text in texts if file is not None}, [*named, *read])

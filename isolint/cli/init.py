"""`isolint init`: a first isolint.toml."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import ExitStack
from typing import TYPE_CHECKING

import click

from isolint.cli.files import only_writer, store
from isolint.cli.streams import complain, deliver
from isolint.errors import IsolintError

if TYPE_CHECKING:
    from isolint.app import Options
    from isolint.starter import Start


@click.command(short_help="Write a first isolint.toml beside a netlist.")
@click.argument("netlist")
@click.option("--print", "only_print", is_flag=True, help="Print it instead of writing it.")
@click.option("--ask", is_flag=True, help="Ask one question after the other, and write each answer; then check.")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
def init(netlist: str, only_print: bool, ask: bool, root: str | None) -> int:
    """Write isolint.toml beside the NETLIST: what was inferred and from what, and what is missing as questions.

    The fact that settles most open results comes first. Part records that are asked for go to their own file. Run
    again, it adds the questions that are new, and changes nothing that is there.
    """
    from isolint import app

    options = app.Options(root=root)
    if ask and not only_print:
        from isolint.cli.check import check
        from isolint.cli.interview import Interview

        try:
            Interview(netlist, options, lambda: _written(netlist, options)).run()
        except click.Abort:
            deliver("\nWhat was answered is written; the same command goes on from here.\n")
            raise
        return int(click.get_current_context().invoke(check, paths=(netlist,), root=root, forms=(), outputs=()))
    if only_print:
        from isolint import starter

        made = starter.start(netlist, options)
        deliver("\n".join(_titled(made)))
        return _whole(made, netlist)
    made = _written(netlist, options)
    _tell(made, netlist)
    return _whole(made, netlist)


def _whole(made: Start, netlist: str) -> int:
    """The exit status, with a line where questions may be missing."""
    if not made.crashed:
        return 0
    complain(f"{netlist}: {made.crashed}")
    return IsolintError.exit_status


def _written(netlist: str, options: Options) -> Start:
    """Make the files, and write those that change."""
    from isolint import starter

    with ExitStack() as held:
        folder = os.path.dirname(netlist) or "."
        if os.path.isdir(folder):
            held.enter_context(only_writer([folder]))
        made = starter.start(netlist, options)
        changed = [file for file in made.files if file.text != file.before]
        store({file.name: file.text for file in changed}, roots={file.name: made.root for file in changed})
    return made


def _titled(made: Start) -> Iterator[str]:
    """The files one after the other, those behind the first with their names."""
    for number, file in enumerate(made.files):
        if number and file.text == file.before:
            continue
        yield file.text if number == 0 else f"# -- {file.name} {'-' * 40}\n\n{file.text}"


def _tell(made: Start, netlist: str) -> None:
    """What was written, and how to go on."""
    import shlex

    from isolint.reports.escape import terminal

    number = "1 question" if made.questions == 1 else f"{made.questions} questions"
    names = " and ".join(terminal(file.name) for file in made.files if file.text != file.before)
    more = "" if made.files[0].before is None else f", {made.added} of them new"
    said = (
        f"{names}: written, with {number}{more}"
        if names
        else f"{terminal(made.files[0].name)}: nothing is new, {number} left"
    )
    deliver(
        f"{said}; answer them from the top and run\n"
        f"  isolint check {'-- ' if netlist.startswith('-') else ''}{terminal(shlex.quote(netlist))}\n"
    )

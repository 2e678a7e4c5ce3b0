"""`isolint init`: a first isolint.toml."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import ExitStack
from typing import TYPE_CHECKING

import click

from isolint.cli.files import only_writer, store
from isolint.cli.streams import deliver

if TYPE_CHECKING:
    from isolint.starter import Start
    from isolint.starter.asking import Asked


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
    from isolint import app, starter

    with ExitStack() as held:
        folder = os.path.dirname(netlist) or "."
        if not only_print and os.path.isdir(folder):
            held.enter_context(only_writer([folder]))
        made = starter.start(netlist, app.Options(root=root))
        if only_print:
            deliver("\n".join(_titled(made)))
            return 0
        changed = [file for file in made.files if file.text != file.before]
        store({file.name: file.text for file in changed}, roots={file.name: made.root for file in changed})
    if ask:
        return _ask(made, netlist, root)
    _tell(made, netlist)
    return 0


def _ask(made: Start, netlist: str, root: str | None) -> int:
    """Every question on its own, those of part records first; then the first check."""
    from isolint.cli.check import check
    from isolint.starter import asking

    deliver('Enter for what stands in brackets, "?" for what you don\'t know.\n')
    for file in reversed(made.files):
        text = file.text
        for asked in list(asking.questions(text)):
            text = _one(made, netlist, root, file.name, text, asked)
    return int(click.get_current_context().invoke(check, paths=(netlist,), root=root, forms=(), outputs=()))


def _one(made: Start, netlist: str, root: str | None, name: str, text: str, asked: Asked) -> str:
    """One question, until it has an answer that loads or none; the file as it is then."""
    from isolint import app, starter
    from isolint.errors import SettingsError
    from isolint.reports.escape import terminal
    from isolint.starter import asking
    from isolint.starter.record_tables import pin_nets

    deliver(f"\n{terminal(asked.table)} in {terminal(name)}: {terminal(asked.told)}\n")
    if asked.key == "pins":
        for number, net in enumerate(pin_nets(asked.name, netlist, app.Options(root=root)), start=1):
            deliver(f"  pin {number} on net {terminal(net)}\n")
    while True:
        reply = click.prompt(f"  {asked.key}", default=asked.suggested or "?", type=str)
        changed = asking.answered(text, asked, reply)
        if changed == text:
            return text
        store({name: changed}, roots={name: made.root})
        try:
            starter.start(netlist, app.Options(root=root))
        except SettingsError as error:
            store({name: text}, roots={name: made.root})
            for mistake in error.mistakes:
                deliver(f"  {terminal(f'{mistake.text} {mistake.cure}')}\n")
        else:
            return changed


def _titled(made: Start) -> Iterator[str]:
    """The files one after the other, those behind the first with their names."""
    for number, file in enumerate(made.files):
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

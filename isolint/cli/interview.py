"""`isolint init --ask`: one question after the other at a terminal, each answer written when it is given.

Nothing that was answered is lost, wherever somebody stops: a file holds every answer from the moment on at which it is
known to load, and what is left is asked when the command runs again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import click

from isolint.cli.files import store
from isolint.cli.streams import deliver

if TYPE_CHECKING:
    from isolint.app import Options
    from isolint.starter import Start
    from isolint.starter.asking import Blank

UNKNOWN = "?"
REST = "-"
"""The answer that the rest of a table is not known either."""

OUTPUT = "output"
"""The answer that a net is no line off the board but a logic output's."""

_GREETING = (
    'Each answer is written at once. Enter or "?" for what you don\'t know: the question stays for later;\n'
    '"-" for what you don\'t know of the rest of a table.\n'
    "Ctrl-C ends it; run it again to go on.\n"
)


class Interview:
    """The questions of one netlist. begin: writes what `init` writes, and gives it."""

    def __init__(self, netlist: str, options: Options, begin: Callable[[], Start]) -> None:
        self.netlist = netlist
        self.options = options
        self.begin = begin
        self.asked: set[tuple[str, str, str]] = set()
        self.left: set[tuple[str, str]] = set()
        self.wanted: frozenset[str] = frozenset()
        self.root = ""
        self.folder = ""

    def run(self) -> None:
        """Ask until nothing is new: an answer may bring the next questions."""
        deliver(_GREETING)
        while True:
            made = self.begin()
            self.root, self.wanted = made.root, made.wanted
            before = len(self.asked)
            for file in reversed(made.files):
                self._file(file.name, file.text)
            if len(self.asked) == before:
                return

    def _file(self, name: str, text: str) -> None:
        """The questions of one file, those that an answer adds to it too.

        What insulation a part has is asked key by key, and only what something asks for by what was answered before.
        """
        from isolint.starter import asking

        waiting: set[str] = set()
        while True:
            asked = next((asked for asked in asking.questions(text) if self._is_due(name, asked, waiting)), None)
            if asked is None:
                return
            self.asked.add((name, asked.table, asked.key))
            if asked.is_of_insulation:
                waiting.add(asked.table)
            text = self._one(name, text, asked)

    def _is_due(self, name: str, asked: Blank, waiting: set[str]) -> bool:
        """Whether a question is to be asked now; waiting: tables of which more is asked when an answer was judged."""
        if (name, asked.table, asked.key) in self.asked or (name, asked.table) in self.left:
            return False
        return not asked.is_of_insulation or (asked.table not in waiting and asked.path in self.wanted)

    def _one(self, name: str, text: str, asked: Blank) -> str:
        """One question, until it has an answer that loads or none; the file as it is then."""
        from isolint.errors import SettingsError
        from isolint.reports.escape import terminal
        from isolint.starter import asking, draft

        ask = self._way(name, text, asked)
        while True:
            answer = ask()
            if answer == REST:
                self.left.add((name, asked.table))
                return text
            if answer == OUTPUT and asking.is_of_a_line(asked):
                changed = asking.as_output(text, asked)
            else:
                changed = asking.answered(text, asked, answer)
            if changed == text:
                return text
            changed = self._followed(changed, asked)
            try:
                draft.prepared(self.netlist, self.options, {name: changed})
            except SettingsError as error:
                for mistake in error.mistakes:
                    told = mistake.text + (f" ({mistake.cure})" if mistake.cure else "")
                    deliver("".join(f"  {terminal(line)}\n" for line in told.split("\n")))
                continue
            store({name: changed}, roots={name: self.root})
            return changed

    def _way(self, name: str, text: str, asked: Blank) -> Callable[[], str]:
        """How a question is asked."""
        if asked.key in ("type", "pins"):
            found = self._of_part(name, text, asked)
            if found is not None:
                return found
        return self._plain(asked)

    def _of_part(self, name: str, text: str, asked: Blank) -> Callable[[], str] | None:
        """How to ask what a part is, or which pin is which; None where the netlist has no such part."""
        from isolint.reports.escape import terminal
        from isolint.starter import asking, draft, part_choices

        context = draft.prepared(self.netlist, self.options, {name: text})
        part = part_choices.part_asked(context, asked.name)
        if part is None:
            return None
        kind = asking.type_in(text, asked.table)
        if asked.key == "type":
            deliver(f"\n{terminal(part.words)}: what is it?\n")
            for number, net in enumerate(part.nets, start=1):
                deliver(f"  pin {number} on net {terminal(net)}\n")
            return lambda: _type(part.guess)
        if not kind:
            # What its pins may be called depends on what it is.
            return lambda: UNKNOWN
        if kind != "ordinary":
            deliver(f"\n{terminal(part.words)}: which pin is which?\n")
            orders = part_choices.pin_choices(context, asked.name, kind)
            return lambda: _pins(orders, part.nets, part_choices.pin_names(kind))
        # It joins them all: their names say nothing.
        return lambda: _listed([f"pin{number}" for number in range(1, len(part.nets) + 1)])

    def _plain(self, asked: Blank) -> Callable[[], str]:
        """How to ask for a value."""
        from isolint.reports.escape import terminal
        from isolint.starter import asking

        said = asking.title_of(asked)
        deliver(f"\n{terminal(asked.table)}{f': {terminal(said)}' if said else ''}\n")
        example = asked.example
        if isinstance(example, dict):
            deliver(f"  {asked.key}, key by key:\n")
            return lambda: _table(example)
        if asking.is_of_a_line(asked):
            deliver(f"  where a logic output drives it, write {OUTPUT}\n")
        return lambda: _prompt(asked.key, asked.told.partition("; or, ")[0])

    def _followed(self, text: str, asked: Blank) -> str:
        """The text with the questions that follow from an answer about a part's pins."""
        from isolint.starter import asking, part_choices
        from isolint.tables import dotted

        if asked.key != "pins" or not asked.name:
            return text
        if f"[{dotted('parts', asked.name)}" not in text:
            return text
        rows = part_choices.asked_next(asking.type_in(text, asked.table))
        heads = {f"[{row.head(asked.name)}]": row.entry() for row in rows}
        return asking.with_tables(text, asked, {head: line for head, line in heads.items() if head not in text})


def _prompt(key: str, told: str = "") -> str:
    from isolint.reports.escape import terminal

    beside = f" ({terminal(told)})" if told else ""
    answer: str = click.prompt(f"  {key}{beside}", default=UNKNOWN, type=str)
    return answer.strip()


def _chosen(choices: Sequence[str], key: str) -> str:
    """An answer, a number meaning that choice."""
    answer = _prompt(key)
    if answer.isdigit() and 0 < int(answer) <= len(choices):
        return choices[int(answer) - 1]
    return answer


def _type(guess: str) -> str:
    """What a part is: a number, a name, or nothing."""
    from isolint.starter import part_choices

    choices = part_choices.type_choices(guess)
    for number, (name, told) in enumerate(choices, start=1):
        perhaps = " - perhaps this one" if name == guess else ""
        deliver(f"  {number:2} {name}: {told}{perhaps}\n")
    names = [name for name, _ in choices]
    while True:
        answer = _chosen(names, "type")
        if answer in (*names, "", UNKNOWN, REST):
            return answer
        deliver(f"  there is no such type: {_meant(answer, names)}\n")


def _meant(answer: str, names: Sequence[str]) -> str:
    from isolint.tables import is_near, nearest

    return nearest(answer, names) if is_near(answer, names) else "write its number or its name"


def _pins(orders: Sequence[Sequence[str]], nets: Sequence[str], names: Sequence[str]) -> str:
    """The names of the pins: the number of an order, names with commas, or nothing. names: those of such parts."""
    from isolint.reports.escape import terminal
    from isolint.starter import part_choices

    for number, order in enumerate(orders, start=1):
        deliver(f"  {number:2} {terminal(part_choices.with_nets(order, nets))}\n")
    told = f", such as {', '.join(names)}" if names and not orders else ""
    deliver(f"  {'or ' if orders else ''}their names in the order of the card, with commas{told}\n")
    while True:
        answer = _chosen([_listed(order) for order in orders], "pins")
        if answer.startswith("[") or answer in ("", UNKNOWN, REST):
            return answer
        pins = [pin.strip() for pin in answer.split(",")]
        if len(pins) == len(nets):
            return _listed(pins)
        deliver(f"  {len(nets)} names are wanted, one for each pin; this is {len(pins)}\n")


def _listed(pins: Sequence[str]) -> str:
    from isolint.tables import basic_string

    return f"[{', '.join(map(basic_string, pins))}]"


def _table(example: dict[str, object]) -> str:
    """A value of several keys, each by itself, as far as they are known."""
    from isolint.starter import asking

    known: dict[str, str] = {}
    for key, value in example.items():
        known[key] = _prompt(key, f"for example {value}")
        if known[key] == REST:
            del known[key]
            return asking.together(known) or REST
    return asking.together(known)

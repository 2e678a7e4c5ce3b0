"""What an engineer does who follows a cure to the letter: edits of the cards, or of the settings.

In: the files of a board and the words of a cure. Out: the files changed accordingly. `ADVICE` lists the cures that ask
for something that words don't tell exactly: another part, another supply, a decision.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

Files = Mapping[str, str]
NET, PATH, PLACE = r"[^\s,;()]+", r"[\w.]+", r"\((?P<file>[^():\s]+):(?P<line>\d+)\)"


class Cards(NamedTuple):
    """The lines of a board's netlist, to be edited."""

    files: Files
    netlist: str

    def at(self, line: str) -> list[str]:
        """The words of the card that starts at a line."""
        return self.files[self.netlist].split("\n")[int(line) - 1].split()

    def put(self, line: str, words: list[str]) -> Files:
        lines = self.files[self.netlist].split("\n")
        lines[int(line) - 1] = " ".join(words) if words else "* taken out"
        return {**self.files, self.netlist: "\n".join(lines)}

    def added(self, *cards: str) -> Files:
        head, *rest = self.files[self.netlist].split("\n")
        return {**self.files, self.netlist: "\n".join((head, *cards, *rest))}

    def named(self, path: str) -> tuple[str, list[str]]:
        """Line and words of the card of an element at the top level."""
        for number, text in enumerate(self.files[self.netlist].split("\n"), 1):
            if text.split()[:1] and text.split()[0].casefold() == path.casefold():
                return str(number), text.split()
        raise LookupError(path)


def _exchange(cards: Cards, found: re.Match[str]) -> Files:
    line, words = cards.named(found["path"])
    one, other = found["one"].casefold(), found["other"].casefold()
    swap = {one: found["other"], other: found["one"]}
    return cards.put(line, [words[0], *(swap.get(word.casefold(), word) for word in words[1:])])


def _diode(cards: Cards, anode: str, cathode: str) -> Files:
    return cards.added(f"DCURE {anode} {cathode} DCURE", ".model DCURE D")


def _across(cards: Cards, found: re.Match[str]) -> Files:
    nets = [found["one"], found["other"]]
    cathode = found["cathode"] or found["other"]
    return _diode(cards, next(net for net in nets if net != cathode), cathode)


def _turned(cards: Cards, found: re.Match[str]) -> Files:
    words = cards.at(found["line"])
    return cards.put(found["line"], [words[0], words[2], words[1], *words[3:]])


def _removed(cards: Cards, found: re.Match[str]) -> Files:
    files = cards.files
    for place in re.finditer(PLACE, found[0]):
        files = cards._replace(files=files).put(place["line"], [])
    return files


def _joined(cards: Cards, found: re.Match[str]) -> Files:
    return cards.added(f"RCURE {found['net']} {found['other']} 0")


def _valued(cards: Cards, found: re.Match[str]) -> Files:
    words = cards.at(found["line"])
    return cards.put(found["line"], [*words[:3], "10k", *words[4:]])


def _pulled(cards: Cards, found: re.Match[str]) -> Files:
    words = cards.at(found["line"])
    supply = found["supply"]
    output = next(word for word in cards.named_nets() if word) if False else words[2]
    return cards.put(found["line"], [words[0], supply, output, *words[3:]])


def _stated(key: str) -> Callable[[Cards, re.Match[str]], Files]:
    def state(cards: Cards, found: re.Match[str]) -> Files:
        path = cards.at(found["line"])[0]
        name = next(name for name in cards.files if name.endswith("isolint.toml"))
        return {**cards.files, name: f'{cards.files[name]}\n[elements."{path}"]\n{key} = "{found["value"]}"\n'}

    return state


def _base_open(cards: Cards, found: re.Match[str]) -> Files:
    return cards.files


Edit = Callable[[Cards, re.Match[str]], Files]

EDITS: tuple[tuple[str, Edit], ...] = (
    (rf"exchange nets (?P<one>{NET}) and (?P<other>{NET}) on (?P<path>{PATH})", _exchange),
    (rf"exchange \w+ and \w+ of (?P<path>{PATH}), nets (?P<one>{NET}) and (?P<other>{NET})", _exchange),
    (
        rf"fit a diode across nets (?P<one>{NET}) and (?P<other>{NET})( with its cathode on (?P<cathode>{NET}))?",
        _across,
    ),
    (
        rf"a diode across the LED: anode on (?P<one>{NET}), cathode on (?P<cathode>(?P<other>{NET}))",
        _across,
    ),
    (rf"turn {PATH} {PLACE} round", _turned),
    (rf"{PATH} {PLACE} joins them: remove it", _removed),
    (rf"all of these must go to separate the sides: ({PATH} \([^()]+\)(, )?)+", _removed),
    (rf"{PATH} {PLACE}: a resistor of (?P<value>[\d.]+ \w?W) or more", _stated("power")),
    (rf"{PATH} {PLACE}: a resistor rated for (?P<value>[\d.]+ \w?V) or more", _stated("voltage")),
    (rf"{PATH} {PLACE}: a pull-(up|down) resistor of some kilohms in place of the link", _valued),
)


def edits(files: Files, netlist: str, remedy: str) -> Iterator[tuple[str, Files]]:
    """The words of a cure that can be followed to the letter, each with the files as they are then."""
    for pattern, edit in EDITS:
        for found in re.finditer(pattern, remedy):
            yield found[0], edit(Cards(files, netlist), found)

"""Cures that are no value of a card: what their words say is done to the board, and the failure is gone.

`FOLLOWED` says how each is followed to the letter. What asks for something that words don't tell exactly (another part,
another supply, a decision) is listed in `ADVICE`; a cure that stands in neither fails.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from isolint.results import Result
from tests.checking.test_cures import FAILING, HELD, VALUE
from tests.support import FIXTURES, judge_briefly, judge_fixture, of_netlist

Files = Mapping[str, str]
NET, PATH, PLACE = r"[^\s,;()]+", r"[\w.]+", r"\([^():\s]+:(?P<line>\d+)\)"


class Cards:
    """The files of a board while a cure is followed."""

    def __init__(self, netlist: str, message: str) -> None:
        self.files = dict(HELD)
        self.netlist = netlist
        self.message = message

    @property
    def lines(self) -> list[str]:
        return self.files[self.netlist].split("\n")

    def words(self, line: str) -> list[str]:
        return self.lines[int(line) - 1].split()

    def put(self, line: str, *words: str) -> None:
        lines = self.lines
        lines[int(line) - 1] = " ".join(words) or "* taken out"
        self.files[self.netlist] = "\n".join(lines)

    def add(self, *cards: str) -> None:
        first, *rest = self.lines
        self.files[self.netlist] = "\n".join((first, *cards, *rest))

    def line_of(self, path: str) -> str:
        local = path.rpartition(".")[2].casefold()
        found = [n for n, line in enumerate(self.lines, 1) if line.split()[:1] and line.split()[0].casefold() == local]
        assert len(found) == 1, path
        return str(found[0])

    def state(self, text: str) -> None:
        folder = posixpath.dirname(self.netlist)
        while f"{folder}/isolint.toml" not in self.files:
            folder = posixpath.dirname(folder)
            assert folder
        self.files[f"{folder}/isolint.toml"] += f"\n{text}\n"


def exchange(cards: Cards, found: re.Match[str]) -> None:
    line = cards.line_of(found["path"])
    other = {found["one"]: found["other"], found["other"]: found["one"]}
    cards.put(line, *(other.get(word, word) for word in cards.words(line)))


def turn(cards: Cards, found: re.Match[str]) -> None:
    name, first, last, *rest = cards.words(found["line"])
    cards.put(found["line"], name, last, first, *rest)


def diode(cards: Cards, found: re.Match[str]) -> None:
    nets = [found["one"], found["other"]]
    (anode,) = [net for net in nets if net != found["cathode"]]
    cards.add(f"DCURE {anode} {found['cathode']} DCURE", ".model DCURE D(BV=200)")


def diode_in_place(cards: Cards, found: re.Match[str]) -> None:
    remove(cards, found)
    diode(cards, found)


def remove(cards: Cards, found: re.Match[str]) -> None:
    cards.put(found["line"])


def join(cards: Cards, found: re.Match[str]) -> None:
    cards.add(f"RCURE {found['one']} {found['other']} 0")


def join_reference(cards: Cards, found: re.Match[str]) -> None:
    reference = re.search(rf"the reference of its side is ({NET})", cards.message)
    assert reference is not None
    cards.add(f"RCURE {found['one']} {reference[1].rstrip(';')} 0")


def resistor_for_link(cards: Cards, found: re.Match[str]) -> None:
    name, one, other, _, *rest = cards.words(found["line"])
    cards.put(found["line"], name, one, other, "10k", *rest)


def resistor_for_capacitor(cards: Cards, found: re.Match[str]) -> None:
    line = cards.line_of(found["path"])
    name, one, other, *_ = cards.words(line)
    cards.put(line, f"R{name}", one, other, "470")


def in_leg(cards: Cards, found: re.Match[str]) -> None:
    """The pin behind the name is the LED's anode in the parts of these boards."""
    line = cards.line_of(found["path"])
    name, anode, *rest = cards.words(line)
    cards.put(line, name, "NCURE", *rest)
    cards.add(f"RCURE {anode} NCURE 2.2k")


def across_led(cards: Cards, found: re.Match[str]) -> None:
    path = cards.message.partition(":")[0]
    _, anode, cathode, *_ = cards.words(cards.line_of(path))
    cards.add(f"RCURE {anode} {cathode} {found['number']}{found['unit']}")


def pull_up_to(cards: Cards, found: re.Match[str]) -> None:
    name, _, net, *rest = cards.words(found["line"])
    cards.put(found["line"], name, found["one"], net, *rest)


def rated(key: str) -> Callable[[Cards, re.Match[str]], None]:
    def state(cards: Cards, found: re.Match[str]) -> None:
        path = cards.words(found["line"])[0]
        cards.state(f'[elements."{path}"]\n{key} = "{found["number"]}"')

    return state


def rated_both(cards: Cards, found: re.Match[str]) -> None:
    path = cards.words(found["line"])[0]
    cards.state(f'[elements."{path}"]\npower = "{found["watts"]}"\nvoltage = "{found["volts"]}"')


def simulation_ground(cards: Cards, found: re.Match[str]) -> None:
    cards.state(f"[reading]\n{found['entry']}")


FOLLOWED: tuple[tuple[str, Callable[[Cards, re.Match[str]], None]], ...] = (
    (rf"exchange nets (?P<one>{NET}) and (?P<other>{NET}) on (?P<path>{PATH})", exchange),
    (rf"turn {PATH} {PLACE} round", turn),
    (
        rf"take out {PATH} {PLACE}, and fit a diode across nets (?P<one>{NET}) and (?P<other>{NET}) "
        rf"with its cathode on (?P<cathode>{NET})",
        diode_in_place,
    ),
    (rf"^fit a diode across nets (?P<one>{NET}) and (?P<other>{NET}) with its cathode on (?P<cathode>{NET})", diode),
    (rf"a diode across the LED: anode on (?P<one>{NET}), cathode on (?P<cathode>(?P<other>{NET}))", diode),
    (rf"{PATH} {PLACE} joins them: remove it", remove),
    (rf"take out {PATH} {PLACE}$", remove),
    (rf"{PATH} {PLACE}: one [XY]\d.*, or none$", remove),
    (rf"connect net (?P<one>{NET}) to the reference of its side", join_reference),
    (rf"connect net (?P<one>{NET}) to (?P<other>(?!the\b|a\b|what\b){NET}),", join),
    (rf"{PATH} {PLACE}: a pull-up resistor of some kilohms in place of the link", resistor_for_link),
    (rf"a resistor in the place of (?P<path>{PATH}),", resistor_for_capacitor),
    (rf"put a resistor in series with the LED of (?P<path>{PATH}), in either leg", in_leg),
    (r"a resistor of (?P<number>[\d.]+) (?P<unit>\w?)ohm or less across the LED", across_led),
    (rf"pull up to (?P<one>{NET}) \({PATH} {PLACE}\)", pull_up_to),
    (rf"{PATH} {PLACE}: a resistor of (?P<number>[\d.]+ \w?W) or more(?!, rated)", rated("power")),
    (rf"{PATH} {PLACE}: a resistor of (?P<watts>[\d.]+ \w?W) or more, rated for (?P<volts>[\d.]+ V)", rated_both),
    (rf"{PATH} {PLACE}: a resistor rated for (?P<number>[\d.]+ V) or more", rated("voltage")),
    (rf"{PATH} {PLACE}: rated (?P<number>[\d.]+ V) or more", rated("voltage")),
    (r'write (?P<entry>simulation_ground = "\w+") under \[reading\]', simulation_ground),
)

ADVICE = (
    # Another part, another supply, another board.
    r"a coupler (of its own|that saturates|with a higher)|a part (with|that)|more LED current|more gain",
    r"a larger (load|series) resistor|larger LED resistors|a smaller resistor across|a resistor for each LED",
    r"a transistor (between|with|for)|a stronger|fewer outputs in series|a diode in series with the output",
    r"resistors that leave .* by themselves|let nothing flow in that state|let a signal switch",
    # What only the engineer knows.
    r"(drive|feed) (net|one end|the side)|connect each group of pins|connect net \S+ to (a supply|what)",
    r"fit a pull-up from net|put a pull-(up|down) between|pull up to \S+ \(the pull-up\)",
    r"state |correct |remove the waiver|write (it as|a relative path)|put it beside the netlist|git add",
    r"at most [\d.]+ \w?F in all|the value of the others in the chain|no value of .* satisfies all",
    r"board (creepage|clearance) of|join \S+ to protective earth|(double or reinforced|basic) insulation on the way",
    r"a part certified|a longer dead time|less capacitance",
    r"take no .* out|give (it|each)|place |use |all of these must go|unlike|another|a slower|a faster|a driver|a lower",
)


def followed(netlist: str, result: Result) -> Iterator[tuple[str, Files]]:
    """What can be followed of a cure, each with the files of the board as they are then."""
    for pattern, follow in FOLLOWED:
        found = re.search(pattern, result.remedy)
        if found is not None:
            cards = Cards(netlist, result.message)
            follow(cards, found)
            yield found[0], cards.files


@pytest.mark.parametrize("path", [*map(of_netlist, FAILING)])
def test_what_a_cure_says_in_words_cures_its_failure(path: Path) -> None:
    netlist = path.relative_to(FIXTURES).as_posix()
    for result in judge_fixture(path).results:
        if result.kind != "fail" or not result.remedy or result.where.file.endswith(".toml"):
            continue
        done = list(followed(netlist, result))
        known = done or re.search(VALUE, result.remedy) or any(re.search(words, result.remedy) for words in ADVICE)
        assert known, f"nobody tries this cure: {result.remedy}"
        for words, files in done:
            left = {other.fingerprint for other in judge_briefly(files, netlist).results if other.kind == "fail"}
            assert result.fingerprint not in left, f"{words}: {result.rule} {result.subject} is still there"

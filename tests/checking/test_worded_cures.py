"""Cures that are no value of a card: what their words say is done to the board, and the failure is gone.

`FOLLOWED` says how each is followed to the letter. What asks for something that words don't tell exactly (another part,
another supply, a decision) is listed in `ADVICE`; a cure that stands in neither fails.
"""

from __future__ import annotations

import json
import posixpath
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

import isolint.parts
from isolint.results import Result
from tests.checking.test_cures import FAILING, HELD, VALUE
from tests.support import FIXTURES, judge_briefly, judge_fixture, of_netlist

Files = Mapping[str, str]
RECORDS = Path(isolint.parts.__file__).parent / "records"
NET, PATH, PLACE = r"[^\s,;()]+", r"[\w.]+", r"\([^():\s]+:(?P<line>\d+)\)"


class CuredFiles:
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


def exchange(cards: CuredFiles, found: re.Match[str]) -> None:
    line = cards.line_of(found["path"])
    other = {found["one"]: found["other"], found["other"]: found["one"]}
    cards.put(line, *(other.get(word, word) for word in cards.words(line)))


def turn(cards: CuredFiles, found: re.Match[str]) -> None:
    name, first, last, *rest = cards.words(found["line"])
    cards.put(found["line"], name, last, first, *rest)


def diode(cards: CuredFiles, found: re.Match[str]) -> None:
    nets = [found["one"], found["other"]]
    (anode,) = [net for net in nets if net != found["cathode"]]
    cards.add(f"DCURE {anode} {found['cathode']} DCURE", ".model DCURE D(BV=200)")


def diode_in_place(cards: CuredFiles, found: re.Match[str]) -> None:
    remove(cards, found)
    diode(cards, found)


def remove(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.put(found["line"])


def join(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.add(f"RCURE {found['one']} {found['other']} 0")


def join_reference(cards: CuredFiles, found: re.Match[str]) -> None:
    reference = re.search(rf"the reference of its side is ({NET})", cards.message)
    assert reference is not None
    cards.add(f"RCURE {found['one']} {reference[1].rstrip(';')} 0")


def resistor_for_link(cards: CuredFiles, found: re.Match[str]) -> None:
    name, one, other, _, *rest = cards.words(found["line"])
    cards.put(found["line"], name, one, other, "10k", *rest)


def resistor_for_capacitor(cards: CuredFiles, found: re.Match[str]) -> None:
    line = cards.line_of(found["path"])
    name, one, other, *_ = cards.words(line)
    cards.put(line, f"R{name}", one, other, "470")


def in_leg(cards: CuredFiles, found: re.Match[str]) -> None:
    """The pin behind the name is the LED's anode in the parts of these boards."""
    line = cards.line_of(found["path"])
    name, anode, *rest = cards.words(line)
    cards.put(line, name, "NCURE", *rest)
    cards.add(f"RCURE {anode} NCURE 2.2k")


def across_led(cards: CuredFiles, found: re.Match[str]) -> None:
    path = cards.message.partition(":")[0]
    _, anode, cathode, *_ = cards.words(cards.line_of(path))
    cards.add(f"RCURE {anode} {cathode} {found['number']}{found['unit']}")


def pull_up_to(cards: CuredFiles, found: re.Match[str]) -> None:
    name, _, net, *rest = cards.words(found["line"])
    cards.put(found["line"], name, found["one"], net, *rest)


def rated(key: str) -> Callable[[CuredFiles, re.Match[str]], None]:
    def state(cards: CuredFiles, found: re.Match[str]) -> None:
        path = cards.words(found["line"])[0]
        cards.state(f'[elements."{path}"]\n{key} = "{found["number"]}"')

    return state


def rated_both(cards: CuredFiles, found: re.Match[str]) -> None:
    path = cards.words(found["line"])[0]
    cards.state(f'[elements."{path}"]\npower = "{found["watts"]}"\nvoltage = "{found["volts"]}"')


def simulation_ground(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.state(f"[reading]\n{found['entry']}")


def series(cards: CuredFiles, line: str, net: str, value: str) -> None:
    """Put a resistor between an element's pin and the net that it lies on."""
    words = cards.words(line)
    assert words.count(net) == 1, words
    cards.put(line, *("NCURE" if word == net else word for word in words))
    cards.add(f"RCURE {net} NCURE {value}")


def told(cards: CuredFiles, pattern: str) -> re.Match[str]:
    """What a message says besides its cure."""
    found = re.search(pattern, cards.message)
    assert found is not None, cards.message
    return found


def own_line(cards: CuredFiles) -> str:
    return cards.line_of(cards.message.partition(":")[0])


def other_part(cards: CuredFiles, line: str, **values: object) -> None:
    """Another part in the place of one: its record says the same, but for some values."""
    *words, name = cards.words(line)
    texts = [text for path, text in HELD.items() if path.startswith("rules/parts/")]
    texts += [path.read_text(encoding="utf-8") for path in RECORDS.glob("*.toml")]
    beside = f"{posixpath.dirname(cards.netlist)}/parts.toml"
    texts += [HELD[beside]] if beside in HELD else []
    (record,) = [found for text in texts if (found := tomllib.loads(text)["parts"].get(name)) is not None]
    rows = [f'type = "{record["type"]}"', f"pins = {record['pins']}", 'source = "invented for the test"']
    for head, table in record.items():
        if isinstance(table, dict):
            changed = {key: value for key, value in values.items() if key in table}
            inner = ", ".join(f"{key} = {toml(value)}" for key, value in {**table, **changed}.items())
            rows.append(f"{head} = {{ {inner} }}")
    assert any(key in table for key in values for table in record.values() if isinstance(table, dict))
    file = beside if beside in HELD else "rules/parts/cure.toml"
    cards.files[file] = "\n".join((HELD.get(file, ""), "[parts.DEMO_CURE]", *rows, ""))
    cards.put(line, *words, "DEMO_CURE")


def toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + " }"
    return json.dumps(value)


def part_that_blocks(cards: CuredFiles, found: re.Match[str]) -> None:
    both = {"reverse_voltage_max": found["number"]} if found["back"] else {}
    other_part(cards, cards.line_of(found["path"]), blocking_voltage=found["number"], **both)


def relay_for(cards: CuredFiles, found: re.Match[str]) -> None:
    other_part(cards, own_line(cards), voltage_max=found["number"])


def in_series_with_coil(cards: CuredFiles, found: re.Match[str]) -> None:
    """As much again as the coil of these boards has, so that it gets half."""
    series(cards, own_line(cards), cards.words(own_line(cards))[1], "1.44k")


def across_coil(cards: CuredFiles, found: re.Match[str]) -> None:
    _, one, other, *_ = cards.words(own_line(cards))
    cards.add(f"RCURE {one} {other} 10k")


def bypass(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.add(f"CCURE {found['one']} {found['other']} {found['number'].replace(' ', '')}")


def opens_by_itself(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.put(own_line(cards), *cards.words(own_line(cards))[:-1], "DEMO_MO1")


def gate_to_source(cards: CuredFiles, found: re.Match[str]) -> None:
    _, _, gate, source, *_ = cards.words(cards.line_of(told(cards, rf"the gate of (?P<path>{PATH})")["path"]))
    cards.add(f"RCURE {gate} {source} 1Meg")


def larger(cards: CuredFiles, found: re.Match[str]) -> None:
    name, one, other, *_ = cards.words(found["line"])
    cards.put(found["line"], name, one, other, "10Meg")


def higher_supply(cards: CuredFiles, found: re.Match[str]) -> None:
    net = told(cards, rf"supply (?P<net>{NET}) at [\d.]+ V")["net"]
    cards.state('[supplies."VCURE"]\nvoltage = "20 V"\nground = "GNDB"')
    cards.put(own_line(cards), *("VCURE" if word == net else word for word in cards.words(own_line(cards))))


def higher_level(cards: CuredFiles, found: re.Match[str]) -> None:
    needs = told(cards, r"needs (?P<volts>[\d.]+ V) to be fully on")["volts"]
    other_part(cards, own_line(cards), high_level={"min": needs, "at": "100 mA"})


def fully_on_at_less(cards: CuredFiles, found: re.Match[str]) -> None:
    """Another transistor, that needs no more than what the message says that it gets."""
    gate = told(cards, rf"gate of (?P<path>{PATH}) gets (?P<volts>[\d.]+ V)")
    line = cards.line_of(gate["path"])
    cards.put(line, "MCURE", *cards.words(line)[1:])
    cards.state(f'[elements."MCURE"]\ngate_full_on = "{gate["volts"]}"')


def at_output(cards: CuredFiles, found: re.Match[str]) -> None:
    """What lacks of the resistance that is asked for, without a tolerance."""
    lies = told(cards, r"(?P<number>[\d.]+) ohm lie between")
    cards.state('[elements."RCURE"]\ntolerance = "0 %"')
    series(cards, own_line(cards), found["net"], f"{float(found['number']) - float(lies['number']):.3g}")


def clamp_gate(cards: CuredFiles, found: re.Match[str]) -> None:
    """A Zener diode of three quarters of what the gate stands, and a resistor between it and the coupler."""
    stands = told(cards, rf"gate of (?P<path>{PATH}) .* and stands (?P<volts>[\d.]+) V")
    _, _, gate, source, *_ = cards.words(cards.line_of(stands["path"]))
    series(cards, own_line(cards), gate, "1k")
    ends = f"{gate} {source}" if "below its source" in cards.message else f"{source} {gate}"
    cards.add(f"DCURE {ends} DCURE", f".model DCURE D(BV={0.75 * float(stands['volts'])} IBV=1u)")


def over_a_resistor(rail: str) -> Callable[[CuredFiles, re.Match[str]], None]:
    def add(cards: CuredFiles, found: re.Match[str]) -> None:
        cards.add(f"RCURE {found['net']} {found[rail]} 10k")

    return add


def join_to_output(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.add(f"RCURE {found['net']} DRIVECURE 0")


def own_logic(cards: CuredFiles, found: re.Match[str]) -> None:
    """`DRIVE*` are outputs of logic at the 5 V of these inputs."""
    net = told(cards, rf"input {NET} \((?P<net>{NET})\) gets")["net"]
    cards.put(own_line(cards), *("DRIVECURE" if word == net else word for word in cards.words(own_line(cards))))


def divide(cards: CuredFiles, found: re.Match[str]) -> None:
    """So that the largest level is 85 % of what the input stands. The pin behind the input is its ground."""
    gets = told(cards, rf"input {NET} \((?P<net>{NET})\) gets (?P<volts>[\d.]+) V .* stands is (?P<limit>[\d.]+) V")
    share = 0.85 * float(gets["limit"]) / float(gets["volts"])
    _, _, _, ground, *_ = cards.words(own_line(cards))
    series(cards, own_line(cards), gets["net"], "1k")
    cards.add(f"RLOW NCURE {ground} {1e3 * share / (1.0 - share):.0f}")


def snub(cards: CuredFiles, found: re.Match[str]) -> None:
    _, *nets, _ = cards.words(cards.line_of(found["path"]))
    # Of a part with an LED the last two pins are the output, of a thyristor the gate stands between.
    first, last = nets[-2:] if len(nets) > 3 else (nets[0], nets[2])
    cards.add(f"RCURE {first} NCURE 100", f"CCURE NCURE {last} 100n")


def from_to(cards: CuredFiles, found: re.Match[str]) -> None:
    cards.add(f"RCURE {found['one']} {found['other']} {found['number']}{found['unit']}")


def rail_in_range(cards: CuredFiles, found: re.Match[str]) -> None:
    """A rail a tenth inside of the end of the range that is missed, against the same net."""
    limit = told(cards, rf"\((?P<net>{NET}) against (?P<ground>{NET}), .*(?P<how>least|stands) (?P<volts>[\d.]+) V")
    volts = float(limit["volts"]) * (1.1 if limit["how"] == "least" else 0.9)
    cards.state(f'[supplies."VCURE"]\nvoltage = "{volts:.4g} V"\nground = "{limit["ground"]}"\ntolerance = "0 %"')
    line = own_line(cards)
    cards.put(line, *("VCURE" if word == limit["net"] else word for word in cards.words(line)))


def smaller_gate_resistor(cards: CuredFiles, found: re.Match[str]) -> None:
    thyristor = told(cards, rf": (?P<path>{PATH}) fires at")["path"]
    _, main, gate, near, *_ = cards.words(cards.line_of(thyristor))
    ends = {*cards.words(own_line(cards))[3:5]} - {gate}
    (line,) = [
        str(n)
        for n, card in enumerate(cards.lines, 1)
        if card.startswith("R") and ends <= {*card.split()[1:3]} and {main, near} & {*card.split()[1:3]}
    ]
    name, one, other, _, *rest = cards.words(line)
    cards.put(line, name, one, other, "100", *rest)


FOLLOWED: tuple[tuple[str, Callable[[CuredFiles, re.Match[str]], None]], ...] = (
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
    (rf"^(?P<path>{PATH}): a part for (?P<number>[\d.]+ V) or more(?P<back>, also backwards)?$", part_that_blocks),
    (rf"^fit (?P<number>[\d.]+ \wF) between (?P<one>{NET}) and (?P<other>{NET}), beside the part", bypass),
    (r"^a relay for (?P<number>[\d.]+ V),", relay_for),
    (r"a resistor in series with its coil$", in_series_with_coil),
    (r"a resistor across the coil that takes it$", across_coil),
    (r"^an output that opens by itself \(transistor, MOSFET, relay\) for direct current$", opens_by_itself),
    (r"^fit a resistor between gate and source$", gate_to_source),
    (rf"^a larger {PATH} {PLACE}", larger),
    (r"^a higher supply of the driver", higher_supply),
    (r"^a driver that guarantees a higher level", higher_level),
    (r"a transistor that is fully on at less$", fully_on_at_less),
    (rf"^(?P<number>[\d.]+) (?P<unit>\w?)ohm (?:or less )?from net (?P<one>{NET}) to net (?P<other>{NET})", from_to),
    (rf"^at least (?P<number>[\d.]+) ohm between output (?P<net>{NET}) and the gate$", at_output),
    (r"^clamp the gate with a Zener diode behind a resistor", clamp_gate),
    (rf"^join (?P<net>{NET}) to an output,", join_to_output),
    (
        rf"^join (?P<net>{NET}) to (?:an output, or to )?(?P<rail>{NET}) or {NET} over a resistor",
        over_a_resistor("rail"),
    ),
    (
        rf"^join (?P<net>{NET}) to (?:an output, or to )?{NET} or (?P<rail>{NET}) over a resistor$",
        over_a_resistor("rail"),
    ),
    (r"^drive it from logic of its own supply", own_logic),
    (r"^drive it from logic of its own supply, or divide the voltage$", divide),
    (rf"^a resistor and a capacitor across (?P<path>{PATH}),", snub),
    (rf"^feed {NET} from a rail within its range", rail_in_range),
    (r"^a smaller gate resistor", smaller_gate_resistor),
)

ADVICE = (
    # Another part, another supply, another board.
    r"a coupler (of its own|that saturates|with a higher)|a part (with|that)|more LED current|more gain",
    r"a larger (load|series) resistor|larger LED resistors|a smaller resistor across|a resistor for each LED",
    r"a transistor (between|with|for)|a stronger|fewer outputs in series|a diode in series with the output",
    r"resistors that leave .* by themselves|let nothing flow in that state|let a signal switch",
    r"a resistor from the gate of \S+ to its main terminal|a varistor that clamps below",
    # On the load, off the board.
    r"a diode across load \S+, or a suppressor|a smaller capacitor across it, something across the load",
    # What only the engineer knows.
    r"(drive|feed) (net|one end|the side)|connect each group of pins|connect net \S+ to (a supply|what)",
    r"fit a pull-up from net|put a pull-(up|down) between|pull up to \S+ \(the pull-up\)|pull up to the supply of",
    r"state |correct |remove the waiver|write (it as|a relative path)|put it beside the netlist|git add",
    r"at most [\d.]+ \w?F in all|the value of the others in the chain|no value of .* satisfies all",
    r"a relay whose contact is rated|a contact for small loads|a converter that starts|a smaller shunt",
    r"feed both sides of the net from one supply",
    r"board (creepage|clearance) of|join \S+ to protective earth|(double or reinforced|basic) insulation on the way",
    r"ohm or less across the LED, beside what is there, or a reference that needs less",
    r"a smaller resistor before the LED|less current in the photodiodes|the resistance before the summing net",
    r"a smaller resistor (that pulls the pin|round the output's amplifier)|a larger resistor in series with the LED",
    r"an offset that keeps the photodiode",
    r"a smaller turn-off resistor, a negative supply|more light, a smaller gate charge",
    r"a part certified|a longer dead time|less capacitance|lead the servo photodiode",
    r"take no .* out|give (it|each)|place |use |all of these must go|unlike|another|a slower|a faster|a driver|a lower",
)


def followed(netlist: str, result: Result) -> Iterator[tuple[str, Files]]:
    """What can be followed of a cure, each with the files of the board as they are then."""
    for pattern, follow in FOLLOWED:
        found = re.search(pattern, result.remedy)
        if found is not None:
            cards = CuredFiles(netlist, result.message)
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
            after = judge_briefly(files, netlist).results
            assert not [other for other in after if "DEMO_CURE" in other.message and other.rule == "part-unknown"]
            left = {other.fingerprint for other in after if other.kind == "fail"}
            assert result.fingerprint not in left, f"{words}: {result.rule} {result.subject} is still there"

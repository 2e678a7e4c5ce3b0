"""Channels of identical instances are judged once; what is said of each is as though each had been judged."""

from __future__ import annotations

from datetime import date

import pytest

from isolint import app
from isolint.checking import engine
from isolint.checking.context import Context
from isolint.checking.equal_channels import find_twins
from isolint.checking.rule import Rule
from isolint.circuit import build
from isolint.interfaces.entities import Channel
from isolint.interfaces.netnames import is_ground_name, is_supply_name
from isolint.netlist import read
from isolint.results import Result
from isolint.source import MemoryTree
from tests.checking.boards import FACTS
from tests.rules.test_pages import examples
from tests.support import judge

TODAY = app.Options(today=date(2026, 1, 1))
BLOCK = """* Blocks of one channel, invented for the tests
.subckt DEMO_BLOCK DRIVE OUT V5 GND VB GNDB rd=470
R1 DRIVE A {rd}
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
C1 V5 GND 100n
.ends
"""


def blocks(*calls: str) -> str:
    """The block placed; each call gives its nets DRIVE and OUT, perhaps a value, and what stands beside it."""
    cards = []
    for number, call in enumerate(calls):
        call, _, beside = call.partition("\n")
        drive, out, *more = call.split()
        cards += [f"X{number} {drive} {out} V5 GND VB GNDB DEMO_BLOCK {' '.join(more)}", beside]
    return BLOCK + "\n".join(cards) + "\n"


ALIKE = tuple(f"DRIVE{number} OUT{number}" for number in range(5))


def both(netlist: str, facts: str, monkeypatch: pytest.MonkeyPatch) -> tuple[tuple[Result, ...], list[list[str]]]:
    """The results, which must be the same with and without twins; and the groups of twins by subject."""
    groups: list[list[str]] = []

    def noted(context: Context, blocked: dict[str, object]) -> object:
        found = find_twins(context, blocked)
        groups.extend([twin.channel.subject for twin in group] for group in found)
        return found

    monkeypatch.setattr(engine, "find_twins", noted)
    short = judge(netlist, facts, TODAY).results
    monkeypatch.setattr(engine, "find_twins", lambda context, blocked: [])
    assert short == judge(netlist, facts, TODAY).results
    return short, groups


def test_identical_blocks_are_twins(monkeypatch: pytest.MonkeyPatch) -> None:
    results, groups = both(blocks(*ALIKE), FACTS, monkeypatch)
    assert groups == [[f"X{number}.XU1" for number in range(5)]]
    assert {result.subject for result in results if result.rule == "transfer-margin-low"} == set(groups[0])


def test_of_twins_two_are_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    judged: list[str] = []
    plain = engine._for_channel

    def noted(rule: Rule, context: Context, channel: Channel, blocked: engine.Blocked) -> list[Result]:
        judged.append(channel.subject)
        return plain(rule, context, channel, blocked)

    monkeypatch.setattr(engine, "_for_channel", noted)
    judge(blocks(*ALIKE), FACTS, TODAY)
    assert set(judged) == {"X0.XU1", "X1.XU1"}


@pytest.mark.parametrize(
    ("other", "facts"),
    [
        ("DRIVE4 OUT4 rd=1k", ""),
        ("DRIVE4 OUT3", ""),
        ("DRIVE4 OUT4\nR9 OUT4 GNDB 100k", ""),
        ("DRIVE4 OUT4\nC9 DRIVE4 GND 1n", ""),
        ("DRIVE4 OUT4\nS9 V5 GND OUT4 GNDB DEMO_S\n.model DEMO_S SW(VT=1)", ""),
        ("DRIVE4 ELSEWHERE", ""),
        ("DRIVE4 OUT4", '[elements."X4.R1"]\ntolerance = "10 %"\n'),
        ("DRIVE4 OUT4", '[outputs."DRIVE4"]\nsource_max = "7 mA"\n'),
        ("DRIVE4 OUT4", '[inputs."OUT4"]\nlow_max = "0.4 V"\n'),
        ("DRIVE4 OUT4", '[lines."X4.A"]\non = ["4 V", "5 V"]\noff = ["0 V", "0 V"]\n'),
    ],
)
def test_a_block_that_differs_is_no_twin(other: str, facts: str, monkeypatch: pytest.MonkeyPatch) -> None:
    _, groups = both(blocks(*ALIKE[:4], other), FACTS + facts, monkeypatch)
    assert groups in ([[f"X{number}.XU1" for number in range(4)]], [[f"X{number}.XU1" for number in range(3)]])


def test_a_name_that_the_message_holds_as_a_word_spoils_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = FACTS.replace('"DRIVE*"', '"*"').replace('"OUT*"', '"*"')
    nets = ("5", "10k", "led", "output", "V", "mA")
    both(blocks(*(f"{net} OUT{number}" for number, net in enumerate(nets))), facts, monkeypatch)


def test_a_net_that_is_called_as_an_element_elsewhere_is_told_from_it(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = FACTS.replace('"DRIVE*"', '"R9*"').replace('source_max = "16 mA"', 'source_max = "5 mA"')
    netlist = blocks(*(f"R9{number} OUT{number}" for number in range(4))) + "R93 V5 GND 1k\n"
    results, groups = both(netlist, facts, monkeypatch)
    assert groups == [["X0.XU1", "X1.XU1", "X2.XU1"]]
    assert any("output net R93 at" in result.message for result in results)


def test_groups_of_outputs_are_summed_over_all_twins(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = FACTS.replace('sink_max = "16 mA"', 'sink_max = "16 mA"\ngroup = "port"')
    results, groups = both(blocks(*ALIKE), facts + '[groups."port"]\ncurrent_max = "20 mA"\n', monkeypatch)
    assert groups
    assert [result.kind for result in results if "port" in result.role] == ["fail"]


SHARED = ("V5", "VB", "V24", "V24B", "GND", "GNDB", "0")


def placed(text: str, times: int) -> str:
    """The cards of a netlist as a subcircuit that is placed several times, each on its own nets but for the rails."""
    cards = read(MemoryTree({"board.cir": text}), "board.cir")
    circuit = build(cards)
    nets = [circuit.net_name(net) for net in circuit.nets() if "." not in circuit.net_name(net)]
    nets = [net for net in nets if net.lower() not in cards.globals]
    body: list[str] = []
    around: list[str] = []
    inside = keep = False
    for line in text.splitlines()[1:]:
        word = line.split(" ")[0].lower()
        inside = inside or word == ".subckt"
        keep = keep if line.startswith("+") else not inside and word[:1].isalpha()
        (body if keep else around).append(line)
        inside = inside and word != ".ends"
    calls = [
        " ".join((f"XP{n}", *(net if _is_rail(net) else f"{net}{n}" for net in nets), "PLACED")) for n in range(times)
    ]
    around = [line for line in around if line.lower() != ".end"]
    return "\n".join(("* placed", *around, f".subckt PLACED {' '.join(nets)}", *body, ".ends", *calls, ""))


def _is_rail(net: str) -> bool:
    return net in SHARED or is_ground_name(net) or is_supply_name(net)


def flat(text: str, times: int) -> str:
    """The cards of a netlist written down several times, with elements and nets of their own but for the rails."""
    circuit = build(read(MemoryTree({"board.cir": text}), "board.cir"))
    own = {circuit.net_name(net) for net in circuit.nets() if not _is_rail(circuit.net_name(net))}
    own |= {circuit.name(element) for element in circuit.elements()}
    lines = ["* flat"]
    for number in range(times):
        inside = False
        for line in text.splitlines()[1:]:
            word = line.split(" ")[0].lower()
            inside = inside or word == ".subckt"
            card = not inside and word[:1].isalpha()
            if card:
                lines.append(" ".join(f"{each}{number}" if each in own else each for each in line.split(" ")))
            elif not number and word != ".end":
                lines.append(line)
            inside = inside and word != ".ends"
    return "\n".join((*lines, ""))


FAILING = [(slug, netlist, settings) for slug, section, netlist, settings in examples() if section == "Fails"]


@pytest.mark.parametrize(("slug", "netlist", "settings"), FAILING, ids=lambda value: value[:24])
def test_a_placed_example_says_the_same_with_and_without_twins(
    slug: str, netlist: str, settings: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    both(placed(netlist, 4), settings, monkeypatch)


@pytest.mark.long
@pytest.mark.parametrize(("slug", "netlist", "settings"), FAILING, ids=lambda value: value[:24])
def test_an_example_written_down_several_times_says_the_same_with_and_without_twins(
    slug: str, netlist: str, settings: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    both(flat(netlist, 4), settings, monkeypatch)


def couplers(*names: str, beside: str = "") -> str:
    """A flat coupler each, and what stands beside them."""
    cards = [f"R{n} DRIVE{n} A{n} 470\nXU{n} A{n} GND GNDB OUT{n} DEMO_PT1\nRL{n} VB OUT{n} 10k\n" for n in names]
    return f"* flat couplers, invented\n{''.join(cards)}{beside}"


def test_channels_side_by_side_on_one_sheet_are_twins(monkeypatch: pytest.MonkeyPatch) -> None:
    _, groups = both(couplers("8", "9", "10", "11"), FACTS, monkeypatch)
    assert groups == [["XU8", "XU9", "XU10", "XU11"]]


@pytest.mark.parametrize(
    ("beside", "facts"),
    [
        ("R99 OUT4 GNDB 100k\n", ""),
        ("S9 V5 GND OUT4 GNDB DEMO_S\n.model DEMO_S SW(VT=1)\n", ""),
        ("", '[elements."R4"]\ntolerance = "10 %"\n'),
        ("", '[inputs."OUT4"]\nlow_max = "0.4 V"\n'),
    ],
)
def test_of_equal_cards_one_with_another_neighbour_or_fact_is_no_twin(
    beside: str, facts: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, groups = both(couplers(*"12345", beside=beside), FACTS + facts, monkeypatch)
    assert groups == [["XU1", "XU2", "XU3", "XU5"]]


def test_what_stands_first_is_told_from_what_stands_behind_it(monkeypatch: pytest.MonkeyPatch) -> None:
    first = "".join(f"R{n} DRIVE{n} A{n} 470\nXU{n} A{n} GND GNDB OUT{n} DEMO_PT1\n" for n in range(4))
    behind = "".join(f"XV{n} A{n} GND GNDB OUT9{n} DEMO_PT1\n" for n in range(4))
    loads = "".join(f"RL{n} VB OUT{n} 10k\nRM{n} VB OUT9{n} 10k\n" for n in range(4))
    results, groups = both(f"* pairs on a resistor, invented\n{first}{behind}{loads}", FACTS, monkeypatch)
    assert sorted(map(len, groups)) == [4, 4]
    shared = [result for result in results if result.rule == "leds-share-resistor"]
    assert [result.kind for result in shared].count("fail") == 4


def test_results_of_flat_twins_stand_at_their_own_cards(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = FACTS.replace('source_max = "16 mA"', 'source_max = "2 mA"')
    results, groups = both(couplers(*"1234"), facts, monkeypatch)
    assert groups
    failed = [result for result in results if result.rule == "drive-headroom-low" and result.kind == "fail"]
    assert len({result.where.line for result in failed}) == 4
    assert all(f"board.cir:{result.where.line}" in result.remedy for result in failed)

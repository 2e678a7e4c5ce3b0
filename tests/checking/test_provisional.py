"""Boards without a model or record: what would fail is said inside the open result, and nothing of it is a verdict."""

from __future__ import annotations

import random

import pytest

from isolint.reports import text
from isolint.results import Report, Result
from tests.positions.finding import checked

FAULTS = ("unlimited", "reversed", "tie", "dead loop", "load missing")
NAMED = {
    "unlimited": "[led-unlimited]",
    "reversed": "[led-reversed]",
    "dead loop": "[led-undriven]",
    "load missing": "[load-missing]",
}


def board(seed: int, fault: str) -> str:
    """A board with one or two couplers of one invented name, with a fault that needs no stated fact."""
    draw = random.Random(seed)
    one, other = draw.choice((("GND", "GND_FIELD"), ("DGND", "GNDISO"), ("GND", "COM_BUS"), ("GND_CPU", "0V_FIELD")))
    supply, second = draw.choice((("V5", 5), ("V3V3", 3.3))), draw.choice((("VF", 5), ("V24F", 24), ("V12F", 12)))
    name = f"PART{draw.randrange(100, 999)}"
    series, pull = draw.choice((220, 330, 470, 680)), draw.choice(("4.7k", "10k", "22k"))
    lines = [f"V1 {supply[0]} {one} {supply[1]}", f"V2 {second[0]} {other} {second[1]}"]
    for count in range(draw.choice((1, 2))):
        anode, cathode, collector = f"A{count}", one, f"OUT{count}"
        low = draw.random() < 0.5
        if low:
            anode, cathode = supply[0], f"K{count}"
        lit = (supply[0], anode) if not low else (cathode, one)
        limit: float = series
        if count == 0 and fault == "unlimited":
            limit = 0
        if count == 0 and fault == "dead loop":
            lit = (lit[0], "OPEN") if not low else (cathode, supply[0])
        if fault == "unlimited" and seed % 2 and count == 0:
            # No resistor at all.
            anode, cathode = supply[0], one
        else:
            lines.append(f"R{count + 1} {lit[0]} {lit[1]} {limit}")
        if not (count == 0 and fault == "load missing"):
            lines.append(f"R{count + 11} {second[0]} {collector} {pull}")
        pins = [anode, cathode] if fault != "reversed" or count else [cathode, anode]
        lines.append(f"XU{count + 1} {' '.join(pins)} {other} {collector} {name}")
    if fault == "tie":
        lines.append(f"R99 {one} {other} {draw.choice((0, 4.7, 100))}")
    return "\n".join(("* a board without models", *lines, ".end", ""))


def opened(report: Report) -> list[Result]:
    return [result for result in report.results if result.rule == "part-unknown" and result.kind == "open"]


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("seed", range(12))
def test_the_fault_is_named_on_the_first_run(seed: int, fault: str) -> None:
    report = checked(board(seed, fault))
    told = "\n".join("\n".join((result.message, *result.more)) for result in opened(report))
    if fault == "tie":
        assert "R99" in told
        assert "tie" in told or "[bridge-conducting]" in told
    else:
        assert NAMED[fault] in told, told


@pytest.mark.parametrize("fault", FAULTS)
def test_nothing_provisional_passes_or_fails(fault: str) -> None:
    report = checked(board(3, fault))
    assert {result.kind for result in report.results} == {"open"}
    (netlist,) = report.netlists
    assert (netlist.coverage.channels, netlist.coverage.judged, netlist.couplers) == (0, 0, ())
    assert report.exit_status == 1


@pytest.mark.parametrize("seed", range(12))
def test_a_sound_board_names_none_of_the_faults(seed: int) -> None:
    told = "\n".join(line for result in opened(checked(board(seed, "none"))) for line in result.more)
    assert "no failure is certain without its record" in told
    first = [line for line in told.splitlines() if line.startswith("if it is")]
    assert not any(rule in line for line in first for rule in NAMED.values())


def test_what_holds_in_every_order_of_the_pins_is_said_once_and_first() -> None:
    netlist = board(0, "load missing")
    (found,) = opened(checked(netlist))
    lines = [line for line in found.more if line.startswith(("if it is", "with "))]
    assert "[load-missing]" in lines[0]
    assert lines[0].startswith("if it is a phototransistor")
    assert sum("[load-missing]" in line for line in lines) == 1


def test_exchanged_pins_are_told_as_such() -> None:
    (found,) = opened(checked(board(1, "reversed")))
    assert any("with anode and cathode exchanged" in line for line in found.more)
    assert text.render(checked(board(1, "reversed"))).count("[led-reversed]") >= 1


# -- parts of which no channel is made ---------------------------------------------------------------------------------

LOGIC = "V1 V5 GND 5\nXU2 V5 IN1 GND A1 A2 A3 A4 A5 MCU8\nC1 V5 GND 100n\nC4 V5 GND 10u\n"
FIELD = "XU3 VF OUT1 GND_ISO B1 B2 B3 B4 B5 ADC8\nC2 VF GND_ISO 100n\nC3 VF GND_ISO 10u\n"
MODELS = ".model QN NPN\n.model DX D\n.model MN NMOS\n.end\n"
RELAY = "V2 P12 GND 12\nR1 A1 B 1k\nQ1 K B GND QN\nXK1 P12 K CM NO1 RL77\nXJ1 CM NO1 CONN2\n"
ISOLATOR = "V3 VF GND_ISO 5\nXU1 V5 IN1 GND GND_ISO OUT1 VF PART66\n"
SUPPLY = "XPS1 V5 GND VF GND_ISO PART55\n"
TRANSFORMER = "M1 D1 A1 GND GND MN\nXT1 V5 D1 S1 GND_ISO PART44\nD2 S1 VF DX\n"
TIE, BRIDGE = "R99 GND GND_ISO 0", "R99 GND GND_ISO 100"


@pytest.mark.parametrize(
    ("cards", "type_", "rule"),
    [
        (RELAY, "relay", "[coil-clamp-missing]"),
        (RELAY + "D1 P12 K DX", "relay", "[coil-clamp-missing]"),
        (RELAY + "D1 K P12 DX", "relay", ""),
        (FIELD + ISOLATOR, "digital-isolator", ""),
        (FIELD + ISOLATOR + TIE, "digital-isolator", "[ground-tie]"),
        (FIELD + ISOLATOR + BRIDGE, "digital-isolator", "[bridge-conducting]"),
        (FIELD + SUPPLY, "isolated-supply", ""),
        (FIELD + SUPPLY + TIE, "isolated-supply", "[ground-tie]"),
        (FIELD + TRANSFORMER, "transformer", ""),
        (FIELD + TRANSFORMER + BRIDGE, "transformer", "[bridge-conducting]"),
    ],
)
def test_a_part_of_which_no_channel_is_made_is_computed_by_its_guess_too(cards: str, type_: str, rule: str) -> None:
    report = checked(f"* a board without models\n{LOGIC}{cards}\n{MODELS}")
    lines = [line for result in opened(report) for line in result.more if "if it is" in line]
    first = next(line for line in lines if type_ in line)
    assert (rule or "no failure is certain without its record") in first
    assert {result.kind for result in report.results} == {"open"}

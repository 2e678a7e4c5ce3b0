"""Capacitors across a barrier: numbers, what is asked for, and that the line which is asked for settles it."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.answers import answered
from tests.support import complaints, judge, only

CORE = "* board\nR1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
FACTS = """[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
[elements."CY1*"]
class = "Y1"
voltage = "400 V"
[elements."CY2*"]
class = "Y2"
voltage = "300 V"
[sides.logic]
nets = ["GND"]
kind = "selv"
[sides.field]
nets = ["GNDB"]
"""
MAINS = """[[barriers]]
between = ["field", "logic"]
insulation = "reinforced"
working_voltage = "250 V"
mains = "230 V"
mains_frequency = "50 Hz"
overvoltage_category = 2
touch_current = "0.25 mA"
"""
RULE = "bridge-capacitor"
TOUCH = "touch-current-high"


def report(cards: str, barrier: str = MAINS, more: str = "") -> NetlistReport:
    return judge(CORE + cards, FACTS + barrier + more)


def verdict(cards: str, barrier: str = MAINS, more: str = "", rule: str = RULE) -> Result:
    return only(report(cards, barrier, more), rule)


def current(cards: str, barrier: str = MAINS, more: str = "") -> float:
    """Largest touch current in the evidence, milliamperes."""
    found = verdict(cards, barrier, more, TOUCH)
    return next(item.max or 0.0 for item in found.evidence if item.symbol == "I_touch") * 1e3


@pytest.mark.parametrize(
    ("value", "mains", "hertz", "milliamperes"),
    [
        ("1n", 230, 50, 0.079),
        ("2.2n", 230, 50, 0.175),
        ("4.7n", 230, 50, 0.374),
        ("1n", 240, 60, 0.100),
        ("2.2n", 240, 60, 0.219),
        ("4.7n", 240, 60, 0.468),
    ],
)
def test_the_touch_current_of_one_capacitor(value: str, mains: int, hertz: int, milliamperes: float) -> None:
    """Derived: I = 2 pi f C U at the mains + 10 %, the capacitance as marked."""
    barrier = MAINS.replace("230 V", f"{mains} V").replace("50 Hz", f"{hertz} Hz").replace("0.25 mA", "5 mA")
    exact = '[elements."CY1X"]\ntolerance = "0 %"\nclass = "Y1"\nvoltage = "400 V"\n'
    assert current(f"CY1X GND GNDB {value}\n", barrier, exact) == pytest.approx(milliamperes, abs=0.0006)
    assert current(f"CY1X GND GNDB {value}\n", barrier) == pytest.approx(1.2 * milliamperes, abs=0.0008)


def test_capacitors_side_by_side_add_up_and_two_in_series_halve() -> None:
    single = current("CY11 GND GNDB 1n\n")
    assert current("CY11 GND GNDB 1n\nCY12 V5 VB 500p\n") == pytest.approx(1.5 * single)
    assert current("CY21 GND M 1n\nCY22 M GNDB 1n\n") == pytest.approx(0.5 * single)


@pytest.mark.parametrize(("node", "share"), [("M", 0.5), ("PE", 1.0), ("CHASSIS", 1.0), ("GNDM", 1.0), ("VSS", 1.0)])
def test_two_capacitors_that_meet_at_earth_or_at_a_ground_let_the_current_of_each_through(
    node: str, share: float
) -> None:
    single = current("CY11 GND GNDB 1n\n")
    assert current(f"CY21 GND {node} 1n\nCY22 {node} GNDB 1n\n") == pytest.approx(share * single)


def test_a_tolerance_that_decides_is_asked_for() -> None:
    """2.7 nF pass 0.215 mA as marked and 0.258 mA at +20 %; the limit lies between."""
    found = verdict("CY11 GND GNDB 2.7n\n", rule=TOUCH)
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ['elements."CY11".tolerance']
    assert "flips at 16" in found.message
    settled = '[elements."CY11"]\ntolerance = "10 %"\nclass = "Y1"\nvoltage = "400 V"\n'
    assert verdict("CY11 GND GNDB 2.7n\n", more=settled, rule=TOUCH).kind == "pass"


def test_without_a_frequency_50_to_60_hertz_are_assumed() -> None:
    unstated = MAINS.replace('mains_frequency = "50 Hz"\n', "")
    found = verdict("CY11 GND GNDB 2.4n\n", unstated, rule=TOUCH)
    assert (found.kind, [fact.key for fact in found.missing]) == ("open", [
        'elements."CY11".tolerance',
        "barriers[0].mains_frequency",
    ])  # fmt: skip
    assert verdict("CY11 GND GNDB 1n\n", unstated, rule=TOUCH).kind == "pass"
    assert verdict("CY11 GND GNDB 4.7n\n", unstated, rule=TOUCH).kind == "fail"


@pytest.mark.parametrize(
    "keys",
    [("touch_current",), ("insulation",), ("mains", "working_voltage")],
    ids="+".join,
)
def test_the_lines_that_open_results_ask_for_settle_them(keys: tuple[str, ...]) -> None:
    barrier = "".join(f"{line}\n" for line in MAINS.splitlines() if line.partition(" =")[0] not in keys)
    asked: list[str] = []
    for _ in range(len(keys) + 1):
        opened = [
            r for r in report("CY11 GND GNDB 1n\n", barrier).results if r.rule in (RULE, TOUCH) and r.kind == "open"
        ]
        for fact in (fact for result in opened for fact in result.missing):
            values = {"insulation": '"reinforced"', "touch_current": '"0.25 mA"'}
            head, between, *lines = answered(fact.example, values).splitlines()
            assert (head, between) == ("[[barriers]]", 'between = ["field", "logic"]')
            asked.append(fact.key.removeprefix("barriers[0]."))
            barrier += "".join(f"{line}\n" for line in lines if line.partition(" =")[0] + " =" not in barrier)
    assert asked
    assert [verdict("CY11 GND GNDB 1n\n", barrier, rule=rule).kind for rule in (RULE, TOUCH)] == ["pass", "pass"]


def test_class_and_voltage_of_an_unknown_capacitor_are_asked_for_together() -> None:
    found = verdict("C9 GND GNDB 1n\n")
    assert found.kind == "open"
    (fact,) = found.missing
    head, *lines = fact.example.splitlines()
    assert (head, [line.partition(" =")[0] for line in lines]) == ('[elements."C9"]', ["class", "voltage"])
    settled = answered(fact.example, {"class": '"Y1"', "voltage": '"300 V"'}) + "\n"
    assert verdict("C9 GND GNDB 1n\n", more=settled).kind == "pass"


def test_an_unknown_class_can_not_hide_behind_a_sound_one() -> None:
    found = verdict("CY21 GND M 1n\nC9 M GNDB 1n\n")
    assert (found.kind, [fact.key for fact in found.missing]) == ("open", ['elements."C9".class'])


def test_of_several_networks_each_bad_one_is_a_result() -> None:
    more = '[elements."CX*"]\nclass = "X1"\nvoltage = "440 V"\n'
    found = [
        r for r in report("CX1 GND GNDB 1n\nCX2 V5 VB 1n\nCY11 GND GNDB 1n\n", more=more).results if r.rule == RULE
    ]
    assert [(result.kind, result.subject) for result in found] == [("fail", "CX1"), ("fail", "CX2")]


def test_one_capacitor_more_than_is_needed_is_no_fault() -> None:
    assert verdict("CY11 GND M 1n\nCY21 M GNDB 2.2n\n").kind == "pass"


def test_above_300_volts_of_mains_one_y1_can_not_be_judged_by_the_table() -> None:
    high = MAINS.replace("230 V", "400 V").replace("250 V", "400 V")
    found = verdict("CY11 GND GNDB 470p\n", high)
    assert found.kind == "open"
    assert "ends below 400 V" in found.message


def test_where_the_mains_side_states_no_mains_it_is_asked_for() -> None:
    facts = FACTS.replace('nets = ["GNDB"]\n', 'nets = ["GNDB"]\nkind = "mains"\n')
    barrier = MAINS.replace('mains = "230 V"\n', "")
    found = [r for r in judge(CORE + "CY11 GND GNDB 1n\n", facts + barrier).results if r.rule == TOUCH]
    assert [(result.kind, [fact.key for fact in result.missing]) for result in found] == [
        ("open", ["barriers[0].mains"])
    ]


def test_between_circuits_that_may_be_touched_nothing_is_asked_for_unless_their_barrier_is_stated_to_be_more() -> None:
    facts = FACTS.replace('nets = ["GNDB"]\n', 'nets = ["GNDB"]\nkind = "selv"\n')
    found = only(judge(CORE + "C9 GND GNDB 10u\n", facts), RULE)
    assert (found.kind, "functional insulation is enough" in found.message) == ("pass", True)
    basic = facts + '[[barriers]]\nbetween = ["logic", "field"]\ninsulation = "basic"\n'
    asked = only(judge(CORE + "C9 GND GNDB 10u\n", basic), RULE)
    assert (asked.kind, [fact.key for fact in asked.missing]) == (
        "open",
        ['elements."C9".class', "barriers[0].working_voltage"],
    )


def test_a_capacitor_on_a_joined_barrier_is_judged_all_the_same() -> None:
    found = report("R9 GND GNDB 0\nC9 GND GNDB 1n\n")
    assert complaints(found) == [("ground-tie", "fail", "field | logic"), (RULE, "open", "C9")]


def test_sides_that_nobody_named_are_named_in_the_line_to_write() -> None:
    bare = FACTS.partition("[sides.logic]")[0]
    found = only(judge(CORE + "CY11 GND GNDB 1n\n", bare), RULE)
    (fact,) = found.missing
    assert fact.example == (
        '[sides.GND]\nnets = ["GND"]\n[sides.GNDB]\nnets = ["GNDB"]\n[[barriers]]\nbetween = ["GND", "GNDB"]\n'
        'insulation = "?"  # one of functional, basic, supplementary, double, reinforced, '
        "1 MOOP, 2 MOOP, 1 MOPP, 2 MOPP"
    )
    stated = answered(fact.example, {"insulation": '"basic"'})
    again = [
        result for result in judge(CORE + "CY11 GND GNDB 1n\n", f"{bare}{stated}\n").results if result.rule == RULE
    ]
    assert [(result.kind, [fact.key for fact in result.missing]) for result in again] == [
        ("open", ["barriers[0].working_voltage"]),
    ]

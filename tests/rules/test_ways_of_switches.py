"""Boards beside those of mains switching that differ by one card: the wrong one is told, the legal one is not."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.rules.test_mains_switching import (
    CARRIES,
    FIRES,
    coupler,
    dc,
    direct,
    heater,
    judged,
    margin,
    mosfet,
    of,
    record,
    supply,
    triac,
)

DIODE = ".model DD D\n"
MOSFET = {"voltage_max": '"60 V"', "current_max": '"1 A"'}


def kinds(report: NetlistReport, rule: str) -> set[str]:
    return {each.kind for each in report.results if each.rule == rule}


# -- resistors beside each other -----------------------------------------------------


@pytest.mark.parametrize("beside", ["R12 T1 M2 390", "R12 T1 X 195\nR13 X M2 195"])
def test_two_gate_resistors_beside_each_other_are_half_of_one(beside: str) -> None:
    part = coupler(surge_current='"1 A"')
    assert of(judged(heater("390"), supply(), part, triac()), FIRES).kind == "pass"
    found = of(judged(heater("390", f"R3 M2 N 0.01\n{beside}"), supply(), part, triac()), FIRES)
    assert (found.kind, margin(found)) == ("fail", 0.54)
    assert "R = 357.796 / 193" in found.evidence[0].formula
    dead = of(judged(heater("390", "R3 M2 N 52\nR12 T1 X 10\nC9 X Y 1n"), supply(), part, triac()), FIRES)
    assert dead.kind == "pass"


def test_two_loads_beside_each_other_take_twice_the_current_of_one() -> None:
    switch = triac(current_rms='"8 A"')
    assert of(judged(heater("390", "R3 M2 N 40"), supply(), coupler(), switch), CARRIES).kind == "pass"
    both = of(judged(heater("390", "R3 M2 N 40\nR4 M2 N 40"), supply(), coupler(), switch), CARRIES)
    assert (both.kind, margin(both)) == ("fail", 0.63)
    chains = judged(direct("R3 T1 V24 36\nR4 T1 Y 18\nR5 Y V24 18"), dc(), mosfet(**MOSFET))
    assert (of(chains, CARRIES).kind, margin(of(chains, CARRIES))) == ("fail", 0.62)


def test_a_bridge_of_resistors_is_solved_and_not_added() -> None:
    bridge = "R3 T1 Y 30\nR4 T1 Z 30\nR5 Y V24 30\nR6 Z V24 30\nR7 Y Z 5"
    found = of(judged(direct(bridge), dc(), mosfet(**MOSFET)), CARRIES)
    assert margin(found) == round(30 * 0.99 / 28.8, 2)


def test_a_diode_beside_a_load_hides_neither_its_resistance_nor_its_current() -> None:
    board = direct(f"R3 T1 V24 100\nD1 T1 V24 DD\n{DIODE}")
    found = of(judged(board, dc(), mosfet(**MOSFET)), CARRIES)
    assert (found.kind, margin(found)) == ("pass", 3.44)


# -- what takes the current of a load off the board ----------------------------------

VALVE = '[loads."V"]\nkind = "inductive"\ncurrent = ["0.1 A", "0.2 A"]\nreturn = "V24"\n'
OVER = "output-voltage-exceeded"


@pytest.mark.parametrize(
    ("cards", "kind"),
    [
        ("D1 V V24 DD", "pass"),
        ("D1 T1 V24 DD", "pass"),
        ("D1 V K DD\nD2 V24 K DD", "pass"),
        ("D1 V24 V DD", "fail"),
        ("D1 V K DD\nD2 K V24 DD", "open"),
        ("R9 V K 2k\nD1 V24 K DD", "open"),
        ("D1 V X DD", "open"),
    ],
)
def test_only_a_diode_across_the_load_that_then_conducts_is_its_clamp(cards: str, kind: str) -> None:
    board = direct(f"R3 T1 V 0.001\n{cards}\n{DIODE}")
    found = of(judged(board, dc() + VALVE, mosfet(**MOSFET)), OVER, "clamp")
    assert found.kind == kind
    # Where it is stated that nothing at the load does, a diode of the board still may.
    stated = of(judged(board, dc() + VALVE + "clamped = false\n", mosfet(**MOSFET)), OVER, "clamp")
    assert stated.kind == ("pass" if kind == "pass" else "fail")


@pytest.mark.parametrize(("card", "kind"), [("D1 N V DD", "pass"), ("D1 V N DD", "fail")])
def test_the_diode_of_a_load_behind_a_high_side_switch_leads_from_the_return(card: str, kind: str) -> None:
    board = f"* board\nR1 DRV A 300\nXU1 A GND V24 V DEMO_X\n{card}\n{DIODE}"
    report = judged(board, dc() + VALVE.replace('return = "V24"', 'return = "N"'), mosfet(**MOSFET))
    assert of(report, OVER, "clamp").kind == kind


def test_a_diode_in_series_with_a_load_is_no_clamp_of_it() -> None:
    report = judged(direct(f"D1 V T1 DD\n{DIODE}"), dc() + VALVE, mosfet(**MOSFET))
    assert of(report, OVER, "clamp").kind == "open"


# -- direct current ------------------------------------------------------------------

BEHIND = "* board\nR1 DRV A 300\nXU1 A GND T1 M DEMO_X\n"
BRIDGE = f"D1 L P DD\nD2 N P DD\nD3 M L DD\nD4 M N DD\n{DIODE}"
LATCHES = "dc-load-latches"


@pytest.mark.parametrize(
    ("board", "kind"),
    [
        (f"{BEHIND}R3 T1 P 1k\n{BRIDGE}C1 P M 100u\n", "fail"),
        (f"{BEHIND}R3 T1 Q 1k\nR8 P Q 10\n{BRIDGE}C1 Q M 100u\n", "fail"),
        (direct(f"R3 T1 P 1k\nD1 L P DD\nC1 P N 100u\n{DIODE}"), "fail"),
        (f"{BEHIND}R3 T1 P 1k\n{BRIDGE}R4 T1 S 100\nC1 S M 100n\n", "pass"),
        (direct(f"R3 T1 L 1k\nR4 T1 S 100\nC1 S N 100n\nD1 T1 X DD\nD2 N X DD\n{DIODE}"), "pass"),
        (direct(f"R3 T1 L 1k\nC1 L N 100n\nD1 T1 X DD\nD2 N X DD\n{DIODE}"), "pass"),
        (f"* board\nR1 DRV A 300\nXU1 A GND L B DEMO_X\n{BRIDGE.replace(' L', ' B')}C1 P M 100u\nR3 P M 1k\n", "pass"),
    ],
)
def test_only_a_capacitor_between_bridge_and_switch_keeps_it_on(board: str, kind: str) -> None:
    found = of(judged(board, supply("24 V"), coupler(holding_current='"0.5 mA"')), LATCHES)
    assert found.kind == kind


def relay(**stated: str) -> str:
    """A complete solid-state relay."""
    return record("solid-state-relay", '"anode", "cathode", "l1", "l2"', "output", stated)


@pytest.mark.parametrize(("ohms", "least", "kind"), [("100", "50 mA", "fail"), ("1k", "50 mA", "open")])
def test_a_solid_state_relay_on_direct_current_is_held_by_the_least_current_of_its_load(
    ohms: str, least: str, kind: str
) -> None:
    found = of(judged(direct(f"R3 T1 V24 {ohms}"), dc(), relay(current_min=f'"{least}"')), LATCHES)
    assert found.kind == kind and "it falls off below 50 mA only" in found.message
    unstated = of(judged(direct("R3 T1 V24 1k"), dc(), relay(current_max='"1 A"')), LATCHES)
    assert [fact.key for fact in unstated.missing] == ["parts.DEMO_X.output.current_min"]


def test_the_line_that_asks_for_the_current_of_a_load_behind_a_switch_in_the_supply_settles_it() -> None:
    board = f"* board\nR1 DRV A 300\nXU1 A GND L B DEMO_X\n{BRIDGE.replace(' L', ' B')}C1 P M 100u\nR3 P M 1k\n"
    asked = of(judged(board, supply("24 V"), coupler()), CARRIES)
    (fact,) = asked.missing
    assert fact.key == 'loads."B".current'
    stated = judged(board, supply("24 V") + '[loads."B"]\ncurrent = ["20 mA", "40 mA"]\n', coupler())
    assert of(stated, CARRIES).kind == "pass"


# -- phases, snubbers ----------------------------------------------------------------


def test_two_supplies_of_which_nobody_states_the_phase_may_feed_nothing_between_them() -> None:
    two = supply("120 V", "L1") + supply("120 V", "L2")
    board, part = direct("R3 T1 L1 8k", "L2"), coupler(holding_current='"0.5 mA"', blocking_voltage='"800 V"')
    found = of(judged(board, two, part), "load-current-low")
    assert (found.kind, [fact.key for fact in found.missing]) == ("open", ['supplies."L2".phase'])
    stated = supply("120 V", "L1", 'phase = "0 deg"\n') + supply("120 V", "L2", 'phase = "120 deg"\n')
    assert of(judged(board, stated, part), "load-current-low").kind == "pass"


PUMP = (
    '[loads."M"]\nkind = "motor"\npower_factor = 0.5\ncurrent = ["1 A", "2 A"]\nreturn = "N"\n'
    'off_voltage = "450 V"\ninrush = "3 A"\n'
)
SNUBBER = "snubber-missing"


def whole(table: str = "", **output: str) -> str:
    """A solid-state relay with what it states about its snubber."""
    trigger = f"[parts.DEMO_X.trigger]\n{table}\n"
    return relay(current_max=quoted("5 A"), **output) + (trigger if table else "")


def quoted(text: str) -> str:
    return f'"{text}"'


def test_whether_a_solid_state_relay_has_a_snubber_inside_is_asked_of_its_record() -> None:
    board = direct("R3 T1 M 0.001", "L")
    asked = of(judged(board, supply() + PUMP, whole()), SNUBBER)
    assert (asked.kind, [fact.key for fact in asked.missing]) == ("open", ["parts.DEMO_X.output.internal_snubber"])
    assert kinds(judged(board, supply() + PUMP, whole(internal_snubber="true")), SNUBBER) == {"notApplicable"}
    assert of(judged(board, supply() + PUMP, whole(internal_snubber="false")), SNUBBER).kind == "fail"


def test_a_snubber_across_a_solid_state_relay_is_held_against_what_such_a_relay_stands() -> None:
    board = direct("R3 T1 M 0.001\nR4 T1 S 100\nC1 S L 100n", "L")
    assert of(judged(board, supply() + PUMP, whole()), SNUBBER).kind == "pass"
    assert of(judged(board, supply() + PUMP, whole('commutating_slew = "1 V/us"')), SNUBBER).kind == "fail"


@pytest.mark.parametrize(("slew", "kind"), [("", "open"), ("0.2 V/us", "pass"), ("0.12 V/us", "fail")])
def test_the_line_that_asks_what_a_phototriac_commutates_settles_it(slew: str, kind: str) -> None:
    valve = '[loads."M"]\nkind = "inductive"\npower_factor = 0.5\ncurrent = ["0.1 A", "0.2 A"]\nreturn = "N"\n'
    stated = {"commutating_slew": quoted(slew)} if slew else {}
    board = direct("R3 T1 M 0.001\nR4 T1 S 100\nC1 S L 100n", "L")
    found = of(judged(board, supply("24 V") + valve, coupler(**stated)), SNUBBER)
    assert found.kind == kind
    assert slew or [fact.key for fact in found.missing] == ["parts.DEMO_X.trigger.commutating_slew"]


def test_a_slope_of_current_is_told_in_amperes_a_second() -> None:
    board = "* board\nR1 DRV A 300\nXU1 A GND T1 G DEMO_X\nR2 T1 M 390\nXT1 M G L DEMO_T\n"
    found = of(judged(board, supply() + PUMP, coupler(), triac()), SNUBBER)
    assert "ends with 889 A/s, XT1 commutates 1 A/s" in found.message

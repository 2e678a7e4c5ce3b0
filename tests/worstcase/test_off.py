"""What receivers see while an output is off: its leakage over temperature, and the levels at which they let go."""

from __future__ import annotations

import pytest

from isolint.checking.context import Context
from isolint.worstcase.leakage import Leak, LeakAnalyser
from isolint.worstcase.off import OffLevel
from isolint.worstcase.uncertain import KINDEST, WORST, Setting
from tests.worstcase.boards import FACTS, PART, board, channel, context

DRIVE = "R1 V5 A 470"
RELAY = """
[parts.DEMO_K]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_K.coil]
resistance = "500 ohm"
voltage = "5 V"
pull_in = "3.5 V"
"""
INPUT = """
[inputs."OUT"]
supply = "VB"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "0 uA"
high_current = "0 uA"
"""
NO_INPUT = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]')
COIL = board(DRIVE, "XK1 VB OUT P1 P2 DEMO_K\n")


def level(found: Context, setting: Setting = WORST) -> OffLevel:
    """What the one receiver sees."""
    (seen,) = found.analysis.dark_levels(channel(found), setting)
    return seen


def leaks(part: str, setting: Setting = WORST) -> tuple[Context, LeakAnalyser]:
    found = context(board(DRIVE), FACTS, part)
    return found, LeakAnalyser(found.lookup, setting)


def dark(part: str, temperature: float, setting: Setting = WORST) -> float:
    found, analyser = leaks(part, setting)
    return analyser.dark(channel(found).part, temperature).amps


def passed(part: str, amps: float = 5e-3, temperature: float = 25.0) -> Leak:
    found, analyser = leaks(part)
    return analyser.passed(channel(found).part, amps, temperature)[0]


# -- what lets go ---------------------------------------------------------------------------------------------


def test_a_relay_that_states_no_drop_out_may_hold_down_to_a_twentieth_of_its_voltage() -> None:
    """From 5 % of 5 V at worst to 10 % at the kindest, over 500 ohm."""
    found = context(COIL, NO_INPUT, PART + RELAY)
    assert level(found).limit == pytest.approx(0.05 * 5.0 / 500.0)
    assert level(found, KINDEST).limit == pytest.approx(0.10 * 5.0 / 500.0)
    assert not level(found).at_least


def test_a_stated_drop_out_holds_at_worst_and_at_the_kindest() -> None:
    found = context(COIL, NO_INPUT, PART + RELAY + 'drop_out = "0.8 V"\n')
    assert [level(found, setting).limit for setting in (WORST, KINDEST)] == [pytest.approx(0.8 / 500.0)] * 2


def test_a_gate_is_off_below_half_its_threshold() -> None:
    cards = "R9 VB OUT 10k\nM1 D OUT GNDB GNDB MN\nR8 VB D 1k\n.model MN NMOS(VTO=1.5 KP=0.5)\n"
    follower = board(DRIVE, cards.replace("R9 VB OUT", "R9 OUT GNDB"), coupler="XU1 A GND VB OUT DEMO_A\n")
    seen = level(context(follower, NO_INPUT))
    assert seen.limit == pytest.approx(0.75)
    assert not seen.at_least
    pulled = level(context(board(DRIVE, cards), NO_INPUT))
    assert pulled.limit == pytest.approx(2.5)
    assert pulled.at_least


# -- leakage --------------------------------------------------------------------------------------------------


def test_dark_current_doubles_each_8_kelvins_above_its_test_point_and_halves_each_10_below() -> None:
    assert dark(PART, 25.0) == pytest.approx(100e-9)
    assert dark(PART, 65.0) == pytest.approx(100e-9 * 2**5)
    assert dark(PART, 65.0, KINDEST) == pytest.approx(100e-9 * 2**4)
    assert dark(PART, 5.0) == pytest.approx(100e-9 / 2**2)


def test_above_its_hot_point_dark_current_goes_on_doubling_each_8_kelvins() -> None:
    hot = PART.replace('at = "25 degC" }', 'at = "25 degC", hot = ["10 uA", "75 degC"] }')
    assert hot != PART
    assert dark(hot, 50.0) == pytest.approx(1e-6)
    assert dark(hot, 75.0) == pytest.approx(10e-6)
    assert dark(hot, 83.0) == pytest.approx(20e-6)


def test_hot_and_cold_points_that_are_alike_leave_the_dark_current_as_it_is() -> None:
    flat = PART.replace('at = "25 degC" }', 'at = "25 degC", hot = ["100 nA", "75 degC"] }')
    assert dark(flat, 60.0) == pytest.approx(100e-9, rel=1e-6)


def test_what_a_new_part_passes_is_the_led_current_times_the_largest_of_each_factor() -> None:
    assert passed(PART).amps == pytest.approx(5e-3 * 2.0)
    assert passed(PART, 5e-3, 85.0).amps == pytest.approx(5e-3 * 2.0 * 0.7)
    assert passed(PART, 50e-3).amps == pytest.approx(50e-3 * 2.0 * 0.8)
    # Below the first point of the curve nothing is extrapolated: its largest value bounds it.
    assert passed(PART, 1e-6).amps == pytest.approx(1e-6 * 2.0 * 1.0)


def test_a_ratio_that_grows_with_the_output_voltage_counts_at_its_largest() -> None:
    curve = "versus_voltage = [['1 V', 0.9], ['5 V', 1.0], ['20 V', 1.3]]"
    grown = "\n".join(curve if line.startswith("versus_voltage") else line for line in PART.splitlines())
    assert passed(grown).amps == pytest.approx(5e-3 * 2.0 * 1.3)


def test_the_dark_currents_of_two_outputs_on_one_net_both_flow() -> None:
    one = board(DRIVE, "R9 VB OUT 1meg\n")
    two = board(DRIVE, "R9 VB OUT 1meg\nR2 V5 B 470\nXU2 B GND OUT GNDB DEMO_A\n")
    alone, together = (level(context(netlist, NO_INPUT + INPUT)) for netlist in (one, two))
    assert (len(alone.leaks), len(together.leaks)) == (1, 2)
    lost_alone, lost_together = (4.75 - seen.value.value for seen in (alone, together))
    assert lost_together == pytest.approx(2.0 * lost_alone, rel=1e-2)

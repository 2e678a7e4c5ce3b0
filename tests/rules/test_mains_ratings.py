"""Second limits of mains switching: what gate, driver and reverse direction stand, and loads drawn card by card."""

from __future__ import annotations

import math

import pytest

from isolint.results import Result
from tests.rules.test_mains_switching import BLOCKS, FIRES, coupler, direct, heater, judged, margin, of, record, supply
from tests.rules.test_mains_switching import triac as switch

RISES = "snubber-missing"


def asked(found: Result) -> list[str]:
    return [fact.key for fact in found.missing]


# -- gate path -----------------------------------------------------------------------


@pytest.mark.parametrize(("stands", "kind", "expected"), [("0.5 A", "fail", 0.61), ("2 A", "pass", 1.47)])
def test_the_current_of_the_gate_path_flows_into_the_gate_too(stands: str, kind: str, expected: float) -> None:
    part = coupler(surge_current='"1.2 A"')
    found = of(judged(heater(), supply(), part, switch(gate_peak_current=f'"{stands}"')), FIRES)
    # 357.8 V over 386.1 ohm in the gate path and 51.5 ohm of the heater: its current flows through both.
    assert (found.kind, margin(found)) == (kind, expected)
    assert ("the gate of XT1 stands 500 mA" in found.message) == (kind == "fail")


@pytest.mark.parametrize(("time", "kind"), [(None, "open"), ("10 us", "fail"), ("1 ms", "pass")])
def test_the_upper_end_of_the_supply_counts_by_the_time_of_the_surge_current(time: str | None, kind: str) -> None:
    stated = {} if time is None else {"surge_time": f'"{time}"'}
    part = coupler(surge_current='"1 A"', **stated)
    found = of(judged(heater("330", "R3 M2 N 0.01"), supply("220 V"), part, switch()), FIRES)
    # 311 V over 326.7 ohm are 0.952 A, 342 V are 1.05 A.
    assert (found.kind, margin(found)) == (kind, 0.95 if kind != "pass" else 1.05)
    assert asked(found) == (["parts.DEMO_X.trigger.surge_time"] if kind == "open" else [])


# -- rise of the voltage -------------------------------------------------------------


@pytest.mark.parametrize(("stands", "kind"), [("5 V/us", "fail"), ("600 V/us", "pass"), (None, "pass")])
def test_the_coupler_beside_a_thyristor_stands_the_rise_behind_the_snubber(stands: str | None, kind: str) -> None:
    load = '[loads."M2"]\nkind = "motor"\npower_factor = 0.5\ncurrent = "2.2 A"\nreturn = "N"\noff_voltage = "450 V"\n'
    board = heater("390", "R3 M2 N 1MEG\nR4 M2 S 39\nC1 S L 10n")
    part = coupler() if stands is None else coupler(slew=f'"{stands}"')
    found = of(judged(board, supply() + load, part, switch(commutating_slew='"10 V/us"')), RISES)
    assert found.kind == kind
    assert ("the voltage of XU1 rises" in found.message) == (kind == "fail")


@pytest.mark.parametrize(
    ("rms", "stands", "kind"),
    [("230 V", "0.1 V/us", "fail"), ("230 V", "0.2 V/us", "pass"), ("230 V", None, "open"), ("24 V", None, "pass")],
)
def test_a_coupler_that_carries_a_heater_itself_follows_the_supply(rms: str, stands: str | None, kind: str) -> None:
    part = coupler() if stands is None else coupler(commutating_slew=f'"{stands}"')
    found = of(judged(direct(), supply(rms), part), RISES)
    assert found.kind == kind
    if kind == "fail":
        # 2 pi 50 Hz 357.8 V
        assert found.evidence[0].max == pytest.approx(2 * math.pi * 50 * 253 * math.sqrt(2))
    assert asked(found) == (["parts.DEMO_X.trigger.commutating_slew"] if kind == "open" else [])


def test_a_load_drawn_as_inductor_and_resistor_has_the_angle_and_the_current_of_its_cards() -> None:
    cards = "L1 M2 W 0.317\nR3 W N 57.5\nR4 M2 S 39\nC1 S L 10n"
    settings = supply() + '[elements."L*"]\ntolerance = "0 %"\n'
    fires = switch(commutating_slew='"5 V/us"', commutating_slope='"0.1 A/ms"')
    found = of(judged(heater("390", cards), settings, coupler(), fires), RISES)
    # The published sum: 253 V, 2.2 A at a power factor of 0.5.
    assert found.kind == "fail"
    assert found.evidence[0].max == pytest.approx(5.43e6, rel=0.02)
    larger = cards.replace("10n", "100n").replace("39", "100")
    assert of(judged(heater("390", larger), settings, coupler(), fires), RISES).kind == "pass"


# -- blocking ------------------------------------------------------------------------


@pytest.mark.parametrize(("backwards", "kind"), [("400 V", "fail"), ("600 V", "pass"), (None, "pass")])
def test_a_part_that_conducts_one_way_blocks_backwards_what_its_record_says(backwards: str | None, kind: str) -> None:
    stated = {} if backwards is None else {"reverse_voltage_max": f'"{backwards}"'}
    values = {"current_max": '"7 mA"', "blocking_voltage": '"600 V"', **stated}
    part = record("photo-scr", '"anode", "cathode", "scr_anode", "scr_cathode"', "trigger", values)
    found = of(judged(direct(), supply(), part), BLOCKS)
    assert (found.kind, margin(found)) == (kind, 0.93 if kind == "fail" else 1.40)


MOTOR = """* board
R1 DRV A 300
XU1 A GND L W1 DEMO_X
R2 DRV B 300
XU2 B GND L W2 DEMO_X
R3 W1 M1 10
R4 W2 M2 10
R5 M1 N 400
R6 M2 N 400
"""


def test_the_capacitor_of_a_motor_that_turns_both_ways_adds_its_voltage() -> None:
    part = coupler(blocking_voltage='"600 V"', commutating_slew='"1 V/us"')
    plain = judged(MOTOR, supply(), part)
    assert {each.kind for each in plain.results if each.rule == BLOCKS} == {"pass"}
    joined = judged(MOTOR + "C1 W1 W2 2u\n", supply(), part)
    found = next(each for each in joined.results if each.rule == BLOCKS and each.kind != "notApplicable")
    assert (found.kind, margin(found)) == ("open", 0.84)
    assert asked(found) == ['loads."W*".off_voltage']
    filtered = judged(MOTOR + "C1 W1 N 100n\n", supply(), part)
    assert {each.kind for each in filtered.results if each.rule == BLOCKS} == {"pass"}

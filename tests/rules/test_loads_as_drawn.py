"""Loads of switching outputs as they are drawn: coils with their resistance, varistors, thyristors in the cold."""

from __future__ import annotations

import pytest

from tests.rules.test_mains_switching import (
    DRIVE,
    coupler,
    dc,
    direct,
    heater,
    judged,
    margin,
    mosfet,
    of,
    supply,
    triac,
)
from tests.rules.test_ways_of_switches import relay
from tests.support import judge


def coil(ohms: str) -> str:
    """A coil of 0.4 H on 24 V with its diode, and what lies in series with it."""
    return direct(f"L3 T1 M 0.4\nR3 M V24 {ohms}\nD3 T1 V24 DD\n.model DD D(BV=100)")


def test_a_resistor_in_series_with_an_inductor_is_the_resistance_of_its_winding() -> None:
    part = mosfet(current_max='"0.4 A"', bidirectional="true", on_resistance='"1 ohm"')
    held = of(judged(coil("160"), dc(), part), "output-current-exceeded")
    assert (held.kind, margin(held)) == ("pass", 2.2)
    burnt = of(judged(coil("60"), dc(), part), "output-current-exceeded")
    assert (burnt.kind, margin(burnt)) == ("fail", 0.83)


def test_a_shunt_in_series_with_a_coil_is_not_taken_for_its_winding() -> None:
    part = mosfet(current_max='"0.4 A"', bidirectional="true", on_resistance='"1 ohm"')
    asked = of(judged(coil("0.1"), dc(), part), "output-current-exceeded")
    assert (asked.kind, [fact.key for fact in asked.missing]) == ("open", ['loads."T1".current'])


@pytest.mark.parametrize(("diode", "kind"), [("T1 V24", "pass"), ("V24 T1", "fail"), ("M V24", "fail")])
def test_a_diode_across_a_coil_behind_the_resistance_of_its_winding_must_lie_the_right_way(
    diode: str, kind: str
) -> None:
    part = mosfet(current_max='"0.4 A"', bidirectional="true", on_resistance='"1 ohm"')
    found = [
        result
        for result in judged(coil("160").replace("D3 T1 V24", f"D3 {diode}"), dc(), part).results
        if result.rule == "coil-clamp-missing"
    ]
    assert [result.kind for result in found] == [kind]


def test_a_varistor_across_the_load_or_the_switch_carries_no_load_current() -> None:
    clamps = '[elements."XRV1"]\nclamp_voltage = "710 V"\nordinary = true\n'
    stated = supply(more='surge = "1 kV"\n') + clamps
    part, gate = coupler(surge_current='"1 A"', blocking_voltage='"800 V"'), triac(blocking_voltage='"800 V"')
    plain = judged(heater(), stated, part, gate)
    assert of(plain, "surge-unclamped").kind == "fail"
    for nets, kind in (("M2 N", "fail"), ("M2 L", "pass")):
        report = judged(heater() + f"XRV1 {nets} DEMO_MOV\n", stated, part, gate)
        assert of(report, "surge-unclamped").kind == kind
        for rule in ("off-current-high", "load-current-low"):
            assert of(report, rule).kind == of(plain, rule).kind, (nets, rule)


@pytest.mark.parametrize(
    ("coldest", "stated", "kind", "found"),
    [
        ("25", "latching_current", "pass", 1.1),
        ("0", "latching_current", "open", 0.8),
        ("25", "holding_current", "open", 0.55),
        ("0", "", "open", 0.64),
    ],
)
def test_a_thyristor_latches_at_more_current_in_the_cold(coldest: str, stated: str, kind: str, found: float) -> None:
    load = '[loads."M2"]\ncurrent = ["62 mA", "0.1 A"]\nkind = "resistive"\nreturn = "N"\n'
    drive = DRIVE.removeprefix("top = true\n").replace('ambient = ["0 degC"', f'ambient = ["{coldest} degC"')
    records = coupler() + triac(**({stated: '"80 mA"'} if stated else {}))
    report = judge(heater(load=""), drive + supply() + load, p__toml=records)
    result = of(report, "load-current-low")
    assert (result.kind, margin(result)) == (kind, found)


def test_the_off_current_of_a_whole_relay_counts_at_the_temperature_at_which_it_is_stated() -> None:
    load = '[loads."T1"]\ncurrent = ["60 mA", "0.1 A"]\nkind = "resistive"\nreturn = "L"\noff_current_max = "2 mA"\n'
    whole = {"current_max": '"1 A"', "internal_snubber": "true"}
    at_25 = of(judged(direct(""), supply() + load, relay(leakage='"1 mA"', **whole)), "off-current-high")
    assert (at_25.kind, margin(at_25)) == ("open", 0.71)
    assert [fact.key for fact in at_25.missing] == ["parts.DEMO_X.trigger.leakage"]
    hot = '[parts.DEMO_X.trigger]\nleakage = { max = "1 mA", at = "85 degC" }\n'
    at_85 = of(judged(direct(""), supply() + load, relay(**whole) + hot), "off-current-high")
    assert (at_85.kind, margin(at_85)) == ("pass", 2.0)

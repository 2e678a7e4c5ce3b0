"""Switching outputs in series on one load, side by side on it, and two that fire one triac."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.rules.test_mains_switching import DRIVE, coupler, dc, mosfet, supply, triac
from tests.support import judge

TWO = DRIVE.removeprefix("top = true\n").replace('[outputs."DRV"]', '[outputs."DRV*"]')
APART, ALIKE = "R1 DRV A 300\nR11 DRV2 A2 300\n", "R1 DRV A 300\nR11 DRV A2 300\n"
SERIES = "R3 V24 T1 24\nXU1 A GND T1 M DEMO_X\nXU2 A2 GND M N DEMO_X\n"
PARALLEL = "R3 V24 T1 24\nXU1 A GND T1 N DEMO_X\nXU2 A2 GND T1 N DEMO_X\n"
TRIACS = {"blocking_voltage": '"600 V"', "current_rms": '"100 mA"', "holding_current": '"1 mA"'}


def judged(cards: str, settings: str, *records: str) -> NetlistReport:
    return judge(f"* board\n{cards}.end\n", TWO + settings, p__toml="".join(records))


def switch(volts: str = "60 V", amps: str = "1.5 A") -> str:
    return mosfet(voltage_max=f'"{volts}"', current_max=f'"{amps}"')


def failures(report: NetlistReport) -> list[tuple[str, str]]:
    return sorted((one.rule, one.subject) for one in report.results if one.kind == "fail")


def each(rule: str) -> list[tuple[str, str]]:
    return [(rule, "XU1"), (rule, "XU2")]


def of(report: NetlistReport, rule: str, subject: str = "XU1") -> Result:
    return next(one for one in report.results if (one.rule, one.subject, one.role) == (rule, subject, ""))


@pytest.mark.parametrize(
    ("volts", "amps", "expected"),
    [("60 V", "1.5 A", []), ("25 V", "1.5 A", each("output-voltage-exceeded")),
     ("60 V", "1 A", each("output-current-exceeded"))],
)  # fmt: skip
def test_each_of_two_in_series_stands_the_whole_voltage_and_carries_the_whole_current(
    volts: str, amps: str, expected: list[tuple[str, str]]
) -> None:
    """Derived: 24 V 20 % up is 28.8 V, over 24 ohm less 1 % 1.21 A."""
    report = judged(APART + SERIES, dc(), switch(volts, amps))
    assert failures(report) == expected
    assert of(report, "load-missing").kind == of(report, "load-missing", "XU2").kind == "pass"


def test_two_channels_of_one_package_in_series_are_no_dead_outputs() -> None:
    pins = '"anode1", "cathode1", "anode2", "cathode2", "load1", "load2", "load3", "load4"'
    groups = '[["anode1", "cathode1"], ["anode2", "cathode2"], ["load1", "load2"], ["load3", "load4"]]'
    known = mosfet(pins, voltage_max='"60 V"', current_max='"1.5 A"').replace("\npins", f"\ngroups = {groups}\npins")
    for number, outputs in ((1, '["load1", "load2"]'), (2, '["load3", "load4"]')):
        known += f'[[parts.DEMO_X.channels]]\ninput = ["anode{number}", "cathode{number}"]\noutput = {outputs}\n'
    report = judged(f"{APART}R3 V24 T1 24\nXU1 A GND A2 GND T1 M M N DEMO_X\n", dc(), known)
    assert failures(report) == []
    assert {one.kind for one in report.results if one.rule == "load-missing"} == {"pass"}


def test_phototriacs_in_series_each_block_the_whole_mains() -> None:
    cards = APART + "R3 L T1 8k\nXU1 A GND T1 M DEMO_X\nXU2 A2 GND M N DEMO_X\n"
    assert failures(judged(cards, supply(), coupler(**TRIACS))) == []
    weak = coupler(**{**TRIACS, "blocking_voltage": '"250 V"'})
    assert failures(judged(cards, supply(), weak)) == each("blocking-voltage-low")


def test_two_couplers_in_series_fire_one_triac() -> None:
    cards = f"{APART}XU1 A GND T1 M DEMO_X\nXU2 A2 GND M G DEMO_X\nR2 T1 M2 {{}}\nXT1 M2 G L DEMO_T\nR3 M2 N 52\n"
    known = triac(blocking_voltage='"800 V"', current_rms='"16 A"', holding_current='"30 mA"')
    sound = judged(cards.format("390"), supply(), coupler(**TRIACS), known)
    assert failures(sound) == []
    assert failures(judged(cards.format("33"), supply(), coupler(**TRIACS), known)) == each("gate-path-resistor-low")


@pytest.mark.parametrize(
    ("drive", "amps", "kind"),
    [(ALIKE, "1 A", "pass"), (ALIKE, "0.9 A", "fail"), (APART, "1 A", "fail"), (APART, "1.5 A", "pass")],
)
def test_two_of_one_type_share_a_current_where_one_signal_closes_both(drive: str, amps: str, kind: str) -> None:
    """Derived: 1.212 A / (1 + 0.3) = 0.932 A of one among two; one that closes alone carries 1.212 A."""
    report = judged(drive + PARALLEL, dc(), switch(amps=amps))
    found = of(report, "output-current-exceeded")
    assert found.kind == kind
    flows = next(item for item in found.evidence if item.limit is not None and item.unit == "A")
    assert flows.max == pytest.approx(28.8 / (24.0 * 0.99) / (1.3 if drive == ALIKE else 1.0), rel=1e-4)


def test_thyristors_and_parts_of_two_types_share_nothing() -> None:
    cards = "R3 L T1 8k\nXU1 A GND T1 N DEMO_X\nXU2 A2 GND T1 N DEMO_X\n"
    weak = coupler(**{**TRIACS, "current_rms": '"28 mA"'})
    assert set(each("output-current-exceeded")) <= set(failures(judged(ALIKE + cards, supply(), weak)))
    other = switch().replace("DEMO_X", "DEMO_Y")
    mixed = PARALLEL.replace("T1 N DEMO_X\n", "T1 N DEMO_Y\n", 1)
    assert ("output-current-exceeded", "XU2") in failures(judged(ALIKE + mixed, dc(), switch(amps="1 A"), other))


def test_a_switch_beside_one_that_is_always_closed_decides_nothing() -> None:
    always = "R1 DRV A 300\nR11 V5 A2 300\n"
    report = judged(always + PARALLEL, dc(), switch())
    assert failures(report) == [("load-missing", "XU1")]
    assert "XU2 is always parallel on" in of(report, "load-missing").message
    assert failures(judged(always + SERIES, dc(), switch())) == []

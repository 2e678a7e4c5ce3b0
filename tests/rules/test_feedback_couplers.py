"""Couplers with a shunt reference: published bounds, networks against scipy, and what is asked for."""

from __future__ import annotations

import random
from math import log

import pytest
from scipy.optimize import brentq

from isolint.results import NetlistReport, Result
from tests.support import complaints, judge, only

RANGE, BIAS = "feedback-range-short", "feedback-bias-missing"
RECORDS = """
[parts.PT]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.PT.led]
technology = "GaAs"
forward_voltage = {{ min = "{forward} V", typ = "{forward} V", max = "{forward} V", at = "{lit:.9g} A" }}
forward_current_max = "200 mA"
reverse_voltage_max = "6 V"
[parts.PT.transfer]
ratio = {{ min = "{ratio:.9g} %", max = "{most:.9g} %", current = "5 mA", voltage = "5 V" }}
versus_current = [["1 uA", 1.0], ["200 mA", 1.0]]
versus_temperature = [["-40 degC", 1.0], ["100 degC", 1.0]]
versus_voltage = [["0.1 V", 1.0], ["5 V", 1.0]]
ageing = {{ remaining = 1.0 }}
[parts.PT.output]
voltage_max = "70 V"
reverse_voltage_max = "6 V"
current_max = "50 mA"
power_max = "150 mW"
saturation_voltage = {{ max = "0.3 V", at = "1 mA", drive = "10 mA" }}
dark_current = {{ max = "1 nA", at = "25 degC" }}
[parts.SR]
type = "shunt-reference"
pins = ["cathode", "anode", "ref"]
[parts.SR.reference]
cathode_voltage_min = "{kept} V"
cathode_current_min = "{bias:.9g} A"
"""
FACTS = """
parts = ["parts.toml"]
[elements."R*"]
tolerance = "0 %"
power = "2 W"
[environment]
ambient = ["25 degC", "25 degC"]
[supplies."VOUT"]
voltage = "{out} V"
tolerance = "0 %"
ground = "GNDB"
[supplies."VDD"]
voltage = "{feed} V"
tolerance = "0 %"
ground = "GND"
[inputs."FB"]
voltage_max = "7 V"
"""
USUAL = {"forward": 1.0, "lit": 1e-3, "ratio": 100.0, "most": 200.0, "kept": 2.5, "bias": 1e-3}


def judged(cards: str, pin: str, out: float = 12.0, feed: float = 5.0, **values: float) -> NetlistReport:
    """A board with XU1 and its reference XU2; pin: what is stated of the controller's pin FB."""
    netlist = f"* feedback\nXU1 A K GND FB PT\nXU2 K GNDB REF SR\n{cards}R8 VOUT REF 38k\nR9 REF GNDB 10k\n"
    facts = FACTS.format(out=out, feed=feed) + pin
    return judge(netlist, facts, parts__toml=RECORDS.format(**{**USUAL, **values}))


def margin(report: NetlistReport, rule: str) -> float:
    """The margin of the one result of a rule."""
    found = only(report, rule).margin
    assert found is not None
    return found.value


@pytest.mark.parametrize(("out", "ohms"), [(12.0, 8.5 / 1.75e-3), (5.0, 1.5 / 1.75e-3)])
def test_the_bound_of_the_resistor_before_the_led_is_a_margin_of_one(out: float, ohms: float) -> None:
    """From memory, no source: 4857 and 857 ohm with 4.8 V, 0.3 V, 20 kohm, 0.3 and 1 mA of bias."""
    cards = f"R1 VOUT A {ohms:.9g}\nR2 A K 1k\nR3 VDD FB 20k\n"
    report = judged(cards, 'control_range = ["0.3 V", "3 V"]', out, 4.8, lit=0.75e-3, ratio=30.0)
    assert margin(report, RANGE) == pytest.approx(1.0, rel=1e-6)
    assert complaints(report) == []


def test_a_controller_that_takes_2_5_milliamperes_bounds_the_resistor() -> None:
    """Formula: key feedback-led-bound. The 1.7 kohm for 12 V and a ratio of 0.5 are derived from it."""
    pin = 'control_range = ["0.5 V", "3 V"]\nsource_current = ["2.5 mA", "2.5 mA"]'
    report = judged("R1 VOUT A 1.7k\n", pin, ratio=50.0, lit=5e-3, bias=0.1e-3)
    assert margin(report, RANGE) == pytest.approx(1.0, rel=1e-4)


def test_a_led_at_ten_milliamperes_bounds_the_resistor() -> None:
    """Formula: key full-bridge-feedback. The 830 ohm are derived from it."""
    pin = 'control_range = ["0.5 V", "3 V"]\nsource_current = ["10 mA", "10 mA"]'
    report = judged("R1 VOUT A 830\n", pin, forward=1.2, lit=10e-3, bias=0.1e-3)
    assert margin(report, RANGE) == pytest.approx(1.0, rel=1e-4)


@pytest.mark.parametrize(("needs", "kind"), [(0.53e-3, "pass"), (0.65e-3, "fail")])
def test_the_bias_of_a_published_adaptor(needs: float, kind: str) -> None:
    """19 V, 1.69 kohm before and across the LED: key adaptor-19-v; 0.53 to 0.65 mA are derived for 0.9 to 1.1 V."""
    cards = "R1 VOUT A 1.69k\nR2 A K 1.69k\nR3 VDD FB 20k\n"
    report = judged(cards, 'control_range = ["0.5 V", "5 V"]', 19.0, forward=0.9, bias=needs)
    assert only(report, BIAS).kind == kind


def test_without_a_resistor_the_reference_gets_what_the_led_gets() -> None:
    report = judged("R1 VOUT A 1k\nR3 VDD FB 20k\n", 'control_range = ["0.5 V", "3.3 V"]')
    found = only(report, BIAS)
    assert found.kind == "fail"
    assert margin(report, BIAS) * 1e-3 == pytest.approx(1.7 / 20e3 / 2.0, rel=1e-6)


@pytest.mark.parametrize("across", [True, False])
def test_the_least_current_of_the_reference_is_that_of_both_paths(across: bool) -> None:
    """By hand: what the pin takes at 3 V over the highest ratio, and what a resistor beside the LED carries then."""
    other = "R2 A K 820\n" if across else "R2 VOUT K 820\n"
    report = judged(f"R1 VOUT A 1k\n{other}R3 VDD FB 20k\n", 'control_range = ["0.5 V", "3 V"]', bias=1e-3)
    lit = 2.0 / 20e3 / 2.0
    beside = 1.0 / 820.0 if across else (1.0 + 1e3 * lit) / 820.0
    assert margin(report, BIAS) * 1e-3 == pytest.approx(lit + beside, rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_random_networks_agree_with_scipy(seed: int) -> None:
    """Written from the definitions: Kirchhoff at anode and cathode, a diode of the record's law at 25 degC."""
    draw = random.Random(seed)
    out, kept, forward, lit = draw.uniform(9.0, 24.0), draw.choice([1.25, 2.5]), draw.uniform(1.0, 1.3), 5e-3
    before, after, across = draw.uniform(300.0, 3e3), draw.choice([0.0, 47.0, 330.0]), draw.uniform(680.0, 3e3)
    pull, ratio, most = draw.uniform(2e3, 30e3), draw.uniform(50.0, 150.0), draw.uniform(160.0, 400.0)
    low, high = draw.uniform(0.4, 0.8), draw.uniform(2.5, 4.0)
    cards = f"R1 VOUT A {before:.9g}\nR2 A B {across:.9g}\nR3 VDD FB {pull:.9g}\nR4 B K {after:.9g}\n".replace(
        "R4 B K 0\n", "V4 B K 0\n"
    )
    netlist = f"* feedback\nXU1 A B GND FB PT\nXU2 K GNDB REF SR\n{cards}R8 VOUT REF 38k\nR9 REF GNDB 10k\n"
    values = {**USUAL, "kept": kept, "forward": forward, "lit": lit, "ratio": ratio, "most": most}
    facts = FACTS.format(out=out, feed=5.0) + f'control_range = ["{low:.9g} V", "{high:.9g} V"]'
    report = judge(netlist, facts, parts__toml=RECORDS.format(**values))

    def volts(amps: float) -> float:
        # The emission and series resistance that stand for a typical LED: 1.75 and 3 ohm.
        return forward + 1.75 * 8.617333e-5 * 298.15 * log(amps / lit) + 3.0 * (amps - lit)

    def gap(amps: float) -> float:
        total = amps + volts(amps) / across
        return out - kept - total * (before + after) - volts(amps)

    led = brentq(gap, 1e-9, 0.1, xtol=1e-15)
    found = only(report, RANGE)
    assert found.margin is not None
    assert found.margin.value == pytest.approx(led * ratio / 100.0 / ((5.0 - low) / pull), rel=0.01)
    near = (5.0 - high) / pull / (most / 100.0)
    assert margin(report, BIAS) * 1e-3 == pytest.approx(near + forward / across, rel=0.01)


def test_what_is_lacking_is_asked_once_and_never_passes() -> None:
    sound = "R1 VOUT A 1k\nR2 A K 820\nR3 VDD FB 20k\n"
    stated = 'control_range = ["0.5 V", "3 V"]'
    assert complaints(judged(sound, stated)) == []
    report = judged(sound, "")
    assert complaints(report) == [(RANGE, "open", "XU1")]
    assert [fact.key for fact in only(report, RANGE).missing] == ['inputs."FB".control_range']
    assert [answer.state for answer in report.coverage.answers] == ["open"]


@pytest.mark.parametrize(
    ("card", "more", "key"),
    [
        ("XU2 K GNDB REF UNKNOWN3", "", 'elements."XU2".type'),
        ("XU2 K GNDB REF THING\n.subckt THING ka an ref\n.ends", "", 'elements."XU2".type'),
        ("XU2 K GNDB REF THING", '[elements."XU2"]\ntype = "shunt-reference"\n', "parts.THING"),
    ],
    ids=("no name", "telling ports", "declared without pins"),
)
def test_a_part_that_may_be_a_reference_is_asked_about_by_one_fact(card: str, more: str, key: str) -> None:
    netlist = f"* feedback\nXU1 A K GND FB PT\n{card}\nR1 VOUT A 1k\nR2 A K 820\nR3 VDD FB 20k\nR8 VOUT REF 38k\n"
    netlist += "R9 REF GNDB 10k\n"
    facts = f'{FACTS.format(out=12.0, feed=5.0)}control_range = ["0.5 V", "3 V"]\n{more}'
    report = judge(netlist, facts, parts__toml=RECORDS.format(**USUAL))
    opens = [result for result in report.results if result.kind == "open"]
    assert [[fact.key for fact in result.missing] for result in opens] == [[key]]
    assert [result for result in report.results if result.kind == "fail"] == []


def test_a_reference_declared_with_telling_ports_alone_is_judged_by_usual_values() -> None:
    report = _declared("820")
    assert only(report, RANGE).kind == "pass"
    assert only(report, BIAS).kind == "pass"
    found = only(_declared("1.2k"), BIAS)
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ["parts.THING.reference.cathode_current_min"]


def _declared(ohms: str) -> NetlistReport:
    netlist = f"""* feedback
XU1 A K GND FB PT
XU2 K GNDB REF THING
R1 VOUT A 1k
R2 A K {ohms}
R3 VDD FB 20k
R8 VOUT REF 38k
R9 REF GNDB 10k
.subckt THING ka an ref
.ends
"""
    facts = f'{FACTS.format(out=12.0, feed=5.0)}control_range = ["0.5 V", "3 V"]\n'
    more = '[elements."XU2"]\ntype = "shunt-reference"\n'
    return judge(netlist, facts + more, parts__toml=RECORDS.format(**USUAL))


def test_a_reference_with_its_input_at_its_own_cathode_is_a_zener_diode_and_no_feedback() -> None:
    netlist = """* a voltage before the LED
XU1 A K GND FB PT
XU2 K GNDB K SR
R1 VOUT A 1k
R3 VDD FB 20k
"""
    facts = FACTS.format(out=12.0, feed=5.0) + 'supply = "VDD"\nlow_max = "1.5 V"\nhigh_min = "3.5 V"\n'
    report = judge(netlist, facts, parts__toml=RECORDS.format(**USUAL))
    assert not [result for result in report.results if result.rule in (RANGE, BIAS)]
    assert only(report, "transfer-margin-low").kind == "pass"


def test_too_much_voltage_and_current_at_the_cathode_fail() -> None:
    def told(out: float, ohms: str, more: str) -> list[Result]:
        netlist = f"* feedback\nXU1 A K GND FB PT\nXU2 K GNDB REF SR\nR1 VOUT A {ohms}\nR2 A K 820\nR3 VDD FB 20k\n"
        facts = f'{FACTS.format(out=out, feed=5.0)}control_range = ["0.5 V", "3 V"]\n'
        records = RECORDS.format(**USUAL) + more
        found = judge(netlist, facts, parts__toml=records).results
        return [result for result in found if result.rule == BIAS and result.kind == "fail"]

    (over,) = told(24.0, "2.2k", 'cathode_voltage_max = "18 V"\n')
    assert over.margin is not None
    assert over.margin.value == pytest.approx(18.0 / 24.0, rel=1e-3)
    (hot,) = told(12.0, "1k", 'cathode_current_max = "5 mA"\n')
    assert hot.role == "current"
    assert told(12.0, "1k", 'cathode_voltage_max = "18 V"\ncathode_current_max = "20 mA"\n') == []

"""Alternating and pulsed LED drive against closed forms."""

from __future__ import annotations

import math

import pytest

from isolint.checking.demonstration import merged
from isolint.results import Evidence, NetlistReport, Result
from tests.support import FIXTURES, judge, only

FACTS = """
[supplies."L"]
voltage = "120 V"
tolerance = "0.001 %"
kind = "ac"
frequency = "60 Hz"
ground = "N"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."*"]
tolerance = "0.001 %"
power = "5 W"
voltage = "500 V"
[environment]
ambient = ["25 degC", "25 degC"]
life = "10 year"
duty = 0.5
"""
DIODES = ".model DREC D(IS=5n N=1.9 BV=800)\n"
SINGLE = "D1 B A DREC\nXU1 A N GNDB OUT DEMO_PT1\nR2 VB OUT 100k\n"


def check(netlist: str, more: str = "", **files: str) -> NetlistReport:
    """A netlist under the facts above."""
    return judge(f"* test\n{netlist}{DIODES}", merged(FACTS, more), None, **files)


def line(result: Result, symbol: str) -> Evidence:
    """The first evidence line of a result with this symbol."""
    return next(item for item in result.evidence if item.symbol == symbol)


def half_wave_mean(peak_volts: float, drop: float, ohms: float) -> float:
    """Mean over a period of (V sin x - drop) / R where it is positive, closed form."""
    start = math.asin(drop / peak_volts)
    area = 2.0 * peak_volts * math.cos(start) - drop * (math.pi - 2.0 * start)
    return area / (2.0 * math.pi * ohms)


def test_a_published_120_volt_detector_gets_about_two_milliamperes_at_the_peak() -> None:
    """Published inputs and result of key `mains-120-answer`: 170 V peak, 82 kohm, about 2 mA, 90 mW."""
    report = check(f"R1 L B 82k\n{SINGLE}")
    found = only(report, "led-overdriven")
    assert found.kind == "pass"
    assert line(found, "I_peak").max == pytest.approx(2.06e-3, rel=0.03)
    power = next(r for r in report.results if r.rule == "resistor-overloaded")
    assert power.kind == "pass"


def test_the_average_of_a_half_wave_follows_its_closed_form() -> None:
    found = only(check(f"R1 L B 4.7k\n{SINGLE}", '[supplies."L"]\nvoltage = "24 V"\n'), "led-overdriven")
    peak = 24.0 * math.sqrt(2.0)
    # 1.05 V of the LED and 0.65 V of the rectifier on average of the half wave.
    assert line(found, "IF_avg").max == pytest.approx(half_wave_mean(peak, 1.65, 4700.0), rel=0.02)
    assert (line(found, "I_peak").max or 0.0) / math.pi > (line(found, "IF_avg").max or 1.0)


def test_power_of_alternating_drive_is_half_of_the_peak_power_for_half_of_the_time() -> None:
    facts = '[elements."R1"]\npower = "0.1 W"\n'
    found = only(check(f"R1 L B 82k\n{SINGLE}", facts), "resistor-overloaded", "fail")
    # Published inputs and result of key `mains-120-answer`: 90 mW for half waves of 120 V in 82 kohm.
    assert line(found, "P").max == pytest.approx(88e-3, rel=0.03)


DROPPER = "C1 L B {0}\nR1 B A 100\nD1 N A DREC\nXU1 A N GNDB OUT DEMO_PT1\nR2 VB OUT 100k\n"


def test_a_capacitor_dropper_lets_its_reactive_current_through() -> None:
    found = only(check(DROPPER.format("100n")), "led-overdriven")
    rms = 2.0 * math.pi * 60.0 * 100e-9 * 120.0
    assert line(found, "I_C").max == pytest.approx(rms, rel=1e-3)
    # VF and 100 ohm take next to nothing of 170 V.
    assert line(found, "I_peak").max == pytest.approx(rms * math.sqrt(2.0), rel=0.02)
    assert line(found, "IF_avg").max == pytest.approx(rms * math.sqrt(2.0) / math.pi, rel=0.02)


def test_a_resistor_beside_the_reactance_adds_at_a_right_angle() -> None:
    found = only(check(DROPPER.format("100n").replace("B A 100\n", "B A 26.5k\n")), "led-overdriven")
    reactance = 1.0 / (2.0 * math.pi * 60.0 * 100e-9)
    row = next(item for item in found.evidence if item.symbol == "margin" or item.symbol == "I_pulse_max / I_peak")
    amps = float(row.formula.split(" / ")[-1].split(" = ")[0])
    # Without what the junctions take it is a bound.
    assert amps == pytest.approx(1.02 * 120.0 * math.sqrt(2.0) / math.hypot(26.5e3, reactance), rel=0.005)


def test_a_frequency_that_nobody_states_is_asked_for() -> None:
    facts = FACTS.replace('frequency = "60 Hz"\n', "")
    report = judge(f"* test\n{DROPPER.format('100n')}{DIODES}", facts)
    # Mains beside a side without a kind asks for their insulation too, whatever its frequency.
    opens = [r for r in report.results if r.kind == "open" and r.rule != "insulation-grade-low"]
    assert [fact.key for result in opens for fact in result.missing] == ['supplies."L".frequency']


def test_several_alternating_sources_are_not_judged() -> None:
    more = '[supplies."M"]\nvoltage = "24 V"\nkind = "ac"\nfrequency = "60 Hz"\nground = "N"\n'
    report = check(f"R1 L B 82k\nR5 M B 82k\n{SINGLE}", more)
    assert only(report, "led-overdriven").kind == "open"


def test_a_capacitor_behind_a_rectifier_holds_the_led_current_up() -> None:
    smoothed = "R1 L B 1.8k\nD1 B C DREC\nC2 C N 10u\nR3 C A 100\nXU1 A N GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    found = only(check(smoothed), "led-overdriven")
    # A transient of the same network gives 83 mA at the most and next to nothing before the next crest.
    assert found.kind == "fail"
    assert line(found, "IF").max == pytest.approx(83e-3, rel=0.02)


PULSED = """
[parts.DEMO_PULSE]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_PULSE.led]
technology = "GaAs"
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
{0}reverse_voltage_max = "6 V"
"""
TRAIN = "V1 IN N PULSE(0 5 0 1u 1u 98u 1m)\nR1 IN A 43\nXU1 A N GNDB OUT DEMO_PULSE\nR2 VB OUT 10k\n"


@pytest.mark.parametrize(
    ("stated", "kind"),
    [('pulse_current_max = "200 mA"\n', "pass"), ('pulse_current_max = "60 mA"\n', "fail"), ("", "open")],
)
def test_pulses_count_with_their_average_and_a_peak_that_the_record_must_allow(stated: str, kind: str) -> None:
    report = judge(f"* test\n{TRAIN}", f'parts = ["p.toml"]\n{FACTS}', p__toml=PULSED.replace("{0}", stated))
    found = only(report, "led-overdriven")
    assert found.kind == kind
    peak = line(found, "I_peak").max or 0.0
    # 98 us and both edges of 1 us in 1 ms.
    assert line(found, "IF_avg").max == pytest.approx(0.1 * peak, rel=1e-6)
    assert [fact.key for fact in found.missing] == ([] if stated else ["parts.DEMO_PULSE.led.pulse_current_max"])


PORT = """
[supplies."VA"]
voltage = "5 V"
tolerance = "0.001 %"
ground = "N"
[outputs."IN"]
supply = "VA"
high = { min = "4.9 V", at = "200 mA" }
low = { max = "0.2 V", at = "200 mA" }
source_max = "200 mA"
sink_max = "200 mA"
"""
LIMITED = 'pulse_current_max = "200 mA"\n'
DUTY = 'signals."IN".duty'
PULSES = "parts.DEMO_PULSE.led.pulse_current_max"


@pytest.mark.parametrize(
    ("signal", "limit", "cards", "kind", "missing"),
    [
        # 94 mA through 43 ohm at most, 50 mA are allowed as direct current.
        ('rate = "1 kHz"\nduty = 0.1', LIMITED, "R1 IN A 43\n", "pass", set()),
        ('rate = "1 kHz"\nduty = ["0.05", "0.6"]', LIMITED, "R1 IN A 43\n", "fail", set()),
        ('rate = "1 kHz"\nduty = 0.1', "", "R1 IN A 43\n", "open", {PULSES}),
        ('rate = "1 kHz"', LIMITED, "R1 IN A 43\n", "open", {DUTY}),
        ('rate = "1 kHz"', "", "R1 IN A 43\n", "open", {DUTY, PULSES}),
        ('rate = "1 kHz"', "", "R1 IN A 330\n", "pass", set()),
        # What comes and goes slowly, or stays at a level for as long as it likes, is direct current.
        ('rate = "20 Hz"\nduty = 0.1', LIMITED, "R1 IN A 43\n", "fail", set()),
        ('rate = "9600 baud"', LIMITED, "R1 IN A 43\n", "fail", set()),
        # A capacitor behind a diode holds the current up between pulses.
        ('rate = "1 kHz"\nduty = 0.1', LIMITED, "D1 IN B DREC\nC1 B N 100u\nR1 B A 30\n", "open", set()),
    ],
)
def test_the_average_of_two_levels_is_held_against_the_limit_for_direct_current(
    signal: str, limit: str, cards: str, kind: str, missing: set[str]
) -> None:
    board = f"* test\n{cards}XU1 A N GNDB OUT DEMO_PULSE\nR2 VB OUT 10k\n{DIODES}"
    facts = f'parts = ["p.toml"]\n{FACTS}{PORT}[signals."IN"]\n{signal}\n'
    found = only(judge(board, facts, p__toml=PULSED.replace("{0}", limit)), "led-overdriven")
    assert (found.kind, {fact.key for fact in found.missing}) == (kind, missing)


def test_a_current_that_stays_between_pulses_counts_in_their_average() -> None:
    """What R1 and R3 give together for a tenth of the time, and R3 alone for the rest."""
    board = "* test\nR1 IN A 43\nR3 VA A 100\nXU1 A N GNDB OUT DEMO_PULSE\nR2 VB OUT 10k\n"
    facts = f'parts = ["p.toml"]\n{FACTS}{PORT}[signals."IN"]\nrate = "1 kHz"\nduty = 0.1\n'
    facts = facts.replace('supply = "VA"\nhigh', 'supply = "VA"\ndrive = "high-side"\nhigh')
    found = only(judge(board, facts, p__toml=PULSED.replace("{0}", LIMITED)), "led-overdriven")
    peak, mean = line(found, "I_peak").max or 0.0, line(found, "IF_avg").max
    still = (5.0 - 1.1) / 100.0
    assert mean == pytest.approx(0.1 * peak + 0.9 * still, rel=0.03)


def test_the_other_half_wave_of_a_supply_is_no_off_state() -> None:
    assert only(check(f"R1 L B 82k\n{SINGLE}"), "led-not-off").kind == "notApplicable"


def test_a_switch_in_an_alternating_loop_has_one() -> None:
    report = check(f"R1 L S 82k\nS1 S B K N SW\n{SINGLE}.model SW SW(RON=1 ROFF=1G)\n")
    found = only(report, "led-not-off")
    assert found.kind == "pass"
    assert "S1 off" in found.message


def test_a_resistor_across_a_dropping_capacitor_takes_nothing_past_it() -> None:
    plain = only(check(DROPPER.format("330n")), "led-overdriven")
    bled = only(check(DROPPER.format("330n") + "R9 L B 1meg\n"), "led-overdriven")
    assert line(bled, "IF_avg").max == pytest.approx(line(plain, "IF_avg").max, rel=0.02)


def test_a_resistor_beside_a_reactance_of_its_size_takes_twice_what_straight_addition_gives() -> None:
    facts = '[elements."R1"]\npower = "0.1 W"\n'
    found = only(
        check(DROPPER.format("100n").replace("B A 100\n", "B A 26.5k\n"), facts), "resistor-overloaded", "fail"
    )
    reactance = 1.0 / (2.0 * math.pi * 60.0 * 100e-9)
    amps = 120.0 / math.hypot(26.5e3, reactance)
    # One half wave flows through the LED, the other one back through the diode.
    # Both half waves count with the bound of their peak, 2 % above what the impedance lets through.
    assert line(found, "P").max == pytest.approx(1.02**2 * amps**2 * 26.5e3, rel=0.005)


def test_a_capacitor_across_the_drive_drops_nothing() -> None:
    cards = "R1 L P 33k\n{0}R3 P B 33k\nD1 N B DREC\nXU1 B N GNDB OUT DEMO_PT1\nR2 VB OUT 100k\n"
    shunted = only(check(cards.format("C1 P N 1n\n")), "led-overdriven")
    plain = only(check(cards.format("")), "led-overdriven")
    assert line(shunted, "IF_avg").max == pytest.approx(line(plain, "IF_avg").max, rel=1e-6)


def test_an_empty_dropping_capacitor_lets_the_crest_through_the_resistance_alone() -> None:
    found = only(check(DROPPER.format("330n").replace("B A 100\n", "B A 470\n")), "led-overdriven")
    # 169.7 V over 470 ohm and two junctions; without a stated pulse limit it is a question.
    assert line(found, "I_inrush").max == pytest.approx((120.0 * math.sqrt(2.0) - 2.0) / 470.0, rel=0.02)
    assert found.kind == "open"
    assert {fact.key for fact in found.missing} == {
        "parts.DEMO_PT1.led.pulse_current_max",
        "parts.DEMO_PT1.led.pulse_time",
    }


SWITCHED = """* test
R1 V5 A 470
XU1 A K GNDB OUT DEMO_PT1
S1 K GND GND CTL CLOSER
.model CLOSER SW(RON=1 ROFF=1e9 VT=-2)
V1 CTL GND PULSE(0 5 0 1u 1u 898u 1m)
R2 VB OUT 4.7k
C1 OUT GNDB 10u
"""


@pytest.mark.parametrize(("duty", "kind"), [(None, "open"), ('["0.8", "0.9"]', "pass"), ('["0.09", "0.11"]', "fail")])
def test_what_is_stated_of_a_switch_counts_in_place_of_the_stimulus_that_closes_it(duty: str | None, kind: str) -> None:
    stated = "" if duty is None else f'[signals."S1"]\nrate = "1 kHz"\nduty = {duty}\n'
    facts = (FIXTURES / "rules/isolint.toml").read_text(encoding="utf-8").replace("top = true", "")
    facts = facts.replace('parts = ["parts/*.toml"]', "")
    report = judge(SWITCHED, f"{facts}\n{stated}")
    found = only(report, "transfer-margin-low")
    assert found.kind == kind
    # What is asked for stops being asked for once it stands there.
    assert any(fact.key == 'signals."S1".rate' for fact in found.missing) == (duty is None)


@pytest.mark.parametrize("table", ["supplies", "lines"])
def test_a_frequency_alone_says_that_it_alternates(table: str) -> None:
    board = f"* test\nR1 L A 4.7k\n{SINGLE.partition(chr(10))[2]}"
    stated = FACTS.partition('\n[supplies."VB"]')
    volts = {"supplies": 'voltage = "24 V"', "lines": 'on = ["21 V", "27 V"]\noff = ["0 V", "0.5 V"]'}[table]
    row = f'[{table}."L"]\n{volts}\nfrequency = "50 Hz"\n'
    facts = f'{row}[sides.a]\nnets = ["N"]\n{"".join(stated[1:])}'
    assert only(judge(board, facts), "led-reverse-exceeded").kind == "fail"
    direct = judge(board, facts.replace('frequency = "50 Hz"', 'frequency = "50 Hz"\nkind = "dc"'))
    assert only(direct, "led-reverse-exceeded").kind == "pass"

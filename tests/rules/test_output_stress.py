"""What an output stands: voltages, currents and power against numbers worked out by hand."""

from __future__ import annotations

import math
import re

import pytest

from isolint.results import Evidence, NetlistReport, Result
from tests.support import judge, only

FACTS = """
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "12 V"
low_current = "1 uA"
high_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
power = "1 W"
voltage = "250 V"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
"""
LED = "* demonstration\nR1 DRIVE A 470\n"

RELAY = """
[parts.DEMO_KX]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_KX.coil]
resistance = "4.8 kohm"
pull_in = "16.8 V"
{more}
"""

PART = """
[parts.DEMO_PX]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_PX.led]
technology = "GaAs"
forward_voltage = {{ min = "1.0 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }}
forward_current_max = "50 mA"
[parts.DEMO_PX.transfer]
ratio = {{ min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }}
versus_current = [["0.5 mA", 0.40], ["5 mA", 1.00], ["20 mA", 1.00]]
versus_temperature = [["-25 degC", 1.0], ["85 degC", 1.0]]
ageing = {{ remaining = "100 %" }}
[parts.DEMO_PX.output]
saturation_voltage = {{ max = "0.3 V", at = "2.4 mA", drive = "8 mA" }}
dark_current = {{ max = "100 nA", at = "25 degC" }}
{more}
"""


def check(netlist: str, facts: str = "", **files: str) -> NetlistReport:
    head = 'parts = ["parts.toml"]\n' if files else ""
    return judge(netlist, f"{head}{FACTS}{facts}", None, **files)


def number(result: Result, symbol: str) -> Evidence:
    return next(item for item in result.evidence if item.symbol == symbol)


# -- output-voltage-exceeded ----------------------------------------------------------------------------------


def test_an_output_that_is_off_sees_the_highest_supply() -> None:
    found = only(check(f"{LED}XU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 47k\n"), "output-voltage-exceeded", "pass")
    assert number(found, "VCE_off").max == pytest.approx(26.4, rel=1e-5)
    assert found.margin is not None
    assert found.margin.value == pytest.approx(70.0 / 26.4, rel=1e-5)


@pytest.mark.parametrize(("volts", "kind"), [("30 V", "pass"), ("40 V", "open"), ("90 V", "fail")])
def test_without_a_record_an_output_stands_thirty_to_eighty_volts(volts: str, kind: str) -> None:
    facts = FACTS.replace('"24 V"', f'"{volts}"').replace('tolerance = "10 %"', 'tolerance = "0 %"')
    facts = facts.replace('low_current = "1 uA"', 'low_current = "1 uA"\nvoltage_max = "200 V"')
    report = judge(
        f"{LED}XU1 A GND GNDB OUT DEMO_PX\nR2 VB OUT 47k\n",
        f'parts = ["parts.toml"]\n{facts}',
        parts__toml=PART.format(more=""),
    )
    found = only(report, "output-voltage-exceeded", kind)
    if kind == "open":
        assert [fact.key for fact in found.missing] == ["parts.DEMO_PX.output.voltage_max"]
        assert [item.flips_at for item in found.assumptions if item.flips_at] == pytest.approx([40.0], rel=1e-3)


def test_a_coil_with_a_zener_lifts_the_output_by_its_breakdown_voltage() -> None:
    netlist = (
        f"{LED}XU1 A GND GNDB SW NB DEMO_PD1\nXK1 VB SW C1 C2 DEMO_KX\nD1 MID VB DS\nD2 MID SX DZ\nR9 SW SX 10\n"
        ".model DS D(IS=10n N=1.9 BV=200)\n.model DZ D(IS=1n BV=15 IBV=1m)\n"
    )
    found = only(check(netlist, parts__toml=RELAY.format(more="")), "output-voltage-exceeded")
    # Supply 26.4 V, Zener 15 V + 5 % at 1 mA and a little more at 5 mA, 10 ohm.
    # One diode at 5 mA (IS 10 nA, N 1.9): 0.65 V.
    amps = 26.4 / (4800.0 * (1.0 + 0.00393 * (0.0 - 25.0)))
    vt = 8.617333e-5 * 273.15
    expected = 26.4 + 15.0 * 1.05 + vt * math.log(amps / 1e-3) + 10.1 * amps
    assert number(found, "VCE_kick").max == pytest.approx(expected + 0.7, abs=0.1)
    assert found.kind == "fail"
    assert "XK1" in found.message


def test_an_rc_network_lets_the_voltage_rise_by_current_times_surge_impedance() -> None:
    netlist = f"{LED}XU1 A GND GNDB SW NB DEMO_PD1\nXK1 VB SW C1 C2 DEMO_KX\nR9 SW M 100\nC9 M VB 1u\n"
    found = only(check(netlist, parts__toml=RELAY.format(more='inductance = "1 H"')), "output-voltage-exceeded")
    amps = 26.4 / (4800.0 * (1.0 - 0.00393 * 25.0))
    assert number(found, "VCE_kick").max == pytest.approx(26.4 + amps * 100.0 + amps * math.sqrt(1.0 / 1e-6), rel=1e-3)


def test_an_rc_network_on_a_coil_of_unknown_inductance_is_open() -> None:
    netlist = f"{LED}XU1 A GND GNDB SW NB DEMO_PD1\nXK1 VB SW C1 C2 DEMO_KX\nR9 SW M 100\nC9 M VB 1u\n"
    found = only(check(netlist, parts__toml=RELAY.format(more="")), "output-voltage-exceeded")
    assert (found.kind, [fact.key for fact in found.missing]) == ("open", ["parts.DEMO_KX.coil.inductance"])


def test_an_output_that_switches_an_unclamped_coil_is_left_to_the_clamp_rule() -> None:
    report = check(f"{LED}XU1 A GND GNDB SW NB DEMO_PD1\nXK1 VB SW C1 C2 DEMO_KX\n", parts__toml=RELAY.format(more=""))
    found = only(report, "output-voltage-exceeded")
    assert (found.kind, found.blocked_by) == ("notApplicable", "coil-clamp-missing")
    assert [result.rule for result in report.results if result.kind == "fail"] == ["coil-clamp-missing"]


# -- output-reversed ------------------------------------------------------------------------------------------


def test_an_exchanged_output_gives_one_failure() -> None:
    report = check(f"{LED}XU1 A GND OUT GNDB DEMO_PT1\nR2 VB OUT 47k\n")
    assert [(r.rule, r.role) for r in report.results if r.kind in ("fail", "open")] == [
        ("output-reversed", "exchanged")
    ]
    assert "exchanged" in only(report, "output-reversed").message


def test_an_output_on_an_alternating_supply_sees_its_peak_backwards() -> None:
    facts = (
        '[supplies."VAC"]\nvoltage = "24 V"\ntolerance = "10 %"\nkind = "ac"\nfrequency = "50 Hz"\nground = "GNDB"\n'
    )
    facts += '[signals."LIN"]\nuse = "linear"\n'
    found = only(check(f"{LED}XU1 A GND GNDB LIN DEMO_PT1\nR2 VAC LIN 10k\n", facts), "output-reversed")
    peak = math.sqrt(2.0) * 24.0 * 1.1
    assert found.kind == "fail"
    assert found.margin is not None
    assert found.margin.value == pytest.approx(6.0 / peak, rel=1e-4)


def test_a_moving_source_counts_with_its_lowest_value() -> None:
    netlist = f"{LED}XU1 A GND GNDB LIN DEMO_PT1\nR2 WAVE LIN 10k\nV9 WAVE GNDB SIN(0 4 50)\n"
    found = only(check(netlist, '[signals."LIN"]\nuse = "linear"\n'), "output-reversed", "pass")
    assert number(found, "VCE_off").min == pytest.approx(-4.2, rel=1e-4)


# -- output-current-exceeded ----------------------------------------------------------------------------------


def test_the_load_alone_decides_while_it_asks_for_less_than_the_rating() -> None:
    found = only(
        check(f"{LED}XU1 A GND GNDB LIN DEMO_PT1\nR2 VB LIN 1k\n", '[signals."LIN"]\nuse = "linear"\n'),
        "output-current-exceeded",
    )
    assert found.kind == "pass"
    assert number(found, "IC").max == pytest.approx(26.4 / 990.0, rel=1e-4)


def test_a_load_above_the_rating_counts_no_more_than_the_best_part_gives() -> None:
    more = 'current_max = "10 mA"'
    report = check(
        f"{LED}XU1 A GND GNDB LIN DEMO_PX\nR2 VB LIN 100\n",
        '[signals."LIN"]\nuse = "linear"\n',
        parts__toml=PART.format(more=more),
    )
    found = only(report, "output-current-exceeded")
    led = number(found, "IF_max").max
    assert led is not None
    # (5.25 V - VF) / (470 ohm - 1 %) with VF about 1.0 V less 1.5 mV/K over 35 K; the curve is 1.0 from 5 to 20 mA.
    assert led == pytest.approx((5.25 - 0.95) / 465.3, rel=0.01)
    assert number(found, "IC").max == pytest.approx(1.6 * led, rel=1e-6)
    assert found.kind == "fail"


def test_too_much_output_current_is_cured_by_the_resistor_that_it_flows_through() -> None:
    stage = f"{LED}XU1 A GND GNDB LIN DEMO_PX\nR2 VB LIN {{}}\n"
    more = {"facts": '[signals."LIN"]\nuse = "linear"\n', "parts__toml": PART.format(more='current_max = "10 mA"')}
    found = only(check(stage.format("100"), **more), "output-current-exceeded")
    # 26.4 V and 10 mA, the resistor - 1 %.
    ohms = re.match(r"R2 \(.*\): ([\d.]+) kohm or more", found.remedy)
    assert ohms is not None, found.remedy
    assert 2.666 <= float(ohms[1]) < 3.0
    assert only(check(stage.format(f"{ohms[1]}k"), **more), "output-current-exceeded").kind == "pass"


def test_a_transfer_margin_that_fails_hides_what_the_load_would_draw() -> None:
    found = only(check(f"{LED}XU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 100\n"), "output-current-exceeded")
    assert (found.kind, found.blocked_by) == ("notApplicable", "transfer-margin-low")


# -- coupler-overheated ---------------------------------------------------------------------------------------


def test_a_linear_stage_is_hottest_at_half_supply() -> None:
    more = 'power_max = "150 mW"\nderating = { from = "25 degC", slope = "2 mW/K" }\nvoltage_max = "70 V"'
    report = check(
        f"{LED}XU1 A GND GNDB LIN DEMO_PX\nR2 VB LIN 4.7k\n",
        '[signals."LIN"]\nuse = "linear"\n',
        parts__toml=PART.format(more=more),
    )
    found = only(report, "coupler-overheated")
    watts = 26.4**2 / (4.0 * 4700.0 * 0.99)
    most = number(found, "P_out").max
    assert most is not None
    assert watts <= most <= 1.0101 * watts
    assert found.margin is not None
    assert found.margin.value == pytest.approx((0.150 - 0.002 * 35.0) / most, rel=1e-4)
    assert found.kind == "pass"


def test_a_switch_that_cannot_close_stands_on_its_load_line() -> None:
    from isolint.worstcase.heat import switched

    # 26.4 V over 1 kohm would give 26.4 mA; a part that gives 10 mA leaves 16.4 V across itself.
    power = switched(0.3, 26.4e-3, 10e-3, lambda amps: 26.4 - 1e3 * amps)
    assert power.watts == pytest.approx(16.4 * 10e-3)
    assert switched(0.3, 26.4e-3, 50e-3, lambda amps: 26.4 - 1e3 * amps).watts == pytest.approx(0.3 * 26.4e-3)


def test_a_linear_output_is_bounded_within_one_percent_on_a_straight_load_line() -> None:
    from isolint.worstcase.heat import linear

    # 24 V over 1 kohm: 144 mW at half of it.
    assert 0.144 <= linear(None, 24.0, lambda volts: (24.0 - volts) / 1e3).watts <= 0.144 * 1.0101


def test_a_load_that_bends_is_taken_as_it_is() -> None:
    from isolint.worstcase.heat import linear

    # Below 8 V the load gives nothing more than 2 mA: a straight line from end to end would say 12 V and 4 mA.
    def bent(volts: float) -> float:
        return min(2e-3, max(24.0 - volts, 0.0) / 3e3)

    assert 0.036 <= linear(None, 24.0, bent).watts <= 0.036 * 1.0101
    assert linear(1e-3, 24.0, bent).watts == pytest.approx(0.021, rel=0.011)


def test_pulses_heat_a_resistor_by_their_share_of_time() -> None:
    """5 V pulses into 330 ohm and an LED for a tenth of the time: a tenth of the power."""
    power = []
    for width in ("98u", "998u"):
        pulses = f"* t\nV1 PULSED GND PULSE(0 5 0 1u 1u {width} 1m)\nR1 PULSED A 330\n"
        report = check(
            f"{pulses}XU1 A GND GNDB OUT DEMO_PX\nR2 VB OUT 22k\n",
            '[elements."R1"]\npower = "0.1 W"\n',
            parts__toml=PART.format(more='power_max = "150 mW"'),
        )
        found = next(r for r in report.results if r.rule == "resistor-overloaded" and "R1 takes" in r.message)
        power.append(number(found, "P").max or 0.0)
    assert power[0] == pytest.approx(0.1 * power[1], rel=0.01)


def test_thermal_resistances_limit_the_power_of_each_die() -> None:
    more = '[parts.DEMO_PX.thermal]\noutput_to_ambient = "500 K/W"\njunction_max = "100 degC"\npower_max = "200 mW"\n'
    more += 'derating = { from = "25 degC", slope = "2 mW/K" }'
    report = check(
        f"{LED}XU1 A GND GNDB LIN DEMO_PX\nR2 VB LIN 1k\n",
        '[signals."LIN"]\nuse = "linear"\n',
        parts__toml=PART.format(more=more),
    )
    found = only(report, "coupler-overheated")
    allowed = {item.name: item.limit.value for item in found.evidence if item.limit is not None}
    assert allowed["power of the output by its thermal resistance"] == pytest.approx((100.0 - 60.0) / 500.0)
    assert allowed["power of LED and output"] == pytest.approx(0.200 - 0.002 * 35.0)
    assert found.kind == "fail"


# -- receiver-overvoltage -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("stated", "kind"), [('voltage_max = "26.5 V"', "pass"), ('voltage_max = "26.3 V"', "fail")])
def test_an_input_sees_its_pull_up(stated: str, kind: str) -> None:
    facts = FACTS.replace('low_max = "1.5 V"', f'low_max = "1.5 V"\n{stated}')
    report = judge(f"{LED}XU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 47k\n", facts)
    assert only(report, "receiver-overvoltage").kind == kind


def test_an_input_without_a_stated_limit_stands_its_supply_and_a_little_more() -> None:
    report = check(f"{LED}XU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 47k\n")
    found = only(report, "receiver-overvoltage", "pass")
    assert number(found, "V_in").limit is not None
    assert found.margin is not None
    assert found.margin.value == pytest.approx(26.7 / 26.4, rel=1e-4)
    assert any("+ 0.3 V" in item.origin for item in found.assumptions)

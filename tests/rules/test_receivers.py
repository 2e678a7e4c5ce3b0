"""What reads an output and how much current it asks for, and what a base resistor takes, against numbers worked out by
hand."""

from __future__ import annotations

import math

import pytest

from isolint.preparing import prepare
from isolint.results import Evidence, NetlistReport, Result
from isolint.source import MemoryTree
from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
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
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[elements."R*"]
tolerance = "1 %"
power = "10 W"
voltage = "250 V"
[elements."Q*"]
gain_min = 100
[environment]
ambient = ["25 degC", "25 degC"]
life = "10 year"
duty = 0.5
"""
INPUT = """
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "0 uA"
high_current = "0 uA"
"""
PARTS = """
[parts.DEMO_NEXT]
type = "logic-output"
pins = ["anode", "cathode", "vcc", "out", "gnd"]
[parts.DEMO_NEXT.led]
technology = "AlGaAs"
forward_voltage = { min = "1.5 V", typ = "1.5 V", max = "1.5 V", at = "5 mA" }
threshold_current = "0.5 mA"
off_current = "50 uA"
[parts.DEMO_BASE]
type = "phototransistor"
pins = ["anode", "cathode", "base", "collector", "emitter"]
[parts.DEMO_BASE.led]
technology = "GaAs"
forward_voltage = { min = "1.2 V", typ = "1.2 V", max = "1.2 V", at = "5 mA" }
forward_current_max = "50 mA"
[parts.DEMO_BASE.transfer]
ratio = { min = "100 %", max = "200 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.1 mA", 1.0], ["5 mA", 1.0], ["20 mA", 1.0]]
versus_temperature = [["-25 degC", 1.0], ["85 degC", 1.0]]
versus_voltage = [["0.4 V", 1.0], ["5 V", 1.0]]
photo_gain = "0.2 %"
ageing = { remaining = "100 %" }
[parts.DEMO_BASE.output]
voltage_max = "70 V"
saturation_voltage = { max = "0.4 V", at = "1 mA", drive = "20 mA" }
dark_current = { max = "10 nA", at = "25 degC" }
"""
LED = "* demonstration\nR1 DRIVE A 470\n"
PULL_DOWN = f"{LED}XU1 A GND GNDB OUT DEMO_PT1\n"
FOLLOWER = f"{LED}XU1 A GND E V24 DEMO_PT1\n"
MODELS = """
.model QN NPN(IS=2e-14 BF=200 BR=4)
.model QP PNP(IS=2e-14 BF=200 BR=4)
.model MN NMOS(VTO=2 KP=1)
.model CMP SW(VT=2.5 VH=0.5)
"""


def check(netlist: str, facts: str = "") -> NetlistReport:
    return judge(f"{netlist}{MODELS}", f"{FACTS}{facts}", parts__toml=PARTS)


def evidence(result: Result, symbol: str) -> Evidence:
    return next(item for item in result.evidence if item.symbol == symbol)


def asked(netlist: str, facts: str = "") -> tuple[float, str]:
    """The largest current that is asked of the output, and for what."""
    item = evidence(only(check(netlist, facts), "transfer-margin-low", "pass"), "IC_required")
    assert item.max is not None
    return item.max, item.name.removeprefix("output current for ")


# -- transistors ----------------------------------------------------------------------------------------------


def test_a_pnp_that_is_pulled_on_asks_for_base_current_and_what_its_resistor_takes() -> None:
    amps, words = asked(f"{PULL_DOWN}R2 OUT B 4.7k\nR3 B VB 10k\nQ1 C B VB QP\nR4 C GNDB 1k\n")
    # IC = 5.25 V / 990 ohm over a gain of 100, and VEB / 9.9 kohm with VEB about 0.56 V at 53 uA base current.
    collector = 5.25 / 990.0
    vbe = 8.617333e-5 * 298.15 * math.log(collector / 100.0 * 200.0 / 1.35e-14)
    assert words == "transistor Q1 on"
    assert amps == pytest.approx(collector / 100.0 + vbe / 9900.0, rel=0.02)


def test_a_darlington_of_two_transistors_counts_as_one() -> None:
    amps, words = asked(f"{FOLLOWER}R2 E B 10k\nR5 B GNDB 100k\nQ1 C B E1 QN\nQ2 C E1 GNDB QN\nR4 V24 C 100\n")
    # 0.26 A over (100 + 1) and 100, and two junctions over 99 kohm.
    collector = (26.4 - 0.8) / 99.0
    assert words == "transistor Q1 on"
    assert amps == pytest.approx(collector / 101.0 / 100.0 + 1.45 / 99e3, rel=0.03)


def test_a_transistor_that_is_turned_off_asks_for_the_current_of_its_base_resistor() -> None:
    amps, words = asked(f"{PULL_DOWN}R2 VB OUT 10k\nQ1 C OUT GNDB QN\nR4 V24 C 10k\n")
    assert words == "transistor Q1 off"
    assert amps == pytest.approx((5.25 - 0.4) / 9900.0, rel=1e-3)


def test_a_gate_asks_for_one_volt_above_its_threshold() -> None:
    amps, words = asked(f"{FOLLOWER}R2 E GNDB 10k\nM1 D E GNDB MN\nR4 V24 D 1k\n")
    assert words == "gate of M1 on"
    assert amps == pytest.approx(3.0 / 9900.0, rel=1e-4)


# -- thresholds, the next LED, logic families --------------------------------------------------------------------


def test_a_switch_with_a_threshold_reads_like_a_comparator() -> None:
    amps, words = asked(f"{PULL_DOWN}R2 VB OUT 10k\nS1 X GNDB OUT GNDB CMP\nR4 VB X 10k\n")
    assert words == "switch S1 off"
    assert amps == pytest.approx((5.25 - 2.0) / 9900.0, rel=1e-4)


def test_the_next_led_asks_for_its_threshold_current() -> None:
    amps, words = asked(
        f"{PULL_DOWN}R2 VB A2 1k\nXU2 A2 OUT VC O2 GNDC DEMO_NEXT\n",
        '[supplies."VC"]\nvoltage = "5 V"\nground = "GNDC"\n',
    )
    assert words == "LED of XU2 on"
    assert amps == pytest.approx(0.5e-3, rel=1e-4)


def test_an_led_that_is_shunted_asks_for_the_current_of_its_resistor() -> None:
    amps, words = asked(
        f"{PULL_DOWN}R2 VB OUT 4.7k\nXU2 OUT GNDB VC O2 GNDC DEMO_NEXT\n",
        '[supplies."VC"]\nvoltage = "5 V"\nground = "GNDC"\n',
    )
    assert words == "LED of XU2 off"
    # At 50 uA the LED keeps about 1.2 V: (5.25 - 1.2) / 4653 less 50 uA.
    assert amps == pytest.approx((5.25 - 1.25) / 4653.0 - 50e-6, rel=0.03)


def test_levels_that_nobody_stated_come_from_the_supply_as_an_assumption() -> None:
    found = only(
        check(
            f"{PULL_DOWN}R2 VB OUT 10k\n",
            '[inputs."OUT"]\nsupply = "VB"\nlow_current = "0 uA"\nhigh_current = "1 uA"\n',
        ),
        "transfer-margin-low",
    )
    required = evidence(found, "IC_required").max
    assert found.kind == "pass"
    assert required == pytest.approx((5.25 - 0.8) / 9900.0, rel=1e-4)
    assert any(item.name == "low level of input OUT" and "JESD8" in item.origin for item in found.assumptions)


def test_a_level_that_decides_and_that_nobody_stated_is_open() -> None:
    report = check(
        f"{LED}XU1 A GND GNDB OUT NB DEMO_PD1\nR2 VB OUT 10k\n", '[inputs."OUT"]\nsupply = "VB"\nlow_current = "1 uA"\n'
    )
    found = only(report, "output-level-invalid")
    assert (found.kind, [fact.key for fact in found.missing]) == ("open", ['inputs."OUT".low_max'])


def test_a_logic_outputs_low_level_against_a_defaulted_input_is_no_failure_by_itself() -> None:
    report = check(
        f"{LED}XU1 A GND VB OUT GNDB DEMO_LO1\nR2 VB OUT 1k\n", '[inputs."OUT"]\nsupply = "VB"\nlow_current = "1 uA"\n'
    )
    found = [
        result for result in report.results if result.rule == "output-level-invalid" and result.role.startswith("level")
    ]
    assert [result.kind for result in found] == ["pass"]


def test_an_input_without_levels_and_supply_is_open_whoever_asks_first() -> None:
    report = check(f"{PULL_DOWN}R2 VB OUT 10k\n", '[inputs."OUT"]\nlow_current = "1 uA"\n')
    keys = {fact.key for result in report.results if result.kind == "open" for fact in result.missing}
    assert 'inputs."OUT".low_max' in keys
    assert {result.kind for result in report.results if result.rule == "transfer-margin-low"} <= {
        "open",
        "notApplicable",
    }


# -- several couplers on one pull-up ------------------------------------------------------------------------------


def test_dark_currents_of_couplers_on_one_pull_up_add() -> None:
    other = "R11 DRIVE2 A2 470\nXU2 A2 GND GNDB OUT DEMO_PT1\n"
    drops = []
    for more in ("", other):
        files = {
            "board.cir": f"{PULL_DOWN}R2 VB OUT 100k\n{more}",
            "isolint.toml": f"top = true\n{FACTS}{INPUT}",
            "parts.toml": PARTS,
        }
        context, _ = prepare(MemoryTree(files), "board.cir", "")
        (level,) = context.analysis.offs().levels(context.channels[0])
        drops.append(4.75 - level.value.value)
    # 100 nA each through 101 kohm.
    assert drops == pytest.approx([0.0101, 0.0202], rel=0.02)


# -- base resistor ------------------------------------------------------------------------------------------------


def base(ohms: str, photo_gain: str = "0.2 %") -> NetlistReport:
    netlist = f"{LED}XU1 A GND NB OUT GNDB DEMO_BASE\nR2 VB OUT 10k\nR3 NB GNDB {ohms}\n"
    return judge(f"{netlist}{MODELS}", f"{FACTS}{INPUT}", parts__toml=PARTS.replace("0.2 %", photo_gain))


def test_a_base_resistor_takes_its_share_of_the_photocurrent() -> None:
    found = only(base("100k"), "base-resistor-low")
    led = (4.4 - 1.2) / 474.7
    assert found.kind == "pass"
    assert evidence(found, "I_RBE").max == pytest.approx(0.6 / 99e3, rel=1e-4)
    assert evidence(found, "I_photo").min == pytest.approx(0.002 * led, rel=0.01)
    factor = evidence(only(base("100k"), "transfer-margin-low"), "D_RBE").min
    assert factor == pytest.approx(1.0 - 0.6 / 99e3 / (0.002 * led), rel=0.01)


@pytest.mark.parametrize(("margin", "kind"), [(0.99, "fail"), (1.01, "pass")])
def test_the_limit_is_where_the_photocurrent_equals_what_the_resistor_takes(margin: float, kind: str) -> None:
    led = evidence(only(base("100k"), "base-resistor-low"), "I_photo").min
    assert led is not None
    assert only(base(f"{margin * 0.6 / led / 0.99:.6g}"), "base-resistor-low").kind == kind


def test_a_base_resistor_that_takes_everything_gives_one_result() -> None:
    report = base("22k")
    assert [(r.rule, r.level) for r in report.results if r.kind in ("fail", "open")] == [
        ("base-resistor-low", "warning")
    ]
    assert only(report, "transfer-margin-low").blocked_by == "base-resistor-low"


def test_a_base_tied_to_the_emitter_is_named() -> None:
    netlist = f"{LED}XU1 A GND GNDB OUT GNDB DEMO_BASE\nR2 VB OUT 10k\n"
    report = judge(f"{netlist}{MODELS}", f"{FACTS}{INPUT}", parts__toml=PARTS)
    assert [r.rule for r in report.results if r.kind in ("fail", "open")] == ["base-resistor-low"]


def test_an_open_base_pin_is_normal() -> None:
    netlist = f"{LED}XU1 A GND NB OUT GNDB DEMO_BASE\nR2 VB OUT 10k\n"
    found = only(judge(f"{netlist}{MODELS}", f"{FACTS}{INPUT}", parts__toml=PARTS), "base-resistor-low")
    assert found.kind == "notApplicable"


# -- thresholds -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pins", "state", "limit"),
    [("OUT GNDB", "off", 2.0), ("REF OUT", "on", 3.0), ("GNDB OUT", "on", 3.0)],
)
def test_a_comparator_turns_on_above_and_off_below_its_threshold_by_half_its_hysteresis(
    pins: str, state: str, limit: float
) -> None:
    """CMP turns at 2.5 V +- 0.5 V. An output that pulls its plus input down turns it off, its minus input on."""
    netlist = f"{PULL_DOWN}R2 OUT VB 10k\nR5 REF VB 1k\nS1 X GNDB {pins} CMP\nR4 X VB 1k\n{MODELS}"
    tree = MemoryTree({"board.cir": netlist, "isolint.toml": f"top = true\n{FACTS}", "parts.toml": PARTS})
    context, _ = prepare(tree, "board.cir", "")
    (channel,) = context.channels
    (seen,) = [item for item in context.analysis.loads().receivers(channel) if item.kind == "threshold"]
    assert (seen.words, seen.level) == (f"switch S1 {state}", limit)

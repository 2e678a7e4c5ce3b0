"""Load networks through the main job: what the output must carry at its receiver's level, numbers redone by hand."""

from __future__ import annotations

import math

import pytest

from isolint.worstcase.devices import thermal_voltage
from isolint.worstcase.uncertain import KINDEST, Lacking
from tests.worstcase.boards import FACTS, PART, board, channel, context, load, report, result, without

DRIVE = "R1 V5 A 470"
SWITCH = ".model QN NPN(IS=1e-14 BF=100 BR=2)\n.model QP PNP(IS=1e-14 BF=100 BR=2)\n.model MN NMOS(VTO=1.5 KP=0.5)\n"
RELAY = """
[parts.DEMO_K]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
source = "invented for the tests"
[parts.DEMO_K.coil]
resistance = "500 ohm"
tolerance = "10 %"
voltage = "5 V"
pull_in = "3.5 V"
drop_out = "0.5 V"
"""


def pull_up(cards: str = "R9 VB OUT 10k\n", **more: str) -> str:
    return board(DRIVE, cards, **more)


def follower(cards: str) -> str:
    return board(DRIVE, cards, coupler="XU1 A GND VB OUT DEMO_A\n")


# -- logic inputs -----------------------------------------------------------------------------------------------


def test_a_pulled_up_input_asks_for_the_pull_up_s_current_at_its_low_level_and_its_own() -> None:
    found = load(pull_up())
    assert found.receiver.words == "input OUT low"
    assert found.required.high.value == pytest.approx((5.25 - 0.8) / 9900 + 10e-6, rel=1e-9)
    assert found.required.low.value == pytest.approx((4.75 - 0.8) / 10100 + 10e-6, rel=1e-9)
    assert found.required.nominal == pytest.approx((5.0 - 0.8) / 10000 + 10e-6, rel=1e-9)
    assert found.voltage.low.value == pytest.approx(0.8)


def test_a_follower_asks_for_the_pull_down_s_current_at_the_high_level_and_what_the_input_takes() -> None:
    found = load(follower("R9 OUT GNDB 1k\n"))
    assert found.receiver.words == "input OUT high"
    assert found.required.high.value == pytest.approx(2.0 / 990 + 10e-6, rel=1e-9)
    # What is left across the output: the smallest supply less the level.
    assert found.voltage.low.value == pytest.approx(4.75 - 2.0, rel=1e-6)


def test_a_resistor_between_output_and_input_is_seen() -> None:
    """The output stands lower than the input by the input's own current through 1 kohm."""
    found = load(pull_up("R9 VB OUT 10k\nR8 OUT C 1k\n", coupler="XU1 A GND C GNDB DEMO_A\n"))
    amps = found.required.high.value
    assert amps == pytest.approx((5.25 - 0.8) / 9900 + 10e-6, rel=1e-6)
    assert found.voltage.low.value == pytest.approx(0.8 - 1010 * amps, rel=1e-4)


def test_the_pull_up_inside_a_receiver_counts_where_it_is_stated() -> None:
    facts = FACTS.replace('high_current = "10 uA"', 'high_current = "10 uA"\npull_up = ["20 kohm", "50 kohm"]')
    found = load(board(DRIVE, ""), facts)
    assert found.required.high.value == pytest.approx((5.25 - 0.8) / 20e3 + 10e-6, rel=1e-9)
    assert result(report(board(DRIVE, ""), facts), "load-missing").kind == "pass"
    assert result(report(board(DRIVE, "")), "load-missing").kind == "fail"


def test_pull_ups_inside_and_outside_add() -> None:
    facts = FACTS.replace('high_current = "10 uA"', 'high_current = "10 uA"\npull_up = ["20 kohm", "50 kohm"]')
    found = load(pull_up(), facts)
    assert found.required.high.value == pytest.approx((5.25 - 0.8) * (1 / 9900 + 1 / 20e3) + 10e-6, rel=1e-9)


def test_an_input_current_that_nobody_stated_lies_between_0_and_10_microamperes() -> None:
    facts = without(FACTS, "low_current")
    worst, kindest = load(pull_up(), facts), load(pull_up(), facts, setting=KINDEST)
    assert worst.required.high.value == pytest.approx((5.25 - 0.8) / 9900 + 10e-6, rel=1e-9)
    assert kindest.required.high.value == pytest.approx((5.25 - 0.8) / 9900, rel=1e-9)
    assert 'inputs."OUT".low_current' in [term.key for term in worst.terms if term.defaulted]


@pytest.mark.parametrize(("key", "netlist"), [("low_max", pull_up()), ("high_min", follower("R9 OUT GNDB 1k\n"))])
def test_an_input_without_the_level_that_counts_is_open(key: str, netlist: str) -> None:
    facts = without(FACTS, key).replace('[inputs."OUT"]\nsupply = "VB"', '[inputs."OUT"]')
    with pytest.raises(Lacking, match="level that input OUT needs is not stated") as reason:
        load(netlist, facts)
    assert [fact.key for fact in reason.value.missing] == [f'inputs."OUT".{key}']


def test_no_receiver_known_is_open() -> None:
    facts = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]')
    with pytest.raises(Lacking, match="nobody says what reads net OUT"):
        load(pull_up(), facts)


def test_a_part_on_the_output_that_nobody_explains_is_open() -> None:
    facts = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]') + '\n[elements."XM1"]\nordinary = true\n'
    with pytest.raises(Lacking, match="goes to XM1"):
        load(pull_up("R9 VB OUT 10k\nXM1 OUT VB GNDB DEMO_MCU\n"), facts)


def test_of_two_inputs_on_one_output_both_currents_count() -> None:
    facts = FACTS + '\n[inputs."OUT2"]\nsupply = "VB"\nlow_max = "0.8 V"\nlow_current = "100 uA"\n'
    found = load(pull_up("R9 VB OUT 10k\nR8 OUT OUT2 0\n"), facts)
    assert found.required.high.value == pytest.approx((5.25 - 0.8) / 9900 + 110e-6, rel=1e-6)


def test_two_couplers_on_one_pull_up_each_carry_it_alone() -> None:
    netlist = board(DRIVE + "\nR2 V5 A2 470", coupler="XU1 A GND OUT GNDB DEMO_A\nXU2 A2 GND OUT GNDB DEMO_A\n")
    for subject in ("XU1", "XU2"):
        assert load(netlist, subject=subject).required.high.value == pytest.approx(4.45 / 9900 + 10e-6, rel=1e-9)


# -- transistors, coils -----------------------------------------------------------------------------------------


def base_volts(amps: float, gain: float = 100.0, temperature: float = 25.0) -> float:
    """VBE of a junction that carries `amps` of base current: IS / BF of 27 degC scaled to the temperature."""
    ratio = (temperature + 273.15) / 300.15
    vt = thermal_voltage(temperature)
    isat = 1e-14 / gain * ratio**3 * math.exp((ratio - 1.0) * 1.11 / vt)
    return vt * math.log1p(amps / isat)


def test_a_transistor_is_on_when_its_base_carries_its_load_at_half_the_gain() -> None:
    """10 mA through 470 ohm from 5 V; BF 100: 50 at worst; the resistor of 10 kohm takes VBE / 10 kohm."""
    netlist = follower("R8 OUT B 1k\nR7 B GNDB 10k\nQ1 C B GNDB QN\nR6 VB C 470\n" + SWITCH)
    found = load(netlist, FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]'))
    assert found.receiver.words == "transistor Q1 on"
    collector = 5.25 / (470 * 0.99)
    needed = collector / 50
    hot_and_cold = [needed + base_volts(needed, temperature=t) / 9900 for t in (0.0, 60.0)]
    assert found.required.high.value == pytest.approx(max(hot_and_cold), rel=2e-3)


def test_a_stated_gain_replaces_half_of_bf() -> None:
    netlist = follower("R8 OUT B 1k\nQ1 C B GNDB QN\nR6 VB C 470\n" + SWITCH)
    facts = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]') + '\n[elements."Q1"]\ngain_min = 80\n'
    assert load(netlist, facts).required.high.value == pytest.approx(5.25 / (470 * 0.99) / 80, rel=2e-3)


def test_a_pnp_that_the_output_pulls_down_is_turned_on() -> None:
    netlist = pull_up("R8 OUT B 1k\nR7 B VB 10k\nQ1 C B VB QP\nR6 C GNDB 470\n" + SWITCH)
    found = load(netlist, FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]'))
    assert found.receiver.words == "transistor Q1 on"
    needed = 5.25 / (470 * 0.99) / 50
    assert found.required.high.value == pytest.approx(needed + base_volts(needed, temperature=0.0) / 9900, rel=3e-3)


def test_a_transistor_that_the_output_turns_off_must_come_below_0_4_volts() -> None:
    netlist = pull_up("R9 VB OUT 10k\nQ1 C OUT GNDB QN\nR6 VB C 470\n" + SWITCH)
    found = load(netlist, FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]'))
    assert found.receiver.words == "transistor Q1 off"
    assert found.required.high.value == pytest.approx((5.25 - 0.4) / 9900, rel=1e-3)
    assert found.voltage.low.value == pytest.approx(0.4, rel=1e-3)


def test_a_gate_asks_for_threshold_and_one_volt() -> None:
    netlist = follower("R9 OUT GNDB 10k\nM1 C OUT GNDB GNDB MN\nR6 VB C 470\n" + SWITCH)
    facts = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]')
    assert load(netlist, facts).required.high.value == pytest.approx(2.5 / 9900, rel=1e-6)
    stated = facts + '\n[elements."M1"]\ngate_full_on = "4 V"\n'
    assert load(netlist, stated).required.high.value == pytest.approx(4.0 / 9900, rel=1e-6)


def test_a_relay_pulls_in_at_its_voltage_whatever_its_resistance_and_at_its_current_whatever_its_temperature() -> None:
    """3.5 V over 450 to 550 ohm: 7.8 to 6.4 mA, hot or cold; the voltage left is the supply less the hot coil's."""
    netlist = pull_up("XK1 VB OUT P1 P2 DEMO_K\n")
    found = load(netlist, FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]'), PART + RELAY)
    assert found.receiver.words.startswith("coil of XK1")
    assert found.required.high.value == pytest.approx(3.5 / 450, rel=1e-6)
    assert found.required.low.value == pytest.approx(3.5 / 550, rel=1e-6)
    hot = 1 + 0.00393 * (60 - 25)
    assert found.voltage.low.value == pytest.approx(4.75 - 3.5 * hot, rel=1e-6)


def test_an_unreachable_level_is_open_in_words() -> None:
    facts = FACTS.replace('high_min = "2.0 V"', 'high_min = "6.0 V"')
    with pytest.raises(Lacking):
        found = load(
            follower("R8 VB2 OUT 1k\nR9 OUT GNDB 1k\nR7 OUT N9 1\nD1 N9 GNDB DX\n.model DX D(IS=1e-9)\n"), facts
        )
        assert found.required.high.value > 1.0
        raise Lacking("a current that no coupler gives")


# -- loads that are there or not ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cards", "kind"),
    [
        ("R9 VB OUT 10k\n", "pass"),
        ("L1 VB N1 10u\nR9 N1 OUT 10k\n", "pass"),
        ("R9 OUT GNDB 10k\n", "fail"),
        ("C9 VB OUT 100n\n", "fail"),
        ("D9 OUT VB DX\n.model DX D\n", "fail"),
    ],
)
def test_a_load_feeds_the_output_or_it_does_not(cards: str, kind: str) -> None:
    assert result(report(pull_up(cards)), "load-missing").kind == kind


# -- logic outputs ----------------------------------------------------------------------------------------------

LOGIC = """
[parts.DEMO_L]
type = "logic-output"
pins = ["anode", "cathode", "supply", "output", "ground"]
source = "invented for the tests"
[parts.DEMO_L.led]
technology = "AlGaAs"
forward_voltage = { min = "1.4 V", typ = "1.5 V", max = "1.8 V", at = "10 mA" }
forward_current_max = "20 mA"
reverse_voltage_max = "5 V"
threshold_current = "5 mA"
off_voltage = "0.8 V"
[parts.DEMO_L.output]
kind = "open-collector"
voltage_max = "7 V"
current_max = "25 mA"
low_level = { max = "0.6 V", at = "5 mA" }
leakage = "10 uA"
[parts.DEMO_L.supply]
voltage = ["4.5 V", "5.5 V"]
"""


@pytest.mark.parametrize(("ohms", "kind"), [(1000, "pass"), (900, "fail")])
def test_a_logic_output_holds_its_low_level_up_to_its_test_current(ohms: int, kind: str) -> None:
    """(5.25 - 0.6) / (0.99 R) + 10 uA against 5 mA."""
    netlist = board("R1 DRIVE A 330", f"R9 VB OUT {ohms}\n", coupler="XU1 A GND VB OUT GNDB DEMO_L\n")
    found = result(report(netlist, part=LOGIC), "output-level-invalid", "current")
    assert found.kind == kind
    assert found.margin is not None
    assert found.margin.value == pytest.approx(5e-3 / (4.65 / (0.99 * ohms) + 10e-6), rel=1e-6)


# -- properties -------------------------------------------------------------------------------------------------


def margin(ohms: float) -> float:
    found = context(pull_up(f"R9 VB OUT {ohms:g}\n"))
    return found.analysis.transfer(channel(found)).worst.margin


def test_raising_the_pull_up_never_lowers_the_transfer_margin() -> None:
    margins = [margin(ohms) for ohms in (470, 1e3, 2.2e3, 4.7e3, 10e3, 47e3, 220e3)]
    assert margins == sorted(margins)


def test_nominal_lies_inside_and_widening_never_narrows() -> None:
    cards = (
        pull_up(),
        follower("R9 OUT GNDB 1k\n"),
        pull_up("R9 VB OUT 10k\nR8 OUT C 1k\n", coupler="XU1 A GND C GNDB DEMO_A\n"),
    )
    for netlist in cards:
        narrow = load(netlist)
        for quantity in (narrow.required, narrow.voltage):
            assert quantity.low.value - 1e-12 <= quantity.nominal <= quantity.high.value + 1e-12
        wide = load(netlist, FACTS.replace('tolerance = "1 %"', 'tolerance = "4 %"'))
        assert wide.required.high.value >= narrow.required.high.value
        assert wide.required.low.value <= narrow.required.low.value


def test_the_held_net_and_the_turned_up_current_agree() -> None:
    """A resistor of 0 ohm between output and input takes the other way to the same number."""
    direct = load(pull_up())
    turned = load(pull_up("R9 VB OUT 10k\nR8 OUT C 0\n", coupler="XU1 A GND C GNDB DEMO_A\n"))
    assert turned.required.high.value == pytest.approx(direct.required.high.value, rel=1e-8)
    assert turned.required.low.value == pytest.approx(direct.required.low.value, rel=1e-8)


def test_the_next_led_is_found_in_a_package_of_two() -> None:
    """The output feeds the second LED of XU2; it asks for its recommended current whatever the first one does."""
    dual = (
        PART.replace("DEMO_A", "DEMO_B")
        .replace(
            'pins = ["anode", "cathode", "collector", "emitter"]',
            'pins = ["anode1", "cathode1", "anode2", "cathode2", "collector1", "emitter1", "collector2", "emitter2"]',
        )
        .replace(
            "[parts.DEMO_B.led]",
            '[[parts.DEMO_B.channels]]\nname = "1"\n'
            'input = ["anode1", "cathode1"]\noutput = ["collector1", "emitter1"]\n'
            '[[parts.DEMO_B.channels]]\nname = "2"\n'
            'input = ["anode2", "cathode2"]\noutput = ["collector2", "emitter2"]\n'
            '[parts.DEMO_B.led]\nrecommended_current_min = "3 mA"',
        )
    )
    facts = FACTS.replace('[inputs."OUT"]', '[inputs."ELSEWHERE"]')
    netlist = board(
        DRIVE, "R9 OUT N1 470\nXU2 Z GNDB N1 GNDB P GNDC Q GNDC DEMO_B\n", coupler="XU1 A GND VB OUT DEMO_A\n"
    )
    found = load(netlist, facts, PART + dual)
    assert found.required.high.value == pytest.approx(3e-3, rel=1e-6)

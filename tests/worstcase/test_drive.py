"""Drive networks through the main job: each sentence of the design on drive, states and headroom, redone by hand."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import root

from isolint.worstcase.devices import thermal_voltage
from isolint.worstcase.uncertain import KINDEST, Lacking
from tests.worstcase.boards import (
    COLD,
    FACTS,
    HOT,
    PART,
    board,
    drive,
    most,
    report,
    result,
    vf_max,
    without,
)

# -- ports ------------------------------------------------------------------------------------------------------


def test_smallest_current_uses_the_guaranteed_level_unscaled_up_to_its_test_current() -> None:
    found = drive(board("R1 DRIVE A 1k"))
    assert found.current.low.value == pytest.approx((4.4 - vf_max(COLD)) / 1010, rel=1e-6)
    assert found.current.low.value < 4e-3
    assert found.current.low.temperature == COLD


def test_above_the_test_current_the_level_lies_on_the_line_from_the_smallest_supply() -> None:
    """Through (0, 4.75 V) and (4 mA, 4.4 V): 87.5 ohm."""
    found = drive(board("R1 DRIVE A 270"))
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / (87.5 + 272.7), rel=1e-6)
    assert found.current.low.value > 4e-3


def test_a_low_output_above_its_test_current_has_the_line_through_zero_volts() -> None:
    """0.4 V at 4 mA: 100 ohm; the LED hangs between supply and sinking port."""
    found = drive(board("R1 V5 A 270", coupler="XU1 A DRIVE OUT GNDB DEMO_A\n"))
    assert found.on_words == "DRIVE low"
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / (100 + 272.7), rel=1e-6)


def test_a_low_output_up_to_its_test_current_keeps_its_level() -> None:
    found = drive(board("R1 V5 A 1.5k", coupler="XU1 A DRIVE OUT GNDB DEMO_A\n"))
    assert found.current.low.value == pytest.approx((4.75 - 0.4 - vf_max(COLD)) / 1515, rel=1e-6)


def test_largest_current_uses_the_supply_s_maximum_and_no_port_resistance() -> None:
    found = drive(board("R1 DRIVE A 470"))
    assert found.current.high.value == pytest.approx(most(5.25, 470 * 0.99, HOT), rel=1e-6)
    assert found.current.high.temperature == HOT


def test_a_stated_highest_level_replaces_the_supply_s_maximum() -> None:
    facts = FACTS.replace('source_max = "20 mA"', 'source_max = "20 mA"\nhigh_max = "4.8 V"')
    found = drive(board("R1 DRIVE A 470"), facts)
    assert found.current.high.value == pytest.approx(most(4.8, 470 * 0.99, HOT), rel=1e-6)


def test_a_sinking_port_goes_down_to_zero_volts() -> None:
    found = drive(board("R1 V5 A 470", coupler="XU1 A DRIVE OUT GNDB DEMO_A\n"))
    assert found.current.high.value == pytest.approx(most(5.25, 470 * 0.99, HOT), rel=1e-6)


def test_an_output_without_a_supply_is_open() -> None:
    facts = without(FACTS, "supply").replace("[inputs", "[inputs")
    with pytest.raises(Lacking, match="DRIVE has no stated supply") as reason:
        drive(board("R1 DRIVE A 470"), facts)
    assert [fact.key for fact in reason.value.missing] == ['outputs."DRIVE".supply']


@pytest.mark.parametrize("level", ["high", "low"])
def test_an_output_without_a_guaranteed_level_is_open(level: str) -> None:
    facts = without(FACTS, level)
    with pytest.raises(Lacking, match=f"guaranteed {level} level of output DRIVE"):
        drive(board("R1 DRIVE A 470"), facts)


def test_a_level_guaranteed_at_no_current_says_nothing_of_a_driven_led() -> None:
    facts = FACTS.replace('high = { min = "4.4 V", at = "4 mA" }', 'high = { min = "4.4 V", at = "0 A" }')
    with pytest.raises(Lacking, match="guaranteed high level"):
        drive(board("R1 DRIVE A 470"), facts)


def test_more_than_the_test_current_without_a_stated_limit_is_open() -> None:
    facts = without(FACTS, "source_max")
    assert drive(board("R1 DRIVE A 1k"), facts).current.low.value < 4e-3
    with pytest.raises(Lacking, match="more than the 4 mA") as reason:
        drive(board("R1 DRIVE A 270"), facts)
    assert [fact.key for fact in reason.value.missing] == ['outputs."DRIVE".source_max']


def test_a_fail_uses_the_nominal_supply_where_its_tolerance_is_a_default() -> None:
    """At the kindest the line of the port starts from 5 V, not from 4.75 V."""
    facts = FACTS.replace('voltage = "5 V"\ntolerance = "5 %"\nground = "GND"\n', 'voltage = "5 V"\nground = "GND"\n')
    netlist = board("R1 DRIVE A 270")
    slope = (5.0 - 4.4) / 4e-3
    kindest = drive(netlist, facts, setting=KINDEST)
    assert kindest.current.low.value == pytest.approx((5.0 - vf_max(COLD)) / (slope + 272.7), rel=1e-6)
    worst = drive(netlist, facts)
    assert worst.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / (87.5 + 272.7), rel=1e-6)
    assert 'supplies."V5".tolerance' in [term.key for term in worst.terms if term.defaulted]


def test_open_drain_and_high_side_outputs_drive_one_level_only() -> None:
    sinking = FACTS.replace('source_max = "20 mA"', 'drive = "open-drain"')
    found = drive(board("R1 V5 A 470", coupler="XU1 A DRIVE OUT GNDB DEMO_A\n"), sinking)
    assert (found.on_words, found.states) == ("DRIVE low", 2)
    sourcing = FACTS.replace('source_max = "20 mA"', 'source_max = "20 mA"\ndrive = "high-side"')
    assert drive(board("R1 DRIVE A 470"), sourcing).on_words == "DRIVE high"
    # An open drain can't light an LED that it only pulls down.
    assert drive(board("R1 DRIVE A 470"), sinking).current.high.value < 1e-8


# -- VF ---------------------------------------------------------------------------------------------------------


def test_maximum_forward_voltage_is_not_lowered_below_its_test_current() -> None:
    found = drive(board("R1 V5 A 3.3k"))
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 3333, rel=1e-6)


def test_above_its_test_current_the_maximum_forward_voltage_rises() -> None:
    found = drive(board("R1 V5 A 100"))
    amps, vt = found.current.low.value, thermal_voltage(COLD)
    assert amps > 10e-3
    drop = vf_max(COLD) + 2.0 * vt * math.log(amps / 10e-3) + 5.0 * (amps - 10e-3)
    assert 4.75 - 101 * amps == pytest.approx(drop, rel=1e-6)


def test_the_smallest_forward_voltage_is_typ_minus_0_15_by_default() -> None:
    part = PART.replace('min = "1.0 V", typ', "typ")
    found = drive(board("R1 V5 A 470"), part=part)
    assert dict(found.current.high.at)["forward voltage of XU1"] == pytest.approx(1.05)
    assert "parts.DEMO_A.led.forward_voltage" in [term.key for term in found.terms if term.defaulted]


def test_at_the_kindest_the_smallest_forward_voltage_is_the_typical_one_and_the_stated_maximum_stays() -> None:
    part = PART.replace('min = "1.0 V", typ', "typ")
    found = drive(board("R1 V5 A 470"), part=part, setting=KINDEST)
    assert dict(found.current.high.at)["forward voltage of XU1"] == pytest.approx(1.2)
    assert dict(found.current.low.at)["forward voltage of XU1"] == pytest.approx(1.4)


def test_a_record_with_a_maximum_only_keeps_it_unlowered() -> None:
    part = PART.replace('min = "1.0 V", typ = "1.2 V", max', "max")
    found = drive(board("R1 V5 A 3.3k"), part=part)
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 3333, rel=1e-6)
    volts = dict(found.current.high.at)["forward voltage of XU1"]
    assert volts == pytest.approx(1.15 - 0.15)


def test_minimum_and_maximum_alone_state_the_forward_voltage() -> None:
    part = PART.replace('typ = "1.2 V", ', "")
    found = drive(board("R1 V5 A 470"), part=part)
    assert not [term for term in found.terms if term.defaulted]


def test_an_led_of_unknown_technology_takes_the_whole_interval_of_temperature_coefficients() -> None:
    part = PART.replace('technology = "GaAs"\n', "")
    found = drive(board("R1 V5 A 470"), part=part)
    assert dict(found.current.low.at)["temperature coefficient of VF of XU1"] == pytest.approx(-1.9e-3)
    assert dict(found.current.high.at)["temperature coefficient of VF of XU1"] == pytest.approx(-1.9e-3)


def test_an_internal_resistor_limits_the_current() -> None:
    part = PART.replace(
        'reverse_voltage_max = "6 V"', 'reverse_voltage_max = "6 V"\ninternal_resistor = ["400 ohm", "600 ohm"]'
    )
    found = drive(board("R1 V5 A 0"), part=part)
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 600, rel=1e-6)
    assert found.current.high.value == pytest.approx(most(5.25, 400, HOT), rel=1e-6)
    assert result(report(board("R1 V5 A 0"), part=part), "led-unlimited").kind == "pass"


# -- where the limit sits ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cards",
    [
        ("R1 V5 A 500", "XU1 A GND OUT GNDB DEMO_A\n"),
        ("R1 K GND 500", "XU1 V5 K OUT GNDB DEMO_A\n"),
        ("R1 V5 A 250\nR2 K GND 250", "XU1 A K OUT GNDB DEMO_A\n"),
        ("R1 V5 N1 250\nR2 N1 A 250", "XU1 A GND OUT GNDB DEMO_A\n"),
    ],
)
def test_moving_the_resistor_between_the_legs_changes_nothing(cards: tuple[str, str]) -> None:
    found = drive(board(cards[0], coupler=cards[1])).current
    plain = drive(board("R1 V5 A 500")).current
    assert (found.nominal, found.low.value, found.high.value) == pytest.approx(
        (plain.nominal, plain.low.value, plain.high.value), rel=1e-9
    )


@pytest.mark.parametrize(
    ("cards", "coupler"),
    [
        ("R1 DRIVE B 1k\nQ1 K B E QN\nR2 E GND 150\n.model QN NPN(BF=200)", "XU1 V5 K OUT GNDB DEMO_A\n"),
        ("D1 V5 N1 DZ\nR1 N1 A 220\n.model DZ D(BV=3)", "XU1 A GND OUT GNDB DEMO_A\n"),
        ("I1 V5 A 5m", "XU1 A GND OUT GNDB DEMO_A\n"),
        ("R1 V5 N1 470\nL1 N1 A 10u", "XU1 A GND OUT GNDB DEMO_A\n"),
        ("R1 V5 N1 470\nV9 N1 A 0", "XU1 A GND OUT GNDB DEMO_A\n"),
    ],
)
def test_any_kind_of_limit_counts(cards: str, coupler: str) -> None:
    facts = FACTS.replace(
        'voltage = "5 V"\ntolerance = "5 %"\nground = "GND"\n', 'voltage = "9 V"\ntolerance = "5 %"\nground = "GND"\n'
    )
    assert result(report(board(cards, coupler=coupler), facts), "led-unlimited").kind == "pass"


@pytest.mark.parametrize(
    "cards",
    [
        "R1 DRIVE A 0",
        "L1 DRIVE A 10u",
        "S1 V5 A C GND SW\n.model SW SW(RON=100)",
        "Q1 V5 B A QN\nR1 DRIVE B 1k\n.model QN NPN(BF=200)",
        "M1 A DRIVE V5 V5 MP\n.model MP PMOS(VTO=-1 KP=0.01)",
    ],
)
def test_what_limits_only_by_its_own_weakness_is_no_limit(cards: str) -> None:
    assert result(report(board(cards)), "led-unlimited").kind == "fail"


def test_more_than_ten_times_the_led_s_maximum_is_unlimited_and_less_is_overdriven() -> None:
    """50 mA maximum: 500 mA from 5 V ideally is about 7.6 ohm."""
    assert result(report(board("R1 V5 A 6.8")), "led-unlimited").kind == "fail"
    found = report(board("R1 V5 A 8.2"))
    assert result(found, "led-unlimited").kind == "pass"
    assert result(found, "led-overdriven").kind == "fail"


# -- topologies against equations written here --------------------------------------------------------------------


def led_volts(amps: float, typ: float = 1.2) -> float:
    """The nominal curve at 25 degC: n = 1.75, Rs = 3 ohm."""
    return typ + 1.75 * thermal_voltage(25.0) * math.log(amps / 10e-3) + 3.0 * (amps - 10e-3)


def saturation(amps: float) -> float:
    """IS at 25 degC of a model at 27 degC: XTI = 3, EG = 1.11."""
    ratio = 298.15 / 300.15
    return amps * ratio**3 * math.exp((ratio - 1.0) * 1.11 / thermal_voltage(25.0))


def test_a_low_side_npn_switch_against_scipy() -> None:
    found = drive(
        board(
            "R2 V5 A 330\nR1 DRIVE B 4.7k\nQ1 K B GND QN\n.model QN NPN(IS=1e-14 BF=200 BR=2)",
            coupler="XU1 A K OUT GNDB DEMO_A\n",
        )
    )
    vt, isat = thermal_voltage(25.0), saturation(1e-14)

    def equations(x: list[float]) -> list[float]:
        u, vb, vc = x
        amps = math.exp(u)
        forward, reverse = isat * math.expm1(vb / vt), isat * math.expm1((vb - vc) / vt)
        base = forward / 200 + reverse / 2
        # 0.85 mA from the port: half-way between 4.4 V and 5.25 V.
        return [
            5.0 - 330 * amps - led_volts(amps) - vc,
            (4.825 - vb) / 4.7e3 - base,
            amps - (forward - reverse - reverse / 2),
        ]

    solution = root(equations, [math.log(0.01), 0.75, 0.1], tol=1e-13)
    assert solution.success
    assert found.current.nominal == pytest.approx(math.exp(solution.x[0]), rel=1e-3)


def test_a_current_source_with_emitter_resistor_against_scipy() -> None:
    found = drive(
        board(
            "R1 DRIVE B 100\nD1 B Z DZ\nD2 Z GND DZ\nQ1 K B E QN\nR2 E GND 100\n"
            ".model QN NPN(IS=1e-14 BF=200)\n.model DZ D(IS=1e-14)",
            coupler="XU1 V5 K OUT GNDB DEMO_A\n",
        )
    )
    vt, isat = thermal_voltage(25.0), saturation(1e-14)

    def equations(x: list[float]) -> list[float]:
        vb, ve, vd = x
        forward = isat * math.expm1((vb - ve) / vt)
        diode = isat * math.expm1(vd / vt)
        return [
            ((4.825 - 0.425 * _share(diode)) - vb) / 100 - diode - forward / 200,
            forward * (1 + 1 / 200) - ve / 100,
            vb - 2 * vd,
        ]

    solution = root(equations, [1.6, 0.8, 0.8], tol=1e-12)
    assert solution.success
    forward = isat * math.expm1((solution.x[0] - solution.x[1]) / vt)
    assert found.current.nominal == pytest.approx(forward, rel=0.02)
    assert found.switches == ()


def _share(_: float) -> float:
    return 1.0


def test_a_high_side_pnp_switch_carries_the_led_current_through_its_emitter_at_the_supply() -> None:
    netlist = board(
        "Q1 N1 B V5 QP\nR1 B DRIVE 4.7k\nR2 N1 A 330\n.model QP PNP(IS=1e-14 BF=200 BR=2)",
    )
    found = drive(netlist)
    assert found.on_words == "DRIVE low"
    # About 5 V - 0.05 V - 1.2 V over 330 ohm.
    assert found.current.nominal == pytest.approx((5.0 - 0.05 - 1.19) / 330, rel=0.01)
    (switch,) = found.switches
    assert switch.kind == "bjt"
    assert switch.gain == pytest.approx(100.0)
    base = switch.base_current
    assert base == pytest.approx((4.75 - 0.4 - 0.78) / (4.7e3 * 1.01), rel=0.02)
    assert switch.available == pytest.approx(100 * base)
    assert switch.required == pytest.approx(most(5.25, 330 * 0.99, HOT), rel=0.03)


def test_a_mos_switch_asks_for_its_threshold_and_one_volt() -> None:
    netlist = board(
        "R2 V5 A 330\nM1 K DRIVE GND GND MN\n.model MN NMOS(VTO=1.5 KP=0.5)", coupler="XU1 A K OUT GNDB DEMO_A\n"
    )
    (switch,) = drive(netlist).switches
    assert switch.kind == "mos"
    assert switch.required == pytest.approx(2.5)
    assert switch.available == pytest.approx(4.4, rel=1e-6)
    stated = FACTS + '\n[elements."M1"]\ngate_full_on = "4.5 V"\n'
    assert result(report(netlist, stated), "drive-headroom-low", "M1").kind == "fail"
    assert result(report(netlist), "drive-headroom-low", "M1").kind == "pass"


def test_a_shunt_transistor_is_off_while_the_led_is_on_and_is_no_source_of_its_current() -> None:
    netlist = board("R1 V5 A 470\nR2 DRIVE B 10k\nQ1 A B GND QN\n.model QN NPN(IS=1e-14 BF=200)")
    found = drive(netlist)
    assert found.on_words == "DRIVE low"
    assert found.switches == ()
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 474.7, rel=1e-4)
    assert result(report(netlist), "led-unlimited").kind == "pass"


def test_leds_of_two_couplers_in_series_share_one_current_and_each_varies_on_its_own() -> None:
    netlist = board(
        "R1 V5 A 220",
        coupler="XU1 A M OUT GNDB DEMO_A\nXU2 M GND OUT2 GNDB DEMO_A\n",
        load="R9 VB OUT 10k\nR8 VB OUT2 10k\n",
    )
    found = drive(netlist)
    assert found.current.low.value == pytest.approx((4.75 - 2 * vf_max(COLD)) / 222.2, rel=1e-6)
    assert {"forward voltage of XU1", "forward voltage of XU2"} <= {name for name, _ in found.current.low.at}


def test_of_two_leds_in_parallel_the_own_one_may_be_the_one_that_gets_little() -> None:
    """One resistor, two LEDs: an LED of 1.4 V beside one of 1.0 V stays dark."""
    netlist = board(
        "R1 V5 A 220",
        coupler="XU1 A GND OUT GNDB DEMO_A\nXU2 A GND OUT2 GNDB DEMO_A\n",
        load="R9 VB OUT 10k\nR8 VB OUT2 10k\n",
    )
    found = drive(netlist)
    corner = dict(found.current.low.at)
    assert corner["forward voltage of XU1"] == pytest.approx(1.4)
    assert corner["forward voltage of XU2"] == pytest.approx(1.0)
    assert found.current.low.value < 1e-4


def test_a_bleed_resistor_takes_its_share_at_the_led_s_largest_voltage() -> None:
    found = drive(board("R1 V5 A 470\nR2 A GND 2.2k"))
    volts = vf_max(COLD)
    assert found.current.low.value == pytest.approx((4.75 - volts) / 474.7 - volts / (2200 * 0.99), rel=1e-6)


def test_a_series_diode_without_a_model_is_an_assumption() -> None:
    found = drive(board("R1 V5 N1 470\nD1 N1 A 1N_DEMO"))
    term = next(term for term in found.terms if term.key == ".model 1N_DEMO")
    assert term.defaulted
    assert "no .model" in term.origin


def test_a_diode_without_a_model_that_blocks_more_than_a_zener_diode_lets_stand_is_open() -> None:
    with pytest.raises(Lacking, match=r"D1 has no \.model and sees 4\.66 V in reverse") as reason:
        drive(board("R1 V5 A 470\nR3 V5 N9 1k\nD1 GND N9 1N_DEMO\nR4 N9 A 10k"))
    assert reason.value.missing[0].key == ".model 1N_DEMO"
    assert drive(board("R1 V5 A 470\nD1 GND A 1N_DEMO")).current.low.value > 1e-3


def test_a_transistor_without_a_model_is_open_because_its_polarity_is_not_known() -> None:
    with pytest.raises(Lacking, match=r"Q1 has no \.model: whether it is npn or pnp"):
        drive(board("R2 V5 A 330\nR1 DRIVE B 4.7k\nQ1 K B GND QDEMO", coupler="XU1 A K OUT GNDB DEMO_A\n"))


def test_a_dc_source_between_two_nets_of_the_network_has_a_tolerance_and_a_0_v_source_is_a_wire() -> None:
    found = drive(board("R1 V5 N1 470\nV9 N1 A 1"))
    assert found.current.low.value == pytest.approx((4.75 - 1.05 - vf_max(COLD)) / 474.7, rel=1e-6)
    assert 'elements."V9".tolerance' in [term.key for term in found.terms if term.defaulted]
    wire = drive(board("R1 V5 N1 470\nV9 N1 A 0"))
    assert wire.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 474.7, rel=1e-6)


def test_netlist_sources_have_five_percent_by_default() -> None:
    found = drive(board("V1 VIN GND 5\nR1 VIN A 470"))
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 474.7, rel=1e-6)
    assert found.current.high.value == pytest.approx(most(5.25, 470 * 0.99, HOT), rel=1e-6)


def test_resistors_have_five_percent_by_default() -> None:
    facts = FACTS.replace('tolerance = "1 %"', 'power = "0.1 W"')
    found = drive(board("R1 V5 A 470"), facts)
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / (470 * 1.05), rel=1e-6)
    kindest = drive(board("R1 V5 A 470"), facts, setting=KINDEST)
    assert kindest.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 470, rel=1e-6)


def test_tempco_counts_from_25_degrees() -> None:
    facts = FACTS.replace('tolerance = "1 %"', 'tolerance = "1 %"\ntempco = "1000 ppm/K"')
    found = drive(board("R1 V5 A 470"), facts)
    ohms = 470 * 1.01 * (1 + 1e-3 * 25)
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / ohms, rel=1e-6)


def test_a_negative_resistance_is_open() -> None:
    with pytest.raises(Lacking, match="negative value"):
        drive(board("R1 V5 A -470"))

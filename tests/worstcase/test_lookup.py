"""Where each number comes from: facts, records, netlist, names, defaults, in the order of trust."""

from __future__ import annotations

import pytest

from isolint.units import Interval
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Term
from tests.worstcase.boards import FACTS, board, context, without

BARE = "top = true\nparts = ['parts.toml']\n"


def lookup(netlist: str = "R1 V5 A 470", facts: str = FACTS) -> Lookup:
    return context(board(netlist), facts).lookup


def supply(netlist: str, name: str, facts: str = BARE) -> Term:
    found = context(board(netlist), facts).lookup
    net = found.circuit.find_net(name)
    assert net is not None
    return found.supply(net, found.walker.held(net))


def ends(term: Term) -> tuple[float, float]:
    return term.low, term.high


# -- defaults ---------------------------------------------------------------------------------------------------


def test_the_printed_defaults_are_these() -> None:
    bare = lookup(facts=BARE)
    element = bare.circuit.find("R1")
    assert element is not None
    assert ends(bare.ambient()) == (0.0, 70.0)
    assert bare.ambient().nominal == 25.0
    assert bare.life_hours().high == 10 * 8766.0
    assert bare.duty().high == 1.0
    assert ends(bare.tolerance(element)) == (-0.05, 0.05)
    assert (bare.drive_headroom(), bare.transfer_margin()) == (1.3, 1.2)
    for term in (bare.ambient(), bare.life_hours(), bare.duty(), bare.tolerance(element)):
        assert term.defaulted
        assert term.origin
        assert term.example


def test_at_the_kindest_the_defaults_are_25_degrees_no_life_no_duty_and_nominal_values() -> None:
    bare = lookup(facts=BARE)
    element = bare.circuit.find("R1")
    assert element is not None
    assert KINDEST.range(bare.ambient()) == (25.0, 25.0)
    assert KINDEST.range(bare.life_hours()) == (0.0, 0.0)
    assert KINDEST.range(bare.duty()) == (0.0, 0.0)
    assert KINDEST.range(bare.tolerance(element)) == (0.0, 0.0)


def test_stated_values_replace_the_defaults_and_are_no_assumptions() -> None:
    found = lookup()
    assert ends(found.ambient()) == (0.0, 60.0)
    assert found.life_hours().high == pytest.approx(87660.0)
    assert not any(term.defaulted for term in (found.ambient(), found.life_hours(), found.duty()))
    assert "isolint.toml" in found.ambient().origin


def test_an_ambient_without_25_degrees_has_the_nearest_as_its_nominal() -> None:
    assert lookup(facts=FACTS.replace('["0 degC", "60 degC"]', '["40 degC", "70 degC"]')).ambient().nominal == 40.0
    assert lookup(facts=FACTS.replace('["0 degC", "60 degC"]', '["-40 degC", "5 degC"]')).ambient().nominal == 5.0


def test_limits_are_points() -> None:
    facts = FACTS + "\n[limits]\ndrive_headroom = 1.5\ntransfer_margin = 2.0\n"
    assert (lookup(facts=facts).drive_headroom(), lookup(facts=facts).transfer_margin()) == (1.5, 2.0)


# -- supplies ---------------------------------------------------------------------------------------------------


def test_a_stated_tolerance_makes_the_supply_stated() -> None:
    term = supply("R1 V5 A 470", "V5", FACTS)
    assert ends(term) == pytest.approx((4.75, 5.25))
    assert not term.defaulted


def test_a_stated_pair_is_the_supply_s_range() -> None:
    facts = BARE + '[supplies."V5"]\nvoltage = ["4 V", "6 V"]\nground = "GND"\n'
    term = supply("R1 V5 A 470", "V5", facts)
    assert (*ends(term), term.nominal, term.defaulted) == (4.0, 6.0, 5.0, False)


def test_a_stated_voltage_without_a_tolerance_gets_5_percent_as_an_assumption() -> None:
    term = supply("R1 V5 A 470", "V5", BARE + '[supplies."V5"]\nvoltage = "5 V"\nground = "GND"\n')
    assert ends(term) == pytest.approx((4.75, 5.25))
    assert (term.key, term.defaulted) == ('supplies."V5".tolerance', True)
    assert KINDEST.range(term) == (5.0, 5.0)


def test_the_netlist_s_source_comes_before_the_name_of_the_net() -> None:
    term = supply("V1 V5 GND 5.2\nR1 V5 A 470", "V5")
    assert term.nominal == 5.2
    assert term.origin.startswith("source V1 in the netlist")


def test_a_fact_comes_before_the_netlist_s_source() -> None:
    term = supply("V1 V5 GND 5.2\nR1 V5 A 470", "V5", FACTS)
    assert term.nominal == 5.0


def test_a_stated_tolerance_widens_the_netlist_s_source() -> None:
    facts = BARE + '[supplies."V5"]\ntolerance = ["-15 %", "20 %"]\nground = "GND"\n'
    term = supply("V1 V5 GND 5\nR1 V5 A 470", "V5", facts)
    assert ends(term) == pytest.approx((4.25, 6.0))
    assert KINDEST.range(term) == pytest.approx((4.25, 6.0))


@pytest.mark.parametrize(
    ("name", "volts"), [("+3V3", 3.3), ("V12", 12.0), ("+24V", 24.0), ("/PSU/+5V", 5.0), ("VCC_1V8", 1.8)]
)
def test_the_name_of_a_net_tells_its_voltage_as_an_assumption(name: str, volts: float) -> None:
    term = supply(f"R1 {name} A 470", name)
    assert term.nominal == pytest.approx(volts)
    assert term.origin.startswith("name of the net")
    assert not term.stated


def test_a_source_the_other_way_round_is_negative() -> None:
    term = supply("V1 GND VNEG 12\nR1 VNEG A 470", "VNEG")
    assert (term.nominal, term.low, term.high) == pytest.approx((-12.0, -12.6, -11.4))


def test_a_supply_whose_voltage_nobody_tells_is_open() -> None:
    with pytest.raises(Lacking, match="voltage of supply VCC is not known") as reason:
        supply("R1 VCC A 470", "VCC")
    assert [fact.key for fact in reason.value.missing] == ['supplies."VCC".voltage']


def test_an_ac_supply_has_no_dc_value() -> None:
    facts = BARE + '[supplies."V5"]\nvoltage = "24 V"\nkind = "ac"\nfrequency = "50 Hz"\nground = "GND"\n'
    with pytest.raises(Lacking, match="AC"):
        supply("R1 V5 A 470", "V5", facts)


# -- elements ---------------------------------------------------------------------------------------------------


def test_a_tolerance_may_be_a_pair() -> None:
    found = lookup(facts=FACTS.replace('tolerance = "1 %"', 'tolerance = ["-2 %", "5 %"]'))
    element = found.circuit.find("R1")
    assert element is not None
    assert ends(found.tolerance(element)) == pytest.approx((-0.02, 0.05))


def test_a_resistor_may_be_tried_at_another_value() -> None:
    found = lookup()
    element = found.circuit.find("R1")
    assert element is not None
    assert found.ohms(element) == 470.0
    assert found.resized({element: 1000.0}).ohms(element) == 1000.0
    assert found.ohms(element) == 470.0


def test_tempco_is_none_unless_stated() -> None:
    element = lookup().circuit.find("R1")
    assert element is not None
    assert lookup().tempco(element) is None
    stated = lookup(facts=FACTS.replace('tolerance = "1 %"', 'tempco = "100 ppm/K"')).tempco(element)
    assert stated is not None
    assert ends(stated) == pytest.approx((-1e-4, 1e-4))


# -- outputs, lines, inputs ---------------------------------------------------------------------------------------


def test_the_guaranteed_level_is_flat_to_its_test_current_and_falls_on_the_line_from_the_smallest_supply() -> None:
    found = lookup("R1 DRIVE A 470")
    net = found.circuit.find_net("DRIVE")
    assert net is not None
    model = found.output(net, True)
    assert model is not None
    assert model.worst[:2] == ((0.0, 4.4), (4e-3, 4.4))
    amps, volts = model.worst[2]
    assert amps == 20e-3
    assert volts == pytest.approx(4.75 - 87.5 * 20e-3)
    assert (model.guaranteed_at, model.limit) == (4e-3, 20e-3)
    assert model.best.high == pytest.approx(5.25)


def test_the_line_of_a_defaulted_supply_moves_with_the_setting() -> None:
    facts = without(FACTS, "tolerance")
    found = lookup("R1 DRIVE A 470", facts)
    net = found.circuit.find_net("DRIVE")
    assert net is not None
    worst, kindest = found.output(net, True, WORST), found.output(net, True, KINDEST)
    assert worst is not None
    assert kindest is not None
    assert worst.worst[2][1] == pytest.approx(4.75 - (4.75 - 4.4) / 4e-3 * 20e-3)
    assert kindest.worst[2][1] == pytest.approx(5.0 - (5.0 - 4.4) / 4e-3 * 20e-3)


def test_a_line_has_its_stated_intervals_and_is_open_without_them() -> None:
    facts = FACTS + '\n[lines."FIELD"]\non = ["15 V", "30 V"]\n'
    found = lookup("R1 FIELD A 2.2k", facts)
    net = found.circuit.find_net("FIELD")
    assert net is not None
    assert ends(found.line(net, True)) == (15.0, 30.0)
    with pytest.raises(Lacking, match="off state") as reason:
        found.line(net, False)
    assert [fact.key for fact in reason.value.missing] == ['lines."FIELD".off']


def test_inputs_are_found_by_net() -> None:
    found = context(board("R1 V5 A 470"), FACTS).lookup
    net = found.circuit.find_net("OUT")
    assert net is not None
    facts = found.input(net)
    assert facts is not None
    assert facts.low_max is not None
    assert facts.low_max.value == 0.8
    assert Interval(1.0, 1.0).is_point

"""Barriers that look strong enough and are not, and legal ones that look weak: pairs differ by one card or fact."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.rules.test_insulation import BASIC, MAINS, RULES, SECOND, STRONG, THIRD
from tests.support import judge

COUPLER = ("phototransistor", '["anode", "cathode", "emitter", "collector"]')
RELAY = ("relay", '["coil1", "coil2", "com", "no", "com2", "no2"]')
TRANSFORMER = ("transformer", '["p1", "p2", "s1", "s2"]')
ONE = "R1 A K 1k\nXU1 K N G OUT DEMO_X1\nR2 V5 OUT 10k\n"
TWO = "R1 A K 1k\nXU1 K N M OM DEMO_X1\nR2 VM OM 10k\nR3 OM KM 1k\nXU2 KM M G OUT DEMO_X2\nR4 V5 OUT 10k\n"
REINFORCED = f'insulation = "reinforced"\ntouch_current = "0.5 mA"\n{SECOND}'
ONLY_BASIC = f'insulation = "basic"\ntouch_current = "3.5 mA"\n{SECOND}'
Y2 = '[elements."CY*"]\nclass = "Y2"\nvoltage = "300 V"\n'


def record(name: str, ratings: str, kind: tuple[str, str] = COUPLER) -> str:
    part = f'[parts.{name}]\ntype = "{kind[0]}"\npins = {kind[1]}\nsource = "invented"\n'
    return f"{part}[parts.{name}.insulation]\n{ratings}"


def side(name: str, net: str, kind: str = "", more: str = "") -> str:
    return f'[sides.{name}]\nnets = ["{net}"]\n' + (f'kind = "{kind}"\n' if kind else "") + more


def barrier(one: str, other: str, stated: str) -> str:
    return f'[[barriers]]\nbetween = ["{one}", "{other}"]\n{stated}\n'


FIELD, LOGIC, EARTH = side("field", "N", "mains"), side("logic", "G", "selv"), side("pe", "PE", "earth")
SIDES = FIELD + LOGIC
BOND = '[[bonds]]\nbetween = ["logic", "pe"]\n'


def board(cards: str, facts: str, records: str = "") -> NetlistReport:
    known = records or record("DEMO_X1", STRONG) + record("DEMO_X2", STRONG)
    return judge(f"* board\n{cards}.end\n", f'parts = ["p.toml"]\n{facts}', p__toml=known)


def complaints(cards: str, facts: str, records: str = "") -> set[tuple[str, str]]:
    """Kind and rule of what is not in order across the barriers."""
    asked = {*RULES, "bridge-capacitor", "bridge-conducting", "ground-tie", "part-unknown"}
    report = board(cards, facts, records)
    return {(one.kind, one.rule) for one in report.results if one.kind in ("fail", "open") and one.rule in asked}


def wrong(cards: str, facts: str, records: str = "") -> set[tuple[str, str]]:
    """The same, of the rules about the strength of barriers."""
    return {(kind, rule) for kind, rule in complaints(cards, facts, records) if rule in RULES}


# -- several layers ------------------------------------------------------------------------------------------------


MIDDLE = FIELD + LOGIC + side("mid", "M", "internal")


def layers(second: str) -> str:
    return MIDDLE + barrier("field", "mid", ONLY_BASIC) + barrier("mid", "logic", second)


def test_two_layers_of_basic_insulation_over_a_middle_are_reinforced() -> None:
    assert wrong(TWO, layers(ONLY_BASIC)) == set()


@pytest.mark.parametrize("second", ['insulation = "functional"\n', ""], ids=["functional", "not stated"])
def test_a_layer_that_is_none_is_no_second_layer(second: str) -> None:
    assert ("fail" if second else "open", "insulation-grade-low") in wrong(TWO, layers(second))


def test_a_middle_of_which_nobody_says_what_it_is_is_asked_about() -> None:
    facts = layers('insulation = "basic"\nworking_voltage = "250 V"\n').replace('kind = "internal"\n', "")
    assert wrong(TWO, facts) == {("open", "insulation-grade-low")}


def test_what_floats_between_two_layers_shares_no_voltage() -> None:
    """The second layer is stated for 50 V; both together have to bear 250 V, and so each has."""
    low = 'insulation = "basic"\nworking_voltage = "50 V"\nworking_peak = "71 V"\n'
    whole = barrier("field", "logic", f'insulation = "reinforced"\n{SECOND}')
    facts = MIDDLE + barrier("field", "mid", low) + barrier("mid", "logic", low)
    weak = record("DEMO_X1", STRONG) + record("DEMO_X2", BASIC.replace('"400 V"', '"100 V"').replace("566", "142"))
    assert ("fail", "working-voltage-exceeded") in wrong(TWO, facts + whole, weak)
    assert ("fail", "working-voltage-exceeded") not in wrong(TWO, facts + whole)


# -- packages on three sides ---------------------------------------------------------------------------------------


POLES = "XK1 V5 G N LO N2 LO2 DEMO_K1\nR1 LO N 1k\nR2 V5 G 1k\nR3 LO2 N2 1k\n"
SWITCHED = 'grade = "reinforced"\nworking_voltage = "250 V"\nrepetitive_peak = "400 V"\ntransient = "6000 V"\n'
FAR = 'creepage = "8 mm"\nclearance = "8 mm"\n'
COIL = SIDES + side("extra", "N2", "selv") + barrier("field", "logic", REINFORCED)


def test_a_relay_with_a_pole_on_mains_and_one_on_a_safe_circuit_is_asked_about_its_poles() -> None:
    known = record("DEMO_K1", SWITCHED + FAR, RELAY)
    facts = COIL + barrier("extra", "logic", 'insulation = "functional"\n')
    assert wrong(POLES, facts, known) == {("open", "insulation-grade-low")}


def test_between_the_poles_only_what_is_stated_of_the_poles_counts() -> None:
    facts = COIL + barrier("extra", "field", REINFORCED)
    assert wrong(POLES, facts, record("DEMO_K1", SWITCHED + FAR, RELAY)) == {("open", "insulation-grade-low")}
    low = f'{SWITCHED}{FAR}channel_working_voltage = "250 V"\n'
    assert ("fail", "insulation-grade-low") in wrong(POLES, facts, record("DEMO_K1", low, RELAY))


def test_windings_on_two_sides_are_judged_by_the_record_of_what_couples_them() -> None:
    cards = "L1 P N 1m\nL2 S G 1m\nK1 L1 L2 0.99\nR1 P N 1k\nR2 S G 1k\n"
    facts = SIDES + barrier("field", "logic", REINFORCED) + '[elements.K1]\npart = "DEMO_T1"\n'
    strong = STRONG.replace("848", "1000")
    assert complaints(cards, facts, record("DEMO_T1", strong, TRANSFORMER)) == set()
    assert complaints(cards, facts, record("DEMO_T1", BASIC, TRANSFORMER)) == {("fail", "insulation-grade-low")}


# -- resistors and capacitors --------------------------------------------------------------------------------------


def test_one_resistor_over_reinforced_insulation_is_wrong_whatever_the_sides_are() -> None:
    facts = side("field", "N") + side("logic", "G")
    facts += barrier("field", "logic", 'insulation = "reinforced"\nworking_voltage = "250 V"\nworking_peak = "354 V"\n')
    rated = '[elements."R*"]\nvoltage = "500 V"\n'
    assert ("fail", "insulation-grade-low") in wrong(f"{ONE}R7 N G 10Meg\n", facts + rated)
    assert ("fail", "insulation-grade-low") not in wrong(f"{ONE}R7 N X 4.7Meg\nR8 X G 4.7Meg\n", facts + rated)


@pytest.mark.parametrize(
    ("rated", "expected"),
    [("", {("open", "working-voltage-exceeded")}), ('voltage = "500 V"\n', set()), ('voltage = "150 V"\n', "fail")],
)
def test_resistors_of_a_string_take_volts_that_somebody_must_have_rated(rated: str, expected: object) -> None:
    """Derived: each takes half of 358 V and up to 0.525 of it by tolerance, 188 V; usual ratings are 75 to 350 V."""
    facts = SIDES + barrier("field", "logic", REINFORCED) + (f'[elements."R*"]\n{rated}' if rated else "")
    found = wrong(f"{ONE}R7 N X 10Meg\nR8 X G 10Meg\n", facts)
    assert found == ({("fail", "working-voltage-exceeded")} if expected == "fail" else expected)


def test_a_capacitor_beside_one_resistor_of_a_string_takes_its_layer_away() -> None:
    facts = SIDES + barrier("field", "logic", REINFORCED) + '[elements."R*"]\nvoltage = "500 V"\n'
    string = f"{ONE}R7 N X 10Meg\nR8 X G 10Meg\n"
    assert ("fail", "insulation-grade-low") in wrong(f"{string}C8 X G 1n\n", facts)
    assert wrong(string, facts) == set()


def test_a_capacitor_from_a_hazardous_circuit_waits_for_the_impulse_that_may_come() -> None:
    facts = side("field", "N", "hazardous") + side("logic", "G", "earth") + Y2
    stated = 'insulation = "basic"\nworking_voltage = "250 V"\n'
    cards = "R1 A N 1k\nCY1 N G 1n\nR2 B G 1k\n"
    assert wrong(cards, facts + barrier("field", "logic", stated)) == {("open", "transient-rating-low")}
    assert wrong(cards, facts + barrier("field", "logic", f'{stated}impulse = "2500 V"\n')) == set()


@pytest.mark.parametrize(("name", "leg"), [("PE", True), ("AGND", True), ("0V", True), ("MID", False)])
def test_where_capacitors_meet_at_what_is_named_earth_each_leg_counts_alone(name: str, leg: bool) -> None:
    """Nobody says what it hangs on; the current to it is that of one capacitor and not of two in series.

    Derived: 253 V drives 0.448 mA through 4.7 nF 20 % up at 50 Hz, and half of that through two in series.
    """
    stated = REINFORCED.replace("0.5 mA", "0.3 mA") + 'mains_frequency = "50 Hz"\n'
    facts = SIDES + barrier("field", "logic", stated) + Y2
    found = wrong(f"{ONE}CY1 N {name} 4.7n\nCY2 {name} G 4.7n\n", facts)
    assert (("fail", "touch-current-high") in found or ("open", "touch-current-high") in found) == leg


def test_two_y2_capacitors_in_series_are_no_two_means_of_patient_protection() -> None:
    """Oracle: two Y1 in series are wanted (key `iec-60601-1`); the impulse of what is unfit is left out."""
    stated = f'insulation = "2 MOPP"\nprofile = "iec-60601-1"\ntouch_current = "0.5 mA"\n{MAINS}'
    cards = f"{ONE}CY1 N X 220p\nCY2 X G 220p\n"
    known = record("DEMO_X1", f'{STRONG}means = "2 MOPP"\n')
    assert complaints(cards, SIDES + barrier("field", "logic", stated) + Y2, known) == {("fail", "bridge-capacitor")}
    y1 = Y2.replace("Y2", "Y1")
    assert complaints(cards, SIDES + barrier("field", "logic", stated) + y1, known) == set()


# -- bonds and joints ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("joint", ["R9 G PE 0\n", "C9 G PE 1n\nR9 G PE 1Meg\n", "R9 G PE 100k\n"])
def test_a_y2_to_earth_beside_reinforced_logic_is_judged_by_the_table_of_earth(joint: str) -> None:
    facts = SIDES + EARTH + BOND + Y2 + barrier("field", "logic", REINFORCED.replace("0.5", "3.5"))
    facts += barrier("field", "pe", ONLY_BASIC)
    assert complaints(f"{ONE}CY1 N PE 2.2n\n{joint}", facts) == set()
    assert complaints(f"{ONE}CY1 N G 2.2n\nCY2 N PE 2.2n\n{joint}", facts) == {("fail", "bridge-capacitor")}


def test_bonded_sides_that_nothing_joins_stay_two() -> None:
    facts = SIDES + EARTH + BOND + barrier("field", "logic", REINFORCED)
    report = board(f"{ONE}R9 G PE 1Meg\n", facts)
    assert {one.name for one in report.sides} == {"field", "logic", "pe"}
    assert {one.name for one in board(f"{ONE}R9 G PE 0\n", facts).sides} == {"field", "logic"}


def test_of_several_kinds_of_joined_sides_the_most_dangerous_counts() -> None:
    facts = side("logic", "G", "selv") + side("aux", "AUX", "selv") + side("hot", "N", "mains")
    facts += '[[bonds]]\nbetween = ["aux", "hot"]\n' + barrier("aux", "logic", f'insulation = "basic"\n{SECOND}')
    assert ("fail", "insulation-grade-low") in wrong(f"{ONE}R9 N AUX 0\n", facts)


# -- what is asked and what not ------------------------------------------------------------------------------------


def test_basic_insulation_of_mains_between_two_unknown_sides_never_passes() -> None:
    facts = side("field", "N") + side("logic", "G") + barrier("field", "logic", ONLY_BASIC)
    assert wrong(ONE, facts, record("DEMO_X1", BASIC)) == {("open", "insulation-grade-low")}


def test_a_profile_without_rows_is_open_and_never_borrows() -> None:
    stated = f'profile = "iec-61010-1"\n{REINFORCED}'
    found = wrong(ONE, SIDES + barrier("field", "logic", stated))
    assert ("open", "transient-rating-low") in found or ("open", "distance-short") in found
    assert wrong(ONE, SIDES + barrier("field", "logic", stated.replace("61010", "60664"))) == set()


def test_a_swing_without_its_time_asks_for_it() -> None:
    stated = barrier("field", "logic", f'{REINFORCED}swing = "400 V"\n')
    (result,) = (one for one in board(ONE, SIDES + stated).results if one.rule == "slew-immunity-low")
    assert [fact.key for fact in result.missing] == ["barriers[0].edge_time"]


@pytest.mark.parametrize(
    ("barrier_of", "words"),
    [
        (REINFORCED.replace('"230 V"', '"400 V"').replace("250", "400").replace("358", "600"), "state 231 V as mains"),
        (REINFORCED.replace("category = 2", "category = 1"), "limited before the barrier"),
        (REINFORCED.replace("250", "5000").replace("358", "7100"), "was the one-minute test meant?"),
    ],
)
def test_what_an_engineer_would_ask_about_a_stated_voltage_is_said(barrier_of: str, words: str) -> None:
    report = board(ONE, SIDES + barrier("field", "logic", barrier_of))
    assert any(words in result.message for result in report.results)


POWERED = f"{ONE}R8 V5 G 1k\n"


@pytest.mark.parametrize(
    "facts",
    [
        "",
        side("field", "N") + side("logic", "G"),
        side("field", "N", "selv") + side("logic", "G", "selv"),
        side("field", "N", "selv")
        + side("logic", "G", "selv")
        + barrier("field", "logic", 'insulation = "functional"\n'),
        side("field", "N", "internal") + side("logic", "G", "selv"),
    ],
    ids=["nothing stated", "no kinds", "both safe", "functional", "internal"],
)
def test_circuits_of_a_few_volts_are_asked_nothing_about_strength(facts: str) -> None:
    """A 3.3 V to 3.3 V isolator and an RS-485 node state nothing, and a part without a record offers nothing."""
    bare = record("DEMO_X1", "").replace("[parts.DEMO_X1.insulation]\n", "")
    assert wrong(POWERED, facts, bare) == set()
    assert wrong(POWERED, facts) == set()


def test_a_node_with_basic_insulation_at_50_volts_asks_for_its_distances_alone() -> None:
    stated = 'insulation = "basic"\nworking_voltage = "50 V"\nworking_peak = "71 V"\n'
    facts = side("field", "N", "selv") + side("logic", "G", "selv") + barrier("field", "logic", stated)
    near = STRONG.replace('"8 mm"', '"1.2 mm"').replace('"7 mm"', '"1.2 mm"')
    assert wrong(POWERED, facts, record("DEMO_X1", near)) == set()
    nearer = near.replace("1.2 mm", "0.5 mm")
    assert ("fail", "distance-short") in wrong(POWERED, facts, record("DEMO_X1", nearer))


def test_barriers_of_which_nothing_is_asked_are_listed() -> None:
    notes = board(POWERED, side("field", "N") + side("logic", "G")).notes
    assert any("1 barrier not judged for strength" in note and "field and logic" in note for note in notes)


def test_a_barrier_is_asked_about_once_with_all_its_lines() -> None:
    report = board(ONE, SIDES)
    found = [result for result in report.results if result.kind == "open" and result.rule in RULES]
    assert len(found) == 1
    lines = "\n".join(fact.example for fact in found[0].missing)
    for key in ("insulation", "working_voltage", "mains", "overvoltage_category"):
        assert f"{key} = " in lines


@pytest.mark.parametrize(("withstand", "expected"), [("1500 V", "pass"), ("1000 V", "fail")])
def test_between_safe_sides_only_the_stated_test_is_compared(withstand: str, expected: str) -> None:
    """A powered-device port: 1500 V rms for a minute; a shortfall is a note."""
    stated = barrier("field", "logic", 'insulation = "functional"\nwithstand = "1500 V"\n')
    known = record("DEMO_X1", f'grade = "functional"\nwithstand = "{withstand}"\n')
    sides = side("field", "N", "selv") + side("logic", "G", "selv")
    found = [one for one in board(ONE, sides + stated, known).results if one.rule == "transient-rating-low"]
    (result,) = (one for one in found if one.kind in ("pass", "fail"))
    assert result.kind == expected
    assert result.level == ("none" if expected == "pass" else "note")
    assert result.margin is not None
    assert round(result.margin.value, 2) == (1.0 if expected == "pass" else 0.67)


@pytest.mark.parametrize(
    ("joint", "more", "expected"),
    [
        ("", "", {("fail", "earth-bond-missing")}),
        ("R9 CASE PE 0\n", "", set()),
        ("", "earthed = true\n", set()),
        ("C9 CASE PE 10n\n", "", {("fail", "earth-bond-missing")}),
    ],
    ids=["nothing", "strap", "screw", "capacitor"],
)
def test_metal_behind_basic_insulation_is_joined_to_earth(
    joint: str, more: str, expected: set[tuple[str, str]]
) -> None:
    facts = SIDES + side("case", "CASE", "chassis", more) + EARTH + Y2 + barrier("field", "logic", REINFORCED)
    facts += barrier("field", "case", ONLY_BASIC) + '[[bonds]]\nbetween = ["case", "pe"]\n'
    assert wrong(f"{ONE}R3 PE X 1\nCY1 CASE N 1n\n{joint}", facts) == expected


def test_category_three_on_a_part_for_category_two_fails() -> None:
    weak = record("DEMO_X1", STRONG.replace("8000", "5303"))
    stated = f'insulation = "reinforced"\n{THIRD}'
    assert wrong(ONE, SIDES + barrier("field", "logic", stated), weak) == {("fail", "transient-rating-low")}

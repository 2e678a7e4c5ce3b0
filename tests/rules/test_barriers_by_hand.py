"""Barriers worked out by hand that came out clean, or failed, for the wrong reason: each beside its legal neighbour."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint import app
from tests.rules.test_barrier_traps import (
    BOND,
    EARTH,
    FIELD,
    LOGIC,
    ONE,
    REINFORCED,
    SIDES,
    Y2,
    barrier,
    board,
    complaints,
    record,
    side,
    wrong,
)
from tests.rules.test_insulation import STRONG, THIRD

APART = "R3 L N 1k\nR4 V5 G 1k\n"
STRING = f"R1 N X 4.7Meg\nR2 X G 4.7Meg\n{APART}"
RATED = '[elements."R*"]\nvoltage = "500 V"\n'
HAZARD = side("field", "N", "hazardous") + LOGIC


# -- strings of resistors ------------------------------------------------------------------------------------------


def test_resistors_alone_between_mains_and_what_may_be_touched_ask_for_the_insulation() -> None:
    assert wrong(STRING, SIDES) == {("open", "insulation-grade-low")}
    facts = SIDES + RATED + barrier("field", "logic", REINFORCED)
    assert wrong(STRING, facts) == set()


def test_a_string_of_which_nobody_states_the_voltage_asks_for_it() -> None:
    facts = HAZARD + RATED + barrier("field", "logic", 'insulation = "reinforced"\n')
    assert wrong(STRING, facts) == {("open", "working-voltage-exceeded")}
    stated = barrier("field", "logic", 'insulation = "reinforced"\nworking_voltage = "250 V"\nworking_peak = "250 V"\n')
    assert wrong(STRING, HAZARD + RATED + stated) == set()


@pytest.mark.parametrize("first", ["CY2 N G 1n", "R1 N G 9.4Meg"])
def test_a_resistor_alone_beside_a_capacitor_is_no_two_in_series_whichever_card_comes_first(first: str) -> None:
    second = {"CY2 N G 1n": "R1 N G 9.4Meg", "R1 N G 9.4Meg": "CY2 N G 1n"}[first]
    facts = SIDES + RATED + barrier("field", "logic", REINFORCED)
    assert ("fail", "insulation-grade-low") in wrong(f"{first}\n{second}\n{APART}", facts)


def direct(volts: int, ohms: str, more: str = "", tolerance: str = "1 %") -> set[tuple[str, str]]:
    """What is wrong with two resistors in series over an isolation of so many volts direct."""
    stated = f'insulation = "reinforced"\nworking_voltage = "{volts} V"\nworking_peak = "{volts} V"\n'
    rated = '[elements."R*"]\nvoltage = "5000 V"\n' + (f'tolerance = "{tolerance}"\n' if tolerance else "")
    facts = f'{HAZARD}{rated}[limits]\ninsulating_resistance = "100 kohm"\n'
    facts += barrier("field", "logic", f'{stated}impulse = "2500 V"\n{more}')
    return wrong(f"R7 N X {ohms}\nR8 X G {ohms}\n{APART}", facts)


@pytest.mark.parametrize(
    ("volts", "ohms", "more", "tolerance", "kind"),
    [
        (800, "150k", "", "1 %", "fail"),  # 800 V / (300 kohm - 1 %) = 2.69 mA of 2 mA
        (800, "250k", "", "1 %", ""),  # 1.62 mA
        (810, "205k", "", "", "open"),  # 1.98 mA at nominal values, 2.08 mA at 5 % less
        (800, "250k", 'profile = "iec-62368-1"\n', "1 %", "fail"),  # 3.23 mA with one of them shorted
        (800, "2Meg", 'touch_current = "0.1 mA"\n', "1 %", "fail"),  # 0.202 mA of the stated 0.1 mA
        (800, "250k", 'touch_current = "3.5 mA"\n', "1 %", ""),
        (800, "150k", 'touch_current = "3.5 mA"\n', "1 %", "fail"),
        (800, "250k", 'touch_current_fault = "3 mA"\n', "1 %", "fail"),
    ],
)
def test_direct_current_through_resistors_is_held_to_2_milliamperes(
    volts: int, ohms: str, more: str, tolerance: str, kind: str
) -> None:
    """Derived by Ohm's law against ES1 of direct current (key `iec-62368-1`, from memory)."""
    assert direct(volts, ohms, more, tolerance) == ({(kind, "touch-current-high")} if kind else set())


def test_a_certified_resistor_is_not_shorted() -> None:
    more = (
        'touch_current_fault = "3 mA"\n[elements.R7]\nsafety_resistor = true\n[elements.R8]\nsafety_resistor = true\n'
    )
    assert direct(800, "250k", more) == set()


def test_the_sum_of_direct_current_can_be_redone_by_hand() -> None:
    facts = HAZARD + '[elements."R*"]\nvoltage = "5000 V"\ntolerance = "1 %"\n'
    stated = 'insulation = "reinforced"\nworking_voltage = "800 V"\nworking_peak = "800 V"\nimpulse = "2500 V"\n'
    report = board(f"R7 N X 2Meg\nR8 X G 2Meg\n{APART}", facts + barrier("field", "logic", stated))
    (line,) = (item for one in report.results for item in one.evidence if item.symbol == "I_direct")
    assert line.max == pytest.approx(800.0 / (4e6 * 0.99))
    assert line.formula == "I_direct = U / R = 800 / 3.96e+06 = 0.20202 mA"


# -- joined circuits, each judged by its own table ---------------------------------------------------------------------


@pytest.mark.parametrize("joint", ["R9 G PE 0\n", "R9 G PE 1Meg\n"], ids=["joined", "apart"])
def test_what_leads_to_earth_alone_is_held_to_the_table_of_earth(joint: str) -> None:
    """Derived: category III asks 4000 V of basic insulation and 6000 V of reinforced; a Y2 withstands 5000 V."""
    facts = SIDES + EARTH + BOND + Y2 + barrier("field", "logic", f'insulation = "reinforced"\n{LIMIT}{THIRD}')
    facts += barrier("field", "pe", f'insulation = "basic"\n{LIMIT}{THIRD}')
    assert complaints(f"{ONE}CY1 N PE 2.2n\n{joint}", facts) == set()
    assert complaints(f"{ONE}CY1 N G 2.2n\n{joint}", facts) == {("fail", "bridge-capacitor")}
    bleeder = '[elements."R*"]\nvoltage = "500 V"\nsafety_resistor = true\n'
    assert complaints(f"{ONE}R8 N PE 10Meg\n{joint}", facts + bleeder) == set()
    single = bleeder.replace("safety_resistor = true\n", "")
    assert complaints(f"{ONE}R8 N PE 10Meg\n{joint}", facts + single) == {("open", "insulation-grade-low")}
    assert ("fail", "insulation-grade-low") in complaints(f"{ONE}R8 N G 10Meg\n{joint}", facts + single)


LIMIT = 'touch_current = "3.5 mA"\n'


# -- packages ------------------------------------------------------------------------------------------------------


QUAD = (
    "phototransistor",
    '["anode1", "cathode1", "anode2", "cathode2", "emitter1", "collector1", "emitter2", "collector2"]',
)
PHASES = "XU1 A1 N A2 N2 G O1 G O2 DEMO_Q\nR1 L1 A1 10k\nR2 L2 A2 10k\nR3 V5 O1 10k\nR4 V5 O2 10k\n"


def test_two_phases_at_the_inputs_of_one_package_are_apart_by_what_is_stated_of_its_channels() -> None:
    facts = FIELD + side("other", "N2", "mains") + LOGIC + barrier("field", "logic", REINFORCED)
    facts += barrier("other", "logic", REINFORCED)
    between = 'insulation = "basic"\nworking_voltage = "400 V"\nworking_peak = "620 V"\nmains = "230 V"\n'
    phases = barrier("field", "other", f"{between}overvoltage_category = 2\n")
    assert wrong(PHASES, facts, record("DEMO_Q", STRONG, QUAD)) == set()
    assert wrong(PHASES, facts + phases, record("DEMO_Q", STRONG, QUAD)) == {("open", "insulation-grade-low")}
    own = 'channel_grade = "basic"\nchannel_working_voltage = "400 V"\nchannel_repetitive_peak = "630 V"\n'
    own += 'channel_transient = "4000 V"\nchannel_creepage = "4 mm"\nchannel_clearance = "4 mm"\n'
    assert wrong(PHASES, facts + phases, record("DEMO_Q", STRONG + own, QUAD)) == set()
    near = own.replace('creepage = "4 mm"', 'creepage = "1.2 mm"').replace('clearance = "4 mm"', 'clearance = "1.2 mm"')
    assert ("fail", "distance-short") in wrong(PHASES, facts + phases, record("DEMO_Q", STRONG + near, QUAD))


# -- medical -------------------------------------------------------------------------------------------------------


MEDICAL = 'profile = "iec-60601-1"\nworking_voltage = "250 V"\nworking_peak = "354 V"\nmains = "230 V"\n'
HELD = 'working_voltage = "300 V"\nrepetitive_peak = "424 V"\nwithstand = "4000 V"\n'
HELD += 'creepage = "8 mm"\nclearance = "5 mm"\n'


@pytest.mark.parametrize(
    ("wanted", "certified", "kind"),
    [
        ("2 MOPP", 'means = "2 MOPP"\n', ""),
        ("2 MOPP", 'means = "2 MOOP"\ngrade = "reinforced"\n', "fail"),
        ("2 MOPP", 'means = "1 MOPP"\n', "fail"),
        ("2 MOPP", 'grade = "reinforced"\n', "open"),
        ("1 MOPP", 'means = "2 MOOP"\n', ""),
        ("1 MOPP", 'means = "1 MOOP"\n', "open"),
        ("1 MOPP", 'grade = "basic"\n', "open"),
        ("1 MOPP", 'grade = "reinforced"\n', ""),
        ("2 MOOP", 'means = "2 MOPP"\n', ""),
        ("2 MOOP", 'means = "1 MOOP"\n', "fail"),
    ],
)
def test_a_part_is_what_its_record_says_that_it_is_certified_as(wanted: str, certified: str, kind: str) -> None:
    stated = f'insulation = "{wanted}"\n{MEDICAL}overvoltage_category = 2\ntouch_current = "0.1 mA"\n'
    touched = LOGIC if wanted.startswith("2") else side("logic", "G", "selv", "earthed = true\n")
    found = wrong(ONE, FIELD + touched + barrier("field", "logic", stated), record("DEMO_X1", certified + HELD))
    assert found == ({(kind, "insulation-grade-low")} if kind else set())


# -- what is stated and of no use ----------------------------------------------------------------------------------


def test_what_a_barrier_states_and_nothing_uses_is_told(tmp_path: Path) -> None:
    """The surface of a board without a distance on it, a patient where no medical table counts, a channel."""
    more = 'board_group = "I"\nprinted = true\ntouch_current_fault = "0.1 mA"\n'
    facts = FIELD + side("logic", "G", "selv", 'applied_part = "CF"\n')
    facts += barrier("field", "logic", f"{REINFORCED}{more}")
    known = record("DEMO_X1", f'{STRONG}channel_grade = "basic"\n')
    (tmp_path / "board.cir").write_text(f"* board\n{ONE}.end\n", encoding="utf-8")
    (tmp_path / "isolint.toml").write_text(f'top = true\nparts = ["p.toml"]\n{facts}', encoding="utf-8")
    (tmp_path / "p.toml").write_text(known, encoding="utf-8")
    rows, crashed = app.facts(str(tmp_path / "board.cir"), app.Options(root=str(tmp_path)))
    told = {key.rpartition(".")[2] for key, _, origin in rows if "not used: nothing in this netlist asks" in origin}
    assert not crashed
    assert {"board_group", "printed", "touch_current_fault", "applied_part", "channel_grade"} <= told
    assert not {"insulation", "mains", "working_voltage", "grade", "creepage"} & told

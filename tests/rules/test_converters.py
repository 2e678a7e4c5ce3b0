"""The load of a converter against its rating."""

from __future__ import annotations

from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["0 degC", "60 degC"]
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
"""
RECORDS = """
[parts.DEMO_CV]
type = "isolated-supply"
pins = ["in+", "in-", "out+", "out-"]
groups = [["in+", "in-"], ["out+", "out-"]]
[parts.DEMO_CV.output]
voltage = ["4.9 V", "5.1 V"]
{}
[parts.DEMO_LD]
type = "digital-isolator"
pins = ["vdd1", "in", "gnd1", "vdd2", "out", "gnd2"]
groups = [["vdd1", "in", "gnd1"], ["vdd2", "out", "gnd2"]]
[parts.DEMO_LD.supply]
voltage = ["3 V", "5.5 V"]
{}
"""
RATED = 'current_max = "200 mA"'
TAKES = 'current = "60 mA"'
HEAD = "* board\nXPS1 V24 GND VISO GNDB DEMO_CV\n"
THREE = "".join(f"XU{number} V5 D{number} GND VISO Y{number} GNDB DEMO_LD\n" for number in (1, 2, 3))
LOAD = '[supplies."VISO"]\nload = "{}"\n'


def told(cards: str, facts: str = "", rating: str = RATED, takes: str = TAKES) -> tuple[str, float | None, list[str]]:
    """Kind, margin and missing keys of what the rule says."""
    report = judge(HEAD + cards, FACTS + facts, None, **{"parts.toml": RECORDS.format(rating, takes)})
    result = only(report, "converter-overloaded")
    return result.kind, result.margin and round(result.margin.value, 3), [fact.key for fact in result.missing]


def test_supply_currents_and_the_stated_rest_add_up() -> None:
    # 3 * 60 mA + 40 mA = 220 mA of 200 mA
    assert told(THREE, LOAD.format("40 mA")) == ("fail", 0.909, [])
    assert told(THREE, LOAD.format("20 mA")) == ("pass", 1.0, [])


def test_a_resistor_to_the_return_takes_its_largest_current() -> None:
    # 5.1 V / (25 ohm * 0.99) = 206 mA
    exact = '[elements."R1"]\ntolerance = "1 %"\n'
    assert told("R1 VISO GNDB 25\n", exact) == ("fail", 0.971, [])
    assert told("R1 VISO GNDB 26\n", exact) == ("pass", 1.009, [])


def test_what_nobody_explained_is_asked_for_unless_the_known_part_is_too_much() -> None:
    assert told("D1 VISO GNDB LAMP\n.model LAMP D\n") == ("open", None, ['supplies."VISO".load'])
    exact = '[elements."R1"]\ntolerance = "1 %"\n'
    assert told("R1 VISO GNDB 20\nD1 VISO GNDB LAMP\n.model LAMP D\n", exact)[0] == "fail"


def test_supply_currents_that_nobody_stated_leave_it_open() -> None:
    # 170 mA and three times 0 to 10 mA: exactly the rating at worst; one more milliampere flips it
    assert told(THREE, LOAD.format("170 mA"), takes="")[0] == "pass"
    kind, _, missing = told(THREE, LOAD.format("171 mA"), takes="")
    assert (kind, missing) == ("open", ["parts.DEMO_LD.supply.current"])


def unrated(cards: str, takes: str = "", facts: str = "") -> list[tuple[str, str, list[str]]]:
    """Subject, kind and missing keys of what is said of converters whose rating nobody states."""
    report = judge(HEAD + cards, FACTS + facts, None, **{"parts.toml": RECORDS.format("", takes)})
    mine = [result for result in report.results if result.rule == "converter-overloaded"]
    return [(result.subject, result.kind, [fact.key for fact in result.missing]) for result in mine]


def test_without_a_rating_it_is_asked_for_once_a_name_where_something_is_taken() -> None:
    asked = [("XPS1", "open", ["parts.DEMO_CV.output.current_max"])]
    assert unrated("R1 VISO GNDB 100\n") == asked
    assert unrated(THREE, TAKES) == asked
    assert unrated("C1 VISO GNDB 1u\n", facts=LOAD.format("10 mA")) == asked
    second = "XPS2 V24 GND VJ GNDB DEMO_CV\nR2 VJ GNDB 100\n"
    assert unrated(f"R1 VISO GNDB 100\n{second}") == [*asked, ("XPS2", "notApplicable", [])]


def test_without_a_rating_nothing_is_asked_where_nobody_says_what_is_taken() -> None:
    assert unrated("C1 VISO GNDB 1u\n") == []
    assert unrated(THREE) == []
    assert unrated("D1 VISO GNDB LAMP\n.model LAMP D\n") == []


def test_a_resistor_that_leads_elsewhere_takes_up_to_twice_the_voltage() -> None:
    # 2 * 5.1 V / (50 ohm * 0.99) = 206 mA at most, perhaps nothing
    exact = '[elements."R1"]\ntolerance = "1 %"\n'
    lamp = "D1 A GNDB LAMP\n.model LAMP D\n"
    assert told(f"R1 VISO A 50\n{lamp}", exact) == ("open", 0.971, ['supplies."VISO".load'])
    assert told(f"R1 VISO A 52\n{lamp}", exact) == ("pass", 1.009, [])


def test_a_stated_load_leaves_the_voltage_to_the_record() -> None:
    # 5.1 V / (100 ohm * 0.99) + 150 mA = 201.5 mA
    exact = LOAD.format("150 mA") + '[elements."R1"]\ntolerance = "1 %"\n'
    assert told("R1 VISO GNDB 100\n", exact) == ("fail", 0.992, [])

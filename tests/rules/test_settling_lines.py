"""Open results about loads: one for each missing fact, and the line that it prints settles it."""

from __future__ import annotations

import tomllib

from isolint.results import NetlistReport, Result
from tests.answers import answered
from tests.rules.test_receivers import FACTS as WITH_PARTS
from tests.rules.test_receivers import INPUT, LED, MODELS
from tests.support import complaints, judge, only

FACTS = WITH_PARTS.replace('parts = ["parts.toml"]\n', "")
PLAIN = f"{LED}XU1 A GND GNDB OUT DEMO_PT1\n"
PULLED_UP = f"{PLAIN}R2 VB OUT 22k\n"
RELAY = f"{PLAIN}XK1 V24 OUT COM NO DEMO_KX\nD1 OUT V24 DX\n.model DX D(IS=1n)\n"
BARE_RELAY = """
[parts.DEMO_KX]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_KX.coil]
internal_clamp = false
"""
FED = FACTS.replace('[supplies."VB"]\nvoltage = "5 V"\ntolerance = "5 %"\nground = "GNDB"\n', "")


def opens(report: NetlistReport) -> list[Result]:
    return [result for result in report.results if result.kind == "open"]


def test_what_reads_a_net_is_asked_with_the_supply_and_the_levels_of_its_pull_up() -> None:
    (found,) = opens(judge(PULLED_UP, FACTS))
    (fact,) = found.missing
    stated = tomllib.loads(answered(fact.example))
    assert stated == {"inputs": {"OUT": {"supply": "VB", "low_max": "1.5 V", "high_min": "3.5 V"}}}
    assert opens(judge(PULLED_UP, f"{FACTS}{answered(fact.example)}\n")) == []


def test_a_supply_that_nobody_states_is_asked_for_once() -> None:
    (found,) = opens(judge(PULLED_UP.replace("VB", "RAIL"), f'{FED}{INPUT}voltage_max = "5.5 V"\n'))
    assert found.rule == "load-missing"
    assert [fact.key for fact in found.missing] == ['supplies."RAIL".voltage']


def test_every_figure_that_a_relay_s_record_lacks_is_asked_for_by_its_line() -> None:
    record, asked = BARE_RELAY, []
    for _ in range(2):
        wanted = {}
        for found in opens(judge(RELAY, WITH_PARTS, parts__toml=record)):
            (fact,) = found.missing
            wanted[found.rule] = fact.key.removeprefix("parts.DEMO_KX.coil.")
            record += answered(fact.example).split("\n", 1)[1] + "\n"
        asked.append(wanted)
    # Without its resistance nothing that reaches the coil is judged; then each rule asks for the figure of its own.
    assert asked == [
        {"led-not-off": "resistance"},
        {"led-not-off": "pull_in", "coil-overvoltage": "voltage", "drop-out-missed": "drop_out"},
    ]
    assert opens(judge(RELAY, WITH_PARTS, parts__toml=record)) == []


def test_a_led_current_below_its_curve_is_asked_for_once_by_a_curve_that_reaches_it() -> None:
    weak = PULLED_UP.replace("R1 DRIVE A 470", "R1 DRIVE A 12k").replace("22k", "82k")
    assert weak != PULLED_UP
    (found,) = opens(judge(weak, f"{FACTS}{INPUT}"))
    (fact,) = found.missing
    points = tomllib.loads(answered(fact.example))["parts"]["DEMO_PT1"]["transfer"]["versus_current"]
    assert points[:2] == [["0.2 mA", 0.16], ["0.5 mA", 0.4]]


def test_dark_current_at_a_base_is_cured_there() -> None:
    netlist = f"{LED}XU1 A GND B VB DEMO_PT1\nR3 B BB 10k\nQ1 OUT BB GNDB QN\nR2 VB OUT 10k\n{MODELS}"
    hot = FACTS.replace('["25 degC", "25 degC"]', '["25 degC", "85 degC"]')
    found = only(judge(netlist, f"{hot}{INPUT}"), "dark-current-high")
    assert found.kind == "fail"
    assert found.remedy.startswith("a resistor, or a smaller one, from base to emitter of Q1")


def test_of_a_phototriac_that_switches_nothing_the_led_is_judged_all_the_same() -> None:
    parts = """
[parts.DEMO_TX]
type = "phototriac"
pins = ["anode", "cathode", "terminal1", "terminal2"]
[parts.DEMO_TX.trigger]
current_max = "5 mA"
"""
    netlist = "* demonstration\nR1 DRIVE A {ohms}\nXU1 A GND T1 T2 DEMO_TX\nR2 T1 GNDB 1k\n"
    weak = judge(netlist.format(ohms="820"), WITH_PARTS, parts__toml=parts)
    assert [rule for rule, *_ in complaints(weak)] == ["led-underdriven", "load-missing"]
    sound = judge(netlist.format(ohms="360"), WITH_PARTS, parts__toml=parts)
    assert [(rule, kind) for rule, kind, _ in complaints(sound)] == [("load-missing", "fail")]
    assert only(sound, "led-underdriven").kind == "pass"
    assert only(sound, "transfer-margin-low").kind == "notApplicable"


def test_of_a_field_line_only_the_state_that_nobody_stated_is_asked_for() -> None:
    netlist = "* demonstration\nR1 IN A 2.2k\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 22k\n"
    (found,) = opens(judge(netlist, f'{FACTS}{INPUT}[lines."IN"]\non = ["18 V", "30 V"]\n'))
    (fact,) = found.missing
    assert tomllib.loads(answered(fact.example)) == {"lines": {"IN": {"off": ["-3 V", "5 V"]}}}


def test_a_backslash_in_a_net_is_escaped_once_in_every_line_that_is_printed() -> None:
    """Some lines are quoted where they are made, the others where they are kept: none may be quoted twice."""
    sources = "V1 D1 GND 5\nV2 VB G\\B 5\n"
    board = f"* t\nR1 D1 A 470\nXU1 A GND G\\B Q1 DEMO_PT1\nR2 VB Q1 10k\n{sources}C9 GND G\\B 1n\n"
    examples = [fact.example for result in opens(judge(board)) for fact in result.missing if "\\" in fact.example]
    assert any("[[barriers]]" in example for example in examples)
    assert any("[inputs." in example for example in examples)
    for example in examples:
        stated = tomllib.loads(example)
        names = {*stated.get("inputs", ()), *stated.get("sides", ())}
        assert "G\\B" in names, example


def test_a_net_at_the_pull_up_may_be_a_supply_only_while_no_supply_of_its_side_is_known() -> None:
    """VB stands on no card: by its stated ground it is of the output's side, V5 is of the other."""
    netlist = f"{PLAIN}R2 RAIL OUT 22k\n"
    other = FED.replace('[supplies."V24"]\nvoltage = "24 V"\ntolerance = "10 %"\nground = "GNDB"\n', "")
    assert other != FED
    assert 'ground = "GNDB"' not in other
    asked = only(judge(netlist, other), "load-missing")
    assert (asked.kind, [fact.key for fact in asked.missing]) == ("open", ['supplies."RAIL".voltage'])
    assert only(judge(netlist, FED), "load-missing").kind == "fail"


def test_a_net_that_an_isolated_supply_feeds_is_asked_for_its_voltage_and_is_no_missing_load() -> None:
    converter = '[parts.DEMO_DC]\ntype = "isolated-supply"\npins = ["vin+", "vin-", "vout+", "vout-"]\n'
    netlist = f"{PLAIN}R2 RAIL OUT 22k\nXP1 V5 GND RAIL GNDB DEMO_DC\nC9 V5 GND 1u\n"
    bare, lacking = opens(judge(netlist, f"{WITH_PARTS}{INPUT}", parts__toml=converter))
    assert (bare.rule, [fact.key for fact in bare.missing]) == ("load-missing", ['supplies."RAIL".voltage'])
    assert (lacking.rule, lacking.subject) == ("supply-out-of-range", "XP1")
    (fact,) = lacking.missing
    assert fact.key == "parts.DEMO_DC.supply.voltage"
    converter += answered(fact.example) + "\n"
    (found,) = opens(judge(netlist, f"{WITH_PARTS}{INPUT}", parts__toml=converter))
    assert (found.rule, [fact.key for fact in found.missing]) == ("load-missing", ['supplies."RAIL".voltage'])
    stated = '[supplies."RAIL"]\nvoltage = "5 V"\ntolerance = "5 %"\nground = "GNDB"\n'
    assert complaints(judge(netlist, f"{WITH_PARTS}{INPUT}{stated}", parts__toml=converter)) == []
    turned = netlist.replace("V5 GND RAIL GNDB DEMO_DC", "RAIL GNDB V5 GND DEMO_DC")
    failed = [rule for rule, kind, _ in complaints(judge(turned, f"{WITH_PARTS}{INPUT}", parts__toml=converter))]
    assert "load-missing" in failed

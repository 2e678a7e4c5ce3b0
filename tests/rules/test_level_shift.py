"""A coupler that shifts a level over one ground on purpose: once stated it is information; all else is judged still."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.support import judge, only

CARDS = "* level shifter over one ground\nR1 DO A 560\nXU1 A GND GND DI DEMO_PT9\nR2 V12 DI 10k\n.end\n"
PART = """[parts.DEMO_PT9]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
source = "invented for the test"
[parts.DEMO_PT9.led]
technology = "GaAs"
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
off_voltage = "0.8 V"
off_current = "20 uA"
[parts.DEMO_PT9.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]
versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]
ageing = { remaining = 0.8 }
[parts.DEMO_PT9.output]
voltage_max = "70 V"
current_max = "50 mA"
power_max = "150 mW"
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
"""
FACTS = """parts = ["p.toml"]
environment = { ambient = ["0 degC", "50 degC"], life = "10 year", duty = 1.0 }
elements."R*" = { tolerance = "1 %", power = "0.25 W" }
supplies.V5 = { voltage = "5 V", tolerance = "5 %", ground = "GND" }
supplies.V12 = { voltage = "12 V", tolerance = "5 %", ground = "GND" }
[outputs.DO]
supply = "V5"
drive = "push-pull"
high = { min = "4.2 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
[inputs.DI]
supply = "V12"
low_max = "3 V"
high_min = "8 V"
low_current = "1 uA"
high_current = "1 uA"
hysteresis = true
"""
OFFER = 'insulation = "functional"'


def sides(far: str, kind: str = "", insulation: str = "functional") -> str:
    """The two circuits and what lies between them, the far one known by a net."""
    known = f'kind = "{kind}"\n' if kind else ""
    return (
        f'[sides.near]\nnets = ["GND"]\nkind = "selv"\n[sides.far]\nnets = ["{far}"]\n{known}'
        f'[[barriers]]\nbetween = ["near", "far"]\ninsulation = "{insulation}"\n'
    )


def board(stated: str, cards: str = CARDS) -> NetlistReport:
    return judge(cards, FACTS + stated, p__toml=PART)


def wrong(report: NetlistReport) -> set[tuple[str, str]]:
    """Rule and level of what fails, rule and kind of what is open."""
    return {
        (one.rule, (one.level or "") if one.kind == "fail" else one.kind)
        for one in report.results
        if one.kind in ("fail", "open")
    }


def test_a_common_ground_of_which_nothing_is_said_is_an_error_that_says_how_to_state_it() -> None:
    found = board("")
    assert wrong(found) == {("ground-tie", "error")}
    assert OFFER in only(found, "ground-tie", "fail").remedy


@pytest.mark.parametrize("far", ["GND", "V12"])
def test_stated_as_functional_it_is_information(far: str) -> None:
    found = board(sides(far))
    assert {level for _, level in wrong(found)} == {"note"}
    assert "ground-tie" in {rule for rule, _ in wrong(found)}
    assert only(found, "transfer-margin-low").kind == "pass"
    assert all(OFFER not in one.remedy for one in found.results)


@pytest.mark.parametrize(
    ("card", "changed", "rule"),
    [
        ("R2 V12 DI 10k", "R2 V12 DI 1k", "transfer-margin-low"),
        ("R1 DO A 560", "R1 DO A 56k", "transfer-margin-low"),
        ("XU1 A GND GND DI", "XU1 GND A GND DI", "led-reversed"),
        ("XU1 A GND GND DI", "XU1 A GND DI GND", "output-reversed"),
        ("R2 V12 DI 10k", "R2 GND DI 10k", "load-missing"),
    ],
)
def test_what_is_stated_as_wanted_hides_no_other_fault(card: str, changed: str, rule: str) -> None:
    assert (rule, "error") in wrong(board(sides("V12"), CARDS.replace(card, changed)))


@pytest.mark.parametrize("kind", ["mains", "hazardous"])
def test_it_is_no_way_out_beside_a_hazard(kind: str) -> None:
    assert ("insulation-grade-low", "error") in wrong(board(sides("V12", kind)))
    told = board(f'[sides.far]\nnets = ["V12"]\nkind = "{kind}"\n')
    tie = only(told, "ground-tie", "fail")
    assert tie.level == "error"
    assert OFFER not in tie.remedy


@pytest.mark.parametrize("grade", ["basic", "reinforced"])
def test_nor_where_insulation_is_asked_for(grade: str) -> None:
    tie = only(board(sides("V12", "selv", grade)), "ground-tie", "fail")
    assert tie.level == "error"
    assert OFFER not in tie.remedy


def test_a_claim_that_nothing_isolates_does_not_count_beside_a_coupler() -> None:
    found = wrong(board('[reading]\nisolation = "none"\n'))
    assert {("ground-tie", "error"), ("part-unknown", "open")} <= found

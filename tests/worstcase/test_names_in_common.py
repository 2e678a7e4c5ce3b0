"""Nets and elements may have one name (`D1` is a pin of a controller and a diode): the solver keeps them apart."""

from __future__ import annotations

import re

import pytest

from tests.checking.boards import FACTS, SOUND
from tests.support import judge


def kinds(netlist: str, facts: str) -> list[tuple[str, str, float | None]]:
    """Rule, kind and margin of every result."""
    return [
        (result.rule, result.kind, None if result.margin is None else round(result.margin.value, 6))
        for result in judge(netlist, facts).results
    ]


@pytest.mark.parametrize("element", ["R1", "R2", "XU1"])
@pytest.mark.parametrize("net", ["DRIVE", "OUT", "A", "VB", "GNDB", "GND", "V5"])
def test_a_net_that_is_called_as_an_element_is_judged_as_any_other(net: str, element: str) -> None:
    renamed = re.sub(rf"\b{net}\b", element, SOUND)
    facts = re.sub(rf'"{net}\*?"', f'"{element}"', FACTS)
    assert kinds(renamed, facts) == kinds(SOUND, FACTS)


def test_an_output_that_is_called_as_an_element_is_asked_for_by_its_own_name() -> None:
    facts = FACTS.replace('"DRIVE*"', '"R1"').replace('source_max = "16 mA"\n', "")
    missing = [fact.key for result in judge(SOUND.replace("DRIVE", "R1"), facts).results for fact in result.missing]
    # What is asked of the barrier names no net.
    assert [key for key in missing if not key.startswith("barriers")] == ['outputs."R1".source_max']


def test_an_ac_supply_that_is_called_as_its_resistor_is_judged_as_any_other() -> None:
    facts = (
        '[supplies."L"]\nvoltage = "230 V"\nkind = "ac"\nfrequency = "50 Hz"\nground = "N"\n'
        '[supplies."VB"]\nvoltage = "5 V"\nground = "GNDB"\n[environment]\nambient = ["0 degC", "60 degC"]\n'
    )
    netlist = "* mains\nR1 L A 47k\nD1 N A DX\nXU1 A N GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n.model DX D\n"
    renamed = netlist.replace(" L ", " R1 "), facts.replace('"L"', '"R1"')
    assert kinds(*renamed) == kinds(netlist, facts)

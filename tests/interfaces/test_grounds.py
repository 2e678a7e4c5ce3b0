"""References: the stated ones first, a name last; what is joined to one below 10 ohm is one."""

from __future__ import annotations

import pytest

from tests.interfaces.finding import FoundBoard, board

STATED = (
    '[supplies."V5"]\nvoltage = "5 V"\nground = "GND"\n'
    '[outputs."DRIVE"]\nsupply = "V5"\n'
    '[supplies."VB"]\nvoltage = "5 V"\nground = "GNDB"\n'
)
LOAD = "R2 VB OUT 10k\n"


def held(found: FoundBoard, net: str) -> str | None:
    at = found.circuit.find_net(net)
    assert at is not None, net
    holder = found.walker.held(at)
    return None if holder is None else holder.kind


def led(cards: str, facts: str = STATED) -> FoundBoard:
    return board(f"R1 DRIVE A 470\n{LOAD}{cards}", facts)


@pytest.mark.parametrize("name", ["GNDX", "AGND", "VSS", "COM", "EARTH", "0", "0V", "DGND"])
def test_a_name_is_no_reference_beside_the_stated_one_that_stands_on_no_card(name: str) -> None:
    assert held(led(f"XU1 A {name} GNDB OUT DEMO_PT1"), name) is None


@pytest.mark.parametrize("name", ["GNDX", "AGND", "VSS", "0"])
def test_a_name_is_no_reference_beside_the_stated_one_on_its_side(name: str) -> None:
    found = led(f"XU1 A {name} GNDB OUT DEMO_PT1\nR8 DRIVE GND 10k")
    assert (held(found, name), held(found, "GND")) == (None, "ground")


@pytest.mark.parametrize(
    ("card", "kind"),
    [
        ("R9 GNDX GND 0", "ground"),
        ("R9 GNDX GND 9.9", "ground"),
        ("R9 GNDX GND 10", None),
        ("R9 GNDX GND 10k", None),
        ("L9 GNDX GND 1u", "ground"),
        ("V9 GNDX GND 0", "ground"),
        ("V9 GNDX GND 1", "supply"),
        ("C9 GNDX GND 1u", None),
        ("D9 GNDX GND DX", None),
        ("XNT1 GNDX GND NETTIE", "ground"),
        ("R9 GNDX M 6\nR8 M GND 6", None),
        ("R9 GNDX M 4\nR8 M GND 4", "ground"),
    ],
)
def test_what_joins_a_name_to_the_reference_below_10_ohm_makes_one_of_it(card: str, kind: str | None) -> None:
    assert held(led(f"XU1 A GNDX GNDB OUT DEMO_PT1\n{card}"), "GNDX") == kind


def test_a_name_is_assumed_where_nothing_is_stated_of_its_side() -> None:
    found = board(f"R1 DRIVE A 470\n{LOAD}XU1 A AGND GNDB OUT DEMO_PT1", '[outputs."DRIVE"]\nsupply = "V5"\n')
    assert held(found, "AGND") == "ground"


def test_of_two_names_the_one_that_sources_return_to_is_assumed() -> None:
    found = board(f"V1 VCC 0 5\nR1 VCC A 470\n{LOAD}XU1 A GND GNDB OUT DEMO_PT1\nR7 GND A 1k\nR8 GND A 1k")
    assert (held(found, "0"), held(found, "GND"), held(found, "VCC")) == ("ground", None, "supply")


def test_of_two_names_without_sources_the_one_with_most_pins_is_assumed() -> None:
    found = board(f"R1 VCC A 470\n{LOAD}XU1 A AGND GNDB OUT DEMO_PT1\nR7 GND A 1k\nR8 GND A 1k")
    assert (held(found, "GND"), held(found, "AGND")) == ("ground", None)


def test_nets_that_a_stated_side_names_are_all_references() -> None:
    side = '[sides.logic]\nnets = ["GND", "PGND*"]\n'
    found = led("XU1 A PGND2 GNDB OUT DEMO_PT1\nR8 DRIVE GND 10k", STATED + side)
    assert (held(found, "GND"), held(found, "PGND2")) == ("ground", "ground")


def test_a_source_that_returns_to_a_mere_name_holds_nothing() -> None:
    found = led("XU1 A GND GNDB OUT DEMO_PT1\nV1 DRV GNDX 5\nR9 DRV A 1k")
    assert (held(found, "GNDX"), held(found, "DRV")) == (None, None)


NAMED = '[sides.logic]\nnets = ["{}"]\n'
SOURCED = f"V1 V5 GND 5\nR1 V5 A 470\n{LOAD}"


@pytest.mark.parametrize(
    ("cards", "facts", "net"),
    [
        (f"R1 DRIVE A 470\n{LOAD}XU1 A GND GNDB OUT DEMO_PT1", STATED, "A"),
        (f"R1 V5 A 470\n{LOAD}XU1 A SW GNDB OUT DEMO_PT1", STATED, "SW"),
        (f"{SOURCED}XU1 A SW GNDB OUT DEMO_PT1", "", "SW"),
        (f"{SOURCED}XU1 A GND GNDB OUT DEMO_PT1", "", "A"),
        (f"R1 FIELD A 470\n{LOAD}XU1 A BACK GNDB OUT DEMO_PT1", "", "A"),
    ],
    ids=["output", "stated supply", "source", "source's resistor", "no ground at all"],
)
def test_a_signal_by_which_a_side_is_named_is_not_at_0_v(cards: str, facts: str, net: str) -> None:
    assert held(board(cards, facts + NAMED.format(net)), net) is None


@pytest.mark.parametrize(
    ("cards", "facts"),
    [
        (f"R1 FIELD A 470\n{LOAD}XU1 A BACK GNDB OUT DEMO_PT1", ""),
        (f"V1 V24 BACK 24\nV2 VX GNDX 5\nR8 VX V24 1k\nR1 V24 A 470\n{LOAD}XU1 A BACK GNDB OUT DEMO_PT1", ""),
    ],
    ids=["a line's", "a source's"],
)
def test_a_return_without_the_name_of_a_ground_is_one_where_its_side_says_so(cards: str, facts: str) -> None:
    assert held(board(cards, facts + NAMED.format("BACK")), "BACK") == "ground"

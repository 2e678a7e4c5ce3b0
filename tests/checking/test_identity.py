"""Fingerprints: stable against what a re-export changes, different for different faults."""

from __future__ import annotations

import pytest

from tests.checking.boards import FACTS, SECOND, SOUND, core

FAULTY = SOUND.replace("470", "47") + SECOND.replace("10k", "1k") + "R9 GND GNDB 0\n"


def marks(netlist: str, facts: str = FACTS) -> set[str]:
    """The fingerprints of all failures and open results."""
    return {result.fingerprint for result in core(netlist, facts) if result.kind in ("fail", "open")}


def test_every_failure_has_a_mark_of_its_own() -> None:
    failed = [result for result in core(FAULTY) if result.kind == "fail"]
    assert [result.rule for result in failed] == ["led-overdriven", "transfer-margin-low", "ground-tie"]
    assert len({result.fingerprint for result in core(FAULTY)}) == len(core(FAULTY))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("R1 DRIVE A 47\n", "* a remark\n\nR1 DRIVE A 47\n"),
        ("R1 DRIVE A 47\n", "R1 DRIVE A 51\n"),
        ("R1 DRIVE A 47\n", "r1 drive a 47\n"),
        ("R9 GND GNDB 0\n", "R9 GNDB GND 0.01\n"),
        (" A ", " N00042 "),
        (" A2 ", " Net-_R11-Pad2_ "),
    ],
)
def test_it_survives_moved_lines_other_values_and_names_of_nets_between(before: str, after: str) -> None:
    assert before in FAULTY
    assert marks(FAULTY.replace(before, after)) == marks(FAULTY)


def test_order_of_cards_does_not_change_it() -> None:
    title, *cards = FAULTY.splitlines()
    assert marks("\n".join([title, *cards[::-1]]) + "\n") == marks(FAULTY)


def test_renaming_the_coupler_changes_it() -> None:
    assert marks(FAULTY.replace("XU1", "XU7")) != marks(FAULTY)


def test_it_does_not_depend_on_the_path_of_the_netlist() -> None:
    result = next(result for result in core(FAULTY) if result.kind == "fail")
    assert "board.cir" not in f"{result.subject}{result.role}"


def test_a_barrier_without_stated_sides_is_known_by_the_pins_that_face_each_other() -> None:
    bare = "* t\nV1 IN G1 24\nR1 IN A 2.2k\nXU1 A G1 G2 OUT DEMO_PT1\nV2 VC G2 5\nR2 VC OUT 10k\n"
    subjects = {result.subject for result in core(bare, "") if result.rule == "ground-tie"}
    assert subjects == {"XU1.anode+cathode | XU1.emitter+collector"}
    assert {result.subject for result in core(bare.replace("G1", "N1"), "") if result.rule == "ground-tie"} == subjects


def test_a_bridge_is_known_by_its_elements_and_a_tie_by_the_stated_sides() -> None:
    bridge = next(result for result in core(SOUND + "R9 A OUT 4.7k\n") if result.kind == "fail")
    tie = next(result for result in core(SOUND + "R9 GND GNDB 0\n") if result.kind == "fail")
    assert (bridge.subject, tie.subject) == ("R9", "field | logic")


def test_remarks_of_the_reader_are_told_apart_without_their_values() -> None:
    one = next(
        result for result in core(SOUND + "R7 VB\n") if result.rule == "netlist-malformed" and result.kind == "fail"
    )
    moved = next(
        result
        for result in core("* t\n\n\n" + SOUND + "R7 V5\n")
        if result.rule == "netlist-malformed" and result.kind == "fail"
    )
    assert one.fingerprint == moved.fingerprint
    assert not any(char.isdigit() for char in one.role)

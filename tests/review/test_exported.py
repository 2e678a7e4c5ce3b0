"""Netlists that a schematic tool writes: cures are for the schematic, no line is offered that an export would undo."""

from __future__ import annotations

from isolint.review.review_words import because
from tests.review.comparing import BOARD, SETTINGS, changed, files, only, reviewed

EXPORTED = f"{SETTINGS}[reading]\nexported = true\n"


def test_the_cure_of_an_exported_netlist_is_in_the_schematic_and_no_line_is_offered() -> None:
    written, exported = (
        only(changed("OUT 10k", "OUT 1k", settings=settings, cures=True)) for settings in (SETTINGS, EXPORTED)
    )
    assert written.suggestion is not None and exported.suggestion is None
    assert exported.cure == f"in the schematic: {written.cure}" and "R2 (board.cir:4)" in written.cure
    assert because(exported.cause) == because(written.cause) and exported.anchors == written.anchors


def test_a_netlist_that_is_stated_to_be_written_by_hand_has_its_cures_as_ever() -> None:
    by_hand = only(
        changed("OUT 10k", "OUT 1k", settings=EXPORTED.replace("exported = true", "exported = false"), cures=True)
    )
    assert by_hand.suggestion is not None and not by_hand.cure.startswith("in the schematic")


def test_to_state_it_is_a_change_of_policy_and_no_cause() -> None:
    review = reviewed(files(), files(BOARD.replace("OUT 10k", "OUT 1k"), EXPORTED))
    assert [change.what for change in review.policy] == ["reading.exported"]
    assert because(only(review).cause) == "because R2 went from 10 kohm to 1 kohm"

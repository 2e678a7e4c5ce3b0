"""What is not read says how much is lost: an error where it names two nets of the circuit, else a note."""

from __future__ import annotations

import pytest

from isolint.netlist import Note
from tests.netlist.reading import deck, elements, notes, only_note, read_text

BOARD = ["R1 GND a 1k", "R2 GNDF b 1k"]
JOINT = "R9 GND GNDF 0"

LOST = {
    "a strange first character": [f"@{JOINT}"],
    "a bare word in front": [f"?? {JOINT}"],
    "an unknown card": [".tie GND GNDF"],
    "behind the end": [".end", JOINT],
    "behind the end and a subcircuit": [".end", ".subckt S x y", "R1 x y 1", ".ends", JOINT],
    "in an unclosed subcircuit": [".subckt S a b", "R1 a b 1", JOINT],
    "in an inner subcircuit that is not closed": [
        ".subckt O GND GNDF",
        "R8 GND GNDF 1",
        ".subckt I x",
        JOINT,
        ".ends O",
    ],
    "in an unclosed control block": [".control", "run", JOINT],
    "in a control block that only the end closes": [".control", "run", JOINT, ".end"],
    "in an unclosed condition": [".if (0)", JOINT],
    "in an unclosed block of data": [".data x", JOINT],
}


def _worst(lines: list[str]) -> Note:
    cards = read_text(deck(*BOARD, *lines))
    assert [line for line in elements(cards) if "R9" in line] == []
    return only_note(cards)


@pytest.mark.parametrize("kind", LOST)
def test_a_line_that_is_lost_and_names_two_nets_is_an_error(kind: str) -> None:
    note = _worst(LOST[kind])
    assert (note.level, note.strict) == ("error", True)
    assert "but names the nets GND, GNDF" in note.message


@pytest.mark.parametrize("kind", LOST)
def test_a_line_that_is_lost_and_names_one_net_is_a_note_that_strict_counts(kind: str) -> None:
    note = _worst(
        [line.replace("GND GNDF 0", "GND elsewhere 0").replace(".tie GND GNDF", ".tie GND x") for line in LOST[kind]]
    )
    assert (note.level, note.strict) == ("note", True)


def test_a_continuation_of_nothing_that_names_two_nets_is_an_error() -> None:
    cards = read_text(deck("+ GND GNDF 0", *BOARD))
    assert only_note(cards).level == "error"


def test_numbers_in_a_sentence_are_no_nets() -> None:
    cards = read_text(deck("R1 4 5 1k", "R2 5 100 1k", "Rise time tr VCC = 5 V, RL = 100 ohm 4 18 us"))
    assert only_note(cards).level == "note"
    cards = read_text(deck("R1 4 5 1k", "R2 5 100 1k", "@R3 4 5 1k"))
    assert only_note(cards).level == "error"


def test_little_words_of_a_sentence_are_no_nets() -> None:
    cards = read_text(deck("R1 a in 1k", "The current of a LED in the test circuit, see page 4."))
    assert only_note(cards).level == "note"


def test_what_is_measured_joins_nothing() -> None:
    cards = read_text(deck(*BOARD, ".fprobe v(GND) v(GNDF) i(R1)"))
    assert only_note(cards).level == "note"


def test_a_ruler_is_no_card_that_strict_counts() -> None:
    for ruler in ("-" * 60, "=" * 60, "_" * 60, "R" + "-" * 60):
        cards = read_text(deck(*BOARD, ruler, "R3 a b 1"))
        assert len(cards.scopes[0]) == 3
        assert not cards.scopes[0].unreadable
    assert not only_note(read_text(deck(*BOARD, "-" * 60))).strict


def test_a_library_may_lack_its_last_ends_although_its_nets_are_numbered_as_others_are() -> None:
    library = ".subckt S 7 8\nR1 7 1 1k\nR2 1 2 1k\n"
    cards = read_text(deck(".include s.lib", "R1 1 2 1k", "X1 1 2 S"), {"s.lib": library})
    assert only_note(cards).level == "note"
    cards = read_text(deck(".include s.lib", *BOARD), {"s.lib": f"{library}{JOINT}\n"})
    assert only_note(cards).level == "error"


def test_what_stands_in_a_block_that_is_closed_is_not_lost() -> None:
    cards = read_text(
        deck(*BOARD, ".control", JOINT, ".endc", ".if (0)", JOINT, ".endif", ".data x", JOINT, ".enddata")
    )
    assert not cards.notes


def test_variants_behind_alter_are_told_and_not_mixed_with_the_circuit() -> None:
    cards = read_text(deck(*BOARD, ".alter", "R1 GND GNDF 2k", ".end"))
    assert [line.split()[1] for line in elements(cards)] == ["R1", "R2"]
    assert (only_note(cards).level, only_note(cards).strict) == ("note", True)


@pytest.mark.parametrize("card", [".connect GND GNDF", ".connect GND,GNDF", ".equiv GND=GNDF", ".EQUIV (GND GNDF)"])
def test_a_card_that_joins_nets_is_read_as_a_joint(card: str) -> None:
    cards = read_text(deck(*BOARD, card))
    word = card[1:].split()[0].lower()
    assert elements(cards)[-1] == f"R {word}:GND:GNDF GND GNDF 0"
    assert not cards.notes
    assert cards.understood == cards.total == 3


def test_a_joint_of_three_nets_joins_all_of_them() -> None:
    cards = read_text(deck(*BOARD, ".connect GND GNDF a"))
    assert [line.split()[2:4] for line in elements(cards)[2:]] == [["GND", "GNDF"], ["GND", "a"]]
    assert cards.understood == cards.total == 3


@pytest.mark.parametrize("card", [".connect GND", ".connect X1.a GND"])
def test_a_joint_that_can_t_be_followed_is_an_error(card: str) -> None:
    note = only_note(read_text(deck(*BOARD, card)))
    assert (note.level, note.subject) == ("error", ".connect")


HIDDEN = [
    "\ufeff",
    "\u200b",
    "\u2060",
    "\u00ad",
    "\u00a0",
    "\u3000",
    "\u200e",
    " \u200d",
    "\u200b\u00a0",
    "\x01",
    "\x00",
]


@pytest.mark.parametrize("hidden", HIDDEN)
def test_a_card_behind_a_character_that_can_t_be_seen_is_read_and_told(hidden: str) -> None:
    cards = read_text(deck(*BOARD, f"{hidden}{JOINT}", f"{hidden}.subckt S a", "R1 a 0 1", ".ends"))
    assert elements(cards)[2] == "R R9 GND GNDF 0"
    assert len(cards.scopes) == 2
    assert notes(cards) == [
        "note 4 characters that can't be seen stand in cards from here on; the cards are read without them"
    ]


def test_names_are_read_as_they_are_seen() -> None:
    cards = read_text(deck("R1 GND\u200bF b 1k"))
    assert elements(cards) == ["R R1 GNDF b 1k"]
    assert only_note(cards).subject == "invisible characters"


def test_a_control_character_in_a_name_hides_no_card() -> None:
    cards = read_text(deck(*BOARD, "R9\x07 GND GNDF 0"))
    assert elements(cards)[2] == "R R9 GND GNDF 0"


def test_invisible_characters_in_comments_are_nothing_to_remark() -> None:
    assert not read_text(deck("* a\u200bb", "\u00a0* b", *BOARD, "R3 a\u00a0b 1k", "\x1a")).notes


def test_so_much_text_that_nobody_looks_at_it_is_an_error() -> None:
    lines = [f"? {'x' * 1990}" for _ in range(1200)]
    cards = read_text(deck(".model D D", *BOARD, *lines, f"? {JOINT}"))
    assert {note.level for note in cards.notes} >= {"error"}
    assert any("not looked at" in note.message for note in cards.notes)


def test_how_values_are_read_is_said_once_a_file() -> None:
    cards = read_text(
        deck("R1 a b 1M", "R2 a b 2M", "C1 a b 1F", ".include x.inc"), {"x.inc": "R5 a b 1M\nR6 a b 4M7\n"}
    )
    assert [(note.level, note.strict, note.place.file, note.subject) for note in cards.notes] == [
        ("note", False, "board.cir", "R1"),
        ("note", False, "x.inc", "R5"),
    ]
    assert cards.notes[0].message.endswith("; 2 more values of this file may be meant otherwise")

"""Sentences and data-sheet rows between the cards are reported and never turned into elements."""

from __future__ import annotations

import pytest

from tests.netlist.reading import deck, elements, notes, only_note, read_text

BOARD = ["R1 a b 1k", "V1 a 0 5"]

PLAIN = [
    "Forward Voltage VF IF = 20 mA 1.2 1.4 V",
    "Collector-Emitter Saturation Voltage VCE(sat) 0.2 V max",
    "Isolation voltage 5000 Vrms for one minute",
    "Rise time tr VCC = 5 V, RL = 100 ohm 4 18 us",
    "Data sheet: revision of the device's input characteristics.",
    "Input current 5 mA typ",
    "The LED's forward current is set by R4.",
    "12 34 56",
    "| pin 1 | anode |",
    "%---------",
    '"quoted"',
    "_underline",
    "-",
]


@pytest.mark.parametrize("line", PLAIN)
def test_plain_text_is_a_note_and_no_element(line: str) -> None:
    cards = read_text(deck(*BOARD, line))
    assert elements(cards) == ["R R1 a b 1k", "V V1 a 0 5"]
    note = only_note(cards)
    assert (note.level, note.strict) == ("note", any(map(str.isalnum, line)))
    assert cards.reasons == {"text between cards": 1}


READABLE = [
    "Voltage drop 0.7 1.2",
    "Diode forward voltage max",
    "In the beginning",
    "The LED and the detector",
    "Xtal of the time base MAX",
]


@pytest.mark.parametrize("line", READABLE)
def test_text_that_reads_as_a_card_but_touches_nothing_is_a_note_that_strict_counts_and_no_element(line: str) -> None:
    cards = read_text(deck(*BOARD, line))
    assert elements(cards) == ["R R1 a b 1k", "V V1 a 0 5"]
    note = only_note(cards)
    assert (note.level, note.strict) == ("note", True)


@pytest.mark.parametrize(
    "card",
    [
        "Resistor anode b 10k",
        "Rload output a 10k",
        "Xmain input output a FILTER",
        "Vcc supply 0 5",
        "E a 0 input output 2",
        "Dclamp anode a DMOD",
        "R anode cathode 10k",
        "Dforward anode cathode DMOD",
    ],
)
def test_elements_with_names_like_words_stay_elements(card: str) -> None:
    cards = read_text(deck(*BOARD, card))
    assert len(cards.scopes[0]) == 3
    assert not cards.notes


def test_the_only_element_of_a_deck_is_no_prose() -> None:
    assert elements(read_text(deck("Xopto in gnd out gndf DEMO_PT1"))) == ["X Xopto in gnd out gndf =DEMO_PT1"]


def test_lines_of_text_that_follow_each_other_give_one_note() -> None:
    cards = read_text(
        deck("R1 a b 1", "Forward voltage VF (max)", "Reverse voltage of the LED, 6 V", "12 3", "R2 a b 1")
    )
    assert notes(cards) == ["note 3 3 lines of text between the cards: `Forward voltage VF (max)`"]
    assert cards.scopes[0].names == ["R1", "R2"]


def test_text_that_names_two_nets_is_an_error_and_other_text_a_note() -> None:
    cards = read_text(deck("R1 net7 b 1", "R2 net8 b 1", "Collector net7 net8 ("))
    note = only_note(cards)
    assert (note.level, note.message) == (
        "error",
        "`Collector net7 net8 (` is not understood, but names the nets net7, net8: what it does is lost",
    )
    cards = read_text(deck("R1 net7 b 1", "Collector net7 net8 ("))
    assert (only_note(cards).level, only_note(cards).strict) == ("note", True)


def test_prose_in_a_subcircuit_does_not_touch_its_ports() -> None:
    cards = read_text(
        deck(
            ".subckt DEMO_X A K C E", "D1 A K LED", "Forward current of the LED", "Collector current max value", ".ends"
        )
    )
    assert elements(cards, 1) == ["D D1 A K =LED"]
    assert {note.level for note in cards.notes} <= {"note", "warning"}


def test_the_short_last_line_of_an_encrypted_body_is_no_card() -> None:
    lines = ["5a8f7e87a8e7f8a7" * 4, "a8f7e87a8e7f8a7e" * 4, "a8f7e87a8e7f8a7e8f7a8e7f", ".ends", "XU1 a b c d PART"]
    cards = read_text(deck("V1 a b 5", ".subckt PART a k c e", *lines))
    assert [note.subject for note in cards.notes] == ["PART.unreadable body"]
    assert cards.scopes[1].unreadable
    assert not len(cards.scopes[1])


def test_a_call_of_a_definition_is_a_card_whatever_its_nets_are_called() -> None:
    """The only card at the top: no other card uses its nets, and they read as words."""
    block = (".subckt WHOLE DRIVE A OUT SUPPLY", "R1 DRIVE A 1k", "R2 OUT SUPPLY 1k", ".ends")
    whole = read_text(deck(*block, "XBOARD DRIVE A OUT SUPPLY WHOLE"))
    assert whole.scopes[0].names == ["XBOARD"] and notes(whole) == []
    other = read_text(deck(*block, "XBOARD THE VOLTAGE OF WHOLE"))  # another number of nets
    assert other.scopes[0].names == [] and "taken for text" in only_note(other).message

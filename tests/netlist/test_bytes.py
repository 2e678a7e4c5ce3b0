"""Bytes and lines as they come from the world's disks."""

from __future__ import annotations

import pytest

from isolint.errors import NotANetlist
from isolint.netlist.decoding import decode
from tests.netlist.reading import deck, elements, notes, read_text

BOARD = deck("R1 in mid 4k7", "C1 mid 0 10µF", ".end")
EXPECTED = ["R R1 in mid 4.7k", "C C1 mid 0 10u"]


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (BOARD.encode(), "utf-8"),
        (b"\xef\xbb\xbf" + BOARD.encode(), "utf-8"),
        (BOARD.encode("cp1252"), "cp1252"),
        (b"\xff\xfe" + BOARD.encode("utf-16-le"), "utf-16-le"),
        (b"\xfe\xff" + BOARD.encode("utf-16-be"), "utf-16-be"),
        (BOARD.encode("utf-16-le"), "utf-16-le"),
        (BOARD.encode("utf-16-be"), "utf-16-be"),
    ],
)
def test_every_encoding_of_the_survey_gives_the_same_cards(data: bytes, encoding: str) -> None:
    cards = read_text(data)
    assert elements(cards) == EXPECTED
    assert cards.files[0].encoding == encoding
    assert not cards.notes


def test_a_byte_order_mark_before_the_first_card_of_a_library_does_not_hide_it() -> None:
    cards = read_text(b"\xef\xbb\xbf.subckt DEMO_A a b\nR1 a b 1\n.ends\n")
    assert [scope.name for scope in cards.scopes] == ["", "DEMO_A"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
def test_all_line_ends_count_as_one(end: str) -> None:
    cards = read_text(BOARD.replace("\n", end))
    assert elements(cards) == EXPECTED
    assert cards.place(0, 1).line == 3


def test_mixed_line_ends_and_a_last_line_without_one_are_read() -> None:
    cards = read_text("title\r\nR1 a b 1k\nR2 b c 2k\rR3 c d 3k")
    assert elements(cards) == ["R R1 a b 1k", "R R2 b c 2k", "R R3 c d 3k"]
    assert [cards.place(0, i).line for i in range(3)] == [2, 3, 4]


def test_control_z_in_the_middle_is_a_blank_and_no_end() -> None:
    assert elements(read_text(deck("R1 a b 1k", "\x1a", "R2 b c 2k\x1a"))) == ["R R1 a b 1k", "R R2 b c 2k"]


def test_no_break_spaces_tabs_and_form_feeds_separate_like_blanks() -> None:
    cards = read_text("title\nR1\u00a0a\tb\u00a01k\n\x0cR2 b c 2k\n\t C1 a b 1n\n")
    assert elements(cards) == ["R R1 a b 1k", "R R2 b c 2k", "C C1 a b 1n"]
    assert cards.place(0, 2).column == 3


def test_a_binary_body_is_cut_off_and_noted_once_and_the_rest_goes_on() -> None:
    others: dict[str, str | bytes] = {"model.lib": b"* a header in clear text\n" + bytes(range(256)) * 20}
    cards = read_text(deck(".include model.lib", "R1 a b 1k"), others)
    assert elements(cards) == ["R R1 a b 1k"]
    assert notes(cards) == ["warning 2 from here on the file is binary or encrypted and was not read"]
    assert cards.reasons == {"unreadable body": 1}


def test_an_encrypted_body_of_hexadecimal_lines_makes_its_subcircuit_unreadable() -> None:
    lines = ["D0C4A1B2" * 8] * 30
    cards = read_text("\n".join([".subckt DEMO_X a k c e", *lines, ".ends", "R1 a b 1k"]))
    assert cards.scopes[1].unreadable
    assert len(cards.scopes[1]) == 0
    assert len(cards.notes) == 1
    assert elements(cards) == ["R R1 a b 1k"]


@pytest.mark.parametrize("data", [bytes(range(256)) * 4, b"\x7fELF\x01\x01" + bytes(60), b"PK\x03\x04\x00\x01" * 9])
def test_a_binary_file_is_no_netlist(data: bytes) -> None:
    with pytest.raises(NotANetlist, match="binary"):
        read_text(data)


@pytest.mark.parametrize("data", [b"", b"\n\n  \r\n", b"\xff\xfe", b"\xef\xbb\xbf\n", b"\x1a"])
def test_an_empty_file_is_no_netlist(data: bytes) -> None:
    with pytest.raises(NotANetlist, match="empty"):
        read_text(data)


def test_text_without_cards_is_no_netlist() -> None:
    with pytest.raises(NotANetlist, match="no card"):
        read_text("Dear reader,\nthis file holds a letter,\nand nothing else of note.\n")


def test_undefined_bytes_of_the_code_page_do_not_stop_the_reader() -> None:
    assert decode(b"R1 a b 10\xb5 \x81\x8d").encoding == "cp1252"
    assert elements(read_text(b"title\n* \x81\x8d\xff\nR1 a b 1k\n")) == ["R R1 a b 1k"]

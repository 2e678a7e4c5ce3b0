"""Comments, continuation lines, titles and the ends of files."""

from __future__ import annotations

import time

import pytest

from isolint.netlist.text_lines import MAX_CARD, cards
from tests.netlist.reading import deck, elements, notes, one, only_note, read_text


@pytest.mark.parametrize(
    "lines",
    [
        ("R1 a b", "+ 1k"),
        ("R1 a b", "+1k"),
        ("R1 a b", "   + 1k"),
        ("R1 a b", "", "+ 1k"),
        ("R1 a b", "* a comment", "+ 1k"),
        ("R1 a b ; a comment", "+ 1k"),
        ("R1 a b", "; a comment", "+ 1k"),
        ("R1 a b", "+", "+ 1k"),
        ("R1 a b \\", "1k"),
        ("R1 a \\", "+ b \\\\", "  1k"),
        ("R1 a b 1k $ a comment",),
        ("R1 a b 1k // a comment",),
        ("R1 a b 1k;a comment",),
        ("R1 a b 1k $[RMOD] $W=1u",),
        ("R1 a b 1k * a comment",),
        ("  R1 a b 1k",),
    ],
)
def test_each_form_of_continuation_and_comment_gives_the_same_card(lines: tuple[str, ...]) -> None:
    assert one(*lines) == "R R1 a b 1k"


def test_a_plus_behind_a_comment_directive_belongs_to_the_comment() -> None:
    found = read_text(deck(".param", "*.GLOBAL vdd", "+ b", "*.PININFO a:I", "+ c:O", "R1 a b 1k"))
    assert elements(found) == ["R R1 a b 1k"]
    assert found.scopes[0].parameters == {}
    assert not found.notes


def test_a_header_with_comments_and_blank_lines_inside_is_one_card() -> None:
    found = read_text(".subckt DEMO_A a b\n* ports\n\n+ c d\n+ PARAMS: x = 1\nR1 a b 1k\n.ends\n")
    assert found.scopes[1].ports == ("a", "b", "c", "d")
    assert found.scopes[1].defaults == {"x": 1.0}


@pytest.mark.parametrize("line", ["*note", "* note", "  * note", ";note", "$ note", "# note", "// note", "*$"])
def test_comment_lines_are_no_cards(line: str) -> None:
    found = read_text(deck(line, "R1 a b 1k"))
    assert elements(found) == ["R R1 a b 1k"]
    assert found.total == 1
    assert not found.notes


def test_a_dollar_that_starts_a_node_name_is_no_comment() -> None:
    assert one("R1 $N_0001 $G_DGND 1k") == "R R1 $N_0001 $G_DGND 1k"


def test_a_semicolon_in_quotes_is_no_comment() -> None:
    (line,) = cards("R1 a b '1;2' ; c")
    assert line.text == "R1 a b '1;2'"


def test_a_plus_without_a_card_before_it_is_noted_and_lost() -> None:
    found = read_text("title\n+ 1 2\nR1 a b 1k\n")
    assert notes(found) == ["note 2 `+ 1 2` continues no card"]


def test_places_follow_the_continuation_lines() -> None:
    found = read_text(deck("R1 a b", "* between", "  + {1+", "+ )} ", "R2 a b 1"))
    note = only_note(found)
    assert (note.place.line, note.place.column) == (4, 5)
    (line,) = cards("R1 a\n  +  bc d\n")
    assert line.place(line.text.index("d")) == (2, 9)


def test_joining_is_linear_and_a_card_that_is_too_long_is_one_message() -> None:
    start = time.process_time()
    found = read_text(deck("V1 a b PWL(", *["+ 1 2"] * 1_000_000, "+ )", "R1 a b 1k"))
    assert time.process_time() - start < 5
    assert elements(found) == ["R R1 a b 1k"]
    assert "longer than 250,000 characters" in only_note(found).message


def test_a_line_of_ten_megabytes_is_one_message() -> None:
    start = time.process_time()
    found = read_text(deck("R1 a b " + "1k " * 3_400_000, "R2 a b 1k", ".param " + "x" * MAX_CARD))
    assert time.process_time() - start < 5
    assert elements(found) == ["R R2 a b 1k"]
    assert found.reasons == {"too long": 2}


def test_eight_hundred_continuation_lines_and_ports_are_read() -> None:
    ports = [f"p{i}" for i in range(800)]
    text = deck(
        ".subckt DEMO_BIG " + "\n+ ".join(ports), "R1 p0 p799 1", ".ends", "X1 " + "\n+".join(ports) + " DEMO_BIG"
    )
    found = read_text(text)
    assert found.scopes[1].ports == tuple(ports)
    assert found.scopes[0].nodes[0] == tuple(ports)
    assert found.scopes[0].models == ["DEMO_BIG"]


@pytest.mark.parametrize(
    ("text", "title", "reason"),
    [
        ("A board\nR1 a b 1\n", "A board", "the first line of a deck is its title"),
        ("* A board\nR1 a b 1\n", None, "the first line is a comment"),
        (".title A board\nR1 a b 1\n", "A board", "the first line is a .title card"),
        ("\nR1 a b 1\n", None, "the first line is blank"),
        (".subckt A a b\nR1 a b 1\n.ends\n", None, "the first line is a dot card, so the file is read like a library"),
        (".model D D\nR1 a b 1\n", None, "the first line is a dot card, so the file is read like a library"),
    ],
)
def test_the_reader_says_what_it_took_the_first_line_for(text: str, title: str | None, reason: str) -> None:
    found = read_text(text)
    assert (found.files[0].title, found.files[0].title_reason) == (title, reason)
    assert "R1" in found.scopes[-1].names
    assert not found.notes


@pytest.mark.parametrize("line", ["R1 a b 10k", "D1 a k DMOD", "R2 a b {x}", "V_5 a b PULSE(0 5 1n)"])
def test_a_title_that_reads_as_an_element_is_noted(line: str) -> None:
    found = read_text(f"{line}\nR3 q b 10k\n")
    assert elements(found) == ["R R3 q b 10k"]
    note = only_note(found)
    assert (note.level, note.subject, note.remedy) == ("note", "title", "put a comment or title line first")
    assert note.strict


def test_a_title_that_joins_two_nets_is_an_error() -> None:
    note = only_note(read_text("R1 a b 10k\nR3 a b 10k\n"))
    assert note.level == "error"
    assert "is taken for the title, but names the nets a, b" in note.message


@pytest.mark.parametrize(
    "line", ["Code model test - 2d table", "Isolated input board", "Demo of a quick switch", "12 V supply"]
)
def test_a_title_that_only_begins_like_an_element_is_not_noted(line: str) -> None:
    found = read_text(f"{line}\nR3 a b 10k\n")
    assert found.files[0].title == line
    assert not found.notes


def test_an_included_file_has_no_title() -> None:
    found = read_text(deck(".include parts.inc"), {"parts.inc": "R1 a b 1k\nR2 b c 2k\n"})
    assert elements(found) == ["R R1 a b 1k", "R R2 b c 2k"]
    assert found.files[1].title is None


def test_text_behind_the_end_is_ignored_with_a_note() -> None:
    found = read_text(deck("R1 a b 1k", ".end", "Job finished, 3 s", "1 2 3"))
    assert notes(found) == ["note 4 text stands behind `.end`"]
    found = read_text(deck("R1 a b 1k", ".END", "R2 b c 1k"))
    assert notes(found) == ["note 4 cards stand behind `.end`; they are not part of the circuit"]
    assert only_note(found).strict
    found = read_text(deck("R1 a b 1k", ".END", ".subckt S a b", "R2 a b 1k", ".ends", "R2 b a 1k"))
    assert notes(found) == ["error 7 `R2 b a 1k` stands behind `.end`, but names the nets b, a: what it does is lost"]
    assert elements(found) == ["R R1 a b 1k"]
    assert not read_text(deck("R1 a b 1k", ".end", ".end", "* c")).notes


def test_a_missing_end_is_nothing_to_remark() -> None:
    assert not read_text(deck("R1 a b 1k")).notes

"""Included files: found beside the file that names them, kept inside the root, refused in words that quote nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from isolint.errors import Missing, Refused
from isolint.netlist import read
from isolint.source import FolderTree, MemoryTree
from tests.netlist.reading import deck, elements, notes, only_note, read_text

PART = "R1 a b 1k\n"


@pytest.mark.parametrize(
    "card",
    [
        ".include part.inc",
        '.include "part.inc"',
        ".inc 'part.inc'",
        ".INCLUDE part.inc ; a comment",
        ".lib part.inc",
        '.lib "part.inc"',
        ".include ./part.inc",
        ".include .\\part.inc",
    ],
)
def test_a_file_is_included_in_every_spelling(card: str) -> None:
    cards = read_text(deck(card), {"part.inc": PART})
    assert elements(cards) == ["R R1 a b 1k"]
    assert cards.place(0, 0).file == "part.inc"
    assert not cards.notes


@pytest.mark.parametrize(
    "card", [".include my models/part 1.inc", ".lib my models/part 1.inc", '.lib "my models/part 1.inc"']
)
def test_a_path_may_hold_blanks(card: str) -> None:
    assert elements(read_text(deck(card), {"my models/part 1.inc": PART})) == ["R R1 a b 1k"]


def test_a_file_is_found_beside_the_one_that_names_it() -> None:
    tree = MemoryTree(
        {"a/board.cir": deck(".include lib/one.inc"), "a/lib/one.inc": ".include two.inc\n", "a/lib/two.inc": PART}
    )
    assert elements(read(tree, "a/board.cir")) == ["R R1 a b 1k"]


def test_an_include_inside_a_subcircuit_belongs_to_it() -> None:
    cards = read_text(
        deck(".subckt A a b", ".include part.inc", ".ends", ".subckt B a b", ".include part.inc", ".ends"),
        {"part.inc": PART},
    )
    assert [len(scope) for scope in cards.scopes] == [0, 1, 1]


def test_the_same_file_twice_in_one_scope_is_read_once() -> None:
    cards = read_text(deck(".include part.inc", ".include part.inc"), {"part.inc": PART})
    assert elements(cards) == ["R R1 a b 1k"]
    assert not cards.notes


LIBRARY = ".lib TT\n.param r=1\n.endl TT\n.lib ff\n.param r=2\n.lib 'base.lib' b\n.endl\n"


def test_one_section_of_a_library_is_read() -> None:
    files: dict[str, str | bytes] = {
        "corner.lib": LIBRARY,
        "base.lib": ".lib b\nR5 c d 5\n.endl\n.lib c\nR6 a b 1\n.endl\n",
    }
    cards = read_text(deck(".lib 'corner.lib' FF", "R1 a b {r}"), files)
    assert cards.scopes[0].parameters == {"r": 2.0}
    assert elements(cards) == ["R R5 c d 5", "R R1 a b {r}"]
    assert not cards.notes


def test_a_missing_section_is_noted() -> None:
    cards = read_text(deck(".lib corner.lib ss", "R1 a b 1"), {"corner.lib": LIBRARY})
    note = only_note(cards)
    assert (note.kind, note.level, note.place.line) == ("missing-file", "warning", 2)
    assert cards.scopes[0].parameters == {}


def test_a_library_included_whole_gives_no_section() -> None:
    cards = read_text(deck(".include corner.lib", "R1 a b 1"), {"corner.lib": LIBRARY})
    assert cards.scopes[0].parameters == {}


def test_a_missing_file_is_a_warning_that_names_it_with_slashes() -> None:
    cards = read_text(deck(".include models\\none.lib", "R1 a b 1"))
    note = only_note(cards)
    assert (note.kind, note.level, note.subject) == ("missing-file", "warning", "models/none.lib")
    assert cards.reasons == {"include not read": 1}
    assert elements(cards) == ["R R1 a b 1"]


@pytest.mark.parametrize(
    "path",
    [
        "/etc/hosts",
        "C:\\Program Files (x86)\\demo\\standard.bjt",
        "c:models.lib",
        "\\\\server\\share\\x.lib",
        "//server/share/x.lib",
        "http://example.org/x.lib",
        "FILE:///etc/hosts",
        "../outside.lib",
        "a/../../outside.lib",
        "$HOME/x.lib",
        "${MODELS}/x.lib",
        "%APPDATA%\\x.lib",
        "~/x.lib",
    ],
)
@pytest.mark.parametrize("word", [".include", ".lib"])
def test_a_path_that_leaves_the_root_is_refused(word: str, path: str) -> None:
    cards = read_text(deck(f"{word} {path}", "R1 a b 1"))
    note = only_note(cards)
    assert (note.kind, note.level, note.place.line) == ("refused-file", "error", 2)
    assert note.subject == path.replace("\\", "/")
    assert elements(cards) == ["R R1 a b 1"]


def test_includes_stay_inside_the_root_that_is_given() -> None:
    tree = MemoryTree({"a/b/board.cir": deck(".include ../part.inc", "R2 c d 2"), "a/part.inc": PART, "ab/x.inc": PART})
    assert elements(read(tree, "a/b/board.cir", root="a")) == ["R R1 a b 1k", "R R2 c d 2"]
    refused = read(tree, "a/b/board.cir", root="a/b")
    assert only_note(refused).kind == "refused-file"
    beside = MemoryTree({"a/board.cir": deck(".include ../ab/x.inc", "R2 c d 2"), "ab/x.inc": PART})
    assert only_note(read(beside, "a/board.cir", root="a")).kind == "refused-file"


def test_a_loop_is_noted_and_the_rest_is_read() -> None:
    files: dict[str, str | bytes] = {
        "one.inc": ".include two.inc\nR1 a b 1\n",
        "two.inc": ".include one.inc\nR2 b c 2\n",
    }
    cards = read_text(deck(".include one.inc", "R3 c d 3"), files)
    assert elements(cards) == ["R R2 b c 2", "R R1 a b 1", "R R3 c d 3"]
    assert "loop" in only_note(cards).message
    itself = read_text(deck(".include board.cir", "R3 c d 3"))
    assert elements(itself) == ["R R3 c d 3"]


def test_includes_a_thousand_deep_end_with_a_message() -> None:
    files: dict[str, str | bytes] = {f"f{i}.inc": f".include f{i + 1}.inc\nR{i} a{i} b 1\n" for i in range(1000)}
    cards = read_text(deck(".include f0.inc"), files)
    assert len(cards.scopes[0]) == 39
    assert "nested deeper than 40" in only_note(cards).message


def test_includes_that_multiply_end_soon() -> None:
    files: dict[str, str | bytes] = {
        f"f{i}.inc": "".join(f".subckt S{i}x{k} a b\n.include f{i + 1}.inc\n.ends\n" for k in range(10))
        for i in range(30)
    }
    files["f4.inc"] = PART
    cards = read_text(deck(".include f0.inc"), files)
    assert len(cards.scopes) <= 11_000
    assert "the netlist includes too much" in notes(cards)[0]


def test_no_content_of_a_refused_file_is_quoted(tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("password hunter2")
    (tmp_path / "root").mkdir()
    (tmp_path / "root" / "link.inc").symlink_to(tmp_path / "secret.txt")
    (tmp_path / "root" / "board.cir").write_text(deck(".include link.inc", ".include folder", "R1 a b 1"))
    (tmp_path / "root" / "folder").mkdir()
    cards = read(FolderTree(tmp_path / "root"), "board.cir")
    assert [note.kind for note in cards.notes] == ["refused-file", "refused-file"]
    assert "hunter2" not in "".join(notes(cards))
    assert str(tmp_path) not in "".join(notes(cards))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no FIFO on this system")
def test_a_fifo_is_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.inc")
    (tmp_path / "board.cir").write_text(deck(".include pipe.inc", "R1 a b 1"))
    assert only_note(read(FolderTree(tmp_path), "board.cir")).kind == "refused-file"


def test_an_included_deck_may_have_its_own_end() -> None:
    cards = read_text(deck(".include part.cir", "R2 a b 2"), {"part.cir": "* a part\n.title x\nR1 a b 1\n.end\n"})
    assert elements(cards) == ["R R1 a b 1", "R R2 a b 2"]
    assert not cards.notes


def test_a_subcircuit_left_open_in_an_included_file_ends_with_the_file() -> None:
    cards = read_text(deck(".include part.inc", "R2 a b 2"), {"part.inc": ".subckt A a b\nR1 a b 1\n"})
    assert elements(cards) == ["R R2 a b 2"]
    assert len(cards.notes) == 1


def test_the_named_file_itself_raises(tmp_path: Path) -> None:
    with pytest.raises(Missing):
        read(FolderTree(tmp_path), "none.cir")
    (tmp_path / "folder").mkdir()
    with pytest.raises(Refused, match="folder"):
        read(FolderTree(tmp_path), "folder")

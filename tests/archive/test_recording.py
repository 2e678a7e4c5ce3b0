from __future__ import annotations

import csv
import json
import os
import re
import shutil
import sqlite3
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

import pytest

from isolint import app
from isolint.archive import index_page
from isolint.archive.audit_tables import HEADS
from isolint.archive.auditing import Shard
from isolint.archive.merging import merge
from isolint.archive.recording import record
from isolint.errors import IsolintError
from isolint.reports.barrier_page import held_cells
from isolint.reports.escape import html
from isolint.reports.safety import CAUTION
from isolint.results import UNJUDGED
from tests.archive.boards import Archive, archive
from tests.archive.stores import run, small
from tests.expectations import expectations
from tests.support import FIXTURES

pytestmark = pytest.mark.xdist_group("archive")

TAGS = frozenset(
    (
        *("html", "head", "meta", "title", "style", "body", "main", "nav", "a", "h1", "h2", "h3", "p", "br", "span"),
        *("strong", "code", "pre", "div", "table", "caption", "thead", "tbody", "tr", "th", "td", "script"),
        *("svg", "g", "rect", "line", "text", "path", "circle", "polyline"),
    )
)


@pytest.fixture(scope="module")
def written(store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("record") / "record"
    assert record(str(store), str(folder)) == ""
    return folder


class RecordingPage(HTMLParser):
    """Tags, links and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.links: list[str] = []
        self.attributes: Counter[str] = Counter()
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        for name, value in attrs:
            self.attributes[name] += 1
            if name in ("href", "src", "action", "data", "srcset", "background"):
                self.links.append(value or "")

    def handle_data(self, data: str) -> None:
        self.text += data


def pages(folder: Path) -> dict[str, str]:
    return {path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8") for path in folder.rglob("*.html")}


def table(folder: Path, name: str) -> list[dict[str, str]]:
    with open(folder / f"csv/{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def whole(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def check_faults(made: Archive, written: Path) -> None:
    """Hold the table of results to what each board says that it must give: all of it, with its number, nothing else."""
    found: dict[str, list[tuple[str, str, str]]] = {path: [] for path in made.boards}
    for row in table(written, "results"):
        # What nothing judges of a type of part yet is said of each board that has one, and is no finding.
        if row["kind"] in ("fail", "open") and not row["suppression"] and row["role"] != UNJUDGED:
            found[row["path"]].append((row["kind"], row["rule"], row["margin"]))
    for path, text in made.boards.items():
        left = list(found[path])
        for wanted in expectations(text):
            margin = wanted.bounds.get("margin")
            fits = [
                each
                for each in left
                if each[:2] == (wanted.kind, wanted.slug)
                and (not isinstance(margin, float) or abs(float(each[2]) - margin) <= 0.005 + 1e-9)
            ]
            assert fits, (path, wanted, left)
            left.remove(fits[0])
        assert not left, (path, left)


def test_every_fault_of_the_archive_stands_in_the_record_with_its_number_and_none_besides(
    made: Archive, written: Path
) -> None:
    check_faults(made, written)


@pytest.mark.long
def test_every_fault_of_two_thousand_boards_of_all_rules_stands_in_their_record(tmp_path: Path) -> None:
    (tmp_path / "boards").mkdir()
    large = archive(tmp_path / "boards", 2_000)
    run(large.folder, tmp_path / "store.db", jobs=2)
    assert record(str(tmp_path / "store.db"), str(tmp_path / "record")) == ""
    check_faults(large, tmp_path / "record")
    assert Counter(row["state"] for row in table(tmp_path / "record", "files")) == Counter(
        [*large.states.values(), *("done" for _ in large.boards)]
    )


def test_a_board_s_page_holds_its_failures_numbers_drawings_and_a_blank_block(made: Archive, written: Path) -> None:
    by_path = {row["path"]: row for row in table(written, "boards")}
    texts = {
        RecordingPage(text).text.split(": isolint record")[0].strip(): text
        for text in pages(written / "boards").values()
    }
    for path, board in made.boards.items():
        text = texts[f"boards/{path}"]
        page = RecordingPage(text)
        for wanted in expectations(board):
            assert f"[{wanted.slug}]" in page.text
        assert CAUTION.split(":")[0] in page.text
        assert "Sign-off" in page.text
        assert "Run record" in page.text
        assert by_path[path]["digest"] in page.text
        if int(by_path[path]["channels"]):
            assert page.tags["svg"] >= 2


def test_a_board_s_page_tells_what_each_barrier_must_hold_beside_what_holds_it(tmp_path: Path) -> None:
    """As `isolint barrier` does: weakest first, by whom and by which row, and what the tables lack."""
    shutil.copytree(FIXTURES / "boards/motor-drive/broken", tmp_path / "boards")
    run(tmp_path / "boards", tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    (page,) = (text for text in pages(tmp_path / "record/boards").values() if "Strength, weakest first" in text)
    heads = ("amount", "required", "offered", "margin", "verdict", "by", "row")
    assert "".join(f"<th>{head}</th>" for head in heads) in page
    held = (
        app.barrier(str(tmp_path / "boards/board.cir"), app.Options(root=str(tmp_path / "boards")))[0].barriers[0].held
    )
    rows = ["".join(f"<td>{html(cell)}</td>" for cell in held_cells(row)) for row in held]
    assert len(rows) > 5
    assert [row in page for row in rows] == [True] * len(rows)
    assert [page.index(row) for row in rows] == sorted(page.index(row) for row in rows)
    assert "iec-60664-1, not carried here" in page
    assert "iec-60664-1, which does not carry here" in page


def test_the_same_findings_give_the_same_bytes_whoever_judged_them(
    made: Archive, store: Path, written: Path, tmp_path: Path
) -> None:
    for number in (1, 2):
        run(made.folder, tmp_path / f"{number}.db", shard=Shard(number, 2))
    merge([str(tmp_path / "2.db"), str(tmp_path / "1.db")], str(tmp_path / "whole.db"))
    record(str(tmp_path / "whole.db"), str(tmp_path / "record"))
    assert whole(tmp_path / "record") == whole(written)
    record(str(tmp_path / "whole.db"), str(tmp_path / "record"))  # over the old one
    assert whole(tmp_path / "record") == whole(written)


def test_no_page_holds_a_clock_a_machine_or_an_absolute_path(made: Archive, written: Path) -> None:
    folder = str(made.folder)
    for name, text in pages(written).items():
        assert folder not in text, name
        assert os.uname().nodename not in text or len(os.uname().nodename) < 4, name


def test_pages_need_nothing_else_and_every_link_leads_to_a_page(written: Path) -> None:
    found = pages(written)
    for name, text in found.items():
        page = RecordingPage(text)
        assert set(page.tags) <= TAGS, name
        assert page.tags["script"] <= 1
        for link in page.links:
            target = os.path.normpath(os.path.join(os.path.dirname(name), link))
            assert target in found, (name, link)
        assert "url(" not in text and "@import" not in text
        assert "default-src 'none'" in text.replace("&#39;", "'")
        assert not {attribute for attribute in page.attributes if attribute.startswith("on")}


def test_the_index_says_of_each_board_which_rules_fail_there(written: Path) -> None:
    """A smallest margin alone may be that of a rule that holds."""
    text = (written / "index.html").read_text(encoding="utf-8")
    lines = {line.split("</a>")[0].split(">")[-1]: line for line in text.split("\n") if 'class="w">failing' in line}
    rules: dict[str, set[str]] = {}
    for row in table(written, "results"):
        if row["kind"] == "fail" and not row["suppression"]:
            rules.setdefault(f"{row['root']}/{row['path']}", set()).add(row["rule"])
    assert set(lines) == set(rules)
    for board, found in rules.items():
        assert all(f"fails {rule}" in lines[board] or f", {rule}" in lines[board] for rule in found), board


def test_the_sum_of_states_is_the_number_of_files(made: Archive, written: Path) -> None:
    files = table(written, "files")
    states = json.loads((written / "run.json").read_text(encoding="utf-8"))["states"]
    assert Counter(row["state"] for row in files) == states
    assert len(files) == len(made.boards) + len(made.states)


def test_tables_have_the_stated_columns_and_line_ends(written: Path) -> None:
    for name, heads in HEADS.items():
        data = (written / f"csv/{name}.csv").read_bytes()
        assert data.decode().split("\r\n")[0] == heads
        assert data.count(b"\n") == data.count(b"\r\n")
        for row in table(written, name):
            assert None not in row and None not in row.values(), row


def test_the_worst_case_table_holds_every_number_that_has_a_limit(written: Path) -> None:
    rows = table(written, "worst_case")
    assert rows
    for row in rows:
        assert row["limit_kind"] in ("at least", "at most")
        assert row["item"] and row["method"]
        assert any(row[end] for end in ("min", "nominal", "max"))
        assert row["source"] or row["item"] != "LED current", row


def test_names_of_strangers_do_nothing_in_pages_and_tables(tmp_path: Path) -> None:
    folder = tmp_path / "boards"
    folder.mkdir()
    evil = "<script>alert(1)</script>"
    text = (
        f"* {evil}\n.subckt {evil}x a k c e\nD1 a k DX\n.ends\nXU1 a<b>&quot; 0 '\"--> =1+1 {evil}x\n"
        "R1 a<b>&quot; <img/onerror=x> 1k\nXU2 p q r s @SUM(A1)\n.model DX D\n.end\n"
    )
    names = ("=1+1.cir", "<svg onload=alert(1)>.cir", "a&amp;'\"b.cir", "\u202emirror.cir", "-->.cir")
    for at, name in enumerate(names):
        (folder / name).write_text(f"{text}* {at}\n", encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    for name, text in pages(tmp_path / "record").items():
        page = RecordingPage(text)
        assert set(page.tags) <= TAGS, name
        assert page.tags["script"] == int(name.startswith("index"))
        assert not {attribute for attribute in page.attributes if attribute.startswith("on")}
        assert "\u202e" not in text
    assert {row["path"] for row in table(tmp_path / "record", "boards")} == {
        "'=1+1.cir",
        "<svg onload=alert(1)>.cir",
        "a&amp;'\"b.cir",
        "\\u202emirror.cir",
        "'-->.cir",
    }
    for path in (tmp_path / "record/csv").iterdir():
        with open(path, encoding="utf-8", newline="") as file:
            for cells in csv.reader(file, strict=True):
                for cell in cells:
                    number = re.fullmatch(r"-?[0-9.]+(e[-+]?[0-9]+)?", cell)
                    assert number or cell.lstrip()[:1] not in ("=", "+", "-", "@"), (path.name, cell)


def test_an_audit_that_was_broken_off_has_a_record_that_begins_with_it(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards")
    run(folder, tmp_path / "store.db")
    with sqlite3.connect(tmp_path / "store.db") as connection:
        connection.execute("DELETE FROM unit WHERE path = 'b1.cir'")
    connection.close()
    told = record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    assert "1 of 3 files" in told
    first = RecordingPage((tmp_path / "record/index.html").read_text(encoding="utf-8")).text
    assert first.index("incomplete: ") < first.index("Record of the netlists")


def test_a_record_of_some_shards_begins_with_those_that_are_missing(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards")
    for number in (1, 3):
        run(folder, tmp_path / f"{number}.db", shard=Shard(number, 4))
    merge([str(tmp_path / "1.db"), str(tmp_path / "3.db")], str(tmp_path / "whole.db"))
    told = record(str(tmp_path / "whole.db"), str(tmp_path / "record"))
    assert told == "shards 2, 4 of 4 are missing"
    assert f"incomplete: {told}" in (tmp_path / "record/index.html").read_text(encoding="utf-8")


def test_a_folder_that_is_no_record_is_left_as_it_is(store: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(IsolintError, match="something else than a record"):
        record(str(store), str(tmp_path / "mine"))
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["letter.txt"]
    (tmp_path / "link").symlink_to(tmp_path / "mine")
    with pytest.raises(IsolintError, match="this is a link"):
        record(str(store), str(tmp_path / "link"))


def test_a_damaged_document_is_told_and_leaves_no_half_record(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    run(folder, tmp_path / "store.db")
    with sqlite3.connect(tmp_path / "store.db") as connection:
        connection.execute("UPDATE doc SET json = x'789c'")
    connection.close()
    with pytest.raises(IsolintError):
        record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    assert not (tmp_path / "record").exists()
    assert not list(tmp_path.glob("*.isolint-new"))


def test_boards_beyond_a_page_stand_on_further_pages(
    store: Path, made: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index_page, "A_PAGE", 10)
    record(str(store), str(tmp_path / "record"))
    boards = len(table(tmp_path / "record", "boards"))
    found = sorted(path.name for path in (tmp_path / "record").glob("index*.html"))
    assert found == ["index-2.html", "index-3.html", "index.html"]
    rows = sum(
        RecordingPage(path.read_text(encoding="utf-8").split(">Boards</h2>")[-1].split(">Run record</h2>")[0]).tags[
            "tr"
        ]
        - 1
        for path in (tmp_path / "record").glob("index*.html")
    )
    assert rows == boards


def test_what_forty_boards_share_is_one_line(tmp_path: Path) -> None:
    folder = tmp_path / "boards"
    folder.mkdir()
    for at in range(40):
        text = f"* board {at}\nXU1 a b c d MYSTERY\nR1 a VA{at} 1k\nR2 c VB{at} 1k\nR3 b GND 1\nR4 d GNDB 1\n.end\n"
        (folder / f"b{at:02}.cir").write_text(text, encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    causes = table(tmp_path / "record", "causes")
    assert {row["boards"] for row in causes if row["rule"] == "part-unknown"} == {"40"}
    text = RecordingPage((tmp_path / "record/index.html").read_text(encoding="utf-8")).text
    assert 'parts."MYSTERY"' in text or "parts.MYSTERY" in text


def test_a_block_that_boards_share_is_one_line_whatever_it_is_called_there(tmp_path: Path) -> None:
    """The same circuit, pasted into boards: its name, its elements, its anonymous nets and the order differ."""
    folder = tmp_path / "boards"
    folder.mkdir()
    for at in range(8):
        cards = [f"R{at + 1} in n{at} {'0' if at < 5 else '1m'}", f"XU{at} n{at} g out gb DEMO_PT1"]
        inner = "\n".join(cards if at % 2 else reversed(cards))
        block = f".subckt CHAN{at % 3} in g out gb\n{inner}\n.ends\n"
        calls = f"X{at} V5 GND{at} OUT{at} GNDB CHAN{at % 3}\nR9 VB OUT{at} 10k\n"
        (folder / f"b{at}.cir").write_text(f"* board {at}\n{block}{calls}.end\n", encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    causes = [row for row in table(tmp_path / "record", "causes") if row["rule"] == "led-unlimited"]
    # Another value makes another block, under whichever name.
    assert [(row["kind"], row["what"], row["boards"]) for row in causes] == [
        ("block", "CHAN0", "5"),
        ("block", "CHAN2", "3"),
    ]


def test_what_no_rule_judges_of_a_type_of_part_is_a_line_of_its_own(tmp_path: Path) -> None:
    folder = tmp_path / "boards"
    folder.mkdir()
    for at in range(3):
        text = f"* board {at}\nR1 V5 A 390\nXU1 A GND R1 R2 DEMO_PR1\nR2 R1 V5 8k\n.end\n"
        (folder / f"b{at}.cir").write_text(text, encoding="utf-8")
    record_of = '[parts.DEMO_PR1]\ntype = "photoresistor"\npins = ["anode", "cathode", "r1", "r2"]\n'
    (folder / "parts.toml").write_text(record_of, encoding="utf-8")
    (folder / "isolint.toml").write_text('parts = ["parts.toml"]\n', encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    said = [row for row in table(tmp_path / "record", "results") if row["role"] == UNJUDGED]
    (cause,) = [row for row in table(tmp_path / "record", "causes") if row["kind"] == "part that nothing judges"]
    assert len(said) == int(cause["boards"]) == int(cause["opens"]) == 3
    assert cause["what"] == said[0]["subject"] and cause["fails"] == "0"


def test_a_waiver_that_boards_share_is_wrong_only_if_no_board_needs_it(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 2)
    (folder / "tied.cir").write_text(
        "* tied\nXU1 a k e c DEMO_PT1\nR1 a V5 1k\nR2 c V5B 1k\nR3 k GND 0\nR4 e GNDB 0\nR9 GND GNDB 0\n.end\n",
        encoding="utf-8",
    )
    waiver = '[[waivers]]\nrule = "ground-tie"\nwhere = "{}"\nreason = "tried"\nby = "lead"\nuntil = 2026-06-30\n'
    (folder / "isolint.toml").write_text(waiver.format("R9"), encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    stale = [row for row in table(tmp_path / "record", "results") if row["rule"] == "waiver-stale"]
    used = [row for row in table(tmp_path / "record", "waivers") if row["path"] == "tied.cir"]
    assert bool(used) != bool(stale)  # some board needs it, or it is told once
    (folder / "isolint.toml").write_text(waiver.format("R77"), encoding="utf-8")
    run(folder, tmp_path / "store.db")
    record(str(tmp_path / "store.db"), str(tmp_path / "record"))
    assert [row["rule"] for row in table(tmp_path / "record", "results")].count("waiver-stale") == 1


def test_an_empty_archive_has_a_record(tmp_path: Path) -> None:
    (tmp_path / "boards").mkdir()
    (tmp_path / "boards/only.txt").write_text("nothing\n", encoding="utf-8")
    run(tmp_path / "boards", tmp_path / "store.db")
    assert record(str(tmp_path / "store.db"), str(tmp_path / "record")) == ""
    assert table(tmp_path / "record", "boards") == []

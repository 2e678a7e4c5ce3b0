"""What the reader notes counts as the settings and --strict say, and missing files by what they may explain."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.app import Options, check
from isolint.netlist import read
from isolint.results import Result
from isolint.source import MemoryTree
from tests.support import judge, judge_files

STRICT = Options(strict=True)
SOUND = "* demonstration\nV1 IN 0 5\nR1 IN 0 10k\n"
UNEXPLAINED = {
    "a part": "XU1 IN 0 DEMO_NOWHERE\n",
    "a diode": "D1 IN 0 DEMO_NOWHERE\n",
    "a transistor": "Q1 IN A 0 DEMO_NOWHERE\nR2 A 0 1k\n",
    "a switch": "S1 IN 0 IN 0 DEMO_NOWHERE\n",
}


def of(rule: str, netlist: str, facts: str = "", options: Options | None = None, **files: str) -> list[Result]:
    return [result for result in judge(netlist, facts, options, **files).results if result.rule == rule]


LOSSES = {
    "a name twice": ("R1 IN 0 20k\n", "warning"),
    "text": ("? lost IN\n", "note"),
    "a second subcircuit": (".subckt S a b\nR1 a b 1\n.ends\n.subckt S a b\n.ends\n", "note"),
    "a second model": (".model D D\n.model D D\n", "note"),
    "an unclosed subcircuit": (".subckt S a b\nR1 a b 1\n", "note"),
    "a card behind the end": (".end\nR9 a b 1\n", "note"),
    "variants": (".alter\nR1 IN 0 20k\n", "note"),
}


@pytest.mark.parametrize("kind", LOSSES)
def test_strict_counts_each_note_about_a_card_that_may_be_lost(kind: str) -> None:
    lines, level = LOSSES[kind]
    assert [result.level for result in of("netlist-malformed", SOUND + lines)] == [level]
    assert [result.level for result in of("netlist-malformed", SOUND + lines, "", STRICT)] == ["error"]


def test_strict_does_not_count_a_remark_on_what_is_not_lost() -> None:
    netlist = f"{SOUND}R2 IN 0 1M\n\u200bR3 IN 0 1k\n"
    assert {result.level for result in of("netlist-malformed", netlist, "", STRICT)} == {"note"}


@pytest.mark.parametrize("level", ["error", "warning", "note"])
@pytest.mark.parametrize("kind", ["a name twice", "text"])
def test_the_stated_level_counts_for_what_the_reader_notes(kind: str, level: str) -> None:
    facts = f'[levels]\nnetlist-malformed = "{level}"\n'
    assert [result.level for result in of("netlist-malformed", SOUND + LOSSES[kind][0], facts)] == [level]


def test_a_missing_file_is_open_where_everything_is_explained() -> None:
    (result,) = of("include-missing", f"{SOUND}.include gone.lib\n")
    assert (result.kind, result.level, result.counts_as) == ("open", "none", "note")
    (result,) = of("include-missing", f"{SOUND}.include gone.lib\n", "", STRICT)
    assert (result.kind, result.counts_as) == ("open", "error")
    (result,) = of("include-missing", f"{SOUND}.include gone.lib\n", '[levels]\ninclude-missing = "warning"\n')
    assert (result.kind, result.counts_as) == ("open", "warning")


@pytest.mark.parametrize("kind", UNEXPLAINED)
def test_a_missing_file_is_an_error_where_something_lacks_an_explanation(kind: str) -> None:
    netlist = SOUND + UNEXPLAINED[kind]
    (result,) = of("include-missing", f"{netlist}.include gone.lib\n")
    assert (result.kind, result.level) == ("fail", "error")
    assert "nothing explains" in result.message
    assert "DEMO_NOWHERE" in result.message
    type_of = {"X": ".subckt DEMO_NOWHERE a b\nR1 a b 1k\n.ends\n", "D": "D", "Q": "NPN", "S": "SW"}[
        UNEXPLAINED[kind][0]
    ]
    definition = type_of if type_of[0] == "." else f".model DEMO_NOWHERE {type_of}\n"
    explained = f"{netlist}.include gone.lib\n{definition}"
    (result,) = of("include-missing", explained)
    assert result.kind == "open"


def test_a_record_explains_a_part() -> None:
    record = '[parts.DEMO_NOWHERE]\ntype = "ordinary"\npins = ["a", "b"]\n'
    netlist = f"{SOUND}{UNEXPLAINED['a part']}.include gone.lib\n"
    (result,) = of("include-missing", netlist, 'parts = ["parts.toml"]\n', parts__toml=record)
    assert result.kind == "open"
    (result,) = of("include-missing", netlist, '[elements."XU1"]\nordinary = true\n')
    assert result.kind == "open"


OWN = [
    ".lib C:\\Program Files\\sim\\lib\\standard.bjt",
    ".lib /usr/share/sim/models.lib",
    ".include /opt/sim/standard.dio",
]


@pytest.mark.parametrize("card", OWN)
def test_a_refused_library_of_a_simulator_is_a_note_unless_something_is_missing(card: str) -> None:
    assert [result.level for result in of("include-refused", f"{SOUND}{card}\n")] == ["note"]
    assert [result.level for result in of("include-refused", f"{SOUND}{card}\n", "", STRICT)] == ["note"]
    (result,) = of("include-refused", f"{SOUND}{UNEXPLAINED['a diode']}{card}\n")
    assert result.level == "error"
    assert "nothing explains D1 (DEMO_NOWHERE)" in result.message


@pytest.mark.parametrize("card", [".include /opt/models/demo.lib", ".lib ../../models.lib"])
def test_any_other_refused_file_stays_an_error(card: str) -> None:
    assert [result.level for result in of("include-refused", f"{SOUND}{card}\n")] == ["error"]


SECRET = "token-of-somebody"
HIDDEN = [".git/config", ".env", "a/.hidden/x.lib", ".git/x.lib"]


@pytest.mark.parametrize("path", HIDDEN)
@pytest.mark.parametrize("held", [f"R1 {SECRET} b 1k\n", f"url = {SECRET}\n[core]\n"])
def test_nothing_of_a_hidden_file_is_read_or_shown(path: str, held: str) -> None:
    report = judge_files({"board.cir": f"{SOUND}.include {path}\n", "isolint.toml": "top = true\n", path: held})
    assert [(result.rule, result.level) for result in report.results if result.kind == "fail"] == [
        ("include-refused", "error")
    ]
    assert SECRET not in repr(report)


def test_a_link_to_a_hidden_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / ".git/config").write_text(f"R9 {SECRET} b 1k\n", encoding="utf-8")
    (tmp_path / "models.lib").symlink_to(tmp_path / ".git/config")
    (tmp_path / "board.cir").write_text(f"{SOUND}.include models.lib\n", encoding="utf-8")
    report = check([str(tmp_path / "board.cir")], Options())
    assert [result.rule for netlist in report.netlists for result in netlist.results if result.kind == "fail"] == [
        "include-refused"
    ]
    assert SECRET not in repr(report)


def test_a_netlist_in_a_hidden_folder_reads_what_lies_beside_it() -> None:
    files = {".sim/board.cir": f"{SOUND}.include x.lib\n", ".sim/x.lib": "R9 a b 1k\n"}
    assert "R9" in read(MemoryTree(files), ".sim/board.cir").scopes[0].names


OTHERS = {
    "a letter": f"Dear colleague,\n{SECRET} is the word\nKind regards\n",
    "settings": f"[remote]\nurl = {SECRET}\n",
    "keys": f"DB_PASSWORD={SECRET}\nAPI_KEY {SECRET} x\npassword {SECRET} foo\n",
    "one word": f"{SECRET}\n",
    "a table": f"{SECRET},1,2\nb,3,4\n",
}


@pytest.mark.parametrize("kind", OTHERS)
def test_nothing_of_an_included_file_without_any_card_is_shown(kind: str) -> None:
    report = judge(f"{SOUND}.include notes.txt\n", notes__txt=OTHERS[kind])
    (result,) = [result for result in report.results if result.kind == "fail"]
    assert (result.rule, result.level, result.where.file) == ("netlist-malformed", "error", "board.cir")
    assert "holds no card of a netlist" in result.message
    assert SECRET not in repr(report)


CARDS = [
    "R9 a b 1k\n",
    "text first\nRload a b 1k\n",
    ".model D D\n",
    "* nothing but a comment\n",
    "",
    "Xmain a b SUB\n",
    "D1 a b DMOD\n",
    "E a b c d {x}\n",
    "V1 a b PULSE(0 5)\n",
    "YPDE d1 a b m\nR1 a b 1\n",
]


@pytest.mark.parametrize("held", CARDS)
def test_an_included_file_with_a_card_or_nothing_is_read(held: str) -> None:
    messages = [result.message for result in judge(f"{SOUND}.include x.inc\n", x__inc=held).results]
    assert not any("holds no card" in message for message in messages)


def test_both_of_two_elements_of_a_name_are_judged() -> None:
    # The second R1 joins the two grounds.
    netlist = "* two sides\nV1 V5 GND 5\nR1 V5 A 470\nXU1 A GND GNDF OUT DEMO_PT1\nV2 VF GNDF 5\nR2 VF OUT 10k\n"
    facts = 'parts = ["parts.toml"]\n[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GNDF"]\n'
    record = '[parts.DEMO_PT1]\ntype = "phototransistor"\npins = ["anode", "cathode", "emitter", "collector"]\n'
    assert [result.kind for result in of("ground-tie", netlist, facts, parts__toml=record)] == ["pass"]
    (tie,) = of("ground-tie", f"{netlist}R1 GND GNDF 0\n", facts, parts__toml=record)
    assert "R1~2" in tie.message
    (tie,) = of("ground-tie", f"{netlist}.connect GND GNDF\n", facts, parts__toml=record)
    assert (tie.kind, tie.level, tie.where.line) == ("fail", "error", 7)

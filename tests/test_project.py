"""Which netlists a tree holds, and which of them a changed file concerns."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest

from isolint import netlist as reader
from isolint.netlist.dependencies import included
from isolint.project import Dependency, Project, is_netlist
from isolint.source import FolderTree, MemoryTree

CARDS = "* invented\nR1 a b 1k\n"


def including(*names: str) -> str:
    return CARDS + "".join(f".include {name}\n" for name in names)


FILES = {
    "a/one.cir": including("../lib/models.lib"),
    "a/isolint.toml": 'parts = ["parts/*.toml"]\n',
    "a/parts/p.toml": "",
    "b/two.CIR": including("sheet.cir"),
    "b/sheet.cir": including("../lib/models.lib"),
    "b/isolint.toml": "top = true\n",
    "c/three.net": CARDS,
    "isolint.toml": 'parts = ["records.toml"]\n',
    "records.toml": "",
    "isolint-baseline.toml": "",
    "lib/models.lib": ".include more.inc\n",
    "lib/more.inc": "",
    "lib/unused.lib": "",
    ".hidden/four.cir": CARDS,
    "readme.md": "",
}
ALL = ("a/one.cir", "b/two.CIR", "c/three.net")


def project(**changes: str | None) -> Project:
    files = {**FILES, **changes}
    return Project(MemoryTree({name: text for name, text in files.items() if text is not None}))


def concerned(name: str, **changes: str | None) -> tuple[str, ...]:
    return project(**changes).concerned([name])[name]


def test_top_level_netlists_are_those_that_no_other_file_includes() -> None:
    assert project().netlists() == ALL
    assert project().netlists("b") == ("b/two.CIR",)


def test_files_that_include_each_other_are_not_lost() -> None:
    tree = MemoryTree({"a.cir": including("b.cir"), "b.cir": including("a.cir"), "c.cir": including("c.cir")})
    assert Project(tree).netlists() == ("a.cir", "c.cir")
    assert Project(tree).concerned(["b.cir"]) == {"b.cir": ("a.cir",)}


@pytest.mark.parametrize(
    ("changed", "netlists"),
    [
        ("a/one.cir", ("a/one.cir",)),
        ("b/sheet.cir", ("b/two.CIR",)),
        ("lib/models.lib", ("a/one.cir", "b/two.CIR")),
        ("lib/more.inc", ("a/one.cir", "b/two.CIR")),
        ("lib/unused.lib", ()),
        ("readme.md", ()),
        ("isolint.toml", ("a/one.cir", "c/three.net")),
        ("a/isolint.toml", ("a/one.cir",)),
        ("b/isolint.toml", ("b/two.CIR",)),
        ("isolint-baseline.toml", ALL),
        ("a/isolint-baseline.toml", ("a/one.cir",)),
        ("a/parts/p.toml", ("a/one.cir",)),
        ("a/parts/new.toml", ("a/one.cir",)),
        ("records.toml", ("c/three.net",)),
        ("other.toml", ()),
    ],
)
def test_a_changed_file_concerns_what_depends_on_it(changed: str, netlists: tuple[str, ...]) -> None:
    assert concerned(changed) == netlists


def test_a_file_that_was_deleted_still_concerns_what_names_it() -> None:
    assert concerned("lib/models.lib", **{"lib/models.lib": None}) == ("a/one.cir", "b/two.CIR")
    assert concerned("a/isolint.toml", **{"a/isolint.toml": None}) == ("a/one.cir",)
    assert concerned("a/one.cir", **{"a/one.cir": None}) == ()


def test_a_changed_file_without_a_known_ending_is_tried_as_a_netlist() -> None:
    assert concerned("board", board=CARDS) == ("board",)
    assert concerned("notes.txt", **{"notes.txt": CARDS}) == ()


def test_settings_that_cannot_be_read_concern_all_below_them() -> None:
    assert concerned("isolint.toml", **{"isolint.toml": "top = = 3"}) == ("a/one.cir", "c/three.net")


def test_dependencies_are_everything_that_a_check_reads() -> None:
    assert project().dependencies("a/one.cir") == (
        Dependency("lib/models.lib", "include"),
        Dependency("lib/more.inc", "include"),
        Dependency("a/isolint.toml", "settings"),
        Dependency("isolint.toml", "settings"),
        Dependency("a/parts/p.toml", "parts"),
        Dependency("isolint-baseline.toml", "baseline"),
    )


def test_dependencies_that_cannot_be_read_say_why() -> None:
    tree = MemoryTree({"x.cir": including("gone.lib", "../outside.lib")})
    found = {each.path: each.trouble for each in Project(tree).dependencies("x.cir")}
    assert found == {
        "gone.lib": "there is no such file",
        "../outside.lib": "the path leads out of the root folder",
    }


@pytest.mark.parametrize(
    "card",
    [
        ".include models.lib",
        '.INC "models.lib" ; with a comment',
        "   .incl models.lib",
        ". include models.lib",
        ".lib models.lib fast",
        ".lib 'models.lib'",
        ".include\n+ models.lib",
        ".inclde models.lib",
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_what_the_reader_would_include_is_found(card: str, encoding: str, end: str) -> None:
    text = f"* title\nR1 a b 1k\n{card}\nR2 a b 1k\n".replace("\n", end)
    data = text.encode(encoding)
    assert included(data) == ("models.lib",)
    tree = MemoryTree({"x.cir": data, "models.lib": ".lib fast\nR3 a b 1k\n.endl\n.model D D\n"})
    assert [file.path for file in reader.read(tree, "x.cir").files] == ["x.cir", "models.lib"]


def test_a_file_without_includes_is_not_decoded_and_comments_do_not_count() -> None:
    assert included(b"* .include x.lib\nR1 a.lib b.inc 1k\n.tran 1m\n.ends\n") == ()
    assert included(b"") == ()


def test_only_ending_and_case_decide_whether_a_name_is_a_netlists() -> None:
    assert is_netlist("a.CIR")
    assert not is_netlist("a.cir.txt")


def test_a_folder_on_disk_is_walked_without_links_hidden_files_and_other_repositories(tmp_path: Path) -> None:
    for name in ("a/x.cir", "a/.b/x.cir", ".c/x.cir", "sub/.git/config", "sub/x.cir", "z.cir"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(CARDS, encoding="utf-8")
    with contextlib.suppress(OSError):  # a system without links
        (tmp_path / "link").symlink_to(tmp_path / "a", target_is_directory=True)
    assert FolderTree(tmp_path).walk() == ("a/x.cir", "z.cir")
    assert FolderTree(tmp_path).walk("sub") == ("sub/x.cir",)
    assert FolderTree(tmp_path).walk("no such") == ()


# -- one netlist can't hide another ------------------------------------------------------------------------------------

BOARD = "* invented\nR1 a b 1k\n"
WRAPPED = {
    "behind .end": "* t\nR9 x y 1\n.end\n.include board.cir\n",
    "in a false condition": "* t\nR9 x y 1\n.if 0\n.include board.cir\n.endif\n",
    "in a subcircuit that nobody uses": "* t\nR9 x y 1\n.subckt s\n.include board.cir\n.ends\n",
    "in a subcircuit, on other nets": "* t\n.subckt s c\n.include board.cir\n.ends\nX1 c s\n",
    "as a section": "* t\nR9 x y 1\n.lib board.cir tt\n",
}


@pytest.mark.parametrize("how", WRAPPED)
def test_an_include_that_does_not_run_hides_nothing(how: str) -> None:
    found = Project(MemoryTree({"board.cir": BOARD, "evil.cir": WRAPPED[how]}))
    assert found.netlists() == ("board.cir", "evil.cir")
    assert found.concerned(["board.cir"])["board.cir"] == ("board.cir", "evil.cir")


def test_a_netlist_that_another_one_runs_is_judged_there() -> None:
    through = {"board.cir": BOARD, "top.cir": "* t\n.include mid.inc\n", "mid.inc": ".include board.cir\n"}
    assert Project(MemoryTree(through)).netlists() == ("top.cir",)
    assert Project(MemoryTree({**through, "mid.inc": ".end\n.include board.cir\n"})).netlists() == (
        "board.cir",
        "top.cir",
    )


def test_a_file_of_definitions_is_judged_where_it_is_used() -> None:
    files = {"cells.cir": "* t\n.subckt s a b\nR1 a b 1\n.ends\n", "top.cir": "* t\n.lib cells.cir x\nX1 a b s\n"}
    assert Project(MemoryTree(files)).netlists() == ("top.cir",)
    assert Project(MemoryTree({"cells.cir": files["cells.cir"]})).netlists() == ("cells.cir",)


@pytest.mark.parametrize(
    "settings",
    [
        {"bench/isolint.toml": '[reading]\nsimulation_only = ["*"]\n'},
        {"bench/isolint.toml": '[reading]\ninclude_root = "."\n'},
        {"bench/isolint.toml": "top = true\n", "isolint.toml": ""},
        {"a/isolint.toml": '[supplies."V5"]\nvoltage = "5 V"\n'},
    ],
)
def test_a_netlist_that_is_read_by_other_settings_there_is_judged_by_itself(settings: dict[str, str]) -> None:
    files = {"a/board.cir": BOARD, "bench/bench.cir": "* t\n.include ../a/board.cir\nV1 a b 1\n"}
    assert Project(MemoryTree(files)).netlists() == ("bench/bench.cir",)
    assert Project(MemoryTree({**files, **settings})).netlists() == ("a/board.cir", "bench/bench.cir")


def test_what_may_be_no_netlist_hides_none() -> None:
    assert Project(MemoryTree({"board.cir": BOARD, "x.net": "* t\n.include board.cir\n"})).netlists() == (
        "board.cir",
        "x.net",
    )
    odd = Project(MemoryTree({"board.cir": BOARD, "x.odd": "* t\n.include board.cir\n"}))
    assert odd.concerned(["x.odd"])["x.odd"] == ("x.odd",)
    assert odd.concerned(["x.odd", "board.cir"])["board.cir"] == ("board.cir", "x.odd")


def test_of_netlists_that_run_each_other_one_is_judged_and_what_one_of_them_hides_is_not_lost() -> None:
    ring = {"a.cir": "* t\nR1 a b 1\n.include b.cir\n", "b.cir": "* t\nR2 a b 1\n.include a.cir\n"}
    assert Project(MemoryTree(ring)).netlists() == ("a.cir",)
    third = {**ring, "c.cir": "* t\nR3 a b 1\n.end\n.include a.cir\n"}
    assert Project(MemoryTree(third)).netlists() == ("a.cir", "c.cir")


def test_what_a_netlist_that_is_gone_ran_is_judged_by_itself_now() -> None:
    found = project(**{"lib/part.cir": CARDS})
    former = {"gone.cir": b"* t\n.include b/two.CIR\n.include lib/part.cir\n"}
    assert found.concerned(["gone.cir"])["gone.cir"] == ()
    assert found.concerned(["gone.cir"], former)["gone.cir"] == ("b/two.CIR", "lib/part.cir")


def test_what_runs_only_through_a_hidden_file_which_the_reader_refuses_is_judged_by_itself() -> None:
    files = {
        "board.cir": BOARD,
        "evil.cir": "* t\nR9 x y 1\n.include .x/mid.inc\n",
        ".x/mid.inc": ".include ../board.cir\n",
    }
    assert Project(MemoryTree(files)).netlists() == ("board.cir", "evil.cir")


RUNS = "* t\nR1 a b 1\n{}.include other.cir\n"
STOPS = {
    "no longer": "* t\nR1 a b 1\n",
    "behind .end": RUNS.format(".end\n"),
    "in a condition": RUNS.format(".if 0\n") + ".endif\n",
    "in a subcircuit": RUNS.format(".subckt s a b\n") + ".ends\n",
    "as a comment": RUNS.format("* "),
    "not at all": None,
}


@pytest.mark.parametrize("how", STOPS)
def test_what_no_longer_runs_in_another_netlist_is_judged_by_itself_from_then_on(how: str) -> None:
    files = {"board.cir": STOPS[how], "other.cir": CARDS, "third.cir": CARDS}
    now = Project(MemoryTree({name: text for name, text in files.items() if text is not None}))
    before = {"board.cir": RUNS.format("").encode()}
    assert now.orphaned(before) == ("other.cir",)
    assert "other.cir" in now.netlists()
    # It had its own judge all the time, or there is nothing to compare with.
    assert now.orphaned({"board.cir": None if files["board.cir"] is None else files["board.cir"].encode()}) == ()
    assert now.orphaned({}) == ()


def test_what_still_runs_in_another_netlist_is_not_judged_for_an_edit_of_values() -> None:
    now = Project(MemoryTree({"board.cir": RUNS.format("R2 a b 2\n"), "other.cir": CARDS}))
    assert now.orphaned({"board.cir": RUNS.format("R2 a b 1\n").encode()}) == ()


def test_what_a_library_no_longer_runs_is_judged_by_itself() -> None:
    now = Project(MemoryTree({"board.cir": "* t\nR1 a b 1\n.include x.lib\n", "x.lib": "* x\n", "other.cir": CARDS}))
    assert now.orphaned({"x.lib": b"* x\n.include other.cir\n"}) == ("other.cir",)


def test_settings_that_take_a_netlist_its_judge_let_it_be_judged() -> None:
    files = {"in/board.cir": RUNS.format("").replace("other", "../other"), "other.cir": CARDS}
    now = Project(MemoryTree({**files, "in/isolint.toml": '[reading]\nsimulation_only = ["V*"]\n'}))
    assert now.orphaned({"in/isolint.toml": None}) == ("other.cir",)
    assert now.orphaned({"in/isolint.toml": b'[reading]\nsimulation_only = ["R*"]\n'}) == ()
    assert now.deciding(["in/isolint.toml", "other.cir", "a.lib", "notes.md", "parts.toml"]) == [
        "in/isolint.toml",
        "other.cir",
        "a.lib",
    ]

"""The list fits the tree as it is, drawn changes are what they say, and the runner tells caught from survived."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import pytest

from tests.mutations.__main__ import noticing, status, summary
from tests.mutations.change import Change, Stale
from tests.mutations.drawn import LAST, PARTS, changes_of, drawn, sites
from tests.mutations.equivalent import EQUIVALENT, Equivalent
from tests.mutations.listed import LISTED
from tests.mutations.running import Copy, MutationOutcome, unsound

FIRST = LISTED[0]
OTHERS = ("worstcase/test_transfer.py", "rules/test_led_reversed.py")


def changed(line: str) -> set[str]:
    """What becomes of one line of a module by all changes."""
    source = f"def f(a, b, c):\n    {line}\n"
    return {change.new.strip() for change in changes_of("rules/x.py", source.encode(), LAST)}


# -- the list -------------------------------------------------------------------------------------------------


def test_the_list_holds_sixty_changes_each_once() -> None:
    assert len(LISTED) >= 60
    assert len({(change.file, change.old, change.new) for change in LISTED}) == len(LISTED)


@pytest.mark.parametrize("change", LISTED, ids=lambda change: f"{change.file} {change.old[:30]}")
def test_a_change_of_the_list_fits_the_tree(change: Change) -> None:
    """Where it does not, give the row the new text of its line, or put another row of the kind in its place."""
    assert change.missing() == ""


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (FIRST._replace(old="total = led + output + nothing"), "stands 0 times"),
        (FIRST._replace(old="total"), "it must stand there once"),
        (FIRST._replace(file="worstcase/gone.py"), "there is no such file"),
        (FIRST._replace(tests=("worstcase/test_gone.py",)), "there is no tests/worstcase/test_gone.py"),
        (FIRST._replace(tests=("worstcase/test_off.py::test_gone",)), "no tests/worstcase/test_off.py::test_gone"),
        (FIRST._replace(new="total = = led"), "invalid syntax"),
        (FIRST._replace(tests=()), "names no tests"),
    ],
)  # fmt: skip
def test_a_row_that_no_longer_fits_is_named_with_the_reason(row: Change, why: str) -> None:
    assert why in row.missing()


def test_a_stale_row_is_never_applied() -> None:
    with pytest.raises(Stale, match="gone -> x"):
        FIRST._replace(old="gone", new="x").applied("here")


# -- drawn changes --------------------------------------------------------------------------------------------


def test_each_kind_of_expression_is_changed_and_texts_are_left_alone() -> None:
    assert changed("return a + b") == {"return a - b", "return a"}
    assert changed("return a * (b - c)") == {
        "return a",
        "return (2.0 * a * (b - c))",
        "return a * (b + c)",
        "return a * (b)",
    }
    assert changed("return a < b") == {"return a >= b"}
    assert changed("return a is None or b in c") == {
        "return (b in c)",
        "return (a is None)",
        "return a is not None or b in c",
        "return a is None or b not in c",
    }
    assert changed("return -a") == {"return a"}
    assert changed("return 1.5") == {"return (2.0 * 1.5)"}
    assert changed('return "a" + b') == set()
    assert changed('return f"{a + b}"') == set()
    assert changed("raise ValueError(a + b)") == set()
    assert changed("assert a < b") == set()


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A tree with one module of each part."""
    body = "def f(a, b):\n" + "".join(f"    x{at} = a + b\n" for at in range(9)) + "    return x0\n"
    for file in ("worstcase/solve", "worstcase/transfer", "interfaces/sides", "rules/led_reversed", "netlist/reader"):
        for path in (tmp_path / "isolint" / f"{file}.py", tmp_path / "tests" / file.replace("/", "/test_")):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.with_suffix(".py").write_text(body)
    (tmp_path / "tests" / "worstcase" / "test_a.py").touch()
    (tmp_path / "tests" / "rules" / "test_fixtures.py").touch()
    (tmp_path / "tests" / "boards").mkdir()
    return tmp_path


def test_as_many_changes_are_drawn_of_each_part_and_the_same_ones_each_time(small: Path) -> None:
    found = drawn(20, "1", small)
    assert found == drawn(20, "1", small)
    assert found != drawn(20, "2", small)
    assert [change.missing(small) for change in found] == [""] * 20
    assert set(Counter(change.file for change in found).values()) == {20 // len(PARTS)}


def test_a_drawn_change_is_held_against_its_own_tests_first_and_the_boards_last(small: Path) -> None:
    (change, *_) = drawn(1, "1", small)
    assert change.tests == ("worstcase/test_solve.py", "worstcase/test_a.py", *OTHERS, *LAST)


def test_modules_as_they_are_can_be_changed() -> None:
    assert {change.file.partition("/")[0] for change in drawn(5, "1")} == {
        "worstcase",
        "interfaces",
        "rules",
        "netlist",
    }


def test_what_stands_elsewhere_does_not_change_what_is_drawn() -> None:
    source = b"def f(a, b):\n    return a + b\n"
    longer = b"import math\n\n\ndef g(a):\n    return -a\n\n\n" + source
    assert set(changes_of("rules/x.py", source, LAST)) < set(changes_of("rules/x.py", longer, LAST))


def test_a_line_that_stands_twice_is_left_alone() -> None:
    source = b"def f(a):\n    return -a\n\n\ndef g(a):\n    return -a\n"
    assert list(sites(ast.parse(source), source))
    assert list(changes_of("rules/x.py", source, LAST)) == []


@pytest.mark.parametrize("row", EQUIVALENT, ids=lambda row: f"{row.file} {row.new.strip()[:40]}")
def test_a_change_that_is_said_to_change_nothing_has_a_reason_and_fits_the_tree(row: Equivalent) -> None:
    assert row.why[:1].isalpha()
    assert Change(row.file, row.old, row.new, LAST).missing() == ""


# -- the runner -----------------------------------------------------------------------------------------------


def test_a_change_is_caught_by_a_test_that_fails_and_taken_back(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    (tmp_path / "tests" / "test_own.py").write_text(
        "from isolint.worstcase.heat import NO_POWER\n\n\ndef test_own() -> None:\n    assert NO_POWER == 1e-9\n"
    )
    change = Change("worstcase/heat.py", "NO_POWER = 1e-9", "NO_POWER = 1e-8", ("test_own.py",))
    other = change._replace(new="NO_POWER = 10e-10")
    found = [copy.judge(row) for row in (change, other, change, change._replace(tests=("test_gone.py",)))]
    assert [row.outcome for row in found] == ["caught", "survived", "caught", "broken"]
    assert found[0].told.startswith("FAILED tests/test_own.py::test_own")
    assert "test_gone.py" in found[3].told
    original = Path(__file__).parents[2] / "isolint" / "worstcase" / "heat.py"
    assert (tmp_path / "isolint" / "worstcase" / "heat.py").read_bytes() == original.read_bytes()


def test_one_survivor_of_the_list_fails_and_one_of_ten_drawn_ones_does_not() -> None:
    caught, survived = MutationOutcome(FIRST, "caught", "", 1.0), MutationOutcome(FIRST, "survived", "", 1.0)
    left, broken = MutationOutcome(FIRST, "not begun", "", 0.0), MutationOutcome(FIRST, "broken", "", 1.0)
    assert status([caught] * 3, 1.0) == 0
    assert status([caught, survived], 1.0) == 1
    assert status([*[caught] * 9, survived], 0.9) == 0
    assert status([*[caught] * 8, survived], 0.9) == 1
    assert status([caught, left], 1.0) == 0
    assert status([left], 1.0) == 1
    assert status([caught, broken], 0.9) == 2
    assert summary([caught, survived, caught]) == "2 caught, 1 survived"


def test_the_tests_that_noticed_are_known_by_their_names_so_that_they_can_be_run_without_a_change() -> None:
    told = ("FAILED tests/a/test_b.py::test_c[x y-1] - assert 1", "FAILED tests/a/test_b.py::test_d - assert 2", "")
    rows = [MutationOutcome(FIRST, "caught", text, 1.0) for text in (*told, told[0], "stopped after 300 s")]
    assert noticing(rows) == ["a/test_b.py::test_c", "a/test_b.py::test_d"]


def test_a_test_that_fails_without_a_change_is_told(tmp_path: Path) -> None:
    assert unsound([], tmp_path / "none") == ""
    said = unsound(["mutations/test_none.py"], tmp_path / "other")
    assert "test_none.py" in said

"""The one reader of expected results: a netlist's `* expect:` comments against what a check says.

`* expect: slug [key=value]` above a card means a failure of that rule whose `where` is the card, `* expect-open: slug`
an open result; `file=isolint.toml` says that it stands in another file instead. Expectations are complete: any other
failure or open result is a difference, but for what a waiver accepts and for types whose output no rule judges yet.
`* expect: none` says that there is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet

from isolint import app
from isolint.checking import cures
from isolint.results import UNJUDGED, NetlistReport, Result
from isolint.source import FolderTree, MemoryTree
from tests.expectations import Expectation, expectations, states_none

BOARD = "board.cir"
FIXTURES = Path(__file__).parents[1] / "fixtures"
TODAY = app.Options(today=date(2026, 1, 1))


def judge(netlist: str, facts: str = "", options: app.Options | None = None, **files: str) -> NetlistReport:
    """Check a netlist in memory, `facts` as its isolint.toml.

    Further files by name, `__` for a dot and `_0_` for a slash.
    """
    named = {name.replace("_0_", "/").replace("__", "."): text for name, text in files.items()}
    return judge_files({BOARD: netlist, "isolint.toml": f"top = true\n{facts}", **named}, options)


def judge_files(files: Mapping[str, str], options: app.Options | None = None) -> NetlistReport:
    """Check board.cir among files in memory."""
    return app.check_in(MemoryTree(files), BOARD, "", options or app.Options())[0]


def judge_file(root: Path, path: Path, options: app.Options | None = None) -> NetlistReport:
    """Check a netlist on disk; settings count from its folder up to `root`."""
    return app.check_in(FolderTree(root), path.relative_to(root).as_posix(), "", options or app.Options())[0]


@cache
def judge_fixture(path: Path) -> NetlistReport:
    """Check a netlist below `fixtures/` as of `TODAY`, once in a process; settings count from its folder upwards."""
    return judge_file(FIXTURES / path.relative_to(FIXTURES).parts[0], path, TODAY)


@cache
def judge_example(netlist: str, settings: str) -> NetlistReport:
    """Check an example of a page as of `TODAY`, once in a process."""
    return judge(netlist, settings, TODAY)


@contextmanager
def without_cures() -> Iterator[None]:
    """Faults are told without the value of a resistor that cures them, for which boards are judged again and again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cures, "tried", lambda *_, **__: cures.Cure())
        yield


def judge_briefly(files: Mapping[str, str | bytes], netlist: str) -> NetlistReport:
    """Check a netlist among files in memory as of `TODAY`, without a search for the values that cure its faults.

    For boards that are changed and of which only the verdicts are compared.
    """
    with without_cures():
        return app.check_in(MemoryTree(files), netlist, "", TODAY)[0]


def of_netlist(path: Path, root: Path = FIXTURES, value: object = None, long: bool = False) -> ParameterSet:
    """A netlist below `fixtures/` as a parameter, or a value that belongs to it.

    Tests with one and the same netlist run in one process, so that it is judged only once. root: of the test's name.
    long: only asked by `pytest -m long`.
    """
    marks = [pytest.mark.xdist_group(path.relative_to(FIXTURES).as_posix()), *([pytest.mark.long] if long else [])]
    return pytest.param(path if value is None else value, id=path.relative_to(root).as_posix(), marks=marks)


def of_page(slug: str, name: str, *values: object) -> ParameterSet:
    """What belongs to the page of a rule as a parameter; its examples run in one process too."""
    return pytest.param(*values, id=name, marks=pytest.mark.xdist_group(f"page {slug}"))


def differences(report: NetlistReport, text: str) -> list[str]:
    """What the comments of a netlist promise and the report does not hold, and the other way round.

    [] when they agree.
    """
    wanted = expectations(text)
    if not wanted and not states_none(text):
        return ["the netlist expects nothing: write `* expect: none`, or what it must give"]
    left = [
        result
        for result in report.results
        if result.kind in ("fail", "open") and result.suppression is None and result.role != UNJUDGED
    ]
    problems: list[str] = []
    for expectation in wanted:
        found = next((result for result in left if _matches(expectation, result, report.netlist)), None)
        if found is None:
            problems.append(
                f"line {expectation.card_line}: {expectation.kind} {expectation.slug} is expected and not there"
            )
            continue
        left.remove(found)
        problems.extend(f"line {expectation.card_line}: {problem}" for problem in _bounds(expectation, found))
    problems.extend(f"{result.where}: {result.kind} {result.rule} is not expected: {result.message}" for result in left)
    return problems


def only(report: NetlistReport, rule: str, kind: str | None = None) -> Result:
    """The one result of a rule (of one kind), passes and results that do not apply included."""
    found = [result for result in report.results if result.rule == rule and kind in (None, result.kind)]
    assert len(found) == 1, [(result.rule, result.kind, result.message) for result in found]
    return found[0]


def complaints(report: NetlistReport) -> list[tuple[str, str, str]]:
    """Rule, kind and subject of all failures and open results."""
    return [
        (result.rule, result.kind, result.subject)
        for result in report.results
        if result.kind in ("fail", "open") and result.role != UNJUDGED
    ]


def _matches(expectation: Expectation, result: Result, netlist: str) -> bool:
    if "file" in expectation.bounds:
        here = result.where.file == expectation.bounds["file"]
    else:
        here = result.where.file == netlist and result.where.line == expectation.card_line
    return here and (result.kind, result.rule) == (expectation.kind, expectation.slug)


def _bounds(expectation: Expectation, result: Result) -> list[str]:
    problems: list[str] = []
    for key, bound in expectation.bounds.items():
        if key == "file":
            continue
        if key == "margin":
            value = None if result.margin is None else result.margin.value
            if value is None or not isinstance(bound, float) or abs(value - bound) > 0.005 + 1e-9:
                problems.append(f"{expectation.slug}: the margin is {value}, {bound} is expected")
        elif str(getattr(result, key)) != str(bound):
            problems.append(f"{expectation.slug}: {key} is {getattr(result, key)}, {bound} is expected")
    return problems

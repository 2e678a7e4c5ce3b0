"""Every printed block of missing lines loads as it is printed, in the file that it names, alone and with the others.

Pasting changes no open result into a pass: what is not known is a placeholder, and states nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache

import pytest

from isolint.errors import IsolintError, SettingsError
from isolint.results import NetlistReport, Result
from tests.rules.test_pages import examples, of_example
from tests.support import BOARD, FIXTURES, judge_briefly, judge_example, judge_fixture, of_netlist

NETLISTS = (".cir", ".net", ".sp", ".ckt")
HELD: dict[str, bytes] = {
    path.relative_to(FIXTURES).as_posix(): path.read_bytes() for path in sorted(FIXTURES.rglob("*")) if path.is_file()
}
ASKS = re.compile(r"expect-open|expect: (led-undriven|ground-tie)")
"""What a netlist expects that prints lines."""

BOARDS = [
    name for name, data in HELD.items() if name.endswith(NETLISTS) and ASKS.search(data.decode("utf-8", "replace"))
]
PAGES = [example for example in examples() if ASKS.search(example[2])]


@cache
def below(root: str) -> Mapping[str, bytes]:
    """The files below a folder of fixtures, as they are called from there."""
    return {name.removeprefix(f"{root}/"): data for name, data in HELD.items() if name.startswith(f"{root}/")}


def pasted(text: str, lines: str) -> str:
    """A file with a block in it, as somebody would paste it: below its table if that is there, else at the end."""
    head = ""
    for line in lines.split("\n"):
        if line.startswith("["):
            head = line
            if head.startswith("[[") or not re.search(f"(?m)^{re.escape(head)}", text):
                text = f"{text.rstrip()}\n{head}\n"
        elif not head or head.startswith("[["):
            text += f"{line}\n"
        else:
            before, found, after = re.split(f"(?m)^({re.escape(head)}.*\n)", f"{text}\n", maxsplit=1)
            own = re.split(r"(?m)^\[", after, maxsplit=1)[0]
            key = line.partition(" =")[0]
            if not re.search(f"(?m)^{re.escape(key)} =", own):
                text = f"{before}{found}{line}\n{after}"
    return text


def with_lines(files: Mapping[str, bytes], blocks: list[tuple[str, str]]) -> dict[str, bytes]:
    """The files with the blocks in those that they name."""
    changed = dict(files)
    for file, lines in blocks:
        changed[file] = pasted(changed.get(file, b"").decode("utf-8"), lines).encode()
    return changed


def asked(report: NetlistReport) -> Iterator[tuple[Result, list[tuple[str, str]]]]:
    for result in report.results:
        if result.missing and result.kind in ("open", "fail"):
            yield result, [(fact.file, fact.example) for fact in result.missing if fact.example]


def passes(report: NetlistReport) -> set[tuple[str, str, str]]:
    return {(result.rule, result.subject, result.role) for result in report.results if result.kind == "pass"}


def differences(files: Mapping[str, bytes], netlist: str, judged: Callable[[], NetlistReport]) -> list[str]:
    """What goes wrong when the printed blocks of a netlist are pasted, one result at a time and all together."""
    try:
        report = judged()
    except IsolintError:
        return []
    before, wrong = passes(report), []
    results = list(asked(report))
    together = [block for _, blocks in results for block in blocks]
    for name, blocks in [
        *((f"{result.rule} {result.subject}", blocks) for result, blocks in results),
        *([("all", together)] if len(results) > 1 else []),
    ]:
        for file, lines in blocks:
            if file.startswith("isolint:"):
                wrong.append(f"{name}: {file} is no file that anybody can write")
            if re.search(r"(?m)^ordinary = true", lines):
                wrong.append(f"{name}: offers that the part is ordinary")
        try:
            after = judge_briefly(with_lines(files, blocks), netlist)
        except SettingsError as error:
            wrong += [f"{name}: {mistake}" for mistake in error.mistakes]
            continue
        lost = [result for result, _ in results if result.kind == "open"]
        wrong += [
            f"{name}: {result.rule} {result.subject} passes by a pasted block"
            for result in lost
            if (result.rule, result.subject, result.role) in passes(after) - before
        ]
    return wrong


@pytest.mark.parametrize(("slug", "section", "netlist", "settings"), [*map(of_example, PAGES)])
def test_the_printed_lines_of_an_example_load_and_let_nothing_pass(
    slug: str, section: str, netlist: str, settings: str
) -> None:
    held = {BOARD: netlist.encode(), "isolint.toml": f"top = true\n{settings}".encode()}
    assert differences(held, BOARD, lambda: judge_example(netlist, settings)) == []


@pytest.mark.parametrize("netlist", [of_netlist(FIXTURES / name, FIXTURES, name) for name in BOARDS])
def test_the_printed_lines_of_a_fixture_load_and_let_nothing_pass(netlist: str) -> None:
    root, _, name = netlist.partition("/")
    assert differences(below(root), name, lambda: judge_fixture(FIXTURES / netlist)) == []


def test_a_block_that_would_not_load_is_found() -> None:
    held = {"board.cir": HELD[BOARDS[0]], "isolint.toml": b""}
    broken = with_lines(held, [("isolint.toml", '[inputs."A"]\nlow_maximum = "?"')])
    with pytest.raises(SettingsError, match="low_maximum"):
        judge_briefly(broken, BOARD)
    assert len(BOARDS) > 30


def test_a_block_goes_below_its_table() -> None:
    held = '[inputs."A"]\nsupply = "V5"\n[sides.a]\nnets = ["A"]\n'
    assert (
        pasted(held, '[inputs."A"]\nsupply = "?"\nlow_max = "?"')
        == held.replace("supply", 'low_max = "?"\nsupply') + "\n"
    )

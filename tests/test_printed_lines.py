"""Every printed block of missing lines loads as it is printed, in the file that it names, alone and with the others.

Pasting changes no open result into a pass: what is not known is a placeholder, and states nothing. With values in place
of the placeholders the lines load too, and what was asked is asked no more: it is judged, or something else is asked.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache

import pytest

from isolint.errors import IsolintError, SettingsError
from isolint.results import NetlistReport, Result
from tests.answers import answered
from tests.rules.test_pages import examples, of_example
from tests.support import BOARD, FIXTURES, judge_briefly, judge_example, judge_fixture, of_netlist

NETLISTS = (".cir", ".net", ".sp", ".ckt")
HELD: dict[str, bytes] = {
    path.relative_to(FIXTURES).as_posix(): path.read_bytes() for path in sorted(FIXTURES.rglob("*")) if path.is_file()
}
ASKS = re.compile(r"expect-open|expect: (led-undriven|ground-tie)")
"""What a netlist expects that prints lines."""

BAUD = b'[signals.DRIVE]\nrate = "9600 baud"\n'
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


def values_for(lines: str) -> dict[str, str]:
    """What somebody writes where no example stands beside a key: the part is ordinary, its pins have numbers."""
    nets = re.search(r"their names in the order of the card, now on (.*)", lines)
    if nets is None:
        return {"type": '"ordinary"'} if re.search(r'type = "\?"  # "ordinary"', lines) else {}
    pins = [f'"pin{number}"' for number, _ in enumerate(nets[1].split(", "), start=1)]
    return {"type": '"ordinary"', "pins": f"[{', '.join(pins)}]"}


def answers(files: Mapping[str, bytes], netlist: str, judged: Callable[[], NetlistReport], alone: bool) -> list[str]:
    """What goes wrong when the printed blocks are pasted with values: each result's alone, or all together."""
    try:
        report = judged()
    except IsolintError:
        return []
    results, wrong = list(asked(report)), []
    given = [(f"{result.rule} {result.subject}", [(result, blocks)]) for result, blocks in results]
    for name, part in given if alone else [("all", results)] if results else []:
        blocks = [(file, answered(lines, values_for(lines))) for _, own in part for file, lines in own]
        try:
            after = judge_briefly(with_lines(files, blocks), netlist)
        except SettingsError as error:
            wrong += [f"{name}: {mistake}" for mistake in error.mistakes]
            continue
        keys = {(fact.file, fact.key) for result, _ in part for fact in result.missing if fact.example}
        wrong += [
            f"{name}: {result.rule} {result.subject} still asks for {fact.key}"
            for result in after.results
            if result.kind in ("open", "fail")
            for fact in result.missing
            if (fact.file, fact.key) in keys
        ]
    return wrong


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
    assert answers(held, BOARD, lambda: judge_example(netlist, settings), alone=False) == []


@pytest.mark.parametrize("netlist", [of_netlist(FIXTURES / name, FIXTURES, name) for name in BOARDS])
def test_the_printed_lines_of_a_fixture_load_and_let_nothing_pass(netlist: str) -> None:
    root, _, name = netlist.partition("/")
    assert differences(below(root), name, lambda: judge_fixture(FIXTURES / netlist)) == []


@pytest.mark.parametrize("netlist", [of_netlist(FIXTURES / name, FIXTURES, name) for name in BOARDS])
def test_the_printed_lines_of_a_fixture_settle_with_values_what_they_were_asked_for(netlist: str) -> None:
    root, _, name = netlist.partition("/")
    assert answers(below(root), name, lambda: judge_fixture(FIXTURES / netlist), alone=False) == []


@pytest.mark.long
@pytest.mark.parametrize("netlist", [of_netlist(FIXTURES / name, FIXTURES, name) for name in BOARDS])
def test_the_printed_lines_of_each_result_settle_by_themselves_what_they_were_asked_for(netlist: str) -> None:
    root, _, name = netlist.partition("/")
    assert answers(below(root), name, lambda: judge_fixture(FIXTURES / netlist), alone=True) == []


def test_a_line_that_settles_nothing_is_found() -> None:
    board = b"* invented\nR1 DRIVE B 470\nC1 B A 100n\nD1 GND A DX\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    held = {BOARD: board, "isolint.toml": b'[outputs.DRIVE]\nsupply = "V"\n[supplies.V]\nvoltage = "5 V"\n'}
    baud = {**held, "isolint.toml": held["isolint.toml"] + BAUD}
    told = [result for result, _ in asked(judge_briefly(baud, BOARD)) if result.rule == "led-undriven"]
    # A rate in baud does not tell how often an edge comes.
    assert [fact.key for result in told for fact in result.missing] == ['signals."DRIVE".rate']
    assert answers(held, BOARD, lambda: judge_briefly(held, BOARD), alone=True) == []


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

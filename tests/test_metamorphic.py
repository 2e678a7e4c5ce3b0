"""Over all fixtures: the order of cards, the names of nets and the hierarchy change nothing but names.

A net is renamed in the netlist and in the facts alike, to a name of its own kind, so that what a name says of itself
(a reference, a supply and its voltage) stays. A sheet is flattened into the calling file, its inner elements and nets
under their paths.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from isolint.preparing import prepare
from isolint.results import NetlistReport, Result
from isolint.source import FolderTree
from tests.support import FIXTURES, judge_briefly, judge_fixture, of_netlist

NETLISTS = sorted(FIXTURES.rglob("*.cir"))
# A port or resistor that several channels share is judged on the first of them.
SHARED = frozenset({"driver-port-overloaded", "resistor-overloaded"})

BOARDS = [path for path in NETLISTS if "rules" not in path.parts]
TWINS = [path for path in NETLISTS if path not in BOARDS and path.name in ("fails.cir", "passes.cir")]
OTHERS = [path for path in NETLISTS if path not in BOARDS and path not in TWINS]

Judged = Counter[tuple[object, ...]]


def files(path: Path) -> dict[str, str]:
    """All files that a fixture may read: those of its kind."""
    return dict(_below(FIXTURES / path.relative_to(FIXTURES).parts[0]))


@cache
def _below(root: Path) -> Mapping[str, str]:
    return {name_of(each): each.read_text("utf-8", "surrogateescape") for each in root.rglob("*") if each.is_file()}


def report(tree: dict[str, str], path: str) -> NetlistReport:
    data = {name: text.encode("utf-8", "surrogateescape") for name, text in tree.items()}
    return judge_briefly(data, path)


def name_of(path: Path) -> str:
    return path.relative_to(FIXTURES).as_posix()


def judged(found: NetlistReport, with_names: bool = True) -> Judged:
    """Rule, kind, level, subject and numbers of each result, without places and message texts."""
    return Counter(
        (
            result.rule,
            result.kind,
            result.level,
            result.subject.casefold() if with_names and result.rule not in SHARED else "",
            None if result.margin is None else (significant(result.margin.value, "1"), result.margin.required),
            () if result.rule in SHARED else tuple(numbers(result)),
        )
        for result in found.results
    )


def numbers(result: Result) -> list[tuple[object, ...]]:
    return sorted(
        (
            item.symbol if not re.search(r"[A-Z]\w*\d", item.symbol) else "",
            item.unit,
            *(significant(value, item.unit) for value in (item.min, item.nominal, item.max)),
        )
        for item in result.evidence
    )


def significant(value: float | None, unit: str) -> str:
    """Five digits; what is far below every current and voltage that counts is nothing."""
    if value is None:
        return "-"
    return "0" if abs(value) < (1e-7 if unit == "V" else 1e-9) else f"{value:.4e}"


# -- order of cards -----------------------------------------------------------------------------------------------


def shuffled(text: str) -> str:
    """The cards of each scope in reverse order; title, directives and the frame of subcircuits stay where they are."""
    lines = text.splitlines()
    cards: list[list[str]] = []
    for line in lines:
        if line.startswith("+") and cards:
            cards[-1].append(line)
        else:
            cards.append([line])
    result: list[list[str]] = []
    run: list[list[str]] = []
    for index, card in enumerate(cards):
        movable = index > 0 and card[0][:1].isalpha()
        if movable:
            run.append(card)
        else:
            result.extend(reversed(run))
            run = []
            result.append(card)
    result.extend(reversed(run))
    return "\n".join(line for card in result for line in card) + "\n"


def test_shuffling_moves_cards_and_keeps_continuations_with_them() -> None:
    assert shuffled("title\nR1 a b 1\nX1 a\n+ b SUB\n* c\nR2 a b 2\nR3 a b 3\n.end\n") == (
        "title\nX1 a\n+ b SUB\nR1 a b 1\n* c\nR3 a b 3\nR2 a b 2\n.end\n"
    )


@pytest.mark.parametrize("path", [*map(of_netlist, BOARDS)])
def test_the_order_of_cards_does_not_matter(path: Path) -> None:
    tree = files(path)
    tree[name_of(path)] = shuffled(tree[name_of(path)])
    assert judged(report(tree, name_of(path))) == judged(judge_fixture(path))


def is_damaged(found: NetlistReport) -> bool:
    """Whether the reader complained: where cards can't be read, their order may matter."""
    rules = {result.rule for result in found.results if result.kind == "fail"}
    return bool(rules & {"netlist-malformed", "include-missing", "include-refused"})


def test_the_boards_can_be_read_and_so_are_compared() -> None:
    assert BOARDS
    assert not any(is_damaged(judge_fixture(path)) for path in BOARDS)


# -- names of nets ------------------------------------------------------------------------------------------------


def renamed_nets(path: Path) -> dict[str, str]:
    """New names for the nets of a fixture, by old name; references, supplies and sides keep what they say."""
    context, _ = prepare(FolderTree(FIXTURES), name_of(path), "")
    circuit = context.circuit
    found: dict[str, str] = {}
    sides = {side.name.lower() for side in context.interfaces.separation.sides}
    for net in circuit.nets():
        name = circuit.net_name(net)
        if name == "0" or name.lower() in sides or "." in name or not circuit.elements_at(net):
            continue
        held = context.lookup.walker.held(net)
        if held is None or held.kind in ("output", "line"):
            found[name] = f"{name}_RENAMED"
    return found


def replaced(text: str, names: dict[str, str]) -> str:
    """Whole words of a netlist or settings file replaced, longest first."""
    if not names:
        return text
    pattern = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
    lower = {name.lower(): new for name, new in names.items()}
    return re.sub(
        rf"(?<![^\s\"'=(,])({pattern})(?![^\s\"'),])", lambda found: lower[found[1].lower()], text, flags=re.IGNORECASE
    )


def renamed(path: Path, reorder: bool) -> dict[str, str]:
    """The files of a fixture with its nets renamed in netlist and settings, its cards reordered too if wanted."""
    names, own, tree = renamed_nets(path), name_of(path), files(path)
    text = shuffled(tree[own]) if reorder else tree[own]
    head, _, rest = text.partition("\n")
    # A first line that is a card is no title.
    first = replaced(head, names) if head.startswith(".") else head
    tree[own] = (
        first + "\n" + "\n".join(line if line.startswith("*") else replaced(line, names) for line in rest.split("\n"))
    )
    for name, settings in tree.items():
        if name.endswith("isolint.toml") and (FIXTURES / name).parent in path.parents:
            tree[name] = in_settings(settings, names)
    return tree


def in_settings(text: str, names: dict[str, str]) -> str:
    """Names in settings replaced where they are a whole key or value; patterns with `*` get one more at their end.

    The kind of a load may be spelled like its net. A pattern without `*` would match other nets then: `G?*` is GND too.
    """
    for old, new in names.items():
        text = re.sub(rf'(?<!kind = )"{re.escape(old)}"', f'"{new}"', text, flags=re.IGNORECASE)
    tables = r'(\[(?:outputs|inputs|lines|signals)\.")'
    text = re.sub(rf'{tables}([^"*]*\?[^"*]*)(")', r"\1\2_RENAMED\3", text)
    return re.sub(rf'{tables}([^"]*\*[^"]*)(")', r"\1\2*\3", text).replace("**", "*")


@pytest.mark.parametrize("path", [*map(of_netlist, BOARDS)])
def test_renamed_nets_change_nothing_but_names(path: Path) -> None:
    assert renamed_nets(path)
    found = report(renamed(path, reorder=False), name_of(path))
    assert judged(found, with_names=False) == judged(judge_fixture(path), with_names=False)


@pytest.mark.parametrize("path", [*map(of_netlist, TWINS), *(of_netlist(path, long=True) for path in OTHERS)])
def test_reordered_cards_and_renamed_nets_change_nothing_but_names(path: Path) -> None:
    if is_damaged(judge_fixture(path)):
        return
    found = report(renamed(path, reorder=True), name_of(path))
    assert judged(found, with_names=False) == judged(judge_fixture(path), with_names=False)


# -- hierarchy ----------------------------------------------------------------------------------------------------


def flattened(text: str) -> str | None:
    """Sheets with own cards expanded into the file that calls them; None where there is nothing to expand."""
    lines = joined(text)
    bodies: dict[str, tuple[list[str], dict[str, str], list[str]]] = {}
    top: list[str] = []
    inside = ""
    for line in lines:
        words = line.split()
        head = words[0].lower() if words else ""
        if head == ".subckt":
            inside = words[1].lower()
            ports = [word for word in words[2:] if "=" not in word]
            bodies[inside] = (ports, dict(word.split("=", 1) for word in words[2:] if "=" in word), [])
        elif head == ".ends":
            inside = ""
        elif inside:
            bodies[inside][2].append(line)
        else:
            top.append(line)
    result: list[str] = []
    expanded = False
    for line in top:
        words = line.split()
        called = (
            words[0][:1].upper() == "X" and next((word.lower() for word in words[1:] if word.lower() in bodies), "")
            if words
            else ""
        )
        if not called or any(
            card.split()[0][:1].upper() in "EGFHBA" or card.lower().startswith(".model")
            for card in bodies[called][2]
            if card.split()
        ):
            result.append(line)
            continue
        expanded = True
        result.extend(expand(line, bodies[called]))
    return "\n".join(result) + "\n" if expanded else None


def expand(call: str, body: tuple[list[str], dict[str, str], list[str]]) -> list[str]:
    ports, defaults, cards = body
    words = call.split()
    nets = dict(zip(ports, words[1 : 1 + len(ports)], strict=True))
    values = {**defaults, **dict(word.split("=", 1) for word in words if "=" in word)}
    instance, found = words[0], []
    for card in cards:
        if not card.strip() or card.startswith("*"):
            continue
        parts = card.split()
        count = {"R": 2, "C": 2, "D": 2, "L": 2, "V": 2, "I": 2, "Q": 3, "M": 4}.get(
            parts[0][0].upper(), len(parts) - 2
        )
        pins = [nets.get(net, net if net == "0" else f"{instance}.{net}") for net in parts[1 : 1 + count]]
        rest = [values.get(part[1:-1], part) if part.startswith("{") else part for part in parts[1 + count :]]
        found.append(" ".join([f"{parts[0]}_{instance}", *pins, *rest]))
    return found


def joined(text: str) -> list[str]:
    lines: list[str] = []
    for line in text.splitlines():
        if line.startswith("+") and lines:
            lines[-1] += " " + line[1:].strip()
        else:
            lines.append(line)
    return lines


SHEETS = [
    path
    for path in NETLISTS
    if "waiver-stale" not in path.parts and flattened(path.read_text(encoding="utf-8", errors="replace"))
]


def test_there_is_a_board_with_sheets_to_flatten() -> None:
    assert [path for path in SHEETS if "boards" in path.parts]


@pytest.mark.parametrize("path", [*map(of_netlist, SHEETS)])
def test_a_flattened_hierarchy_changes_nothing_but_names(path: Path) -> None:
    tree = files(path)
    flat = flattened(tree[name_of(path)])
    assert flat is not None
    if is_damaged(judge_fixture(path)):
        return
    tree[name_of(path)] = flat
    found = judged(report(tree, name_of(path)), with_names=False)
    before = judged(judge_fixture(path), with_names=False)
    assert found == before

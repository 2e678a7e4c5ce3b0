"""Changes drawn by rule: factor 2, sign, sense of a comparison, a term dropped from a sum, a product or a condition.

In: the modules of five parts of the package. Out: changes of single expressions, as many from each part. Which are
drawn depends on the seed and on the changed line, not on what stands elsewhere, so that a draw stays as the tree grows.
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from tests.mutations.change import ROOT, Change
from tests.mutations.equivalent import EQUIVALENT

RATIO = ("transfer", "factors", "ageing", "margin", "demands", "limits", "figures", "receivers")
PARTS = ("solver", "ratio", "interfaces", "rules", "reader")
LAST = ("rules/test_fixtures.py", "boards")
"""What every change is held against after the tests of its own folder and of the rules."""

FIXTURE = "test_a_netlist_gives_what_its_comments_say_and_nothing_else"

LEFT_OUT = ("rules/test_adding_a_rule.py", "rules/test_slugs.py", "rules/test_pages.py")
"""Tests that judge how the package is written, or what its pages say."""

SENSES: dict[type[ast.cmpop], str] = {
    ast.Lt: ">=",
    ast.LtE: ">",
    ast.Gt: "<=",
    ast.GtE: "<",
    ast.Eq: "!=",
    ast.NotEq: "==",
    ast.In: "not in",
    ast.NotIn: "in",
    ast.Is: "is not",
    ast.IsNot: "is",
}
SIGNS: dict[type[ast.operator], str] = {ast.Add: "-", ast.Sub: "+"}
NO_NUMBERS = (ast.List, ast.Tuple, ast.Set, ast.Dict, ast.JoinedStr, ast.ListComp, ast.SetComp, ast.DictComp)


class Spot(NamedTuple):
    """An expression that can be changed: its bytes in the file, and what to put there."""

    start: int
    end: int
    new: str
    kind: str


def drawn(count: int, seed: str, root: Path = ROOT) -> list[Change]:
    """That many changes, evenly from the five parts, those left out that change nothing."""
    each: dict[str, list[tuple[str, Change]]] = {part: [] for part in PARTS}
    harmless = {(row.file, row.old, row.new) for row in EQUIVALENT}
    for part, path in _modules(root):
        name = path.relative_to(root / "isolint").as_posix()
        for change in changes_of(name, path.read_bytes(), tests_for(name, root)):
            if (change.file, change.old.strip(), change.new.strip()) not in harmless:
                word = "\0".join((seed, change.file, change.old, change.new))
                each[part].append((hashlib.sha256(word.encode()).hexdigest(), change))
    shares = [count // len(PARTS) + (number < count % len(PARTS)) for number in range(len(PARTS))]
    found: list[Change] = []
    for part, share in zip(PARTS, shares, strict=True):
        ranked = (change for _, change in sorted(each[part], key=lambda pair: pair[0]))
        # What is no program any more is no change.
        found.extend(islice((change for change in ranked if not change.missing(root)), share))
    return found


def _modules(root: Path) -> Iterator[tuple[str, Path]]:
    for folder, part in (
        ("worstcase", "solver"),
        ("interfaces", "interfaces"),
        ("rules", "rules"),
        ("netlist", "reader"),
    ):
        for path in sorted((root / "isolint" / folder).glob("*.py")):
            yield "ratio" if folder == "worstcase" and path.stem in RATIO else part, path


def tests_for(file: str, root: Path = ROOT) -> tuple[str, ...]:
    """The tests of a module, those that most probably notice first: of its name, with its name in them, of its folder.

    Of a rule its own fixtures come before all others. Last come the fixtures of the rules and the boards.
    """
    folder, _, module = file.partition("/")
    stem = module.removesuffix(".py")
    tests = root / "tests"
    mine = [path for name in dict.fromkeys((folder, "rules")) for path in sorted((tests / name).glob("test_*.py"))]

    def far(path: Path) -> int:
        if path.stem.startswith(f"test_{stem}"):
            return 0
        text = path.read_text(encoding="utf-8")
        if f".{stem} import" in text or stem.replace("_", "-") in text:
            return 1
        return 2 if path.parent.name == folder else 3

    slug = stem.replace("_", "-")
    netlists = root / "fixtures" / "rules"
    own = [path.relative_to(netlists).as_posix() for path in sorted((netlists / slug).rglob("*.cir"))]
    named = [path.relative_to(tests).as_posix() for path in sorted(mine, key=far)]
    others = (name for name in named if name not in LEFT_OUT and name not in LAST)
    return (*(f"{LAST[0]}::{FIXTURE}[{name}]" for name in own if folder == "rules"), *others, *LAST)


def changes_of(file: str, source: bytes, tests: tuple[str, ...]) -> Iterator[Change]:
    """All changes to one module whose line, changed or not, stands in it only once."""
    text = source.decode()
    starts = _line_starts(source)
    for site in sites(ast.parse(source), source):
        first = source.rfind(b"\n", 0, site.start) + 1
        last = source.find(b"\n", site.end)
        old = source[first:last].decode()
        new = source[first : site.start].decode() + site.new + source[site.end : last].decode()
        if text.count(old) == 1 and old != new and first in starts:
            yield Change(file, old, new, tests)


def sites(tree: ast.Module, source: bytes) -> Iterator[Spot]:
    """The expressions of a module that can be changed; none in texts, annotations, assertions and errors."""
    starts = _line_starts(source)

    def span(node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset

    def of(node: ast.expr) -> str:
        start, end = span(node)
        return source[start:end].decode()

    for node in _expressions(tree):
        start, end = span(node)
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value != 0.0:
            yield Spot(start, end, f"(2.0 * {of(node)})", "factor")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            if not isinstance(node.operand, ast.Constant) or isinstance(node.operand.value, float):
                yield Spot(start, end, of(node.operand), "sign")
        elif isinstance(node, ast.Compare) and len(node.ops) == 1:
            sense = SENSES[type(node.ops[0])]
            yield Spot(start, end, f"{of(node.left)} {sense} {of(node.comparators[0])}", "sense")
        elif isinstance(node, ast.BinOp) and _is_number(node):
            left, right = _bracketed(node.left, of(node.left)), _bracketed(node.right, of(node.right))
            if type(node.op) in SIGNS:
                yield Spot(start, end, f"{left} {SIGNS[type(node.op)]} {right}", "sign")
            if isinstance(node.op, (ast.Add, ast.Sub, ast.Mult, ast.Div)):
                yield Spot(start, end, left, "term")
            if isinstance(node.op, (ast.Mult, ast.Div)):
                yield Spot(start, end, f"(2.0 * {of(node)})", "factor")
        elif isinstance(node, ast.BoolOp):
            for gone in range(len(node.values)):
                rest = [_bracketed(value, of(value)) for at, value in enumerate(node.values) if at != gone]
                word = " and " if isinstance(node.op, ast.And) else " or "
                yield Spot(start, end, word.join(rest), "term")


def _expressions(tree: ast.Module) -> Iterator[ast.expr]:
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.expr):
            yield node
        if isinstance(node, (ast.JoinedStr, ast.Assert, ast.Raise)):
            continue
        for name, value in ast.iter_fields(node):
            if name not in ("annotation", "returns", "decorator_list"):
                children = value if isinstance(value, list) else [value]
                waiting.extend(child for child in children if isinstance(child, ast.AST))


def _is_number(node: ast.BinOp) -> bool:
    """Whether a sum or product may be one of numbers: no text, list or set in it."""
    for side in (node.left, node.right):
        if isinstance(side, NO_NUMBERS) or (isinstance(side, ast.Constant) and isinstance(side.value, (str, bytes))):
            return False
        if isinstance(side, ast.BinOp) and not _is_number(side):
            return False
    return True


def _bracketed(node: ast.expr, text: str) -> str:
    # The span of an expression leaves out its brackets.
    return (
        f"({text})"
        if isinstance(node, (ast.BinOp, ast.BoolOp, ast.IfExp, ast.Compare, ast.Lambda, ast.NamedExpr))
        else text
    )


def _line_starts(source: bytes) -> list[int]:
    found = [0]
    for text in source.split(b"\n"):
        found.append(found[-1] + len(text) + 1)
    return found

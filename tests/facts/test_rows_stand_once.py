"""A default and the line of a key stand once, in the row of the fact or record value."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from isolint.facts.stated import TABLES
from isolint.parts.records import SECTIONS
from tests.conftest import REPOSITORY

PACKAGE = REPOSITORY / "isolint"
ROWS = [row for table in (*TABLES, *SECTIONS) for row in table.ROWS.values()]
WHERE_ROWS_STAND = {
    *("facts/stated.py", "parts/records.py", "parts/record_timing.py", "parts/record_insulation.py"),
    *("parts/record_kinds.py", "checking/demonstration.py"),
    *("parts/record_servo.py", "parts/record_relay.py", "parts/record_supply.py"),
}

BY_HAND = {
    # The head of a record is no row: its type and pins follow from the card.
    ("interfaces/pinguess.py", "type"),
    ("interfaces/recognise.py", "type"),
    ("checking/record_lines.py", "type"),
    # Words about a mistake, in a layer that checks several keys together.
    ("parts/record_reader.py", "type"),
    ("facts/cross_references.py", "nets"),
    # Words of a question about what lies between grounds: what a person may say of the whole board.
    ("checking/unexplained.py", "isolation"),
    ("checking/coverage.py", "isolation"),
    ("checking/unexplained.py", "nets"),
    ("checking/position_words.py", "ordinary"),
    # A record of typical values, and the type that an answer holds: what stands there is computed or read.
    ("starter/measured.py", "forward_voltage"),
    ("starter/measured.py", "ratio"),
    ("starter/measured.py", "current"),
    ("starter/measured.py", "voltage"),
    ("starter/asking.py", "type"),
    # Words of a cure about a whole record.
    ("checking/joint_results.py", "type"),
}
"""Lines of keys that stand elsewhere."""


def strings(path: Path) -> Iterator[str]:
    """The strings of a module that are no docstrings, with a mark for each value put into them."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    inner = {id(value) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for value in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "\N{SECTION SIGN}" for part in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and not {id(node)} & (told | inner):
            yield node.value


def written_by_hand(source: dict[str, list[str]]) -> set[tuple[str, str]]:
    keys = "|".join(sorted({row.key for row in ROWS}))
    line = re.compile(rf'(?<![\w.])({keys}) = (?:["\[{{0-9]|true|false)')
    return {(name, found[1]) for name, texts in source.items() for text in texts for found in line.finditer(text)}


def sources() -> dict[str, list[str]]:
    files = {path.relative_to(PACKAGE).as_posix(): path for path in sorted(PACKAGE.rglob("*.py"))}
    return {name: list(strings(path)) for name, path in files.items() if name not in WHERE_ROWS_STAND}


def test_no_line_of_a_key_is_written_by_hand_outside_its_row() -> None:
    assert written_by_hand(sources()) == BY_HAND


def test_a_line_that_is_written_by_hand_would_be_found() -> None:
    assert written_by_hand({"rules/a.py": ['[elements."R1"]\npower = "1 W"', "power = 3 W at most"]}) == {
        ("rules/a.py", "power")
    }


def constants() -> Iterator[tuple[str, str, str]]:
    """Module, name and value of each constant that is a number or holds some."""
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if (
                name in WHERE_ROWS_STAND
                or not isinstance(node, ast.Assign)
                or not isinstance(node.targets[0], ast.Name)
            ):
                continue
            if re.search(r"\d", ast.unparse(node.value)):
                yield name, node.targets[0].id, ast.unparse(node.value)


def restates(target: str) -> bool:
    """Whether a constant is called a default, or as a key of two words that has one."""
    words = target.lower().strip("_").split("_")
    keys = [row.key.split("_") for row in ROWS if row.usual is not None and "_" in row.key and row.key != "low_current"]
    return words[0] == "default" or any(set(key) <= set(words) for key in keys)


def test_the_default_of_a_row_is_no_constant_of_another_module() -> None:
    assert [constant for constant in constants() if restates(constant[1]) and "_TYPES" not in constant[1]] == []


def test_a_second_default_would_be_found() -> None:
    assert all(map(restates, ("INSULATING_RESISTANCE", "DEFAULT_LIFE_HOURS", "PHOTO_GAIN", "USUAL_OFF_LEAKAGE")))
    assert not any(map(restates, ("POWER_LAW", "TIE_OHMS", "FORWARD_VOLTAGE_SPREAD")))


def test_each_row_that_becomes_a_term_has_a_title() -> None:
    assert all(row.title for row in ROWS if row.usual is not None)

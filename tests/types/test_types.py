"""Each type says all that is so of its parts in a file of its own, and nothing else names a type."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint import types
from isolint.interfaces.classify import name_hint
from isolint.parts import derive_channels, derive_groups

FOLDER = Path(types.__file__).parent
NAMES = [name for name in types.NAMES if types.of(name).isolates]
WORD = re.compile(rf"(?<![a-z])({'|'.join(name.replace('-', '[-_]') for name in NAMES)})(?![a-z])", re.IGNORECASE)

TELLING = {f"positions/{name}.py" for name in ("guess", "scores", "spoken")} | {"checking/switch_choice.py"}
"""Where types are named beside their files: the guess by a part's place, which tells them apart in one order, and the
lines of a sheet that compare what three kinds of switches would bear."""

OTHER_MEANINGS = {
    "triac": "a kind of output, and a word in the slug of a rule",
    "linear": "the use of a signal, equations and circuits without a curve",
    "transformer": "what makes values of a parsed text, a word in a reason",
    "relay": "a word in the names of nets and parts",
}


def words_of_code(text: str) -> Iterator[tuple[int, str]]:
    """Strings that are no docstrings, and names, with their lines."""
    tree = ast.parse(text)
    prose = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in prose:
            yield node.lineno, node.value
        elif isinstance(node, ast.Name):
            yield node.lineno, node.id
        elif isinstance(node, ast.Attribute):
            yield node.lineno, node.attr


def named_in(text: str) -> list[tuple[int, str]]:
    return [(line, found.casefold()) for line, word in words_of_code(text) for found in WORD.findall(word)]


def test_no_code_outside_their_files_names_a_type_and_words_with_another_meaning_stay_few() -> None:
    found = [
        (name, line, word)
        for path in FOLDER.parent.rglob("*.py")
        if path.parent != FOLDER and (name := path.relative_to(FOLDER.parent).as_posix()) not in TELLING
        for line, word in named_in(path.read_text(encoding="utf-8"))
    ]
    assert [row for row in found if row[2] not in OTHER_MEANINGS] == []
    assert 10 < len(found) <= 60


def test_a_name_in_code_is_seen_and_one_in_prose_is_not() -> None:
    text = '"""A phototriac."""\n\nx = part.type == "phototriac" or GATE_DRIVER\n'
    assert sorted(named_in(text)) == [(3, "gate_driver"), (3, "phototriac")]


@pytest.mark.parametrize("name", types.NAMES)
def test_a_type_stands_in_the_file_of_its_name_under_a_line_that_says_what_it_is(name: str) -> None:
    text = (FOLDER / f"{name.replace('-', '_')}.py").read_text(encoding="utf-8")
    assert text.startswith('"""')
    assert text[3:].casefold().replace("-", " ").startswith(name.partition("-")[0].replace("-", " "))
    assert types.of(name).name == name


@pytest.mark.parametrize("name", NAMES)
def test_the_usual_pins_of_a_type_are_told_by_their_names(name: str) -> None:
    usual = types.of(name).pins.usual
    assert usual
    for pins in usual:
        groups, doubtful = derive_groups(pins, name)
        assert doubtful == ()
        assert len([group for group in groups if len(group) > 1]) >= 2
        assert bool(derive_channels(pins, name, groups)) == bool(types.of(name).inputs)


@pytest.mark.parametrize("name", NAMES)
def test_the_ends_that_makers_exchange_are_pins_of_the_type(name: str) -> None:
    pins = {pin for order in types.of(name).pins.usual for pin in order}
    ends = types.of(name).pins.ends
    assert all(len({low, high} & pins) in (0, 2) for low, high in ends)
    assert {end for pair in ends for end in pair} <= pins


@pytest.mark.parametrize("name", NAMES)
def test_a_type_whose_output_is_known_says_which_pins_it_needs_and_what_its_led_is(name: str) -> None:
    kind = types.of(name)
    assert bool(kind.output.conducts) == bool(kind.output.ends)
    assert set(kind.output.ends) <= kind.signs.telling or not kind.output.conducts
    assert bool(kind.generic.leds) <= ("led" in kind.inputs)
    assert kind.switched <= ("led" in kind.inputs)


def test_ranks_differ_and_the_commonest_type_comes_first_in_examples() -> None:
    ranks = [kind.rank for kind in types.BY_NAME.values()]
    assert len(set(ranks)) == len(ranks)
    assert types.NAMES[0] == types.guessed(2) == "phototransistor"
    assert types.guessed(3) == types.guessed(8) == "logic-output"


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("DEMO_OPTO_FAST", ""),
        ("Photo-Transistor coupler", "phototransistor"),
        ("iso_darlington", "photodarlington"),
        ("darlington phototransistor", "photodarlington"),
        ("photovoltaic gate driver", "photovoltaic"),
        ("isolated amplifier", ""),
        ("MY_RELAY_24V", "relay"),
        ("gate_driver_transformer", "gate-driver"),
        ("opamp", None),
    ],
)
def test_words_in_a_name_suggest_a_type(text: str, hint: str | None) -> None:
    assert name_hint(text) == hint

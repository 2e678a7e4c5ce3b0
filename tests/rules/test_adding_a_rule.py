"""A rule is one file and one line in the list: it is added in a copy of the tree, and everything knows it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.copies import add_line, copy_of_tree, python

SLUG = "resistor-idle"
RULE = '''"""A resistor of which both ends lie on one net.

## What it looks at

The two nets of each resistor.

## Why it matters

It does nothing, so that one of its ends was meant to go elsewhere.

## How it is computed

The two nets are compared.

## Fails

```netlist
* Both ends on one net (demonstration)
V1 IN 0 5
* expect: resistor-idle
R1 IN IN 10k
```

## Passes

```netlist
* Each end on its own net (demonstration)
V1 IN 0 5
R1 IN 0 10k
```

## Remedy

Connect the end that was meant to go elsewhere.

## What it cannot see

Two nets that are one on the board.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Measure, Result


def survey(context: Context) -> Iterable[Result]:
    """One result a resistor."""
    for element in context.circuit.elements_of("R"):
        path, nets = context.circuit.path(element), context.circuit.pins(element)
        idle = len(set(nets)) == 1
        text = f"{path}: both ends lie on net {context.net(nets[0])}" if idle else f"{path}: its ends are two nets"
        kind, measure = "fail" if idle else "pass", Measure.number_of(1)
        yield context.result(RULE, kind, text, context.place(element), path, measure=measure)


RULE = Rule(slug="resistor-idle", group="drive", level="error", page=__doc__, survey=survey)
'''
FIXTURES = {
    "fails.cir": "* A demonstration\nV1 IN 0 5\n* expect: resistor-idle\nR1 IN IN 10k\nR2 IN 0 1k\n",
    "passes.cir": "* A demonstration\nV1 IN 0 5\n* expect: none\nR1 IN OUT 10k\nR2 IN 0 1k\n",
    "trap-parallel.cir": "* Two in parallel (demonstration)\n* expect: none\nV1 IN 0 5\nR1 IN 0 1k\nR2 IN 0 1k\n",
    "isolint.toml": "top = true\n",
}


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = copy_of_tree(tmp_path_factory.mktemp("copy"))
    (copy / "isolint/rules/resistor_idle.py").write_text(RULE, encoding="utf-8")
    add_line(copy / "isolint/rules/__init__.py", '    "load-missing",', f'    "{SLUG}",')
    folder = copy / "fixtures/rules" / SLUG
    folder.mkdir()
    for name, text in FIXTURES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return copy


def test_a_check_runs_the_added_rule(tree: Path) -> None:
    done = python(tree, "-m", "isolint", "check", f"fixtures/rules/{SLUG}/fails.cir")
    assert f"R1: both ends lie on net IN [{SLUG}]" in done.stdout
    assert done.returncode == 1
    assert python(tree, "-m", "isolint", "check", f"fixtures/rules/{SLUG}/passes.cir").returncode == 0


def test_the_added_rule_has_its_page_and_its_place_in_the_list_and_in_the_schema(tree: Path) -> None:
    assert python(tree, "-m", "isolint", "rules", SLUG).stdout.startswith(f"{SLUG} (drive, error)\n\nA resistor of")
    listed = python(tree, "-m", "isolint", "rules").stdout
    assert listed.index(" led-unlimited ") < listed.index(f" {SLUG} ") < listed.index(" load-missing ")
    schema = json.loads(python(tree, "-m", "isolint", "facts", "--schema").stdout)
    assert SLUG in schema["properties"]["levels"]["properties"]


def test_the_tests_of_rules_take_the_added_one_with_its_examples_and_its_folder(tree: Path) -> None:
    files = (f"tests/rules/test_{name}.py" for name in ("fixtures", "pages", "slugs"))
    words = ("-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *files, "-k")
    done = python(tree, *words, f"{SLUG} or registered or beside or matter or example_gives and idle")
    assert done.returncode == 0, done.stdout
    (tree / "fixtures/rules" / SLUG / "passes.cir").unlink()
    without = python(tree, *words, SLUG)
    assert without.returncode == 1
    assert "passes.cir" in without.stdout

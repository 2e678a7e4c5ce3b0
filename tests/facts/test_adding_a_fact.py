"""A stated fact is one row and its use: added to a copy it is in the schema, the listing and the questions."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.copies import add_line, copy_of_tree, python

ROW = '    ripple = Fact(k.magnitude("V"), "ripple of line {}", \'"100 mV"\')'
BEFORE_ROW = '    standard = Fact(k.TEXT, "standard of line {}", \'"IEC 61131-2 type 1"\')'
USE = (
    "        if self.facts.of(LineFacts.ripple, name) is None: "
    'raise Lacking(f"the ripple of line {name} is not stated", [self.missing(LineFacts.ripple, name)])'
)
BOARD = "* A demonstration\nR1 IN A 2.2k\nXU1 A GNDF OUT GNDB DEMO_PT1\nR2 VCC OUT 4.7k\nV1 VCC GNDB 5\n"
SETTINGS = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["0 V", "0.5 V"]\n'


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = copy_of_tree(tmp_path_factory.mktemp("copy"))
    add_line(copy / "isolint/facts/stated.py", BEFORE_ROW, ROW)
    add_line(copy / "isolint/worstcase/lookup.py", "        return self.term(row, name)", USE)
    for name, more in (("asked", ""), ("stated", 'ripple = "0.2 V"\n')):
        (copy / name).mkdir()
        (copy / name / "board.cir").write_text(BOARD, encoding="utf-8")
        (copy / name / "isolint.toml").write_text(f"top = true\n{SETTINGS}{more}", encoding="utf-8")
    return copy


def test_the_added_fact_is_in_the_schema_with_its_example(tree: Path) -> None:
    schema = json.loads(python(tree, "-m", "isolint", "facts", "--schema").stdout)
    lines = schema["properties"]["lines"]["additionalProperties"]["properties"]
    assert lines["ripple"]["description"] == 'a voltage, for example "100 mV"'


def test_a_check_asks_for_the_added_fact_by_its_line(tree: Path) -> None:
    done = python(tree, "-m", "isolint", "check", "--format", "json", "asked/board.cir")
    missing = [fact for result in json.loads(done.stdout)["results"] for fact in result["missing"]]
    asked = [fact for fact in missing if fact["key"] == 'lines."IN".ripple']
    assert asked[0]["example"] == '[lines."IN"]\nripple = "?"  # for example "100 mV"'
    done = python(tree, "-m", "isolint", "check", "--format", "json", "stated/board.cir")
    assert done.stdout
    assert "ripple" not in done.stdout


def test_the_listing_shows_the_added_fact_as_stated(tree: Path) -> None:
    listed = python(tree, "-m", "isolint", "facts", "stated/board.cir").stdout
    assert 'lines."IN".ripple = "0.2 V"  # stated/isolint.toml\n' in listed


def test_a_first_settings_file_asks_for_the_added_fact(tree: Path) -> None:
    (tree / "asked/isolint.toml").rename(tree / "isolint.toml")
    python(tree, "-m", "isolint", "init", "--root", ".", "asked/board.cir")
    written = (tree / "asked/isolint.toml").read_text(encoding="utf-8")
    assert '# ripple = "?"  # for example "100 mV"\n' in written

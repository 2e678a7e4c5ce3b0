"""The JSON Schemas for editors accept what reading accepts, and complain where it complains."""

from __future__ import annotations

import json
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from isolint import app
from isolint.errors import Mistake
from isolint.facts import settings_schema
from isolint.facts.settings_form import json_schema
from isolint.facts.stated import TABLES
from isolint.facts.unstated import defaults
from isolint.parts import record_schema as parts_schema
from isolint.tables import Site
from isolint.units import Interval
from tests.conftest import REPOSITORY

FACTS = Draft7Validator(app.facts_schema())
PARTS = Draft7Validator(app.parts_schema())
SETTINGS = sorted([*REPOSITORY.glob("fixtures/**/isolint.toml"), REPOSITORY / "tests/facts/example.toml"])
RECORDS = sorted([*REPOSITORY.glob("fixtures/**/parts/*.toml"), *REPOSITORY.glob("isolint/parts/records/*.toml")])


def plain(value: Any) -> Any:
    """A TOML document as JSON has it: dates are text there."""
    return json.loads(json.dumps(value, default=date.isoformat))


def errors(validator: Draft7Validator, text: str) -> list[str]:
    return [error.message for error in validator.iter_errors(plain(tomllib.loads(text)))]


def test_both_schemas_are_valid_themselves() -> None:
    for validator in (FACTS, PARTS):
        Draft7Validator.check_schema(validator.schema)


def name(path: Path) -> str:
    return path.relative_to(REPOSITORY).as_posix()


@pytest.mark.parametrize("path", SETTINGS, ids=name)
def test_every_settings_file_here_is_valid(path: Path) -> None:
    # The example names rules at will.
    validator = Draft7Validator(json_schema()) if path.name == "example.toml" else FACTS
    assert errors(validator, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", RECORDS, ids=name)
def test_every_file_of_records_here_is_valid(path: Path) -> None:
    assert errors(PARTS, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "text",
    [
        "opn = 1",
        'open = "loud"',
        "[environment]\nambient = 3",
        '[elements.R1]\nvalue = "1 %"',
        "[[waivers]]\nrule = 1",
        '[levels]\nno-such-rule = "note"',
        '[elements.X1]\npart = "DEMO_PT1"\ntype = "relay"',
        '[outputs.A]\nhigh = { mni = "2 V", at = "1 mA" }',
        '[[waivers]]\nrule = "x"\nwhere = "y"\nreason = "z"\nby = "b"\nuntil = 2027-01-01\nbound = "margin < 2"',
    ],
)
def test_mistakes_in_settings_are_seen(text: str) -> None:
    assert errors(FACTS, text)


@pytest.mark.parametrize(
    "text",
    [
        "[parts.X]\ntype = 3",
        '[parts.X]\ntype = "relay"',
        '[part.X]\ntype = "relay"',
        '[parts.X]\ntype = "relay"\npins = ["a"]\n[parts.X.led]\nforward_voltage = { typical = "1 V" }',
        '[parts.X]\ntype = "relay"\npins = ["a"]\n[[parts.X.channels]]\ninput = ["a"]',
    ],
)
def test_mistakes_in_records_are_seen(text: str) -> None:
    assert errors(PARTS, text)


def test_every_key_is_in_the_schema_with_an_example() -> None:
    properties = app.facts_schema()["properties"]
    assert isinstance(properties, dict)
    assert set(properties) == set(settings_schema.KEYS)
    for table, keys in settings_schema.NAMED.items():
        inner = properties[table]["additionalProperties"]["properties"]
        assert set(inner) == set(keys.keys)
        assert all("for example" in each["description"] for each in inner.values())
    record = app.parts_schema()["properties"]["parts"]["additionalProperties"]["properties"]  # type: ignore[index]
    assert set(record) == {*parts_schema.HEAD.keys, *parts_schema.SECTIONS, "channels", "supplies"}


def test_the_defaults_that_are_shown_are_those_that_are_computed_with() -> None:
    shown = 0
    for table in TABLES:
        for row in table.ROWS.values():
            for usual in (*row.cases.values(), *([row.usual] if row.usual else [])):
                if not usual.text:
                    continue
                shown += 1
                mistakes: list[Mistake] = []
                value = row.kind.read(tomllib.loads(f"x = {usual.text}")["x"], Site("", row.path(), mistakes))
                assert mistakes == []
                low, high = (value.low, value.high) if isinstance(value, Interval) else (value, value)
                assert (usual.low, usual.high) == pytest.approx((low, high), rel=1e-3), row.path()
    assert shown == len(list(defaults())) - 2 > 8

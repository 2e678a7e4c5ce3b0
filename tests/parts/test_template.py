"""A record to fill in is whole, loads as it stands, and says by which term a data sheet calls each key."""

from __future__ import annotations

import re

import pytest

from isolint import types
from isolint.parts import load, record_schema, records
from isolint.parts.template import template
from isolint.source import MemoryTree
from tests.answers import answered


@pytest.mark.parametrize("kind", types.NAMES)
def test_the_record_of_every_type_loads_as_it_stands(kind: str) -> None:
    shapes = types.of(kind).pins.usual
    text = template("DEMO_X", kind, shapes[0] if shapes else ("a", "b"))
    parts = load(MemoryTree({"parts.toml": text}), ["parts.toml"])
    assert len(parts) == 0, "without pins it is none yet"
    assert len(parts.placeholders) >= 1
    told = answered(text)
    assert '"?"' not in re.sub("(?m)#.*", "", told)


@pytest.mark.parametrize("kind", ["phototransistor", "phototriac", "relay", "digital-isolator", "linear"])
def test_with_its_pins_it_is_a_record_that_states_nothing_else(kind: str) -> None:
    pins = types.of(kind).pins.usual[0]
    text = template("DEMO_X", kind, pins, [f"n{pin}" for pin in pins], certain=True)
    record = load(MemoryTree({"parts.toml": text}), ["parts.toml"])["DEMO_X"]
    assert (record.type, record.pins, list(record.entries())) == (kind, pins, [])
    assert f"# pin 2 on net n{pins[1]}: {pins[1]}" in text


def test_a_coupler_with_an_led_and_a_relay_are_asked_for_what_they_have() -> None:
    coupler = template("DEMO_X", "phototransistor", ())
    assert set(re.findall(r"(?m)^\[parts\.DEMO_X\.(\w+)\]", coupler)) == {
        "led", "transfer", "output", "timing", "thermal", "insulation",
    }  # fmt: skip
    assert '# CTR, current transfer ratio IC/IF, with IF and VCE of its test\nratio = "?"  # for example {' in coupler
    relay = template("DEMO_X", "relay", ())
    assert {"coil", "contact"} <= set(re.findall(r"(?m)^\[parts\.DEMO_X\.(\w+)\]", relay))
    assert "LED" not in relay


def test_every_key_of_a_record_has_its_term() -> None:
    assert [row.path() for table in records.SECTIONS for row in table.ROWS.values() if not row.sheet] == []
    assert set(record_schema.SECTIONS) == {table.TABLE.removeprefix("parts.") for table in records.SECTIONS}

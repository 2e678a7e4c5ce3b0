"""The placeholder: every key of settings and records takes it, and it states nothing."""

from __future__ import annotations

import pytest

from isolint.errors import SettingsError
from isolint.facts import load as load_facts
from isolint.facts import settings_schema
from isolint.parts import Parts, load, record_schema
from isolint.source import MemoryTree

RECORD = '[parts.DEMO_X]\ntype = "phototransistor"\npins = ["anode", "cathode", "emitter", "collector"]\n'


def read(text: str) -> Parts:
    return load(MemoryTree({"parts.toml": text}), ["parts.toml"])


@pytest.mark.parametrize(
    ("name", "key"), [(n, k) for n, (table, _) in record_schema.SECTIONS.items() for k in table.keys]
)
def test_every_value_of_a_record_may_be_unknown(name: str, key: str) -> None:
    parts = read(f'{RECORD}[parts.DEMO_X.{name}]\n{key} = "?"\n')
    assert parts["DEMO_X"] == read(RECORD)["DEMO_X"]
    assert parts.placeholders == (("parts.toml", f"parts.DEMO_X.{name}.{key}"),)


@pytest.mark.parametrize(
    ("table", "key"),
    [(f'[{n}."A"]', k) for n, t in settings_schema.NAMED.items() for k in t.keys]
    + [(f"[{n}]", k) for n, t in settings_schema.SINGLE.items() for k in t.keys]
    + [(f"[[{n}]]", k) for n, t in settings_schema.LISTS.items() if n != "waivers" for k in t.required],
)
def test_every_key_of_the_settings_may_be_unknown(table: str, key: str) -> None:
    found = load_facts(MemoryTree({"isolint.toml": f'{table}\n{key} = "?"\n'}), "board.cir")
    assert len(found.placeholders) == 1
    assert list(found.entries()) == []


def test_a_waiver_with_something_unknown_accepts_nothing() -> None:
    waiver = (
        '[[waivers]]\nrule = "ground-tie"\nwhere = "X"\nreason = "r"\nby = "lead"\nuntil = 2027-06-30\nbound = "?"\n'
    )
    assert load_facts(MemoryTree({"isolint.toml": waiver}), "board.cir").waivers == ()


def test_within_a_value_what_is_known_counts_as_far_as_it_is_whole() -> None:
    text = RECORD + '[parts.DEMO_X.led]\nforward_voltage = { min = "?", typ = "1.2 V", at = "10 mA" }\n'
    voltage = read(text)["DEMO_X"].led.forward_voltage
    assert voltage is not None
    assert (voltage.min, voltage.typ, voltage.at) == (None, 1.2, 0.01)
    half = RECORD + '[parts.DEMO_X.output]\nsaturation_voltage = { max = "0.3 V", at = "?", drive = "8 mA" }\n'
    assert read(half)["DEMO_X"].output.saturation_voltage is None
    with pytest.raises(SettingsError, match="above typ"):
        read(text.replace('"?"', '"1.3 V"'))


def test_a_record_without_type_and_pins_completes_the_shipped_one() -> None:
    record = read('[parts.DEMO_PT1]\ntype = "?"\n[parts.DEMO_PT1.led]\noff_current = "10 uA"\n')["demo_pt1"]
    assert (record.type, record.led.off_current, record.file) == ("phototransistor", 1e-5, "parts.toml")
    assert record.led.forward_current_max == 0.05
    with pytest.raises(SettingsError, match="type is missing"):
        read('[parts.DEMO_NOBODY.led]\noff_current = "10 uA"\n')


def test_a_name_with_wild_characters_stands_for_many_and_exact_beats_pattern() -> None:
    text = RECORD.replace("DEMO_X", '"DEMO_X*"') + RECORD.replace("DEMO_X", "DEMO_X1").replace(
        "transistor", "darlington"
    )
    parts = read(text + RECORD.replace("DEMO_X", '"DEMO_XY?"'))
    assert [(parts.find(name) or parts["DEMO_X1"]).name for name in ("demo_x7", "DEMO_X1", "DEMO_XYZ")] == [
        "DEMO_X*", "DEMO_X1", "DEMO_XY?",
    ]  # fmt: skip
    assert parts.find("DEMO_Q") is None


def test_two_patterns_that_fit_equally_well_are_a_mistake() -> None:
    parts = read(RECORD.replace("DEMO_X", '"DEMO_*Z"') + RECORD.replace("DEMO_X", '"*DEMO_Z"'))
    with pytest.raises(SettingsError, match="equally well"):
        parts.find("DEMO_Z")

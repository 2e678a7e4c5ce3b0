"""A type is one file: it is added in a copy of the tree with a folder of fixtures, and everything knows it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.copies import copy_of_tree, python

TYPE = '''"""Lamp transistor: a lamp in the place of the LED lights a transistor, for the demonstration."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import TRANSISTOR
from isolint.types.form.port_groups import transistor_groups
from isolint.types.form.usual_values import GAAS, Family, over_current, over_temperature
from isolint.units import Interval


TYPE = PartType(
    "lamp-transistor",
    5,
    inputs=("led",),
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        {**TRANSISTOR, "lamp+": "anode", "lamp-": "cathode"},
        groups=transistor_groups,
        usual=(("lamp+", "lamp-", "collector", "emitter"),),
        ends=(("lamp-", "lamp+"),),
    ),
    output=TypeOutput("transistor", ends=("collector", "emitter"), interrupts="one way"),
    generic=Family(
        ratio=Interval(0.3, 0.4),
        ratio_current=5e-3,
        ratio_voltage=5.0,
        forward_current_max=Interval(15e-3, 15e-3),
        voltage_max=Interval(9.0, 12.0),
        current_max=Interval(20e-3, 20e-3),
        saturation_voltage=Interval(0.3, 0.3),
        dark_current=Interval(0.0, 50e-9),
        leds={"GaAs": GAAS},
        versus_current={"GaAs": over_current([(1, 0.8), (5, 1.0), (20, 1.0)])},
        versus_temperature={"GaAs": over_temperature(0.9, 0.9, 1.0, 1.0, 0.9, 0.9, 0.8, 0.8)},
    ),
    signs=Signs(
        words=("lamptransistor",),
        makes=("lit transistor",),
        named=True,
        telling=frozenset({"anode", "cathode", "collector", "emitter", "base"}),
    ),
)
'''
BOARD = """* A lamp transistor (demonstration)
V1 V12 0 12
V2 V5 GNDB 5
V3 IN 0 SIN(0 5 1k)
{expect}R1 {drive} A {ohms}
XU1 A 0 OUT GNDB {part}
R2 V5 OUT 100k
{model}.end
"""
MODEL = """.subckt DEMO_LAMP_TRANSISTOR A K C E
D1 A S DLED
VS S K 0
F1 C B VS 0.01
Q1 C B E QDET
.model DLED D(IS=1e-14 N=1.5)
.model QDET NPN(BF=100)
.ends
"""
FACTS = """top = true
parts = ["parts.toml"]
[reading]
simulation_ground = "0"
[supplies.V12]
voltage = "12 V"
ground = "0"
[supplies.V5]
voltage = "5 V"
ground = "GNDB"
[inputs.OUT]
supply = "V5"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "1 uA"
high_current = "1 uA"
[elements.R1]
power = "1 W"
voltage = "50 V"
"""
RECORD = """[parts.DEMO_LT1]
type = "lamp-transistor"
pins = ["lamp+", "lamp-", "collector", "emitter"]
"""


def board(part: str = "DEMO_LT1", ohms: str = "1.2k", drive: str = "V12", expect: str = "", model: str = "") -> str:
    return BOARD.format(part=part, ohms=ohms, drive=drive, expect=expect, model=model)


FIXTURES = {
    "by-record.cir": board(expect="* expect: none\n"),
    "by-model.cir": board("DEMO_LAMP_TRANSISTOR", expect="* expect: none\n", model=MODEL),
    "too-much.cir": board(ohms="330", expect="* expect: led-overdriven\n"),
    "isolint.toml": FACTS,
    "parts.toml": RECORD,
}


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = copy_of_tree(tmp_path_factory.mktemp("copy"))
    (copy / "isolint/types/lamp_transistor.py").write_text(TYPE, encoding="utf-8")
    folder = copy / "fixtures/types/lamp-transistor"
    folder.mkdir(parents=True)
    for name, text in FIXTURES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return copy


def checked(tree: Path, name: str) -> dict[str, Any]:
    done = python(tree, "-m", "isolint", "check", "--format", "json", f"fixtures/types/lamp-transistor/{name}")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize(("name", "how"), [("by-record.cir", "record"), ("by-model.cir", "structure")])
def test_the_added_type_is_recognised_and_its_channel_judged_by_its_generic_values(
    tree: Path, name: str, how: str
) -> None:
    found = checked(tree, name)
    (coupler,) = found["couplers"]
    assert (coupler["type"], coupler["recognised_by"]) == ("lamp-transistor", how)
    assert coupler["drive"] == ["R1"]
    assert coupler["load"] == ["R2"]
    by_rule = {result["rule"]: result for result in found["results"] if result["part"] == "XU1"}
    assert by_rule["transfer-margin-low"]["kind"] == "pass"
    (limit,) = [row for row in by_rule["led-overdriven"]["evidence"] if row["limit"]]
    assert limit["limit"] == {"at_most": 0.015}
    assert by_rule["led-overdriven"]["kind"] == "pass"
    origins = {row["origin"] for row in by_rule["output-voltage-exceeded"]["assumptions"]}
    assert "generic lamp-transistor" in origins
    assert {result["rule"] for result in found["results"] if result["kind"] == "fail"} == set()


def test_the_added_type_is_asked_what_its_traits_are_asked(tree: Path) -> None:
    shown = python(tree, "-m", "isolint", "rules", "lamp-transistor").stdout
    assert re.match(r"lamp-transistor: \d+ rules are asked of it, by barrier, channel,", shown)
    assert "  transfer-margin-low " in shown
    assert "side-unpowered" not in shown
    page = python(tree, "-m", "isolint", "rules", "base-resistor-low").stdout
    assert page.endswith("## Asked of\n\nlamp-transistor, photodarlington, phototransistor\n")
    found = checked(tree, "by-record.cir")
    answered = {result["rule"] for result in found["results"] if result["part"] == "XU1"}
    assert {word for word in shown.split() if word in answered} == answered


def test_records_and_guesses_of_pins_know_the_added_type(tree: Path) -> None:
    (tree / "unknown.cir").write_text(
        "* A name (demonstration)\nXU1 A 0 OUT GNDB DEMO_LAMPTRANSISTOR\n", encoding="utf-8"
    )
    shown = python(tree, "-m", "isolint", "check", "unknown.cir").stdout
    assert 'type = "?"  # perhaps "lamp-transistor"' in shown
    assert 'perhaps ["lamp+", "lamp-", "collector", "emitter"]' in shown


def test_the_tests_of_types_take_the_added_one_with_its_folder(tree: Path) -> None:
    words = ("-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider")
    done = python(tree, *words, "tests/types", "-k", "lamp or no_code")
    assert done.returncode == 0, done.stdout
    file = tree / "fixtures/types/lamp-transistor/too-much.cir"
    file.write_text(board(ohms="330", expect="* expect: none\n"), encoding="utf-8")
    without = python(tree, *words, "tests/types/test_type_fixtures.py", "-k", "lamp")
    assert without.returncode == 1
    assert "too-much.cir" in without.stdout

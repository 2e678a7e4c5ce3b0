"""`isolint parts measure`: a record with the typical values of a part's own model, which loads as it is printed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from isolint.cli import run
from isolint.parts.record_files import checked
from tests.measure.models import MODELS, library

Captured = pytest.CaptureFixture[str]
BOARD = "* invented\n.include demo.lib\nV1 IN 0 5\nR1 IN A 330\nXU1 A 0 OUT 0 DEMO_SENSED\nR2 V OUT 3.3k\nV2 V 0 5\n"
SETTINGS = """\
open = "error"
parts = ["parts.toml"]
[reading]
simulation_ground = "0"
[inputs.OUT]
supply = "V"
low_max = "1.5 V"
high_min = "3.5 V"
"""
STRANGE = """\
.subckt DEMO_GATE A K C E
D1 A N LED
V1 N K 0
A1 N 0 0 0 0 0 P 0 BUF
G1 C B P 0 1m
F1 C B V1 1m
Q1 C B E QN
.model LED D(IS=1e-15 N=2)
.model QN NPN
.ends
.subckt DEMO_LOGIC A K VCC OUT GND
D1 A N LED
V1 N K 0
F1 VCC P V1 10m
RP P GND 10k
Q1 OUT P GND QN
Q2 VCC P OUT QN
.model LED D(IS=1e-15 N=2)
.model QN NPN
.ends
.subckt DEMO_PLAIN A B C D
R1 A B 1k
R2 C D 1k
.ends
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "demo.lib").write_text(library(), encoding="utf-8")
    (tmp_path / "board.cir").write_text(BOARD, encoding="utf-8")
    (tmp_path / "strange.lib").write_text(STRANGE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def printed(capsys: Captured, *arguments: str) -> str:
    assert run(["parts", "measure", *arguments]) == 0
    return capsys.readouterr().out


def record(text: str, name: str) -> dict[str, Any]:
    found: dict[str, Any] = tomllib.loads(text)["parts"][name]
    return found


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.name)
def test_the_record_loads_as_printed_and_states_what_its_closed_form_says(
    model: Any, folder: Path, capsys: Captured
) -> None:
    text = printed(capsys, "demo.lib", model.name)
    (folder / "parts.toml").write_text(text, encoding="utf-8")
    held = checked(["parts.toml"])
    assert (held.records, held.mistakes, held.doubts) == (1, 0, 0), held.told
    stated = record(text, model.name)
    assert "no guarantee" in stated["source"]
    assert float(stated["led"]["forward_voltage"]["typ"].split()[0]) == pytest.approx(model.forward(10e-3), rel=1e-3)
    assert set(stated["led"]["forward_voltage"]) == {"typ", "at"}
    ratio = stated["transfer"]["ratio"]
    assert float(ratio["typ"].split()[0]) / 100 == pytest.approx(model.ratio(5e-3), rel=1e-3)
    assert set(ratio) == {"typ", "current", "voltage"}
    assert set(stated["output"].values()) == {"?"}, "no model guarantees an end"


def test_typical_values_of_a_record_are_printed_where_a_value_can_not_stand(folder: Path, capsys: Captured) -> None:
    text = printed(capsys, "demo.lib", "DEMO_LEAKY")
    assert 'dark_current = "?"  # typical 30 nA at 10 V and 27 degC; a record states its maximum' in text
    assert 'saturation_voltage = "?"  # typical 0.1' in text
    assert re.search(r"\n# +5 mA +1\.513 V +50\.1 %\n", text)
    assert re.search(r"\n# +5 V +50\.1 %\n", text)


def test_an_element_that_calls_the_part_names_it_too(folder: Path, capsys: Captured) -> None:
    assert "[parts.DEMO_SENSED]" in printed(capsys, "board.cir", "xu1")


def test_a_board_takes_the_record_and_asks_for_what_no_model_guarantees(folder: Path, capsys: Captured) -> None:
    (folder / "parts.toml").write_text(printed(capsys, "demo.lib", "DEMO_SENSED"), encoding="utf-8")
    (folder / "isolint.toml").write_text(SETTINGS, encoding="utf-8")
    assert run(["check", "--passes", "board.cir"]) == 1
    told = {line.rpartition("[")[2]: line for line in capsys.readouterr().out.split("\n") if line.startswith("board")}
    assert ": pass: XU1: the LED gets up to 12.4 mA" in told["led-overdriven]"]
    margin = told["transfer-margin-low]"]
    assert re.search(r": open: XU1: its output gives 0\.5[78][0-9]* mA at worst", margin), "0.3 of the typical ratio"
    assert "must carry 1.2" in margin


def test_what_can_not_be_computed_is_said_with_its_card(folder: Path, capsys: Captured) -> None:
    pins = ("--type", "phototransistor", "--pins", "anode,cathode,collector,emitter")
    text = printed(capsys, "strange.lib", "DEMO_GATE", *pins)
    assert "# transfer ratio: not computed: A1 (strange.lib:4) is no element that is computed here\n" in text
    assert set(record(text, "DEMO_GATE")) == {"type", "pins", "source", "led"}
    (folder / "strange.lib").write_text(STRANGE.replace("D1 A N LED", "D1 A N NONE"), encoding="utf-8")
    assert run(["parts", "measure", "strange.lib", "DEMO_GATE", *pins]) == 2
    assert "D1 (strange.lib:2) names the model NONE, which is not there" in capsys.readouterr().err


def test_of_an_output_that_is_no_transistor_the_led_alone_is_measured(folder: Path, capsys: Captured) -> None:
    text = printed(capsys, "strange.lib", "DEMO_LOGIC")
    assert set(record(text, "DEMO_LOGIC")) == {"type", "pins", "source", "led"}
    assert re.search("# Of the output of a (logic-output|gate-driver) nothing is measured", text)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["demo.lib", "DEMO_SENSE"], "there is no .subckt DEMO_SENSE (it holds DEMO_SENSED"),
        (["demo.lib", "DEMO_SENSED", "--type", "relais"], "there is no type relais"),
        (["demo.lib", "DEMO_SENSED", "--pins", "anode,cathode"], "2 pins are given, DEMO_SENSED has 4: A K C E"),
        (["strange.lib", "DEMO_PLAIN"], "can't be told from its structure"),
        (["none.lib", "DEMO_PLAIN"], "there is no such file"),
    ],
)
def test_a_name_or_pins_that_do_not_fit_are_told(
    arguments: list[str], told: str, folder: Path, capsys: Captured
) -> None:
    assert run(["parts", "measure", *arguments]) == 2
    assert told in capsys.readouterr().err


@pytest.mark.parametrize("how", ["no record", "measured", "of placeholders", "without a ratio"])
def test_however_little_a_record_states_the_typical_ratio_of_the_model_holds_its_minimum_down(
    how: str, folder: Path, capsys: Captured
) -> None:
    text = printed(capsys, "demo.lib", "DEMO_SENSED")
    head = '[parts.DEMO_SENSED]\ntype = "phototransistor"\npins = ["anode", "cathode", "collector", "emitter"]\n'
    records = {
        "no record": "",
        "measured": text,
        "of placeholders": f'{head}[parts.DEMO_SENSED.transfer]\nratio = "?"\n',
        "without a ratio": head,
    }
    (folder / "parts.toml").write_text(records[how], encoding="utf-8")
    (folder / "isolint.toml").write_text(SETTINGS, encoding="utf-8")
    assert run(["check", "--passes", "board.cir"]) == 1
    margin = next(line for line in capsys.readouterr().out.split("\n") if "[transfer-margin-low]" in line)
    # 0.3 of the model's 90.3 %, not the 50 % that usual parts have at least.
    assert re.search(r": open: XU1: its output gives 0\.5[78][0-9]* mA at worst", margin)

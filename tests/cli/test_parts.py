"""`isolint parts`: records to fill in, looked at and shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.cli import run

Captured = pytest.CaptureFixture[str]
BOARD = "* invented\nR1 DO A 330\nXU1 A GND GNDF OUT OPTO_DEMO_X\nR2 +5V OUT 4.7k\n"
SOUND = """\
[parts.DEMO_X]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
source = "invented"
[parts.DEMO_X.led]
forward_voltage = { typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
[parts.DEMO_X.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
[parts.DEMO_X.output]
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
[parts.DEMO_X.insulation]
withstand = "5 kV"
working_voltage = "600 V"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "board.cir").write_text(BOARD, encoding="utf-8")
    (tmp_path / "parts.toml").write_text(SOUND, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", ["XU1", "opto_demo_x"])
def test_a_record_for_a_part_of_a_netlist_has_its_nets_beside_the_pins(
    name: str, folder: Path, capsys: Captured
) -> None:
    assert run(["parts", "new", name, "--netlist", "board.cir"]) == 0
    text = capsys.readouterr().out
    assert '[parts.OPTO_DEMO_X]\ntype = "phototransistor"\n# pin 1 on net A: perhaps anode\n' in text
    assert '\npins = "?"  # perhaps ["anode", "cathode", "emitter", "collector"]\n' in text
    (folder / "new.toml").write_text(text, encoding="utf-8")
    assert run(["parts", "check", "new.toml"]) == 0


def test_a_record_for_a_name_alone_takes_the_usual_pins_of_its_type(folder: Path, capsys: Captured) -> None:
    assert run(["parts", "new", "DEMO_K", "--type", "relay"]) == 0
    assert '[parts.DEMO_K]\ntype = "relay"\npins = "?"  # perhaps ["coil1", "coil2", ' in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["DEMO_K", "--type", "relais"], "there is no type relais (did you mean relay?)"),
        (["DEMO_K", "--type", "thing"], "known:\nisolint:   phototransistor: an LED lights a transistor, "),
        (["XU9", "--netlist", "board.cir"], "no element and no part of the netlist is called XU9"),
    ],
)
def test_a_name_or_type_that_is_not_there_is_told(
    arguments: list[str], told: str, folder: Path, capsys: Captured
) -> None:
    assert run(["parts", "new", *arguments]) == 2
    assert told in capsys.readouterr().err


def test_a_sound_file_is_counted(folder: Path, capsys: Captured) -> None:
    assert run(["parts", "check", "parts.toml"]) == 0
    assert capsys.readouterr().out == '1 record, 0 mistakes, 0 implausible; 0 values are still "?"\n'


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('source = "invented"\n', "", "parts.DEMO_X.source: nobody says where the values are from"),
        ('at = "2.4 mA"', 'at = "16 mA"', "saturated it gives 2 times the LED current, unsaturated 1.6 at most"),
        ('typ = "1.2 V", max = "1.4 V"', 'typ = "0.12 V", max = "1.4 V"', "no LED drops 0.12 V"),
        ('"50 mA"', '"2 mA"', "the ratio was measured at 5 mA, and the LED takes 2 mA"),
        ('"5 kV"', '"400 V"\n#', "it withstands 400 V only"),
        ('"100 nA"', '"100 mA"', "100 mA flow in the dark"),
        ('max = "0.3 V", at', 'max = "30 V", at', "parts.DEMO_X.output.saturation_voltage: 30 V is more than outputs"),
        ("dark_current", 'voltage_max = "70 kV"\ndark_current', "output.voltage_max: 70 kV is more than outputs"),
        ("dark_current", 'current_max = "50 A"\ndark_current', "output.current_max: 50 A is more than outputs"),
        ("[parts.DEMO_X.tr", 'reverse_voltage_max = "70 V"\n[parts.DEMO_X.tr', "no LED blocks 70 V"),
        (
            "[parts.DEMO_X.tr",
            'threshold_current = "60 mA"\n[parts.DEMO_X.tr',
            "it needs 60 mA to switch, and its LED takes",
        ),
        ('"50 mA"', '"50 A"', "no LED of a coupler is made for 50 A"),
        ('min = "80 %", max = "160 %"', "min = 80, max = 16000", "no coupler has a ratio of 1600000 %"),
    ],
)
def test_what_is_hardly_right_is_told_with_its_key(
    old: str, new: str, told: str, folder: Path, capsys: Captured
) -> None:
    text = SOUND.replace(old, new)
    if "400 V" in new:
        text = text.replace('"600 V"', '"300 V"')
    assert text != SOUND
    (folder / "parts.toml").write_text(text, encoding="utf-8")
    assert run(["parts", "check", "parts.toml"]) == 1
    shown = capsys.readouterr().out
    assert told in shown
    assert "1 implausible" in shown


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('typ = "1.2 V", max = "1.4 V"', 'min = "1.3 V", typ = "1.2 V"', "min = "),
        ('working_voltage = "600 V"', 'working_voltage = "6 kV"', "is above withstand"),
    ],
)
def test_what_can_not_be_right_is_a_mistake(old: str, new: str, told: str, folder: Path, capsys: Captured) -> None:
    (folder / "parts.toml").write_text(SOUND.replace(old, new), encoding="utf-8")
    assert run(["parts", "check", "parts.toml", "none.toml"]) == 2
    shown = capsys.readouterr().out
    assert told in shown
    assert "none.toml: there is no such file" in shown
    assert "2 mistakes" in shown


def test_records_are_listed_and_shown(folder: Path, capsys: Captured) -> None:
    run(["parts", "list", "parts.toml"])
    assert capsys.readouterr().out == "DEMO_X: phototransistor, 4 pins, parts.toml\n"
    run(["parts", "list"])
    assert "DEMO_PT1: phototransistor, 4 pins, isolint:parts/records/DEMO_PT1.toml\n" in capsys.readouterr().out
    assert run(["parts", "show", "demo_x", "parts.toml"]) == 0
    assert capsys.readouterr().out.startswith("(part DEMO_X phototransistor @parts.toml)\n(pins anode cathode ")
    assert run(["parts", "show", "DEMO_NONE"]) == 2
    assert "there is no record of DEMO_NONE" in capsys.readouterr().err

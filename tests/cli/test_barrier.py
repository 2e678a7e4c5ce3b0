"""`isolint barrier`: formats, files and exit status on the demonstration boards."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.cli import run
from isolint.reports.safety import CAUTION
from tests.conftest import REPOSITORY

BOARDS = REPOSITORY / "fixtures" / "boards" / "sluice-gate"
Captured = pytest.CaptureFixture[str]


@pytest.mark.parametrize("form", ["text", "html", "svg"])
def test_every_format_carries_the_caution_and_the_joint(form: str, capsys: Captured) -> None:
    assert run(["barrier", "--format", form, str(BOARDS / "broken" / "board.cir")]) == 0
    text = " ".join(capsys.readouterr().out.replace("&#39;", "'").split())
    assert "it certifies nothing" in text
    assert "GNDF - R90 0 ohm - GND" in text
    assert (CAUTION in text) or form == "svg"


def test_the_sound_board_has_no_joint_and_lists_bleeder_and_capacitor(capsys: Captured) -> None:
    run(["barrier", str(BOARDS / "sound" / "board.cir")])
    text = capsys.readouterr().out
    assert text.count("joints: none") == 3
    assert "R90: 10 Mohm (GNDF | GND)" in text
    assert "C90: 1 nF (GNDF | GND)" in text
    assert "XPS1: isolated-supply DEMO_IS2 (+24V GNDF | +3V3 GND)" in text


def test_a_file_is_written_in_place_of_standard_output(tmp_path: Path, capsys: Captured) -> None:
    target = tmp_path / "barrier.svg"
    assert run(["barrier", "--format", "svg", "--output", str(target), str(BOARDS / "sound" / "board.cir")]) == 0
    assert capsys.readouterr().out == ""
    assert target.read_text(encoding="utf-8").startswith('<?xml version="1.0" encoding="UTF-8"?>\n<svg ')


def test_same_input_same_bytes(capsys: Captured) -> None:
    outputs = []
    for _ in range(2):
        run(["barrier", "--format", "html", str(BOARDS / "broken" / "board.cir")])
        outputs.append(capsys.readouterr().out)
    assert outputs[0] == outputs[1]


def test_what_can_not_be_read_is_an_error_with_status_2(capsys: Captured) -> None:
    assert run(["barrier", "nowhere.cir"]) == 2
    assert "there is no such file" in capsys.readouterr().err

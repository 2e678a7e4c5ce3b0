"""The first isolint.toml, and the way from it to a useful check by following only what the output says."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from isolint.cli import run

Captured = pytest.CaptureFixture[str]

BOARD = """\
* a door controller as exported, nothing stated, invented
R1 DO_LOCK A1 330
XU1 A1 GND GNDF LOCK DEMO_PT1
R2 +24V LOCK 4.7k
R3 IN_DOOR A2 2.2k
XU2 A2 GNDF GND DI_DOOR DEMO_PT1
R4 +3V3 DI_DOOR 10k
"""


@pytest.fixture
def board(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The board in a folder of its own, in which commands run."""
    path = tmp_path / "board.cir"
    path.write_text(BOARD, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return path


def uncommented(text: str) -> str:
    """The settings as if every question had been answered with its own example."""
    return re.sub(r"(?m)^# (?=\[|[a-z_]+ = )", "", text)


def checked(capsys: Captured) -> Any:
    capsys.readouterr()
    run(["check", "board.cir", "--format", "json"])
    captured = capsys.readouterr()
    assert captured.err == ""
    return json.loads(captured.out)


def test_it_says_what_was_inferred_and_from_what(board: Path, capsys: Captured) -> None:
    assert run(["init", "board.cir"]) == 0
    text = (board.parent / "isolint.toml").read_text(encoding="utf-8")
    assert "# XU1 (board.cir:3): phototransistor DEMO_PT1, recognised by its record" in text
    assert '[sides.GND]\nnets = ["GND"]' in text
    assert '# assumed from the name of the net, 5 % by default; uncomment what is right\n# [supplies."+24V"]' in text
    assert tomllib.loads(text) == {
        "open": "error",
        "sides": {"GND": {"nets": ["GND"]}, "GNDF": {"nets": ["GNDF"]}},
    }


def test_the_fact_that_settles_most_comes_first_with_what_waits_for_it(board: Path, capsys: Captured) -> None:
    run(["init", "board.cir", "--print"])
    text = capsys.readouterr().out
    counts = [int(found) for found in re.findall(r"# settles (\d+) open: ", text)]
    assert len(counts) > 2
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 2
    assert '# [inputs."DI_DOOR"]\n# supply = "+3V3"' in text, "the supply of its own side is offered"
    assert '# or, where a logic output drives it, [outputs."DO_LOCK"]' in text
    assert not (board.parent / "isolint.toml").exists()


def test_it_never_overwrites(board: Path, capsys: Captured) -> None:
    (board.parent / "isolint.toml").write_text("# mine\n", encoding="utf-8")
    assert run(["init", "board.cir"]) == 2
    assert "init never overwrites any" in capsys.readouterr().err
    assert (board.parent / "isolint.toml").read_text(encoding="utf-8") == "# mine\n"


def test_a_fresh_start_is_no_pass(board: Path, capsys: Captured) -> None:
    run(["init", "board.cir"])
    assert run(["check", "board.cir"]) == 1


def test_a_newcomer_gets_to_a_useful_check_by_following_the_output(board: Path, capsys: Captured) -> None:
    before = checked(capsys)
    assert before["coverage"][0]["judged"] == 0
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    settings.write_text(uncommented(settings.read_text(encoding="utf-8")), encoding="utf-8")
    after = checked(capsys)
    for _ in range(5):
        missing = [fact for result in after["results"] for fact in result["missing"] if fact["file"] == "isolint.toml"]
        if not missing:
            break
        add(settings, missing[0]["example"])
        after = checked(capsys)
    assert after["coverage"][0]["judged"] == after["coverage"][0]["channels"] == 2
    assert [result["rule"] for result in after["results"] if result["kind"] == "fail"], "and it finds what is wrong"


def add(settings: Path, example: str) -> None:
    """Write the lines that an open result asks for, into their table if it is there."""
    text = settings.read_text(encoding="utf-8")
    head, _, body = example.partition("\n")
    text = text.replace(f"{head}\n", f"{head}\n{body}\n") if f"{head}\n" in text else f"{text}\n{example}\n"
    settings.write_text(text, encoding="utf-8")


def test_a_part_without_a_record_is_asked_for_and_following_that_works(board: Path, capsys: Captured) -> None:
    board.write_text(BOARD.replace("DEMO_PT1", "OPTO_DEMO_X"), encoding="utf-8")
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    text = settings.read_text(encoding="utf-8")
    assert '# parts = ["parts.toml"]' in text
    assert '# in parts.toml, which `parts` above must name:\n# [parts."OPTO_DEMO_X"]\n' in text
    first, record = text.split("# in parts.toml, which `parts` above must name:\n")
    record = record.partition("\n\n")[0]
    (board.parent / "parts.toml").write_text(uncommented(record), encoding="utf-8")
    settings.write_text(first.replace("# parts =", "parts ="), encoding="utf-8")
    assert [coupler["recognised_by"] for coupler in checked(capsys)["couplers"]] == ["record", "record"]


def test_all_of_it_uncommented_is_sound_toml_with_each_table_once(board: Path, capsys: Captured) -> None:
    more = "C9 GND GNDF 2.2n\nXK1 +24V RLY C1 N1 NC1 DEMO_K1\nD1 RLY +24V DR\nR9 RLY GNDF 1k\n.model DR D\n"
    board.write_text(BOARD + more, encoding="utf-8")
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    document = tomllib.loads(uncommented(settings.read_text(encoding="utf-8")))
    pairs = [barrier["between"] for barrier in document["barriers"]]
    assert pairs == [["C1", "GNDF"], ["GND", "GNDF"]]
    assert set(document["sides"]) == {"C1", "GND", "GNDF"}
    assert "settles 1 open: bridge-capacitor" in settings.read_text(encoding="utf-8")
    settings.write_text(uncommented(settings.read_text(encoding="utf-8")), encoding="utf-8")
    checked(capsys)


def test_a_card_with_another_number_of_pins_than_its_record_gets_a_record_to_fill_in(
    board: Path, capsys: Captured
) -> None:
    board.write_text(BOARD.replace("GNDF LOCK DEMO", "GNDF LOCK B5 DEMO"), encoding="utf-8")
    run(["init", "board.cir"])
    text = (board.parent / "isolint.toml").read_text(encoding="utf-8")
    record = text.split("# in parts.toml, which `parts` above must name:\n")[1].partition("\n\n")[0]
    assert tomllib.loads(uncommented(record))["parts"]["DEMO_PT1"] == {
        "type": "phototransistor",
        "pins": ["anode", "cathode", "emitter", "collector", "pin5"],
    }


def test_the_command_to_run_next_can_be_pasted(board: Path, capsys: Captured) -> None:
    board.rename(board.parent / "door 1.cir")
    run(["init", "door 1.cir"])
    assert "  isolint check 'door 1.cir'\n" in capsys.readouterr().out


def test_sides_that_meet_in_node_0_only_are_a_question(board: Path, capsys: Captured) -> None:
    board.write_text(BOARD.replace("GNDF", "0").replace("GND", "0"), encoding="utf-8")
    run(["init", "board.cir", "--print"])
    text = capsys.readouterr().out
    assert '# [reading]\n# simulation_ground = "0"' in text
    assert "[sides" not in text


def test_hostile_names_stay_comments_and_strings(board: Path, capsys: Captured) -> None:
    board.write_text(BOARD.replace("GNDF", 'GND_"x').replace("DO_LOCK", "a]b#"), encoding="utf-8")
    run(["init", "board.cir", "--print"])
    text = capsys.readouterr().out
    document = tomllib.loads(text)
    assert set(document) <= {"open", "sides"}


def test_a_board_with_nothing_isolated_says_so(board: Path, capsys: Captured) -> None:
    board.write_text("* nothing isolated, invented\nR1 a b 1k\n", encoding="utf-8")
    run(["init", "board.cir", "--print"])
    text = capsys.readouterr().out
    assert "# No coupler and no other barrier part was recognised." in text
    assert tomllib.loads(text) == {"open": "error"}

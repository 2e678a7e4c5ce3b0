"""The first isolint.toml, and the way from it to a useful check by following only what the output says."""

from __future__ import annotations

import io
import json
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from isolint.cli import run
from isolint.starter import asking
from tests.answers import answered

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
    """The settings as if every question had been answered, with what stands beside it as an example or a guess."""
    return answered(re.sub(r"(?m)^# (?=\[|[a-z_]+ = )", "", text))


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
    assert counts[0] > counts[-1]
    assert '# [inputs."LOCK"]\n# supply = "?"  # for example "+24V"' in text, "the supply of its own side is offered"
    assert '; or, where a logic output drives it, [outputs."DO_LOCK"]' in text
    assert not (board.parent / "isolint.toml").exists()


def test_it_adds_its_questions_and_changes_nothing_that_is_there(board: Path, capsys: Captured) -> None:
    settings = board.parent / "isolint.toml"
    mine = '# mine\n[lines."IN_DOOR"]  # of the door\non = ["18 V", "30 V"]\n'
    settings.write_text(mine, encoding="utf-8")
    assert run(["init", "board.cir"]) == 0
    text = settings.read_text(encoding="utf-8")
    assert text.startswith(mine)
    assert "# below [lines.IN_DOOR], which stands above:\n# off = " in text
    assert '# [lines."DO_LOCK"]\n# on = "?"' in text


def test_run_again_it_asks_nothing_twice_and_writes_nothing(board: Path, capsys: Captured) -> None:
    board.write_text(BOARD.replace("DEMO_PT1", "OPTO_DEMO_X", 1), encoding="utf-8")
    run(["init", "board.cir"])
    files = [board.parent / name for name in ("isolint.toml", "parts.toml")]
    before = [file.read_text(encoding="utf-8") for file in files]
    capsys.readouterr()
    assert run(["init", "board.cir"]) == 0
    assert "isolint.toml: nothing is new, " in capsys.readouterr().out
    assert [file.read_text(encoding="utf-8") for file in files] == before


def test_an_answered_question_does_not_come_again_and_a_new_one_does(board: Path, capsys: Captured) -> None:
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    asked = settings.read_text(encoding="utf-8")
    reply = '[inputs."DI_DOOR"]\nsupply = "+3V3"\nlow_max = "0.8 V"\nhigh_min = "2 V"\n'
    kept = re.sub(r"(?m)^# .*DI_DOOR.*\n(# .*\n)+", "", asked) + reply
    settings.write_text(kept, encoding="utf-8")
    board.write_text(
        f"{BOARD}R5 IN_NEW A3 2.2k\nXU3 A3 GNDF GND DI_NEW DEMO_PT1\nR6 +3V3 DI_NEW 10k\n", encoding="utf-8"
    )
    run(["init", "board.cir"])
    text = settings.read_text(encoding="utf-8")
    assert text.startswith(kept)
    assert "DI_DOOR" not in text[len(kept) :]
    assert '# [lines."IN_NEW"]' in text[len(kept) :]


def test_what_it_prints_is_what_it_would_write(board: Path, capsys: Captured) -> None:
    (board.parent / "isolint.toml").write_text("# mine\n", encoding="utf-8")
    assert run(["init", "board.cir", "--print"]) == 0
    printed = capsys.readouterr().out
    run(["init", "board.cir"])
    assert printed == (board.parent / "isolint.toml").read_text(encoding="utf-8")


def test_what_is_not_known_yet_is_counted_and_changes_no_result(board: Path, capsys: Captured) -> None:
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    before = {(result["rule"], result["kind"], result["subject"]) for result in checked(capsys)["results"]}
    text = settings.read_text(encoding="utf-8")
    settings.write_text(re.sub(r"(?m)^# (?=\[inputs|low_max|high_min)", "", text), encoding="utf-8")
    after = {(result["rule"], result["kind"], result["subject"]) for result in checked(capsys)["results"]}
    assert after == before
    run(["check", "board.cir"])
    assert 'board.cir: 4 values are still "?", which states nothing; see `isolint facts`\n' in capsys.readouterr().out


def test_a_fresh_start_is_no_pass(board: Path, capsys: Captured) -> None:
    run(["init", "board.cir"])
    assert run(["check", "board.cir"]) == 1


def test_a_newcomer_gets_to_a_useful_check_by_following_the_output(board: Path, capsys: Captured) -> None:
    before = checked(capsys)
    fails = [result["rule"] for result in before["results"] if result["kind"] == "fail"]
    assert fails == ["led-undriven", "led-undriven"], "nothing is known of the nets that lead off the board"
    run(["init", "board.cir"])
    settings = board.parent / "isolint.toml"
    settings.write_text(uncommented(settings.read_text(encoding="utf-8")), encoding="utf-8")
    after = checked(capsys)
    for _ in range(5):
        missing = [fact for result in after["results"] for fact in result["missing"] if fact["file"] == "isolint.toml"]
        if not missing:
            break
        add(settings, answered(missing[0]["example"]))
        after = checked(capsys)
    assert after["coverage"][0]["judged"] == after["coverage"][0]["channels"] == 2
    found = {result["rule"] for result in after["results"] if result["kind"] == "fail"}
    assert found, "and it finds what is wrong"
    assert "led-undriven" not in found


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
    assert '\nparts = ["parts.toml"]\n' in text
    records = board.parent / "parts.toml"
    record = records.read_text(encoding="utf-8")
    assert '\n[parts.OPTO_DEMO_X]\ntype = "?"  # perhaps "phototransistor"\npins = "?"  # ' in record
    assert checked(capsys)["couplers"] == []
    records.write_text(answered(record), encoding="utf-8")
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
    record = (board.parent / "parts.toml").read_text(encoding="utf-8")
    assert tomllib.loads(answered(record))["parts"]["DEMO_PT1"] == {
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
    assert text.count('# [reading]\n# simulation_ground = "0"') == 1
    assert "[sides" not in text


SHARED = "* one reference, invented\nV1 in 0 24\nR1 in a 2.2k\nXU1 a 0 c 0 PART77\nR2 c vcc 10k\nV2 vcc 0 5\n"
RECORD = '[parts.PART77]\ntype = "phototransistor"\npins = ["anode", "cathode", "collector", "emitter"]\n'


def test_all_questions_may_be_uncommented_where_everything_returns_to_node_0(board: Path, capsys: Captured) -> None:
    board.write_text(SHARED, encoding="utf-8")
    (board.parent / "parts.toml").write_text(RECORD, encoding="utf-8")
    settings = board.parent / "isolint.toml"
    settings.write_text('parts = ["parts.toml"]\n', encoding="utf-8")
    for _ in range(2):
        assert run(["init", "board.cir"]) == 0
        text = re.sub(r"(?m)^# (\[|\w+ = )", r"\1", settings.read_text(encoding="utf-8"))
        settings.write_text(text, encoding="utf-8")
        assert text.count("[reading]") == 1
        tomllib.loads(text)
    assert run(["check", "board.cir"]) in (0, 1)


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


def replies(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def stated(folder: Path, name: str = "isolint.toml") -> dict[str, Any]:
    return tomllib.loads((folder / name).read_text(encoding="utf-8"))


DOOR = "* a door contact, invented\nR1 DOOR A 2.2k\nXU1 A GND_FIELD GND DI_DOOR PART77\nR2 +3V3 DI_DOOR 10k\n"
PART = ("1", "1", "1.1 V", "1.2 V", "1.4 V", "10 mA", "80 %", "", "5 mA", "5 V")
SETTINGS = ("5 %", "+3V3", "0.8 V", "2 V", "18 V .. 30 V", "0 V, 0.5 V", "basic", "50 V")
REST = (*SETTINGS, "basic", "1 W", "600 V", "8 mm", "7 mm")


@pytest.fixture
def door(board: Path) -> Path:
    board.write_text(DOOR, encoding="utf-8")
    return board.parent


def test_asked_one_by_one_an_unknown_part_becomes_a_judged_channel(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    replies(monkeypatch, *PART, *REST)
    assert run(["init", "board.cir", "--ask"]) == 0
    shown = capsys.readouterr().out
    assert "PART77 (XU1): what is it?\n  pin 1 on net A\n  pin 2 on net GND_FIELD\n" in shown
    assert re.search("1 phototransistor: an LED lights a transistor.* - perhaps this one\n", shown)
    assert "1 anode on A, cathode on GND_FIELD, emitter on GND, collector on DI_DOOR\n" in shown
    assert "2 anode on A, cathode on GND_FIELD, collector on GND, emitter on DI_DOOR\n" in shown
    assert "[parts.PART77.transfer]: CTR, current transfer ratio IC/IF" in shown
    assert stated(door, "parts.toml")["parts"]["PART77"] == {
        "type": "phototransistor",
        "pins": ["anode", "cathode", "emitter", "collector"],
        "led": {"forward_voltage": {"min": "1.1 V", "typ": "1.2 V", "max": "1.4 V", "at": "10 mA"}},
        "transfer": {"ratio": {"min": "80 %", "current": "5 mA", "voltage": "5 V"}},
        "insulation": {
            "grade": "basic",
            "working_voltage": "600 V",
            "repetitive_peak": "?",
            "transient": "?",
            "creepage": "8 mm",
            "clearance": "7 mm",
            "material_group": "?",
        },
    }
    assert stated(door)["lines"]["DOOR"] == {"on": ["18 V", "30 V"], "off": ["0 V", "0.5 V"]}
    assert "1 channel: 1 held, 0 failed, 0 open" in shown


def test_of_the_insulation_of_a_part_only_what_decides_is_asked(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    replies(monkeypatch, *PART, *SETTINGS[:-2], "functional", "?", *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    shown = capsys.readouterr().out
    assert "grade (one of" not in shown
    assert "creepage (" not in shown
    (door / "isolint.toml").write_text(
        (door / "isolint.toml").read_text(encoding="utf-8").replace('"functional"', '"reinforced"'), encoding="utf-8"
    )
    replies(monkeypatch, *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    shown = capsys.readouterr().out
    assert "grade (one of" in shown
    assert "creepage (" not in shown


def test_one_answer_leaves_the_rest_of_a_table(door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    replies(monkeypatch, *PART[:5], "-", *PART[6:9], "-", "5 %", "-", "18 V .. 30 V", "-", "-", *["?"] * 5)
    run(["init", "board.cir", "--ask"])
    shown = capsys.readouterr().out
    assert [shown.count(f"  {key} (") for key in ("supply", "low_max", "high_min", "on", "off")] == [1, 0, 0, 1, 1]
    part = stated(door, "parts.toml")["parts"]["PART77"]
    assert part["led"] == {"forward_voltage": {"min": "1.1 V", "typ": "1.2 V", "max": "1.4 V"}}
    assert part["transfer"] == {"ratio": {"min": "80 %", "current": "5 mA"}}


@pytest.mark.parametrize("answers", [1, 2, 8, 14])
def test_wherever_somebody_stops_the_same_command_goes_on_from_there(
    answers: int, door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    given = [*PART, *REST]
    replies(monkeypatch, *given[:answers])
    assert run(["init", "board.cir", "--ask"]) == 130
    assert "What was answered is written" in capsys.readouterr().out
    # A value of several keys is one answer, and is asked again as a whole.
    begun = next(first for first, last in ((2, 6), (6, 10), (answers, answers + 1)) if first <= answers < last)
    kept = stated(door, "parts.toml")["parts"]["PART77"]
    assert ("?" not in str(kept)) == (begun >= 10)
    replies(monkeypatch, *given[begun:])
    assert run(["init", "board.cir", "--ask"]) == 0
    assert "1 channel: 1 held, 0 failed, 0 open" in capsys.readouterr().out


def test_an_answer_that_would_not_load_is_never_written(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    from isolint.cli import files, interview

    written: list[str] = []
    store = files.store

    def looked_at(texts: dict[str, str], roots: dict[str, str]) -> None:
        store(texts, roots=roots)
        assert run(["facts", "board.cir"]) == 0
        written.extend(texts.values())

    monkeypatch.setattr(interview, "store", looked_at)
    wrong = ("phototransistr", "1", "anode, anode, x, y", "anode, cathode, collector, emitter", *PART[2:6], "80 V")
    replies(monkeypatch, *wrong, "", "5 mA", "5 V", *PART[6:], "five", *REST)
    assert run(["init", "board.cir", "--ask"]) == 1
    shown = capsys.readouterr().out
    assert "did you mean phototransistor?" in shown
    assert '"80 V" is a voltage: expected a ratio' in shown
    assert len(written) > 6
    assert not any("phototransistr" in text or "80 V" in text or "five" in text for text in written)
    assert stated(door, "parts.toml")["parts"]["PART77"]["pins"] == ["anode", "cathode", "collector", "emitter"]
    assert "output-reversed" in shown, "the other order of pins fails"


def test_as_many_names_are_wanted_as_there_are_pins_and_a_type_before_them(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    (door / "board.cir").write_text(DOOR.replace("GND DI_DOOR", "GND DI_DOOR X5 X6 X7 X8 X9"), encoding="utf-8")
    replies(monkeypatch, "digital-isolator", "9", "a, b", "?", *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    shown = capsys.readouterr().out
    assert "  their names in the order of the card, with commas, such as " in shown
    assert shown.count("9 names are wanted, one for each pin") == 2
    assert stated(door, "parts.toml")["parts"]["PART77"]["pins"] == "?"
    (door / "parts.toml").unlink()
    replies(monkeypatch, *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    assert "which pin is which" not in capsys.readouterr().out


def test_what_nobody_knows_stays_a_question_and_the_check_follows(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    run(["init", "board.cir"])
    before = [(door / name).read_text(encoding="utf-8") for name in ("isolint.toml", "parts.toml")]
    replies(monkeypatch, *["?", ""] * 10)
    assert run(["init", "board.cir", "--ask"]) == 1
    assert [(door / name).read_text(encoding="utf-8") for name in ("isolint.toml", "parts.toml")] == before
    assert "NOTHING WAS JUDGED" in capsys.readouterr().out


def test_what_a_part_gives_is_asked_before_the_next_part(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    second = "R3 DOOR B 2.2k\nXU2 B GND_FIELD GND DI_TWO PART78\nR4 +3V3 DI_TWO 10k\n"
    (door / "board.cir").write_text(DOOR + second, encoding="utf-8")
    replies(monkeypatch, *PART, *PART, *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    parts = stated(door, "parts.toml")["parts"]
    assert parts["PART77"] == parts["PART78"]
    assert parts["PART78"]["transfer"]["ratio"]["min"] == "80 %"


def test_a_part_that_is_ordinary_is_not_asked_for_its_pins(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    replies(monkeypatch, "ordinary", *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    shown = capsys.readouterr().out
    assert "which pin is which" not in shown
    assert stated(door, "parts.toml")["parts"]["PART77"]["type"] == "ordinary"


def test_a_net_may_be_said_to_be_driven_by_a_logic_output(
    door: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    high, low = ("2.9 V", "4 mA"), ("0.4 V", "4 mA")
    replies(monkeypatch, *PART, *REST[:4], "output", "+3V3", *high, *low, *["?"] * 20)
    run(["init", "board.cir", "--ask"])
    assert stated(door)["outputs"]["DOOR"] == {
        "supply": "+3V3",
        "high": {"min": "2.9 V", "at": "4 mA"},
        "low": {"max": "0.4 V", "at": "4 mA"},
    }
    assert "lines" not in stated(door)


def test_an_answer_takes_its_table_out_of_the_comments_and_don_t_know_changes_nothing(
    board: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    replies(monkeypatch, *["?"] * 30)
    run(["init", "board.cir", "--ask"])
    settings = board.parent / "isolint.toml"
    before = settings.read_text(encoding="utf-8")
    found = next(asked for asked in asking.questions(before) if asked.key == "low_max")
    after = asking.answered(before, found, "0.8 V")
    assert tomllib.loads(after)["inputs"] == {"LOCK": {"low_max": "0.8 V"}}
    assert asking.answered(before, found, "?") == before
    assert tomllib.loads(before).keys() == {"open", "sides"}

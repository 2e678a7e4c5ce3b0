"""Boards as people draw them wrong: one card differs from a sound one, and the board fails rather than stays open."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import pytest

from isolint import app
from isolint.results import NetlistReport
from tests.support import complaints, judge, judge_files, only

FIXTURES = Path(__file__).parents[2] / "fixtures" / "rules"
TODAY = app.Options(today=date(2026, 1, 1))

MODELS = ".model QN NPN(BF=200)\n.model QP PNP(BF=200)\n.model MN NMOS(VTO=1.5 KP=0.2)\n.model DX D\n"
PLAIN = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nR8 DRIVE GND 100k\n"
BARE = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
FOLLOWER = "R1 DRIVE A 470\nXU1 A GND OUT VB DEMO_PT1\nR2 OUT GNDB 10k\n"
BASE_PIN = "R1 DRIVE A 470\nXU1 A GND BX OUT GNDB DEMO_PB1\nR2 VB OUT 10k\nR3 BX GNDB 10meg\n"
SWITCHED = "R1 V5 A 470\nXU1 A K GNDB OUT DEMO_PT1\nQ1 K B GND QN\nR5 DRIVE B 4.7k\nR2 VB OUT 10k\n"
HIGH_SIDE = "R1 K GND 470\nXU1 A2 K GNDB OUT DEMO_PT1\nQ1 A2 B V5 QP\nR5 SINK B 4.7k\nR6 V5 B 47k\nR2 VB OUT 10k\n"
MOS = "R1 V5 A 470\nXU1 A K GNDB OUT DEMO_PT1\nM1 K DRIVE GND GND MN\nR2 VB OUT 10k\n"
LINE = "R1 IN1 A 4.7k\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nR7 IN1 GND 47k\n"
BEHIND = "R1 DRIVE A 470\nXU1 A GND GNDB BX DEMO_PT1\nR2 VB BX 10k\nQ1 OUT BX GNDB QN\nR5 VB OUT 10k\n"
MOS_BEHIND = "R1 DRIVE A 470\nXU1 A GND GNDB GX DEMO_PT1\nR2 VB GX 10k\nM1 OUT GX GNDB GNDB MN\nR5 VB OUT 10k\n"
SINKING = "R1 V5 A 470\nXU1 A SINK GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"

DEAD = {
    "cathode on a misspelt net": (BARE, "XU1 A GMD GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on GNDX": (BARE, "XU1 A GNDX GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on AGND": (PLAIN, "XU1 A AGND GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on VSS": (PLAIN, "XU1 A VSS GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on COM": (PLAIN, "XU1 A COM GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on EARTH": (PLAIN, "XU1 A EARTH GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on node 0": (PLAIN, "XU1 A 0 GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on the other side's second ground": (PLAIN, "XU1 A GNDB2 GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on the anode's net": (BARE, "XU1 A A GNDB OUT DEMO_PT1", "led-undriven"),
    "cathode on the driven net": (PLAIN, "XU1 A DRIVE GNDB OUT DEMO_PT1", "led-undriven"),
    "anode on a net of its own": (PLAIN, "XU1 AX GND GNDB OUT DEMO_PT1", "led-undriven"),
    "a capacitor for the resistor": (BARE, "C1 DRIVE A 100n", "led-undriven"),
    "a capacitor from the supply": (BARE, "C1 V5 A 100n", "led-undriven"),
    "a capacitor from the line": (LINE, "C1 IN1 A 100n", "led-undriven"),
    "the resistor from nowhere": (BARE, "R1 VLED A 470", "led-undriven"),
    "the resistor from the reference": (BARE, "R1 GND A 470", "led-undriven"),
    "the line's resistor from nowhere": (LINE, "R1 TERMINAL A 4.7k", "led-undriven"),
    "a link across the LED": (PLAIN, "R8 A GND 0", "led-undriven"),
    "a sinking port, the LED on the supply": (SINKING, "XU1 A V5 GNDB OUT DEMO_PT1", "led-undriven"),
    "a sinking port, the LED's return misspelt": (SINKING, "XU1 A SYNK GNDB OUT DEMO_PT1", "led-undriven"),
    "the base resistor from nowhere": (SWITCHED, "R5 DRV B 4.7k", "led-undriven"),
    "the base resistor from the reference": (SWITCHED, "R5 GND B 4.7k", "led-undriven"),
    "the base on a net of its own": (SWITCHED, "Q1 K BX GND QN", "led-undriven"),
    "the base on the reference": (SWITCHED, "Q1 K GND GND QN", "led-undriven"),
    "the emitter on a net of its own": (SWITCHED, "Q1 K B EX QN", "led-undriven"),
    "the emitter on a mere name": (SWITCHED, "Q1 K B PGND QN", "led-undriven"),
    "a capacitor for the base resistor": (SWITCHED, "C5 DRIVE B 100n", "led-undriven"),
    "the high side's base at its emitter": (HIGH_SIDE, "R5 V5 B 4.7k", "led-undriven"),
    "the gate on a net of its own": (MOS, "M1 K GX GND GND MN", "led-undriven"),
    "the gate on the reference": (MOS, "M1 K GND GND GND MN", "led-undriven"),
    "no resistor at the port": (BARE, "R1 DRIVE A 0", "led-unlimited"),
    "a choke for the resistor": (BARE, "L1 DRIVE A 10u", "led-unlimited"),
    "a diode for the resistor": (BARE, "D1 DRIVE A DX", "led-unlimited"),
    "no resistor behind a transistor": (SWITCHED, "R1 V5 A 0", "led-unlimited"),
    "no resistor behind a MOS transistor": (MOS, "R1 V5 A 0", "led-unlimited"),
    "no resistor at the line": (LINE, "R1 IN1 A 0", "led-unlimited"),
    "no resistor at a sinking port": (SINKING, "R1 V5 A 0", "led-unlimited"),
    "the emitter's net misspelt": (BARE, "XU1 A GND GNDBB OUT DEMO_PT1", "load-missing"),
    "the emitter on AGND": (BARE, "XU1 A GND AGND OUT DEMO_PT1", "load-missing"),
    "the emitter on node 0": (BARE, "XU1 A GND 0 OUT DEMO_PT1", "load-missing"),
    "the collector on a net of its own": (BARE, "XU1 A GND GNDB CX DEMO_PT1", "load-missing"),
    "the collector on the supply": (BARE, "XU1 A GND GNDB VB DEMO_PT1", "load-missing"),
    "the collector on the emitter's net": (BARE, "XU1 A GND OUT OUT DEMO_PT1", "load-missing"),
    "a pull-up of 0 ohm": (BARE, "R2 VB OUT 0", "load-missing"),
    "an ammeter for the pull-up": (BARE, "V2 VB OUT 0", "load-missing"),
    "a source of some volts for the pull-up": (BARE, "V2 VB OUT 1.5", "load-missing"),
    "a transistor behind it straight across the supply": (BEHIND, "Q1 VB BX GNDB QN", "load-missing"),
    "a transistor behind it with a link for its load": (BEHIND, "R5 VB OUT 0", "load-missing"),
    "a MOS transistor behind it straight across the supply": (MOS_BEHIND, "M1 V24B GX GNDB GNDB MN", "load-missing"),
    "the pull-up from nowhere": (BARE, "R2 VPULL OUT 10k", "load-missing"),
    "the pull-up from the reference": (BARE, "R2 GNDB OUT 10k", "load-missing"),
    "a capacitor for the pull-up": (BARE, "C2 VB OUT 100n", "load-missing"),
    "a follower with a pull-down of 0 ohm": (FOLLOWER, "R2 OUT GNDB 0", "load-missing"),
    "a follower with a pull-down to nowhere": (FOLLOWER, "R2 OUT NX 10k", "load-missing"),
    "a follower with a pull-down to a mere name": (FOLLOWER, "R2 OUT GNDX 10k", "load-missing"),
    "a follower with its pull-down at the supply": (FOLLOWER, "R2 OUT VB 10k", "load-missing"),
    "the base pin on the supply": (BASE_PIN, "R3 BX VB 0", "base-resistor-low"),
    "the base pin fed from the supply": (BASE_PIN, "R3 BX VB 10k", "base-resistor-low"),
    "the base pin on the emitter": (BASE_PIN, "R3 BX GNDB 0", "base-resistor-low"),
    "the base pin on the collector": (BASE_PIN, "R3 BX OUT 0", "base-resistor-low"),
}
"""A sound board, the card that takes the place of the one of its name (or of its number), and the rule that fails."""

REPLACES = {"C": "R", "L": "R", "V": "R", "D": "R"}


def changed(sound: str, card: str) -> str:
    """The board with one card in the place of another."""
    name = card.split()[0]
    lines = sound.splitlines()
    found = [at for at, line in enumerate(lines) if line.split()[0] in (name, REPLACES.get(name[0], "") + name[1:])]
    assert len(found) == 1, name
    return "\n".join((*lines[: found[0]], card, *lines[found[0] + 1 :])) + "\n"


@cache
def judged(cards: str) -> NetlistReport:
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    settings = (FIXTURES / "isolint.toml").read_text()
    return judge_files({**files, "isolint.toml": settings, "board.cir": f"an invented board\n{MODELS}{cards}"}, TODAY)


@pytest.mark.parametrize("name", DEAD)
def test_a_dead_board_fails_and_its_sound_twin_is_quiet(name: str) -> None:
    sound, card, rule = DEAD[name]
    assert complaints(judged(sound)) == []
    found = complaints(judged(changed(sound, card)))
    assert [(slug, kind) for slug, kind, _ in found] == [(rule, "fail")]


@pytest.mark.parametrize("name", DEAD)
def test_a_dead_board_ends_with_an_error(name: str) -> None:
    sound, card, rule = DEAD[name]
    failed = [result for result in judged(changed(sound, card)).results if result.kind == "fail"]
    assert [(result.rule, result.level) for result in failed] == [(rule, "error")]
    assert all(result.remedy for result in failed)


@pytest.mark.parametrize(
    ("card", "words"),
    [
        ("XU1 A GND GNDB VB DEMO_PT1", "its collector is tied to its own supply VB"),
        ("R2 VB OUT 0", "its collector is tied to its own supply VB through R2 (0 ohm)"),
        ("XU1 A GND AGND OUT DEMO_PT1", "only its name is that of a ground, the reference of its side is GNDB"),
        ("XU1 A AGND GNDB OUT DEMO_PT1", "only its name is that of a ground, the reference of its side is GND"),
        ("XU1 A GMD GNDB OUT DEMO_PT1", "its cathode ends on net GMD, which has no other pin"),
        ("R2 VPULL OUT 10k", "its collector leads through R2 to net VPULL only, which nothing feeds"),
    ],
)
def test_a_dead_board_is_told_what_is_there(card: str, words: str) -> None:
    (found,) = [result for result in judged(changed(BARE, card)).results if result.kind == "fail"]
    assert words in found.message


def test_an_assumed_reference_is_listed() -> None:
    files = {"isolint.toml": "top = true\n", "board.cir": "an invented board\nV1 VCC AGND 5\nR1 VCC A 470\n"
             "XU1 A AGND GNDB OUT DEMO_PT1\nR2 OUT GNDB 1k\n"}  # fmt: skip
    assert any("AGND" in note and "by name" in note for note in judge_files(files, TODAY).notes)


def test_a_loop_of_its_own_round_a_source_is_judged() -> None:
    loop = "V1 P N 5\nR1 P A 470\nXU1 A N GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    assert [rule for rule, *_ in complaints(judged(loop))] == ["ground-tie"]
    dead = complaints(judged(changed(loop, "R1 P A 0")))
    assert ("led-unlimited", "fail", "XU1") in dead


def test_a_return_that_nothing_states_is_cured_by_the_line_that_is_printed() -> None:
    board = "* Field input\nR1 FLD A 2.2k\nXU1 A FLOW GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    facts = '[lines."FLD"]\non = ["18 V", "30 V"]\noff = ["0 V", "0.5 V"]\n'
    remedy = only(judge(board, facts), "led-undriven", "fail").remedy or ""
    assert remedy.endswith('[sides.NAME] with nets = ["FLOW"] for the reference of its side')
    assert only(judge(board, f'{facts}[sides.NAME]\nnets = ["FLOW"]\n'), "led-undriven").kind == "pass"


@pytest.mark.parametrize(("card", "pin"), [("M1 K GND GND GND MN", "gate"), ("Q1 K GND GND QN", "base")])
def test_the_cure_of_a_transistor_at_rest_does_not_ask_to_drive_the_reference(card: str, pin: str) -> None:
    board = f"* Never on\nV1 V5 GND 5\nR1 V5 A 470\nXU1 A K GNDB OUT DEMO_PT1\n{card}\nR2 VB OUT 10k\n{MODELS}"
    remedy = only(judge(board), "led-undriven", "fail").remedy or ""
    assert remedy.startswith(f"take the {pin} of {card[:2]}")
    assert remedy.endswith("off GND, to an output or a line that drives it")


FOREIGN = """[supplies."V5"]
voltage = "5 V"
ground = "GND"
[supplies."VX"]
voltage = "5 V"
ground = "GNDX"
"""


@pytest.mark.parametrize("more", ["", "R8 VX GNDX 1k\nR9 V5 GND 1k\n"], ids=["ground on no card", "grounds on cards"])
def test_a_loop_between_two_grounds_that_nothing_joins_is_asked_about(more: str) -> None:
    board = f"* Fed from a supply of another circuit\nR1 VX A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n{more}"
    found = only(judge(board, FOREIGN), "led-undriven", "open")
    assert "nothing joins the two" in found.message
    (line,) = found.missing
    head, _, body = line.example.partition("\n")
    assert head.startswith("[sides.")
    assert only(judge(board, f"{FOREIGN}{head}\n{body}\n"), "led-undriven").kind == "pass"
    assert only(judge(f"{board}R7 GND GNDX 0\n", FOREIGN), "led-undriven").kind == "pass"


def test_a_bleeder_to_another_ground_does_not_open_the_loop() -> None:
    board = "* Bleeder\nR1 V5 A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nR9 A GNDX 2meg\nR8 VX GNDX 1k\n"
    assert only(judge(board, FOREIGN), "led-undriven").kind == "pass"


@pytest.mark.parametrize(
    "cards",
    [
        "XU1 A GND GNDB OUT DEMO_PT1\nR2 VX OUT 10k\n",
        "XU1 A GND OUT VX DEMO_PT1\nR2 OUT GNDB 10k\n",
        "XU1 A GND GNDX OUT DEMO_PT1\nR2 VX OUT 10k\n",
    ],
    ids=["pull-up", "follower", "read against another ground"],
)
def test_an_output_between_two_grounds_that_nothing_joins_is_asked_about(cards: str) -> None:
    field = FOREIGN + '[supplies."VB"]\nvoltage = "5 V"\nground = "GNDB"\n'
    field += '[inputs."OUT"]\nsupply = "VB"\nlow_max = "1.5 V"\nhigh_min = "3.5 V"\n'
    board = f"* Pulled up to a supply of another circuit\nR1 DRIVE A 470\n{cards}R8 VX GNDX 1k\n"
    found = only(judge(board, field), "load-missing", "open")
    assert "nothing joins the two" in found.message
    (line,) = found.missing
    assert only(judge(board, f"{field}{line.example}\n"), "load-missing").kind == "pass"
    assert only(judge(f"{board}R7 GNDB GNDX 0\n", field), "load-missing").kind == "pass"

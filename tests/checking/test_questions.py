"""A channel is held only where every question about it is answered; what no rule answers is told, never passed over."""

from __future__ import annotations

import json

import pytest

from isolint import app, types
from isolint.checking.judged import has_rule
from isolint.checking.rule import Rulebook
from isolint.parts import derive_channels, derive_groups
from isolint.reports import json as json_report
from isolint.reports import summary
from isolint.results import UNJUDGED, NetlistReport, Report
from isolint.rules import RULE_SET, RULES
from isolint.types.form.questions import FEEDBACK, IF_STATED
from tests.support import TODAY, judge

CHANNELS = [kind for kind in types.BY_NAME.values() if kind.switched]
OPTO = """* one coupler
V1 VCC GND 5
R1 VCC A 330
XU1 A GND OUT GNDB DEMO_X
R2 V2 OUT 10k
V2 V2 GNDB 5
"""


def of_head(kind: types.PartType) -> NetlistReport:
    """A board on which a part has a record of no more than its type and pins, and each pin a resistor to a supply."""
    pins = kind.pins.usual[0]
    groups, _ = derive_groups(pins, kind.name)
    input_pins = {pin for _, given, _ in derive_channels(pins, kind.name, groups) or () for pin in given}
    cards, nets = ["* head", "V1 VCC GNDA 5", "V2 V2 GNDB 24"], []
    for number, pin in enumerate(pins):
        own = pin in input_pins
        rail, ground = ("VCC", "GNDA") if own else ("V2", "GNDB")
        nets.append(f"N{number}")
        low = "cathode" in pin or "gnd" in pin or "emitter" in pin or "2" in pin
        cards.append(f"R{number} {ground if low else rail} N{number} {'1' if low else '330'}")
    cards.append(f"XU1 {' '.join(nets)} DEMO_X")
    record = f"[parts.DEMO_X]\ntype = {json.dumps(kind.name)}\npins = {json.dumps(pins)}\n"
    return judge("\n".join(cards) + "\n", 'parts = ["p.toml"]\n', TODAY, p__toml=record)


@pytest.mark.parametrize("kind", CHANNELS, ids=lambda kind: kind.name)
def test_no_channel_is_held_of_which_nothing_but_type_and_pins_is_stated(kind: types.PartType) -> None:
    answers = of_head(kind).coverage.answers
    assert answers and all(each.type == kind.name for each in answers)
    assert {each.state for each in answers} <= {"open", "failed"}


def test_every_question_of_a_type_is_a_rule_that_settings_may_name() -> None:
    asked = {slug for kind in types.BY_NAME.values() for slug in kind.questions}
    assert asked - set(RULE_SET) == set()
    assert set(IF_STATED) <= asked | set(FEEDBACK)


def test_every_type_that_isolates_lists_its_questions_and_an_ordinary_part_has_none() -> None:
    assert {kind.name for kind in types.BY_NAME.values() if kind.isolates and not kind.questions} == set()
    assert types.of("ordinary").questions == ()


@pytest.mark.parametrize("kind", CHANNELS, ids=lambda kind: kind.name)
def test_what_a_rule_of_a_channel_is_asked_of_stands_among_the_questions_of_the_type(kind: types.PartType) -> None:
    asked = {rule.slug for rule in RULES if rule.judge is not None and rule.asks(kind)}
    more = {"dead-time-short", "output-chopped", "slow-edge", "base-resistor-low", "transistor-miswired"}
    assert asked - set(kind.questions) <= {*FEEDBACK, *more}


def report_of(kind: str, pins: str, cards: str = OPTO, settings: str = "") -> NetlistReport:
    record = f'[parts.DEMO_X]\ntype = "{kind}"\npins = [{pins}]\n'
    return judge(cards, f'parts = ["p.toml"]\n{settings}', TODAY, p__toml=record)


def test_a_coupler_of_which_no_channel_is_made_is_no_clean_run() -> None:
    cards = OPTO + "XU2 A GND P1 GND GNDB P2 DEMO_X\nR4 V2 P2 10k\n"
    report = report_of("linear", '"anode", "cathode", "pdk1", "pda1", "pda2", "pdk2"', cards)
    (told,) = [result for result in report.results if result.role == UNJUDGED]
    assert told.kind == "open"
    assert told.message.endswith("of a linear yet (1 part)")


def test_a_type_whose_output_nothing_judges_gives_one_open_result_for_all_its_parts() -> None:
    more = OPTO + "R3 VCC A2 330\nXU2 A2 GND OUT2 GNDB DEMO_X\nR4 V2 OUT2 10k\n"
    report = report_of("photoresistor", '"anode", "cathode", "r1", "r2"', more)
    if has_rule(Rulebook(RULES), types.of("photoresistor"), "load-missing"):
        pytest.skip("its output is judged")
    (told,) = [result for result in report.results if result.role == UNJUDGED]
    assert (told.kind, told.rule, told.counts_as, told.missing) == ("open", "load-missing", "note", ())
    assert told.message.endswith("of a photoresistor yet (2 parts)")
    assert {each.state for each in report.coverage.answers} == {"open"}
    assert report.coverage.judged == report.coverage.held == 0
    assert "2 channels: 0 held, 0 failed, 2 open; not judged: XU1 load-missing and" in summary.line(
        report.results, (report,)
    )
    strict = app.Options(strict=True, today=TODAY.today)
    record = '[parts.DEMO_X]\ntype = "photoresistor"\npins = ["anode", "cathode", "r1", "r2"]\n'
    insisted = judge(OPTO, 'parts = ["p.toml"]\n', strict, p__toml=record)
    assert [result.counts_as for result in insisted.results if result.role == UNJUDGED] == ["error"]


def test_json_says_of_each_channel_what_was_answered_what_not_and_what_was_not_asked() -> None:
    report = report_of("phototransistor", '"anode", "cathode", "collector", "emitter"')
    document = json.loads(json_report.render(Report("0", (report,), ())))
    (coverage,) = document["coverage"]
    (answers,) = coverage["answers"]
    assert (answers["subject"], answers["state"]) == ("XU1", "open")
    assert "led-unlimited" in answers["answered"]
    assert "dark-current-high" in answers["unanswered"]
    assert {"slow-edge", "switching-too-slow"} <= set(answers["not_asked"])
    assert answers["without_rule"] == []


def test_a_channel_that_fails_in_a_note_only_is_not_failed() -> None:
    report = report_of("phototransistor", '"anode", "cathode", "collector", "emitter"')
    failing = report_of("phototransistor", '"anode", "cathode", "collector", "emitter"', OPTO.replace("330", "1"))
    noted = report_of(
        "phototransistor",
        '"anode", "cathode", "collector", "emitter"',
        OPTO.replace("330", "1"),
        '[levels]\nled-overdriven = "note"\nled-unlimited = "note"\nresistor-overloaded = "note"\n',
    )
    assert [each.coverage.answers[0].state for each in (report, failing, noted)] == ["open", "failed", "open"]

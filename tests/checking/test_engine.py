"""Rules run in their order, one fault gives one result, and nothing that a rule does stops the others."""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest

from isolint import app
from isolint.checking.context import Context
from isolint.checking.engine import run, running_order
from isolint.checking.rule import Rule
from isolint.errors import SettingsError
from isolint.interfaces.entities import Channel
from isolint.results import Level, Measure, Report, Result
from isolint.rules import RULES
from tests.checking.boards import FACTS, SECOND, SOUND, WITH_PARTS, context_of, core, kinds, one, told
from tests.support import judge

BY_SLUG = {rule.slug: rule for rule in RULES}


def test_the_sound_board_has_no_fault_and_nothing_open() -> None:
    assert told(core(SOUND + SECOND)) == []


# -- one fault, one result ------------------------------------------------------------------------------------------

FAULTS = {
    "no resistor at all": ("R1 DRIVE A 470", "R1 DRIVE A 0", "led-unlimited"),
    "a hundredth of the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 4.7", "led-unlimited"),
    "a tenth of the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 47", "led-overdriven"),
    "a fifth of the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 100", "drive-headroom-low"),
    "half the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 220", "drive-headroom-low"),
    "ten times the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 4.7k", "transfer-margin-low"),
    "a hundred times the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 47k", "transfer-margin-low"),
    "ten thousand times the resistor": ("R1 DRIVE A 470", "R1 DRIVE A 4.7Meg", "transfer-margin-low"),
    "LED turned round": ("XU1 A GND GNDB", "XU1 GND A GNDB", "led-reversed"),
    "LED shorted": ("XU1 A GND GNDB", "XU1 A A GNDB", "transfer-margin-low"),
    "no pull-up": ("R2 VB OUT 10k", "R2 VB GNDB 10k", "load-missing"),
    "a tenth of the pull-up": ("R2 VB OUT 10k", "R2 VB OUT 1k", "transfer-margin-low"),
    "a hundredth of the pull-up": ("R2 VB OUT 10k", "R2 VB OUT 100", "transfer-margin-low"),
    "pull-up on the other side's supply": ("R2 VB OUT 10k", "R2 V5 OUT 10k", "supply-shared"),
    "emitter on the other side's ground": ("GND GNDB OUT", "GND GND OUT", "ground-tie"),
    "collector and emitter exchanged": ("GNDB OUT DEMO", "OUT GNDB DEMO", "output-level-invalid"),
    "output on its own ground": ("GNDB OUT DEMO", "GNDB GNDB DEMO", "load-missing"),
    "a wire between the grounds": (".end", "R9 GND GNDB 0", "ground-tie"),
    "a resistor across": (".end", "R9 A OUT 4.7k", "bridge-conducting"),
    "a diode across": (".end", ".model DX D\nD9 A OUT DX", "bridge-conducting"),
    "resistors that join only together": (".end", "R9 A OUT 1.5Meg\nR8 A OUT 1.5Meg", "bridge-conducting"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_one_fault_gives_one_result(fault: str) -> None:
    before, after, rule = FAULTS[fault]
    board = f"{SOUND}.end\n"
    assert board.count(before) == 1
    assert [(found, kind) for found, kind, _ in told(core(board.replace(before, after)))] == [(rule, "fail")]


def test_a_fault_of_one_channel_leaves_the_other_alone() -> None:
    results = core(SOUND.replace("470", "47") + SECOND)
    assert told(results) == [("led-overdriven", "fail", "XU1")]
    assert [result.kind for result in results if result.subject == "XU2" and result.rule == "transfer-margin-low"] == [
        "pass"
    ]


def test_two_channels_with_the_same_fault_give_a_result_each_and_a_joint_gives_one_for_all() -> None:
    assert told(core((SOUND + SECOND).replace("470", "47"))) == [
        ("led-overdriven", "fail", "XU1"),
        ("led-overdriven", "fail", "XU2"),
    ]
    (joint,) = [result for result in core(SOUND + SECOND + "R9 GND GNDB 0\n") if result.kind == "fail"]
    assert joint.rule == "ground-tie"
    assert "concerns XU1, XU2" in joint.message


def test_two_outputs_in_one_loop_are_one_fault() -> None:
    loop = SOUND.replace("R1 DRIVE A 470", "R1 DRIVE1 A 220").replace("A GND GNDB", "A DRIVE2 GNDB")
    results = core(loop)
    assert told(results) == [("drive-headroom-low", "fail", "XU1")]
    (other,) = [result for result in results if result.rule == "drive-headroom-low" and result.kind == "notApplicable"]
    assert other.blocked_by == "drive-headroom-low"


def test_a_starved_transistor_is_the_fault_and_not_what_follows_from_it() -> None:
    board = (
        SOUND.replace("A GND GNDB", "A K GNDB").replace("R1 DRIVE", "R1 V5")
        + "Q1 K B GND QSW\nR3 DRIVE B 470k\n.model QSW NPN(BF=250)\n"
    )
    results = core(board)
    assert told(results) == [("drive-headroom-low", "fail", "XU1")]
    assert one(results, "transfer-margin-low").blocked_by == "drive-headroom-low"
    assert one(results, "drive-headroom-low", "fail").where.line == 6


# -- blocking -------------------------------------------------------------------------------------------------------


def test_a_blocked_rule_is_not_applicable_and_names_what_blocks_it() -> None:
    results = core(SOUND.replace("R1 DRIVE A 470", "R1 DRIVE A 0"))
    for rule in ("led-reversed", "led-overdriven", "led-underdriven", "drive-headroom-low", "transfer-margin-low"):
        blocked = one(results, rule)
        assert (blocked.kind, blocked.level, blocked.blocked_by) == ("notApplicable", "none", "led-unlimited")
        assert "led-unlimited" in blocked.message
    assert kinds(results, "output-level-invalid") == ["pass"]


def test_rules_run_behind_what_blocks_them_and_else_in_their_own_order() -> None:
    order = [rule.slug for rule in running_order(RULES)]
    assert sorted(order) == sorted(rule.slug for rule in RULES)
    for earlier, later in (
        ("pins-mismatched", "led-unlimited"),
        ("led-unlimited", "led-reversed"),
        ("led-reversed", "led-overdriven"),
        ("output-level-invalid", "transfer-margin-low"),
        ("load-missing", "output-level-invalid"),
        ("ground-tie", "supply-shared"),
    ):
        assert order.index(earlier) < order.index(later)


def test_of_two_rules_that_can_block_each_other_the_one_listed_first_runs_first() -> None:
    one_, two = (
        Rule(slug, "drive", "error", "A rule.", needs=("drive",), blocks=("drive",)) for slug in ("one", "two")
    )
    behind = Rule("behind", "drive", "error", "A rule.", needs=("drive",))
    assert [rule.slug for rule in running_order((behind, one_, two))] == ["one", "two", "behind"]
    assert [rule.slug for rule in running_order((two, behind, one_))] == ["two", "one", "behind"]


def test_drive_and_load_that_a_joint_runs_through_are_not_judged() -> None:
    results = core(SOUND + "R9 A OUT 4.7k\n")
    assert {
        one(results, rule).blocked_by for rule in ("led-overdriven", "drive-headroom-low", "output-level-invalid")
    } == {"bridge-conducting"}
    tied = core(SOUND + "R9 GND GNDB 0\n")
    assert one(tied, "led-overdriven").kind == "pass"


def test_while_sides_meet_the_other_separation_rules_do_not_pass() -> None:
    results = core(SOUND + "R9 A OUT 4.7k\n")
    assert [one(results, rule).blocked_by for rule in ("ground-tie", "supply-shared")] == ["bridge-conducting"] * 2
    unknown = core(SOUND + "X9 V5 GND VB GNDB MYSTERY\n")
    assert [one(unknown, rule).blocked_by for rule in ("ground-tie", "supply-shared", "bridge-conducting")] == [
        "part-unknown"
    ] * 3


def test_what_claims_to_be_blocked_by_a_rule_that_does_not_stand_is_open() -> None:
    def blame(context: Context, channel: Channel) -> Iterable[Result]:
        yield context.channel_result(rule, channel, "notApplicable", "blames another", blocked_by="led-unlimited")

    rule = Rule("blaming", "drive", "error", "A rule that blames another.", judge=blame)
    assert [
        result.kind for result in run(context_of(SOUND), [BY_SLUG["led-unlimited"], rule]) if result.rule == "blaming"
    ] == ["open"]
    bad = context_of(SOUND.replace("470", "0"))
    assert [result.kind for result in run(bad, [BY_SLUG["led-unlimited"], rule]) if result.rule == "blaming"] == [
        "notApplicable"
    ]


def test_a_fault_that_channels_share_is_said_once_and_stays_no_pass_for_the_others() -> None:
    def judge_(context: Context, channel: Channel) -> Iterable[Result]:
        if channel.subject == "XU1":
            yield context.channel_result(shared, channel, "fail", "shared", measure=Measure.number_of(2))
        else:
            yield context.channel_result(shared, channel, "notApplicable", "shared with XU1", blocked_by="sharing")

    shared = Rule("sharing", "drive", "error", "A fault that channels share.", judge=judge_, blocks=("drive",))
    results = run(context_of(SOUND + SECOND), [shared, BY_SLUG["led-overdriven"]])
    assert told(results) == [("sharing", "fail", "XU1")]
    assert [result.blocked_by for result in results if result.rule == "led-overdriven"] == ["sharing", "sharing"]


# -- a rule that raises ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "error", [ZeroDivisionError("x"), KeyError("x"), RecursionError("x"), AssertionError("x"), AttributeError("x")]
)
def test_a_rule_that_raises_becomes_a_result_and_the_others_go_on(error: Exception) -> None:
    def judge_(context: Context, channel: Channel) -> Iterable[Result]:
        yield context.channel_result(broken, channel, "pass", "said before", role="first")
        raise error

    def survey(context: Context) -> Iterable[Result]:
        raise error

    broken = Rule("breaking", "drive", "error", "A rule that raises.", judge=judge_)
    surveying = Rule("surveying", "barrier", "error", "A rule that raises.", survey=survey)
    results = run(context_of(SOUND), [broken, surveying, *(rule for rule in RULES if rule.slug == "led-overdriven")])
    assert [(result.kind, result.role) for result in results if result.rule == "breaking"] == [
        ("pass", "first"),
        ("open", "internal"),
    ]
    assert [(result.kind, result.counts_as) for result in results if result.rule == "surveying"] == [("open", "error")]
    assert kinds(results, "led-overdriven") == ["pass"]
    assert "please report it" in one(results, "surveying").message


# -- levels, opens, exit status ---------------------------------------------------------------------------------------


def status(netlist: str, facts: str, strict: bool = False) -> int:
    """The exit status of a check of a netlist in memory."""
    results = core(netlist, facts, strict)
    report = judge(SOUND, FACTS)
    fail_on: Level = "warning" if 'fail_on = "warning"' in facts else "note" if 'fail_on = "note"' in facts else "error"
    return Report("0", (report._replace(results=results, fail_on=None),), (), fail_on).exit_status


def test_settings_choose_the_level_of_a_rule() -> None:
    board = SOUND + "R9 GND GNDB 0\n"
    assert one(core(board), "ground-tie").level == "error"
    assert one(core(board, f'{FACTS}[levels]\nground-tie = "note"\n'), "ground-tie").level == "note"
    with pytest.raises(SettingsError, match="ground-tie"):
        core(board, f'{FACTS}[levels]\nground-ti = "note"\n')


def test_settings_never_make_a_result_worse_that_is_milder_by_itself() -> None:
    functional = FACTS.replace('"basic"', '"functional"')
    board = SOUND + "R9 GND GNDB 0\n"
    assert one(core(board, functional), "ground-tie").level == "note"
    assert one(core(board, f'{functional}[levels]\nground-tie = "warning"\n'), "ground-tie").level == "note"


def test_open_results_count_by_default_as_error_at_barriers_and_as_note_elsewhere() -> None:
    unknown = SOUND + "X9 V5 GND VB GNDB MYSTERY\n"
    unread = SOUND.replace("OUT", "N1")
    assert one(core(unknown), "part-unknown").counts_as == "error"
    assert one(core(unread), "transfer-margin-low", "open").counts_as == "note"
    assert (status(unknown, FACTS), status(unread, FACTS)) == (1, 0)


def test_settings_and_strict_say_how_open_results_count() -> None:
    unread, unknown = SOUND.replace("OUT", "N1"), SOUND + "X9 V5 GND VB GNDB MYSTERY\n"
    assert status(unread, f'open = "error"\n{FACTS}') == 1
    assert status(unknown, f'open = "none"\n{FACTS}') == 0
    assert status(unread, f'open = "warning"\nfail_on = "warning"\n{FACTS}') == 1
    assert status(unread, FACTS, strict=True) == 1
    assert status(unknown, f'open = "none"\n{FACTS}', strict=True) == 1
    assert {result.level for result in core(unread, FACTS, strict=True) if result.kind == "open"} == {"none"}


def test_a_netlist_in_which_no_channel_could_be_judged_counts_none() -> None:
    unread = SOUND.replace("OUT", "N1").replace("DRIVE", "N2") + "X5 V5 GND N2 CONTROLLER\n"
    assert judge(unread, FACTS).coverage.judged == 0
    assert judge(SOUND, FACTS).coverage.judged == 1
    assert judge(SOUND.replace("470", "0"), FACTS).coverage.judged == 1


def test_behind_a_connector_the_line_is_asked_for_whatever_else_touches_its_net() -> None:
    board = SOUND.replace("DRIVE", "N2") + "X5 V5 GND N2 CONTROLLER\n"
    for cards, asked in (("", "outputs"), ("XJ1 N2 GND CONN\n", "lines")):
        missing = [fact.key for result in core(board + cards, FACTS) for fact in result.missing]
        assert {key.partition(".")[0] for key in missing if "N2" in key} == {asked}


def test_a_channel_that_waits_for_the_fact_another_asks_for_is_open_and_not_held() -> None:
    coverage = judge(
        (SOUND + SECOND.replace("DRIVE2", "DRIVE")).replace("DRIVE", "N2") + "X5 V5 GND N2 CONTROLLER\n", FACTS
    ).coverage
    assert (coverage.channels, coverage.held, coverage.failed, coverage.open) == (2, 0, 0, 2)
    sound = judge(SOUND + SECOND, FACTS).coverage
    assert (sound.held, sound.failed, sound.open) == (2, 0, 0)
    failed = judge((SOUND + SECOND).replace("R1 DRIVE A 470", "R1 DRIVE A 0"), FACTS).coverage
    assert (failed.held, failed.failed, failed.open) == (1, 1, 0)


# -- bytes ------------------------------------------------------------------------------------------------------------


def test_same_input_gives_same_results_in_one_order() -> None:
    board = (SOUND + SECOND).replace("470", "47") + "R9 GND GNDB 0\n"
    first, again = core(board), core(board)
    assert first == again
    assert list(first) == sorted(first, key=lambda result: result.sort_key)


def test_order_of_facts_and_parts_does_not_matter() -> None:
    turned = "".join(re.split(r"(?m)^(?=\[)", FACTS)[::-1])
    assert turned != FACTS
    board = SOUND.replace("470", "47")
    assert core(board, turned) == core(board)


def test_every_message_names_who_it_is_about_and_every_failure_has_a_cure() -> None:
    for before, after, rule in FAULTS.values():
        results = core(f"{SOUND}.end\n".replace(before, after))
        failed = one(results, rule, "fail")
        assert failed.remedy
        assert failed.related, rule
        assert any(name in failed.message for name in ("XU1", "logic", "GND"))
        assert any(char.isdigit() for char in failed.message.replace("XU1", ""))


def test_passes_show_their_number() -> None:
    for result in core(SOUND, WITH_PARTS):
        if result.kind == "pass" and BY_SLUG[result.rule].group in ("drive", "load") and result.rule != "load-missing":
            assert result.evidence, result.rule
            assert any(char.isdigit() for char in result.message.replace("XU1", ""))


def test_strict_is_an_option_of_the_use_case() -> None:
    report = judge(SOUND.replace("OUT", "N1"), FACTS, app.Options(strict=True))
    assert {result.counts_as for result in report.results if result.kind == "open"} == {"error"}


def test_two_patterns_that_tie_are_a_mistake_of_the_settings_and_no_failure_of_a_rule() -> None:
    tied = FACTS + '[elements."R1*"]\nvoltage = "50 V"\n[elements."R*1"]\nvoltage = "60 V"\n'
    with pytest.raises(SettingsError, match="both match R11 equally well"):
        core(SOUND.replace("R1 ", "R11 "), tied)

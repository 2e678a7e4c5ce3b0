from __future__ import annotations

import pytest

from isolint.errors import Place
from isolint.reports import text
from isolint.reports.safety import CAUTION
from isolint.results import Assumption, BarrierRecord, Coverage, Evidence, Limit, Related, Result, RuleRecord
from tests.reports.sample import BOARD, OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, hostile, of

WHOLE = f"""\
board.cir:12:1: error: XU1: the LED gets 0.82 mA at worst (V3V3 -5 %, -20 degC) and needs 1 mA [led-underdriven]
    LED current IF: min 0.82 mA, nominal 1.1 mA, max 1.5 mA; at least 1 mA
      IF = (V3V3 - VF) / R4 = (3.135 V - 1.3 V) / 2.23 kohm = 0.82 mA
      min at V3V3 -5 %, -20 degC
      source: DEMO_PT1
    margin: 0.82, required 1
    assumed: tolerance of V3V3 = 5 % (class default); the verdict flips at 2 %
    chain: board.cir:3:1: XU1, the coupler
    cure: R4 (board.cir:12): 1.8 kohm or less
board.cir:20:1: open: XU2: the supply of net DRIVE is not known [led-unlimited]
    missing: isolint.toml: outputs."DRIVE".supply
      write: [outputs."DRIVE"]
             supply = "V3V3"

board.cir: ground-tie at board.cir:30:1 waived until 2027-06-30 by hardware lead: bench fixture only
board.cir: simulation only, left out: VCM1
board.cir: not understood: 3 encrypted model
board.cir: 1 failure, 1 open, 1 waived; 2 channels: 1 held, 1 failed, 0 open; 4 of 5 parts explained; 97 % of cards read
caution: {CAUTION}
"""


def test_the_whole_text_of_a_small_board() -> None:
    assert text.render(REPORT) == WHOLE


def test_passes_are_shown_on_request_with_one_line_of_evidence() -> None:
    assert text.render(of(PASS), passes=True).startswith(
        "board.cir:3:1: pass: XU1: R4 limits the LED's current [led-unlimited]\n"
        "    LED current IF: max 1.5 mA; at most 500 mA\n\n"
    )
    assert "pass" not in text.render(of(PASS))


def test_a_clean_run_says_why_it_is_silent() -> None:
    assert text.render(of(PASS)) == (
        "board.cir: 0 failures, 0 open, 0 waived; 2 channels: 2 held, 0 failed, 0 open; 2 of 2 parts explained; "
        "100 % of cards read\n"
    )


def test_a_netlist_in_which_nothing_could_be_judged_says_so_first() -> None:
    none = text.render(of(OPEN, coverage=Coverage(10, 10, {}, 2, 0)))
    assert none.startswith("board.cir: no channel could be judged: 2 channels found")
    empty = text.render(of(coverage=Coverage(7, 7), couplers=()))
    assert empty.startswith("board.cir: no channel could be judged: no coupler was recognised among 7 cards\n")


def test_barrier_parts_without_a_channel_are_not_said_to_be_missing() -> None:
    barriers = (BarrierRecord(("field", "logic"), {}, ("XU1", "XPS1"), (), False),)
    shown = text.render(
        REPORT._replace(netlists=(BOARD._replace(barriers=barriers, couplers=(), results=(), coverage=Coverage(7, 7)),))
    )
    told, _, _ = shown.partition("\n")
    assert told == "board.cir: no channel could be judged: of 2 barrier parts none has a channel with an output"


def test_one_card_in_a_thousand_keeps_the_share_below_a_hundred_percent() -> None:
    assert "; 99 % of cards read\n" in text.render(of(coverage=Coverage(1000, 999, {}, 1, 1)))


def test_warnings_and_notes_are_told_apart_in_the_count() -> None:
    warning = UNDERDRIVEN._replace(level="warning")
    assert "2 failures (1 error, 1 warning), 0 open" in text.render(of(UNDERDRIVEN, warning))


def test_several_netlists_end_in_one_line_for_all() -> None:
    other = BOARD._replace(netlist="other.cir", results=(UNDERDRIVEN._replace(netlist="other.cir"),))
    lines = text.render(REPORT._replace(netlists=(BOARD, other))).splitlines()
    assert (
        "2 netlists: 2 failures, 1 open, 1 waived; 4 channels: 2 held, 2 failed, 0 open; 8 of 10 parts explained; "
        "97 % of cards read"
    ) in lines


def test_a_failure_that_a_baseline_holds_is_counted_and_not_printed() -> None:
    known = UNDERDRIVEN._replace(baseline_state="unchanged")
    shown = text.render(of(known))
    assert shown.startswith("board.cir: 0 failures, 0 open, 0 waived, 1 in the baseline;")


def test_errors_are_mentioned_in_the_summary() -> None:
    report = REPORT._replace(errors=("missing.cir: there is no such file",))
    assert "not done: 1 error (see standard error)\n" in text.render(report)
    assert "missing.cir" not in text.render(report)


def test_a_run_without_any_netlist_does_not_look_clean() -> None:
    report = REPORT._replace(netlists=(), errors=("missing.cir: there is no such file",))
    assert text.render(report) == "no netlist was checked\nnot done: 1 error (see standard error)\n"


def test_only_the_end_that_the_limit_binds_shows_its_corner() -> None:
    corners = {"min": "cold", "max": "hot"}
    at_most = Evidence("current", "I", "A", min=1.0, max=2.0, limit=Limit("at_most", 1.5), corners=corners)
    shown = text.render(of(UNDERDRIVEN._replace(evidence=(at_most,))))
    assert "max at hot" in shown
    assert "min at cold" not in shown
    shown = text.render(of(UNDERDRIVEN._replace(evidence=(at_most._replace(limit=None),))))
    assert "max at hot" in shown
    assert "min at cold" in shown


def test_the_caution_stands_wherever_insulation_is_spoken_of() -> None:
    assert CAUTION in text.render(REPORT)
    assert CAUTION not in text.render(of(UNDERDRIVEN))
    assert CAUTION in text.render(of(WAIVED)), "a verdict of the barrier group speaks of insulation"


def test_text_from_a_netlist_reaches_the_terminal_harmless_wherever_it_stands() -> None:
    evil = "\x1b]0;x\x07\u202e\nR1"
    poisoned = UNDERDRIVEN._replace(
        message=evil,
        where=Place(evil, 1, 1),
        related=(Related(Place(evil, 1, 1), evil),),
        evidence=(
            UNDERDRIVEN.evidence[0]._replace(name=evil, symbol=evil, formula=evil, source=evil, corners={"min": evil}),
        ),
        assumptions=(UNDERDRIVEN.assumptions[0]._replace(name=evil, value=evil, origin=evil),),
        missing=(OPEN.missing[0]._replace(file=evil, key=evil, example=evil),),
        remedy=evil,
    )
    waiver = WAIVED.suppression._replace(justification=evil, by=evil, until=evil) if WAIVED.suppression else None
    report = of(
        poisoned,
        WAIVED._replace(suppression=waiver, where=Place(evil, 1, 1)),
        netlist=evil,
        notes=(evil,),
        coverage=Coverage(2, 1, {evil: 1}, 1, 1),
    )
    report = report._replace(rules=(RuleRecord("x", "barrier", "error", evil, evil),))
    shown = text.render(report, passes=True)
    assert "\x1b" not in shown
    assert "\x07" not in shown
    assert "\u202e" not in shown
    starts = [line for line in shown.splitlines() if line.startswith("R1")]
    assert starts == [], "a name must not begin a line of its own"


def test_a_stale_entry_of_a_baseline_is_told_with_its_line() -> None:
    gone = Result("board.cir", "led-unlimited", "notApplicable", "none", "XU1: is in the baseline and no longer found",
                  Place("isolint-baseline.toml", 4), "XU1", baseline_state="absent")  # fmt: skip
    lines = text.render(of(gone)).splitlines()
    assert lines[0] == "isolint-baseline.toml:4:1: led-unlimited XU1: is in the baseline and no longer found"
    assert lines[1].startswith("board.cir: 0 failures, 0 open, 0 waived, 0 in the baseline, 1 stale there;")


def test_no_line_of_the_text_is_a_command_to_a_ci_service() -> None:
    for name in ("::error::x", "##[error]x", "##vso[task.complete]x"):
        for line in text.render(hostile(name)).splitlines():
            assert not line.lstrip().startswith("::")
            assert "##[" not in line and "##vso[" not in line


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [("5 V/us to 500 V/us", "V/s", "5 V/us to 500 V/us"), ("5", "%", "5 %"), ("0.2 to 0.4", "V", "0.2 to 0.4 V")],
)
def test_an_assumption_is_shown_with_one_unit(value: str, unit: str, shown: str) -> None:
    result = UNDERDRIVEN._replace(assumptions=(Assumption("slew rate", value, unit, "default", None),))
    assert f"assumed: slew rate = {shown} (default)" in text.render(of(result))

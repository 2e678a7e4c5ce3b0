"""Every failure says how bad it is, joints are known by their elements, and a baseline accepts nothing worse."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from isolint import app, source
from isolint.checking.baselines import Baseline, KnownFailure, entry, match, read, text
from isolint.errors import Place
from isolint.preparing import prepare
from isolint.results import Margin, Measure, Result
from isolint.rules import RULES
from tests.checking.boards import FACTS, SOUND, core
from tests.conftest import REPOSITORY
from tests.support import judge_file

BOARDS = sorted((REPOSITORY / "fixtures/boards").glob("*/broken/board.cir"))


def joints(more: str) -> list[Result]:
    return [each for each in core(SOUND + more, FACTS) if each.kind == "fail" and each.members]


def state(before: str, after: str) -> list[tuple[str, str | None]]:
    """The joints of a board after a change, each with its state against a baseline from before."""
    made = [known for result in joints(before) if (known := entry(result, "board.cir")) is not None]
    held = read(text(made).encode(), "isolint-baseline.toml")
    found = match(joints(after), [held], "board.cir", lambda path: True).results
    return sorted((", ".join(result.members), result.baseline_state) for result in found)


@pytest.mark.parametrize("path", BOARDS, ids=lambda path: path.parent.parent.name)
def test_every_failure_of_the_boards_has_a_measure_and_an_entry_that_compares_it(path: Path) -> None:
    found = [result for result in judge_file(path.parent, path).results if result.kind == "fail"]
    assert found
    for result in found:
        assert result.measure is not None, result.message
        assert not math.isnan(result.measure.value)
        made = entry(result, "board.cir")
        assert made is None or (made.margin is None) != (made.measure is None), result.message


def test_a_joint_that_got_lower_is_worse() -> None:
    tie = "R9 {} GNDB {}\n".format
    assert state(tie("GND", "4.7k"), tie("GND", "4.7k")) == [("R9", "unchanged")]
    assert state(tie("GND", "4.7k"), tie("GND", "11")) == [("R9", "updated")]
    assert state(tie("GND", "4.7k"), tie("GND", "10k")) == [("R9", "unchanged")]
    assert state(tie("GND", "11"), tie("GND", "0")) == [("R9", "new")], "it is a ground tie now"
    assert state(tie("GND", "0"), tie("GND", "0")) == [("R9", "unchanged")]


@pytest.mark.parametrize("ohms", ["0", "100"])
def test_a_second_tie_and_another_element_in_its_place_are_new(ohms: str) -> None:
    one, second = f"R9 GND GNDB {ohms}\n", f"R10 GND GNDB {ohms}\n"
    assert state(one, one + second) == [("R10", "new"), ("R9", "unchanged")]
    assert state(one, second) == [("R10", "new")]
    assert state(one + second, one) == [("R9", "unchanged")]


def test_each_independent_joint_is_a_result_and_what_joins_only_together_is_one() -> None:
    assert [result.members for result in joints("R9 GND GNDB 0\nR10 GND GNDB 4.7k\n")] == [("R9",), ("R10",)]
    assert [result.rule for result in joints("R9 GND GNDB 0\nR10 GND GNDB 4.7k\n")] == [
        "ground-tie",
        "bridge-conducting",
    ]
    high = "R20 GND GNDB 1.5Meg\nR21 GND GNDB 1.5Meg\n"
    assert [result.members for result in joints(high)] == [("R20", "R21")]
    assert sorted(result.members for result in joints("R9 GND GNDB 100\n" + high)) == [("R20", "R21"), ("R9",)]
    assert state(high, "R9 GND GNDB 100\n" + high) == [("R20, R21", "unchanged"), ("R9", "new")]
    assert joints("R20 GND GNDB 1.5Meg\n") == []


def test_a_waiver_of_one_tie_does_not_accept_another_one() -> None:
    facts = (
        f'{FACTS}[[waivers]]\nrule = "ground-tie"\nwhere = "R9"\nreason = "star point"\nby = "hardware lead"\n'
        "until = 2027-06-30\n"
    )
    found = core(SOUND + "R9 GND GNDB 0\nR10 GND GNDB 0\n", facts)
    ties = {result.members: result.suppression is not None for result in found if result.rule == "ground-tie"}
    assert ties == {("R9",): True, ("R10",): False}


def result(**changes: object) -> Result:
    made = Result("b.cir", "x", "fail", "error", "it fails", Place("b.cir"), "XU1")
    return made._replace(**changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("folder", "slug", "measure"),
    [
        ("bridge-capacitor", "bridge-capacitor", Measure(0.0, False)),
        ("channels-mixed-sides", "channels-mixed-sides", Measure(2.0, True)),
        ("leds-share-resistor", "leds-share-resistor", Measure(2.0, True)),
        ("load-missing", "load-missing", Measure(0.0, False)),
        ("side-unpowered", "side-unpowered", Measure(1.0, True)),
        ("coil-clamp-missing", "coil-clamp-missing", Measure(1.0, True)),
        ("pins-mismatched", "pins-mismatched", Measure(1.0, True)),
    ],
)
def test_what_has_no_margin_says_how_bad_it_is(folder: str, slug: str, measure: Measure) -> None:
    path = REPOSITORY / "fixtures/rules" / folder / "fails.cir"
    report = judge_file(REPOSITORY / "fixtures", path)
    found = [each for each in report.results if each.rule == slug and each.kind == "fail"]
    assert found[0].measure == measure


def test_a_failure_that_does_not_say_how_bad_it_is_is_refused() -> None:
    context, _ = prepare(source.MemoryTree({"board.cir": SOUND}), "board.cir", "")
    rule, place = RULES[0], Place("board.cir")
    with pytest.raises(ValueError, match="does not say how bad it is"):
        context.result(rule, "fail", "it fails", place, "XU1")
    assert context.result(rule, "fail", "it fails", place, "XU1", margin=Margin(0.5, 1.0)).measure == Measure(
        0.5, False
    )
    assert context.result(rule, "pass", "it holds", place, "XU1", margin=Margin(1.5, 1.0)).measure is None


def test_an_entry_that_does_not_say_how_bad_it_was_accepts_nothing_and_names_the_cure() -> None:
    known = result(measure=Measure(2.0, True))
    old = KnownFailure("b.cir", "x", "XU1", known.fingerprint, "error")
    found = match([known], [Baseline("isolint-baseline.toml", (old,))], "b.cir", lambda path: True)
    assert found.results[0].baseline_state == "updated"
    assert "accepts nothing (isolint baseline write renews it)" in found.results[0].message
    assert found.stale == ()
    renewed = entry(known, "b.cir")
    assert renewed is not None
    assert (renewed.measure, renewed.worse) == (2.0, "more")
    again = match([known], [Baseline("isolint-baseline.toml", (renewed,))], "b.cir", lambda path: True)
    assert again.results[0].baseline_state == "unchanged"
    worse = match([result(measure=Measure(2.1, True))], [Baseline("isolint-baseline.toml", (renewed,))], "b.cir", bool)
    assert worse.results[0].baseline_state == "updated"


def test_a_joint_of_no_resistance_can_be_held() -> None:
    made = [known for each in joints("R9 GND GNDB 0\n") if (known := entry(each, "board.cir")) is not None]
    assert [held.measure for held in made] == [0.0]
    assert [held._replace(line=0) for held in read(text(made).encode(), "x.toml").entries] == made


# -- boards that are moved and copied --------------------------------------------------------------------------------

TIED = f"{SOUND}R9 GND GNDB 0\n"


def states(files: dict[str, str], netlist: str, untracked: frozenset[str] = frozenset()) -> tuple[str | None, str]:
    """The state of a netlist's tie and the notes about it, against a baseline that was written for old/board.cir."""
    held = [known for each in joints("R9 GND GNDB 0\n") if (known := entry(each, "old/board.cir")) is not None]
    tree = source.MemoryTree({"isolint.toml": FACTS, "isolint-baseline.toml": text(held), **files})
    report = app.check_in(tree, netlist, "", app.Options(untracked=untracked))[0]
    (tie,) = [found for found in report.results if found.rule == "ground-tie"]
    return tie.baseline_state, "; ".join(report.notes)


def test_a_board_that_was_moved_keeps_its_entries_and_that_is_told() -> None:
    kept, notes = states({"new/board.cir": TIED}, "new/board.cir")
    assert kept == "unchanged"
    assert "taken for old/board.cir of the baseline, which is gone" in notes


def test_a_copy_inherits_nothing_while_the_original_stands() -> None:
    files = {"old/board.cir": TIED, "new/board.cir": TIED}
    assert states(files, "new/board.cir")[0] == "new"
    assert states(files, "old/board.cir")[0] == "unchanged"


def test_of_two_copies_of_a_board_that_is_gone_none_inherits_and_both_are_told() -> None:
    files = {"new/board.cir": TIED, "more/copy.cir": TIED + "R99 OUT GNDB 1Meg\n"}
    for netlist, other in (("new/board.cir", "more/copy.cir"), ("more/copy.cir", "new/board.cir")):
        kept, notes = states(files, netlist)
        assert kept == "new"
        assert f"{other} may be that board too" in notes


def test_another_board_beside_the_moved_one_is_no_rival() -> None:
    files = {"new/board.cir": TIED, "other/board.cir": "* another, invented\nR1 A B 1k\nR2 B 0 1k\n"}
    assert states(files, "new/board.cir")[0] == "unchanged"


def test_a_baseline_that_nobody_else_has_accepts_nothing() -> None:
    kept, notes = states({"old/board.cir": TIED}, "old/board.cir", frozenset({"isolint-baseline.toml"}))
    assert kept is None
    assert "isolint-baseline.toml accepts nothing: git does not track it (git add it)" in notes

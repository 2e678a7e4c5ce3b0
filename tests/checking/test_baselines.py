"""Old failures: what a baseline accepts, what it does not, and how its file stays the same."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Callable
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isolint import acceptance, app, project
from isolint.checking import baselines
from isolint.checking.baselines import Baseline, entry, match, read, text
from isolint.errors import Place, SettingsError
from isolint.results import Margin, Measure, NetlistReport, Report, Result, Suppression
from isolint.source import MemoryTree
from tests.reports.names import hostile

NAME = "boards/board.cir"


def failure(subject: str = "XU1", rule: str = "led-underdriven", **changes: object) -> Result:
    made = Result(NAME, rule, "fail", "error", f"{subject} fails", Place(NAME, 3), subject, margin=Margin(0.5, 1.0))
    return made._replace(**changes)  # type: ignore[arg-type]


def unknown(subject: str = "XU1", rule: str = "led-underdriven", **changes: object) -> Result:
    made = Result(NAME, rule, "open", "none", f"{subject} is not judged", Place(NAME, 3), subject, counts_as="error")
    return made._replace(**changes)  # type: ignore[arg-type]


def held(*results: Result, netlist: str = "board.cir") -> Baseline:
    """A baseline in the folder of the board that accepts these results, as it reads from its own file."""
    made = [found for result in results if (found := entry(result, netlist)) is not None]
    return read(text(made).encode(), "boards/isolint-baseline.toml")


def states(results: list[Result], *baselines: Baseline, gone: tuple[str, ...] = ()) -> list[str | None]:
    found = match(results, baselines, NAME, lambda path: path not in gone)
    return [result.baseline_state for result in found.results]


def counted(result: Result) -> str:
    return Report("0", (), ()).counted_level(result)


def test_what_it_holds_does_not_count_and_what_it_does_not_hold_is_new() -> None:
    found = match([failure("XU1"), failure("XU2")], [held(failure("XU1"))], NAME, lambda path: True).results
    assert [(result.baseline_state, counted(result)) for result in found] == [("unchanged", "none"), ("new", "error")]


def test_passes_have_no_state() -> None:
    passed = failure(kind="pass", level="none")
    assert states([passed], held(failure())) == [None]


@pytest.mark.parametrize(
    ("before", "now", "state"),
    [
        (0.5, 0.5, "unchanged"),
        (0.5, 0.491, "unchanged"),
        (0.5, 0.489, "updated"),
        (0.5, 0.9, "unchanged"),
        (-0.5, -0.505, "unchanged"),
        (-0.5, -0.52, "updated"),
        (123.456, 120.5, "updated"),
        (1234.5, 1230.0, "unchanged"),
        (float("inf"), 0.1, "updated"),
        (float("-inf"), float("-inf"), "unchanged"),
        (0.5, float("-inf"), "updated"),
    ],
)
def test_a_margin_that_fell_by_more_than_two_per_cent_counts_again(before: float, now: float, state: str) -> None:
    old, new = failure(margin=Margin(before, 1.0)), failure(margin=Margin(now, 1.0))
    (result,) = match([new], [held(old)], NAME, lambda path: True).results
    assert result.baseline_state == state
    assert ("worse than in the baseline: margin" in result.message) == (state == "updated")
    assert counted(result) == ("error" if state == "updated" else "none")


def test_an_open_result_has_no_baseline_and_what_an_old_file_holds_of_one_accepts_nothing() -> None:
    assert entry(unknown(), "x") is None
    assert states([unknown()], held(failure())) == [None]
    line = text([entry(failure(), "board.cir")]).replace('level = "error"', 'level = "open"')  # type: ignore[list-item]
    old = read(line.encode(), "boards/isolint-baseline.toml")
    for result in (failure(), unknown()):
        found = match([result], [old], NAME, lambda path: True)
        assert found.results[0].baseline_state in ("new", None)
        assert counted(found.results[0]) == "error"
        assert [pair[1].level for pair in found.stale] == ["open"]


def test_a_failure_found_beside_an_old_open_entry_takes_its_own() -> None:
    own = entry(failure(), "board.cir")
    assert own is not None
    both = read(text([own, own._replace(level="open")]).encode(), "boards/isolint-baseline.toml")
    assert states([failure()], both) == ["unchanged"]


def test_a_raised_level_is_worse() -> None:
    assert states([failure()], held(failure(level="warning"))) == ["updated"]
    assert states([failure(level="note")], held(failure())) == ["unchanged"]


@given(
    margin=st.none() | st.floats(-10.0, 10.0),
    measure=st.none() | st.builds(Measure, st.floats(0.0, 1e6), st.booleans()),
    level=st.sampled_from(("note", "warning", "error")),
)
def test_an_entry_without_its_measure_accepts_nothing(
    margin: float | None, measure: Measure | None, level: str
) -> None:
    result = failure(margin=None if margin is None else Margin(margin, 1.0), measure=measure, level=level)
    own = entry(result, "board.cir")
    assert own is not None
    assert states([result], read(text([own]).encode(), "boards/isolint-baseline.toml")) == ["unchanged"]
    bare = read(text([own._replace(margin=None, measure=None, worse="")]).encode(), "boards/isolint-baseline.toml")
    (found,) = match([result], [bare], NAME, lambda path: True).results
    assert (found.baseline_state, counted(found)) == ("updated", level)
    assert "accepts nothing" in found.message


def test_line_message_and_file_of_a_result_do_not_matter() -> None:
    moved = failure(where=Place("models.lib", 99, 4), message="other words")
    assert states([moved], held(failure())) == ["unchanged"]


def test_two_equal_faults_need_two_entries_and_the_worst_meets_the_worst() -> None:
    pair = [failure(margin=Margin(0.5, 1)), failure(margin=Margin(0.2, 1))]
    assert states(pair, held(pair[0])) == ["new", "updated"]
    assert states(pair, held(*pair)) == ["unchanged", "unchanged"]
    assert states(list(reversed(pair)), held(*pair)) == ["unchanged", "unchanged"]
    assert len(match([pair[0]], [held(*pair)], NAME, lambda path: True).stale) == 1


def test_an_entry_that_nothing_matches_is_stale_unless_its_rule_could_not_judge() -> None:
    def stale(result: Result) -> int:
        return len(match([result], [held(failure())], NAME, lambda path: True).stale)

    assert stale(failure(kind="pass", level="none")) == 1
    assert stale(failure("XU2")) == 1
    assert stale(failure(kind="notApplicable", level="none", blocked_by="led-unlimited", role="x")) == 0
    assert stale(unknown(role="x")) == 0


def test_waived_failures_keep_their_entry_and_waivers_themselves_are_never_held() -> None:
    waived = failure(suppression=Suppression("external", "accepted", "r", "b", "2027-01-01"))
    assert states([waived], held(failure())) == ["unchanged"]
    assert entry(waived, "x") is None
    assert entry(failure(acceptable=False), "x") is None
    assert entry(unknown(role="internal"), "x") is None
    assert entry(failure(kind="pass", level="none"), "x") is None


def test_a_moved_file_is_found_again_if_the_old_one_is_gone() -> None:
    old = held(failure("XU1"), failure("XU2"), netlist="old/board.cir")
    there = match([failure("XU1")], [old], NAME, lambda path: True)
    assert (there.results[0].baseline_state, there.moved) == ("new", "")
    gone = match([failure("XU1"), failure("XU3")], [old], NAME, lambda path: path != "boards/old/board.cir")
    assert [result.baseline_state for result in gone.results] == ["unchanged", "new"]
    assert gone.moved == "old/board.cir"
    assert [pair[1].subject for pair in gone.stale] == ["XU2"]


def test_of_several_files_that_are_gone_the_likeliest_is_taken() -> None:
    entries = [
        *held(failure("XU1"), netlist="a/other.cir").entries,
        *held(failure("XU1"), netlist="b/board.cir").entries,
        *held(failure("XU1"), failure("XU2"), netlist="c/third.cir").entries,
    ]
    both = Baseline("boards/isolint-baseline.toml", tuple(entries))
    assert match([failure("XU1"), failure("XU2")], [both], NAME, lambda path: False).moved == "b/board.cir"
    assert match([failure("XU9")], [both], NAME, lambda path: False).moved == ""


def test_a_netlist_with_entries_of_its_own_takes_none_of_another() -> None:
    own, other = held(failure("XU1")), held(failure("XU2"), netlist="old.cir")
    found = match([failure("XU1"), failure("XU2")], [own, other], NAME, lambda path: path == NAME)
    assert [result.baseline_state for result in found.results] == ["unchanged", "new"]


def test_baselines_of_several_folders_count_together() -> None:
    near = held(failure("XU1"))
    far = Baseline("isolint-baseline.toml", held(failure("XU2"), netlist=NAME).entries)
    assert states([failure("XU1"), failure("XU2"), failure("XU3")], near, far) == ["unchanged", "unchanged", "new"]


# -- the file -------------------------------------------------------------------------------------------------


@given(st.permutations([failure(f"XU{number}") for number in range(5)]))
@settings(max_examples=10)
def test_the_file_does_not_depend_on_the_order_of_results(results: list[Result]) -> None:
    made = [found for result in results if (found := entry(result, "a.cir")) is not None]
    assert text(made) == text(sorted(made, key=lambda each: each.subject))
    assert text(read(text(made).encode(), "x").entries) == text(made)


def test_it_is_one_entry_a_line_without_dates_and_with_three_digits() -> None:
    made = text([e for m in (0.34144, 12345.6) if (e := entry(failure(margin=Margin(m, 1.0)), "a.cir")) is not None])
    lines = [line for line in made.splitlines() if line.startswith("  {")]
    assert [re.search(r"margin = (\S+)", line)[1] for line in lines] == ["0.341", "12300.0"]  # type: ignore[index]
    assert all(line.endswith("},") for line in lines)
    assert not re.search(r"\d{4}-\d\d", made)
    assert [found.line for found in read(made.encode(), "x").entries] == [4, 5]


@given(hostile.filter(bool), hostile)
@settings(max_examples=60)
def test_any_name_survives_the_file(netlist: str, subject: str) -> None:
    made = entry(failure(subject), netlist)
    assert made is not None
    (found,) = read(text([made._replace(netlist=f"a{netlist}")]).encode(), "x").entries
    assert found.netlist.encode() == f"a{netlist}".encode("utf-8", "backslashreplace")
    assert found.fingerprint == failure(subject).fingerprint


def test_merged_branches_are_a_file_again_whatever_the_order_of_lines() -> None:
    made = text([e for n in range(4) if (e := entry(failure(f"XU{n}"), "a.cir")) is not None]).splitlines()
    lines = [n for n, line in enumerate(made) if line.startswith("  {")]
    shuffled = [made[n] for n in lines]
    random.Random(1).shuffle(shuffled)
    merged = "\n".join([*made[: lines[0]], *shuffled, *made[lines[-1] + 1 :]])
    assert text(read(merged.encode(), "x").entries).splitlines() == made


GOOD = '{ netlist = "a", rule = "r", subject = "", level = "error", fingerprint = "%s" }' % ("0" * 32)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (lambda good: good.replace("isolint-baseline/1", "isolint-baseline/2"), "format: "),
        (lambda good: good.replace("0" * 32, "xyz"), 'results[0].fingerprint: "xyz" is not a fingerprint'),
        (lambda good: good.replace("error", "bad"), 'results[0].level: "bad" is not known here'),
        (lambda good: good.replace('rule = "r", ', ""), "results[0]: rule is missing"),
        (lambda good: good.replace("netlist", "netlst"), "results[0].netlst: unknown key (did you mean netlist?)"),
        (lambda good: good + "until = 1\n", "until: unknown key"),
        (lambda good: "<<<<<<< ours\n" + good, "line 1, column 1"),
        (lambda good: good.replace("[{", "3 #"), "results: 3 is not a list"),
    ],
)
def test_a_file_with_a_mistake_accepts_nothing_and_says_what_is_wrong(
    changed: Callable[[str], str], words: str
) -> None:
    good = f'format = "isolint-baseline/1"\nresults = [{GOOD}]\n'
    assert len(read(good.encode(), "x").entries) == 1
    with pytest.raises(SettingsError) as error:
        read(changed(good).encode(), "x")
    assert words in str(error.value)


# -- a board that is exported again ---------------------------------------------------------------------------

FACTS = """
[supplies.V5]
voltage = "5 V"
ground = "GND"
[outputs."DO*"]
supply = "V5"
high = { min = "4.2 V", at = "4 mA" }
low = { max = "0.4 V", at = "4 mA" }
source_max = "8 mA"
sink_max = "8 mA"
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDF"]
"""

OLD = """\
* two channels with faults, invented
R1 DO1 N001 100k
XU1 N001 GND GNDF N002 DEMO_PT1
R2 V24 N002 10k
R3 DO2 N003 0
XU2 N003 GND GNDF N004 DEMO_PT1
R4 V24 N004 10k
R9 GND N005 100
R10 N005 GNDF 220
"""


def renumbered(board: str) -> str:
    """Anonymous nets get other numbers."""
    return re.sub(r"N00(\d)", lambda found: f"N{100 + 7 * int(found[1])}", board)


def reordered(board: str) -> str:
    """Cards come in another order."""
    title, *cards = board.splitlines()
    return "\n".join([title, *reversed(cards)]) + "\n"


def lowered(board: str) -> str:
    """Cards stand on other lines, with comments between."""
    return board.replace("\nR", "\n* exported again\n\nR")


def judged(board: str, known: str | None) -> NetlistReport:
    files = {NAME: board, "isolint.toml": FACTS}
    if known is not None:
        files["isolint-baseline.toml"] = known
    return app.check_in(MemoryTree(files), NAME, "", app.Options())[0]


@cache
def known_results() -> str:
    report = judged(OLD, None)
    return text(e for result in report.results if (e := entry(result, NAME)) is not None)


@pytest.mark.parametrize(
    "again", [lambda board: board, renumbered, reordered, lowered], ids=["same", "nets", "cards", "lines"]
)
def test_a_board_that_is_exported_again_keeps_its_entries(again: Callable[[str], str]) -> None:
    known = known_results()
    rules = {row["rule"] for row in tomllib.loads(known)["results"]}
    assert {"led-unlimited", "bridge-conducting"} <= rules
    report = judged(again(OLD), known)
    assert {r.baseline_state for r in report.results if r.kind == "fail"} == {"unchanged"}
    assert not [r for r in report.results if r.baseline_state == "absent"]
    assert "isolint-baseline.toml" in report.files


def test_a_fault_that_is_cured_leaves_a_stale_entry_and_a_new_one_counts() -> None:
    cured = judged(OLD.replace("R9 GND N005 100\n", ""), known_results())
    (gone,) = [r for r in cured.results if r.baseline_state == "absent"]
    assert (gone.rule, gone.kind, gone.where.file) == ("bridge-conducting", "notApplicable", "isolint-baseline.toml")
    assert gone.where.line > 3
    worse = judged(OLD + "R20 GND GNDF 0\n", known_results())
    assert [r.rule for r in worse.results if r.baseline_state == "new" and r.kind == "fail"] == ["ground-tie"]


def test_the_use_cases_and_the_file_agree_on_its_name() -> None:
    assert acceptance.BASELINE == project.BASELINE == baselines.FILE_NAME

"""No board takes more work than its budget; what is beyond it is open with the reason, and never a pass."""

from __future__ import annotations

import pytest

from isolint import app
from isolint.checking.context import Context
from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.results import Result
from isolint.rules import RULES
from isolint.source import MemoryTree
from isolint.worstcase.budget import CHANNEL, OWN, STORE, Allowance
from tests.bounded.boards import BOARDS, PATH, board, coupler, drivers, ladder, tree

QUICK = (
    "2 x 2 LED matrix",
    "seven drivers on one LED",
    "200 resistors in series",
    "an output on 60 dividers",
    "a hierarchy of four levels by ten",
)
"""Those that take a fraction of a second, for a run of all tests; the rest is marked `long`."""


def judged(files: MemoryTree) -> tuple[Context, tuple[Result, ...]]:
    """A netlist as it was judged, and its results."""
    context, _ = prepare(files, PATH, "")
    return context, run(context, RULES)


def check_work(name: str) -> None:
    context, results = judged(board(name))
    meter = context.analysis.meter
    assert max(meter.spent.values(), default=0) <= CHANNEL
    assert sum(max(work - OWN, 0) for work in meter.spent.values()) <= STORE
    assert meter.points <= sum(meter.spent.values())
    assert results


def test_there_are_at_least_forty_boards() -> None:
    assert len(BOARDS) >= 40


@pytest.mark.parametrize("name", QUICK)
def test_a_board_keeps_its_budget(name: str) -> None:
    check_work(name)


@pytest.mark.long
@pytest.mark.parametrize("name", [name for name in BOARDS if name not in QUICK])
def test_every_board_keeps_its_budget(name: str) -> None:
    check_work(name)


def points(files: MemoryTree) -> int:
    """How many networks are solved for a netlist."""
    return judged(files)[0].analysis.meter.points


def test_a_plain_channel_takes_few_points() -> None:
    assert points(tree(["R1 DRIVE1 A 470", *coupler(1, "A")])) <= 60


@pytest.mark.parametrize(
    ("name", "most"), [("2 x 2 LED matrix", 600), ("diode-OR of five", 1500), ("five drivers on one LED", 2000)]
)
@pytest.mark.long
def test_states_of_several_outputs_take_few_points(name: str, most: int) -> None:
    assert points(board(name)) <= most


def test_where_no_end_is_sought_among_too_many_combinations_nothing_passes() -> None:
    _, results = judged(tree(ladder(16)))
    refused = {result.rule for result in results if result.kind == "open" and "combinations" in result.message}
    assert refused
    assert not any(
        result.rule in {"led-not-off", "led-reverse-exceeded"} for result in results if result.kind == "pass"
    )


@pytest.mark.long
def test_a_resistor_in_pieces_takes_few_points() -> None:
    assert points(board("40 resistors in series")) <= 200


def spent_on(files: MemoryTree, subject: str, channel: int, store: int = STORE, own: int = OWN) -> list[Result]:
    """What is said of a channel where the budgets are these."""
    return [result for result in spent_on_any(files, channel, store, own) if result.subject == subject]


def spent_on_any(files: MemoryTree, channel: int, store: int = STORE, own: int = OWN) -> tuple[Result, ...]:
    """All that is said where the budgets are these."""
    context, _ = prepare(files, PATH, "")
    meter = context.analysis.meter
    meter.channel, meter.store, meter.own = channel, store, own
    return run(context, RULES)


TWO = [*drivers(2), "R9 DRIVE9 A9 470", *coupler(9, "A9")]


def test_beyond_its_budget_a_channel_is_open_and_names_the_fact_that_makes_it_small() -> None:
    said = spent_on(tree(TWO), "XU1", 100)
    (carrier,) = [result for result in said if result.kind == "open"]
    assert "more than 100 solved points" in carrier.message
    assert [fact.key for fact in carrier.missing] == [f'outputs."DRIVE{n}".exclusive' for n in range(2)]


def test_a_channel_with_one_output_is_told_which_parts_to_join() -> None:
    (carrier,) = [result for result in spent_on(tree(TWO), "XU9", 20) if result.kind == "open"]
    assert carrier.remedy is not None
    assert "join parts" in carrier.remedy


def test_outputs_that_may_all_be_active_name_the_facts_that_would_tell() -> None:
    _, results = judged(board("seven drivers on one LED"))
    lacking = {fact.key for result in results if result.kind == "open" for fact in result.missing}
    assert lacking == {'outputs."DRIVE*".exclusive'}


EXCLUSIVE = """
[outputs."ROW*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
exclusive = "rows"
"""


def test_eight_outputs_of_which_one_is_active_are_judged() -> None:
    context, _ = prepare(tree(drivers(8, "ROW"), EXCLUSIVE), PATH, "")
    results = run(context, [rule for rule in RULES if rule.slug in ("led-unlimited", "led-overdriven")])
    (channel,) = context.channels
    assert len(context.analysis.drives().states(channel)) == 9
    assert any(result.kind == "pass" for result in results)
    assert not any("switching inputs" in result.message for result in results)


def passed(channel: int) -> set[tuple[str, str]]:
    """The rules that pass where the budget of a channel is this, with its subject."""
    return {(result.rule, result.subject) for result in spent_on_any(tree(TWO), channel) if result.kind == "pass"}


def test_no_budget_makes_a_pass_that_more_work_would_not_give() -> None:
    full = passed(CHANNEL)
    found = [passed(channel) for channel in (0, 5, 60, 200, 500)]
    assert all(some <= full for some in found)
    assert found[0] < full


def test_a_plain_channel_is_judged_beside_one_that_takes_all_there_is() -> None:
    beside = spent_on_any(tree(TWO), CHANNEL, store=0, own=300)
    said = [[result.kind for result in beside if result.subject == subject] for subject in ("XU1", "XU9")]
    assert "open" in said[0]
    assert "open" not in said[1]
    assert said[1].count("pass") == len([rule for rule, subject in passed(CHANNEL) if subject == "XU9"])


def kinds(allowance: Allowance) -> list[str]:
    """How a channel that takes more than its own allowance is judged in a run with so much left."""
    report, _ = app.check_in(tree(drivers(3)), PATH, "", app.Options(), allowance)
    return [result.kind for result in report.results if result.subject == "XU1"]


def test_what_one_netlist_of_a_run_has_spent_the_next_ones_lack() -> None:
    allowance = Allowance(STORE)
    first = kinds(allowance)
    spent = STORE - allowance.left
    assert 0 < spent < STORE
    assert kinds(Allowance(spent)) == first
    allowance.left = spent - 1
    assert kinds(allowance).count("open") > first.count("open")
    report, _ = app.check_in(tree(drivers(3)), PATH, "", app.Options(), Allowance(0))
    assert any("netlists before it in this run" in result.message for result in report.results)


@pytest.mark.parametrize("own", [20, 100, 260])
def test_what_the_netlist_is_asked_for_is_not_lost_with_the_channel_that_asked_first(own: int) -> None:
    beside = spent_on_any(tree(TWO), CHANNEL, store=0, own=own)
    said = {result.rule for result in beside if result.subject == "XU9"}
    assert said == {result.rule for result in beside if result.subject == "XU1"}
    assert not any(result.is_crash for result in beside)


def test_the_same_netlist_takes_the_same_work_every_time() -> None:
    first, second = (judged(tree(TWO))[0].analysis.meter for _ in range(2))
    assert first.spent == second.spent
    assert first.points == second.points > 0

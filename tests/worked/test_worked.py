"""Each worked example goes through the main job: its netlist in, the evidence of the rules out."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest

from isolint import app
from isolint.checking.calculation import sheet
from isolint.preparing import prepare
from isolint.results import Evidence, Result
from isolint.source import MemoryTree
from isolint.worstcase.alternating import reactance
from tests.arithmetic import read
from tests.test_sources import SOURCES
from tests.worked.circuits import CIRCUITS
from tests.worked.drivers import DRIVERS
from tests.worked.example import Example, WorkedClaim, WorkedLimit
from tests.worked.table import PARTS

EXAMPLES = (*PARTS, *CIRCUITS, *DRIVERS)

PUBLISHED = {
    *("W01", "W04", "W05", "W06", "W12", "W36", *(f"W{number}" for number in range(14, 32))),
    *(f"W{number}" for number in (33, 34, 35, 36, *range(38, 48), 50, 51, 55, 57, 62, 63)),
}
"""The examples whose result was both printed in the source and reproduced."""

WANTED = {
    "W14",
    "W17",
    "W19",
    "W22",
    "W33",
    "W34",
    "W01",
    "W04",
    "W05",
    "W06",
    "W12",
    "W36",
    "W39",
    "W40",
    "W41",
    "W47",
    "W63",
}


def number_of(example: Example) -> str:
    """W39 for W39a and for W39 high."""
    return example.number[:3] if example.number.startswith("W") else example.number


def files(example: Example, x: float | None = None) -> dict[str, str]:
    values = dict(example.values) if x is None else {**example.values, "x": x}
    netlist = example.netlist
    for name, value in values.items():
        netlist = netlist.replace("{" + name + "}", f"{value:.6g}")
    return {"board.cir": netlist, "isolint.toml": example.facts, "parts.toml": example.record}


@cache
def results(example: str, x: float | None = None) -> tuple[Result, ...]:
    """All results of an example by its name."""
    found = next(item for item in EXAMPLES if item.id == example)
    report, _ = app.check_in(MemoryTree(files(found, x)), "board.cir", "", app.Options())
    return report.results


def result(example: Example, rule: str, x: float | None = None) -> Result:
    found = [item for item in results(example.id, x) if item.rule == rule]
    assert len(found) == 1, [(item.rule, item.kind, item.message) for item in results(example.id, x)]
    return found[0]


def evidence(of: Result, symbol: str) -> Evidence:
    found = [item for item in of.evidence if item.symbol == symbol]
    assert found, (symbol, of.kind, of.message, [item.symbol for item in of.evidence])
    return found[0]


CLAIMS = [(example, claim) for example in EXAMPLES for claim in example.claims]
LIMITS = [(example, limit) for example in EXAMPLES for limit in example.limits]
VERDICTS = [
    (example, rule, kind)
    for example in EXAMPLES
    for kind, rules in (("fail", example.fails), ("pass", example.passes))
    for rule in rules
]


@pytest.mark.parametrize(("example", "claim"), CLAIMS, ids=[f"{e.id}: {c.symbol} {c.end}" for e, c in CLAIMS])
def test_the_evidence_is_the_example_s_number(example: Example, claim: WorkedClaim) -> None:
    found = getattr(evidence(result(example, claim.rule), claim.symbol), claim.end)
    assert found is not None
    if isinstance(claim.value, tuple):
        assert claim.value[0] <= found <= claim.value[1]
    else:
        assert found == pytest.approx(claim.value, rel=claim.tolerance)


@pytest.mark.parametrize(("example", "limit"), LIMITS, ids=[f"{e.id}: {n.rule}" for e, n in LIMITS])
def test_the_sized_value_is_just_enough(example: Example, limit: WorkedLimit) -> None:
    margin = result(example, limit.rule, limit.value).margin
    assert margin is not None
    assert margin.required == limit.required
    assert margin.value == pytest.approx(limit.required, rel=limit.tolerance)


@pytest.mark.parametrize(("example", "limit"), LIMITS, ids=[f"{e.id}: {n.rule}" for e, n in LIMITS])
def test_on_one_side_of_the_sized_value_it_passes_and_on_the_other_it_fails(
    example: Example, limit: WorkedLimit
) -> None:
    step = 1.5 * limit.tolerance
    smaller, larger = limit.value * (1.0 - step), limit.value * (1.0 + step)
    good, bad = (smaller, larger) if limit.passes == "smaller" else (larger, smaller)
    assert result(example, limit.rule, good).kind == "pass"
    assert result(example, limit.rule, bad).kind == "fail"


@pytest.mark.parametrize(("example", "rule", "kind"), VERDICTS, ids=[f"{e.id}: {r} {k}" for e, r, k in VERDICTS])
def test_the_verdict_is_that_of_the_example(example: Example, rule: str, kind: str) -> None:
    assert result(example, rule).kind == kind


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.id)
def test_each_example_claims_something_and_names_its_source(example: Example) -> None:
    assert example.claims or example.limits or example.fails or example.passes
    assert not example.source or example.source in SOURCES
    assert example.source or example.label == "derived"


def test_only_what_was_printed_is_called_published() -> None:
    for example in EXAMPLES:
        if number_of(example).startswith("W"):
            assert (example.label == "published") <= (number_of(example) in PUBLISHED), example.id
    assert {example.label for example in EXAMPLES if number_of(example) in {"W03", "W07", "W37", "W53", "W54"}} == {
        "derived"
    }
    assert {example.label for example in EXAMPLES if number_of(example) in {"W02", "W13"}} == {"band"}


def test_the_wanted_examples_are_there() -> None:
    assert {number_of(example) for example in EXAMPLES} >= WANTED
    assert len({number_of(example) for example in EXAMPLES}) >= 30


def test_w62_the_reactance_of_a_dropping_capacitor_is_the_printed_one() -> None:
    """Key `mains-detector-discussion`, published."""
    assert reactance(60.0, 0.33e-6) == pytest.approx(8.04e3, rel=0.01)
    assert reactance(50.0, 0.33e-6) == pytest.approx(9.65e3, rel=0.01)


def test_w12_the_acceleration_factor_is_the_printed_one() -> None:
    example = next(item for item in EXAMPLES if item.number == "W12")
    context, _ = prepare(MemoryTree(files(example)), "board.cir", "")
    lines = [read(line.text) for section in sheet(context, context.channels[0]) for line in section.lines]
    factor = next(line for line in lines if line.name == "AF")
    assert factor.value == pytest.approx(184.7, rel=1e-3)
    assert factor.value * 1000 == pytest.approx(184_767, rel=1e-3)


def test_w04_the_best_part_of_the_rank_gives_thirty_milliamperes() -> None:
    example = next(item for item in EXAMPLES if item.number == "W04")
    closed = files(example)
    closed["board.cir"] = closed["board.cir"].replace("R9 VB OUT 10k", "R9 VB OUT 10")
    context, _ = prepare(MemoryTree(closed), "board.cir", "")
    asked = context.analysis.asked_current(context.channels[0])
    assert asked.strongest == pytest.approx(30e-3, rel=0.01)


def test_w47_the_resistor_of_the_fifteen_milliampere_variant_takes_a_third_of_a_watt() -> None:
    """1500 ohm fitted: 15.2 mA, 0.34 W, so 0.5 W is asked for."""
    example = next(item for item in EXAMPLES if item.number == "W47c")
    current = evidence(result(example, "led-underdriven", 1500.0), "IF").max
    assert current is not None
    assert current**2 * 1500 == pytest.approx(0.34, rel=0.02)


def keys() -> Iterator[str]:
    return (example.source for example in EXAMPLES if example.source)


def test_sources_are_named_by_key_only() -> None:
    assert set(keys()) <= set(SOURCES)

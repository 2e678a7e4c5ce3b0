"""Extreme values against exhaustive enumeration and sampling, on functions and on random drive networks."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.worstcase import corners
from isolint.worstcase import network as n
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.corners import Extreme, Range, extremes
from isolint.worstcase.solve import Point, solve
from tests.worstcase.networks import drive_network

Evaluate = Callable[[Sequence[float]], Sequence[float]]


def one(ranges: Sequence[Range], function: Callable[..., float]) -> Extreme:
    """The extreme of a function of plain arguments."""
    return extremes(ranges, lambda vector: (function(*vector),))[0]


def box(count: int) -> list[Range]:
    return [Range(f"p{i}", -1.0, 0.0, 1.0) for i in range(count)]


def test_signs_of_single_moves_give_the_corner() -> None:
    resistor, supply = Range("R", 313.5, 330.0, 346.5), Range("V", 3.135, 3.3, 3.465)
    found = one([resistor, supply], lambda r, v: (v - 1.2) / r)
    assert found.nominal == pytest.approx(2.1 / 330)
    assert (found.low, found.high) == pytest.approx((1.935 / 346.5, 2.265 / 313.5))
    assert found.low_corner == (("R", 346.5), ("V", 3.135))
    assert found.high_corner == (("R", 313.5), ("V", 3.465))
    assert found.method == "sensitivity"


def test_a_fixed_parameter_and_one_without_effect_cost_nothing_and_are_not_named() -> None:
    calls = []

    def evaluate(vector: Sequence[float]) -> Sequence[float]:
        calls.append(tuple(vector))
        return (vector[0],)

    found = extremes([Range("a", 0.0, 1.0, 2.0), Range("fixed", 5.0, 5.0, 5.0), Range("idle", 0.0, 0.5, 1.0)], evaluate)
    assert found[0].high_corner == (("a", 2.0),)
    assert {vector[1] for vector in calls} == {5.0}
    assert len(calls) == len(set(calls)) <= 9


def test_a_parameter_that_counts_at_its_low_end_only_is_no_bend() -> None:
    found = one(box(1), lambda p: min(p, 0.0))
    assert (found.low, found.high, found.low_corner) == (-1.0, 0.0, (("p0", -1.0),))
    assert found.method == "sensitivity"


def test_quantities_share_their_evaluations() -> None:
    calls = 0

    def evaluate(vector: Sequence[float]) -> Sequence[float]:
        nonlocal calls
        calls += 1
        return (sum(vector), 2 * sum(vector), 3 * sum(vector))

    extremes(box(5), evaluate)
    assert calls <= 1 + 2 * 5 + 2 * (1 + 5)


def test_an_extreme_between_the_ends_of_a_parameter_is_found() -> None:
    """Most power reaches a load that equals the source's resistance."""
    found = one([Range("R", 10.0, 80.0, 1000.0)], lambda r: r / (100.0 + r) ** 2)
    assert found.method == "vertices"
    assert found.high == pytest.approx(1 / 400, rel=1e-3)
    assert found.low == pytest.approx(10 / 110**2 if 10 / 110**2 < 1000 / 1100**2 else 1000 / 1100**2)


def test_a_sign_that_changes_at_the_corner_is_noticed() -> None:
    found = one(box(3), lambda a, b, c: a * (b - 0.2) + 3 * b + c)
    exact = [a * (b - 0.2) + 3 * b + c for a, b, c in itertools.product((-1.0, 1.0), repeat=3)]
    assert (found.low, found.high) == pytest.approx((min(exact), max(exact)))
    assert found.method == "vertices"


def test_a_response_that_only_shows_off_nominal_is_noticed() -> None:
    found = one(box(2), lambda a, b: a + 2 * max(0.0, a - 0.5) * b)
    assert found.high == pytest.approx(2.0)
    assert found.high_corner == (("p0", 1.0), ("p1", 1.0))


def test_too_many_bent_parameters_are_refused_and_never_cut_short() -> None:
    with pytest.raises(OverBudget, match="14 values change the sign of their effect"):
        one(box(14), lambda *p: sum(x * x for x in p))
    found = one(box(6), lambda *p: sum(x * x for x in p))
    assert found.method == "vertices"
    assert (found.low, found.high) == pytest.approx((0.0, 6.0))


def test_what_bends_by_less_than_any_current_that_counts_is_rounding_where_it_is_too_much() -> None:
    found = one(box(15), lambda *p: p[0] + 1e-10 * sum(x * x for x in p[1:]))
    assert (found.low, found.high) == pytest.approx((-1.0, 1.0), abs=15e-10)


def test_an_exception_of_the_function_passes_through() -> None:
    def evaluate(vector: Sequence[float]) -> Sequence[float]:
        if vector[0] > 1.5:
            raise n.NotSolvable("no DC path from net MID to a reference: nothing connects it")
        return vector

    with pytest.raises(n.NotSolvable, match="MID"):
        extremes([Range("a", 0.0, 1.0, 2.0)], evaluate)


def test_a_range_must_hold_its_nominal_value() -> None:
    with pytest.raises(ValueError, match="R1"):
        extremes([Range("R1", 1.0, 3.0, 2.0)], lambda vector: vector)


@given(st.lists(st.floats(-3, 3), min_size=10, max_size=10))
def test_bilinear_functions_of_four_parameters_reach_their_vertices(weights: list[float]) -> None:
    pairs = list(itertools.combinations(range(4), 2))

    def function(*p: float) -> float:
        linear = sum(10 * w * x for w, x in zip(weights[:4], p, strict=True))
        return linear + sum(w * p[i] * p[j] for w, (i, j) in zip(weights[4:], pairs, strict=True))

    found = one(box(4), function)
    exact = [function(*p) for p in itertools.product((-1.0, 1.0), repeat=4)]
    assert found.low <= found.nominal <= found.high
    assert min(exact) - 1e-9 <= found.low
    assert found.high <= max(exact) + 1e-9
    if min(map(abs, weights[:4])) > 1.0:
        assert (found.low, found.high) == pytest.approx((min(exact), max(exact)), rel=1e-9, abs=1e-9)


# Drive networks


def spread(seed: int) -> tuple[list[Range], Evaluate]:
    """The uncertain values of a random drive network, and its LED and source currents as a function of them."""
    drive = drive_network(seed)
    uncertain: list[tuple[int, Range]] = []
    for i, branch in enumerate(drive.branches):
        match branch:
            case n.Resistor():
                uncertain.append((i, Range(branch.name, 0.95 * branch.ohms, branch.ohms, 1.05 * branch.ohms)))
            case n.VoltageSource():
                uncertain.append((i, Range(branch.name, 0.9 * branch.volts, branch.volts, 1.1 * branch.volts)))
            case n.LedBranch():
                volts = branch.curve.forward_voltage
                uncertain.append((i, Range(branch.name, volts - 0.15, volts, volts + 0.2)))
            case n.BipolarBranch():
                uncertain.append(
                    (i, Range(branch.name, 0.5 * branch.device.BF, branch.device.BF, 2 * branch.device.BF))
                )
    uncertain = uncertain[:8]
    nominal: list[Point] = []

    def evaluate(vector: Sequence[float]) -> Sequence[float]:
        branches = list(drive.branches)
        for (i, _), value in zip(uncertain, vector, strict=True):
            branch = branches[i]
            match branch:
                case n.Resistor():
                    branches[i] = branch._replace(ohms=value)
                case n.VoltageSource():
                    branches[i] = branch._replace(volts=value)
                case n.LedBranch():
                    branches[i] = branch._replace(curve=branch.curve._replace(forward_voltage=value))
                case n.BipolarBranch():
                    branches[i] = branch._replace(device=branch.device._replace(BF=value))
        point = solve(n.BranchNetwork(drive.nodes, tuple(branches)), 25.0, nominal[0] if nominal else None)
        if not nominal:
            nominal.append(point)
        return [point.current(b.name) for b in branches if isinstance(b, (n.LedBranch, n.VoltageSource, n.Port))]

    return [r for _, r in uncertain], evaluate


def slack(low: float, high: float) -> float:
    return 1e-6 * max(abs(low), abs(high)) + 1e-10


@pytest.mark.parametrize("first", range(0, 54, 6))
def test_drive_networks_reach_the_ends_of_all_vertices(first: int) -> None:
    for seed in range(first, first + 6):
        ranges, evaluate = spread(seed)
        found = extremes(ranges, evaluate)
        vertices = [evaluate(vector) for vector in itertools.product(*((r.low, r.high) for r in ranges))]
        for quantity, extreme in enumerate(found):
            values = [vertex[quantity] for vertex in vertices]
            room = slack(extreme.low, extreme.high)
            assert extreme.low <= min(values) + room, (seed, quantity)
            assert extreme.high >= max(values) - room, (seed, quantity)


@pytest.mark.parametrize("first", range(0, 27, 9))
def test_samples_of_drive_networks_never_leave_the_interval(first: int) -> None:
    for seed in range(first, first + 9):
        ranges, evaluate = spread(seed)
        found = extremes(ranges, evaluate)
        rng = random.Random(seed)
        for _ in range(60):
            sample = evaluate([rng.uniform(r.low, r.high) for r in ranges])
            for value, extreme in zip(sample, found, strict=True):
                room = slack(extreme.low, extreme.high)
                assert extreme.low - room <= value <= extreme.high + room, seed
        for extreme in found:
            assert extreme.low <= extreme.nominal <= extreme.high


def test_each_end_is_what_its_corner_gives() -> None:
    for seed in range(9):
        ranges, evaluate = spread(seed)
        for quantity, extreme in enumerate(extremes(ranges, evaluate)):
            for end, corner in ((extreme.low, extreme.low_corner), (extreme.high, extreme.high_corner)):
                values = dict(corner)
                vector = [values.get(r.name, r.nominal) for r in ranges]
                assert evaluate(vector)[quantity] == pytest.approx(end, rel=1e-6, abs=1e-10)


def test_widening_a_tolerance_never_narrows_a_result() -> None:
    for seed in range(18):
        ranges, evaluate = spread(seed)
        before = extremes(ranges, evaluate)
        for axis in range(0, len(ranges), 3):
            r = ranges[axis]
            wider = [*ranges]
            wider[axis] = Range(
                r.name, r.low - 0.5 * (r.nominal - r.low), r.nominal, r.high + 0.5 * (r.high - r.nominal)
            )
            for old, new in zip(before, extremes(wider, evaluate), strict=True):
                room = slack(old.low, old.high)
                assert new.low <= old.low + room
                assert new.high >= old.high - room


def test_changes_below_the_noise_are_no_response() -> None:
    ranges = [Range("a", 0.0, 1.0, 2.0), Range("b", 0.0, 1.0, 2.0)]

    def evaluate(vector: Sequence[float]) -> Sequence[float]:
        return (1e-9 * vector[0] + 1e-14 * abs(vector[1] - 1.0),)

    assert extremes(ranges, evaluate)[0].method == "sensitivity"
    assert extremes(ranges, evaluate, noise=0.0)[0].method == "vertices"


def test_the_vertex_cap_is_a_number_of_combinations() -> None:
    assert math.log2(corners.MOST_VERTICES).is_integer()


@pytest.mark.parametrize("opposed", [False, True])
def test_a_parameter_that_follows_another_costs_nothing_of_its_own(opposed: bool) -> None:
    """A resistor's tolerance and temperature coefficient, above and below 25 degC."""
    rise = -65.0 if opposed else 60.0
    calls: list[tuple[float, ...]] = []

    def current(vector: Sequence[float]) -> Sequence[float]:
        calls.append(tuple(vector))
        return ((24.0 + vector[2]) / (1e3 * (1.0 + vector[0]) * (1.0 + vector[1] * rise)),)

    tolerance, supply = Range("tolerance", -0.01, 0.0, 0.02), Range("supply", -2.0, 0.0, 3.0)
    drift = Range("drift", -1e-4, 0.0, 2e-4, leader=0, opposed=opposed)
    (found,) = extremes([tolerance, drift, supply], current)
    together = len(set(calls))
    vertices = [current(vector)[0] for vector in itertools.product((-0.01, 0.02), (-1e-4, 2e-4), (-2.0, 3.0))]
    assert (found.low, found.high) == (min(vertices), max(vertices))
    assert dict(found.low_corner) == {"tolerance": 0.02, "drift": -1e-4 if opposed else 2e-4, "supply": -2.0}
    calls.clear()
    (apart,) = extremes([tolerance, Range("drift", -1e-4, 0.0, 2e-4), supply], current)
    assert (apart.low, apart.high) == (found.low, found.high)
    assert together < len(set(calls))


def test_each_quantity_may_seek_its_own_end() -> None:
    def both(vector: Sequence[float]) -> Sequence[float]:
        return (sum(vector), -sum(vector))

    first, second = extremes(box(4), both, sought=["high", "low"])
    assert (first.high, second.low) == (4.0, -4.0)

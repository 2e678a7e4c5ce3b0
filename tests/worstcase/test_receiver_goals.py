"""The smallest current that meets a goal, from nothing and from what was right with other values."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.worstcase.network import BranchNetwork, Resistor, VoltageSource
from isolint.worstcase.receiver_goals import Reached, turn_up
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.uncertain import Lacking

POINT: Point = solve(BranchNetwork(("0", "A"), (VoltageSource("V", 1, 0, 1.0), Resistor("R", 1, 0, 1.0))), 25.0)


def gap(excess: Callable[[float], float], calls: list[float] | None = None) -> Callable[[float], tuple[Point, float]]:
    def found(amps: float) -> tuple[Point, float]:
        if calls is not None:
            calls.append(amps)
        return POINT, excess(amps)

    return found


@given(
    st.floats(1e-6, 1e-1),
    st.floats(0.0, 3.0),
    st.floats(0.5, 1.9),
    st.floats(0.1, 10.0),
)
def test_what_is_near_leads_to_the_same_current(wanted: float, bend: float, near: float, slope: float) -> None:
    def excess(amps: float) -> float:
        return (amps - wanted) / wanted + bend * (math.tanh(amps / wanted) - math.tanh(1.0))

    plain = turn_up(gap(excess))
    helped = turn_up(gap(excess), Reached(wanted * near, POINT, slope / wanted))
    assert plain.amps == pytest.approx(wanted, rel=1e-6)
    assert helped.amps == pytest.approx(wanted, rel=1e-6)


def test_from_a_near_current_a_straight_line_takes_two_steps() -> None:
    calls: list[float] = []
    found = turn_up(gap(lambda amps: 1e3 * amps - 2.2, calls), Reached(2.0e-3, POINT, 1e3))
    assert found.amps == pytest.approx(2.2e-3, rel=1e-12)
    assert len(calls) == 2


def test_a_goal_that_is_met_without_current_needs_none_whatever_was_near() -> None:
    assert turn_up(gap(lambda amps: 1.0 + amps), Reached(1e-3, POINT, 1.0)).amps == 0.0


@pytest.mark.parametrize("slope", [0.0, -1.0, 1e-9, 1e9])
def test_a_slope_that_leads_away_falls_back_to_the_search_from_nothing(slope: float) -> None:
    found = turn_up(gap(lambda amps: amps - 3e-3), Reached(1e-3, POINT, slope))
    assert found.amps == pytest.approx(3e-3, rel=1e-6)


@pytest.mark.parametrize("steep", [1.0, 30.0, 1000.0])
def test_a_kink_on_the_way_costs_few_steps(steep: float) -> None:
    """A base that takes nothing up to its knee: a straight line from nothing always falls short."""
    calls: list[float] = []
    found = turn_up(gap(lambda amps: math.exp(min(steep * (amps / 5e-3 - 1.0), 50.0)) - 1.0, calls))
    assert found.amps == pytest.approx(5e-3, rel=1e-6)
    assert len(calls) <= 35


def test_a_goal_out_of_reach_is_told() -> None:
    with pytest.raises(Lacking, match="no output current"):
        turn_up(gap(lambda amps: -1.0 - amps), Reached(1e-3, POINT, 1.0))

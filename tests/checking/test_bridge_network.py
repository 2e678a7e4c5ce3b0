"""The current through networks of capacitors and resistances, against a library of linear algebra."""

from __future__ import annotations

import math

import pytest

from isolint.checking.bridge_network import Edge, RcNetwork, largest_admittance
from isolint.units import Interval
from tests.checking.rc_networks import HERTZ, admittance, largest, network, spread

FEW = range(6)


@pytest.mark.parametrize("seed", FEW)
def test_the_largest_admittance_is_that_of_the_worst_corner(seed: int) -> None:
    rc = network(seed)
    factors = spread(seed, rc)
    assert largest_admittance(rc, HERTZ, factors) == pytest.approx(largest(rc, factors), rel=1e-6)


@pytest.mark.long
def test_the_largest_admittance_of_two_hundred_networks_is_that_of_the_worst_corner() -> None:
    for seed in range(200):
        rc = network(seed)
        factors = spread(seed, rc)
        assert largest_admittance(rc, HERTZ, factors) == pytest.approx(largest(rc, factors), rel=1e-6), seed


def test_of_many_elements_the_bound_is_never_below_what_a_corner_gives() -> None:
    """Twice the network of magnitudes; the corners of nine elements are still few enough to look at."""
    chain = tuple(
        Edge(number, *ends, "C" if number % 2 else "R", 1e-9 if number % 2 else 3e6)
        for number, ends in enumerate(((0, 2), (2, 3), (3, 4), (4, 1), (0, 3), (2, 4), (3, 1), (0, 4), (2, 1)))
    )
    rc = RcNetwork(chain, 5, frozenset())
    factors = dict.fromkeys(range(len(chain)), Interval(0.8, 1.2))
    assert largest_admittance(rc, HERTZ, factors) >= largest(rc, factors)


def test_the_phases_count() -> None:
    """1 nF beside 10 Mohm at 50 Hz: sqrt((2 pi f C)^2 + 1/R^2), not the sum."""
    rc = RcNetwork((Edge(0, 0, 1, "C", 1e-9), Edge(1, 0, 1, "R", 1e7)), 2, frozenset())
    points = dict.fromkeys((0, 1), Interval(1.0, 1.0))
    expected = math.hypot(2.0 * math.pi * 50.0 * 1e-9, 1e-7)
    assert largest_admittance(rc, 50.0, points) == pytest.approx(expected, rel=1e-12)
    assert admittance(rc, {0: 1.0, 1: 1.0}, 50.0) == pytest.approx(expected, rel=1e-9)

"""Reduction of resistor networks against a nodal solution."""

from __future__ import annotations

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.interfaces.boards import network_of

EDGES = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 9), st.floats(1.0, 1e7)).filter(lambda edge: edge[0] != edge[1]),
    min_size=1,
    max_size=30,
)


def nodal(edges: list[tuple[int, int, float]], one: int, other: int) -> float:
    """Ohms between two nodes by the nodal equations of the whole network, one node held at 0 V."""
    nodes = sorted(network_of(edges).component(one))
    if other not in nodes:
        return math.inf
    at = {node: index for index, node in enumerate(nodes)}
    matrix = numpy.zeros((len(nodes), len(nodes)))
    for first, second, ohms in edges:
        if first in at:
            i, j = at[first], at[second]
            matrix[i, i] += 1.0 / ohms
            matrix[j, j] += 1.0 / ohms
            matrix[i, j] -= 1.0 / ohms
            matrix[j, i] -= 1.0 / ohms
    keep = [index for node, index in at.items() if node != other]
    current = numpy.zeros(len(nodes))
    current[at[one]] = 1.0
    voltage = numpy.linalg.solve(matrix[numpy.ix_(keep, keep)], current[keep])
    return float(voltage[keep.index(at[one])])


@given(EDGES)
def test_effective_resistance_equals_the_nodal_solution(edges: list[tuple[int, int, float]]) -> None:
    network = network_of(edges)
    one, other = edges[0][0], edges[-1][1]
    if one != other:
        assert network.effective(one, other) == pytest.approx(nodal(edges, one, other), rel=1e-6)


@given(EDGES)
def test_eliminating_inner_nodes_keeps_resistances_between_the_others(edges: list[tuple[int, int, float]]) -> None:
    network = network_of(edges)
    before = network.effective(0, 1)
    network.eliminate([node for node in list(network.edges) if node > 1])
    assert network.effective(0, 1) == pytest.approx(before, rel=1e-9)


@given(EDGES, st.sets(st.integers(0, 9), min_size=2))
def test_resistances_between_all_nodes_are_those_between_each_two(
    edges: list[tuple[int, int, float]], nodes: set[int]
) -> None:
    network = network_of(edges)
    found = network.between_all(sorted(nodes))
    assert set(found) == {(one, other) for one in nodes for other in nodes if one < other}
    for (one, other), ohms in found.items():
        assert ohms == pytest.approx(network.effective(one, other), rel=1e-9)


def test_a_star_of_many_is_not_taken_for_less_than_it_is() -> None:
    star = network_of([(0, n, 1e6) for n in range(1, 61)])
    assert star.between_all(range(1, 61)) == pytest.approx({(n, m): 2e6 for m in range(1, 61) for n in range(1, m)})


@given(EDGES)
def test_a_capped_mesh_never_gives_more_ohms_than_there_are(edges: list[tuple[int, int, float]]) -> None:
    network = network_of(edges)
    before = network.effective(0, 1)
    network.eliminate([node for node in list(network.edges) if node > 1], max_degree=2)
    assert network.effective(0, 1) <= before * (1.0 + 1e-9)


def test_ten_in_series_and_two_in_parallel() -> None:
    chain = network_of([(n, n + 1, 470e3) for n in range(10)])
    assert chain.effective(0, 10) == pytest.approx(4.7e6)
    assert network_of([(0, 1, 1e3), (1, 0, 1e3)]).effective(0, 1) == pytest.approx(500.0)


def test_the_wheatstone_bridge_which_no_series_and_parallel_step_reduces() -> None:
    edges = [(0, 2, 1.0), (0, 3, 2.0), (2, 1, 3.0), (3, 1, 1.0), (2, 3, 5.0)]
    assert network_of(edges).effective(0, 1) == pytest.approx(nodal(edges, 0, 1), rel=1e-12)


def test_nothing_between_is_infinite_and_a_node_to_itself_is_zero() -> None:
    network = network_of([(0, 1, 1.0), (2, 3, 1.0)])
    assert network.effective(0, 2) == math.inf
    assert network.effective(0, 0) == 0.0

"""What lies across a barrier: reduced values, one element shorted, capacitors in series and at earth."""

from __future__ import annotations

import math
import random
import time
from typing import Any

import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.interfaces.entities import Bridge
from isolint.interfaces.netnames import is_earth_name
from tests.interfaces.boards import sides_of

SIDES = '[sides.a]\nnets = ["GNDA"]\n[sides.b]\nnets = ["GNDB"]\n'
THIRD = SIDES + '[sides.c]\nnets = ["GNDC"]\n'
PULLS = "".join(f"R{side} n{side} GND{side} 1k\n" for side in "AB")


def bridges(cards: str, facts: str = SIDES) -> list[tuple[str, Any, Any]]:
    """(elements, value, value with one shorted) of every bridge."""
    circuit, separation = sides_of(cards, facts)
    return [
        (" ".join(circuit.path(element) for element in bridge.elements), bridge.value, bridge.shorted)
        for bridge in separation.bridges
    ]


def one(cards: str, facts: str = SIDES) -> Bridge:
    (bridge,) = sides_of(cards, facts)[1].bridges
    return bridge


def test_a_chain_of_resistors_is_shown_with_one_of_them_shorted() -> None:
    chain = "".join(
        f"R{n} {'GNDA' if n == 0 else f'm{n}'} {'GNDB' if n == 9 else f'm{n + 1}'} 470k\n" for n in range(10)
    )
    ((_, value, shorted),) = bridges(chain)
    assert (value, shorted) == (pytest.approx(4.7e6), pytest.approx(4.23e6))


def test_a_single_resistor_shorted_is_a_joint() -> None:
    assert bridges("R1 GNDA GNDB 10meg\nR2 GNDA x 1\n") == [("R1", 1e7, 0.0)]


def test_the_largest_resistor_is_the_one_whose_short_tells_most() -> None:
    ((_, _, shorted),) = bridges("R1 GNDA m 1meg\nR2 m GNDB 9meg\n")
    assert shorted == pytest.approx(1e6)


def test_the_largest_resistor_is_found_wherever_it_stands() -> None:
    for ohms in (("9meg", "1meg", "1meg"), ("1meg", "9meg", "1meg"), ("1meg", "1meg", "9meg")):
        chain = "R1 GNDA m {}\nR2 m k {}\nR3 k GNDB {}\n".format(*ohms)
        ((_, value, shorted),) = bridges(chain)
        assert (value, shorted) == (pytest.approx(11e6), pytest.approx(2e6))


def test_two_capacitors_in_series_are_one_bridge() -> None:
    ((elements, value, shorted),) = bridges("C1 GNDA m 2n\nC2 m GNDB 2n\n")
    assert elements == "C1 C2"
    assert (value, shorted) == (pytest.approx(1e-9), pytest.approx(2e-9))


def test_a_resistor_between_two_capacitors_leaves_them_in_series() -> None:
    ((elements, value, _),) = bridges("C1 GNDA m 2n\nR1 m k 10\nC2 k GNDB 2n\n")
    assert (elements, value) == ("C1 C2", pytest.approx(1e-9))


def test_a_resistor_on_one_side_makes_no_series_capacitor_of_it() -> None:
    assert bridges(PULLS + "C1 nA nB 1n\n") == [("C1", 1e-9, math.inf)]


def test_capacitors_side_by_side_are_bridges_of_their_own() -> None:
    assert [found[0] for found in bridges("C1 GNDA GNDB 1n\nC2 GNDA GNDB 1n\n")] == ["C1", "C2"]


def test_a_capacitor_whose_end_leads_nowhere_crosses_nothing() -> None:
    assert bridges("C1 GNDA m 1n\nC2 m k 1n\nC3 GNDB j 1n\n") == []


def test_a_loose_end_at_a_node_between_is_no_part_of_the_bridge() -> None:
    assert [found[:2] for found in bridges("C1 GNDA m 2n\nC2 m GNDB 2n\nC3 m k 1n\n")] == [
        ("C1 C2", pytest.approx(1e-9))
    ]


def test_capacitors_that_meet_at_a_stated_side_bridge_to_it_each() -> None:
    _, separation = sides_of("C1 GNDA GNDC 1n\nC2 GNDC GNDB 1n\n", THIRD)
    assert [bridge.sides for bridge in separation.bridges] == [("a", "c"), ("b", "c")]


def test_a_star_bridges_each_two_of_its_sides() -> None:
    _, separation = sides_of("C1 GNDA m 2n\nC2 m GNDB 2n\nC3 m GNDC 2n\n", THIRD)
    assert [(bridge.sides, bridge.elements.__len__()) for bridge in separation.bridges] == [
        (("a", "b"), 2),
        (("a", "c"), 2),
        (("b", "c"), 2),
    ]


@pytest.mark.parametrize("name", ["PE", "EARTH", "CHASSIS", "SHIELD", "FE", "/IO/SHIELD", "CHASSIS_1"])
def test_earth_chassis_and_shields_are_known_by_name(name: str) -> None:
    assert is_earth_name(name)


@pytest.mark.parametrize("name", ["PEAK", "FEED", "SHIELD_OK", "PE_FAULT", "CASE_LED", "0", "GND"])
def test_other_names_are_no_earth(name: str) -> None:
    assert not is_earth_name(name)


def test_a_capacitor_without_a_value_leaves_the_bridge_without_one() -> None:
    assert one("C1 GNDA GNDB {nobody}\n").value is None


def test_capacitors_to_a_declared_simulation_ground_cross_nothing() -> None:
    facts = SIDES + '[reading]\nsimulation_ground = "0"\n'
    assert bridges("C1 GNDA 0 1n\nC2 0 GNDB 1n\n", facts) == []


def test_capacitors_that_exist_in_the_simulation_only_cross_nothing() -> None:
    facts = SIDES + '[reading]\nsimulation_only = ["CX*"]\n'
    assert bridges("CX1 GNDA GNDB 1n\nR1 GNDA x 1\n", facts) == []


def test_a_bridge_over_a_long_chain_of_coils_is_found_in_linear_time() -> None:
    count = 6000
    # Joined from the far end, each coil puts a new root above all that were joined before it.
    coils = [f"L{number} n{number} n{number + 1} 1u" for number in reversed(range(count - 1))]
    legs = [f"R{side}{n} n{n} GND{side} 10meg" for side in "AB" for n in range(count)]
    limit = SIDES + '[limits]\ninsulating_resistance = "1 kohm"\n'
    start = time.process_time()
    (found,) = sides_of("\n".join((*legs[:count], *coils, *legs[count:])), limit)[1].bridges
    assert found.value == pytest.approx(2e7 / count)
    assert time.process_time() - start < 1.0


@given(st.integers(0, 100_000))
def test_capacitances_equal_the_laplacian_of_the_unreduced_graph(seed: int) -> None:
    """The effective capacitance between two sides, from the whole graph by networkx."""
    chance = random.Random(seed)
    nets = ["GNDA", "GNDB", *(f"m{number}" for number in range(chance.randrange(1, 5)))]
    graph = networkx.MultiGraph()
    cards = ["R1 GNDA x 1", "R2 GNDB y 1"]
    for number in range(chance.randrange(2, 12)):
        first, second = chance.sample(nets, 2)
        farads = chance.choice([1e-9, 2e-9, 4.7e-9])
        cards.append(f"C{number} {first} {second} {farads}")
        graph.add_edge(first, second, weight=farads)
    _, separation = sides_of("\n".join(cards), SIDES)
    found = math.fsum(bridge.value or 0.0 for bridge in separation.bridges)
    if not (graph.has_node("GNDA") and graph.has_node("GNDB") and networkx.has_path(graph, "GNDA", "GNDB")):
        assert found == 0.0
        return
    whole = graph.subgraph(networkx.node_connected_component(graph, "GNDA")).copy()
    wanted = 1.0 / networkx.resistance_distance(whole, "GNDA", "GNDB", weight="weight", invert_weight=False)
    assert found == pytest.approx(wanted, rel=1e-6)


@given(st.integers(0, 100_000))
def test_splitting_a_capacitor_into_two_in_series_changes_no_value(seed: int) -> None:
    chance = random.Random(seed)
    nets = ["GNDA", "GNDB", "m1", "m2"]
    cards, split = ["R1 GNDA x 1", "R2 GNDB y 1"], ["R1 GNDA x 1", "R2 GNDB y 1"]
    for number in range(chance.randrange(1, 8)):
        first, second = chance.sample(nets, 2)
        cards.append(f"C{number} {first} {second} 1n")
        split += [f"C{number} {first} s{number} 2n", f"C{number}x s{number} {second} 2n"]
    plain = [bridge.value for bridge in sides_of("\n".join(cards), SIDES)[1].bridges]
    other = [bridge.value for bridge in sides_of("\n".join(split), SIDES)[1].bridges]
    assert sum(value or 0 for value in plain) == pytest.approx(sum(value or 0 for value in other))

"""Joins of random boards with planted bridges against networkx on the unreduced graph of nets and elements."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import networkx
from hypothesis import given
from hypothesis import strategies as st

from isolint.interfaces.references import facing_groups
from isolint.interfaces.sides import dump
from tests.interfaces.boards import (
    BOARD,
    SIDES,
    joins_of,
    recognise_by_name,
    sides_of,
    tangle,
)


def planted(seed: int) -> list[tuple[str, tuple[str, ...]]]:
    """Random elements on nets of two sides, and random ones between."""
    chance = random.Random(seed)
    nets = ["GNDA", "GNDB", *(f"n{number}" for number in range(chance.randrange(3, 9)))]
    cards: list[tuple[str, tuple[str, ...]]] = []
    for number in range(chance.randrange(3, 18)):
        pins = tuple(chance.sample(nets, chance.choice([2, 2, 2, 3])))
        cards.append((f"{'D' if len(pins) == 2 else 'X'}{number}", pins))
    return cards


@given(st.integers(0, 100_000))
def test_paths_and_cuts_equal_networkx_on_the_bipartite_graph(seed: int) -> None:
    elements = planted(seed)
    cards = [f"{name} {' '.join(pins)} {'DX' if name[0] == 'D' else 'DEMO_OPAMP'}" for name, pins in elements]
    graph = networkx.Graph()
    flow = networkx.DiGraph()
    graph.add_nodes_from(["GNDA", "GNDB"])
    flow.add_nodes_from(["GNDA", "GNDB"])
    for name, pins in elements:
        flow.add_edge(("in", name), ("out", name), capacity=1)
        for pin in pins:
            graph.add_edge(name, pin)
            flow.add_edge(pin, ("in", name))
            flow.add_edge(("out", name), pin)
    facts = '[sides.a]\nnets = ["GNDA"]\n[sides.b]\nnets = ["GNDB"]\n'
    circuit, separation = sides_of("\n".join([*cards, "C0 GNDA GNDB 1n", ".model DX D"]), facts)
    if not networkx.has_path(graph, "GNDA", "GNDB"):
        assert not separation.joins
        return
    (join,) = separation.joins
    assert len(join.cut) == networkx.minimum_cut_value(flow, "GNDA", "GNDB")
    assert len(join.path) * 2 == networkx.shortest_path_length(graph, "GNDA", "GNDB")
    names = [circuit.net_name(join.path[0].net_in)]
    for step in join.path:
        assert step.net_in in circuit.pins(step.element) and step.net_out in circuit.pins(step.element)
        assert circuit.net_name(step.net_in) == names[-1]
        names.append(circuit.net_name(step.net_out))
    assert (names[0], names[-1]) == ("GNDA", "GNDB")
    graph.remove_nodes_from([circuit.path(element) for element in join.cut])
    assert not networkx.has_path(graph, "GNDA", "GNDB")


@given(st.integers(0, 100_000))
def test_removing_the_cut_leaves_a_board_without_that_join(seed: int) -> None:
    chance = random.Random(seed)
    # Nets that three elements hold to their side, so that no smaller set than the strays separates them.
    field, logic = ["GNDF", "V24F", "RLYB"], ["GND", "V3V3", "DI1"]
    strays = [
        f"R9{number} {chance.choice(field)} {chance.choice(logic)} {chance.choice(['0', '1', '4k7', '470k', '3meg'])}"
        for number in range(chance.randrange(1, 4))
    ]
    circuit, separation = sides_of(BOARD + "\n".join(strays) + "\n", SIDES)
    assert len(separation.joins) <= 1
    cut = {circuit.path(element) for join in separation.joins for element in join.cut}
    assert cut <= {card.split()[0] for card in strays}
    rest = [card for card in strays if card.split()[0] not in cut]
    assert joins_of(BOARD + "\n".join(rest) + "\n", SIDES) == []
    conductance = math.fsum(1.0 / (bridge.value or math.inf) for bridge in separation.bridges)
    assert conductance < 1.0 / 1e6 * (1 + 1e-9)


# -- nothing passes in silence, nothing depends on chance ----------------------------------------------------------


@given(st.integers(0, 1_000_000))
def test_groups_that_face_each_other_on_one_island_are_never_passed_over(seed: int) -> None:
    circuit, separation = sides_of(*tangle(seed))
    recognition = recognise_by_name(circuit)
    named = {coupler for join in separation.joins for coupler in join.couplers}
    for part in recognition.parts.values():
        if part.type in ("relay", "transformer"):
            continue
        pins = circuit.pins(part.element)
        pairs, _ = facing_groups(part)
        for pair in pairs:
            one, other = ({pins[pin] for pin in part.groups[group]} for group in pair)
            if not one.isdisjoint(other):
                assert part.path in named


@given(st.integers(0, 1_000_000))
def test_what_is_shown_apart_is_apart(seed: int) -> None:
    circuit, separation = sides_of(*tangle(seed))
    assert len({side.name for side in separation.sides}) == len(separation.sides)
    for barrier in separation.barriers:
        assert barrier.sides[0] != barrier.sides[1]
    for join in separation.joins:
        assert join.cut or join.shared_net >= 0 or any(step.element < 0 for step in join.path)
        assert join.subject
        for before, after in pairwise(join.path):
            assert before.net_out == after.net_in
    assert bool(dump(separation, circuit)) == bool(separation.sides or separation.notes)

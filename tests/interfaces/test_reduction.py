"""Subcircuits that are placed several times are summarised; everything found is as without it."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from isolint.interfaces.conduction import conduct
from isolint.interfaces.reduction import reduce
from isolint.interfaces.references import named_nets
from isolint.interfaces.sides import dump, find_sides
from tests.interfaces.boards import KINDS, SIDES, circuit_of, facts_of, recognise_by_name

INNER: tuple[str, ...] = (
    "R {} {} 0",
    "R {} {} 4k7",
    "R {} {} 4k7",
    "R {} {} 3meg",
    "R {} {} {{r}}",
    "L {} {} 1u",
    "C {} {} 1n",
)
INNER += ("C {} {} 1n", "C {} {} 1n Rpar=1meg", "D {} {} DX", "V {} {} 0", "V {} {} 5", "I {} {} 1m", "Q {} {} {} NX")
INNER += ("E {} {} {} {} 2", "B {} {} V=V({},{})", "X {} {} {} DEMO_MCU", "X {} {} {} DEMO_WHAT")
COUPLERS = tuple(f"X {'{} ' * len(KINDS[name][1])}{name}" for name in ("DEMO_PT", "DEMO_LO", "DEMO_IS", "DEMO_XFMR"))
FACTS = (
    '[supplies.V24F]\nvoltage = "24 V"\nground = "GNDF"\n',
    '[supplies."X*.n1"]\nvoltage = "5 V"\nground = "GND"\n',
    '[supplies."X2.n2"]\nvoltage = "5 V"\n',
    '[outputs."*n3"]\nsupply = "V3V3"\n[supplies.V3V3]\nvoltage = "3.3 V"\nground = "GND"\n',
    '[reading]\nsimulation_only = ["R1"]\n',
    '[reading]\nsimulation_only = ["X1.*2"]\n',
    '[reading]\nsimulation_ground = "0"\n',
    '[sides.inner]\nnets = ["X1.n4"]\n',
    '[sides.inner]\nnets = ["*.n5"]\n',
)


def cards(chance: random.Random, shapes: list[str], nets: list[str], count: int) -> list[str]:
    found = []
    for number in range(count):
        letter, rest = chance.choice(shapes).split(" ", 1)
        pins = [chance.choice(nets) for _ in range(rest.replace("{{", "").count("{}"))]
        found.append(f"{letter}{number} {rest.format(*pins)}")
    return found


def hierarchy(seed: int) -> tuple[str, str]:
    """Two definitions, one of which calls the other, each placed several times on two sides; and random facts.

    Half of them are sound in what crosses: then each block lies on one side but for its couplers.
    """
    chance = random.Random(seed)
    ports = ["p0", "p1", "p2"]
    inner = [*ports, *(f"n{number}" for number in range(chance.randrange(2, 7))), chance.choice(["n7", "GNDI", "GND"])]
    text = [".subckt A p0 p1 p2 r=1k", *cards(chance, [*INNER[:9]] * 2 + [*INNER], inner, chance.randrange(2, 14))]
    if chance.random() < 0.5:
        text.append(f"XU9 {' '.join(chance.choice(inner) for _ in range(4))} DEMO_PT")
    text += [".ends", ".subckt B p0 p1 p2 r=1k", *cards(chance, [*INNER[:9]], inner, chance.randrange(1, 8))]
    text += [f"XA{n} {' '.join(chance.choice(inner) for _ in ports)} A" for n in range(chance.randrange(3))]
    text.append(".ends")
    sides = (["GND", "V3V3", "a0", "a1"], ["GNDF", "V24F", "b0", "b1"])
    for number in range(chance.randrange(2, 7)):
        own = chance.choice(sides)
        nets = own if chance.random() < 0.9 else [*sides[0], *sides[1], "0"]
        pins = " ".join(chance.choice(nets) for _ in ports)
        text.append(f"X{number} {pins} {chance.choice('AAB')} r={chance.choice(['1k', '0', '2meg'])}")
    for own in sides:
        text += [card.replace(" ", f"{own[0]} ", 1) for card in cards(chance, [*INNER[:4], INNER[6]], own, 3)]
    for number in range(chance.randrange(3)):
        coupler = chance.choice(COUPLERS)[2:]
        half = coupler.count("{}") // 2
        pins_of = [chance.choice(sides[0]) for _ in range(half)] + [chance.choice(sides[1]) for _ in range(9)]
        text.append(f"XU{number} {coupler.format(*pins_of)}")
    stated = SIDES if chance.random() < 0.5 else ""
    return "\n".join([*text, ".model DX D", ".model NX NPN"]), stated + chance.choice(["", "", *FACTS])


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 10**9))
def test_a_summary_of_each_definition_finds_what_every_element_does(seed: int) -> None:
    text, stated = hierarchy(seed)
    circuit, facts = circuit_of(text), facts_of(stated)
    recognition = recognise_by_name(circuit)
    short = find_sides(circuit, facts, recognition)
    plain = find_sides(circuit, facts, recognition, reduced=False)
    assert dump(short, circuit) == dump(plain, circuit)
    assert short.bridges == plain.bridges
    assert [len(side.nets) for side in short.sides] == [len(list(side.nets)) for side in plain.sides]
    assert dict(short.side_of_net) == dict(plain.side_of_net)
    assert len(short.side_of_net) == len(dict(plain.side_of_net))


BLOCK = """
.subckt DEMO_BLOCK vcc gnd
R1 vcc n1 1k
R2 n1 n2 1k
L1 n2 n3 1u
C1 n3 gnd 100n
D1 n2 n4 DX
R3 n4 n1 3meg
.ends
.model DX D
V1 VCC GND 5
V2 VCCF GNDF 5
XU1 VCC GND VCCF GNDF DEMO_PT
"""


def links_of(text: str, facts: str = "") -> tuple[int, int]:
    """How many links are looked at, with and without regions that turned out to hang on several islands."""
    circuit, stated = circuit_of(text), facts_of(facts)
    recognition = recognise_by_name(circuit)
    reduction = reduce(circuit, recognition, (), named_nets(circuit, stated), -1)
    assert reduction is not None
    return len(conduct(circuit, recognition, frozenset(), -1, reduction.elements)), len(
        conduct(circuit, recognition, frozenset())
    )


def test_what_hangs_on_one_supply_is_looked_at_once() -> None:
    few, all_of_them = links_of(BLOCK + "\n".join(f"X{number} VCC GND DEMO_BLOCK" for number in range(50)))
    assert (few, all_of_them) == (4, 4 + 50 * 5)


def test_a_capacitor_out_of_a_summarised_block_to_another_side_is_a_bridge() -> None:
    text = BLOCK + "X1 VCC GNDF DEMO_BLOCK\nX2 VCC GND DEMO_BLOCK\n"
    circuit = circuit_of(text)
    (bridge,) = find_sides(circuit, facts_of(""), recognise_by_name(circuit)).bridges
    assert ([circuit.path(element) for element in bridge.elements], bridge.value) == (["X1.C1"], 1e-7)


def test_a_block_that_joins_two_sides_is_looked_at_element_by_element() -> None:
    text = BLOCK.replace("C1 n3 gnd 100n", "R4 n3 gnd 1k") + "X1 VCC GNDF DEMO_BLOCK\nX2 VCC GND DEMO_BLOCK\n"
    circuit = circuit_of(text)
    (join,) = find_sides(circuit, facts_of(""), recognise_by_name(circuit)).joins
    assert [circuit.path(step.element) for step in join.path][-1] == "X1.R4"

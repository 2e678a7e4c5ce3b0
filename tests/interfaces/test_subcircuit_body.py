from __future__ import annotations

import pytest

from isolint.interfaces.subcircuit_body import PortStructure, says_nothing, structure
from isolint.netlist import read
from isolint.source import MemoryTree

MODELS = ".model DLED D(IS=1f N=2)\n.model QDET NPN(BF=400)\n"


def of(ports: str, body: str, rest: str = "") -> PortStructure:
    """The structure of one subcircuit with these ports and this body."""
    text = f"title\n.subckt part {ports}\n{body}\n{MODELS}.ends\n{rest}\n"
    cards = read(MemoryTree({"board.cir": text}), "board.cir")
    found = cards.find_subcircuit("part", 0)
    assert found is not None
    return structure(cards, found)


LIT = "D1 A N DLED\nV1 N K 0\n"
SENSED = LIT + "F1 C B V1 2m\nQ1 C B E QDET"


def test_led_and_detector_fall_into_two_groups_with_their_pins() -> None:
    assert of("A K C E", SENSED) == PortStructure(
        groups=((0, 1), (2, 3)), leds=((0, 1),), transistors=((2, -1, 3),), reached=((0, 1),), senses=True
    )


@pytest.mark.parametrize(
    ("how", "body"),
    [
        ("sense, H to node 0, RC, G", LIT + "H1 P 0 V1 1k\nR1 P Q 1k\nC1 Q 0 1p\nG1 C B Q 0 1m\nQ1 C B E QDET"),
        ("B on I(source)", "D1 A N DLED\nV1 N K 0\nB1 C B I=I(V1)*0.01\nQ1 C B E QDET"),
        ("G by value", "D1 A N DLED\nV1 N K 0\nG1 C B VALUE={0.01*I(V1)}\nQ1 C B E QDET"),
        ("voltage across a resistor", "D1 A N DLED\nR1 N K 1\nG1 C B N K 1m\nQ1 C B E QDET"),
        ("current switch", "D1 A N DLED\nV1 N K 0\nW1 C E V1 WM"),
        ("voltage switch on the pins", "D1 A K DLED\nS1 C E A K SM"),
        ("current of the diode itself", "D1 A K DLED\nB1 C B I=I(D1)*0.01\nQ1 C B E QDET"),
    ],
)  # fmt: skip
def test_light_is_followed_however_it_is_carried(how: str, body: str) -> None:
    found = of("A K C E", body)
    assert (found.groups, found.leds, bool(found.reached)) == (((0, 1), (2, 3)), ((0, 1),), True), how


def test_only_a_sensed_current_of_the_led_counts_as_sensing() -> None:
    assert not of("A K C E", "D1 A N DLED\nR1 N K 1\nG1 C B N K 1m\nQ1 C B E QDET").senses
    clamped = "D1 P M DLED\nD2 M P DLED\nR1 P M 1meg\nE1 X 0 P M 1e5\nR2 X OUT 50\n"
    clamped += "V1 VP Y 0\nF1 OUT 0 V1 1\nR3 Y VM 1k\nR4 OUT VP 1k"
    found = of("P M VP VM OUT", clamped)
    assert found.reached
    assert not found.senses


def test_leakage_isolation_capacitance_and_node_0_do_not_join() -> None:
    extra = "\nC9 A E 1p\nR9 K E 1e12\nR8 A 0 1k\nR7 C 0 1k\nK1 L1 L2 1"
    assert of("A K C E", SENSED + extra).groups == ((0, 1), (2, 3))


def test_a_resistance_given_by_a_default_of_the_header_counts_with_its_value() -> None:
    assert of("A K C E PARAMS: RISO=1e11", SENSED + "\nR9 A E {RISO}").groups == ((0, 1), (2, 3))
    assert of("A K C E PARAMS: RISO=100", SENSED + "\nR9 A E {RISO}").groups == ((0, 1, 2, 3),)


def test_a_port_called_0_is_a_port() -> None:
    found = of("A K C 0", "D1 A N DLED\nV1 N K 0V\nF1 C B V1 2m\nQ1 C B 0 QDET")
    assert found.groups == ((0, 1), (2, 3))
    assert found.transistors == ((2, -1, 3),)


def test_series_and_parallel_resistors_of_an_led_are_part_of_it() -> None:
    for extra in ("R1 A M 2.2k\nD1 M N DLED\nR2 A K 100k", "R1 A M 10\nD1 M N DLED\nR2 M K 50k"):
        found = of("A K C E", f"{extra}\nV1 N K 0\nF1 C B V1 2m\nQ1 C B E QDET")
        assert found.leds == ((0, 1),), extra


def test_a_reverse_diode_on_the_output_is_no_led() -> None:
    assert of("A K C E", SENSED + "\nD2 E C DLED").leds == ((0, 1),)


def test_an_input_for_alternating_current_has_a_diode_each_way() -> None:
    found = of("A1 A2 C E", "D1 A1 N DLED\nD2 N A1 DLED\nV1 N A2 0\nB1 C B I=abs(I(V1))\nQ1 C B E QDET")
    assert set(found.leds) == {(0, 1), (1, 0)}
    assert found.is_bidirectional((0, 1))


def test_a_darlington_is_two_transistors_in_a_chain() -> None:
    chain = "D1 A N DLED\nV1 N K 0\nF1 C B V1 1\nQ1 C B M QDET\nQ2 C M E QDET"
    assert of("A K C E", chain).darlington
    assert not of("A K C E", SENSED).darlington
    assert not of("A K C E", SENSED + "\nQ2 C C E QDET").darlington


def test_a_base_pin_is_found_through_wires() -> None:
    assert of("A K C B E", "D1 A N DLED\nV1 N K 0\nF1 C X V1 2m\nR1 B X 10\nQ1 C X E QDET").transistors == ((2, 3, 4),)


DUAL = "D1 A1 N1 DLED\nV1 N1 K1 0\nF1 C1 B1 V1 2m\nQ1 C1 B1 E1 QDET\n"
DUAL += "D2 A2 N2 DLED\nV2 N2 K2 0\nF2 C2 B2 V2 2m\nQ2 C2 B2 E2 QDET"


def test_each_led_of_a_dual_part_is_followed_to_its_own_output() -> None:
    found = of("A1 K1 K2 A2 E2 C2 C1 E1", DUAL)
    assert found.groups == ((0, 1), (2, 3), (4, 5), (6, 7))
    assert found.leds == ((0, 1), (3, 2))
    assert found.pairing() == (((0, 1), (6, 7)), ((2, 3), (4, 5)))


def test_outputs_that_share_a_supply_are_not_paired() -> None:
    body = "D1 A1 N1 DLED\nV1 N1 K1 0\nF1 VCC O1 V1 1\nR1 O1 G 1k\nR3 VCC G 1k\n"
    body += "D2 A2 N2 DLED\nV2 N2 K2 0\nF2 VCC O2 V2 1\nR2 O2 G 1k"
    found = of("A1 K1 A2 K2 VCC O1 O2 G", body)
    assert found.reached
    assert found.pairing() == ()


def test_nested_subcircuits_are_looked_into() -> None:
    body = "X1 A K C E core"
    core = f".subckt core 1 2 3 4\nD1 1 N DLED\nV1 N 2 0\nF1 3 B V1 2m\nQ1 3 B 4 QDET\n{MODELS}.ends"
    assert of("A K C E", body, core).leds == ((0, 1),)


@pytest.mark.parametrize(
    ("what", "ports", "body"),
    [
        ("op-amp", "P M VP VM OUT", "R1 P M 1meg\nE1 X 0 P M 1e5\nR2 X OUT 50\nR4 OUT VP 1k\nR5 VP VM 10k"),
        ("two gates", "1 2 3 4 5 6", "E1 3 0 1 2 1\nE2 6 0 4 5 1"),
        ("two diodes", "1 2 3 4", "D1 1 2 DLED\nD2 3 4 DLED"),
        ("transformer", "1 2 3 4", "L1 1 2 1m\nL2 3 4 1m\nK1 L1 L2 1"),
        ("relay", "C1 C2 COM NO", "R1 C1 C2 100\nS1 COM NO C1 C2 SM"),
    ],
)  # fmt: skip
def test_other_parts_are_not_like_couplers(what: str, ports: str, body: str) -> None:
    assert not of(ports, body).reached, what


def test_windings_of_a_transformer_are_groups() -> None:
    assert of("1 2 3 4 5", "L1 1 2 1m\nL2 3 4 1m\nL3 4 5 1m\nK1 L1 L2 L3 1").groups == ((0, 1), (2, 3, 4))


def test_a_body_that_unfolds_too_far_tells_nothing() -> None:
    lines = []
    for level in range(6):
        lines += [f".subckt s{level} 1 2", *(f"X{n} 1 2 s{level + 1}" for n in range(10)), ".ends"]
    rest = "\n".join([*lines, ".subckt s6 1 2", "R1 1 2 1k", ".ends"])
    assert of("A K C E", "X1 A K s0", rest) == PortStructure(((0, 1, 2, 3),))


@pytest.mark.parametrize(
    ("ports", "body", "silent"),
    [
        ("1 2 3 4", "R1 1 0 1G\nR2 2 0 1G\nC3 3 0 1p", True),
        ("1 2 3 4", "R1 1 0 1G\nC3 1 3 1p", False),
        ("1 2 3 4", "D1 1 0 DLED", False),
        ("1 2 3", "R1 1 0 1G", False),
        ("1 2 3 0", "R1 1 0 1k", False),
    ],
)
def test_a_body_that_hangs_resistors_on_its_ports_alone_says_nothing(ports: str, body: str, silent: bool) -> None:
    cards = read(MemoryTree({"board.cir": f"title\n.subckt part {ports}\n{body}\n.ends\n"}), "board.cir")
    found = cards.find_subcircuit("part", 0)
    assert found is not None
    assert says_nothing(cards, found) is silent

"""Barrier parts without an LED by the name of the part, the names of its ports and its structure together."""

from __future__ import annotations

import pytest

from tests.interfaces.finding import board

BODIES = {
    "DEMO_RELAY": ("coil1 coil2 com no", "R1 coil1 coil2 1k\nS1 com no coil1 coil2 SM\n.model SM SW", "relay"),
    "DEMO_XFMR": ("p1 p2 s1 s2", "F1 p1 p2 VS 0.1\nVS s1 x 0\nE1 x s2 p1 p2 0.1", "transformer"),
    "DEMO_DCDC": ("+IN -IN +OUT 0V", "RI +IN -IN 500\nE1 +OUT 0V +IN -IN 1\nC1 -IN 0V 9p", "isolated-supply"),
    "DEMO_DIGISOL": (
        "vdd1 in gnd1 vdd2 out gnd2",
        "R1 vdd1 gnd1 1k\nR2 in gnd1 1meg\nE1 out gnd2 in gnd1 1\nR3 vdd2 gnd2 1k",
        "digital-isolator",
    ),
}


def placed(name: str, ports: str, body: str, called: str = "") -> dict[str, str]:
    nets = " ".join(f"N{number}" for number, _ in enumerate(ports.split()))
    text = f"X1 {nets} {called or name}\n.subckt {called or name} {ports}\n{body}\n.ends\n"
    return board(text).kinds()


@pytest.mark.parametrize("name", BODIES)
def test_name_ports_and_structure_together_tell_a_barrier_part(name: str) -> None:
    ports, body, kind = BODIES[name]
    assert placed(name, ports, body) == {"X1": kind}


@pytest.mark.parametrize("name", ["DEMO_DCDC", "DEMO_DIGISOL"])
def test_structure_and_ports_without_the_name_do_not(name: str) -> None:
    ports, body, _ = BODIES[name]
    assert placed(name, ports, body, called="DEMO_X9") == {}


@pytest.mark.parametrize("name", BODIES)
def test_a_body_that_joins_two_groups_does_not(name: str) -> None:
    ports, body, _ = BODIES[name]
    first, last = ports.split()[0], ports.split()[-1]
    assert placed(name, ports, f"{body}\nR9 {first} {last} 10k") == {}


def test_a_coil_that_moves_a_contact_is_a_relay_by_its_structure() -> None:
    assert placed("DEMO_X9", "1 2 3 4", "R1 1 2 1k\nS1 3 4 1 2 SM\n.model SM SW") == {"X1": "relay"}


def test_an_input_pin_that_its_model_leaves_open_belongs_to_its_side() -> None:
    ports, body, _ = BODIES["DEMO_DIGISOL"]
    found = board(f"X1 a b c d e f DEMO_DIGISOL\n.subckt DEMO_DIGISOL {ports}\n{body}\n.ends\n")
    (part,) = found.recognition.parts.values()
    assert part.groups == ((0, 1, 2), (3, 4, 5))


def test_a_converter_with_one_ground_is_no_barrier_part() -> None:
    assert placed("DEMO_DCDC", "vin en gnd vout", "E1 vout gnd vin gnd 1\nR1 vin gnd 1k\nR2 en gnd 1k") == {}


def test_a_gate_driver_isolates_nothing_by_its_name() -> None:
    ports = "vdd1 in gnd1 vdd2 out gnd2"
    assert placed("DEMO_GATEDRIVER", ports, BODIES["DEMO_DIGISOL"][1]) == {}

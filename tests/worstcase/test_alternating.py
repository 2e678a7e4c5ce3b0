"""Moving sources and capacitors that drop alternating voltage."""

from __future__ import annotations

import pytest

from isolint.checking.context import Context
from isolint.preparing import prepare
from isolint.source import MemoryTree
from isolint.worstcase.alternating import dropping_capacitors, high_share, reactance, stimulus_ends
from isolint.worstcase.uncertain import Lacking


def prepared(netlist: str, facts: str = "") -> Context:
    """The context of a netlist in memory."""
    files = {"board.cir": f"* test\n{netlist}", "isolint.toml": f"top = true\n{facts}"}
    context: Context = prepare(MemoryTree(files), "board.cir", "")[0]
    return context


@pytest.mark.parametrize(("hertz", "ohms"), [(60.0, 8.04e3), (50.0, 9.65e3)])
def test_the_reactance_of_a_published_dropper(hertz: float, ohms: float) -> None:
    """Published inputs and results of key `mains-detector-discussion`: 0.33 uF at 60 Hz and 50 Hz."""
    assert reactance(hertz, 0.33e-6) == pytest.approx(ohms, rel=0.01)


@pytest.mark.parametrize(
    ("source", "ends"),
    [
        ("PULSE(0 5 0 1n 1n 1m 2m)", (0.0, 5.0)),
        ("PULSE(5 -1 0 1n 1n 1m 2m)", (-1.0, 5.0)),
        ("PWL(0 1 1m 4 2m -2)", (-2.0, 4.0)),
        ("SIN(1 10 50)", (-9.0, 11.0)),
    ],
)
def test_the_extremes_of_a_moving_source(source: str, ends: tuple[float, float]) -> None:
    circuit = prepared(f"V1 A 0 {source}\nR1 A 0 1k\n").circuit
    element = circuit.find("V1")
    assert element is not None
    assert stimulus_ends(circuit, element) == ends


def test_a_source_whose_extremes_its_card_does_not_tell_is_lacking() -> None:
    circuit = prepared("V1 A 0 SFFM(0 1 10k 5 1k)\nR1 A 0 1k\n").circuit
    element = circuit.find("V1")
    assert element is not None
    with pytest.raises(Lacking):
        stimulus_ends(circuit, element)


@pytest.mark.parametrize(
    ("source", "high", "share"),
    [
        ("PULSE(0 5 0 10u 10u 80u 1m)", True, 0.1),
        ("PULSE(0 5 0 10u 10u 80u 1m)", False, 0.92),
        ("PULSE(5 0 0 10u 10u 80u 1m)", True, 0.92),
        ("PULSE(5 0 0 10u 10u 80u 1m)", False, 0.1),
        ("PULSE(0 5)", True, 1.0),
    ],
)
def test_the_share_of_time_at_a_level_counts_the_edges(source: str, high: bool, share: float) -> None:
    circuit = prepared(f"V1 A 0 {source}\nR1 A 0 1k\n").circuit
    element = circuit.find("V1")
    assert element is not None
    assert high_share(circuit, element, high) == pytest.approx(share)


AC = '[supplies."L"]\nvoltage = "230 V"\nkind = "ac"\nfrequency = "50 Hz"\nground = "N"\n'


def test_a_capacitor_before_the_rectifier_drops_and_one_behind_it_stores() -> None:
    netlist = "C1 L B 100n\nD1 B P DX\nD2 N B DX\nC2 P N 10u\nR1 P A 1k\nXU1 A N GNDB OUT DEMO_PT1\n.model DX D\n"
    context = prepared(netlist, AC)
    channel = context.channels[0]
    found = dropping_capacitors(context.lookup, channel.drive)
    assert {context.circuit.path(element): hertz for element, hertz in found.items()} == {"C1": 50.0}


def test_a_capacitor_in_a_network_without_alternating_source_drops_nothing() -> None:
    context = prepared("V1 L N PULSE(0 5 0 1n 1n 1m 2m)\nR1 L A 1k\nC1 A N 100n\nXU1 A N GNDB OUT DEMO_PT1\n")
    assert dropping_capacitors(context.lookup, context.channels[0].drive) == {}

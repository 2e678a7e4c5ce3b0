"""Random load networks against scipy, with equations of keys `spice-1973` and `shichman-hodges-1968`."""

from __future__ import annotations

import random

import pytest

from isolint.worstcase import network as n
from isolint.worstcase.solve import solve
from tests.worstcase.networks import NetworkBuilder
from tests.worstcase.reference import operating_point

SHAPES = ("pull-up", "follower", "transistor on", "transistor off", "gate", "next LED")


def load_network(seed: int) -> n.BranchNetwork:
    """A supply, what feeds the output, a current in place of the output, and what reads it."""
    rng = random.Random(seed)
    b = NetworkBuilder(rng)
    volts = rng.choice([3.3, 5.0, 12.0, 24.0])
    top, shape = b.supply(volts), SHAPES[seed % len(SHAPES)]
    collector, emitter = b.node("C"), b.node("E")
    follows = shape in ("follower", "transistor on", "gate") and rng.random() < 0.7
    if follows:
        b.resistor(top, collector, 1.0, 1e3)
        b.resistor(emitter, 0, 1e3, 1e5)
        read, loop = emitter, 1e3
    else:
        b.resistor(top, collector, 1e3, 1e5)
        b.resistor(emitter, 0, 1.0, 100.0)
        read, loop = collector, 1e3
    b.branches.append(n.CurrentSource(b.name("I"), collector, emitter, rng.uniform(0.0, 0.5) * volts / loop / 20))
    b.resistor(read, 0, 1e6, 1e7)
    if shape.startswith("transistor"):
        base, switched = b.node(), b.node()
        b.resistor(read, base, 1e3, 47e3)
        b.resistor(base, 0, 1e4, 1e5)
        b.resistor(top, switched, 300.0, 3e3)
        b.bipolar(switched, base, 0, 1)
    elif shape == "gate":
        switched = b.node()
        b.resistor(top, switched, 100.0, 1e4)
        b.mos(switched, read, 0, 1)
    elif shape == "next LED":
        anode = b.node()
        b.resistor(read, anode, 100.0, 1e3)
        b.led(anode, 0)
    if rng.random() < 0.5:
        b.diode(0, read)
    return b.done()


@pytest.mark.parametrize("first", range(0, 126, 6))
def test_random_load_networks_agree_with_scipy(first: int) -> None:
    for seed in range(first, first + len(SHAPES)):
        load, temperature = load_network(seed), [-20.0, 25.0, 85.0][seed % 3]
        found = solve(load, temperature)
        assert found.residual <= 1e-9, seed
        volts, currents = operating_point(load, temperature, found, seed)
        for name, amps in currents.items():
            assert found.current(name) == pytest.approx(amps, rel=1e-3, abs=1e-11), (seed, name)
        assert found.voltages == pytest.approx(volts, rel=1e-3, abs=1e-6), seed


def test_their_receivers_are_driven_both_ways() -> None:
    points = [(load_network(seed), solve(load_network(seed), 25.0)) for seed in range(126)]
    bases = [
        p.current(q.name, "collector") for net, p in points for q in net.branches if isinstance(q, n.BipolarBranch)
    ]
    leds = [p.current(led.name) for net, p in points for led in net.branches if isinstance(led, n.LedBranch)]
    for amps in (bases, leds):
        assert sum(value > 1e-4 for value in amps) > 3
    assert sum(value < 1e-6 for value in bases) > 3

"""Fifty random channels through the main job: exhaustive vertices, samples, and scipy on equations written here."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import dataclass

import pytest
from scipy.optimize import brentq

from isolint.worstcase.devices import thermal_voltage
from isolint.worstcase.drive import Drive
from isolint.worstcase.solve import solve
from isolint.worstcase.uncertain import WORST
from tests.worstcase.boards import FACTS, PART, board, drive

SEEDS = range(50)
TWO = "XU1 A M OUT GNDB DEMO_A\nXU2 M GND OUT2 GNDB DEMO_A\n"
SINK = "XU1 A K OUT GNDB DEMO_A\n"


@dataclass(frozen=True)
class Random:
    """A random channel: its netlist and facts."""

    netlist: str
    facts: str


def preferred(rng: random.Random, low: float, high: float) -> str:
    return f"{low * (high / low) ** rng.random():.3g}"


def channel_of(seed: int) -> Random:
    """One of eight kinds of drive in turn, with random values and spreads."""
    rng = random.Random(seed)
    r, r2, base = preferred(rng, 220, 3e3), preferred(rng, 2e3, 2e4), preferred(rng, 2e3, 1e4)
    kind = seed % 8
    models = (
        f".model QN NPN(IS=1e-14 BF={rng.randint(80, 300)} BR=2)\n.model "
        f"QP PNP(IS=1e-14 BF={rng.randint(80, 300)} BR=2)\n"
    )
    cards, coupler = {
        0: (f"R1 DRIVE A {r}", "XU1 A GND OUT GNDB DEMO_A\n"),
        1: (f"R1 V5 A {r}\nR2 A DRIVE {r2}", "XU1 A DRIVE OUT GNDB DEMO_A\n"),
        2: (f"R1 V5 A {r}\nR2 A GND {r2}", "XU1 A GND OUT GNDB DEMO_A\n"),
        3: (f"R1 V5 A {r}\nR3 DRIVE B {base}\nQ1 K B GND QN\n{models}", SINK),
        4: (f"Q1 N1 B V5 QP\nR3 B DRIVE {base}\nR1 N1 A {r}\n{models}", "XU1 A GND OUT GNDB DEMO_A\n"),
        5: (f"R1 V5 A {preferred(rng, 150, 600)}", TWO),
        6: (
            f"R1 V5 A {r}\nM1 K DRIVE GND GND MN\n"
            f".model MN NMOS(VTO={rng.uniform(0.8, 2):.3g} KP={rng.uniform(0.02, 1):.3g})",
            SINK,
        ),
        7: (
            f"R3 DRIVE B {base}\nQ1 K B E QN\nR2 E GND {preferred(rng, 100, 400)}\n{models}",
            "XU1 V5 K OUT GNDB DEMO_A\n",
        ),
    }[kind]
    load = "R9 VB OUT 10k\n" + ("R8 VB OUT2 10k\n" if kind == 5 else "")
    facts = FACTS.replace('tolerance = "1 %"', f'tolerance = "{rng.choice([1, 2, 5, 10])} %"')
    facts = facts.replace('["0 degC", "60 degC"]', f'["{rng.randint(-40, 10)} degC", "{rng.randint(40, 85)} degC"]')
    return Random(board(cards, load, coupler), facts)


def analysed(seed: int) -> Drive:
    made = channel_of(seed)
    return drive(made.netlist, made.facts)


def current(found: Drive, vector: tuple[float, ...], temperature: float) -> float:
    return solve(found.assembly.network(vector, temperature), temperature).current(found.led)


def room(*values: float) -> float:
    return 1e-6 * max(map(abs, values)) + 1e-10


@pytest.mark.parametrize("first", range(0, 50, 10))
def test_vertices_reach_the_ends_and_samples_never_leave_them(first: int) -> None:
    for seed in SEEDS[first : first + 10]:
        found = analysed(seed)
        ranges = found.assembly.ranges(WORST, 25.0)
        ends = [(r.low,) if r.low == r.high else (r.low, r.high) for r in ranges]
        rng = random.Random(1000 + seed)
        for row in found.by_temperature:
            values = [current(found, vector, row.temperature) for vector in itertools.product(*ends)]
            slack = room(row.low.value, row.high.value)
            assert row.low.value == pytest.approx(min(values), rel=1e-6, abs=slack), seed
            assert row.high.value == pytest.approx(max(values), rel=1e-6, abs=slack), seed
        low, high = found.by_temperature[0].temperature, found.by_temperature[-1].temperature
        slack = room(found.current.low.value, found.current.high.value)
        for _ in range(400):
            sample = current(found, tuple(rng.uniform(r.low, r.high) for r in ranges), rng.uniform(low, high))
            assert found.current.low.value - slack <= sample <= found.current.high.value + slack, seed


def test_each_end_is_what_its_corner_gives() -> None:
    for seed in SEEDS[:16]:
        found = analysed(seed)
        for bound in (found.current.low, found.current.high):
            _, point = found.point(bound)
            assert point.current(found.led) == pytest.approx(bound.value, rel=1e-6, abs=1e-12)


# -- equations written here ---------------------------------------------------------------------------------------


def forward(amps: float) -> float:
    """The typical LED at 25 degC: 1.2 V at 10 mA, n = 1.75, Rs = 3 ohm."""
    return 1.2 + 1.75 * thermal_voltage(25.0) * math.log(amps / 10e-3) + 3.0 * (amps - 10e-3)


@pytest.mark.parametrize("seed", range(10))
def test_nominal_currents_of_plain_chains_solve_their_equation(seed: int) -> None:
    """Supply, resistor, one or two LEDs, with and without a bleed resistor across them."""
    rng = random.Random(seed)
    r, bleed = float(preferred(rng, 150, 3e3)), float(preferred(rng, 1e3, 2e4))
    leds = rng.choice([1, 2])
    coupler, load = (
        (TWO, "R9 VB OUT 10k\nR8 VB OUT2 10k\n") if leds == 2 else ("XU1 A GND OUT GNDB DEMO_A\n", "R9 VB OUT 10k\n")
    )
    found = drive(board(f"R1 V5 A {r}\nR2 A GND {bleed}", load, coupler))

    def gap(amps: float) -> float:
        volts = leds * forward(amps)
        return (5.0 - volts) / r - volts / bleed - amps

    assert found.current.nominal == pytest.approx(brentq(gap, 1e-9, 0.1, xtol=1e-15), rel=1e-3)


def test_the_kinds_of_drive_are_all_lit() -> None:
    for seed in SEEDS[:8]:
        assert analysed(seed).current.high.value > 5e-4, seed
    assert PART

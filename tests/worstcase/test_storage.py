"""The volts of a storage capacitor against the same equations integrated by another program."""

from __future__ import annotations

import math
import random
from bisect import bisect_left

import pytest
from scipy.integrate import solve_ivp

from isolint.worstcase.storage import Settled, bounds

THERMAL = 0.02585
_POINTS = 1500


class Rectifier:
    """A rectifier with a resistor into a capacitor, and an LED behind another resistor, written from their devices."""

    def __init__(self, seed: int) -> None:
        draw = random.Random(seed)
        self.crest = draw.choice([24.0, 48.0, 120.0, 230.0]) * math.sqrt(2.0)
        self.halves = draw.random() < 0.5
        self.hertz = draw.choice([50.0, 60.0])
        scale = self.crest / 34.0
        self.before = 10.0 ** draw.uniform(2.0, 4.2) * scale
        self.behind = 10.0 ** draw.uniform(2.7, 4.0) * scale
        # Between a half and twenty periods.
        self.farads = draw.uniform(0.5, 20.0) / self.hertz / (self.before + self.behind)
        self.grid = [self.crest * step / _POINTS for step in range(_POINTS + 1)]
        junctions = 2 if self.halves else 1
        self.gets = [_through(u, self.before, junctions * 1.9 * THERMAL, 5e-9) for u in self.grid]
        self.gives = [_through(u, self.behind, 1.6 * THERMAL, 1e-15) for u in self.grid]

    def charging(self, volts: float) -> float:
        return self._of(self.gets, self.crest - volts)

    def taken(self, volts: float) -> float:
        return self._of(self.gives, volts)

    def _of(self, values: list[float], volts: float) -> float:
        if volts <= 0.0:
            return 0.0
        right = min(max(bisect_left(self.grid, volts), 1), _POINTS)
        share = (volts - self.grid[right - 1]) / (self.grid[right] - self.grid[right - 1])
        return values[right - 1] + share * (values[right] - values[right - 1])

    def found(self) -> Settled:
        return bounds(self.crest, self.charging, self.taken, self.farads, self.hertz, self.halves, 0.0)

    def settled(self, start: float) -> tuple[float, float]:
        """Integrated until a period comes back to itself."""
        seconds = (0.5 if self.halves else 1.0) / self.hertz

        def slope(t: float, u: list[float]) -> list[float]:
            volts = self.crest * math.sin(2.0 * math.pi * self.hertz * t)
            volts = abs(volts) if self.halves else volts
            return [(self._of(self.gets, volts - u[0]) - self._of(self.gives, u[0])) / self.farads]

        held = start
        for _ in range(400):
            done = solve_ivp(slope, (0.0, seconds), [held], max_step=seconds / 100, rtol=1e-7, atol=1e-7)
            moved, held = done.y[0, -1] - held, done.y[0, -1]
            if abs(moved) < 1e-7 * self.crest:
                break
        return min(done.y[0]), max(done.y[0])


def _through(volts: float, ohms: float, slope: float, saturation: float) -> float:
    """The current of a resistor with junctions in series."""
    low, high = 0.0, max(volts, 0.0) / ohms
    for _ in range(60):
        amps = (low + high) / 2.0
        if amps * ohms + slope * math.log1p(amps / saturation) > volts:
            high = amps
        else:
            low = amps
    return low


def held(seed: int) -> None:
    circuit = Rectifier(seed)
    found = circuit.found()
    low, high = circuit.settled((found.low + found.high) / 2.0)
    least, most = circuit.taken(found.low), circuit.taken(found.high)
    # Bounds on their sides (to what integration and interpolation leave), and not far from what is true.
    assert 0.8 * circuit.taken(low) - 1e-5 < least < 1.001 * circuit.taken(low)
    assert 0.999 * circuit.taken(high) < most < 1.06 * circuit.taken(high)


@pytest.mark.parametrize("seed", [0, 122])
def test_the_volts_of_a_storage_capacitor_are_bounds(seed: int) -> None:
    held(seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 130))
def test_the_volts_of_fresh_storage_capacitors_are_bounds(seed: int) -> None:
    held(seed)


def test_more_capacitance_never_lets_the_least_volts_fall() -> None:
    circuit = Rectifier(7)
    lows = []
    for factor in (1.0, 1.5, 3.0, 10.0):
        circuit.farads *= factor
        lows.append(circuit.found().low)
    assert lows == sorted(lows)

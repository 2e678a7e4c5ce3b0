"""What the iteration sees of a device is the device: its currents, and how they answer to each terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product

import pytest
from scipy.optimize import brentq

from isolint.worstcase.devices import Bipolar, Diode, Mos
from isolint.worstcase.junctions import BipolarCompanion, DiodeCompanion, MosCompanion, limited

Junction = DiodeCompanion | BipolarCompanion | MosCompanion
NODES = 4
STEP = 1e-6
Currents = Callable[[Sequence[float]], list[float]]


def stamped(companion: Junction, x: Sequence[float]) -> tuple[list[list[float]], list[float]]:
    """Conductances and currents out of the nodes, as the iteration gets them at the potentials `x`."""
    matrix = [[0.0] * NODES for _ in range(NODES)]
    residual, scale = [0.0] * NODES, [0.0] * NODES
    companion.stamp(x, matrix, residual, scale)
    return matrix, residual


def held_to_its_device(companion: Junction, state: tuple[float, ...], x: list[float], device: Currents) -> None:
    """Compare what is stamped with the device's own currents out of each node, and with their differences."""
    companion.restore(state, x)
    matrix, residual = stamped(companion, x)
    assert companion.mismatch == pytest.approx(0.0, abs=1e-12)
    assert residual == pytest.approx(device(x), rel=1e-9, abs=1e-15)
    for column in range(NODES):
        up, down = list(x), list(x)
        up[column] += STEP
        down[column] -= STEP
        slopes = [(one - other) / (2.0 * STEP) for one, other in zip(device(up), device(down), strict=True)]
        assert [row[column] for row in matrix] == pytest.approx(slopes, rel=1e-4, abs=1e-8)


@pytest.mark.parametrize("volts", [-5.2, -5.1, -1.0, 0.0, 0.3, 0.6])
@pytest.mark.parametrize("series", [0.0, 10.0])
def test_a_diode_carries_the_current_of_its_device(volts: float, series: float) -> None:
    device = Diode(IS=1e-12, N=1.2, RS=series, BV=5.1, IBV=1e-3)

    def amps(x: Sequence[float]) -> list[float]:
        def excess(junction: float) -> float:
            return junction + series * device.current(junction, 40.0) - (x[1] - x[2])

        found = device.current(brentq(excess, -5.5, 0.8, xtol=1e-15), 40.0)
        return [0.0, found, -found, 0.0]

    companion = DiodeCompanion(1, 2, device, 40.0)
    held_to_its_device(companion, (volts,), [0.0, volts + series * device.current(volts, 40.0), 0.0, 0.0], amps)
    assert companion.currents() == pytest.approx((device.current(volts, 40.0),), rel=1e-9, abs=1e-18)


@pytest.mark.parametrize("polarity", [1, -1])
@pytest.mark.parametrize(("vbe", "vbc"), list(product((-1.0, 0.4, 0.65), repeat=2)))
def test_a_transistor_carries_the_currents_of_its_device(polarity: int, vbe: float, vbc: float) -> None:
    device = Bipolar(IS=1e-14, BF=150.0, BR=3.0, NF=1.1, NR=1.2, polarity=polarity, XTB=1.5)

    def amps(x: Sequence[float]) -> list[float]:
        collector, base = device.currents(x[2] - x[3], x[2] - x[1], 40.0)
        return [0.0, collector, base, -collector - base]

    companion = BipolarCompanion(1, 2, 3, device, 40.0)
    x = [0.0, polarity * (vbe - vbc), polarity * vbe, 0.0]
    held_to_its_device(companion, (vbe, vbc), x, amps)
    assert companion.currents() == pytest.approx(amps(x)[1:], rel=1e-9, abs=1e-18)


@pytest.mark.parametrize("polarity", [1, -1])
@pytest.mark.parametrize(("vgs", "vds"), list(product((0.5, 2.0, 4.0), (-3.0, -0.5, 0.4, 3.0))))
def test_a_channel_carries_the_current_of_its_device(polarity: int, vgs: float, vds: float) -> None:
    device = Mos(VTO=polarity * 1.5, KP=0.02, LAMBDA=0.03, polarity=polarity)

    def amps(x: Sequence[float]) -> list[float]:
        found = device.current(x[2] - x[3], x[1] - x[3], 40.0)
        return [0.0, found, 0.0, -found]

    companion = MosCompanion(1, 2, 3, device, 40.0)
    x = [0.0, polarity * vds, polarity * vgs, 0.0]
    held_to_its_device(companion, (vgs, vds), x, amps)
    assert companion.currents() == pytest.approx(amps(x)[1:], rel=1e-9, abs=1e-18)


def test_a_junction_voltage_far_beyond_its_knee_rises_with_the_logarithm_only() -> None:
    width, critical = 0.026, 0.6
    assert limited(0.5, 0.1, width, critical) == 0.5
    assert limited(0.64, 0.62, width, critical) == 0.64
    assert 0.62 < limited(5.0, 0.62, width, critical) < 0.62 + width * 6
    assert limited(5.0, -1.0, width, critical) < width * 6
    assert limited(0.65, 3.0, width, critical) == critical

"""The margin of a level that a capacitor holds, against closed forms, exact integration and measured circuits."""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from isolint.worstcase import held

STEPS = 24


def pulled_up(volts: float, ohms: float, farads: float, level: float, least: float = 0.3) -> held.Form:
    """A pull-up with a capacitor across the output, and a receiver that wants its net at or below a level."""
    return held.Form(
        farads=farads, u_off=volts, g0=1.0 / ohms, alpha=1.0, p=0.0, q=1.0, r=0.0, least=least, e0=level, eu=-1.0,
        ei=0.0,
    )  # fmt: skip


def half_wave(crest: float, period: float, whole: bool = False) -> list[held.Step]:
    """Half waves of one way, or of both (rectified)."""
    angles = [math.pi * (k / STEPS - 0.5) for k in range(STEPS + 1)]
    way = [crest * max(abs(math.sin(a)) if whole else math.sin(a), 0.0) for a in angles]
    both = [*way, *reversed(way[:-1])]
    return [((a + b) / 2.0, period / (len(both) - 1)) for a, b in pairwise(both)]


def required(form: held.Form) -> float:
    return (form.u_off - form.e0) * form.g0


@given(st.floats(1.05, 50.0), st.floats(1e-9, 1e-3))
def test_a_current_that_never_changes_has_the_margin_of_direct_current(factor: float, farads: float) -> None:
    form = pulled_up(5.0, 2.2e3, farads, 0.8)
    steps = [(factor * required(form), 1e-3)] * 20
    assert held.margin(form, steps) == pytest.approx(factor, rel=2e-3)


def test_a_capacitor_that_is_very_large_leaves_the_mean() -> None:
    form = pulled_up(5.0, 2.2e3, 1.0, 0.8)
    steps = half_wave(3.0 * required(form), 20e-3)
    assert held.margin(form, steps) == pytest.approx(3.0 / math.pi, rel=5e-3)


def test_a_half_wave_of_230_v_that_has_1_81_at_its_crest_has_0_51_through_its_period() -> None:
    """230 V half wave, 66k, load 2.2k, 100 uF - 20 %: the crest has 1.81, mean over required is 0.529."""
    form = pulled_up(5.25, 2.2e3, 80e-6, 0.8)
    # The crest is scaled so that the mean is what was measured.
    steps = half_wave(0.529 * math.pi * required(form), 20e-3)
    assert held.margin(form, steps) == pytest.approx(0.512, abs=0.006)


def test_a_tenth_of_the_time_at_5_51_has_0_55() -> None:
    form = pulled_up(5.0, 4.7e3, 10e-6, 0.8)
    on, off = 5.51 * required(form), 0.0
    steps = [(on, 0.1e-3 / STEPS)] * STEPS + [(off, 0.9e-3 / STEPS)] * STEPS
    assert held.margin(form, steps) == pytest.approx(0.55, abs=0.01)


def test_without_any_current_nothing_is_held() -> None:
    form = pulled_up(5.0, 4.7e3, 10e-6, 0.8)
    assert held.margin(form, [(0.0, 1e-3)] * 4) == 0.0


def test_a_follower_is_held_high() -> None:
    """The output feeds the capacitor and its resistor to ground; the receiver wants at least 3 V."""
    form = held.Form(
        farads=1.0, u_off=0.0, g0=1e-3, alpha=-1.0, p=5.0, q=-1.0, r=0.0, least=0.3, e0=-3.0, eu=1.0, ei=0.0
    )  # fmt: skip
    steps = half_wave(9e-3, 20e-3)
    assert held.margin(form, steps) == pytest.approx(9.0 / math.pi / 3.0, rel=5e-3)


def test_where_nothing_smooths_the_weakest_phase_counts() -> None:
    assert held.margin_without([1e-3, 2e-3], 5e-4) == pytest.approx(2.0)
    assert held.margin_without([0.0, 2e-3], 5e-4) == 0.0


@pytest.mark.parametrize("seed", range(6))
def test_a_settled_period_is_that_of_an_integrator(seed: int) -> None:
    """Random pull-ups and capacitors, the output held up at its least voltage: level from solve_ivp, 1 % above it."""
    draw = random.Random(seed)
    volts, ohms = draw.uniform(3.0, 24.0), 10.0 ** draw.uniform(3.0, 4.7)
    period, least = draw.choice([1e-3, 20e-3]), draw.uniform(0.1, 0.4)
    farads = period * draw.uniform(0.3, 8.0) / ohms
    crest = draw.uniform(1.5, 8.0) * volts / ohms
    form = pulled_up(volts, ohms, farads, volts / 2.0, least)

    def slope(t: float, u: list[float]) -> list[float]:
        amps = crest * max(-math.cos(2.0 * math.pi * t / period), 0.0)
        rise = (volts - u[0]) / ohms - amps
        return [rise / farads if u[0] > least or rise > 0.0 else 0.0]

    run = solve_ivp(slope, (0.0, 60.0 * period), [volts / 2.0], max_step=period / 400.0, rtol=1e-7, atol=1e-9)
    last = [u for t, u in zip(run.t, run.y[0], strict=True) if t > 59.0 * period]
    found = held.settled(form, half_wave(crest, period))
    assert found.high == pytest.approx(max(last), abs=0.015 * volts)
    assert found.low == pytest.approx(max(min(last), least), abs=0.015 * volts)


def test_a_resistor_between_output_and_capacitor_keeps_the_least_voltage_at_the_output() -> None:
    """10k pull-up, 4.7k to 10 uF: ten times the current holds the output at its least voltage while it conducts."""
    pull, series, farads, volts, least = 10e3, 4.7e3, 10e-6, 5.0, 0.3
    whole = pull + series
    form = held.Form(
        farads=farads, u_off=volts, g0=1.0 / whole, alpha=pull / whole, p=volts * series / whole, q=pull / whole,
        r=pull * series / whole, least=least, e0=1.0, eu=-1.0, ei=0.0,
    )  # fmt: skip
    period = 20e-3

    def slope(t: float, u: list[float]) -> list[float]:
        amps = 5e-3 * max(-math.cos(2.0 * math.pi * t / period), 0.0)
        across = form.p + form.q * u[0] - form.r * amps
        rise = (volts - u[0]) / whole - form.alpha * amps if across >= least else (least - u[0]) / series
        return [rise / farads]

    run = solve_ivp(slope, (0.0, 60.0 * period), [1.0], max_step=period / 400.0, rtol=1e-7, atol=1e-9)
    last = [u for t, u in zip(run.t, run.y[0], strict=True) if t > 59.0 * period]
    found = held.settled(form, half_wave(5e-3, period))
    assert found.high == pytest.approx(max(last), abs=0.03)
    assert found.low == pytest.approx(min(last), abs=0.03)

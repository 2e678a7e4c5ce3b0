"""What the load of a switch does to it: the angle of its current, and the voltage that rings across the open switch.

In: a switch with what it lies between. Out: figures with the terms that they rest on, None where there is none.
"""

from __future__ import annotations

import math
from cmath import exp
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.switched import Switched, across, current, frequency, impedance, load_end, load_kind, stated_load
from isolint.facts import LoadFacts
from isolint.rows import Usual, most
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated

WITHOUT_ANGLE = frozenset(("resistive", "lamp", "electronic", "capacitive"))
"""Kinds of loads that leave no voltage across the switch when their current ends."""

_MEMORY = "default (from memory)"


class Ringing(NamedTuple):
    """The voltage across the open switch after its current has ended."""

    volts: Figure
    terms: tuple[Term, ...]


def load_name(context: Context, found: Switched) -> str:
    """The name under which the load is stated, or would be."""
    load = stated_load(context, found)
    return load[0] if load is not None else load_end(context, found)


def ringing(context: Context, found: Switched, setting: Setting) -> Ringing | None:
    """V_pk sin(phi) (1 + k) of a load whose current lags; None of one that does not, or on a direct supply."""
    name, term = load_name(context, found), off_voltage(context, found)
    if term is not None:
        return Ringing(Figure("V_off", term.high, "V", "stated voltage across the open switch"), (term,))
    kind, volts = load_kind(context, found), across(context, found, setting)
    if volts is None or not volts.alternating or kind in WITHOUT_ANGLE:
        return None
    sine, overshoot, terms = _angle(context, found, name, kind, setting)
    peak = Figure("V_pk", volts.high, "V", "peak across the open switch")
    made = peak * Figure("sin_phi", sine) * (Figure("k", overshoot) + 1.0)
    return Ringing(
        made.called("V_off", "V", "voltage across the open switch when the current of its load has ended"),
        (*volts.terms, *terms),
    )


def off_voltage(context: Context, found: Switched) -> Term | None:
    """The voltage across the open switch as it is stated for the load."""
    load = stated_load(context, found)
    if load is None or load[1].off_voltage is None:
        return None
    return context.lookup.term(LoadFacts.off_voltage, load[0])


def _angle(
    context: Context, found: Switched, name: str, kind: str | None, setting: Setting
) -> tuple[float, float, tuple[Term, ...]]:
    if kind is None:
        unknown = fact_terms.defaulted(LoadFacts.kind, name, most(0.0, 1.0, _MEMORY), unit="1")
        return setting.high(unknown), setting.high(unknown), (unknown,)
    factor, terms = power_factor(context, found, name, setting)
    low = setting.low(factor)
    sine = math.sqrt(max(1.0 - low * low, 0.0))
    over = overshoot(context, found, low, setting)
    if over is None:
        term = fact_terms.defaulted(
            LoadFacts.off_voltage, name, most(0.0, 1.0, "overshoot, default (from memory)"), unit="1"
        )
        return sine, setting.high(term), (factor, *terms, term)
    return sine, over, (factor, *terms)


def power_factor(context: Context, found: Switched, name: str, setting: Setting) -> tuple[Term, tuple[Term, ...]]:
    """The power factor of an inductive load as stated, else as its cards make it, with what it rests on."""
    told = context.lookup.term(LoadFacts.power_factor, name)
    if told.stated:
        return told, ()
    drawn = impedance(context, found, setting)
    if drawn is not None:
        ends = drawn.factor_low, drawn.factor, drawn.factor_high
        return stated(f"power factor {name}", f"power factor of load {name}", "1", *ends, "its cards"), drawn.terms
    return _usual(name), ()


def _usual(name: str) -> Term:
    return fact_terms.defaulted(LoadFacts.power_factor, name, Usual(0.0, 0.5, 0.9, 0.9, 0.9, _MEMORY), unit="1")


class SeriesCircuit(NamedTuple):
    """The load in series with the snubber: ohms, henries, farads, and the step that starts it."""

    load_ohms: float
    henries: float
    snubber_ohms: float
    farads: float


def snubber(context: Context, found: Switched) -> tuple[float, float] | None:
    """Ohms and farads of the largest resistor and capacitor in series across the switch or its thyristor."""
    pairs = [set(found.ends)]
    if found.thyristor is not None:
        pairs.append({found.thyristor.near, found.thyristor.far})
    circuit, best = context.circuit, None
    for nets in pairs:
        for net in nets:
            for element, farads, ohms, far in _branches(context, net):
                if far in nets and far != net and (best is None or farads > best[1]) and element >= 0:
                    best = ohms, farads
    del circuit
    return best


def _branches(context: Context, net: int) -> list[tuple[int, float, float, int]]:
    """Capacitors reached from a net with the resistor in series, and the net behind both."""
    circuit, found = context.circuit, []
    for element, pin in circuit.elements_at(net):
        letter = circuit.letter(element)
        if letter not in "RC" or len(circuit.pins(element)) != 2:
            continue
        middle, value = circuit.pins(element)[1 - pin], circuit.value(element)
        if value is None:
            continue
        if letter == "C":
            found.append((element, value, 0.0, middle))
        for other, end in circuit.elements_at(middle):
            if other == element or {letter, circuit.letter(other)} != {"R", "C"} or len(circuit.pins(other)) != 2:
                continue
            second = circuit.value(other)
            if second is None or len(list(circuit.elements_at(middle))) != 2:
                continue
            ohms, farads = (value, second) if letter == "R" else (second, value)
            found.append((other, farads, ohms, circuit.pins(other)[1 - end]))
    return found


def series_circuit(context: Context, found: Switched, factor: float, setting: Setting) -> SeriesCircuit | None:
    """The load of known current and power factor in series with the snubber; None where something is not known."""
    across_it = snubber(context, found)
    volts = across(context, found, setting)
    hertz = frequency(context, found)
    if across_it is None or volts is None or hertz is None:
        return None
    try:
        _, most_amps, _ = current(context, found, setting)
    except Lacking:
        return None
    if most_amps <= 0.0:
        return None
    impedance = volts.high / math.sqrt(2.0) / most_amps
    reactance = impedance * math.sqrt(max(1.0 - factor * factor, 0.0))
    if reactance <= 0.0:
        return None
    return SeriesCircuit(impedance * factor, reactance / (2.0 * math.pi * hertz), *across_it)


def overshoot(context: Context, found: Switched, factor: float, setting: Setting) -> float | None:
    """The overshoot of the snubber's capacitor on a step, None without a snubber or where the load is not known."""
    made = series_circuit(context, found, factor, setting)
    if made is None:
        return None
    damping = (made.load_ohms + made.snubber_ohms) / 2.0 * math.sqrt(made.farads / made.henries)
    return 0.0 if damping >= 1.0 else math.exp(-math.pi * damping / math.sqrt(1.0 - damping * damping))


def rise(made: SeriesCircuit, step: float, hertz: float) -> float:
    """The steepest rise of the voltage across the switch after a step, volts a second, over 1.5 periods.

    v = R_s i + v_C from i = 0 and v_C = 0; dv/dt = R_s di/dt + i / C with L di/dt = E - (R_L + R_s) i - v_C.
    """
    ohms = made.load_ohms + made.snubber_ohms
    decay, square = ohms / (2.0 * made.henries), 1.0 / (made.henries * made.farads)
    start = made.snubber_ohms * step / made.henries
    largest, end = start, 1.5 / hertz
    swing = complex(decay * decay - square) ** 0.5
    if abs(swing) < 1e-9 * decay:
        swing = complex(1e-6 * decay)
    steps = 4000
    for number in range(steps + 1):
        # Close together at first: the steepest rise comes early in whatever follows slowly.
        at = end * (number / steps) ** 3
        first, second = -decay + swing, -decay - swing
        grow = step / made.henries / (2.0 * swing)
        i = grow * (exp(first * at) - exp(second * at))
        di = grow * (first * exp(first * at) - second * exp(second * at))
        largest = max(largest, abs((made.snubber_ohms * di + i / made.farads).real))
    return largest

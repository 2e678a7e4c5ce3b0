"""How long a coil in a channel's load carries its current on after it has been switched off.

In: an analysis, a channel, a setting. Out: seconds of the slowest coil that the output switches, itself or by
transistors, with the clamp that takes its current; None where there is none. `Lacking` where a fact is missing.
"""

from __future__ import annotations

import cmath
import math
from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.once import once
from isolint.facts import ElementFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Coil
from isolint.rows import least
from isolint.worstcase import coils, fact_terms
from isolint.worstcase.clamps import Clamp, Clamping
from isolint.worstcase.figures import Figure
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.release import Energised, farads, knee, most_amps, outer
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

GUARD = 1.05
"""What times count for: against a simulator this one was 0.2 % off."""

_MOST_NETS = 200
_MOST_STEPS = 100_000
_FINE = 40.0
_DROP_OUT = (0.05, 0.10)


class Released(NamedTuple):
    """seconds: from the moment when nothing drives the coil any more until it lets go."""

    seconds: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]


@once
def released(analysis: Analysis, channel: Channel, setting: Setting) -> Released | None:
    """The slowest coil that a channel's output switches."""
    every = analysis.coils()
    if not every:
        return None
    behind = _behind(analysis, channel)
    members = {*channel.load.elements, *(element for element, _ in channel.load.branches)}
    found = []
    for coil, clamping in every:
        switched = any(_touches(analysis.lookup, item.element, behind) for item in coil.interrupters)
        if coil.element in members or switched:
            found.append(_released(analysis, channel, coil, clamping, setting))
    return max(found, key=lambda each: each.seconds, default=None)


def _behind(analysis: Analysis, channel: Channel) -> frozenset[int]:
    """The nets that follow a channel's output: through what carries its signal, over controls, up to held nets."""
    circuit, held = analysis.lookup.circuit, analysis.lookup.walker.held
    parts = analysis.interfaces.recognition.parts
    waiting = [net for role, net in channel.pins.items() if role in _OUTPUT and held(net) is None]
    seen = set(waiting)
    for net in waiting:  # grows while it is walked
        for element, _ in circuit.elements_at(net):
            if circuit.letter(element) not in "RDQMJSW" or element in parts:
                continue
            for other in (*circuit.pins(element), *circuit.controls(element)):
                if other not in seen and held(other) is None and len(seen) < _MOST_NETS:
                    seen.add(other)
                    waiting.append(other)
    return frozenset(seen)


_OUTPUT = frozenset({"collector", "emitter", "output", "contact"})


def _touches(lookup: Lookup, element: int, nets: frozenset[int]) -> bool:
    return any(net in nets for net in (*lookup.circuit.pins(element), *lookup.circuit.controls(element)))


def seconds(henries: float, ohms: float, volts: float, held: float, left: float) -> float:
    """(L / R) ln((I_0 + V_K / R) / (I_do + V_K / R)): volts of the clamp, amperes at first and where it lets go.

    ohms: of the whole loop. Without any the current falls along a straight line.
    """
    if held <= left:
        return 0.0
    if ohms <= 0.0:
        return henries * (held - left) / volts
    return henries / ohms * math.log((held + volts / ohms) / (left + volts / ohms))


def ringing(henries: float, ohms: float, farads: float, volts: float, held: float, left: float) -> float:
    """How long a coil's current may exceed `left`, seconds, in a loop of ohms and farads in series.

    volts: to which the capacitor is charged while the coil is on, so that it drives the current on at first. Stepped
    exactly; no more comes once the energy of the loop is that of `left` in the coil.
    """
    damping, natural = ohms / (2.0 * henries), 1.0 / (henries * farads)
    root = cmath.sqrt(damping * damping - natural)
    step = 1.0 / (_FINE * max(math.sqrt(natural), damping))
    decay, turn = cmath.exp(-damping * step), root * step
    ratio = cmath.sinh(turn) / root if abs(turn) > 1e-9 else step
    # x'' + 2 damping x' + natural x = 0 for the current and for the capacitor's volts.
    same, rate = (decay * (cmath.cosh(turn) + damping * ratio)).real, (decay * ratio).real
    amps, across, last = held, -volts, 0
    for number in range(1, _MOST_STEPS):
        slope, rise = -(ohms * amps + across) / henries, amps / farads
        amps, across = same * amps + rate * slope, same * across + rate * rise
        if abs(amps) > left:
            last = number
        if henries * amps * amps + farads * across * across <= henries * left * left:
            return (last + 1) * step
    return math.inf


def _released(
    analysis: Analysis, channel: Channel, coil: coils.FoundCoil, clamping: Clamping, setting: Setting
) -> Released:
    lookup, clamp = analysis.lookup, clamping.clamp
    driven = not coil.interrupters
    if clamp is None and not driven:
        raise Lacking(f"coil {coil.path} has no clamp", blocked_by="clamp")
    if not coil.ohms:
        raise Lacking(f"nothing is known of the resistance of coil {coil.path}", coil.missing(Coil.resistance))
    if coil.henries is None:
        text = f"how long {coil.path} takes to release depends on its inductance, which is not known"
        raise Lacking(text, coil.missing(Coil.inductance))
    own = [channel.pins[role] for role in ("supply", "ground") if driven and role in channel.pins]
    energised = most_amps(lookup, outer(lookup, coil), setting, own)
    left, drop_out, origin = _lets_go(analysis, coil, energised, setting)
    if clamp is not None and clamp.kind == "rc" and not driven:
        took, words = _rings(lookup, coil, clamp, energised, left, setting), "the current has died away"
        figures = [Figure("R_c", clamp.ohms, "ohm", "resistance of its clamp"), Figure("C_c", clamp.farads or 0.0, "F")]
    else:
        # An output that drives both levels shorts the coil: it is its own clamp.
        volts, source, ohms = 0.0, "shorted by the output", energised.ohms
        if clamp is not None and not driven:
            (volts, source), ohms = knee(lookup, coil, clamp, setting), _loop(lookup, coil, clamp, energised)
        took = seconds(coil.henries, ohms, volts, energised.amps, left)
        words = "(L / R) ln((I_0 + V_K / R) / (I_do + V_K / R))"
        figures = [
            Figure("R", ohms, "ohm", "resistance of coil and clamp", end="min"),
            Figure("V_K", volts, "V", "voltage of its clamp", end="min", source=source),
        ]
    guard = 1.0 if setting.is_kindest else GUARD
    told = (
        Figure("I_0", energised.amps, "A", f"current of {coil.path} when it is switched off"),
        Figure("I_do", left, "A", "current below which it releases", end="min", source=origin),
        Figure("L", coil.henries, "H", f"inductance of {coil.path}"),
        *figures,
        Figure("t_release", guard * took, "s", f"{words} of {coil.path}, x {guard:g} (measured against a simulator)"),
    )
    spread = [] if clamp is None else [lookup.tolerance(each) for each in _spread(lookup, clamp)]
    return Released(guard * took, told, unique([*drop_out, *energised.terms, *spread]))


def _spread(lookup: Lookup, clamp: Clamp) -> list[int]:
    """The elements of a clamp whose tolerance counts."""
    letters = {"rc": "C", "zener": "D"}.get(clamp.kind, "")
    return [each for each in clamp.elements if lookup.circuit.letter(each) in letters]


def _loop(lookup: Lookup, coil: coils.FoundCoil, clamp: Clamp, energised: Energised) -> float:
    """The resistance that the dying current meets, ohms: the clamp's, and the coil's own where the clamp spans it."""
    if coil.drawn < 0 or coil.drawn not in clamp.elements:
        own = energised.ohms if coil.drawn < 0 else 0.0
        return own + clamp.ohms
    return energised.ohms + max(clamp.ohms - (lookup.ohms(coil.drawn) or 0.0), 0.0)


def _rings(
    lookup: Lookup, coil: coils.FoundCoil, clamp: Clamp, energised: Energised, left: float, setting: Setting
) -> float:
    assert coil.henries is not None
    ohms = _loop(lookup, coil, clamp, energised)
    ends = set(farads(lookup, clamp, setting))
    return max(ringing(coil.henries, ohms, each, energised.volts, energised.amps, left) for each in ends)


def _lets_go(
    analysis: Analysis, coil: coils.FoundCoil, energised: Energised, setting: Setting
) -> tuple[float, list[Term], str]:
    """The amperes below which a coil releases, what they rest on, and where they are from."""
    lookup, part = analysis.lookup, analysis.interfaces.recognition.parts.get(coil.element)
    text = "default 5 to 10 % of the nominal voltage (from memory)"
    assert coil.ohms
    if part is None:
        # What no record describes is made for its rails.
        stated = lookup.facts.element(coil.path).drop_out
        if stated is not None:
            term = fact_terms.known(ElementFacts.drop_out, coil.path, stated.value, "stated")
        else:
            usual = least(_DROP_OUT[0] * energised.nominal, _DROP_OUT[1] * energised.nominal, text)
            term = fact_terms.defaulted(ElementFacts.drop_out, coil.path, usual)
        return setting.low(term) / coil.ohms, [term], term.origin
    if fact_terms.recorded(part, Coil.drop_out) is not None:
        term = fact_terms.of_record(part, Coil.drop_out)
    else:
        nominal = None if part.record is None else part.record.coil.voltage
        if nominal is None:
            missing = coil.missing(Coil.drop_out)
            raise Lacking(f"the voltage at which {part.path} releases is not known", missing)
        usual = least(_DROP_OUT[0] * nominal, _DROP_OUT[1] * nominal, text)
        term = fact_terms.of_record(part, Coil.drop_out, usual)
    return setting.low(term) / coil.ohms, [term], term.origin

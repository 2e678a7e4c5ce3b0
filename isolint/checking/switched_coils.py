"""A coil as the load of a switch: that of a relay, or one drawn as inductor and resistor.

In: the coils that were met, and the way of the current. Out: ohms from cold to hot, or the inductors, None where they
are not known.
"""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.checking.relay_coils import warmth
from isolint.facts import Interval

OWN_HEAT = 40.0
"""Kelvins by which a coil warms itself at most (from memory)."""

SLOWEST = 0.2
"""Seconds of inductance over resistance that no coil of a load exceeds (from memory): beyond it the resistor in series
is a shunt, and the winding's own resistance is not drawn."""


def coil_ohms(context: Context, coils: tuple[int, ...], way: tuple[int, ...]) -> Interval | None:
    """One coil as its record states it; None of several, of one that nobody describes, or with a resistor beside it.

    Inductors add none to the resistors on the way, as far as those may be the resistance of their windings.
    """
    parts, circuit = context.interfaces.recognition.parts, context.circuit
    met = list(dict.fromkeys(coils))
    if met and all(circuit.letter(e) == "L" and e in way for e in met):
        return None if drawn_inductors(context, coils, way) is None else Interval(0.0, 0.0)
    record = parts[met[0]].record if len(met) == 1 and met[0] in parts else None
    coil = None if record is None else record.coil
    if coil is None or coil.resistance is None:
        return None
    roles = zip(circuit.pins(met[0]), parts[met[0]].roles, strict=False)
    free = [net for net, role in roles if role == "coil" and context.lookup.walker.held(net) is None]
    if any(circuit.letter(e) == "R" and e not in way for net in free for e, _ in circuit.elements_at(net)):
        return None
    ambient, spread = context.lookup.ambient(), coil.tolerance or Interval(0.0, 0.0)
    cold = coil.resistance * (1.0 + spread.low) * warmth(coil, ambient.low)
    hot = coil.resistance * (1.0 + spread.high) * warmth(coil, ambient.high + OWN_HEAT)
    return Interval(cold, hot)


def drawn_inductors(context: Context, coils: tuple[int, ...], way: tuple[int, ...]) -> dict[int, float] | None:
    """Henries of the inductors on the way, where these are all coils and the winding's resistance may be drawn."""
    circuit, met = context.circuit, dict.fromkeys(coils)
    if not met or any(circuit.letter(e) != "L" or e not in way or circuit.value(e) is None for e in met):
        return None
    henries = {e: circuit.value(e) or 0.0 for e in met}
    drawn = sum(context.lookup.ohms(e) or 0.0 for e in way if circuit.letter(e) == "R")
    return henries if sum(henries.values()) <= SLOWEST * drawn else None

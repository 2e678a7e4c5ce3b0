"""What a receiver asks for, as a quantity of the load network that reaches zero at its level."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.interfaces.entities import Part, Recognition
from isolint.worstcase import network as n
from isolint.worstcase.devices import Bipolar, Diode, Mos, from_model
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Assembler, coil_tolerance, led_in
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import MOST_AMPS
from isolint.worstcase.receivers import Receiver
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking

CLOSED_OHMS = 1e-3
_MET = 1e-12
# Volts or amperes by which a goal may be missed.

_CLOSE = 1e-9
# The part of a current by which it may be missed.

_SECANTS = 6


class Goal(NamedTuple):
    """What a receiver asks for: `excess` is zero or more when it is met. Branch `replaces` gives way to `extra`."""

    excess: Callable[[Point, Sequence[float]], float]
    replaces: str = ""
    extra: tuple[n.Branch, ...] = ()


def goal_of(lookup: Lookup, assembler: Assembler, recognition: Recognition, made: Assembly, receiver: Receiver) -> Goal:
    """The goal of a receiver in its load network."""
    circuit = lookup.circuit
    if receiver.kind == "coil":
        part = recognition.parts[receiver.element]
        name, share = part.path, made.share_of(coil_tolerance(part))
        # A coil of more resistance pulls in at the same voltage: that is what the record states of every one.
        return Goal(lambda point, vector: abs(point.current(name)) - receiver.level / share(vector))
    if receiver.kind == "threshold":
        plus, minus = (made.node(net, circuit.net_name(net)) for net in (receiver.net, receiver.minus))
        way = 1.0 if receiver.inverted else -1.0
        return Goal(lambda point, vector: (receiver.level - point.voltage(plus) + point.voltage(minus)) * way)
    if receiver.kind == "led":
        return _led_goal(circuit, recognition.parts[receiver.element], made, receiver)
    if receiver.kind == "input":
        node, way = made.nets[receiver.net], 1.0 if receiver.inverted else -1.0
        return Goal(lambda point, vector: (receiver.level - point.voltage(node)) * way)
    path = circuit.path(receiver.element)
    pins = [made.nets[net] for net in circuit.pins(receiver.element)[:3]]
    model = circuit.model(receiver.element)
    tail = {key: value for key, value in circuit.tail(receiver.element).items() if isinstance(value, float)}
    kind, parameters = None if model is None else model.type, circuit.model_parameters(receiver.element)
    device = from_model(circuit.letter(receiver.element), kind, parameters, tail)
    if isinstance(device, Mos):
        sign = device.polarity * (-1.0 if receiver.inverted else 1.0)
        level = receiver.level * (-1.0 if receiver.inverted else 1.0)
        return Goal(lambda point, vector: sign * (point.voltage(pins[1]) - point.voltage(pins[2])) - level)
    if not isinstance(device, Bipolar):
        raise Lacking(f"the model of {path} can't be solved here")
    return _base_goal(assembler, made, receiver, device, pins, path)


def _led_goal(circuit: Circuit, part: Part, made: Assembly, receiver: Receiver) -> Goal:
    """The LED of another coupler that the output lights or shunts."""
    name, a, k = led_in(circuit, part, made)
    if receiver.volts:
        return Goal(lambda point, vector: receiver.level - point.voltage(a) + point.voltage(k))
    way = -1.0 if receiver.inverted else 1.0
    return Goal(lambda point, vector: (point.current(name) - receiver.level) * way)


def _base_goal(
    assembler: Assembler, made: Assembly, receiver: Receiver, device: Bipolar, pins: Sequence[int], path: str
) -> Goal:
    """On: the base takes what the transistor's own load needs at the least gain. Off: it stays below its level."""
    junction = Diode(IS=device.IS / device.BF, N=device.NF)
    ends = (pins[1], pins[2]) if device.polarity > 0 else (pins[2], pins[1])
    base = n.DiodeBranch(f"base of {path}", ends[0], ends[1], junction)
    if receiver.inverted:

        def below(point: Point, vector: Sequence[float]) -> float:
            return receiver.level - device.polarity * (point.voltage(pins[1]) - point.voltage(pins[2]))

        return Goal(below, path, (base,))
    closed = n.Resistor(f"{path} closed", pins[0], pins[2], CLOSED_OHMS)
    gain = made.term(assembler.gain(receiver.element, device))

    def driven(point: Point, vector: Sequence[float]) -> float:
        return point.current(base.name) - abs(point.current(closed.name)) / (device.BF * vector[gain])

    return Goal(driven, path, (base, closed))


class Reached(NamedTuple):
    """The smallest current in amperes that meets a goal, the point there, and how steeply the excess rises with it."""

    amps: float
    point: Point
    slope: float


Gap = Callable[[float], tuple[Point, float]]


def turn_up(gap: Gap, near: Reached | None = None) -> Reached:
    """The smallest current at which `gap` (the point and the excess over the goal) is zero or more, at most 10 A.

    near: what was found in a network with other values; it saves steps.
    """
    found = None if near is None else _from_near(gap, near)
    return _from_zero(gap) if found is None else found


def _from_near(gap: Gap, near: Reached) -> Reached | None:
    """Follow the secant from a current that was right with other values; None where that leads away."""
    if near.amps <= 0.0 or near.slope <= 0.0:
        return None
    amps, slope = near.amps, near.slope
    point, excess = gap(amps)
    for _ in range(_SECANTS):
        if abs(excess) <= _MET:
            return Reached(amps, point, slope)
        other = amps - excess / slope
        if not 0.0 < other < 2.0 * amps:
            return None
        there, left = gap(other)
        if abs(left) > 0.5 * abs(excess) or other == amps:
            return None
        slope = (left - excess) / (other - amps)
        amps, point, excess = other, there, left
        if slope <= 0.0:
            return None
    return None


def _from_zero(gap: Gap) -> Reached:
    """Bracket the current from nothing upwards and narrow it down."""
    point, low_gap = gap(0.0)
    if low_gap >= 0.0:
        return Reached(0.0, point, 0.0)
    low, high = 0.0, 1e-4
    point, high_gap = gap(high)
    slope = (high_gap - low_gap) / high
    while high_gap < 0.0:
        # In a linear network the straight line through two points already meets the goal.
        guess = _line(low, low_gap, high, high_gap)
        low, low_gap = high, high_gap
        high = min(max(guess * (1.0 + 1e-9), 1.01 * high), 64.0 * high) if guess > high else 4.0 * high
        if high > MOST_AMPS:
            raise Lacking(
                f"no output current up to {MOST_AMPS:g} A brings what reads it to its level: nothing limits the "
                "current that it switches (a coil without Rser), or a source holds it"
            )
        point, high_gap = gap(high)
    # Ridders' method: each pass halves the bracket at least, and a curve that is exponential in it takes one.
    last = high
    while high - low > _CLOSE * high and high_gap > _MET:
        slope = (high_gap - low_gap) / (high - low)
        middle = 0.5 * (low + high)
        middle_point, middle_gap = gap(middle)
        amps = middle - (middle - low) * middle_gap / math.sqrt(middle_gap * middle_gap - low_gap * high_gap)
        there, excess = gap(amps)
        if abs(excess) <= _MET:
            return Reached(amps, there, slope)
        tries = [(middle, middle_point, middle_gap), (amps, there, excess)]
        if abs(amps - last) <= _CLOSE * amps:
            # That it hardly moved proves nothing: the other sign just beyond does.
            beyond = amps * (1.0 + math.copysign(0.5 * _CLOSE, -excess))
            tries.append((beyond, *gap(beyond)))
        last = amps
        for tried, found, left in tries:
            if left < 0.0 and tried > low:
                low, low_gap = tried, left
            elif left >= 0.0 and tried < high:
                high, high_gap, point = tried, left, found
    return Reached(high, point, slope)


def _line(x0: float, y0: float, x1: float, y1: float) -> float:
    """Where the straight line through two points crosses zero."""
    return x1 if y1 == y0 else x0 - y0 * (x1 - x0) / (y1 - y0)

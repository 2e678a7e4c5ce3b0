"""The voltage that an isolated amplifier or modulator is to measure, from what is stated of its signal.

In: a context, an amplifier's pair of inputs, a setting. Out: the least and the largest voltage between them, over the
divider or shunt before it, or `Lacking`. Sums by hand: nothing is solved.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.facts import SignalFacts
from isolint.interfaces.entities import Part
from isolint.types.form.pin_names import folded
from isolint.worstcase.uncertain import Lacking, Setting, Term

_CLOCKS = ("clk", "clock", "mclk")
_MOST_STEPS = 16


class Sensing(NamedTuple):
    """An amplifier with the nets of its two inputs."""

    part: Part
    plus: int
    minus: int


class Sensed(NamedTuple):
    """The least and the largest voltage at the inputs, with what they rest on and how they come about."""

    low: float
    high: float
    terms: tuple[Term, ...]
    words: str
    elements: tuple[int, ...]


def sensing(context: Context) -> Iterator[Sensing]:
    """Every amplifier whose two inputs its pins tell; a single input is measured against the ground of its side."""
    for part in context.interfaces.recognition.parts.values():
        if "analog" not in part.kind.owns or part.record is None:
            continue
        names, nets = [folded(name) for name in part.record.pins], context.circuit.pins(part.element)
        pins = [
            pin
            for pin, role in enumerate(part.roles)
            if role == "input" and not any(word in names[pin] for word in _CLOCKS)
        ]
        minus = [pin for pin in pins if names[pin].endswith(("-", "n"))]
        plus = [pin for pin in pins if pin not in minus]
        group = next((group for group in part.groups if plus and plus[0] in group), ())
        minus = minus or [pin for pin in group if part.roles[pin] == "ground"]
        if len(plus) == 1 and len(minus) == 1:
            yield Sensing(part, nets[plus[0]], nets[minus[0]])


def is_stated(context: Context, found: Sensing) -> bool:
    """Whether anybody states the signal that an amplifier measures."""
    try:
        sensed(context, found, Setting())
    except Lacking:
        return False
    return True


def sensed(context: Context, found: Sensing, setting: Setting) -> Sensed:
    """The voltage at the inputs; `Lacking` where no signal is stated, or where more than a divider lies before it."""
    plus, minus = _behind_filter(context, found.plus, found.minus), _behind_filter(context, found.minus, found.plus)
    shunts = _between(context, plus, minus)
    for net in dict.fromkeys((plus, minus, found.plus, found.minus)):
        fact = context.facts.signal(context.net(net))
        if fact is not None and fact.current is not None and shunts:
            return _over_shunt(context, net, shunts, setting)
    for net in dict.fromkeys((plus, found.plus)):
        fact = context.facts.signal(context.net(net))
        if fact is not None and fact.range is not None:
            term = context.lookup.term(SignalFacts.range, context.net(net))
            return Sensed(term.low, term.high, (term,), f"{context.net(net)} ranges so far", ())
    divided = _divided(context, plus, minus, shunts, setting)
    if divided is not None:
        return divided
    name = context.net(plus)
    text = f"over what the signal at its input {name} ranges nobody says"
    raise Lacking(text, [context.lookup.missing(SignalFacts.range, name)])


def _resistors(context: Context, net: int) -> list[tuple[int, int]]:
    """The resistors at a net, with the net at their other end."""
    circuit = context.circuit
    return [
        (element, circuit.pins(element)[1 - pin])
        for element, pin in circuit.elements_at(net)
        if circuit.letter(element) == "R" and context.lookup.ohms(element) is not None
    ]


def _behind_filter(context: Context, net: int, other: int) -> int:
    """The net behind the one resistor at an input, where that carries nothing but the input's current."""
    at = _resistors(context, net)
    held = context.lookup.walker.held(net)
    return at[0][1] if len(at) == 1 and held is None and at[0][1] != other and not _is_end(context, net) else net


def _is_end(context: Context, net: int) -> bool:
    fact = context.facts.signal(context.net(net))
    return fact is not None and (fact.range is not None or fact.current is not None)


def _between(context: Context, one: int, other: int) -> list[int]:
    return [element for element, far in _resistors(context, one) if far == other and one != other]


def _over_shunt(context: Context, net: int, shunts: list[int], setting: Setting) -> Sensed:
    name = context.net(net)
    amps = context.lookup.term(SignalFacts.current, name)
    terms = [amps]
    conductance = 0.0
    for element in shunts:
        spread = context.lookup.tolerance(element)
        terms.append(spread)
        conductance += 1.0 / ((context.lookup.ohms(element) or 0.0) * (1.0 + setting.high(spread)))
    words = f"current of {name} through {', '.join(context.circuit.path(element) for element in shunts)}"
    return Sensed(
        amps.low / conductance,
        amps.high / conductance,
        tuple(terms),
        words,
        tuple(shunts),
    )


def _divided(context: Context, plus: int, minus: int, lower: list[int], setting: Setting) -> Sensed | None:
    """What a chain of resistors from a stated signal or supply leaves over the resistor between the inputs."""
    ways = [(element, far) for element, far in _resistors(context, plus) if far != minus]
    if len(lower) != 1 or len(ways) != 1:
        return None
    chain: list[int] = []
    element, net = ways[0]
    while len(chain) < _MOST_STEPS:
        chain.append(element)
        held = context.lookup.walker.held(net)
        if _is_end(context, net) or (held is not None and held.kind == "supply"):
            break
        onward = [(other, far) for other, far in _resistors(context, net) if other != element]
        if held is not None or len(onward) != 1:
            return None
        element, net = onward[0]
    if not _is_end(context, net) and context.lookup.is_alternating(net):
        return None
    name = context.net(net)
    end = context.lookup.term(SignalFacts.range, name) if _is_end(context, net) else context.lookup.supply(net)
    terms = [end]
    upper = 0.0
    for each in chain:
        spread = context.lookup.tolerance(each)
        terms.append(spread)
        upper += (context.lookup.ohms(each) or 0.0) * (1.0 + setting.low(spread))
    spread = context.lookup.tolerance(lower[0])
    terms.append(spread)
    small = (context.lookup.ohms(lower[0]) or 0.0) * (1.0 + setting.high(spread))
    share = small / (small + upper)
    paths = ", ".join(context.circuit.path(each) for each in (*chain, lower[0]))
    low, high = setting.range(end)
    return Sensed(low * share, high * share, tuple(terms), f"{name} divided by {paths}", (*chain, lower[0]))

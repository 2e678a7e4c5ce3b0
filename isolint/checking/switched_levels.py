"""The levels that a switch makes at logic inputs: closed as its on resistance, open by what leaks.

In: a channel whose output is a MOSFET output, a setting. Out: both ends of the voltage at an input, solved from the
resistors around with the voltages that stand still. What holds anything else is `Lacking`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.switch_heat import warming
from isolint.checking.switched import Switched
from isolint.checking.switched_off import leakage
from isolint.facts import InputFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Output
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique

LEAST_OHMS = 1e-3
CONTACT_OHMS = 0.1
"""A closed contact at most (from memory)."""

LEAST_ON = 0.3
"""Share of its greatest on resistance that an output has at least (from memory)."""

_AFLOAT = 1e-15


class SwitchedLevels(NamedTuple):
    """The least and the most volts at an input, with the terms behind them."""

    low: float
    high: float
    terms: tuple[Term, ...]


class _Value(NamedTuple):
    """An axis of the corners: both its ends."""

    low: float
    high: float


class _Branch(NamedTuple):
    one: int
    other: int
    ohms: int


def read_inputs(context: Context, found: Switched) -> tuple[int, ...]:
    """The nets around a switch that a stated input reads."""
    nets = dict.fromkeys((*found.ends, *(net for reached in found.reached for net in reached)))
    return tuple(net for net in nets if context.facts.input(context.net(net)) is not None)


class _Around(NamedTuple):
    """The network around a switch without it: nets that are held, and what joins nets. axes: what it all varies by."""

    nets: tuple[int, ...]
    held: dict[int, int]
    branches: list[_Branch]
    axes: list[_Value]
    terms: list[Term]

    def axis(self, low: float, high: float) -> int:
        """The place of a value that varies."""
        self.axes.append(_Value(min(low, high), max(low, high)))
        return len(self.axes) - 1


def _around(context: Context, channel: Channel, found: Switched, setting: Setting) -> _Around:
    nets = tuple(dict.fromkeys((*found.ends, *(met for reached in found.reached for met in reached))))
    made = _Around(nets, {}, [], [], [])
    for each in nets:
        if context.lookup.walker.held(each) is None:
            continue
        if context.lookup.is_alternating(each):
            raise Lacking("a logic input reads what it switches on an alternating supply; that is not judged")
        term = _volts(context, each)
        made.held[each] = made.axis(0.0, 0.0) if term is None else made.axis(*setting.range(term))
        made.terms.extend([] if term is None else [term])
    known = set(nets)
    for element in dict.fromkeys(e for each in nets for e, _ in context.circuit.elements_at(each)):
        _add(context, channel, element, known, setting, made)
    for each in nets:
        pulled = None if each in made.held else _pull_up(context, each)
        if pulled is not None:
            made.terms.extend(pulled)
            made.held[-1 - each], ohms = (made.axis(*setting.range(term)) for term in pulled)
            made.branches.append(_Branch(each, -1 - each, ohms))
    return made


def level(
    context: Context, channel: Channel, found: Switched, net: int, closed: bool, setting: Setting
) -> SwitchedLevels:
    """The voltage at an input with the output closed or open."""
    made = _around(context, channel, found, setting)
    sources = _currents(context, setting, made)
    branches, terms = list(made.branches), made.terms
    if closed:
        ohms, more = _closed(context, channel, setting)
        terms += more
        branches.append(_Branch(*found.ends, made.axis(*ohms)))
    elif not _is_contact(channel):
        leak = leakage(context, channel, setting)
        terms += leak.terms
        # Either way: it flows from the higher end to the lower one.
        flows = made.axis(-leak.amps.si, leak.amps.si)
        sources += [(found.ends[0], flows, 1.0), (found.ends[1], flows, -1.0)]

    def volts(values: Sequence[float]) -> float:
        return _solved(made.nets, made.held, branches, sources, values, net)

    low, high = _ends(volts, made.axes)
    return SwitchedLevels(low, high, unique(terms))


def floats(context: Context, channel: Channel, found: Switched, net: int) -> bool:
    """Whether nothing but the output holds an input, so that it has no level while that is open."""
    made = _around(context, channel, found, WORST)
    seen, waiting = {net}, [net]
    while waiting:
        at = waiting.pop()
        if at in made.held:
            return False
        for branch in made.branches:
            if at in (branch.one, branch.other):
                far = branch.other if branch.one == at else branch.one
                if far not in seen:
                    seen.add(far)
                    waiting.append(far)
    return True


def _volts(context: Context, net: int) -> Term | None:
    held = context.lookup.walker.held(net)
    assert held is not None
    if held.kind == "ground":
        return None
    if held.kind != "supply":
        raise Lacking(f"what {context.net(net)} stands at beside the output is not judged")
    return context.lookup.supply(net, held)


def _pull_up(context: Context, net: int) -> list[Term] | None:
    """The supply and the pull-up inside what reads a net, where one is stated."""
    facts = context.facts.input(context.net(net))
    if facts is None or facts.pull_up is None or facts.supply is None:
        return None
    return [
        context.lookup.supply_named(facts.supply.value),
        context.lookup.term(InputFacts.pull_up, context.net(net)),
    ]


def _add(context: Context, channel: Channel, element: int, known: set[int], setting: Setting, made: _Around) -> None:
    circuit = context.circuit
    letter, pins = circuit.letter(element), circuit.pins(element)
    if letter == "C" or element == channel.part.element or element in context.lookup.walker.ignored:
        return
    beyond = [net for net in pins if net not in known]
    if letter == "V" or all(net in beyond or context.lookup.walker.held(net) is not None for net in pins):
        return
    if element in context.interfaces.recognition.ordinary or element in context.interfaces.recognition.unknown:
        # What reads a stated input is that input.
        return
    value = context.lookup.ohms(element) if letter == "R" else LEAST_OHMS if letter == "L" else None
    if value is None or len(pins) != 2:
        path = circuit.path(element)
        raise Lacking(f"{path} lies beside a logic input that reads what it switches; only resistors are judged there")
    low = high = 0.0
    if letter == "R":
        spread = context.lookup.tolerance(element)
        low, high = setting.range(spread)
        made.terms.append(spread)
    ohms = max(value, LEAST_OHMS)
    made.branches.append(_Branch(pins[0], pins[1], made.axis(ohms * (1.0 + low), ohms * (1.0 + high))))


def _currents(context: Context, setting: Setting, made: _Around) -> list[tuple[int, int, float]]:
    """What inputs take or give."""
    found = []
    for net in made.nets:
        if context.facts.input(context.net(net)) is None:
            continue
        name = context.net(net)
        gives, takes = (context.lookup.term(row, name) for row in (InputFacts.low_current, InputFacts.high_current))
        made.terms.extend((gives, takes))
        found.append((net, made.axis(-setting.high(takes), setting.high(gives)), 1.0))
    return found


def _is_contact(channel: Channel) -> bool:
    """Whether it is a contact, which is next to nothing while closed and lets nothing through while open."""
    return "contact" in channel.part.kind.owns


def _closed(context: Context, channel: Channel, setting: Setting) -> tuple[tuple[float, float], list[Term]]:
    if _is_contact(channel):
        return (LEAST_OHMS, CONTACT_OHMS), []
    stated = fact_terms.recorded(channel.part, Output.on_resistance)
    if stated is None:
        name = fact_terms.named(channel.part)
        lacking = fact_terms.missing(context.settings_file, Output.on_resistance, name)
        raise Lacking(f"the on resistance of {name} is not known", [lacking])
    rise = warming(context, channel.part)
    return (LEAST_ON * stated, stated * setting.high(rise)), [rise]


def _ends(volts: Callable[[Sequence[float]], float], axes: Sequence[_Value]) -> tuple[float, float]:
    """The least and the most: a network of resistors rises or falls with each of its values."""
    middle = [(value.low + value.high) / 2.0 for value in axes]
    lowest, highest = list(middle), list(middle)
    for at, value in enumerate(axes):
        if value.low == value.high:
            continue
        down, up = ([*middle[:at], end, *middle[at + 1 :]] for end in value)
        rises = volts(up) >= volts(down)
        lowest[at], highest[at] = (value.low, value.high) if rises else (value.high, value.low)
    return volts(lowest), volts(highest)


def _solved(
    nets: Sequence[int],
    held: dict[int, int],
    branches: Sequence[_Branch],
    sources: Sequence[tuple[int, int, float]],
    values: Sequence[float],
    wanted: int,
) -> float:
    free = [net for net in nets if net not in held]
    if wanted in held:
        return values[held[wanted]]
    index = {net: at for at, net in enumerate(free)}
    size = len(free)
    rows = [[0.0] * (size + 1) for _ in free]
    for at in range(size):
        rows[at][at] = _AFLOAT
    for branch in branches:
        siemens = 1.0 / values[branch.ohms]
        for one, other in ((branch.one, branch.other), (branch.other, branch.one)):
            if one not in index:
                continue
            row = rows[index[one]]
            row[index[one]] += siemens
            if other in index:
                row[index[other]] -= siemens
            elif other in held:
                row[size] += siemens * values[held[other]]
            else:
                row[index[one]] -= siemens
    for net, at, sign in sources:
        if net in index:
            rows[index[net]][size] += sign * values[at]
    return _eliminated(rows)[index[wanted]]


def _eliminated(rows: list[list[float]]) -> list[float]:
    size = len(rows)
    for at in range(size):
        best = max(range(at, size), key=lambda row: abs(rows[row][at]))
        rows[at], rows[best] = rows[best], rows[at]
        for below in range(at + 1, size):
            share = rows[below][at] / rows[at][at]
            if share:
                rows[below] = [x - share * y for x, y in zip(rows[below], rows[at], strict=True)]
    found = [0.0] * size
    for at in reversed(range(size)):
        found[at] = (rows[at][size] - sum(rows[at][n] * found[n] for n in range(at + 1, size))) / rows[at][at]
    return found

"""The resistor to change, and the preferred value at which a fault is cured.

In: a context, a channel, and what must hold. Out: elements and ohms, None where no single resistor is the cure. A value
is tried before it is printed: the fault is gone, and the channels around the resistor fail in nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim
from isolint.checking.context import Context
from isolint.checking.engine import fails_alone, verdicts
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.drive import Drive
from isolint.worstcase.load import Load
from isolint.worstcase.uncertain import WORST, Lacking, Setting

LEAST_OHMS: Final = 1.0
"""A resistor below this is a link; the search for a value that cures starts here."""

_SEARCH_SPAN = 1e7
_STRIDE = 4
_LEAP = 16
_HOPELESS = 2
"""After how many steps the wrong way a search ends."""

_SMALL = 1e-12
_FURTHER = (1, 2, 4, 8, 12, 16, 24)
"""How many values beyond the first that cures are tried where that one harms something else."""

_BACK = (3, 7, 15, 23, 47)
"""How far back from a value at which another rule fails one is looked for at which it does not."""

_CHANNELS = 8
"""Channels around one resistor that are judged for each value that is tried."""

_SAME = 1.0 - 1e-6


def limiting_resistor(context: Context, channel: Channel, drive: Drive) -> int | None:
    """The resistor of the drive network that drops most voltage in series with the LED, None without one."""
    _, point = drive.point(drive.current.high)
    current = max(abs(point.current(drive.led)), 1e-12)
    best: tuple[float, int] | None = None
    circuit = context.circuit
    # One that lies across a capacitor discharges it.
    across = {frozenset(circuit.pins(each)[:2]) for each in channel.drive.elements if circuit.letter(each) == "C"}
    for element in channel.drive.elements:
        if circuit.letter(element) != "R" or frozenset(circuit.pins(element)[:2]) in across:
            continue
        name = circuit.path(element)
        through = abs(point.current(name))
        drop = through * (context.lookup.ohms(element) or 0.0)
        if through > 0.5 * current and drop > 0.0 and (best is None or drop > best[0]):
            best = (drop, element)
    return None if best is None else best[1]


def change(context: Context, element: int, ohms: float) -> float:
    """By which factor a resistor would have to change, 1 or more."""
    own = max(context.lookup.ohms(element) or 0.0, LEAST_OHMS)
    return max(ohms / own, own / ohms)


class Cure(NamedTuple):
    """The value of a resistor that cures a fault, None without one.

    closed: where there is one that would do for the fault alone, in words why it is none, and what would make room.
    """

    ohms: float | None = None
    closed: str = ""


def tried(context: Context, element: int, claim: Callable[[Analysis], Claim], larger: bool) -> Cure:
    """The preferred value (E24) nearest to a resistor's own at which a claim holds and no channel around it fails in
    anything that it did not fail in, fails worse than before, or is open in what it held.

    larger: whether it must grow. Every other value stays, worst case included.
    """
    own = context.lookup.ohms(element)
    if context.is_trial or own is None or (own <= 0.0 and not larger):
        return Cure()
    own = max(own, LEAST_OHMS)
    ends = (own * 1.001, own * _SEARCH_SPAN) if larger else (own / _SEARCH_SPAN, own / 1.001)
    values = preferred.series(*ends)
    if not larger:
        values.reverse()

    def lack(index: int) -> float:
        """By how much the claim is missed, in powers of e; below 0 where it holds, infinite where that is not known."""
        try:
            other = context.analysis if index < 0 else context.resized(element, values[index]).analysis
            made = claim(other)
        except (Lacking, OverBudget):
            # Where it is too much work the fault is told without the value that cures it.
            return math.inf
        ratio = made.margin.si / made.required if made.margin.si > 0.0 else 0.0
        missed = -math.log(ratio) if ratio > 0.0 else math.inf
        return min(missed, -_SMALL) if made.holds else max(missed, _SMALL)

    first = _first(len(values), lack)
    if first is None:
        return Cure()
    neighbours = _neighbours(context, element)
    against = neighbours.harmed(values[first])
    if context.trials().meter.is_spent:
        return Cure()
    if not against:
        return Cure(values[first])
    # Another fault may go with a little more of the same, if it becomes smaller.
    last = first
    for step in _FURTHER:
        index = first + step
        if index >= len(values) or lack(index) > 0.0:
            break
        still = neighbours.harmed(values[index])
        if not still:
            while index - last > 1:
                middle = (last + index) // 2
                if lack(middle) < 0.0 and not neighbours.harmed(values[middle]):
                    index = middle
                else:
                    last = middle
            return Cure(values[index])
        if all(still.get(rule, math.inf) <= margin for rule, margin in against.items()):
            break
        against = {rule: margin for rule, margin in still.items() if rule in against} or still
        last = index
    return Cure(closed=_closed(context, element, neighbours, values[first], min(against), larger))


def _first(count: int, lack: Callable[[int], float]) -> int | None:
    """The first number at which nothing is lacking, -1 being what is there.

    How what is lacking shrinks tells where to look next: never far, since what holds may be a window (a source or LED
    bears no more); then back.
    """
    bad, least, worse = -1, lack(-1), 0
    fine = min(_STRIDE, count - 1)
    while True:
        left = lack(fine)
        if left < 0.0:
            break
        # Where nothing at all is left of the margin the search goes on until there is something to compare.
        blind = math.isinf(left) and math.isinf(least)
        worse = worse + 1 if left >= least and not blind else 0
        if worse == _HOPELESS:
            return None
        falls = (least - left) / (fine - bad) if math.isfinite(least) and math.isfinite(left) else 0.0
        ahead = math.ceil(left / falls) + 1 if falls > 0.0 else _LEAP if blind else 2 * _STRIDE
        if fine == count - 1:
            return None
        bad, least, fine = fine, left, min(fine + min(max(ahead, 2), _LEAP), count - 1)
    while fine - bad > 1:
        share = least / (least - left) if math.isfinite(least) and math.isfinite(left) else 0.5
        middle = min(max(bad + round(share * (fine - bad)), bad + 1), fine - 1)
        found = lack(middle)
        if found < 0.0:
            fine, left = middle, found
        else:
            bad, least = middle, found
    return fine


class _Neighbours:
    """What else is asked of the channels in whose networks a resistor lies."""

    def __init__(self, context: Context, element: int) -> None:
        self._context = context
        self._element = element
        self._channels = context.analysis.neighbours().with_element(element)[:_CHANNELS]
        self._before = verdicts(context.as_trial(), self._channels)
        self._harmed: dict[float, dict[str, float]] = {}

    def harmed(self, ohms: float) -> dict[str, float]:
        """The rules that fail with another value and did not, or are missed by more than before, or are open that held;
        with their margins."""
        if ohms not in self._harmed:
            self._harmed[ohms] = self._harmed_by(ohms)
        return self._harmed[ohms]

    def _harmed_by(self, ohms: float) -> dict[str, float]:
        after = verdicts(self._context.resized(self._element, ohms), self._channels)
        found: dict[str, float] = {}
        for key, (kind, margin) in after.items():
            was, least = self._before.get(key, ("", math.inf))
            worse = kind == "fail" and (was != "fail" or margin < least * _SAME)
            if worse or (kind == "open" and was == "pass"):
                found[key[1]] = min(margin, found.get(key[1], math.inf))
        return found

    def bound(self, rule: Rule, ohms: float, larger: bool) -> float | None:
        """The preferred value nearest to one at which a rule fails, on the side that `larger` says, at which it does
        not fail, whatever else does; None where there is none."""
        ends = (ohms * 1.001, ohms * _SEARCH_SPAN) if larger else (ohms / _SEARCH_SPAN, ohms / 1.001)
        values = preferred.series(*ends)
        if not larger:
            values.reverse()

        def fails(index: int) -> bool:
            return fails_alone(rule, self._context.resized(self._element, values[index]), self._channels)

        failing = -1
        for free in (index for index in _BACK if index < len(values)):
            if not fails(free):
                break
            failing = free
        else:
            return None
        while free - failing > 1:
            middle = (failing + free) // 2
            if fails(middle):
                failing = middle
            else:
                free = middle
        return values[free]


def _neighbours(context: Context, element: int) -> _Neighbours:
    """Of a resistor that many channels share the neighbours are judged once, and not for each that asks for a cure."""
    known = context.kept(_known)
    if element not in known:
        known[element] = _Neighbours(context, element)
    return known[element]


def _known(context: Context) -> dict[int, _Neighbours]:
    return {}


def _closed(context: Context, element: int, neighbours: _Neighbours, ohms: float, against: str, larger: bool) -> str:
    """That no value satisfies all, with both ends and what would make room between them.

    ohms: what would cure the fault but for the rule `against`. larger: whether less would not.
    """
    rule = context.rulebook.named(against)
    limit = None if rule is None else neighbours.bound(rule, ohms, not larger)
    ends = ("at least", "at most") if larger else ("at most", "at least")
    other = f"{ends[1]} {show(limit, 'ohm')} for {against}" if limit is not None else f"then {against} fails"
    room = "" if rule is None or not rule.room else f"; {rule.room} would make room"
    return f"no value of {context.named(element)} satisfies all: {ends[0]} {show(ohms, 'ohm')} for this, {other}{room}"


def resistor_cure(
    context: Context,
    element: int | None,
    claim: Callable[[Setting, Analysis], Claim],
    larger: bool,
    otherwise: str = "",
) -> str:
    """The resistor with the value from which on a claim holds, or why no value will do; `otherwise` where there is no
    such value."""
    if element is None:
        return otherwise
    found = tried(context, element, lambda other: claim(WORST, other), larger)
    return value_words(context, element, found, larger) or found.closed or otherwise


def value_words(context: Context, element: int, found: Cure, larger: bool) -> str:
    """The resistor with the value that cures, "" without one."""
    if found.ohms is None:
        return ""
    return f"{context.named(element)}: {show(found.ohms, 'ohm')} or {'more' if larger else 'less'}"


def output_resistor(context: Context, channel: Channel) -> int | None:
    """The smallest resistor at an output's collector or emitter, None without one."""
    ends = {channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins}
    found = [
        (context.lookup.ohms(element) or 0.0, element)
        for element in channel.load.elements
        if context.circuit.letter(element) == "R"
    ]
    near = [(ohms, element) for ohms, element in found if ohms > 0.0 and ends & set(context.circuit.pins(element))]
    return min(near)[1] if near else None


def pull_resistor(context: Context, channel: Channel, net: int) -> int | None:
    """The smallest resistor between a net and a supply, None without one."""
    found: list[tuple[float, int]] = []
    for element in channel.load.elements:
        nets = context.circuit.pins(element)
        if context.circuit.letter(element) == "R" and net in nets:
            held = [context.lookup.walker.held(other) for other in nets if other != net]
            if any(item is not None and item.kind in ("supply", "line") for item in held):
                found.append((context.lookup.ohms(element) or 0.0, element))
    return min(found)[1] if found else None


def load_resistor(context: Context, channel: Channel, load: Load) -> int | None:
    """The resistor of the load network that takes most of the output current, None without one."""
    best: tuple[float, int] | None = None
    for element in channel.load.elements:
        ohms = context.lookup.ohms(element) if context.circuit.letter(element) == "R" else None
        if ohms is None or ohms <= 0.0:
            continue
        near = sum(
            net in (channel.pins.get("collector"), channel.pins.get("emitter"), load.receiver.net)
            for net in context.circuit.pins(element)
        )
        key = near / ohms
        if near and (best is None or key > best[0]):
            best = (key, element)
    return None if best is None else best[1]

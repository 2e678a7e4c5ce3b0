"""An output that decides nothing, since others beside it conduct whatever it does.

In: a context, a channel whose output is fed. Out: words for what is there and the cure.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.checking.cascade import always_on
from isolint.checking.context import Context
from isolint.checking.dead_output import Silent
from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel, Pair
from isolint.worstcase.companions import pair_words
from isolint.worstcase.readings import decides
from isolint.worstcase.uncertain import Lacking

LEAST_LED = 0.1e-3
"""Amperes from which an LED that is turned round counts as one that would be lit."""


def idle(context: Context, channel: Channel) -> Silent | None:
    """Why an output decides nothing, None where it does."""
    analysis = context.analysis
    across = [pair for pair in parallel(context, channel) if always_on(analysis, channel, pair)]
    if across:
        return _beside(context, across, "always parallel on")
    if not channel.load.pairs or decides(analysis.loads(), channel):
        return None
    around = [pair for pair in channel.load.pairs if always_on(analysis, channel, pair)]
    if around:
        return _beside(context, around, "always on")
    names = " and ".join(_words(context, pair) for pair in channel.load.pairs)
    why = f"it decides nothing: nothing that reads it moves with its output, whether {names} conduct or not"
    return Silent(why, f"lead the output of {channel.part.path} to what shall read it")


def led_against(context: Context, channel: Channel) -> Channel | None:
    """The channel whose LED lies the wrong way round in the only way through an output, None without."""
    drives = context.analysis.drives()
    for other in context.analysis.driven_by(channel):
        try:
            lit = max(drives.led_current(other, state) for state in drives.states(other))
            if lit <= LEAST_LED < drives.reversed_current(other):
                return other
        except Lacking:
            continue
    return None


def silent_beside(context: Context, channel: Channel) -> Channel | None:
    """The first channel before this one whose output lies in series with it and is fed by nothing either."""
    loads = context.analysis.loads()
    neighbours = context.analysis.neighbours()
    for other in neighbours.before(channel, neighbours.owning(channel.load.pairs)):
        if other.load.inner and not loads.fed(other):
            return other
    return None


def parallel(context: Context, channel: Channel) -> list[Pair]:
    """The outputs of others across the same two nets."""
    circuit, walker = context.circuit, context.lookup.walker
    found: list[Pair] = []
    for own in own_pairs(channel):
        nets = circuit.pins(own.element)
        ends = {nets[own.first], nets[own.last]}
        start = next((net for net in ends if walker.held(net) is None), nets[own.first])
        for element, pin in circuit.elements_at(start):
            for pair in walker.pairs_at(element, pin):
                pins = circuit.pins(element)
                if pair != own and {pins[pair.first], pins[pair.last]} == ends:
                    found.append(pair)
    return list(dict.fromkeys(found))


def _beside(context: Context, pairs: Sequence[Pair], how: str) -> Silent:
    names = " and ".join(_words(context, pair) for pair in pairs)
    verb = "is" if len(pairs) == 1 else "are"
    why = f"it decides nothing: {names} {verb} {how}, nothing switches {'its LED' if verb == 'is' else 'their LEDs'}"
    return Silent(why, f"let a signal switch the LED of {names}, or take {names} out")


def _words(context: Context, pair: Pair) -> str:
    return pair_words(context.circuit, context.interfaces.recognition.parts, pair)

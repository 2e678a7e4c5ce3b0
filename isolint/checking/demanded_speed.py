"""The shortest pulse that a channel must follow: what is stated of its signals, else what a stimulus of the netlist
shows.

In: a context and a channel. Out: a `Demand`, None where nobody says anything of time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from isolint.checking.cascade import by_output
from isolint.checking.context import Context
from isolint.facts import Limits, SignalFacts
from isolint.interfaces.entities import Channel, Part
from isolint.rows import Usual
from isolint.units import show
from isolint.worstcase import fact_terms, waves
from isolint.worstcase.uncertain import Lacking, Setting, Term

SAMPLED = 0.25
"""What may be lost of a pulse where nobody says what it carries."""

HALF = 0.5
"""Share of its period that a repeating signal is high where no duty is stated."""


class Demand(NamedTuple):
    """seconds: the shortest pulse. share: of it that may be lost or gained. held_on: of a mere stimulus, or of a duty
    that nobody states. stimulus: nobody says anything of time, a source of the netlist shows it.
    """

    seconds: float
    share: float
    words: str
    held_on: Term | None = None
    stimulus: bool = False

    def pulse(self, setting: Setting) -> float:
        """The shortest pulse in a setting, seconds; at the kindest a stimulus or a guessed duty asks for none."""
        kept = 0.0 if self.held_on is None else setting.low(self.held_on)
        return self.seconds / max(1.0 - kept, 1e-9)


def demand(context: Context, channel: Channel) -> Demand | None:
    """What a channel must follow: the shortest pulse of all that is stated; else that of a stimulus."""
    stated = list(_stated(context, _nets(context, channel)))
    if stated:
        return min(stated, key=lambda each: each.seconds)
    return _stimulus(context, channel)


def demand_at(context: Context, part: Part) -> Demand | None:
    """What a part must follow of which no output is solved: the shortest pulse stated at its pins, or of its LEDs."""
    nets = list(context.circuit.pins(part.element))
    for channel in context.analysis.neighbours().of_part(part.element):
        nets += _nets(context, channel)
    return min(_stated(context, nets), key=lambda each: each.seconds, default=None)


def _nets(context: Context, channel: Channel) -> Iterator[int]:
    """The nets on which a signal of the channel may be stated, of the couplers before it too."""
    walker = context.lookup.walker
    yield from channel.drive.inner
    yield from (held.net for held in channel.drive.boundary if held.kind in ("output", "line", "loose", "part"))
    yield from channel.load.inner
    yield from (held.net for held in channel.load.boundary if held.kind == "input")
    yield from (net for net in channel.pins.values() if walker.held(net) is None)
    known = by_output(context.analysis)
    for pair in channel.drive.pairs if not channel.loop else ():
        if pair in known:
            yield from _nets(context, known[pair])


def _stated(context: Context, nets: Iterable[int]) -> Iterator[Demand]:
    for net in dict.fromkeys(nets):
        name = context.net(net)
        signal = context.facts.signal(name)
        if signal is None:
            continue
        if signal.pulse is not None:
            words = f"the shortest pulse of {name} is {show(signal.pulse.value, 's')}"
            yield Demand(signal.pulse.value, _share(context, False), words)
        if signal.rate is None:
            continue
        text = signal.rate.text.strip("\"' ")
        if waves.stated_hertz(context.lookup, name) is None:
            seconds = 1.0 / signal.rate.value
            words = f"{name} carries {text}, a pulse of {show(seconds, 's')}"
            yield Demand(seconds, _share(context, text.casefold().endswith("baud")), words)
        else:
            duty = None if signal.duty is None else signal.duty.value
            least = HALF if duty is None else min(duty.low, 1.0 - duty.high)
            seconds = max(least, 0.0) / signal.rate.value
            half = ", half of it high as no duty is stated" if duty is None else ""
            words = f"{name} repeats with {text}{half}, the shortest pulse is {show(seconds, 's')}"
            yield Demand(seconds, _share(context, False), words, _any_duty(name) if duty is None else None)


def _any_duty(name: str) -> Term:
    """Of a duty that nobody states: a pulse too short at a half leaves the result open, as its length is a guess."""
    usual = Usual(0.0, 0.0, 1.0, 1.0, 1.0, "assumption: half of each period")
    title = f"how far {name} is from a pulse that is short"
    return fact_terms.defaulted(SignalFacts.duty, name, usual, title=title, unit="1")


def _stimulus(context: Context, channel: Channel) -> Demand | None:
    """A PULSE source that drives the channel: no fact, so that it can't make anything fail."""
    try:
        source = context.analysis.periodic_source(channel)
    except Lacking:
        return None
    if source is None or source.shape != "levels" or source.held_on is None or source.duty is None:
        return None
    seconds = min(source.duty.low, 1.0 - source.duty.high) * source.period
    words = f"the PULSE source at {source.name} has a shortest pulse of {show(seconds, 's')}"
    return Demand(max(seconds, 0.0), _share(context, False), words, source.held_on, stimulus=True)


def _share(context: Context, sampled: bool) -> float:
    found = context.facts.of(Limits.pulse_distortion, "")
    if found is not None:
        return float(found.value)
    return Limits.pulse_distortion.cases["baud"].low if sampled else Limits.pulse_distortion.counts.low

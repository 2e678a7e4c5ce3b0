"""How fast an output that switches a load follows: thyristors to the next zero, MOSFET outputs by their record's times.

In: a rule, a channel whose output is a switch, what its signal asks of it. Out: its result.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.claims import Claim, at_least
from isolint.checking.coil_speed import released
from isolint.checking.context import Context
from isolint.checking.demanded_speed import Demand
from isolint.checking.rule import Rule
from isolint.checking.switched import Switched, frequency, powered, switched
from isolint.checking.verdict import decide
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Spec, Timing, Trigger
from isolint.results import Result
from isolint.rows import Usual, Value, most
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

_MOSFET = most(0.5e-3, 5e-3, "default (from memory)")


class EdgeTimes(NamedTuple):
    """Both edges as figures in a setting, with the terms behind them."""

    on: Figure
    off: Figure
    terms: tuple[Term, ...]


def follows(rule: Rule, context: Context, channel: Channel, asked: Demand) -> Iterator[Result]:
    """Whether a switch closes and opens within the shortest pulse; under phase control, whether it closes."""
    found = switched(context, channel)
    fed = powered(context, found)
    holds = channel.part.kind.output.switch != "passes"
    if holds and not fed.alternating:
        text = f"{channel.subject}: on direct current it stays on once fired, whatever its signal asks"
        yield context.channel_result(rule, channel, "notApplicable", text)
        return
    phased = holds and _use(context, channel, found) == "phase-control"

    def claim(setting: Setting) -> Claim:
        times = _to_zero(context, channel, found, setting, phased) if holds else _transistors(context, channel, setting)
        needed = times.on if phased else (times.on + times.off).called("t_needed", "s", "to close and to open")
        terms = times.terms if asked.held_on is None else (*times.terms, asked.held_on)
        return at_least(Figure("t_p", asked.pulse(setting), "s", "shortest pulse", end="min"), needed, terms)

    verdict = decide(claim)
    told = verdict.worst
    yield context.judged(
        rule,
        channel,
        verdict,
        f"{asked.words}; to close{'' if phased else ' and to open'} it takes up to {show(told.limit.si, 's')}",
        evidence=told.evidence(),
        remedy="longer pulses, or a faster part",
        chain=(*channel.drive.elements, *found.elements),
    )


def _use(context: Context, channel: Channel, found: Switched) -> str:
    """What its signal is stated to be used for."""
    nets = (*channel.drive.inner, *(held.net for held in channel.drive.boundary), *channel.pins.values(), *found.ends)
    facts = (context.facts.signal(context.net(net)) for net in nets)
    return next((str(fact.use.value) for fact in facts if fact is not None and fact.use is not None), "")


def _to_zero(context: Context, channel: Channel, found: Switched, setting: Setting, phased: bool) -> EdgeTimes:
    """A thyristor output opens at the next zero of its current; one that waits for zero closes there, too."""
    if phased:
        on = _stated(channel.part, Timing.turn_on)
        if on is None:
            name = fact_terms.named(channel.part)
            lacking = fact_terms.missing(context.settings_file, Timing.turn_on, name)
            raise Lacking(f"how long a pulse {name} needs is not known", [lacking])
        return EdgeTimes(Figure("t_on", on, "s", "turn-on time"), Figure("t_off", 0.0, "s"), ())
    hertz = frequency(context, found)
    if hertz is None:
        names = [path.name for side in found.ways for path in side if context.facts.supply(path.name) is not None]
        asked = [context.lookup.missing(SupplyFacts.frequency, name) for name in names[:1]]
        raise Lacking("the frequency of its supply is not stated", asked)
    half = (Figure("", 0.5) / Figure("f", hertz, "Hz")).called("t_off", "s", "half a period of its supply")
    crosses = fact_terms.recorded(channel.part, Trigger.zero_crossing)
    if crosses is not None:
        return EdgeTimes(half if crosses else Figure("t_on", 0.0, "s", "at once"), half, ())
    waits = fact_terms.defaulted(
        Trigger.zero_crossing,
        fact_terms.named(channel.part),
        most(0.0, 1.0, "it may wait for zero, or not"),
        title=f"whether {channel.part.path} waits for the zero crossing",
        unit="1",
    )
    return EdgeTimes(setting.high(waits) * half, half, (waits,))


def _stated(part: Part, row: Value[Spec]) -> float | None:
    spec = fact_terms.recorded(part, row)
    return None if spec is None or spec.max is None else float(spec.max)


def _transistors(context: Context, channel: Channel, setting: Setting) -> EdgeTimes:
    """Turn-on and turn-off time of a MOSFET output; a coil in its load must let go, too."""
    figures: list[Figure] = []
    terms: list[Term] = []
    for row, symbol in ((Timing.turn_on, "t_on"), (Timing.turn_off, "t_off")):
        part = channel.part
        stated, title = _stated(part, row), row.title.format(part.path)
        name = fact_terms.named(part)
        if stated is not None:
            term = fact_terms.known(row, name, stated, f"record {name}", title=title)
        else:
            spec = fact_terms.recorded(part, row)
            least = 0.0 if spec is None else float(spec.typ or spec.min or 0.0)
            usual = _MOSFET if not least else Usual(least, least, 2.0 * least, least, least, "default (from memory)")
            term = fact_terms.defaulted(row, name, usual, title=title)
        terms.append(term)
        figures.append(Figure(symbol, setting.high(term), "s", title, source=term.origin))
    coil = released(context.analysis, channel, setting)
    if coil is not None:
        took = Figure("t_release", coil.seconds, "s", "time of the coil to release")
        figures[1] = (figures[1] + took).called("t_off", "s", "to open, and of its coil to release")
        terms.extend(coil.terms)
    return EdgeTimes(figures[0], figures[1], tuple(terms))

"""What a switching output bears: voltage while open, current while closed, and which way.

In: a rule that judges one of them, a channel whose output is a switch. Out: its results, in place of what the solver
says of transistors and levels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.equalised import SwitchRow, equalised, share_evidence, shared, unshared_words
from isolint.checking.rule import Rule
from isolint.checking.switched import (
    Switched,
    across,
    current,
    load_kind,
    loose_ends,
    of_thyristor,
    powered,
    stated_load,
    switched,
)
from isolint.checking.switched_clamp import clamps, shorting
from isolint.checking.switched_load import load_name
from isolint.checking.switched_off import leakage
from isolint.checking.switches_beside import always_closed, share
from isolint.checking.verdict import decide
from isolint.facts import ElementFacts, LoadFacts, SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.interfaces.pinsets import switch_pins
from isolint.parts import Derating, Output, Thyristor, Trigger
from isolint.results import Measure, Result
from isolint.rows import Usual, Value, most
from isolint.types.form.pin_names import folded
from isolint.worstcase import fact_terms, limits
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

ROOT = 2.0**0.5
INRUSH = {
    "lamp": (8.0, 15.0),
    "motor": (4.0, 8.0),
    "transformer": (10.0, 30.0),
    "capacitive": (10.0, 100.0),
    "electronic": (10.0, 100.0),
}
"""How often its steady current a load takes at first, by kind: from the kindest to the worst (from memory)."""


def fed(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """Whether anything can flow through a switch when it closes."""
    found = switched(context, channel)
    closed = always_closed(context, channel)
    if closed is not None:
        text = (
            f"{channel.subject}: it decides nothing: {closed.subject} is always parallel on, nothing switches its LED"
        )
        yield context.channel_result(
            rule,
            channel,
            "fail",
            text,
            measure=Measure(0.0, larger_is_worse=False),
            related=context.related([channel.part.element, closed.part.element]),
            remedy=f"let a signal switch the LED of {closed.subject}, or take {closed.subject} out",
        )
        return
    if across(context, found, WORST) is not None:
        text = f"{channel.subject}: current can flow through its output when it conducts"
        yield context.channel_result(rule, channel, "pass", text, related=context.related(found.elements))
        return
    open_ended = [net for net in found.loads if _return(context, net) is None]
    if open_ended:
        name = context.net(open_ended[0])
        raise Lacking(f"where load {name} leads nobody says", [context.lookup.missing(LoadFacts.return_, name)])
    if found.unknown:
        path = context.circuit.path(found.unknown[0])
        raise Lacking(f"nobody says what {path} is", [context.lookup.missing(ElementFacts.part, path)])
    loose = loose_ends(context, found)
    if any(loose) and all(way or ends for way, ends in zip(found.ways, loose, strict=True)):
        names = [context.net(net) for ends in loose for net in ends[:1]]
        lacking = [context.lookup.missing(SupplyFacts.voltage, name, "", SupplyFacts.kind) for name in names[:1]]
        raise Lacking(f"what feeds net {' and '.join(names)} nobody says", lacking)
    ends = " and ".join(context.net(net) for net in found.ends)
    yield context.channel_result(
        rule,
        channel,
        "fail",
        f"{channel.subject}: its output switches nothing: no two voltages lie behind nets {ends}",
        measure=Measure(0.0, larger_is_worse=False),
        related=context.related([channel.part.element, *found.elements]),
        remedy="connect it between a supply and its load",
    )


def _return(context: Context, net: int) -> str | None:
    load = context.facts.load(context.net(net))
    return None if load is None or load.return_ is None else load.return_.value


def stands_voltage(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """The largest voltage across an open switch against its rating."""
    found = switched(context, channel)
    first = powered(context, found)
    rating = limits.output_voltage(channel.part)
    if rating is None:
        return
    load = stated_load(context, found)
    lags = load_kind(context, found) in ("inductive", "motor", "transformer") and not first.alternating
    if lags and load is not None and not any(context.circuit.letter(element) == "L" for element in found.coils):
        yield from _clamped(rule, context, channel, found, load)

    row = equalised(context.analysis, channel)

    def claim(setting: Setting) -> Claim:
        volts, terms = across(context, found, setting), tuple[Term, ...]()
        assert volts is not None
        peak = Figure("V_off", volts.high, "V", "across the open output", source=" and ".join(volts.names))
        if isinstance(row, SwitchRow):
            peak, terms = shared(context.analysis, row, peak, partial(leakage, context), setting, volts.alternating)
        limit = Figure("V_max", setting.low(rating), "V", source=rating.origin)
        return at_most(peak, limit, (rating, *volts.terms, *terms))

    verdict = decide(claim)
    told = verdict.worst
    sees, stands = told.beside
    yield context.judged(
        rule,
        channel,
        verdict,
        f"its output stands {stands} and sees up to {sees} while it is off"
        f"{unshared_words(context.analysis, row, told.found)}",
        evidence=(*told.evidence(), *share_evidence(told.found)),
        remedy="a part with a higher output voltage, or a lower supply",
        chain=found.elements,
    )


def _clamped(
    rule: Rule, context: Context, channel: Channel, found: Switched, load: tuple[str, LoadFacts]
) -> Iterator[Result]:
    """Whether a diode of the board, or one that is stated, takes the current of a load when the switch opens."""
    name, fact = load
    diodes = clamps(context, found, name, fact)
    if diodes:
        parts = ", ".join(context.circuit.path(element) for element in diodes)
        text = f"{channel.subject}: {parts} takes the current of load {name} when its output opens"
        yield context.channel_result(rule, channel, "pass", text, role="clamp", related=context.related(diodes))
    elif (turned := shorting(context, found, name, fact)) is not None:
        path = context.circuit.path(turned)
        yield context.channel_result(
            rule,
            channel,
            "fail",
            f"{channel.subject}: {path} lies across load {name} the wrong way round: it shorts it through its output",
            context.place(turned),
            role="clamp",
            measure=Measure.number_of(1),
            remedy=f"turn {context.named(turned)} round",
            related=context.related([channel.part.element, *found.elements, turned]),
        )
    elif fact.clamped is None:
        lacking = context.lookup.missing(LoadFacts.clamped, name)
        reason = Lacking(f"what takes the current of load {name} when it opens nobody says", [lacking])
        yield context.lacking(rule, channel, reason, role="clamp")
    elif not fact.clamped.value:
        yield context.channel_result(
            rule,
            channel,
            "fail",
            f"{channel.subject}: nothing takes the current of load {name} when its output opens",
            role="clamp",
            measure=Measure.number_of(1),
            remedy=f"a diode across load {name}, or a suppressor across the output",
            related=context.related([channel.part.element, *found.elements]),
        )


def carries_current(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """The load's steady and first current against the rating, of the thyristor where it fires one."""
    found = switched(context, channel)
    first = powered(context, found)
    rating, name, peak = _rating(context, channel, found, first.alternating)
    factor = _at_hottest(context, channel) if found.thyristor is None else None
    beside = () if factor is None else (factor,)
    part, among = share(context, channel)
    among_words = f" as its share among {among}" if among > 1 else ""

    def limit(setting: Setting) -> Figure:
        given = Figure("I_max", setting.low(rating), "A", source=rating.origin)
        return (
            given if factor is None else (given * Figure("F_T", setting.low(factor))).called("I_max,T", "A", end="min")
        )

    def steady(setting: Setting) -> Claim:
        _, largest, terms = current(context, found, setting)
        flows = Figure("I", largest, "A", "current of its load")
        if among > 1:
            shares = Figure("k_share", part, "1", f"largest share among {among} of one type (from memory)")
            flows = (shares * flows).called("I_1", "A", "current of one of them")
        if peak is not None:
            root = Figure("", setting.high(peak))
            flows = (root * flows).called("I_pk", "A", "peak current of its load")
        kinds = () if peak is None else (peak,)
        return at_most(flows, limit(setting), (rating, *beside, *terms, *kinds))

    verdict = decide(steady)
    told = verdict.worst
    flows, stands = told.beside
    yield context.judged(
        rule,
        channel,
        verdict,
        f"{name} stands {stands} and carries up to {flows}{among_words}",
        None if found.thyristor is None else found.thyristor.element,
        evidence=told.evidence(),
        remedy="a part that carries more, or a smaller load",
        chain=found.elements,
    )
    if verdict.kind == "fail":
        return
    yield from _inrush(rule, context, channel, found, rating, name)


def _inrush(
    rule: Rule, context: Context, channel: Channel, found: Switched, rating: Term, name: str
) -> Iterator[Result]:
    kind, load = load_kind(context, found), stated_load(context, found)
    stated = load is not None and load[1].inrush is not None
    if not stated and kind is not None and kind not in INRUSH:
        return
    where = load_name(context, found)
    low, high = INRUSH.get(kind or "", (1.0, 15.0))
    times = fact_terms.defaulted(
        LoadFacts.inrush, where, most(low, high, "times its steady current (from memory)"), unit="1"
    )
    part, _ = share(context, channel)
    bearing, pulses = _pulses(channel, found, rating, name)

    def claim(setting: Setting) -> Claim:
        bears, pulse = bearing(setting), pulses
        if stated:
            term = context.lookup.term(LoadFacts.inrush, where)
            return at_most(Figure("I_in", part * term.high, "A", "stated inrush"), bears, pulse)
        _, largest, terms = current(context, found, setting)
        rushes = Figure("I", part * largest, "A") * Figure("k_in", setting.high(times))
        return at_most(rushes.called("I_in", "A", "first current of its load"), bears, (*pulse, times, *terms))

    verdict = decide(claim)
    told = verdict.worst
    yield context.judged(
        rule,
        channel,
        verdict,
        f"the first current of its load is up to {told.found}, {name} stands {told.limit}",
        evidence=told.evidence(),
        remedy="a part that stands more, or something that limits the inrush",
        chain=found.elements,
        role="inrush",
    )


def _pulses(
    channel: Channel, found: Switched, rating: Term, name: str
) -> tuple[Callable[[Setting], Figure], tuple[Term, ...]]:
    """What a switch stands at first: of a thyristor half its surge current, since that repeats."""
    kind = channel.part.kind.output.switch
    row: Value[float] = Trigger.surge_current if kind.startswith("holds") else Output.pulse_current_max
    part, share = fact_terms.named(channel.part), 0.5 if kind.startswith("holds") else 1.0
    stands = fact_terms.recorded(channel.part, row)
    if found.thyristor is not None:
        row, part, share = Thyristor.surge_current, found.thyristor.record.name, 0.5
        stands = found.thyristor.record.thyristor.surge_current
    if stands is not None:
        figure = Figure("I_TSM", float(stands), "A", "surge current", source=f"record {part}")
        made = (Figure("", share) * figure).called("I_pulse", "A", "pulses that repeat")
        return lambda _: made, ()
    usual = Usual(1.0, 1.0, 3.0, 3.0, 3.0, "pulses over the steady rating (from memory)")
    title = f"pulses that {name} stands over its steady rating"
    pulse = fact_terms.defaulted(row, part, usual, title=title, unit="1")

    def times(setting: Setting) -> Figure:
        return (Figure("I_max", setting.low(rating), "A") * Figure("k", setting.low(pulse))).called("I_pulse", "A")

    return times, (rating, pulse)


def _rating(context: Context, channel: Channel, found: Switched, alternating: bool) -> tuple[Term, str, Term | None]:
    """The current rating, whose it is, and by what an rms current is multiplied before it is compared."""
    if found.thyristor is not None:
        path = context.circuit.path(found.thyristor.element)
        return of_thyristor(context, found.thyristor, Thyristor.current_rms), path, None
    part = channel.part
    if part.kind.output.switch == "passes":
        rating = limits.output_current(part)
        assert rating is not None
        how = fact_terms.recorded(part, Output.current_is)
        peak = None
        if alternating and how != "rms":
            ends = (ROOT, ROOT) if how == "peak" else (1.0, ROOT)
            name = fact_terms.named(part)
            usual = most(*ends, "peak or rms, nobody said which")
            peak = fact_terms.defaulted(Output.current_is, name, usual, unit="1")
        return rating, part.path, peak
    if part.kind.output.switch != "complete":
        return fact_terms.of_record(channel.part, Trigger.current_rms), part.path, None
    usual = Usual(1.0, 3.0, 40.0, 40.0, 40.0, "default (from memory)")
    return fact_terms.of_record(part, Output.current_max, usual), part.path, None


def _at_hottest(context: Context, channel: Channel) -> Term | None:
    """What is left of a current rating at the highest ambient; None where all is."""
    hottest = context.lookup.ambient().high
    derating: Derating | None = fact_terms.recorded(channel.part, Output.derating)
    power = fact_terms.recorded(channel.part, Output.power_max)
    if derating is not None and power:
        left = max(1.0 - derating.slope * max(hottest - derating.from_, 0.0) / power, 0.0)
        name = fact_terms.named(channel.part)
        # Heat goes with the square of the current.
        return fact_terms.known(Output.derating, name, left**0.5, f"record {name}")
    if hottest <= 40.0:
        return None
    low = max((100.0 - hottest) / 60.0, 0.0)
    high = 1.0 if hottest <= 85.0 else max((100.0 - hottest) / 15.0, 0.0)
    usual = Usual(low, low, high, high, high, "from 40 degC to nothing at 100 degC, or none (from memory)")
    return fact_terms.defaulted(Output.derating, fact_terms.named(channel.part), usual, unit="1")


def one_way(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """Whether a switch that blocks one way only sees the other polarity."""
    found = switched(context, channel)
    first = powered(context, found)
    both = both_ways(channel)
    if both or channel.part.kind.output.switch != "passes":
        text = f"{channel.subject}: its output blocks either polarity that it sees"
        yield context.channel_result(rule, channel, "pass", text)
        return
    backwards = _reversed(context, channel, found)
    if not first.alternating and not backwards:
        text = f"{channel.subject}: its output sees no reverse voltage"
        yield context.channel_result(rule, channel, "pass", text)
        return
    if both is None:
        name = fact_terms.named(channel.part)
        lacking = fact_terms.missing(context.settings_file, Output.bidirectional, name)
        raise Lacking("whether its output blocks both ways is not known", [lacking])
    why = "an alternating voltage" if first.alternating else "a voltage from source to drain"
    yield context.channel_result(
        rule,
        channel,
        "fail",
        f"{channel.subject}: its output blocks one way only and sees {why}: its body diode conducts though it is off",
        measure=Measure(first.high, larger_is_worse=True),
        remedy="a part that blocks both ways" if first.alternating else "exchange the two ends of its output",
        related=context.related([channel.part.element, *found.elements]),
    )


def both_ways(channel: Channel) -> bool | None:
    """Whether an output switches both ways: as stated, else as its pins are called; None where they do not tell."""
    part = channel.part
    stated = fact_terms.recorded(part, Output.bidirectional)
    if stated is not None:
        return bool(stated)
    names = [] if part.record is None else [folded(part.record.pins[pin]) for pin in switch_pins(part, channel.name)]
    if len(names) != 2:
        return None
    if any(name.startswith("s") or name.endswith("-") for name in names):
        return False
    stems = {name.rstrip("12") for name in names}
    return True if len(stems) == 1 else None


def _reversed(context: Context, channel: Channel, found: Switched) -> bool:
    """Whether the end called source or minus lies higher than the other on direct current."""
    part = channel.part
    if part.record is None:
        return False
    names = [folded(part.record.pins[pin]) for pin in switch_pins(part, channel.name)]
    low = next((at for at, name in enumerate(names) if name.startswith("s") or name.endswith("-")), 1)
    ends = []
    for side in found.ways:
        volts = [context.lookup.supply(path.net).nominal for path in side if _is_supply(context, path.net)]
        ends.append(max(volts, default=0.0))
    return ends[low] > ends[1 - low] + 0.5


def _is_supply(context: Context, net: int) -> bool:
    held = None if net < 0 else context.lookup.walker.held(net)
    return held is not None and held.kind == "supply" and not context.lookup.is_alternating(net)

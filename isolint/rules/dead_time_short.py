"""Two switches of a half bridge that are on at once, since one turns off later than the other turns on.

## What it looks at

Pairs of channels that are stated as `[[pairs]]` with their `dead_time`, and gate drivers whose transistors lie in
series (the source of one is the drain of the other) without being stated.

## Why it matters

Both transistors on short the supply. It lasts for the difference of two delays, at each edge: the bridge runs hot, or
dies with the first pair of drivers from two batches.

## How it is computed

For both orders, in seconds:

    needed = t_off,max of the one - t_on,min of the other
    margin = dead_time / needed                                    must be 1.00 or more

Each with its gate: R C ln(V / V_off) until it is off, R C ln(V / (V - V_on)) until it is on. R and C are those of the
netlist at the gate, V_on is `elements."M1".gate_full_on` (else VTO + 1 V) and V_off half of VTO. Delays are those of
the record (`timing.delay_high`, `delay_low` with their `min`); a least delay that nobody states is anything from 0 to
the longest. For two parts of one record `timing.difference` stands for both delays. The transistors add their own
`elements."M1".turn_off_time` and `turn_on_time`; one of which neither is stated, and at whose gate the netlist draws no
capacitor, takes 0 to 1 us longer to turn off than to turn on (from memory).

Settings: driver, receiver, conditions.

```toml
[inputs."O?"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[[pairs]]
channels = ["XU1", "XU2"]
dead_time = "50 ns"
```

## Fails

```netlist
* Two logic outputs of 75 ns that switch in turn with 50 ns between: open, their least delays are not stated
R1 V5 A 430
* expect-open: dead-time-short
XU1 A GND VB O1 GNDB DEMO_LO1
R3 VB O1 2.2k
R2 V5 B 430
XU2 B GND VB O2 GNDB DEMO_LO1
R4 VB O2 2.2k
C1 VB GNDB 100n
C2 VB GNDB 100n
```

## Passes

```netlist
* One of them alone (demonstration)
R1 V5 A 430
XU3 A GND VB O1 GNDB DEMO_LO1
R3 VB O1 2.2k
C1 VB GNDB 100n
```

## Remedy

A longer dead time in the controller, drivers with a smaller spread of delays, or a smaller gate resistor for turning
off.

## What it cannot see

The charge of the Miller effect: state it as a capacitor, or as a `gate_full_on` that holds. Whether the controller
keeps its dead time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least
from isolint.checking.context import Context
from isolint.checking.dead_time import all_halves, half_bridges, switching
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts.stated import PairFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Timing
from isolint.results import MissingFact, Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

_LEAST = 1e-12


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a pair, with its first channel."""
    found = list(_pairs_of(context, channel))
    if not found:
        text = f"{channel.subject}: it is half of no pair, and no transistor behind it lies in series with another's"
        found = [context.channel_result(RULE, channel, "notApplicable", text)]
    yield from found


def beside(context: Context) -> Iterable[Result]:
    """The pairs whose first half is the output of a driver of which no channels are made."""
    for half in all_halves(context)[len(context.channels) :]:
        yield from _pairs_of(context, half)


def _pairs_of(context: Context, half: Channel) -> Iterator[Result]:
    yield from _stated(context, half)
    yield from _unstated(context, half)


def _stated(context: Context, half: Channel) -> Iterator[Result]:
    every = {each.subject.casefold(): each for each in all_halves(context)}
    for pair in context.facts.pairs:
        first, second = (name.casefold() for name in pair.channels)
        role = f"{pair.channels[0]} and {pair.channels[1]}"
        if half.subject.casefold() == second and first not in every:
            reason = Lacking(f"{pair.key} names {pair.channels[0]}, which is no channel of this netlist")
            yield _lacking(context, half, reason, role)
        if half.subject.casefold() != first:
            continue
        try:
            if second not in every:
                raise Lacking(f"{pair.key} names {pair.channels[1]}, which is no channel of this netlist")
            yield _judge(context, half, every[second], pair, role)
        except Lacking as reason:
            yield _lacking(context, half, reason, role)


def _unstated(context: Context, half: Channel) -> Iterator[Result]:
    """Half bridges of gate drivers that no pair names."""
    if "gate" not in half.part.kind.owns:
        return
    known = [{name.casefold() for name in pair.channels} for pair in context.facts.pairs]
    for other in half_bridges(context, half):
        if {half.subject.casefold(), other.subject.casefold()} in known:
            continue
        lines = f'[[pairs]]\nchannels = ["{half.subject}", "{other.subject}"]\n{PairFacts.dead_time.entry()}'
        missing = MissingFact(context.settings_file, "pairs", lines)
        reason = Lacking(
            f"its transistor lies in series with that of {other.subject}, and no dead time between them is stated",
            [missing],
        )
        yield _lacking(context, half, reason, f"{half.subject} and {other.subject}")


def _is_channel(context: Context, half: Channel) -> bool:
    return any(each.subject == half.subject for each in context.channels)


def _lacking(context: Context, half: Channel, reason: Lacking, role: str) -> Result:
    if _is_channel(context, half):
        return context.lacking(RULE, half, reason, role)
    return part_results.lacking(context, RULE, half.part, reason, role)


def _judge(context: Context, half: Channel, other: Channel, pair: PairFacts, role: str) -> Result:
    if pair.dead_time is None:
        lines = f'[[pairs]]\nchannels = ["{pair.channels[0]}", "{pair.channels[1]}"]\n{PairFacts.dead_time.entry()}'
        raise Lacking(
            f"the dead time between {role} is not stated", [MissingFact(pair.file, f"{pair.key}.dead_time", lines)]
        )
    given = Figure("dead_time", pair.dead_time.value, "s", f"dead time between {role}", source=pair.dead_time.key)

    def claim(setting: Setting) -> Claim:
        needed, terms = _needed(context, half, other, setting)
        return at_least(given, needed, terms, least=_LEAST)

    verdict = decide(claim)
    told = verdict.worst
    kept, needed = told.beside
    text = f"{kept} of dead time lie between {role}, {needed} are needed"
    remedy, chain = "a longer dead time, or drivers whose delays differ less", (other.part.element,)
    evidence = told.evidence()
    if _is_channel(context, half):
        return context.judged(RULE, half, verdict, text, role=role, evidence=evidence, remedy=remedy, chain=chain)
    return part_results.judged(
        context, RULE, half.part, verdict, text, role=role, evidence=evidence, remedy=remedy, chain=chain
    )


def _needed(context: Context, channel: Channel, other: Channel, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
    """The longest time from the edge at which one is turned off to that at which the other is on."""
    one, two = switching(context, channel, setting), switching(context, other, setting)
    terms = (*one.terms, *two.terms)
    same = channel.part.record is not None and channel.part.record == other.part.record
    difference = fact_terms.recorded(channel.part, Timing.difference) if same else None
    if difference is not None:
        gate = max(one.off_gate - two.on_gate, two.off_gate - one.on_gate)
        needed = Figure("PDD", difference, "s", "delay difference") + Figure(
            "t_gate", gate, "s", "difference of the gates"
        )
        return needed.called("needed", "s", "dead time that is needed"), (*one.gate_terms, *two.gate_terms)
    later, earlier = (one.off, two.on) if one.off - two.on >= two.off - one.on else (two.off, one.on)
    needed = Figure("t_off", later, "s", "longest time to off") - Figure("t_on", earlier, "s", "shortest time to on")
    return needed.called("needed", "s", "dead time that is needed"), terms


RULE = Rule(
    slug="dead-time-short",
    group="time, heat",
    level="error",
    page=__doc__,
    asked_of=("gate", "output"),
    facts=(
        "pairs.channels",
        "pairs.dead_time",
        "elements.*.gate_full_on",
        "elements.*.turn_off_time",
        "elements.*.turn_on_time",
        "parts.*.timing.delay_low",
        "parts.*.timing.delay_high",
        "parts.*.timing.difference",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("gate",),
    needs=(),
    room="a part whose delays differ less",
)

"""A dark current that spoils the level while the LED is off.

## What it looks at

The output of each channel without any LED current, at both ambient ends: the level that every receiver on it then
sees. The dark currents of all couplers on the same net add.

## Why it matters

A phototransistor's dark current doubles with every eight to ten kelvins. 100 nA on the data sheet's first page are
microamperes in a warm cabinet, and a large pull-up or an open base turns them into a wrong level.

## How it is computed

    I_dark(T) = I_test 2^((T - T_test) / 8 K)

amperes (8 K at worst, 10 K typical, from memory; a record's `hot` point replaces them: straight in the logarithm
between the two points). Logic outputs: the record's `leakage`. The load network is solved with this current. A logic
input must see `high_min` where the coupler pulls it down and at most `low_max` where it pulls it up; a bipolar base
must stay below 0.4 V, a gate below half its threshold, a relay below its drop-out current. The margin is level over
limit (or limit over level) and must be 1.00 or more. Where the level is missed without any current through the
output, its network is told as the reason, for example a divider that holds the input.

Settings: driver, receiver, conditions.

## Fails

```netlist
* 2.1 uA of dark current at 60 degC and 1 uA into the input, through 1 Mohm (demonstration)
R1 DRIVE A 470
* expect: dark-current-high
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 1Meg
```

## Passes

```netlist
* Through 47 kohm (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 47k
```

## Remedy

A smaller load resistor, a resistor from base to emitter of the transistor that it drives, or a part with less dark
current.

## What it cannot see

Heat from neighbours: state the ambient at the part. Light that falls into an open package.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, ClaimOf, tightest
from isolint.checking.context import Context
from isolint.checking.cures import resistor_cure, tried, value_words
from isolint.checking.offstate import level_claim
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Result
from isolint.units import show
from isolint.worstcase.leakage import alike
from isolint.worstcase.off import OffLevel
from isolint.worstcase.uncertain import WORST, Setting

_MOST_NAMED = 4


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel, about the receiver that suffers most."""
    record = channel.part.record
    use = use_of(context, channel)
    if use or (record is not None and record.output.kind == "push-pull"):
        why = f"its output is used as {use}, not as a switch" if use else "its output drives both levels"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {why}")
        return

    if not context.analysis.dark_levels(channel):
        text = f"{channel.subject}: what it passes without LED current is asked of the LED that it flows through"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        return tightest([level_claim(level) for level in analysis.dark_levels(channel, setting)])

    first, verdict = _alike(context, channel, claim)
    if first != channel.subject and verdict.kind == "fail":
        text = f"{channel.subject}: the same outputs side by side fail {RULE.slug} for {first}"
        yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)
        return
    told = verdict.worst
    worst = min(context.analysis.dark_levels(channel), key=lambda level: level.margin)
    passed = show(sum(leak.amps for leak in worst.leaks), "A")
    idle = _idle(context, channel, worst) if verdict.kind == "fail" else None
    if idle is not None:
        yield _held(context, channel, verdict, worst, idle, claim)
        return
    couplers = sum(leak.couplers for leak in worst.leaks)
    more = f" of {couplers} couplers" if couplers > 1 else ""
    text = (
        f"without LED current its output still passes {passed}{more} at {worst.value.temperature:g} degC; "
        f"{told.found.name}: {told.found} ({told.found.corner}), {'needs' if worst.at_least else 'allowed are'} "
        f"{told.limit}"
    )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[*_leaks(worst), told.found.evidence(told.bound)],
        remedy=lambda: _cure(context, channel, worst, claim),
        chain=channel.load.elements,
    )


def _idle(context: Context, channel: Channel, worst: OffLevel) -> OffLevel | None:
    """What the receiver sees with no current at all through the output, where that is no valid level either."""
    found = [level for level in context.analysis.idle_levels(channel) if level.receiver == worst.receiver]
    return next((level for level in found if level_claim(level).margin.si < 1.0), None)


def _held(
    context: Context,
    channel: Channel,
    verdict: Verdict,
    worst: OffLevel,
    idle: OffLevel,
    claim: Callable[[Setting, Analysis], Claim],
) -> Result:
    """The result of a receiver that its own network holds where the output is to bring it."""
    told, alone = verdict.worst, level_claim(idle, "with no current through the output, ", "idle level")
    names = [context.circuit.path(element) for element in _resistors(context, channel)]
    who = f"{len(names)} resistors" if len(names) > _MOST_NAMED else _listed(names) or "what lies there"
    wanted, _, quantity = idle.words.partition(", ")
    text = (
        f"even with no current at all through its output {wanted} is missed: {f'{quantity} ' if quantity else ''}"
        f"{alone.found} ({alone.found.corner}), {'needs' if idle.at_least else 'allowed are'} {alone.limit}; "
        f"{who} {'hold' if len(names) > 1 else 'holds'} it there"
    )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[*_leaks(worst), told.found.evidence(told.bound), alone.found.evidence(alone.bound)],
        remedy=lambda: _cure_of_network(context, channel, worst, claim),
        chain=channel.load.elements,
    )


def _cure_of_network(
    context: Context, channel: Channel, worst: OffLevel, claim: Callable[[Setting, Analysis], Claim]
) -> str:
    """The values of resistors with which the network by itself leaves the level that is asked for."""
    found: list[str] = []
    for element in _resistors(context, channel):
        held = [context.lookup.walker.held(net) for net in context.circuit.pins(element)]
        kinds = {boundary.kind for boundary in held if boundary is not None}
        # What leads to the reference is to become larger where more volts are wanted, what leads to the supply smaller.
        if len(kinds & {"ground", "supply"}) == 1:
            larger = ("ground" in kinds) == worst.at_least
            cured = tried(context, element, lambda other: claim(WORST, other), larger)
            if cured.ohms is not None:
                found.append(value_words(context, element, cured, larger))
    return ", or ".join(found[:2]) or f"resistors that leave {worst.words.partition(',')[0]} by themselves"


def _listed(names: Sequence[str]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)


def _resistors(context: Context, channel: Channel) -> list[int]:
    """The resistors of a load network through which direct current can flow."""
    return [
        element
        for element in channel.load.elements
        if context.circuit.letter(element) == "R" and (context.lookup.ohms(element) or 0.0) > 0.0
    ]


def _alike(context: Context, channel: Channel, claim: ClaimOf) -> tuple[str, Verdict]:
    """The first channel with the same kind of output across the same nets of the same load, and what is so of both."""
    # What is asked of an LED in the load is a matter of each channel.
    if context.is_trial or channel.load.branches:
        return channel.subject, decide(claim)
    ends = tuple(sorted((role, net) for role, net in channel.pins.items() if role not in ("anode", "cathode")))
    key = (channel.load, ends, alike(channel.part))
    known = context.kept(_verdicts)
    if key not in known:
        known[key] = channel.subject, decide(claim)
    return known[key]


def _verdicts(context: Context) -> dict[tuple[object, ...], tuple[str, Verdict]]:
    return {}


def _cure(context: Context, channel: Channel, worst: OffLevel, claim: Callable[[Setting, Analysis], Claim]) -> str:
    smaller = resistor_cure(context, _resistor(context, channel, worst), claim, False)
    return f"{smaller or _bleeder(context, channel, worst)}, or a part with less dark current"


def _bleeder(context: Context, channel: Channel, worst: OffLevel) -> str:
    """What takes the dark current past what reads the output: a resistor at the transistor's base or gate, else a load.

    Where the output takes away what a transistor needs, only the load can give more.
    """
    circuit, receiver = context.circuit, worst.receiver
    transistors = [receiver.element] if receiver.kind in ("bjt", "mos") else []
    if receiver.kind == "input":
        inner = set(channel.load.inner) - {receiver.net}
        transistors = [
            element
            for element in channel.load.elements
            if circuit.letter(element) in "QM" and circuit.pins(element)[1] in inner
        ]
    if not transistors or (receiver.kind != "input" and worst.at_least):
        return "a smaller load resistor"
    ends = "from base to emitter" if circuit.letter(transistors[0]) == "Q" else "from gate to source"
    return f"a resistor, or a smaller one, {ends} of {context.named(transistors[0])}"


def _resistor(context: Context, channel: Channel, worst: OffLevel) -> int | None:
    """The resistor at the receiver's net through which the dark current flows, the smallest of them."""
    nets = {
        worst.receiver.net,
        *(channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins),
    } & set(channel.load.inner)
    found = [
        (ohms, element)
        for element in channel.load.elements
        if context.circuit.letter(element) == "R" and nets & set(context.circuit.pins(element))
        for ohms in (context.lookup.ohms(element),)
        if ohms
    ]
    return min(found)[1] if found else None


def _leaks(worst: OffLevel) -> Iterable[Evidence]:
    own, *others = worst.leaks
    yield own.current.evidence()._replace(name=f"dark current at {own.temperature:g} degC")
    for leak in others:
        which = f"each of {leak.couplers} others" if leak.couplers > 1 else "the one"
        name = f"dark current at {leak.temperature:g} degC of {which} beside it"
        yield leak.current.evidence()._replace(name=name)


RULE = Rule(
    slug="dark-current-high",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=(
        "environment.ambient",
        "inputs.*.high_min",
        "inputs.*.low_max",
        "inputs.*.high_current",
        "parts.*.output.dark_current",
        "parts.*.output.leakage",
    ),
    judge=judge,
    needs=("load",),
    blocks=("off",),
    judges=("off",),
    room="a part with less dark current",
)

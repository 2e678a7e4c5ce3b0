"""A logic output that is asked for more than it can carry or see.

## What it looks at

Every state of a coupler's drive: the current of each logic output in the states other than the on state (that one is
judged by `drive-headroom-low`), the total of an output that drives several LEDs through networks of their own, the
total of a `group` of outputs, and the voltage of a pin that does not drive, or against which a higher voltage is
pushed.

## Why it matters

A shunted LED asks its port for the current just when the LED is dark. Eight LEDs on one port heat the whole chip. An
LED from 5 V or 24 V lifts an open pin of a 3.3 V controller into its protection diodes.

## How it is computed

Currents in amperes at worst: I against `source_max` of a high output and `sink_max` of a low one, margin limit / I at
least 1.00. A group: the largest currents of its outputs in any state added, of an `exclusive` set only the largest,
against `current_max`. A pin in high impedance, or one into which more than 10 uA are pushed, is solved free: its
voltage against `voltage_max`, else its supply's maximum and 0.3 V (0.3 V where it may be unpowered), an assumption.

```toml
[outputs."DRIVE"]
supply = "V3"
drive = "open-drain"
low = { max = "0.4 V", at = "8 mA" }
sink_max = "16 mA"
off_leakage = "1 uA"
voltage_max = "3.6 V"
[supplies."V3"]
voltage = "3.3 V"
tolerance = "5 %"
ground = "GND"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "0.25 W"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* The LED from 5 V lifts an open pin that takes 3.6 V (demonstration)
R1 V5 A 390
* expect: driver-port-overloaded
XU1 A DRIVE GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Passes

```netlist
* The LED from 3.3 V (demonstration)
R1 V3 A 390
XU1 A DRIVE GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Remedy

A transistor between port and LED, an output that takes the voltage, or fewer LEDs on one port.

## What it cannot see

What else an output or a group drives: only the couplers of this netlist count. Currents in the pin's protection
diodes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor
from isolint.checking.evidence import at_least, at_most, line, number, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.ports import Member, PortUse, group_currents, group_of, together
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique

REQUIRED = 1.0
WHAT = {"source_max": "gives", "sink_max": "takes", "voltage_max": "sees"}


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result an output and kind of load that fails or is open, else one pass.

    One more a group at its first channel.
    """
    uses = context.analysis.port_uses(channel)
    keys = list(dict.fromkeys((use.net, use.kind) for use in uses))
    made = [_port(context, channel, net, kind, uses) for net, kind in keys]
    for held in channel.drive.boundary:
        if held.kind == "output" and _members(context, held.net)[0] is channel:
            made.extend(_together(context, channel, held.net))
    wrong = [result for result in made if result.kind != "pass"]
    if wrong:
        yield from wrong
    elif made:
        yield min(made, key=lambda result: result.margin.value if result.margin is not None else float("inf"))
    groups = list(
        dict.fromkeys(group_of(context.lookup, held.net) for held in channel.drive.boundary if held.kind == "output")
    )
    for group in groups:
        if group and _grouped(context, group)[0] is channel:
            grouped = _group(context, channel, group)
            made.append(grouped)
            yield grouped
    if not made:
        text = f"{channel.subject}: no logic output is asked for anything beside its on state"
        yield context.channel_result(RULE, channel, "notApplicable", text)


def _worst(uses: Iterable[PortUse], net: int, kind: str) -> PortUse:
    return min((use for use in uses if (use.net, use.kind) == (net, kind)), key=lambda use: use.margin)


def _port(context: Context, channel: Channel, net: int, kind: str, uses: Sequence[PortUse]) -> Result:
    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        same = [use for use in analysis.port_uses(channel, setting) if (use.net, use.kind) == (net, kind)]
        terms = unique(term for use in same for term in use.terms)
        return min((use.margin for use in same), default=float("inf")), terms

    verdict = decide(measure, "at_least", REQUIRED)
    worst = _worst(uses, net, kind)
    unit = "V" if kind == "voltage_max" else "A"
    value, symbol = worst.value.value, "V_pin" if unit == "V" else "I_port"
    evidence = [
        single(
            f"output {worst.name}, {worst.words}",
            symbol,
            unit,
            value,
            "max",
            limit=at_most(worst.limit),
            corners={"max": worst.value.corner},
        ),
        single(f"what output {worst.name} takes", kind, unit, worst.limit, "min", source=worst.source),
        single(
            "margin",
            f"{kind} / {symbol}",
            "1",
            worst.margin,
            "min",
            limit=at_least(REQUIRED),
            formula=line(
                "margin", f"{kind} / {symbol}", f"{number(worst.limit)} / {number(max(value, 1e-9))}", worst.margin, "1"
            ),
        ),
    ]
    text = (
        f"with {worst.words} output {worst.name} {WHAT[kind]} {show(value, unit)} ({worst.value.corner}), "
        f"{show(worst.limit, unit)} are allowed"
    )
    remedy = ""
    if verdict.kind == "fail":
        remedy = (
            f"a transistor between {worst.name} and the LED, an output that takes {show(value, unit)}, "
            "or the LED on the output's own supply"
            if unit == "V"
            else f"a larger series resistor, or a stronger output than {worst.name}"
        )
    resistor = limiting_resistor(context, channel, context.analysis.drive(channel)) if unit == "A" else None
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        role=f"{worst.name} {kind}",
        evidence=evidence,
        margin=Margin(worst.margin, REQUIRED),
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _members(context: Context, net: int) -> list[Channel]:
    """The channels that an output drives."""
    return [
        channel
        for channel in context.channels
        if any(held.kind == "output" and held.net == net for held in channel.drive.boundary)
    ]


def _grouped(context: Context, group: str) -> list[Channel]:
    """The channels that the outputs of a group drive."""
    return [
        channel
        for channel in context.channels
        if any(held.kind == "output" and group_of(context.lookup, held.net) == group for held in channel.drive.boundary)
    ]


def _known(analysis: Analysis, members: Iterable[Channel], setting: Setting) -> tuple[list[Member], list[Term]]:
    """Drive and states of some channels, with the terms that they use."""
    known: list[Member] = [
        (member, analysis.drive(member, setting), analysis.states(member, setting)) for member in members
    ]
    terms = [term for _, drive, _ in known for term in drive.terms]
    terms.extend(term for _, _, runs in known for run in runs for term in run.terms)
    return known, terms


def _together(context: Context, channel: Channel, net: int) -> Iterable[Result]:
    """What an output carries when several drive networks hang on it."""
    members = _members(context, net)
    entry = together(_known(context.analysis, members, WORST)[0]).get(net)
    if entry is None or len(entry.shares) < 2:
        return
    name, kind = context.net(net), "source_max" if entry.high else "sink_max"
    model = context.lookup.output(net, entry.high)
    limit = None if model is None else model.limit
    if limit is None:
        missing = [context.lookup.missing(f'outputs."{name}".{kind}', f'[outputs."{name}"]\n{kind} = "8 mA"')]
        reason = Lacking(f"the guaranteed operating current of output {name} is not stated", missing)
        yield context.lacking(RULE, channel, reason, f"{name} together")
        return
    if any(value > limit for _, value in entry.shares):
        # One of them alone is too much: that is said where it stands.
        return

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        known, terms = _known(analysis, members, setting)
        return limit / max(together(known)[net].amps, 1e-9), unique(terms)

    verdict = decide(measure, "at_least", REQUIRED)
    amps, margin = entry.amps, limit / max(entry.amps, 1e-9)
    names = " + ".join(f"I({subject})" for subject, _ in entry.shares)
    numbers = " + ".join(number(value) for _, value in entry.shares)
    what = "gives" if entry.high else "takes"
    evidence = [
        single(
            f"current of output {name}",
            "I_port",
            "A",
            amps,
            "max",
            limit=at_most(limit),
            formula=line("I_port", names, numbers, amps, "A"),
        ),
        single("margin", f"{kind} / I_port", "1", margin, "min", limit=at_least(REQUIRED)),
    ]
    subjects = ", ".join(subject for subject, _ in entry.shares)
    text = f"output {name} {what} {show(amps, 'A')} for {subjects} together, {show(limit, 'A')} are allowed"
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        None,
        role=f"{name} together",
        evidence=evidence,
        margin=Margin(margin, REQUIRED),
        remedy="larger LED resistors, or a transistor for them" if verdict.kind == "fail" else "",
        chain=[member.part.element for member in members],
    )


def _overloaded(context: Context, members: Sequence[Channel]) -> str:
    """An output that one drive network alone asks for more than it gives; empty for none."""
    for net, entry in together(_known(context.analysis, members, WORST)[0]).items():
        model = context.lookup.output(net, entry.high) if context.lookup.facts.output(context.net(net)) else None
        limit = None if model is None else model.limit
        if limit is not None and any(value > limit for _, value in entry.shares):
            return context.net(net)
    return ""


def _group(context: Context, channel: Channel, group: str) -> Result:
    fact = context.facts.group(group)
    limit = None if fact is None or fact.current_max is None else fact.current_max.value
    if limit is None:
        example = f'[groups."{group}"]\ncurrent_max = "50 mA"'
        missing = [context.lookup.missing(f'groups."{group}".current_max', example)]
        return context.lacking(
            RULE,
            channel,
            Lacking(f"the current that group {group} takes together is not stated", missing),
            f"group {group}",
        )
    members = _grouped(context, group)
    alone = _overloaded(context, members)
    if alone:
        text = f"{channel.subject}: output {alone} of group {group} is overloaded by itself"
        return context.channel_result(RULE, channel, "notApplicable", text, role=f"group {group}")

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        known, terms = _known(analysis, members, setting)
        return limit / max(sum(group_currents(context.lookup, group, known).values()), 1e-9), unique(terms)

    verdict = decide(measure, "at_least", REQUIRED)
    known, _ = _known(context.analysis, members, WORST)
    values = {context.net(net): amps for net, amps in group_currents(context.lookup, group, known).items()}
    total = sum(values.values())
    names, numbers = " + ".join(f"I({name})" for name in values) or "0", " + ".join(map(number, values.values())) or "0"
    evidence = [
        single(
            f"currents of group {group} together",
            "I_group",
            "A",
            total,
            "max",
            limit=at_most(limit),
            formula=line("I_group", names, numbers, total, "A"),
        ),
        single("margin", "current_max / I_group", "1", limit / max(total, 1e-9), "min", limit=at_least(REQUIRED)),
    ]
    names = ", ".join(values)
    text = f"the outputs of group {group} ({names}) carry {show(total, 'A')} together, {show(limit, 'A')} are allowed"
    remedy = "larger LED resistors, or transistors for some of the LEDs" if verdict.kind == "fail" else ""
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        None,
        role=f"group {group}",
        evidence=evidence,
        margin=Margin(limit / max(total, 1e-9), REQUIRED),
        remedy=remedy,
        chain=[member.part.element for member in members],
    )


RULE = Rule(
    slug="driver-port-overloaded",
    group="drive",
    level="error",
    page=__doc__,
    facts=(
        "outputs.*.source_max",
        "outputs.*.sink_max",
        "outputs.*.voltage_max",
        "outputs.*.group",
        "groups.*.current_max",
    ),
    judge=judge,
    needs=("drive", "led-current", "port", "off-state"),
    judges=("pin",),
)

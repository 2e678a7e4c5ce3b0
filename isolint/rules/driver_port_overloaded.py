"""A logic output that is asked for more than it can carry or see.

## What it looks at

Every state of a coupler's drive: the current of each logic output in the states other than the on state (that one is
judged by `drive-headroom-low`), the total of an output that drives several LEDs through networks of their own, the
total of a `group` of outputs, and the voltage of a pin that does not drive, or against which a higher voltage is
pushed. Of the coil of a relay that voltage.

## Why it matters

A shunted LED asks its port for the current just when the LED is dark. Eight LEDs on one port heat the whole chip. An
LED from 5 V or 24 V lifts an open pin of a 3.3 V controller into its protection diodes.

## How it is computed

Currents in amperes at worst: I against `source_max` of a high output and `sink_max` of a low one, margin limit / I at
least 1.00. A group: the largest currents of its outputs in any state added, of an `exclusive` set only the largest,
against `current_max`. A pin in high impedance, or one into which more than 10 uA are pushed, is solved free: its
voltage against `voltage_max`, else its supply's maximum and 0.3 V (0.3 V where it may be unpowered), an assumption.

Settings: driver, receiver, conditions.

```toml
[outputs."DRIVE"]
supply = "V3"
drive = "open-drain"
sink_max = "16 mA"
off_leakage = "1 uA"
voltage_max = "3.6 V"
[supplies."V3"]
voltage = "3.3 V"
tolerance = "5 %"
ground = "GND"
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

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.coil_headroom import pins_of_coils
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import GroupFacts, OutputFacts
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Result
from isolint.worstcase.figures import Figure, total
from isolint.worstcase.ports import Member, PortUse, Together, group_currents, group_of, together
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique

LEAST = 1e-9
WHAT = {"source_max": "gives", "sink_max": "takes", "voltage_max": "sees"}


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result an output and kind of load that fails or is open, else one pass.

    One more a group at its first channel.
    """
    outputs = [held.net for held in channel.drive.boundary if held.kind == "output"]
    made = [*_alone(context, channel), *(result for net in outputs for result in _shared(context, channel, net))]
    wrong = [result for result in made if result.kind != "pass"]
    yield from wrong or sorted(made, key=lambda result: result.margin.value if result.margin else float("inf"))[:1]
    groups = dict.fromkeys(group_of(context.lookup, net) for net in outputs)
    grouped = [result for group in groups if group for result in _group(context, channel, group)]
    yield from grouped
    if not made and not grouped:
        text = f"{channel.subject}: no logic output is asked for anything beside its on state"
        yield context.channel_result(RULE, channel, "notApplicable", text)


def beside(context: Context) -> Iterable[Result]:
    """One result an output that the coil of a relay lifts."""
    return pins_of_coils(context, RULE)


# -- one output by one channel ----------------------------------------------------------------------------------


def _alone(context: Context, channel: Channel) -> Iterable[Result]:
    """The worst state of each output, of its current and of its pin's voltage."""
    uses = context.analysis.port_uses(channel)
    for net, kind in dict.fromkeys((use.net, use.kind) for use in uses):
        yield _port(context, channel, [use for use in uses if (use.net, use.kind) == (net, kind)])


def _port(context: Context, channel: Channel, uses: Sequence[PortUse]) -> Result:
    use = min(uses, key=lambda use: use.margin)
    name, kind = use.name, use.kind

    def claim(setting: Setting) -> Claim:
        found = context.analysis.port_uses(channel, setting)
        return tightest([_within(other) for other in found if (other.net, other.kind) == (use.net, kind)])

    verdict = decide(claim)
    told, resistor = verdict.worst, None
    cure = (
        f"a transistor between {name} and the LED, an output that takes {told.found}, "
        "or the LED on the output's own supply"
    )
    if kind != "voltage_max":
        resistor = limiting_resistor(context, channel, context.analysis.drive(channel))
        cure = f"a larger series resistor, or a stronger output than {name}"
    return context.judged(
        RULE,
        channel,
        verdict,
        f"with {use.words} output {name} {WHAT[kind]} {told.found} ({told.found.corner}), {told.limit} are allowed",
        resistor,
        role=f"{name} {kind}",
        evidence=told.evidence(bounded=True),
        remedy=cure,
        chain=channel.drive.elements,
    )


def _within(use: PortUse) -> Claim:
    """That an output in one state stays within what it gives, takes or sees."""
    symbol, unit = ("V_pin", "V") if use.kind == "voltage_max" else ("I_port", "A")
    name = f"what output {use.name} takes"
    return at_most(
        Figure(symbol, use.value, unit, f"output {use.name}, {use.words}"),
        Figure(use.kind, use.limit, unit, name, end="min", source=use.source),
        use.terms,
        least=LEAST,
    )


# -- one output by several drive networks -------------------------------------------------------------------------


def _shared(context: Context, channel: Channel, net: int) -> Iterable[Result]:
    """What an output carries when several drive networks hang on it, at the first; one alone is judged by itself."""
    members = context.analysis.neighbours().driven_by(net)
    if members[0] is not channel:
        return
    entry = _together(context, members, WORST)[0].get(net)
    if entry is None or len(entry.shares) < 2:
        return
    name, kind = context.net(net), "source_max" if entry.high else "sink_max"
    limit = _guaranteed(context, entry)
    if limit is None:
        missing = [context.lookup.missing(OutputFacts.source_max if entry.high else OutputFacts.sink_max, name)]
        reason = Lacking(f"the guaranteed operating current of output {name} is not stated", missing)
        yield context.lacking(RULE, channel, reason, f"{name} together")
        return
    if any(value > limit for _, value in entry.shares):
        return
    most = Figure(kind, limit, "A")

    def claim(setting: Setting) -> Claim:
        found, terms = _together(context, members, setting)
        amps = total(Figure(f"I({subject})", value, "A") for subject, value in found[net].shares)
        return at_most(amps.called("I_port", "A", f"current of output {name}"), most, terms, least=LEAST)

    verdict = decide(claim)
    told, subjects = verdict.worst, ", ".join(subject for subject, _ in entry.shares)
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"output {name} {WHAT[kind]} {told.found} for {subjects} together, {told.limit} are allowed",
        role=f"{name} together",
        evidence=_sum_evidence(told),
        remedy="larger LED resistors, or a transistor for them",
        chain=[member.part.element for member in members],
    )


# -- a group of outputs -------------------------------------------------------------------------------------------


def _group(context: Context, channel: Channel, group: str) -> Iterable[Result]:
    """What the outputs of a group carry together, at its first channel; one that is overloaded alone is said there."""
    members = context.kept(_by_group)[group]
    if members[0] is not channel:
        return
    role = f"group {group}"
    fact = context.facts.group(group)
    if fact is None or fact.current_max is None:
        missing = [context.lookup.missing(GroupFacts.current_max, group)]
        reason = Lacking(f"the current that group {group} takes together is not stated", missing)
        yield context.lacking(RULE, channel, reason, role)
        return
    alone = _overloaded(context, members)
    if alone:
        text = f"{channel.subject}: output {alone} of group {group} is overloaded by itself"
        yield context.channel_result(RULE, channel, "notApplicable", text, role=role)
        return
    most = Figure("current_max", fact.current_max.value, "A")

    def claim(setting: Setting) -> Claim:
        known, terms = _known(context, members, setting)
        shares = group_currents(context.lookup, group, known)
        amps = total(Figure(f"I({context.net(net)})", value, "A") for net, value in shares.items())
        return at_most(amps.called("I_group", "A", f"currents of {role} together"), most, terms, least=LEAST)

    verdict = decide(claim)
    told = verdict.worst
    names = ", ".join(map(context.net, group_currents(context.lookup, group, _known(context, members, WORST)[0])))
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"the outputs of {role} ({names}) carry {told.found} together, {told.limit} are allowed",
        role=role,
        evidence=_sum_evidence(told),
        remedy="larger LED resistors, or transistors for some of the LEDs",
        chain=[member.part.element for member in members],
    )


def _overloaded(context: Context, members: Sequence[Channel]) -> str:
    """An output that one drive network alone asks for more than it gives; empty for none."""
    for net, entry in _together(context, members, WORST)[0].items():
        limit = _guaranteed(context, entry) if context.lookup.facts.output(context.net(net)) else None
        if limit is not None and any(value > limit for _, value in entry.shares):
            return context.net(net)
    return ""


# -- what several channels ask for ----------------------------------------------------------------------------------


def _by_group(context: Context) -> dict[str, list[Channel]]:
    """The channels that the outputs of each group drive."""
    neighbours = context.analysis.neighbours()
    nets: dict[str, list[int]] = {}
    for net in neighbours.outputs:
        nets.setdefault(group_of(context.lookup, net), []).append(net)
    return {
        group: neighbours.ordered(channel for net in members for channel in neighbours.driven_by(net))
        for group, members in nets.items()
    }


def _known(context: Context, members: Iterable[Channel], setting: Setting) -> tuple[list[Member], tuple[Term, ...]]:
    """Drive and states of some channels, with the terms that they use."""
    analysis = context.analysis
    known: list[Member] = [
        (member, analysis.drive(member, setting), analysis.states(member, setting)) for member in members
    ]
    terms = [term for _, drive, _ in known for term in drive.terms]
    terms.extend(term for _, _, runs in known for run in runs for term in run.terms)
    return known, unique(terms)


def _together(
    context: Context, members: Iterable[Channel], setting: Setting
) -> tuple[dict[int, Together], tuple[Term, ...]]:
    known, terms = _known(context, members, setting)
    return together(known), terms


def _guaranteed(context: Context, entry: Together) -> float | None:
    """What an output surely gives or takes, None where that is not known."""
    model = context.lookup.output(entry.net, entry.high)
    return None if model is None else model.limit


def _sum_evidence(told: Claim) -> Iterable[Evidence]:
    yield told.found.evidence(told.bound)
    yield told.margin.evidence(told.wanted, worked=False)


RULE = Rule(
    slug="driver-port-overloaded",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "outputs.*.source_max",
        "outputs.*.sink_max",
        "outputs.*.voltage_max",
        "outputs.*.group",
        "groups.*.current_max",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("coil",),
    needs=("drive", "led-current", "port", "off-state"),
    judges=("pin",),
    room="a stronger driver",
)

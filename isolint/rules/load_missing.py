"""An output that nothing feeds.

## What it looks at

The load network of each coupler's output: whether direct current can flow through the output when it conducts.
Of a digital isolator whose outputs only pull down, whether something pulls them up.

## Why it matters

A transistor or open-collector output only pulls. Without a pull-up (or a pull-down on a follower) the receiver's
input floats when the coupler is off.

## How it is computed

The rule fails where both ends of the output lie on one net, or one is tied to a supply and the other to a reference,
directly or through links below 1 ohm: then nothing moves, whatever the LED does. Else the output is closed with 1 ohm
and the load network solved nominally; the rule fails when no current above 1 nA flows: nothing feeds the output, or
nothing takes its current. A net that only bears the name of a ground takes none (see `led-undriven`). A pull-up inside
the receiver counts when it is stated (`inputs."NET".pull_up`). A pull-up to a net that nothing feeds is open rather
than a failure where no supply of that side is known, or not the one that the receiver is stated to use: the net may be
a supply that nobody stated.

Outputs of other couplers in the load network conduct or not. With all of them conducting the output must be fed; and in
one state of them at least it must move what reads it. It never does where another one beside it always conducts: one
whose LED supplies of its own side light and nothing switches. An LED that is lit from elsewhere, or by alternating
current, tells whether that is there, and its output may well lie beside another.

Where what feeds the output, or the input that reads it, has a stated ground that nothing joins to that of the other
end, it is open: the two may be one elsewhere.

An output that drives gates (gate drivers, photovoltaic couplers) must reach a gate over resistors, diodes and coils; of
a gate driver something else that takes its level is enough.

Settings: driver, receiver, conditions.

## Fails

```netlist
* The pull-up is not there (demonstration)
R1 DRIVE A 470
* expect: load-missing
XU1 A GND GNDB OUT DEMO_PT1
```

## Passes

```netlist
* With a pull-up (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a pull-up from the output to the supply of its own side, or state the receiver's own pull-up.

## What it cannot see

A pull-up on another board.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Context
from isolint.checking.cures import LEAST_OHMS
from isolint.checking.dead_output import (
    Silent,
    dead_end,
    first_at,
    is_spare_channel,
    lost_return,
    shorting,
    silence,
    tied,
)
from isolint.checking.driver_outputs import drive_something
from isolint.checking.idle_output import idle, led_against, silent_beside
from isolint.checking.isolator_levels import need_pulling
from isolint.checking.preconditions import guarded
from isolint.checking.returns_apart import output_apart, perhaps_joined
from isolint.checking.rule import Rule
from isolint.checking.switch_stress import fed
from isolint.facts import InputFacts, SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result
from isolint.worstcase.uncertain import Lacking

NOTHING = "0 A, at least 1 nA expected"


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.part.kind.output.switch:
        yield from fed(RULE, context, channel)
    else:
        yield _connected(context, channel) or _moved(context, channel) or _unfed(context, channel)


def _connected(context: Context, channel: Channel) -> Result | None:
    """The result where the connections alone tell it."""
    fixed = tied(context, channel) or shorting(context, channel)
    if fixed is not None:
        return _silent(context, channel, fixed, f"0 ohm of load, at least {LEAST_OHMS:g} ohm expected")
    record = channel.part.record
    if record is not None and record.output.kind == "push-pull":
        text = f"{channel.subject}: a push-pull output needs no load"
        return context.channel_result(RULE, channel, "notApplicable", text)
    lost = None if channel.load.complete else lost_return(context, channel)
    if lost is None:
        return None
    told = context.kept(_first_at).setdefault(lost.net, channel.subject)
    return _silent(context, channel, lost, NOTHING) if told == channel.subject else _told_for(context, channel, told)


def _moved(context: Context, channel: Channel) -> Result | None:
    """The result where current can flow through the output with all outputs beside it conducting."""
    if not context.analysis.loads().fed(channel):
        return None
    nothing = idle(context, channel)
    if nothing is not None:
        return _silent(context, channel, nothing, "0 states of the outputs beside it, at least 1 expected")
    apart = output_apart(context, channel)
    if apart is not None:
        raise perhaps_joined(context, channel.pins["emitter"], "feeds its output", apart)
    text = f"{channel.subject}: current can flow through its output when it conducts"
    chain = context.related([channel.part.element, *channel.load.elements])
    return context.channel_result(RULE, channel, "pass", text, related=chain)


def _unfed(context: Context, channel: Channel) -> Result:
    """The result where no current flows, unless what nobody states may feed the output."""
    ended = dead_end(context, channel)
    if ended is not None:
        return _silent(context, channel, ended, NOTHING)
    _ask_what_may_feed(context, channel)
    turned = led_against(context, channel)
    if turned is not None:
        text = f"{channel.subject}: nothing flows through its output while the LED of {turned.subject} lies against it"
        return context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("direction"))
    before = silent_beside(context, channel)
    if before is not None:
        text = f"{channel.subject}: its output lies in series with that of {before.subject}: {RULE.slug} fails there"
        return context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)
    found = silence(context, channel)
    first = first_at(context, channel, found.net) if found.net >= 0 else None
    return _silent(context, channel, found, NOTHING) if first is None else _told_for(context, channel, first.subject)


def _ask_what_may_feed(context: Context, channel: Channel) -> None:
    """Raise where something at the output may pull it, and nobody says whether it does."""
    nets = [channel.pins[role] for role in ("collector", "output", "emitter") if role in channel.pins]
    inner = [net for net in nets if net in channel.load.inner]
    name = context.net(inner[0]) if inner else context.net(nets[0])
    unexplained = [
        held
        for held in channel.load.boundary
        if held.kind == "part" and held.element not in context.interfaces.recognition.parts
    ]
    if unexplained and context.lookup.input(unexplained[0].net) is None:
        other = context.circuit.path(unexplained[0].element)
        rows = (InputFacts.low_max, InputFacts.high_min, InputFacts.pull_up)
        fact = context.lookup.missing(InputFacts.supply, name, "", *rows)._replace(key=InputFacts.low_max.path(name))
        raise Lacking(
            f"nothing on the board feeds net {name}; whether {other} has a pull-up inside nobody says", [fact]
        )
    unstated = _unstated_converter(context, channel, nets)
    if unstated is not None:
        converter, supply = context.circuit.path(unstated[0]), context.net(unstated[1])
        fact = context.lookup.missing(SupplyFacts.voltage, supply)
        raise Lacking(f"net {supply} comes from {converter}, and nobody says at which voltage", [fact])
    unnamed = _perhaps_supply(context, channel, nets)
    if unnamed is not None:
        resistor, supply = context.circuit.path(unnamed[0]), context.net(unnamed[1])
        fact = context.lookup.missing(SupplyFacts.voltage, supply)
        raise Lacking(
            f"{resistor} leads from net {name} to net {supply}, which nothing in this netlist feeds; whether it is a "
            "supply nobody says",
            [fact],
        )


def _told_for(context: Context, channel: Channel, subject: str) -> Result:
    """The rule fails at this net already, for another channel."""
    text = f"{channel.subject}: the same net fails {RULE.slug} for {subject}"
    return context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)


def _guards(context: Context, channel: Channel) -> bool:
    """Whether its LED is there for another one's, so that its output may well be left alone."""
    try:
        return guarded(context, channel) is not None
    except Lacking:
        return False


def _first_at(context: Context) -> dict[int, str]:
    return {}


def _silent(context: Context, channel: Channel, found: Silent, number: str) -> Result:
    return context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: {found.why} ({number})",
        None if found.element is None else context.place(found.element),
        level="note" if is_spare_channel(context, channel) or _guards(context, channel) else None,
        measure=Measure(0.0, larger_is_worse=False),  # the current
        related=context.related([channel.part.element, *channel.load.elements]),
        remedy=found.remedy,
    )


def _unstated_converter(context: Context, channel: Channel, nets: Sequence[int]) -> tuple[int, int] | None:
    """A part that feeds its pins by itself, on the net behind a resistor at the output, and that net."""
    parts, held = context.interfaces.recognition.parts, context.lookup.walker.held
    for element in channel.load.elements:
        if context.circuit.letter(element) != "R":
            continue
        for net in context.circuit.pins(element):
            if net in nets or held(net) is not None:
                continue
            for other, pin in context.circuit.elements_at(net):
                part = parts.get(other)
                if part is not None and part.kind.output.feeds == "outputs" and part.roles[pin] == "output":
                    return other, net
    return None


def _perhaps_supply(context: Context, channel: Channel, nets: Sequence[int]) -> tuple[int, int] | None:
    """A resistor at the output and the net at its other end, which may be a supply that nobody named.

    None where the output's side has a supply that is known: then a pull-up that leads
    elsewhere is the fault.
    """
    separation, held = context.interfaces.separation, context.lookup.walker.held
    side = separation.side_of_net.get(nets[0])
    own = separation.sides[side].nets if side is not None else ()
    if any(known is not None and known.kind == "supply" for known in map(held, own)) or _has_supply(
        context, channel, side
    ):
        return None
    for element in channel.load.elements:
        pins = context.circuit.pins(element)
        if context.circuit.letter(element) != "R" or set(nets).isdisjoint(pins):
            continue
        for net in pins:
            if net not in nets and held(net) is None:
                return element, net
    return None


def _has_supply(context: Context, channel: Channel, side: int | None) -> bool:
    """Whether a supply is stated whose ground lies on a side, though no card is on it.

    Not where what reads the output names a supply that nobody stated: that one may be meant.
    """
    read = [context.lookup.input(held.net) for held in channel.load.boundary if held.kind == "input"]
    named = [fact.supply.value for fact in read if fact is not None and fact.supply is not None]
    if any(context.facts.supply(name) is None for name in named):
        return False
    side_of = context.interfaces.separation.side_of_net
    for row in context.facts.supplies.rows.values():
        ground = row.get("ground")
        net = None if ground is None else context.circuit.find_net(str(ground.value))
        if net is not None and side is not None and side_of.get(net) == side:
            return True
    return False


def beside(context: Context) -> Iterable[Result]:
    """One result an output of an isolator, or one that drives gates."""
    yield from need_pulling(RULE, context)
    yield from drive_something(RULE, context)


RULE = Rule(
    slug="load-missing",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=("inputs.*.pull_up", "supplies.*.voltage", "loads.*.return"),
    judge=judge,
    beside=beside,
    asked_beside=("levels", "driver", "array"),
    needs=("load",),
    blocks=("load",),
    judges=("load",),
    structural=True,
)

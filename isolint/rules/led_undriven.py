"""An LED that nothing can ever light.

## What it looks at

What both pins of a coupler's LED lead to, by connections alone: whether the loop round the LED is closed for direct
current, and whether two different potentials are in it.

## Why it matters

A pin that was left on a net of its own, a return that only bears the name of a ground, a capacitor in series: the
board is built, and nothing happens. No tolerance decides it and no fact about a part helps.

## How it is computed

From anode and cathode everything that conducts is followed up to nets that are held: references, supplies, outputs,
lines. The rule fails where

- a pin's net has no other pin, or both pins lie on one net or are joined below 10 ohm;
- one end leads to nothing that is held, to no source and to no part that nobody explained; the net of a ground's name
  counts as held only if it is the reference of its side, or joined to it below 10 ohm;
- the loop is closed through a capacitor only, and holds direct voltages or lines. An alternating source makes a
  capacitor dropper of it. A switching output charges the capacitor once; it is open where something discharges it;
- the loop is closed, but all of it returns to one potential, or a transistor is in it whose base or gate leads to
  nothing else than its emitter or source does.

Where both ends have stated grounds, and nothing joins one of them to the other, it is open: they may be one elsewhere.

Parts that nobody explained may drive anything; then other rules ask for the fact. A net that comes from elsewhere is
stated under `lines`, `outputs` or `supplies`. The LED of a channel whose output is not used either is no fault.

Settings: driver, receiver, conditions.

## Fails

```netlist
* The cathode lies on a net of its own: the label is misspelt (demonstration)
R1 DRIVE A 470
* expect: led-undriven
XU1 A GMD GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* The cathode lies on the reference (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Connect the end that leads nowhere; state a net that comes from another board under `lines`, `outputs` or `supplies`.

## What it cannot see

A cable that is never plugged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.closed_path import Dead, dead_drive, loop_held
from isolint.checking.context import Context
from isolint.checking.dead_output import mistaken
from isolint.checking.returns_apart import perhaps_joined, returns_apart
from isolint.checking.rule import Rule
from isolint.facts import SideFacts, SignalFacts
from isolint.interfaces.entities import Channel
from isolint.results import Limit, Margin, MissingFact, Result
from isolint.tables import basic_string
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import Lacking
from isolint.worstcase.waves import stated_hertz


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    dead = dead_drive(context, channel)
    if dead is None:
        apart = returns_apart(context, loop_held(context, channel))
        if apart is not None:
            raise perhaps_joined(context, channel.pins["cathode"], "drives the LED", apart)
        text = f"{channel.subject}: the loop of its LED is closed, and something may drive it"
        yield context.channel_result(RULE, channel, "pass", text)
        return
    if dead.moved >= 0:
        raise _perhaps_pulsed(context, dead)
    shared = _said_of(context, channel, dead)
    if shared:
        text = f"{channel.subject}: the same net fails {RULE.slug} for {shared}"
        yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)
        return
    why, remedy = _words(context, channel, dead)
    blamed = dead.elements[0] if len(dead.elements) == 1 else None
    yield context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: the LED can never light: {why} (0 A in every state, at least {show(NO_CURRENT, 'A')} "
        "expected)",
        None if blamed is None else context.place(blamed),
        evidence=[
            Figure("IF", 0.0, "A", "LED current in every state").evidence(Limit("at_least", NO_CURRENT)),
        ],
        margin=Margin(0.0, 1.0),
        related=context.related([channel.part.element, *channel.drive.elements, *dead.elements]),
        missing=_perhaps_elsewhere(context, dead),
        remedy=remedy,
    )


def _perhaps_elsewhere(context: Context, dead: Dead) -> Sequence[MissingFact]:
    """The lines of a net that ends here and may come from elsewhere; a cathode's leads to a reference."""
    if dead.why not in ("alone", "dangling") or dead.role != "anode":
        return ()
    net = dead.nets[0]
    return () if context.lookup.walker.grounds.is_mistaken(net) else [context.lookup.missing_line(net)]


def _perhaps_pulsed(context: Context, dead: Dead) -> Lacking:
    capacitor, output = context.circuit.path(dead.elements[0]), context.net(dead.moved)
    hertz = stated_hertz(context.lookup, output)
    if hertz is not None:
        return Lacking(
            f"only what passes {capacitor} at each edge of output {output} drives the LED, at {show(hertz, 'Hz')}; "
            "what that gives is not computed: a measurement or a simulation decides"
        )
    # A rate in baud tells how short a pulse may be, not how often one comes.
    fact = context.lookup.missing(SignalFacts.rate, output, '"20 kHz"')
    return Lacking(
        f"only what passes {capacitor} at each edge of output {output} drives the LED; how often it "
        "switches, in hertz, nobody says",
        [fact],
    )


def _said_of(context: Context, channel: Channel, dead: Dead) -> str:
    """The channel for which it was said first that nothing is on the net where its LED ends, "" for none."""
    if dead.why != "dangling":
        return ""
    known = context.kept(_first_at)
    first = known.get((dead.role, dead.nets), channel.subject)
    if not context.is_trial:
        known[dead.role, dead.nets] = first
    return "" if first == channel.subject else first


def _first_at(context: Context) -> dict[tuple[str, tuple[int, ...]], str]:
    return {}


def _words(context: Context, channel: Channel, dead: Dead) -> tuple[str, str]:
    """Why, and the cure."""
    path, returned = channel.part.path, _reference(context, channel)
    if dead.why == "same":
        return (
            f"anode and cathode lie on one net, {context.net(dead.nets[0])}",
            f"connect anode and cathode of {path} to different nets",
        )
    if dead.why == "shorted":
        element = context.named(dead.elements[0])
        return f"{element} joins anode and cathode, below 10 ohm", f"take out {element}"
    if dead.why == "blocked":
        names = ", ".join(map(context.circuit.path, dead.elements))
        ends = " and ".join(map(context.net, dead.nets)) or "nothing"
        why = f"{names} stands in its loop, which no direct current passes, and nothing there alternates: {ends}"
        return why, f"a resistor in the place of {names}, or {names} from the LED to {returned}"
    if dead.why == "idle":
        resting, control = dead.elements[0], context.net(dead.nets[0])
        why = f"{context.named(resting)} stands in its loop and never conducts: "
        if dead.nets[0] != context.circuit.pins(resting)[1]:
            return f"{why}net {control} leads nowhere", f"connect net {control} to {returned}"
        pin = "base" if context.circuit.letter(resting) == "Q" else "gate"
        why = f"{why}nothing moves its {pin}, net {control}"
        if context.lookup.walker.held(dead.nets[0]) is not None:
            return (
                why,
                f"take the {pin} of {context.named(resting)} off {control}, to an output or a line that drives it",
            )
        return why, f"drive net {control} from an output or a line, or state what drives it"
    if dead.why == "unfed":
        ends = " and ".join(map(context.net, dead.nets))
        why = f"both of its ends lead to {ends} only" if ends else "nothing is in its loop that drives it"
        return why, "feed one end of the loop from a supply, an output or a line"
    net, pin = context.net(dead.nets[0]), "input" if channel.both_ways else dead.role
    state = _statement(context, dead.nets[0])
    joined = f"connect net {net} to {returned}" if dead.role == "cathode" else f"feed net {net}"
    if dead.why == "alone":
        what = "which has no other pin"
        why = f"its {pin} ends on net {net}, {what}{mistaken(context, dead.nets[0])}"
        return why, f"{joined}, {state}"
    through = f" through {context.circuit.path(dead.elements[0])}" if dead.elements else ""
    what = "takes its current" if dead.role == "cathode" else "feeds it"
    return (
        f"its {pin} leads{through} to net {net}, and nothing there {what}{mistaken(context, dead.nets[0])}",
        f"{joined}, {state}",
    )


def _statement(context: Context, net: int) -> str:
    """What to state where the net comes from elsewhere."""
    name, side = context.net(net), context.interfaces.separation.side_of_net.get(net)
    if context.lookup.walker.grounds.is_mistaken(net) and side is not None:
        own = context.interfaces.separation.sides[side].stated or "NAME"
        return f"or name both under [sides.{own}] nets if they are joined elsewhere"
    words = f'or state what it is: [lines."{name}"] for field wiring, [outputs."{name}"] or [supplies."{name}"]'
    if side is None or not context.lookup.walker.grounds.references(side):
        nets = SideFacts.nets.entry(f"[{basic_string(name)}]")
        words += f", [sides.NAME] with {nets} for the reference of its side"
    return words


def _reference(context: Context, channel: Channel) -> str:
    """The reference of the LED's side in words."""
    side_of = context.interfaces.separation.side_of_net
    grounds = context.lookup.walker.grounds
    for role in ("anode", "cathode"):
        side = side_of.get(channel.pins[role])
        if side is not None:
            names = [context.net(net) for net in grounds.references(side)] or [grounds.absent().get(side, "")]
            if names[0]:
                return f"{names[0]}"
    return "the reference of its side"


RULE = Rule(
    slug="led-undriven",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=("sides.*.nets", "lines.*.on", "outputs.*.supply", "signals.*.rate"),
    judge=judge,
    needs=("drive",),
    blocks=("drive", "led-current", "transfer"),
    structural=True,
)

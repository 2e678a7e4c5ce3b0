"""A transistor beside the coupler that lies the wrong way round, or that switches nothing.

## What it looks at

Every bipolar or field-effect transistor whose base or gate the output moves, and every bipolar one that lights an LED:
what lies behind its collector or drain, and behind its emitter or source.

## Why it matters

A field-effect transistor with drain and source exchanged conducts through its body diode whatever its gate does: the
load is always on. A bipolar one with collector and emitter exchanged has a tenth of its gain or less and breaks down
at 5 to 7 V: it works on the bench and fails in the cold. A transistor between a load and nothing, or with a load that
leads back to its own reference, switches nothing, though every level at its gate is right.

## How it is computed

The ways from both ends are followed over resistors, coils, diodes, LEDs and other transistors to what holds a net.
Where these are direct voltages each end rests between them, weighed by conductance (1 ohm is added to each way, a diode
counts as 1 Gohm). The rule fails where the end that must be the lower one rests more than 0.5 V higher:

    V(source) - V(drain) > 0.5 V     n-channel; emitter and collector of an npn; p-channel and pnp with opposite sign

Behind an output it fails too where everything behind both ends is known and no voltage lies between them. An end on
whose net no other card lies is open: state what is there (`[loads]`).

Settings: driver, receiver, conditions.

```toml
[supplies."V12"]
voltage = "12 V"
tolerance = "5 %"
ground = "GNDB"
```

## Fails

```netlist
* Drain and source exchanged: the body diode lights the lamp for ever (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: transistor-miswired
M1 GNDB OUT LAMP LAMP NLAMP
R3 V12 LAMP 10k
.model NLAMP NMOS (VTO=2 KP=4)
```

```netlist
* The load leads to the reference in place of the supply (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: transistor-miswired
M1 LAMP OUT GNDB GNDB NLAMP
R3 GNDB LAMP 10k
.model NLAMP NMOS (VTO=2 KP=4)
```

## Passes

```netlist
* The load lies between drain and supply (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
M1 LAMP OUT GNDB GNDB NLAMP
R3 V12 LAMP 10k
.model NLAMP NMOS (VTO=2 KP=4)
```

```netlist
* Two back to back block both ways: one lies backwards on purpose (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
M1 GNDB OUT S S NLAMP
M2 LAMP OUT S S NLAMP
R3 V12 LAMP 10k
.model NLAMP NMOS (VTO=2 KP=4)
```

## Remedy

Exchange drain and source, or collector and emitter; put the load between the transistor and its supply.

## What it cannot see

A symbol whose pins are numbered otherwise than those of the case. Transistors drawn as subcircuits, and which way round
one lies where the load alternates.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.driven_stage import (
    LEAST_VOLTS,
    Stage,
    driven_transistors,
    is_unfed,
    lighting_transistors,
    lonely_end,
    stages,
    volts_backwards,
)
from isolint.checking.rule import Rule
from isolint.facts import LoadFacts
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result
from isolint.units import show
from isolint.worstcase.uncertain import Lacking


def concerns(context: Context, channel: Channel) -> bool:
    """Whether a transistor lights its LED, or its output drives one."""
    lights = any(context.circuit.letter(element) == "Q" for element in channel.drive.elements)
    return lights or bool(driven_transistors(context, channel))


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a transistor, with the first channel that it belongs to."""
    first = context.kept(_first_of)
    for stage, lights in (
        *((stage, True) for stage in lighting_transistors(context, channel)),
        *((stage, False) for stage in stages(context, channel)),
    ):
        if first.setdefault(stage.element, channel.subject) != channel.subject:
            continue
        try:
            yield _exchanged(context, channel, stage) or _switching(context, channel, stage, lights)
        except Lacking as reason:
            yield context.lacking(RULE, channel, reason, context.circuit.path(stage.element))


def _first_of(_: Context) -> dict[int, str]:
    return {}


def _exchanged(context: Context, channel: Channel, stage: Stage) -> Result | None:
    """The failure where a transistor lies the wrong way round."""
    volts = volts_backwards(context, stage)
    if volts is None:
        return None
    path, (first, second) = context.circuit.path(stage.element), stage.names
    so = "its body diode conducts whatever its gate does" if first == "drain" else "it can conduct only backwards"
    text = f"{first} and {second} of {path} are exchanged: {so} ({show(volts, 'V', 2)} the wrong way round at rest, "
    text += f"at most {show(LEAST_VOLTS, 'V')} expected)"
    nets = [context.net(net) for net in stage.found.ends]
    remedy = f"exchange nets {nets[0]} and {nets[1]} on {path}"
    return _fails(context, channel, stage, text, Measure(volts, larger_is_worse=True), remedy)


def _switching(context: Context, channel: Channel, stage: Stage, lights: bool) -> Result:
    """Whether a transistor that lies the right way round has something to switch; that with an LED has."""
    path = context.circuit.path(stage.element)
    lonely = None if lights else lonely_end(context, stage)
    if lonely is not None:
        net = context.net(stage.found.ends[lonely])
        lacking = context.lookup.missing(LoadFacts.current, net)
        raise Lacking(f"nothing else is on net {net}: what {path} switches nobody says", [lacking])
    if not lights and is_unfed(context, stage):
        text = f"nothing feeds what {path} switches: both of its ends lead to the same voltage (0 V, more expected)"
        remedy = f"put the load of {path} between it and a supply"
        return _fails(context, channel, stage, text, Measure(0.0, larger_is_worse=False), remedy)
    text = f"{channel.subject}: {path} lies the right way round"
    return context.channel_result(RULE, channel, "pass", text, role=path)


def _fails(context: Context, channel: Channel, stage: Stage, text: str, measure: Measure, remedy: str) -> Result:
    return context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: {text}",
        context.place(stage.element),
        role=context.circuit.path(stage.element),
        measure=measure,
        remedy=remedy,
        related=context.related([channel.part.element, stage.element, *stage.found.elements]),
    )


RULE = Rule(
    slug="transistor-miswired",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=("loads.*.current", "supplies.*.voltage"),
    judge=judge,
    concerns=concerns,
)

"""An LED whose current nothing limits.

## What it looks at

The drive network of each coupler's LED, up to the supplies, references, outputs and lines around it. The limit may
sit anywhere: in either leg, in both, in the return, in a switch's emitter, in a current source, inside the part.

## Why it matters

An LED has no limit of its own. Straight on a supply or a port it takes whatever the source can give: the port, the
LED or both are destroyed, often slowly.

## How it is computed

The network is solved with output resistances and the LED's own series resistance 0, switches ideal, BJTs at infinite
gain and MOS fully on; a junction transistor whose gate leads to its source lets its `saturation_current` through, half
to twice that of its model where nobody states it. The rule fails when the LED current then has no bound or exceeds ten
times the LED's maximum DC current (design limit of this tool; common practice, no source). Less than that is
`led-overdriven`.

Settings: driver, receiver, conditions.

## Fails

```netlist
* LED straight on a logic output (demonstration)
* expect: led-unlimited
XU1 DRIVE GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* The resistor sits in the return (demonstration)
XU1 DRIVE K GNDB OUT DEMO_PT1
R1 K GND 470
R2 VB OUT 10k
```

## Remedy

Put a resistor in series with the LED, in either leg: R = (supply - VF) / wanted current.

## What it cannot see

A limit on another board or in a cable: state the line or output that feeds the network, or the part's
`internal_resistor`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from contextlib import suppress

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.cures import tried
from isolint.checking.preconditions import driven
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.results import Limit, Measure, Result
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.plain_switches import plain
from isolint.worstcase.uncertain import KINDEST, Lacking

TIMES_MAXIMUM = 10.0
OPEN_CIRCUIT = 1e9
BEYOND_SENSE = 1e3
"""Amperes above which a number would only distract from the fault."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    most = context.analysis.led(channel.part).forward_current_max
    times = TIMES_MAXIMUM * Figure("IF_max", most.kind_high, "A")
    limit = times.called("IF_bound_max", "A", "LED current that an ideal source may give", source=most.origin)
    bound = _bound(context, channel, limit.si)
    evidence = limit.evidence()
    if math.isfinite(bound):
        name = "LED current with ideal source and switches, nominal"
        gets = Figure("IF_bound", bound, "A", name, source=most.origin)
        evidence = gets.evidence(Limit("at_most", limit.si))._replace(formula=limit.line())
    chain = context.related([channel.part.element, *channel.drive.elements])
    if bound <= limit.si:
        text = (
            f"{channel.subject}: with an ideal source its LED gets {show(bound, 'A')}, no more than {limit}: something "
            "limits it"
        )
        yield context.channel_result(RULE, channel, "pass", text, evidence=[evidence], related=chain)
        return
    resistor = _too_small(context, channel, limit.si)
    shown = "has no bound" if bound > BEYOND_SENSE else f"is {show(bound, 'A')}"
    yield context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: nothing limits the LED current: with an ideal source it {shown}, the limit is {limit} "
        "(ten times the LED's maximum)",
        None if resistor is None else context.place(resistor),
        evidence=[evidence],
        measure=Measure(bound, larger_is_worse=True),
        related=chain,
        remedy=_remedy(context, channel, resistor),
    )


def _bound(context: Context, channel: Channel, limit: float) -> float:
    """The largest LED current with ideal sources and switches, amperes.

    A transistor without a model that can only be a switch is one too, where the current is above the limit then.
    """
    drives = context.analysis.drives()
    try:
        driven(context, channel)
        return drives.bound_without_limits(channel)
    except Lacking:
        bounded = plain(context.lookup, channel, limit / TIMES_MAXIMUM)
        if bounded is not None:
            with suppress(Lacking):
                bound = drives.bound_without_limits(bounded.channel, bounded.closed)
                if bound > limit:
                    return bound
        raise


def _too_small(context: Context, channel: Channel, limit: float) -> int | None:
    """The smallest resistor that would limit the current if it were larger.

    The card to change. None where no resistor lies there.
    """
    found: list[tuple[float, int]] = []
    for element in channel.drive.elements:
        ohms = context.lookup.ohms(element) if context.circuit.letter(element) == "R" else None
        if ohms is None:
            continue
        other = Analysis(context.lookup.resized({element: OPEN_CIRCUIT}), context.interfaces)
        try:
            bound = other.drives().bound_without_limits(channel)
        except Lacking:
            continue
        if bound <= limit:
            found.append((ohms, element))
    return min(found)[1] if found else None


def _remedy(context: Context, channel: Channel, resistor: int | None) -> str:
    if resistor is None:
        return f"put a resistor in series with the LED of {channel.subject}, in either leg"
    most = context.analysis.led(channel.part).forward_current_max

    def claim(analysis: Analysis) -> Claim:
        gets = analysis.drive(channel, KINDEST).current.high.value
        return at_most(Figure("IF_max", gets, "A"), Figure("IF_limit", KINDEST.low(most), "A"))

    cure = tried(context, resistor, claim, larger=True)
    least = "" if cure.ohms is None else f", {show(cure.ohms, 'ohm')} or more"
    beside = f"; {cure.closed}" if cure.closed else ""
    return f"{context.named(resistor)}: fit a series resistor{least}{beside}"


RULE = Rule(
    slug="led-unlimited",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "elements.*.type",
        "outputs.*.supply",
        "supplies.*.voltage",
        "lines.*.on",
        "parts.*.led.internal_resistor",
    ),
    judge=judge,
    needs=("drive",),
    blocks=("drive", "led-current"),
    judges=("drive",),
    structural=True,
)

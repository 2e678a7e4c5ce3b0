"""A part that waits for the zero crossing where it must not, or does not where it must.

## What it looks at

Whether each thyristor output waits for the zero crossing, against the stated use of its signal and kind of load.

## Why it matters

A zero-crossing part ignores the angle that a phase control asks for: the load is fully on or off. A transformer that
is switched on at the zero crossing saturates.

## How it is computed

By what is stated alone: `use = "phase-control"` with a zero-crossing part is an error; a transformer behind a zero-
crossing part, a load of a power factor below 0.5 behind one without a snubber, and a capacitive load behind a part
that fires at any angle are warnings. Where use, kind or power factor is not stated nothing is asked.

Settings: driver, switched.

```toml
[signals."DRIVE"]
use = "phase-control"
[signals."A"]
use = "phase-control"
```

## Fails

```netlist
* A zero-crossing part under phase control (demonstration)
R1 DRIVE A 390
* expect: switching-mode-wrong
XU1 A GND T1 N DEMO_TZ1
R2 T1 L 8k
```

## Passes

```netlist
* A part that fires at any angle (demonstration)
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
```

## Remedy

The other sort of part.

## What it cannot see

Whether the software does what is stated.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import load_kind, stated_load, switched, switches
from isolint.checking.switched_load import snubber
from isolint.interfaces.entities import Channel
from isolint.parts import Trigger
from isolint.results import Measure, Result
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Lacking

LAGGING = 0.5
"""A power factor below which the voltage at the end of the current is far from zero."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel of which use or load is stated."""
    found = switched(context, channel)
    crosses = fact_terms.recorded(channel.part, Trigger.zero_crossing)
    nets = (*channel.pins.values(), *found.ends)
    uses = {fact.use.value for net in nets if (fact := context.facts.signal(context.net(net))) and fact.use}
    kind, load = load_kind(context, found), stated_load(context, found)
    why, error = "", False
    if "phase-control" in uses:
        if crosses is None:
            name = fact_terms.named(channel.part)
            lacking = fact_terms.missing(context.settings_file, Trigger.zero_crossing, name)
            raise Lacking("whether it waits for the zero crossing is not known", [lacking])
        if crosses:
            why, error = (
                "it waits for the zero crossing, and is used for phase control: it fires at none of its angles",
                True,
            )
    if not why and crosses and kind == "transformer":
        why = "it switches a transformer on at the zero crossing, where the first half wave saturates it"
    factor = None if load is None or load[1].power_factor is None else load[1].power_factor.value
    lags = kind in ("inductive", "motor") and factor is not None and factor < LAGGING
    if not why and crosses and lags and snubber(context, found) is None:
        why = f"it waits for the zero crossing, which a load of power factor {factor:g} leaves before its LED counts"
    if not why and crosses is False and kind == "capacitive":
        why = "it switches a capacitive load on at any voltage"
    if why:
        yield context.channel_result(
            RULE,
            channel,
            "fail",
            f"{channel.subject}: {why}",
            level="error" if error else "warning",
            measure=Measure.number_of(1),
            remedy="a part that fires at any angle" if crosses else "a part that waits for the zero crossing",
            related=context.related([channel.part.element, *found.elements]),
        )
    elif uses or load is not None:
        text = f"{channel.subject}: its way of switching suits use and load as far as they are stated"
        yield context.channel_result(RULE, channel, "pass", text)


RULE = Rule(
    slug="switching-mode-wrong",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "signals.*.use",
        "loads.*.kind",
        "loads.*.power_factor",
        "parts.*.trigger.zero_crossing",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)

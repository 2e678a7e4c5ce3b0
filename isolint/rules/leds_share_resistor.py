"""Several LEDs in parallel that one resistor feeds.

## What it looks at

Couplers' LEDs whose anodes are one net and whose cathodes are one net, wires counted. LEDs in series and antiparallel
pairs share nothing.

## Why it matters

The LED with the lowest forward voltage takes most of the current: 60 mV less means twice as much. One is overdriven,
the other is starved, and which one changes with the delivery and with temperature.

## How it is computed

A comparison of nets. How far currents may differ is no question of tolerances that a record states: two LEDs of 1.15
V and 1.25 V on one node differ by exp(0.1 V / (n Vt)), with n Vt about 0.05 V a factor of 7. Common practice, no
source: a resistor for each LED.

Settings: driver, conditions.

```toml
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
```

## Fails

```netlist
* Two LEDs side by side behind one resistor (demonstration)
* expect: leds-share-resistor
R1 DRIVE A 390
XU1 A GND GNDB OUT1 DEMO_PT1
XU2 A GND GNDB OUT2 DEMO_PT1
R2 VB OUT1 22k
R3 VB OUT2 22k
```

## Passes

```netlist
* The two in series share one current (demonstration)
R1 DRIVE A 390
XU1 A K GNDB OUT1 DEMO_PT1
XU2 K GND GNDB OUT2 DEMO_PT1
R2 VB OUT1 22k
R3 VB OUT2 22k
```

## Remedy

A resistor for each LED, or the LEDs in series.

## What it cannot see

An indicator LED of the board in parallel with a coupler's: it is solved as a diode, not named here.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result
from isolint.worstcase.parallel import parallel_leds
from isolint.worstcase.uncertain import Lacking


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a group of LEDs, said at its first channel; currents of LEDs that share nobody can tell."""
    others = parallel_leds(context.lookup, context.interfaces.recognition.parts, channel)
    if not others:
        yield context.channel_result(
            RULE, channel, "pass", f"{channel.subject}: no other LED stands in parallel with its own"
        )
        return
    around = context.analysis.neighbours().of_parts({channel.part.element, *(element for element, _, _ in others)})
    sharing = [other for other in around if _same_group(context, channel, other)]
    first = sharing[0]
    if first.subject != channel.subject:
        text = f"{channel.subject}: its LED shares with that of {first.subject}, where it is said"
        yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)
        return
    resistor = _resistor(context, channel)
    names = ", ".join(other.subject for other in sharing)
    anode, cathode = (context.net(channel.pins[role]) for role in ("anode", "cathode"))
    fed = f"through {context.named(resistor)}" if resistor is not None else "together"
    yield context.result(
        RULE,
        "fail",
        f"{names}: {len(sharing)} LEDs in parallel between {anode} and {cathode} are fed {fed}: "
        "the one with the lowest forward voltage takes most of the current",
        context.place(channel.part.element if resistor is None else resistor),
        names,
        measure=Measure.number_of(len(sharing)),
        related=context.related([*(other.part.element for other in sharing), *channel.drive.elements]),
        remedy="a resistor for each LED, or the LEDs in series",
    )


def _same_group(context: Context, channel: Channel, other: Channel) -> bool:
    if other.subject == channel.subject:
        return True
    found = parallel_leds(context.lookup, context.interfaces.recognition.parts, other)
    own = (channel.part.element, channel.pins["anode"], channel.pins["cathode"])
    return own in found


def _resistor(context: Context, channel: Channel) -> int | None:
    """The resistor that limits the current of the group, None without one."""
    try:
        drive = context.analysis.drive(channel)
    except Lacking:
        return None
    _, point = drive.point(drive.current.high)
    best: tuple[float, int] | None = None
    for element in channel.drive.elements:
        if context.circuit.letter(element) != "R":
            continue
        drop = abs(point.current(context.circuit.path(element))) * (context.lookup.ohms(element) or 0.0)
        if drop > 0.0 and (best is None or drop > best[0]):
            best = (drop, element)
    return None if best is None else best[1]


RULE = Rule(
    slug="leds-share-resistor",
    group="drive",
    level="warning",
    page=__doc__,
    asked_of=("led",),
    facts=("outputs.*.supply",),
    judge=judge,
    needs=("drive",),
    blocks=("transfer",),
)

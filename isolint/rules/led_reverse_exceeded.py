"""An LED that can see more reverse voltage than it takes.

## What it looks at

The voltage across each channel's LED in every state of its drive: lines at the low end of `off` and reversed
(`reverse`), sources and AC supplies at both peaks, ports against other ports. Antiparallel diodes, the second LED of
a bidirectional pair and interlocked LEDs limit it by themselves.

## Why it matters

An LED breaks down at 3 to 6 V in reverse. A few milliamperes of it lower the light for good; a swapped field cable,
an alternating source or an RS-232 line does it at once.

## How it is computed

V_R = -(V_anode - V_cathode) in volts, the network solved at worst case in each state. The limit is the record's
`reverse_voltage_max`, else the usual range of its type. Where a diode in series blocks, its leakage is below that of
the LED, so that the diode takes the voltage; a diode whose saturation current is above 10 uA does not count. The
margin is limit / V_R and must be 1.00 or more.

Beside a switched coil the moment counts when it has been switched off: the coil then is a source of the voltage at
which its clamp conducts (0.6 V to 1.0 V a junction, a Zener diode at its highest voltage, I R + I sqrt(L / C) of an RC
network), of the polarity that keeps its current going, and the switches that interrupt it are open.

Settings: receiver, conditions.

```toml
[lines."IN"]
on = ["15 V", "30 V"]
off = ["-3 V", "1 V"]
reverse = "30 V"
[elements."R*"]
power = "1 W"
```

## Fails

```netlist
* A field input that may be connected the wrong way round, a capacitor where the diode should be (demonstration)
R1 IN A 2.2k
R3 A GND 1k
C1 A GND 100n
* expect: led-reverse-exceeded
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Passes

```netlist
* The diode across the LED takes the reverse current (demonstration)
R1 IN A 2.2k
R3 A GND 1k
D1 GND A DSIG
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DSIG D(IS=2n N=1.8)
```

## Remedy

A diode across the LED, cathode to its anode, or a second coupler that way round; a rectifier in series where nothing
bypasses it.

## What it cannot see

How wiring can be mistaken: state `reverse` for every line that can be connected the wrong way round. Short pulses
through capacitors.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.servo_currents import reversed_volts
from isolint.checking.servo_loop import Closed, closed
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel, Part
from isolint.results import Result
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import highest
from isolint.worstcase.reverse import reverse_limit
from isolint.worstcase.uncertain import Lacking, Setting

NO_VOLTS = 1e-3


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.both_ways:
        text = f"{channel.subject}: each of its two LEDs limits the reverse voltage of the other"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    limit = reverse_limit(channel.part)

    def claim(setting: Setting) -> Claim:
        found = context.analysis.reverse(channel, setting)
        return at_most(
            Figure("V_R", found.volts, "V", f"reverse voltage, {found.words}", at=found.bound),
            Figure("V_R_max", setting.low(limit), "V", "reverse voltage limit of the LED", source=limit.origin),
            (*found.terms, limit),
            least=NO_VOLTS,
        )

    verdict = decide(claim)
    told, found = verdict.worst, context.analysis.reverse(channel)
    text = f"with {found.words} the LED sees {told.found} in reverse ({told.found.corner}) and takes {told.limit}"
    if found.blocking and told.holds:
        text += f"; {', '.join(map(context.named, found.blocking))} blocks"
    anode, cathode = (context.net(channel.pins[role]) for role in ("anode", "cathode"))
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=told.evidence(),
        remedy=f"a diode across the LED: anode on {cathode}, cathode on {anode}",
        chain=channel.drive.elements,
    )


def _beside(context: Context) -> Iterable[Result]:
    """One result a linear coupler: its LED with the amplifier of the servo loop at its other rail."""
    for part in context.interfaces.recognition.parts.values():
        if "photodiodes" in part.kind.owns and part.path not in context.interfaces.unused:
            try:
                yield _servo(context, part, closed(context, part))
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)


def _servo(context: Context, part: Part, found: Closed) -> Result:
    amplifier, limit = context.circuit.path(found.loop.element), reverse_limit(part)
    words = f"{amplifier} at its other rail"

    def claim(setting: Setting) -> Claim:
        rows, terms = reversed_volts(context, part, found, setting)
        most = highest(rows)
        return at_most(
            Figure("V_R", max(most.value, 0.0), "V", f"reverse voltage, {words}", at=most),
            Figure("V_R_max", setting.low(limit), "V", "reverse voltage limit of the LED", source=limit.origin),
            (*terms, limit),
            least=NO_VOLTS,
        )

    verdict = decide(claim)
    told = verdict.worst
    anode, cathode = context.net(found.servo.led_anode), context.net(found.servo.led_cathode)
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"with {words} the LED sees {told.found} in reverse ({told.found.corner}) and takes {told.limit}",
        evidence=told.evidence(),
        remedy=f"a diode across the LED: anode on {cathode}, cathode on {anode}",
        chain=(found.loop.element,),
    )


RULE = Rule(
    slug="led-reverse-exceeded",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=("lines.*.off", "lines.*.reverse", "supplies.*.voltage", "parts.*.led.reverse_voltage_max"),
    judge=judge,
    beside=_beside,
    asked_beside=("photodiodes",),
    needs=("drive",),
)

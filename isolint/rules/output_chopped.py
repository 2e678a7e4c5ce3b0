"""An output that goes on and off with the mains or with its drive, and nobody says that it may.

## What it looks at

Transistor outputs whose LED is driven periodically: by an AC supply or line, a SIN card, a PULSE card of at most 25 ms,
or an output with a `rate` in Hz. Between the crests the LED gets nothing, and so does what reads the output, unless a
capacitor in the load holds its level. Logic outputs under a sine, which nothing smooths; two levels they are meant to
follow.

## Why it matters

A detector for 230 V shows "voltage present" for some milliseconds of each period. Software that looks once a second
sees it half of the time, an interrupt comes a hundred times a second. With a zero-cross detector that is the purpose;
with a presence detector whose capacitor was forgotten it works on the bench and fails with the customer.

## How it is computed

The margin m of `transfer-margin-low`: the factor by which the output current may shrink until the level is no longer
held through the period. Where it reaches the transfer margin nothing is chopped. Where a capacitor with a time constant
of a whole repetition or more is there, or `use = "steady"`, smoothing is meant and `transfer-margin-low` judges it.
Everything else chops, and that is a question, not a fault:

    off = share of the period in which less than the required current is there, at the low corner

The volts at which the current is just enough are solved for, since it bends there. A capacitor behind a rectifier that
holds the LED current up leaves nothing to chop.

`signals."NET".use = "pulses"` says that pulses are expected. The capacitor that would smooth is searched among E12
values across the output, 20 % of tolerance included.

Settings: receiver, conditions, hazards.

```toml
[supplies."L230"]
voltage = "230 V"
tolerance = "10 %"
kind = "ac"
frequency = "50 Hz"
ground = "GND"
[inputs."ZERO"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
[elements."R*"]
power = "10 W"
voltage = "1 kV"
[signals."ZERO"]
use = "pulses"
```

## Fails

It never fails: nobody says what the pulses are for, which is a question.

```netlist
* Half waves of 230 V into a detector that should show whether there is voltage (demonstration)
R1 L230 A 47k
D1 GND A DREC
* expect-open: output-chopped
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DREC D(IS=5n N=1.9 BV=700)
```

## Passes

```netlist
* The same as a zero-cross detector (demonstration)
R1 L230 A 47k
D1 GND A DREC
XU1 A GND GNDB ZERO DEMO_PT1
R2 VB ZERO 22k
.model DREC D(IS=5n N=1.9 BV=700)
```

## Remedy

State what the signal is for, or hold the level with a capacitor across the output; the smallest E12 value is printed.

## What it cannot see

How software reads the signal, and how long a pulse is that it still sees. Widths are static: delays of the coupler are
not in them.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.periodic_drive import PeriodicDrive, evidence, periodic_drive, rippled, stated_use
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.facts import SignalFacts
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import Lacking
from isolint.worstcase.waves import alternates, off_share, repeats


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    use = use_of(context, channel)
    if use:
        text = f"{channel.subject}: its output is used as {use}, not as a switch"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    stored = context.analysis.drive(channel).stored
    if stored is not None:
        text = f"{channel.subject}: {stored.path} holds the current of its LED up between the crests"
        found = rippled(context.analysis.drive(channel))
        yield context.channel_result(RULE, channel, "pass", text, evidence=found)
        return
    if channel.part.kind.output.conducts != "transistor":
        yield _switched(context, channel)
        return
    drive = periodic_drive(context, channel)
    assert drive is not None
    if drive.verdict.kind == "pass":
        text = f"its level is held through the period, margin {drive.verdict.worst.margin.si:.2f}"
        yield context.channel_result(RULE, channel, "pass", f"{channel.subject}: {text}", evidence=evidence(drive))
        return
    carrying = context.speaker("carrying")
    crest = context.analysis.transfer(channel).worst
    if drive.smoothed or crest.margin < context.lookup.transfer_margin():
        text = "it is meant to be smoothed" if drive.smoothed else "it is not known to reach its level at the crest"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {text}", blocked_by=carrying)
        return
    yield _chopped(context, channel, drive)


def concerns(context: Context, channel: Channel) -> bool:
    """Asked of transistor outputs whose drive repeats, and of logic outputs whose drive alternates.

    These are meant to follow two levels.
    """
    if channel.part.kind.output.conducts == "transistor":
        return repeats(context.lookup, channel)
    return alternates(context.lookup, channel)


def _switched(context: Context, channel: Channel) -> Result:
    """A logic output whose LED alternates: nothing smooths it, so that it comes and goes with each half wave."""
    source, drive = context.analysis.periodic_source(channel), context.analysis.drive(channel)
    assert source is not None
    record = channel.part.record
    needed = max(NO_CURRENT, (None if record is None else record.switching_current) or 0.0)
    worst = min(drive.by_temperature, key=lambda row: row.low.value).low
    wave = context.analysis.led_wave(channel, worst)
    if min(wave.points) >= needed:
        text = f"{channel.subject}: its LED never gets less than {show(min(wave.points), 'A')}"
        return context.channel_result(RULE, channel, "pass", text)
    share = off_share(wave, wave.points, needed)
    during = f"{share:.0%} of each period" if source.hertz is None else (
        f"{show(share * source.period, 's')} of each {show(source.period, 's')}"
    )  # fmt: skip
    text = (
        f"{channel.subject}: driven by {source.name}, its LED gets less than the {show(needed, 'A')} at which it "
        f"switches during {during} ({worst.corner})"
    )
    chain = context.related([channel.part.element, *channel.drive.elements, *channel.load.elements])
    evidence = [Figure("t_off", share, "1", "share of the period without enough LED current", at=worst).evidence()]
    if stated_use(context, channel) == "pulses":
        text += ": pulses, as stated"
        return context.channel_result(RULE, channel, "pass", text, evidence=evidence, related=chain)
    net = context.net(channel.pins["output"]) if "output" in channel.pins else channel.part.path
    use = SignalFacts.use.entry('"pulses"')
    return context.channel_result(
        RULE,
        channel,
        "open",
        f"{text}; nobody says whether pulses are expected there",
        evidence=evidence,
        related=chain,
        missing=[context.lookup.missing(SignalFacts.use, net, '"pulses"')],
        remedy=(
            f"state {use} if what reads {net} expects them, or keep the LED lit through the "
            "period: a bridge with a storage capacitor before its resistor"
        ),
    )


def _chopped(context: Context, channel: Channel, drive: PeriodicDrive) -> Result:
    """An output that comes and goes with its drive: expected, or a question."""
    held, worst = drive.held, drive.held.worst
    off = Figure(
        "t_off", context.analysis.time_off(channel), "s", "time without enough current a period", at=worst.led_corner
    )
    load = context.analysis.load(channel)
    text = (
        f"{channel.subject}: driven by {held.source.name}, its output gives less than the {show(worst.required, 'A')} "
        f"for {load.receiver.words} during {show(off.si, 's')} of each {show(held.source.period, 's')} "
        f"({worst.led_corner})"
    )
    chain = context.related([channel.part.element, *channel.drive.elements, *channel.load.elements])
    found = [*evidence(drive), off.evidence()]
    if drive.use == "pulses":
        text += ": pulses, as stated"
        return context.channel_result(RULE, channel, "pass", text, evidence=found, related=chain)
    net, use = _net(context, channel, load.receiver.net), SignalFacts.use.entry('"pulses"')
    return context.channel_result(
        RULE,
        channel,
        "open",
        f"{text}; nobody says whether pulses are expected there",
        evidence=found,
        related=chain,
        missing=[context.lookup.missing(SignalFacts.use, net, '"pulses"')],
        remedy=f"state {use} if what reads {net} expects them, {_smoothed(context, channel)}",
    )


def _net(context: Context, channel: Channel, read: int) -> str:
    """The net of the output whose signal is to be stated: the moving end, the one that is read if it is an end."""
    ends = context.analysis.loads().ends(channel)
    moving = [net for net in ends if context.lookup.walker.held(net) is None]
    return context.net(read if read in ends else (moving or list(ends))[0])


def _smoothed(context: Context, channel: Channel) -> str:
    """The capacitor that would hold the level, or what stands in its way."""
    try:
        farads = context.analysis.smallest_capacitor(channel, context.lookup.transfer_margin())
    except Lacking:
        return "or hold its level with a capacitor"
    if farads is None:
        return "or give it more current and a capacitor: on average there is not enough for any to hold its level"
    return f"or hold its level with {show(farads, 'F')} or more across the output"


RULE = Rule(
    slug="output-chopped",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=(
        "signals.*.use",
        "signals.*.rate",
        "signals.*.duty",
        "supplies.*.frequency",
        "limits.transfer_margin",
    ),
    judge=judge,
    needs=("drive", "led-current", "transfer", "load", "level", "carrying"),
    concerns=concerns,
)

"""A field input that does not keep the thresholds of the standard it claims.

## What it looks at

Channels behind a line with `standard = "IEC 61131-2 type 1"` (2, 3): current of the line and state of the channel at
the voltages and currents of that type. Everything on the line counts, a resistor to the return before the coupler
too.

## Why it matters

A controller's input must take 15 V for on and 5 V for off whatever feeds it, and must not be switched on by the
leakage of a two-wire sensor. A bare phototransistor coupler spreads by three to one and rarely meets both without a
bleed resistor or a Zener diode.

## How it is computed

At worst case, key `iec-61131-2` (figures from memory): at 15 V (type 1) or 11 V (types 2, 3) the channel must be on
and the line give at least 2, 6, 2 mA; at 30 V at most 15, 30, 15 mA; at 5 V it must be off, and off with 0.5, 2, 1.5
mA fed in. On and off as in `led-not-off`. Demands that the line's stated `on`, `off` and `leakage` already make are
judged by the rules for these. Printed beside:

    V_on = VF + VD + VZ + R1 (IF_on + VF / R2)        V_off = VF' + VD + VZ + R1 (IF_off + VF' / R2)

volts, solved in the network at the worst corner. The margin is the smallest of all and must be 1.00 or more.

Settings: receiver, conditions.

```toml
[lines."IN"]
on = ["15 V", "30 V"]
off = ["-3 V", "5 V"]
standard = "IEC 61131-2 type 1"
[elements."R*"]
power = "1 W"
```

## Fails

```netlist
* Off at 5 V by its Zener diode, but 0.5 mA from a sensor light the LED (demonstration)
R1 IN A 2.2k
R3 B GND 3.3k
D1 B A DZ
* expect: input-thresholds-missed
XU1 B GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DZ D(IS=1e-14 BV=5.1 IBV=1m)
```

## Passes

```netlist
* 1 kohm across the LED takes them (demonstration)
R1 IN A 2.2k
R3 B GND 1k
D1 B A DZ
XU1 B GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DZ D(IS=1e-14 BV=5.1 IBV=1m)
```

## Remedy

More current through a smaller series resistor; a Zener diode in series or a resistor across the LED against too low
an off threshold.

## What it cannot see

AC inputs and other standards. Hysteresis: a slow edge passes both thresholds.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, tightest
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor
from isolint.checking.line_thresholds import checks, turn_off, turn_on
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import LineFacts
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Limit, Result
from isolint.standards.inputs import InputType, input_type
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting

CURES = {
    "on current": "a smaller series resistor, or a resistor from the line to its return",
    "on": "more LED current: a smaller series resistor or a larger one across the LED",
    "off": "a Zener diode in series, or a smaller resistor across the LED",
    "off current": "a smaller resistor across the LED, or one from the line to its return",
    "most current": "a larger series resistor",
}


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a line that claims a standard."""
    lines = [held.net for held in channel.drive.boundary if held.kind == "line"]
    claimed = [
        net
        for net in lines
        for facts in (context.facts.line(context.net(net)),)
        if facts is not None and facts.standard is not None
    ]
    if not claimed:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: no line of its drive claims a standard"
        )
        return
    for net in claimed:
        yield _line(context, channel, net)


def _line(context: Context, channel: Channel, net: int) -> Result:
    name = context.net(net)
    facts = context.facts.line(name)
    assert facts is not None and facts.standard is not None
    kind = input_type(facts.standard.value)
    if kind is None:
        missing = [context.lookup.missing(LineFacts.standard, name)]
        reason = Lacking(
            f"the standard of line {name} is {facts.standard.value}, known are IEC 61131-2 types 1, 2 and 3", missing
        )
        return context.lacking(RULE, channel, reason, name)

    def claim(setting: Setting) -> Claim:
        return tightest([check.claim for check in checks(context.analysis, channel, net, kind, setting)])

    verdict = decide(claim)
    told, found = verdict.worst, checks(context.analysis, channel, net, kind, WORST)
    missed = min(found, key=lambda check: check.claim.margin.si).kind
    side = told.sense.replace("_", " ")
    wanted = f"{told.found.name}: {told.found} ({told.found.corner}), {side} {told.limit} wanted"
    resistor = (
        limiting_resistor(context, channel, context.analysis.drive(channel))
        if missed in ("on current", "on", "most current")
        else None
    )
    return context.judged(
        RULE,
        channel,
        verdict,
        f"{facts.standard.value}: {wanted}",
        resistor,
        role=name,
        evidence=[
            *(_evidence(check.claim) for check in found),
            *_turning(context, channel, net, kind),
            told.margin.evidence(told.wanted, symbol="margin", worked=False),
        ],
        remedy=CURES[missed],
        chain=channel.drive.elements,
    )


def _evidence(claim: Claim) -> Evidence:
    """What was found with its limit and its own margin."""
    return claim.found.evidence(claim.bound, symbol=claim.found.end)._replace(formula=claim.margin.line("margin"))


def _turning(context: Context, channel: Channel, net: int, kind: InputType) -> Iterable[Evidence]:
    on = turn_on(context.analysis, channel, net, kind, WORST)
    if on is not None:
        yield Figure("IF_on", on.amps, "A", "LED current that surely switches it").evidence()
        volts = Figure("V_on", on.volts, "V", "line voltage from which it is surely on", at=on.corner)
        yield volts.evidence(Limit("at_most", kind.on_volts))
    off = turn_off(context.analysis, channel, net, kind, WORST)
    if off is not None:
        name = "line voltage up to which it is surely off"
        volts = Figure("V_off", off.volts, "V", name, end="min", at=off.corner)
        yield volts.evidence(Limit("at_least", kind.off_volts))


RULE = Rule(
    slug="input-thresholds-missed",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "lines.*.standard",
        "lines.*.on",
        "lines.*.off",
        "lines.*.leakage",
        "parts.*.led.off_current",
        "parts.*.led.threshold_current",
    ),
    judge=judge,
    needs=("drive", "led-current"),
)

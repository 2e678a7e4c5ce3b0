"""An output that is slower than what it has to pass on.

## What it looks at

Channels of which something is said about time: `signals."NET".rate` or `pulse` on a net of the drive or of the load,
or a PULSE card that drives it. All other channels get their largest rate as evidence.

## Why it matters

A phototransistor holds its charge. Driven hard it stays on for tens of microseconds after the light has gone, and a
large pull-up resistor lets the current die slowly: bits shrink and grow until the far end reads others. A link that
works at 25 degC and with the first batch of couplers fails with the next.

## How it is computed

Four static currents decide (amperes): I_k of the closed output, I_1 at the receiver's on level, I_2 that leaves
exactly its off level, I_a available at worst; I_A is the most that the LED makes a new part give. Three numbers of the
part come from its record: the edge t_f at its test load R_t (`timing.rise`, `fall`, `load`), C_e (`timing.capacitance`)
and tau_s (`timing.saturated`).

    tau_A = t_f / 2.2 + C_e max(R_o - R_t, 0) + C_o R_o                     R_o = V_off / I_k, C_o across the output
    t_on  = k C_e 0.65 V / I_a + tau_A ln(I_a / (I_a - I_1))                k = 2, at the kindest 1
    t_off = tau_s ln(I_A / (I_k + I_x)) + tau_A ln((I_k + I_x) / (I_2 + I_x))

I_x is what a base resistor takes. Both count x 1.05 (x 1.10 with a base resistor): against a simulator they were -2 %
to +35 % before that. Capacitors behind the output are stepped together with it. Logic outputs: a delay moves both
edges alike, only its spread and the time that the pull-up takes count. A relay or coil that the output switches, itself
or by transistors, must have let go too, with its copper at the coldest and its clamp at the lowest voltage V_K; I_0
flows at first, I_do where it drops out:

    t_release = 1.05 (L / R) ln((I_0 + V_K / R) / (I_do + V_K / R))       R of the coil and of the clamp in series

With an RC network for a clamp the loop is stepped until no more than I_do can flow; an output that drives both levels
shorts its coil, V_K = 0. An inductor of the netlist lets go at its `drop_out`, [5 to 10 %] of its supply (from memory).

A capacitor on the LED's side lets the light come after its source. It is held at volts between those of both levels,
and what flows into it there says how long each step takes, until the LED has just enough current, or just too little:

    t_LED = sum of C dV / i_C(V)          added to t_on and to t_off; i_C at the slow end of each step

    settle = max(t_on, t_off + t_release)      of a logic output the pull-up's part alone
    D = max(t_on - least t_off, t_off - least t_on)
    margin = min(t_p / settle, q t_p / D)

t_p is the shortest pulse: 1 / rate for baud and bit/s, min(duty, 1 - duty) / rate for Hz, or `pulse`. q is the share of
it that may be lost: 0.25 for baud (sampled in the middle of a bit), else 0.5, or `limits.pulse_distortion`. The margin
must be 1.00. Where a sine drives the LED and `use = "pulses"` expects that, what is left of each pulse and of each gap
between them, its edges taken off, must be as long as the stated `pulse`:

    on_min  = time in which the least current is enough - t_on + least t_off
    gap_min = time in which the most current still leaves the off level - t_off

Largest rate: 1 / max(settle, D / q). Couplers in a row add up.

Outputs that switch a load: a thyristor output opens at the next zero of its current, half a period of its supply at
most, one that waits for the zero crossing closes there too; under `use = "phase-control"` a pulse must outlast its
`timing.turn_on`. A MOSFET output takes its turn-on and turn-off times [0.5 to 5 ms] (from memory).

A photovoltaic output charges a gate with what light makes of current, and lets it go over the resistor across it:

    t_on  = Q_g / ISC_min                     Q_g the stated `gate_charge` of all gates there, coulombs
    t_off = 2.2 R_GS Q_g / V_on               or `timing.turn_off`; V_on the voltage at which it is fully on

A period must hold both, a stated pulse or duty each. The energy that the transistor takes meanwhile is not judged.

A PULSE card is a stimulus and no fact: it can leave a result open, not fail it. So is half of the period high, where a
rate in Hz is stated without `duty`. Where the level is meant to be smoothed
nothing has to follow.

Settings: driver, receiver, conditions.

```toml
[inputs."OUT"]
hysteresis = true
[signals."DRIVE"]
rate = "19200 baud"
```

## Fails

```netlist
* 19,200 baud through 47 kohm (demonstration)
R1 DRIVE A 470
* expect: switching-too-slow
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 47k
```

## Passes

```netlist
* The same bits through a logic output (demonstration)
R1 DRIVE A 390
XU1 A GND VB OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VB GNDB 100n
```

## Remedy

A smaller load resistor, less LED current, a resistor from base to emitter, a faster part; or the data sheet's times in
the part record where they are assumed.

## What it cannot see

How long a relay takes to pull in and its contacts bounce, slow tails of diffusion currents, the inductance of a base
lead, how beta and times change with temperature beyond the ratio's own curve. Where software samples: state
`limits.pulse_distortion`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.array_speed import arrays_follow
from isolint.checking.claims import Claim, bare
from isolint.checking.context import Context
from isolint.checking.demanded_speed import SAMPLED, Demand, demand
from isolint.checking.part_speed import outlasts, parts_follow
from isolint.checking.periodic_drive import periodic_drive, stated_use
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.speed import Speed, speed
from isolint.checking.switch_speed import follows
from isolint.checking.verdict import decide
from isolint.checking.widths import widths
from isolint.facts import SignalFacts
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Result
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting

_NO_SECONDS = 1e-15


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    asked = demand(context, channel)
    if _comes_and_goes(context, channel):
        yield _widths(context, channel, asked)
        return
    why = _not_asked(context, channel, asked)
    switch = bool(channel.part.kind.output.switch)
    if switch and asked is not None and not why:
        yield from follows(RULE, context, channel, asked)
        return
    if asked is None or why:
        evidence = [] if switch or use_of(context, channel) else list(_largest(context, channel))
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {why}", evidence=evidence)
        return

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        return outlasts(speed(analysis, channel, setting), asked, setting)

    verdict = decide(claim)
    found = speed(context.analysis, channel)
    text = (
        f"{asked.words}; at worst its edges settle in {show(found.settle, 's')} and a pulse changes by "
        f"{show(found.distortion, 's')} (on {show(found.on, 's')}, off {show(found.off, 's')}{_coil(found)}): "
        f"{verdict.worst.words}, largest rate {_rate(found.rate(asked.share))}"
    )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[*_figures(found, asked.share, asked.seconds), verdict.worst.margin.evidence(verdict.worst.wanted)],
        remedy="a smaller load resistor, less LED current, or a faster part",
        chain=(*channel.drive.elements, *channel.load.elements),
    )


def _coil(found: Speed) -> str:
    """What a coil in the load adds, in words."""
    took = next((figure for figure in found.figures if figure.symbol == "t_release"), None)
    return "" if took is None else f", then its coil {show(took.si, 's')} to release"


def _not_asked(context: Context, channel: Channel, asked: Demand | None) -> str:
    """Why nothing has to follow, "" where something has."""
    use = use_of(context, channel)
    if use:
        return f"its output is used as {use}, not as a switch"
    if asked is None:
        return "no rate and no pulse is stated of its signals"
    if stated_use(context, channel) == "steady":
        return "its output is stated as steady: nothing has to follow"
    if channel.part.kind.output.conducts == "transistor":
        try:
            drive = periodic_drive(context, channel)
        except Lacking:
            return ""
        if drive is not None and drive.smoothed:
            return "its level is held through the period of its drive: nothing has to follow"
    return ""


def _comes_and_goes(context: Context, channel: Channel) -> bool:
    """Whether a sine drives the channel and its pulses are expected."""
    if use_of(context, channel) or channel.part.kind.output.conducts != "transistor":
        return False
    if stated_use(context, channel) != "pulses":
        return False
    source = context.analysis.periodic_source(channel)
    return source is not None and source.shape == "sine"


def _widths(context: Context, channel: Channel, asked: Demand | None) -> Result:
    """Pulses at each half wave: as wide as what is stated, and there at all."""
    found = widths(context.analysis, channel)
    text = (
        f"{channel.subject}: driven by {_source(context, channel)} its output is on for "
        f"{_seconds(found.on)} and off for {_seconds(found.gap)} at least"
    )
    figures = [figure.evidence() for figure in found.figures]
    if asked is None:
        if found.least > 0.0:
            text += "; no shortest pulse is stated"
            return context.channel_result(RULE, channel, "notApplicable", text, evidence=figures)
        nets = [channel.pins[role] for role in ("collector", "emitter") if role in channel.pins]
        moving = [net for net in nets if context.lookup.walker.held(net) is None]
        missing = context.lookup.missing(SignalFacts.pulse, context.net((moving or nets)[0]))
        text += "; whether a pulse is left at worst the times of the part decide, and how wide it must be nobody states"
        return context.channel_result(RULE, channel, "open", text, evidence=figures, missing=[missing])

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        told = widths(analysis, channel, setting)
        left = Figure("t_left", max(told.least, 0.0), "s", "shortest pulse that is left", end="min")
        return bare((left / Figure("t_p", asked.seconds, "s")).called("margin", "1", "margin", end="min"), told.terms)

    verdict = decide(claim)
    return context.judged(
        RULE,
        channel,
        verdict,
        f"{text.split(': ', 1)[1]}; {asked.words}: {verdict.worst.words}",
        evidence=[*figures, verdict.worst.margin.evidence(verdict.worst.wanted)],
        remedy="a resistor that lets the current pass its threshold earlier or later, or a faster part",
        chain=(*channel.drive.elements, *channel.load.elements),
    )


def _source(context: Context, channel: Channel) -> str:
    source = context.analysis.periodic_source(channel)
    return "" if source is None else source.name


def _seconds(value: float) -> str:
    return show(value, "s") if value > 0.0 else "no time"


def _figures(found: Speed, share: float, pulse: float | None) -> Iterable[Evidence]:
    yield from (figure.evidence() for figure in found.figures)
    yield Figure("settle", found.settle, "s", "time after which a level is there").evidence()
    yield Figure("D", found.distortion, "s", "by which a pulse grows or shrinks").evidence()
    if pulse is not None:
        yield Figure("t_p", pulse, "s", "shortest pulse").evidence()
        yield Figure("q", share, "1", "share of a pulse that may be lost").evidence()
    if math.isfinite(found.rate(share)):
        yield Figure("f_max", found.rate(share), "Hz", "largest rate, pulses a second", end="min").evidence()


def _largest(context: Context, channel: Channel) -> Iterable[Evidence]:
    """What a channel could follow, where that can be told."""
    try:
        yield from _figures(speed(context.analysis, channel, WORST), SAMPLED, None)
    except Lacking:
        return


def _rate(pulses: float) -> str:
    return f"{pulses:,.0f} a second"


def beside(context: Context) -> Iterable[Result]:
    """One result a gate driver or isolator for logic of whose signals a rate is stated, and a gate on light alone."""
    yield from parts_follow(RULE, context)
    yield from arrays_follow(RULE, context)


RULE = Rule(
    slug="switching-too-slow",
    group="time, heat",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=(
        "environment.ambient",
        "supplies.*.tolerance",
        "signals.*.rate",
        "signals.*.pulse",
        "signals.*.duty",
        "inputs.*.capacitance",
        "limits.pulse_distortion",
        "supplies.*.frequency",
        "elements.*.tolerance",
        "parts.*.led.threshold_current",
        "parts.*.led.off_current",
        "parts.*.trigger.zero_crossing",
        "parts.*.timing.turn_on",
        "parts.*.timing.turn_off",
        "parts.*.timing.rise",
        "parts.*.timing.fall",
        "parts.*.timing.load",
        "parts.*.timing.capacitance",
        "parts.*.timing.saturated",
        "parts.*.timing.delay_low",
        "parts.*.timing.distortion",
        "parts.*.coil.inductance",
        "parts.*.coil.drop_out",
        "parts.*.coil.clamp_voltage",
        "elements.*.drop_out",
        "elements.*.gate_charge",
        "elements.*.gate_full_on",
        "parts.*.output.short_current",
        "parts.*.output.discharge",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("driver", "levels", "array"),
    needs=("drive", "led-current", "transfer", "load", "level", "carrying", "off", "base"),
    room="a faster part",
)

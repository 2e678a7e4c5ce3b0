"""An LED that is neither surely on nor surely off in one of the states of its drive.

## What it looks at

Every combination of the switching inputs of a coupler's drive network: outputs high, low or in high impedance, field
lines on, off or leaking, switches, sources that move. An output is in high impedance where it is open-drain or
high-side and does not drive, or `unpowered`; of an `exclusive` set at most one is active (low for an open-drain
output, else high). More than six inputs stay open.

## Why it matters

An output that leaks, a two-wire sensor, a snubber or a 3.3 V port against a 5 V anode lets some current through an
LED that should be dark. A sensitive coupler then stays on, or oscillates between both.

## How it is computed

Each state is solved at worst case, with the off leakage of outputs and lines. Transistor outputs: the state with most
LED current is the on state; any other is on if the output current available is at least the one required (margin
1.00). Logic outputs: on at `recommended_current_min` or `threshold_current`. Where outputs or lines switch the LED,
not all states may be on. A state that is not on must be off: forward voltage at most the record's `off_voltage` or
current at most its `off_current`. Where a transistor's record has neither,

    I_off = IF_off ratio_max D_IF D_VCE D_T + I_dark(T)

in amperes, with new parts and every factor at its largest, must leave its receiver a valid off level. The margin is
the better of both criteria at the worst state and must be 1.00 or more.

```toml
[outputs."DRIVE"]
supply = "V5"
drive = "open-drain"
low = { max = "0.4 V", at = "8 mA" }
sink_max = "16 mA"
off_leakage = "300 uA"
voltage_max = "5.5 V"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "0.25 W"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* The output leaks 300 uA, the LED is off at 250 uA; the bleed resistor takes next to nothing (demonstration)
R1 V5 A 330
R3 A DRIVE 100k
* expect: led-not-off
XU1 A DRIVE VB OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VB GNDB 100n
```

## Passes

```netlist
* 1 kohm across the LED carries the leakage at 0.3 V (demonstration)
R1 V5 A 330
R3 A DRIVE 1k
XU1 A DRIVE VB OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VB GNDB 100n
```

## Remedy

A resistor across the LED that carries the leakage below the off voltage, an output that leaks less or is rated for
the anode's supply, or a Zener diode in series for a field input.

## What it cannot see

Leakage that nobody stated: `off_leakage` of an output is 0 to 10 uA by default, a line leaks only what `leakage`
says. Currents that fast edges push through the barrier's capacitance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor
from isolint.checking.evidence import at_least, at_most, line, number, single
from isolint.checking.offstate import StateMargin, state_margins
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Margin, Result
from isolint.units import show
from isolint.worstcase.uncertain import WORST, Setting, Term, unique

REQUIRED = 1.0


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel, about its worst state."""
    use = use_of(context, channel)
    if use:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: its output is used as {use}, not as a switch"
        )
        return
    if not context.analysis.state_analyser().switches(channel):
        text = f"{channel.subject}: nothing switches its LED; off is the supply absent"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    found = state_margins(context.analysis, channel, WORST)
    if not found:
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: its drive has one state only")
        return

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        margins = state_margins(context.analysis, channel, setting)
        worst = min(margins, key=lambda item: item.margin)
        return worst.margin, unique([*worst.terms, *(term for item in margins for term in item.terms)])

    worst = min(found, key=lambda item: item.margin)
    if _is_never_off(found):
        if any(use.kind == "voltage_max" and use.margin < REQUIRED for use in context.analysis.port_uses(channel)):
            text = f"{channel.subject}: no state puts its LED out, since an output can't follow its supply"
            yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("pin"))
            return
        yield _never_off(context, channel, max(found, key=lambda item: item.off))
        return
    verdict = decide(measure, "at_least", REQUIRED)
    if verdict.kind == "open" and worst.by == "level" and _is_dark_current_enough(context, channel):
        text = f"{channel.subject}: its dark current alone is not surely harmless"
        yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("off"))
        return
    evidence = [item for state in found[:1] if state is not worst for item in _evidence(state)]
    evidence = [*_evidence(worst), *evidence]
    evidence.append(single(f"margin, {worst.run.words}", "margin", "1", worst.margin, "min", limit=at_least(REQUIRED)))
    text = _words(worst)
    remedy = ""
    if verdict.kind == "fail":
        remedy = _remedy(channel, worst)
    element = limiting_resistor(context, channel, context.analysis.drive(channel)) if worst.on > worst.off else None
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        evidence=evidence,
        margin=Margin(worst.margin, REQUIRED),
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _is_never_off(found: Sequence[StateMargin]) -> bool:
    """Whether outputs and lines switch an LED that every state of theirs surely lights.

    Sources of the netlist don't count: a step of a supply or a ripple is no signal.
    """
    switched = any(key >= 0 for item in found for key in item.run.state)
    return switched and all(item.off < REQUIRED <= item.on for item in found)


def _never_off(context: Context, channel: Channel, darkest: StateMargin) -> Result:
    """The result of an LED that is on in every state, about the state in which it gets least."""

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        margins = state_margins(context.analysis, channel, setting)
        return max(item.off for item in margins), unique(term for item in margins for term in item.terms)

    verdict = decide(measure, "at_least", REQUIRED)
    amps, least = darkest.run.most_current, darkest.run.least_current
    text = (
        f"no state of its drive puts the LED out: with {darkest.run.words} it still gets {show(least.value, 'A')} to "
        f"{show(amps.value, 'A')} ({amps.corner})"
    )
    evidence = _evidence(darkest)
    evidence.append(single("margin", "margin", "1", darkest.off, "min", limit=at_least(REQUIRED)))
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        None,
        evidence=evidence,
        margin=Margin(darkest.off, REQUIRED),
        remedy=_remedy(channel, darkest) if verdict.kind == "fail" else "",
        chain=channel.drive.elements,
    )


def _is_dark_current_enough(context: Context, channel: Channel) -> bool:
    """Whether the dark current alone, at worst, already spoils the level: then it is no matter of the LED."""
    return min(level.margin for level in context.analysis.dark_levels(channel)) < REQUIRED


def _words(found: StateMargin) -> str:
    amps, volts = found.run.most_current, found.run.most_voltage
    limits = {
        "off_voltage": f"off is at most {show(found.limit, 'V')}",
        "off_current": f"off is at most {show(found.limit, 'A')}",
        "level": "that is not off for what reads its output",
    }
    across = show(max(volts.value, 0.0), "V")
    with_state = f"with {found.run.words} the LED gets up to {show(amps.value, 'A')} ({amps.corner}) at up to {across}"
    if found.margin >= REQUIRED:
        return f"{with_state}: surely {'on' if found.on >= REQUIRED else 'off'}"
    if found.level is not None:
        level = found.level
        bound = "falls to" if level.at_least else "rises to"
        seen = f"{level.words}: {bound} {show(level.value.value, level.unit)}, needs {show(level.limit, level.unit)}"
        return f"{with_state} and is not surely off: {seen} ({level.value.corner})"
    return f"{with_state} and is neither surely on nor surely off: {limits[found.by]}"


def _evidence(found: StateMargin) -> list[Evidence]:
    amps, volts = found.run.most_current, found.run.most_voltage
    limit_of = at_most(found.limit)
    evidence = [
        single(
            f"LED current, {found.run.words}",
            "IF_off",
            "A",
            amps.value,
            "max",
            corners={"max": amps.corner},
            limit=limit_of if found.by == "off_current" else None,
        ),
        single(
            f"LED forward voltage, {found.run.words}",
            "VF_off",
            "V",
            volts.value,
            "max",
            corners={"max": volts.corner},
            limit=limit_of if found.by == "off_voltage" else None,
        ),
    ]
    level = found.level
    if level is None:
        return evidence
    for leak, (name, symbol) in zip(
        level.leaks, (("dark current", "I_dark"), ("output current from the LED current", "I_passed")), strict=False
    ):
        evidence.append(
            single(
                f"{name} at {leak.temperature:g} degC",
                symbol,
                "A",
                leak.amps,
                "max",
                formula=leak.current.line(symbol),
                source=leak.current.source,
            )
        )
    bound = at_least(level.limit) if level.at_least else at_most(level.limit)
    evidence.append(
        single(
            level.words,
            "off level",
            level.unit,
            level.value.value,
            "min" if level.at_least else "max",
            limit=bound,
            corners={"min" if level.at_least else "max": level.value.corner},
        )
    )
    if found.on > 0.0:
        least = found.run.least_current
        evidence.append(
            single(
                "LED current against the one that switches it on",
                "IF / IF_on",
                "1",
                found.on,
                "min",
                limit=at_least(REQUIRED),
                corners={"min": least.corner},
            )
        )
    return evidence


def _remedy(channel: Channel, found: StateMargin) -> str:
    """The resistor across the LED that carries what flows, at the off voltage of the record."""
    record = channel.part.record
    volts = record.led.off_voltage if record is not None else None
    amps = found.run.most_current.value
    if (
        volts is None
        or amps <= 0.0
        or ("hi-z" not in found.run.state.values() and "leaking" not in found.run.state.values())
    ):
        return (
            "let nothing flow in that state: a resistor across the LED, "
            "an output rated for the LED's supply, or a transistor"
        )
    ohms = volts / amps
    text = line("R", "V_off / I_leak", f"{number(volts)} / {number(amps)}", ohms, "ohm")
    return f"a resistor of {show(ohms, 'ohm', 3)} or less across the LED ({text}), or an output that leaks less"


RULE = Rule(
    slug="led-not-off",
    group="drive",
    level="error",
    page=__doc__,
    facts=(
        "outputs.*.off_leakage",
        "outputs.*.exclusive",
        "outputs.*.unpowered",
        "lines.*.off",
        "lines.*.leakage",
        "parts.*.led.off_voltage",
        "parts.*.led.off_current",
    ),
    judge=judge,
    needs=("drive", "led-current", "off", "load"),
    blocks=("off-state",),
    judges=("off-state",),
)

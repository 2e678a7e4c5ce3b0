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
current at most its `off_current`; where the record of a coupler that switches at a stated current has neither, 2 % to
20 % of that current (from memory). Where a transistor's record has neither,

    I_off = IF_off ratio_max D_IF D_VCE D_T + I_dark(T)

in amperes, with new parts and every factor at its largest, must leave its receiver a valid off level. The margin is
the better of both criteria at the worst state and must be 1.00 or more.

Settings: driver, receiver, conditions.

```toml
[outputs."DRIVE"]
drive = "open-drain"
sink_max = "16 mA"
off_leakage = "300 uA"
voltage_max = "5.5 V"
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

from isolint.checking.claims import Claim, bare, tightest
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor
from isolint.checking.offstate import StateMargin, level_claim, state_margins, surest_margins
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Limit, Result
from isolint.units import show
from isolint.worstcase.figures import Figure
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

    def claim(setting: Setting) -> Claim:
        # At worst the result says how far off each state is too.
        margins = state_margins if setting == WORST else surest_margins
        states = margins(context.analysis, channel, setting)
        return tightest([_claim(state.margin, state.terms, f"margin, {state.run.words}") for state in states])

    worst = min(found, key=lambda item: item.margin)
    if _is_never_off(found):
        if any(use.kind == "voltage_max" and use.margin < REQUIRED for use in context.analysis.port_uses(channel)):
            text = f"{channel.subject}: no state puts its LED out, since an output can't follow its supply"
            yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("pin"))
            return
        yield _never_off(context, channel, max(found, key=lambda item: item.off))
        return
    verdict = decide(claim)
    if verdict.kind == "open" and worst.by == "level" and _is_dark_current_enough(context, channel):
        text = f"{channel.subject}: its dark current alone is not surely harmless"
        yield context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("off"))
        return
    told = verdict.worst
    first = [item for state in found[:1] if state is not worst for item in _evidence(state)]
    yield context.judged(
        RULE,
        channel,
        verdict,
        _words(worst),
        limiting_resistor(context, channel, context.analysis.drive(channel)) if worst.on > worst.off else None,
        evidence=[*_evidence(worst), *first, told.margin.evidence(told.wanted)],
        remedy=_remedy(channel, worst),
        chain=channel.drive.elements,
    )


def _claim(margin: float, terms: Iterable[Term], name: str) -> Claim:
    return bare(Figure("margin", margin, "1", name, end="min"), terms, REQUIRED)


def _is_never_off(found: Sequence[StateMargin]) -> bool:
    """Whether outputs and lines switch an LED that every state of theirs surely lights.

    Sources of the netlist don't count: a step of a supply or a ripple is no signal.
    """
    switched = any(key >= 0 for item in found for key in item.run.state)
    return switched and all(item.off < REQUIRED <= item.on for item in found)


def _never_off(context: Context, channel: Channel, darkest: StateMargin) -> Result:
    """The result of an LED that is on in every state, about the state in which it gets least."""

    def claim(setting: Setting) -> Claim:
        states = state_margins(context.analysis, channel, setting)
        most = max(state.off for state in states)
        return _claim(most, unique(term for state in states for term in state.terms), "margin")

    verdict = decide(claim)
    told, run = verdict.worst, darkest.run
    text = (
        f"no state of its drive puts the LED out: with {run.words} it still gets {show(run.least_current.value, 'A')} "
        f"to {show(run.most_current.value, 'A')} ({run.most_current.corner})"
    )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[*_evidence(darkest), told.margin.evidence(told.wanted)],
        remedy=_remedy(channel, darkest),
        chain=channel.drive.elements,
    )


def _is_dark_current_enough(context: Context, channel: Channel) -> bool:
    """Whether the dark current alone, at worst, already spoils the level: then it is no matter of the LED."""
    return any(level.margin < REQUIRED for level in context.analysis.dark_levels(channel))


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
        level = level_claim(found.level)
        bound = "falls to" if found.level.at_least else "rises to"
        seen = f"{level.found.name}: {bound} {level.found}, needs {level.limit}"
        return f"{with_state} and is not surely off: {seen} ({level.found.corner})"
    return f"{with_state} and is neither surely on nor surely off: {limits[found.by]}"


def _evidence(found: StateMargin) -> Iterable[Evidence]:
    run, most = found.run, Limit("at_most", found.limit)
    amps = Figure("IF_off", run.most_current, "A", f"LED current, {run.words}")
    yield amps.evidence(most if found.by == "off_current" else None)
    volts = Figure("VF_off", run.most_voltage, "V", f"LED forward voltage, {run.words}")
    yield volts.evidence(most if found.by == "off_voltage" else None)
    if found.level is None:
        return
    words = ("dark current", "output current from the LED current")
    for leak, name, symbol in zip(found.level.leaks, words, ("I_dark", "I_passed"), strict=False):
        shown = leak.current.evidence(symbol=symbol, line=symbol)
        yield shown._replace(name=f"{name} at {leak.temperature:g} degC")
    level = level_claim(found.level)
    yield level.found.evidence(level.bound)
    if found.on > 0.0:
        name = "LED current against the one that switches it on"
        on = Figure("IF / IF_on", found.on, "1", name, end="min", at=run.least_current)
        yield on.evidence(Limit("at_least", REQUIRED))


def _remedy(channel: Channel, found: StateMargin) -> str:
    """The resistor across the LED that carries what flows, at the off voltage of the record."""
    record = channel.part.record
    volts = record.led.off_voltage if record is not None else None
    amps = found.run.most_current.value
    if volts is None or amps <= 0.0 or not {"hi-z", "leaking", "leaking back"} & set(found.run.state.values()):
        return (
            "let nothing flow in that state: a resistor across the LED, "
            "an output rated for the LED's supply, or a transistor"
        )
    ohms = (Figure("V_off", volts, "V") / Figure("I_leak", amps, "A")).called("R", "ohm")
    return f"a resistor of {ohms} or less across the LED ({ohms.line()}), or an output that leaks less"


RULE = Rule(
    slug="led-not-off",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
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
    room="an output that leaks less",
)

"""An output that cannot reach the level that its receiver needs.

## What it looks at

The output voltage that is left when the receiver's level is reached: transistor outputs against VCE(sat), logic
outputs against their guaranteed low level and its test current; outputs of digital isolators, high and low, against
each stated input that reads them.

## Why it matters

An output that stops at 0.3 V can't pull an input to 0.2 V, whatever its current; a darlington never goes below 0.7 V.
The receiver then sees neither high nor low.

## How it is computed

Transistor outputs: the load network is solved with the receiver held at its level; the collector-emitter voltage
left, at worst, must be at least the record's VCE(sat) max (never scaled below its test current; 0.7 V at least for a
darlington), unless the record has its own `versus_voltage` curve. Logic outputs: VOL max of the record against the
receiver's `low_max`, and the current that the output takes at VOL, at worst, against the current at which VOL is
guaranteed. A digital isolator: its lowest high level is the least of its supply without what `output.high_level` says
that it loses (below 0 V how far below the supply; above 0 V as far as at the lowest supply of its range; unstated 0 to
0.4 V, from memory), its low level `output.low_level` (unstated 0 to 0.4 V).

Settings: driver, receiver, conditions.

```toml
[supplies."V3"]
voltage = "3.3 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."LOW"]
supply = "VB"
low_max = "0.6 V"
high_min = "3.5 V"
low_current = "1 uA"
```

## Fails

```netlist
* A darlington into an input that needs 0.6 V (demonstration)
R1 DRIVE A 470
* expect: output-level-invalid
XU1 A GND GNDB LOW NB DEMO_PD1
R2 VB LOW 10k
```

```netlist
* An isolator on 3.3 V before an input that needs 3.5 V (demonstration)
* expect: output-level-invalid margin=0.78
XU1 V5 DRIVE GND GNDB OUT V3 DEMO_DI4
C1 V5 GND 100n
C2 V3 GNDB 100n
```

## Passes

```netlist
* The same into an input that accepts 1.5 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 10k
```

```netlist
* The isolator on the supply of the input (demonstration)
XU1 V5 DRIVE GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
```

## Remedy

A coupler that saturates lower, a receiver with a higher low threshold, or a pull-up that asks for less current.

## What it cannot see

Noise margin: the level is compared with the receiver's limit as stated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, at_most, both_ends
from isolint.checking.contact_inputs import contacts_read_levels
from isolint.checking.context import Context
from isolint.checking.cures import load_resistor, resistor_cure
from isolint.checking.isolator_levels import reach_levels
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.switched_inputs import reads_levels
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Output
from isolint.results import Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.companions import pair_words
from isolint.worstcase.figures import Figure
from isolint.worstcase.transfer import NO_VOLTS
from isolint.worstcase.uncertain import WORST, Lacking, Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel, two for a logic output (level, current)."""
    use = use_of(context, channel)
    if use:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: its output is used as {use}, not as a switch"
        )
    elif channel.part.kind.output.switch:
        yield from reads_levels(RULE, context, channel)
    elif channel.part.kind.output.conducts == "transistor":
        yield _transistor(context, channel)
    else:
        yield from _logic(context, channel)


def _transistor(context: Context, channel: Channel) -> Result:
    load = context.analysis.load(channel)
    claim = _claim(context, channel)
    # Volts the wrong way round are left across an output that lies the wrong way round.
    if load.required.high.value <= 0.0 and claim(WORST).found.si > NO_VOLTS:
        text = f"{channel.subject}: it need not bring {load.receiver.words}, which is there without it"
        return context.channel_result(RULE, channel, "notApplicable", text, blocked_by=context.speaker("off"))
    verdict = decide(claim)
    before = _before(context, channel) if verdict.kind == "fail" else None
    if before is not None:
        text = f"{channel.subject}: its output lies in series with that of {before.subject}: {RULE.slug} fails there"
        return context.channel_result(RULE, channel, "notApplicable", text, blocked_by=RULE.slug)
    told, words, parts = verdict.worst, load.receiver.words, context.interfaces.recognition.parts
    beside = [pair_words(context.circuit, parts, pair) for pair in load.standing.load.pairs]
    text = (
        f"{told.found} are left across its output with {words} ({told.found.corner}), its saturation voltage is "
        f"{told.limit} at most"
    )
    remedy = "a coupler that saturates lower, or a receiver with a higher low threshold"
    away = f"{show(-told.found.si, 'V')} ({told.found.corner})"
    missing = f"with nothing across its output {words} is missed by {away}"
    if load.voltage.high.value < 0.0 and load.receiver.kind == "input":
        text = f"its collector lies below its emitter: {missing}"
        remedy = f"exchange collector and emitter of {channel.part.path}, nets {_output_nets(context, channel)}"
    elif beside:
        text += f"; {' and '.join(beside)} in series with it {'leaves' if len(beside) == 1 else 'leave'} no more"
        remedy = "fewer outputs in series, couplers that saturate lower, or a receiver with a higher low threshold"
    elif told.found.si < 0.0:
        text = f"its supply is too low to bring {words}: {missing}"
        remedy = "smaller resistors in series with its output, a transistor with more gain, or a lighter load"
    left = both_ends(f"output voltage left with {words}", "VCE", "V", load.voltage)
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=told.evidence(left)[:2],
        remedy=remedy,
        chain=channel.load.elements,
    )


def _claim(context: Context, channel: Channel) -> Callable[[Setting], Claim]:
    """That as much is left across a transistor output as it needs."""
    origin = context.analysis.ratio(channel).origin_of_saturation()

    def claim(setting: Setting) -> Claim:
        found, analyser = context.analysis.load(channel, setting), context.analysis.ratio(channel, setting)
        needed = Figure("VCE_sat_max", analyser.saturation_voltage(), "V", "saturation voltage", source=origin)
        # What outputs in series with it leave is a difference, known no better than that.
        volts = found.voltage.low.value
        low = found.voltage.low._replace(value=0.0) if abs(volts) < NO_VOLTS else found.voltage.low
        left = Figure("VCE", low, "V", end="min")
        valid = analyser.level_is_valid(left.si)
        return at_least(left, needed, (*found.terms, *analyser.terms), decided=valid)

    return claim


def _before(context: Context, channel: Channel) -> Channel | None:
    """The first channel before this one in series with it for which the level is missed as well: that is one fault."""
    beside = context.analysis.load(channel).standing.load.pairs
    neighbours = context.analysis.neighbours()
    for other in neighbours.before(channel, neighbours.owning(beside)):
        switches = other.part.kind.output.conducts == "transistor" and not use_of(context, other)
        if switches and decide(_claim(context, other)).kind == "fail":
            return other
    return None


def _logic(context: Context, channel: Channel) -> Iterable[Result]:
    record = channel.part.record
    level = None if record is None else record.output.low_level
    name = channel.part.model_name or channel.part.path
    if level is None or level.max is None or level.at is None:
        file = record.file if record is not None else context.settings_file
        fact = fact_terms.missing(file, Output.low_level, name)
        raise Lacking(f"the guaranteed low level of {name} is not known", [fact])
    volts, most = level.max, level.at
    loads = context.analysis.loads()
    for number, receiver in enumerate(loads.receivers(channel)):
        if receiver.kind != "input" or not receiver.inverted:
            raise Lacking(f"{receiver.words} reads a logic output; only logic inputs are judged there")

        def accepts(setting: Setting, number: int = number) -> Claim:
            found = context.analysis.loads(setting).receivers(channel)[number]
            low = Figure("VOL_max", volts, "V", "guaranteed low level", source=f"record {name}")
            return at_most(low, Figure("V_low_max", found.level, "V"), found.terms)

        verdict = decide(accepts)
        told = verdict.worst
        yield context.judged(
            RULE,
            channel,
            verdict,
            f"its low level of {told.found} goes to {receiver.words}, which accepts {told.limit}",
            role=f"level {context.net(receiver.net)}",
            evidence=[told.found.evidence(told.bound)],
            remedy="a receiver with a higher low threshold",
            chain=channel.load.elements,
        )
    yield _current(context, channel, volts, most)


def _current(context: Context, channel: Channel, volts: float, most: float) -> Result:
    """The current into a logic output at its low level against the one up to which that is guaranteed."""

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        found = analysis.sink(channel, volts, setting)
        return at_most(Figure("IOL", found.required.high, "A"), Figure("IOL_max", most, "A"), found.terms)

    verdict = decide(claim)
    told = verdict.worst
    sink = context.analysis.sink(channel, volts).required
    resistor = load_resistor(context, channel, context.analysis.load(channel))
    text = (
        f"its output takes {told.found} at its low level ({told.found.corner}), the level is guaranteed up to "
        f"{told.limit}"
    )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        role="current",
        evidence=[both_ends("current into the output at VOL", "IOL", "A", sink, told.bound)],
        remedy=lambda: resistor_cure(context, resistor, claim, True, "a larger pull-up resistor"),
        chain=channel.load.elements,
    )


def _output_nets(context: Context, channel: Channel) -> str:
    return " and ".join(context.net(channel.pins[role]) for role in ("collector", "emitter") if role in channel.pins)


def beside(context: Context) -> Iterable[Result]:
    """One result an output of an isolator, or a contact of a relay, and input that reads it."""
    yield from reach_levels(RULE, context)
    yield from contacts_read_levels(RULE, context)


RULE = Rule(
    slug="output-level-invalid",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "passes"),
    facts=(
        "inputs.*.low_max",
        "inputs.*.high_min",
        "parts.*.output.saturation_voltage",
        "parts.*.output.low_level",
        "parts.*.output.high_level",
        "parts.*.output.on_resistance",
        "parts.*.output.leakage",
        "elements.*.tolerance",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "inputs.*.low_current",
        "inputs.*.high_current",
        "inputs.*.supply",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("levels", "contact"),
    needs=("load",),
    blocks=("level", "carrying"),
    judges=("level",),
    measures=True,
    room="a receiver with a higher low threshold",
)

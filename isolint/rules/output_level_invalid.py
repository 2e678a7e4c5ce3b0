"""An output that cannot reach the level that its receiver needs.

## What it looks at

The output voltage that is left when the receiver's level is reached: transistor outputs against VCE(sat), logic
outputs against their guaranteed low level and its test current.

## Why it matters

An output that stops at 0.3 V can't pull an input to 0.2 V, whatever its current; a darlington never goes below 0.7 V.
The receiver then sees neither high nor low.

## How it is computed

Transistor outputs: the load network is solved with the receiver held at its level; the collector-emitter voltage
left, at worst, must be at least the record's VCE(sat) max (never scaled below its test current; 0.7 V at least for a
darlington), unless the record has its own `versus_voltage` curve. Logic outputs: VOL max of the record against the
receiver's `low_max`, and the current that the output takes at VOL, at worst, against the current at which VOL is
guaranteed.

```toml
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
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
[inputs."LOW"]
supply = "VB"
low_max = "0.6 V"
high_min = "3.5 V"
low_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* A darlington into an input that needs 0.6 V (demonstration)
R1 DRIVE A 470
* expect: output-level-invalid
XU1 A GND GNDB LOW NB DEMO_PD1
R2 VB LOW 10k
```

## Passes

```netlist
* The same into an input that accepts 1.5 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 10k
```

## Remedy

A coupler that saturates lower, a receiver with a higher low threshold, or a pull-up that asks for less current.

## What it cannot see

Noise margin: the level is compared with the receiver's limit as stated.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.cures import load_resistor, resistor_that_cures
from isolint.checking.evidence import at_least, at_most, quantity, single
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.parts import Output
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Lacking, Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel, two for a logic output (level, current)."""
    use = use_of(context, channel)
    if use:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: its output is used as {use}, not as a switch"
        )
    elif channel.part.kind.output.conducts == "transistor":
        yield _transistor(context, channel)
    else:
        yield from _logic(context, channel)


def _transistor(context: Context, channel: Channel) -> Result:
    load = context.analysis.load(channel)
    ratio = context.analysis.ratio(channel)
    left = load.voltage.low
    needed = ratio.saturation_voltage()

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        found = context.analysis.load(channel, setting)
        analyser = context.analysis.ratio(channel, setting)
        voltage = found.voltage.low.value
        excess = voltage - analyser.saturation_voltage()
        valid = analyser.level_is_valid(voltage)
        return (max(excess, 0.0) if valid else min(excess, -1e-12)), (*found.terms, *analyser.terms)

    verdict = decide(measure, "at_least", 0.0)
    evidence = [
        quantity(f"output voltage left with {load.receiver.words}", "VCE", "V", load.voltage, at_least(needed)),
        single("saturation voltage", "VCE_sat_max", "V", needed, "max", source=ratio.origin_of_saturation()),
    ]
    text = (
        f"{show(left.value, 'V')} are left across its output with {load.receiver.words} ({left.corner}), its "
        f"saturation voltage is {show(needed, 'V')} at most"
    )
    remedy = "a coupler that saturates lower, or a receiver with a higher low threshold"
    away = f"{show(-left.value, 'V')} ({left.corner})"
    missing = f"with nothing across its output {load.receiver.words} is missed by {away}"
    if load.voltage.high.value < 0.0 and load.receiver.kind == "input":
        text = f"its collector lies below its emitter: {missing}"
        remedy = f"exchange collector and emitter of {channel.part.path}, nets {_output_nets(context, channel)}"
    elif left.value < 0.0:
        text = f"its supply is too low to bring {load.receiver.words}: {missing}"
        remedy = "smaller resistors in series with its output, a transistor with more gain, or a lighter load"
    remedy = remedy if verdict.kind == "fail" else ""
    margin = Margin(left.value / needed, 1.0) if needed > 0.0 else None
    return context.judged(
        RULE, channel, verdict, text, None, evidence=evidence, margin=margin, remedy=remedy, chain=channel.load.elements
    )


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

        def accepts(setting: Setting, number: int = number) -> tuple[float, Sequence[Term]]:
            found = context.analysis.loads(setting).receivers(channel)[number]
            return found.level / volts, found.terms

        accepted = decide(accepts, "at_least", 1.0)
        evidence = [
            single(
                "guaranteed low level",
                "VOL_max",
                "V",
                volts,
                "max",
                limit=at_most(receiver.level),
                source=f"record {name}",
            )
        ]
        text = (
            f"its low level of {show(volts, 'V')} goes to {receiver.words}, which accepts {show(receiver.level, 'V')}"
        )
        yield context.judged(
            RULE,
            channel,
            accepted,
            text,
            None,
            role=f"level {context.net(receiver.net)}",
            evidence=evidence,
            margin=Margin(receiver.level / volts, 1.0),
            remedy="a receiver with a higher low threshold" if accepted.kind == "fail" else "",
            chain=channel.load.elements,
        )

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        found = context.analysis.sink(channel, volts, setting)
        return most / max(found.required.high.value, 1e-12), found.terms

    verdict = decide(measure, "at_least", 1.0)
    sink = context.analysis.sink(channel, volts).required
    load = context.analysis.load(channel)
    evidence = [quantity("current into the output at VOL", "IOL", "A", sink, at_most(most))]
    text = (
        f"its output takes {show(sink.high.value, 'A')} at its low level ({sink.high.corner}), the level is "
        f"guaranteed up to {show(most, 'A')}"
    )
    resistor = load_resistor(context, channel, load)
    remedy = ""
    if verdict.kind == "fail":
        ohms = (
            None
            if resistor is None
            else resistor_that_cures(context, resistor, lambda other: _sinks(channel, other, volts, most), larger=True)
        )
        remedy = (
            "a larger pull-up resistor"
            if resistor is None or ohms is None
            else f"{context.named(resistor)}: {show(ohms, 'ohm')} or more"
        )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        role="current",
        evidence=evidence,
        margin=Margin(most / max(sink.high.value, 1e-12), 1.0),
        remedy=remedy,
        chain=channel.load.elements,
    )


def _output_nets(context: Context, channel: Channel) -> str:
    return " and ".join(context.net(channel.pins[role]) for role in ("collector", "emitter") if role in channel.pins)


def _sinks(channel: Channel, analysis: Analysis, volts: float, most: float) -> bool:
    """Whether the current into the output at its low level stays within what is guaranteed."""
    return analysis.sink(channel, volts).required.high.value <= most


RULE = Rule(
    slug="output-level-invalid",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=("inputs.*.low_max", "inputs.*.high_min", "parts.*.output.saturation_voltage", "parts.*.output.low_level"),
    judge=judge,
    needs=("load",),
    blocks=("level", "carrying"),
    judges=("level",),
    measures=True,
)

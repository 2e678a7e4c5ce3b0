"""A source that can barely give the LED current.

## What it looks at

Every logic output, bipolar switch and MOS switch that carries the LED current of a channel in its on state.

## Why it matters

A source at its limit loses level, heats up, and has nothing left for the cold morning and the weak unit. Common
practice, no source: it must be able to give clearly more than the current that is asked of it, 30 % more.

## How it is computed

Port: headroom = source_max (or sink_max) / the port's own largest current, both in amperes. Bipolar transistor used
as a switch: headroom = BF_min IB_min / IC_max with the switch ideal; BF_min is half the model's BF unless `gain_min`
is stated. Limit 1.3 (`limits.drive_headroom`). MOS switch: VGS_min over VTO + 1 V (or `gate_full_on`), limit 1.00. An
LED fed from a fixed supply without a switch has no such source.

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
* 16 mA asked of an output that gives 16 mA (demonstration)
* expect: drive-headroom-low
R1 DRIVE A 220
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* 8 mA asked of it (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

A larger series resistor, a stronger output, or a transistor with more base current.

## What it cannot see

What else the same output drives, and the total of a port: state them in `source_max`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.cures import bears, change, limiting_resistor, resistor_that_cures, suffices
from isolint.checking.evidence import at_least, line, number, quantity, ratio, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Margin, Result
from isolint.units import show
from isolint.worstcase.drive import PortLoad, SwitchDrive
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

MOS_LIMIT = 1.0
LEAST_AMPS = 1e-6
"""A port that gives less than this only leaks."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a source: each port and each switch.

    Ports that carry the same loop are one fault: the worst of them stands for all.
    """
    drive = context.analysis.drive(channel)
    ports = [port for port in drive.ports if port.current.high.value > LEAST_AMPS]
    if not ports and not drive.switches:
        text = f"{channel.subject}: its LED is fed without a logic output or transistor switch"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    found = [_port(context, channel, port) for port in ports]
    failed = [result for result in found if result.kind == "fail"]
    worst = min(failed, key=lambda result: (result.margin.value if result.margin else 0.0, result.role), default=None)
    for result in found:
        if result.kind == "fail" and worst is not None and result is not worst:
            text = f"{channel.subject}: output {result.role} carries the current for which output {worst.role} fails"
            yield result._replace(kind="notApplicable", level="none", message=text, blocked_by=RULE.slug, remedy="")
        else:
            yield result
    for switch in drive.switches:
        yield _switch(context, channel, switch)


def _port(context: Context, channel: Channel, port: PortLoad) -> Result:
    key = "source_max" if port.high else "sink_max"
    limit = port.model.limit
    if limit is None:
        example = f'[outputs."{port.name}"]\n{key} = "8 mA"'
        reason = Lacking(
            f"the guaranteed operating current of output {port.name} is not stated",
            [context.lookup.missing(f'outputs."{port.name}".{key}', example)],
        )
        return context.lacking(RULE, channel, reason, port.name)
    required = context.lookup.drive_headroom()

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.drive(channel, setting)
        current = next(other.current.high.value for other in found.ports if other.name == port.name)
        return limit / max(current, 1e-12), found.terms

    verdict = decide(measure, "at_least", required)
    current = port.current.high
    headroom = limit / current.value
    evidence = [
        quantity(f"current of output {port.name}", "I_port", "A", port.current),
        single(f"guaranteed current of output {port.name}", key, "A", limit, "min", source="stated"),
        single(
            "headroom",
            f"{key} / I_port",
            "1",
            headroom,
            "min",
            limit=at_least(required),
            formula=line(
                "headroom", f"{key} / I_port_max", f"{number(limit)} / {number(current.value)}", headroom, "1"
            ),
        ),
    ]
    resistor = limiting_resistor(context, channel, context.analysis.drive(channel))
    verb = "give" if port.high else "take"
    text = (
        f"output {port.name} must {verb} {show(current.value, 'A')} ({current.corner}), {show(limit, 'A')} are "
        f"guaranteed: headroom {ratio(headroom, required)}, wanted {required:.2f}"
    )
    remedy = ""
    if verdict.kind == "fail":
        remedy = f"drive the LED from something stronger than {port.name}"
        if resistor is not None:
            cure = resistor_that_cures(
                context, resistor, lambda other: measure(WORST, other)[0] >= required, larger=True
            )
            if cure:
                remedy = (
                    f"{context.named(resistor)}: {show(cure, 'ohm')} or more, or a stronger driver than {port.name}"
                )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        role=port.name,
        evidence=evidence,
        margin=Margin(headroom, required),
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _switch(context: Context, channel: Channel, switch: SwitchDrive) -> Result:
    bipolar = switch.kind == "bjt"
    required = context.lookup.drive_headroom() if bipolar else MOS_LIMIT

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.drive(channel, setting)
        same = next((other for other in found.switches if other.element == switch.element), None)
        if same is None:
            return 0.0, found.terms
        return same.available / max(same.required, 1e-12), found.terms

    verdict = decide(measure, "at_least", required)
    headroom = switch.available / max(switch.required, 1e-12)
    text, evidence = _bipolar(context, switch) if bipolar else _mos(context, switch)
    text += f": headroom {ratio(headroom, required)}, wanted {required:.2f}"
    formula = line(
        "headroom", "available / required", f"{number(switch.available)} / {number(switch.required)}", headroom, "1"
    )
    evidence.append(
        single("headroom", "available / required", "1", headroom, "min", limit=at_least(required), formula=formula)
    )
    element, remedy = switch.element, ""
    if verdict.kind == "fail":
        element, remedy = _cure(context, channel, switch, lambda other: measure(WORST, other)[0] >= required)
    path = context.circuit.path(switch.element)
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        role=path,
        evidence=evidence,
        margin=Margin(headroom, required),
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _bipolar(context: Context, switch: SwitchDrive) -> tuple[str, list[Evidence]]:
    path = context.circuit.path(switch.element)
    first, _, second = switch.corner.partition("; ")
    text = (
        f"transistor {path} can carry {show(switch.available, 'A')} ({first}) and must carry "
        f"{show(switch.required, 'A')} ({second})"
    )
    formula = line(
        "IC_available",
        "BF_min * IB_min",
        f"{number(switch.gain)} * {number(switch.base_current)}",
        switch.available,
        "A",
    )
    return text, [
        single(
            f"collector current that {path} can carry",
            "BF_min IB_min",
            "A",
            switch.available,
            "min",
            formula=formula,
            corners={"min": first},
        ),
        single(
            f"collector current of {path} with the switch ideal",
            "IC_max",
            "A",
            switch.required,
            "max",
            corners={"max": second},
        ),
    ]


def _mos(context: Context, switch: SwitchDrive) -> tuple[str, list[Evidence]]:
    path = context.circuit.path(switch.element)
    text = (
        f"MOS {path} gets {show(switch.available, 'V')} from gate to source at worst ({switch.corner}) and is fully "
        f"on at {show(switch.required, 'V')}"
    )
    return text, [
        single(
            f"gate-source voltage of {path}", "VGS_min", "V", switch.available, "min", corners={"min": switch.corner}
        ),
        single(
            f"gate-source voltage at which {path} is fully on",
            "VGS_on",
            "V",
            switch.required,
            "min",
            source="VTO + 1 V unless gate_full_on is stated",
        ),
    ]


def _cure(
    context: Context, channel: Channel, switch: SwitchDrive, holds: Callable[[Analysis], bool]
) -> tuple[int, str]:
    """The card to change first and what would cure it.

    A base resistor, the LED's resistor, or the transistor itself.
    """
    if switch.kind != "bjt":
        return (
            switch.element,
            f"{context.named(switch.element)}: a transistor with a lower threshold, or a higher gate voltage",
        )
    circuit = context.circuit
    base = circuit.pins(switch.element)[1]
    found: list[tuple[float, int, str]] = []
    for element in channel.drive.elements:
        if circuit.letter(element) == "R" and base in circuit.pins(element):
            for larger in (False, True):
                ohms = resistor_that_cures(
                    context, element, lambda other: holds(other) and bears(context, channel, other), larger=larger
                )
                if ohms is not None:
                    way = "more" if larger else "less"
                    found.append(
                        (
                            change(context, element, ohms),
                            element,
                            f"{context.named(element)}: {show(ohms, 'ohm')} or {way}",
                        )
                    )
    series = limiting_resistor(context, channel, context.analysis.drive(channel))
    ohms = (
        None
        if series is None
        else resistor_that_cures(
            context, series, lambda other: holds(other) and suffices(context, channel, other), larger=True
        )
    )
    if series is not None and ohms is not None:
        found.append((change(context, series, ohms), series, f"{context.named(series)}: {show(ohms, 'ohm')} or more"))
    found.sort()
    texts = [text for _, _, text in found] or ["more base current"]
    return found[0][1] if found else switch.element, ", or ".join(
        [*texts, f"more gain ({context.named(switch.element)})"]
    )


RULE = Rule(
    slug="drive-headroom-low",
    group="drive",
    level="error",
    page=__doc__,
    facts=(
        "outputs.*.source_max",
        "outputs.*.sink_max",
        "elements.*.gain_min",
        "elements.*.gate_full_on",
        "limits.drive_headroom",
    ),
    judge=judge,
    needs=("drive", "led-current"),
    blocks=("port",),
    judges=("port",),
    measures=True,
)

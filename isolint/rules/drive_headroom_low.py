"""A source that can barely give the LED current.

## What it looks at

Every logic output, bipolar switch and MOS switch that carries the LED current of a channel in its on state, or that of
the coil of a relay while it is to pull in.

## Why it matters

A source at its limit loses level, heats up, and has nothing left for the cold morning and the weak unit. Common
practice, no source: it must be able to give clearly more than the current that is asked of it, 30 % more.

## How it is computed

Port: headroom = source_max (or sink_max) / the port's own largest current, both in amperes. Bipolar transistor used
as a switch: headroom = BF_min IB_min / IC_max with the switch ideal; BF_min is half the model's BF unless `gain_min`
is stated. Limit 1.3 (`limits.drive_headroom`). MOS switch: VGS_min over VTO + 1 V (or `gate_full_on`), limit 1.00. An
LED fed from a fixed supply without a switch has no such source. A coil is taken as cold as the ambient, when it draws
most.

Settings: driver, receiver, conditions.

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

from collections.abc import Callable, Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, at_most, bare, both_ends
from isolint.checking.coil_headroom import MOS_LIMIT, of_coils, switch_words
from isolint.checking.context import Context
from isolint.checking.cures import change, limiting_resistor, resistor_cure, tried, value_words
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import OutputFacts
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.drive import PortLoad, SwitchDrive
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting

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


def beside(context: Context) -> Iterable[Result]:
    """One result a source of the coil of a relay."""
    return of_coils(context, RULE)


def _port(context: Context, channel: Channel, port: PortLoad) -> Result:
    key = "source_max" if port.high else "sink_max"
    limit = port.model.limit
    if limit is None:
        row = OutputFacts.source_max if port.high else OutputFacts.sink_max
        reason = Lacking(
            f"the guaranteed operating current of output {port.name} is not stated",
            [context.lookup.missing(row, port.name)],
        )
        return context.lacking(RULE, channel, reason, port.name)

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        drive = analysis.drive(channel, setting)
        current = next(other.current.high for other in drive.ports if other.name == port.name)
        return at_most(
            Figure("I_port_max", current, "A"),
            Figure(key, limit, "A", f"guaranteed current of output {port.name}", end="min", source="stated"),
            drive.terms,
            context.lookup.drive_headroom(),
            name="headroom",
        )

    verdict = decide(claim)
    told, resistor = verdict.worst, limiting_resistor(context, channel, context.analysis.drive(channel))
    text = (
        f"output {port.name} must {'give' if port.high else 'take'} {told.found} ({told.found.corner}), {told.limit} "
        f"are guaranteed: {told.words}"
    )

    def cure() -> str:
        larger = resistor_cure(context, resistor, claim, True)
        return f"{larger}, or a stronger driver than {port.name}" if larger else f"drive the LED from {stronger}"

    stronger = f"something stronger than {port.name}"
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        role=port.name,
        evidence=[
            both_ends(f"current of output {port.name}", "I_port", "A", port.current),
            told.limit.evidence(),
            told.margin.evidence(told.wanted, symbol=f"{key} / I_port", line="headroom"),
        ],
        remedy=cure,
        chain=channel.drive.elements,
    )


def _switch(context: Context, channel: Channel, switch: SwitchDrive) -> Result:
    required = context.lookup.drive_headroom() if switch.kind == "bjt" else MOS_LIMIT

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        drive = analysis.drive(channel, setting)
        same = next((other for other in drive.switches if other.element == switch.element), None)
        if same is None:
            return bare(Figure("", 0.0, name="headroom"), drive.terms, required)
        return at_least(
            Figure("available", same.available),
            Figure("required", same.required),
            drive.terms,
            required,
            name="headroom",
        )

    verdict = decide(claim)
    told = verdict.worst
    text, evidence = switch_words(context, switch)
    element, remedy = switch.element, ""
    if verdict.kind == "fail":
        element, remedy = _cure(context, channel, switch, lambda other: claim(WORST, other))
    return context.judged(
        RULE,
        channel,
        verdict,
        f"{text}: {told.words}",
        element,
        role=context.circuit.path(switch.element),
        evidence=[*evidence, told.margin.evidence(told.wanted, line="headroom")],
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _cure(
    context: Context, channel: Channel, switch: SwitchDrive, claim: Callable[[Analysis], Claim]
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

    def offer(element: int, larger: bool) -> None:
        cure = tried(context, element, claim, larger)
        if cure.ohms is not None:
            found.append((change(context, element, cure.ohms), element, value_words(context, element, cure, larger)))

    for element in channel.drive.elements:
        if circuit.letter(element) == "R" and base in circuit.pins(element):
            for larger in (False, True):
                offer(element, larger)
    series = limiting_resistor(context, channel, context.analysis.drive(channel))
    if series is not None:
        offer(series, True)
    found.sort(key=lambda offered: round(offered[0], 3))
    texts = [text for _, _, text in found] or ["more base current"]
    return found[0][1] if found else switch.element, ", or ".join(
        [*texts, f"more gain ({context.named(switch.element)})"]
    )


RULE = Rule(
    slug="drive-headroom-low",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "outputs.*.source_max",
        "outputs.*.sink_max",
        "elements.*.gain_min",
        "elements.*.gate_full_on",
        "limits.drive_headroom",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("coil",),
    needs=("drive", "led-current"),
    blocks=("port",),
    judges=("port",),
    room="a stronger driver",
    measures=True,
)

"""A gate that a driver or photovoltaic coupler does not take far enough: on, or off.

## What it looks at

The voltage between gate and source of each power transistor behind a gate driver or a photovoltaic coupler, at its
least while it is to be on, and at its largest while it is to be off.

## Why it matters

A transistor that is half on burns. A photovoltaic output gives some microamperes only: a bleed resistor that is too
small keeps the gate below its threshold for good.

## How it is computed

Gate driver: V_GS = supply above the source of the transistor at its lowest, less the drop of the output. `high_level`
above 0 V is a level, below 0 V a drop from the supply. Photovoltaic: VOC falls with temperature by
`voltage_coefficient` (0 to 0.3 %/K, from memory), ISC is scaled with IF_min over the LED current of its test, never
above 1, hot (0 to 0.5 %/K, from memory, or `versus_temperature`) and by `trigger.remaining` (1/1.3 to 1, from memory).
What lies between gate and source is a resistance at its lowest; V_GS lies on the chord between VOC and ISC at worst, on
the rectangle around them at the kindest, or on `output_curve`. Outputs in series add VOC, side by side ISC.
A part without a card of its own counts as a transistor where `gate_full_on` or `gate_voltage` is stated of it; without
any gate behind an output it is open. Needed is `gate_full_on`, unstated 10 V, at the kindest 1 V above the model's
threshold. While off V_GS must stay below `gate_threshold_min`, unstated 0.5 V, at the kindest half the model's
threshold. The margin is the smaller quotient.

Settings: conditions, gate.

## Fails

```netlist
* 100 kohm between gate and source take all that the photovoltaic output gives (demonstration)
R1 DRIVE A 220
* expect: gate-drive-low
XU1 A GND GNDB G DEMO_PV1
R2 G GNDB 100k
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
```

## Passes

```netlist
* 10 Mohm (demonstration)
R1 DRIVE A 220
XU1 A GND GNDB G DEMO_PV1
R2 G GNDB 10Meg
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
```

## Remedy

A larger resistor between gate and source, more LED current, a second photovoltaic output; for a driver a higher supply
where its high level follows it.

## What it cannot see

The plateau while the gate is charged, and the safe operating area meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import gate_levels, part_results
from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.gate_levels import GateDrive
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import ElementFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output
from isolint.results import Result
from isolint.worstcase import fact_terms, gates
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result a gate; one a part that may be a transistor and of which nobody says so."""
    for part in context.interfaces.recognition.parts.values():
        if not RULE.asks(part.kind):
            continue
        try:
            found = list(gate_levels.drives(context, [part]))
        except Lacking as reason:
            yield part_results.lacking(context, RULE, part, reason)
            continue
        if not found and not _joined(context, part):
            yield _unseen(context, part)
        for drive in found:
            if drive.on:
                yield from _judge(context, drive)


def _joined(context: Context, part: Part) -> bool:
    """Whether another photovoltaic output shares a net with those of a part: one of them speaks for all."""
    if "array" not in part.kind.owns:
        return False
    circuit = context.circuit
    nets = [net for pin, net in enumerate(circuit.pins(part.element)) if part.roles[pin] == "output"]
    parts = context.interfaces.recognition.parts
    others = (parts.get(element) for net in nets for element, _ in circuit.elements_at(net))
    return any(other is not None and other is not part and "array" in other.kind.owns for other in others)


def _unseen(context: Context, part: Part) -> Result:
    """What is said of a part behind which no gate is found: what lies there may be a transistor without a card."""
    nets = [net for pin, net in enumerate(context.circuit.pins(part.element)) if part.roles[pin] == "output"]
    others: dict[int, None] = {}
    for net in nets:
        others.update(dict.fromkeys(gates.undeclared(context.lookup, context.interfaces.recognition, part, net)))
    rows = [context.lookup.missing(ElementFacts.gate_full_on, context.circuit.path(element)) for element in others]
    names = ", ".join(context.circuit.path(element) for element in others)
    if names:
        reason = Lacking(f"whether {names} at its output is a transistor with a gate nobody says", rows)
    else:
        reason = Lacking(f"no gate lies behind its output {', '.join(map(context.net, dict.fromkeys(nets)))}")
    return part_results.lacking(context, RULE, part, reason)


def _judge(context: Context, drive: GateDrive) -> Iterator[Result]:
    gate = drive.gate
    path = context.circuit.path(gate.element)
    try:
        threshold = gates.threshold_of(context.lookup, gate.element)
        if threshold is not None and threshold < 0.0:
            raise Lacking(f"{path} is a p-channel transistor: how its gate is driven is not judged")
        verdict = decide(lambda setting: _claim(context, drive, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, drive.part, reason, path)
        return
    told = verdict.worst
    gets, limit = told.beside
    if told.sense == "at_least":
        text = f"gate of {path} gets {gets} at worst{_corner(told)} and needs {limit} to be fully on"
    else:
        text = f"gate of {path} is left at {gets} while off{_corner(told)}, it is surely off up to {limit}"
    yield part_results.judged(
        context,
        RULE,
        drive.part,
        verdict,
        text,
        evidence=told.evidence(),
        remedy=_cure(context, drive, told),
        chain=(*gate.way, *gate.beside, gate.element),
        role=path,
    )


def _corner(told: Claim) -> str:
    return f" ({told.found.corner})" if told.found.corner else ""


def _cure(context: Context, drive: GateDrive, told: Claim) -> str:
    bleeds = [element for element in drive.gate.beside if context.circuit.letter(element) == "R"]
    if drive.channels and bleeds and told.sense == "at_least":
        names = ", ".join(context.named(element) for element in bleeds)
        return f"a larger {names}, more LED current, or a second output"
    if told.sense == "at_least":
        return f"{_more(drive, told)}, or a transistor that is fully on at less"
    return "a negative supply, or a transistor with a higher threshold"


def _more(drive: GateDrive, told: Claim) -> str:
    """What gives the gate more. A high level that is guaranteed in volts doesn't rise with the supply."""
    if drive.channels:
        return "more LED current, a second output"
    level = fact_terms.recorded(drive.part, Output.high_level)
    fixed = level is not None and level.min is not None and 0.0 < level.min < told.limit.si
    return "a driver that guarantees a higher level" if fixed else "a higher supply of the driver"


def _claim(context: Context, drive: GateDrive, setting: Setting) -> Claim:
    on = gate_levels.lowest_on(context, drive, setting)
    needs = gates.fully_on(context.lookup, drive.gate.element)
    want = Figure("V_on", setting.high(needs), "V", needs.name, end="min", source=needs.origin)
    claims = [at_least(on.volts, want, (*on.terms, needs))]
    if drive.off and not drive.channels:
        off = gate_levels.off_level(context, drive, setting)
        surely = gates.surely_off(context.lookup, drive.gate.element)
        least = Figure("V_th", setting.low(surely), "V", surely.name, source=surely.origin)
        claims.append(at_most(off.volts, least, (*off.terms, surely), least=1e-3))
    return tightest(claims)


RULE = Rule(
    slug="gate-drive-low",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("driver", "array"),
    facts=(
        "environment.ambient",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.ground",
        "elements.*.tolerance",
        "elements.*.gate_full_on",
        "elements.*.gate_threshold_min",
        "outputs.*.high",
        "parts.*.output.high_level",
        "parts.*.output.open_voltage",
        "parts.*.output.short_current",
        "parts.*.output.voltage_coefficient",
        "parts.*.output.versus_temperature",
        "parts.*.output.output_curve",
        "parts.*.trigger.remaining",
        "parts.*.supply.current",
    ),
    survey=survey,
)

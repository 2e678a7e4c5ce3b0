"""A gate from which nothing takes the charge when its driver is dark or without supply.

## What it looks at

What lies between gate and source of each power transistor behind a photovoltaic coupler or a gate driver.

## Why it matters

A photovoltaic output that is dark takes nothing: the transistor stays on until its gate has leaked empty, or half on
for that long. A driver without supply leaves a gate wherever the drain pulls it.

## How it is computed

Photovoltaic: it passes with `output.discharge` (true, or a resistance), a resistor between gate and source of at most 1
Mohm, at the kindest 10 Mohm (from memory), or a transistor there that turns it off. `discharge = false` with none of
them fails; unstated it is open. Gate driver: it passes with a resistor between gate and source, or
`output.default = "low"`; `"hi-z"` without a resistor fails as a warning, unstated it is open.

Settings: conditions, gate.

```toml
[elements."M1"]
gate_full_on = "3 V"
```

## Fails

```netlist
* A photovoltaic coupler without a turn-off circuit, alone at a gate (demonstration)
R1 DRIVE A 220
* expect: gate-discharge-missing
XU1 A GND GNDB G DEMO_PV2
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
```

## Passes

```netlist
* With a resistor between gate and source (demonstration)
R1 DRIVE A 220
XU1 A GND GNDB G DEMO_PV2
R2 G GNDB 910k
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
```

## Remedy

A resistor between gate and source: as large as the output drives, as small as the time to turn off wants.

## What it cannot see

Clamps inside a driver that hold the gate without a supply, unless its record says `default = "low"`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import gate_levels, part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.gate_levels import GateDrive
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.parts import Output
from isolint.results import Kind, Level, Measure, Result
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting

_USUAL = least(1e6, 10e6, "default 1 to 10 Mohm (from memory)")


def survey(context: Context) -> Iterable[Result]:
    """One result a gate."""
    for part in context.interfaces.recognition.parts.values():
        if RULE.asks(part.kind):
            try:
                found = [drive for drive in gate_levels.drives(context, [part]) if drive.off]
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)
                continue
            for drive in found:
                yield from _judge(context, drive)


def _judge(context: Context, drive: GateDrive) -> Iterator[Result]:
    circuit, gate = context.circuit, drive.gate
    path = circuit.path(gate.element)
    row = Output.discharge if drive.channels else Output.default
    stated = fact_terms.recorded(drive.part, row)
    resistors = [element for element in gate.beside if circuit.letter(element) == "R"]
    switches = [element for element in gate.beside if circuit.letter(element) in "QJM"]
    inside = (stated is not None and stated is not False) if drive.channels else stated == "low"
    if inside:
        yield _plain(context, drive, "pass", f"{drive.part.path} itself discharges the gate of {path}")
    elif switches:
        names = ", ".join(circuit.path(element) for element in switches)
        yield _plain(context, drive, "pass", f"{names} discharges the gate of {path}")
    elif resistors and not drive.channels:
        names = ", ".join(circuit.path(element) for element in resistors)
        yield _plain(context, drive, "pass", f"{names} discharges the gate of {path}")
    elif resistors:
        verdict = decide(lambda setting: _claim(context, drive, resistors, setting))
        told = verdict.worst
        has, limit = told.beside
        yield part_results.judged(
            context,
            RULE,
            drive.part,
            verdict,
            f"{has} between gate and source of {path} discharge it in the dark, at most {limit} are relied on",
            evidence=told.evidence(),
            remedy=f"a resistor of less than {limit} between gate and source",
            chain=(*resistors, gate.element),
            role=path,
        )
    elif stated is None:
        record = drive.part.record
        file = context.settings_file if record is None or not record.file else record.file
        fact = fact_terms.missing(file, row, fact_terms.named(drive.part))
        how = "in the dark" if drive.channels else "without supply"
        text = (
            f"nothing lies between gate and source of {path}, and nobody says whether {drive.part.path} discharges it"
        )
        yield part_results.lacking(context, RULE, drive.part, Lacking(f"{text} {how}", [fact]), path)
    else:
        how = "when it is dark" if drive.channels else "without supply"
        text = f"nothing discharges the gate of {path} {how}: no resistor between gate and source"
        yield _plain(context, drive, "fail", text, None if drive.channels else "warning")


def _claim(context: Context, drive: GateDrive, resistors: Iterable[int], setting: Setting) -> Claim:
    values = [context.lookup.ohms(element) for element in resistors]
    known = [ohms for ohms in values if ohms]
    if not known:
        raise Lacking("the resistor between gate and source has no value")
    ohms = 1.0 / sum(1.0 / each for each in known)
    path = context.circuit.path(drive.gate.element)
    term = fact_terms.defaulted(
        Output.discharge, fact_terms.named(drive.part), _USUAL, unit="ohm", title=f"what discharges the gate of {path}"
    )
    return at_most(
        Figure("R_GS", ohms, "ohm", "resistance between gate and source"),
        Figure("R_max", setting.low(term), "ohm", "resistance that is relied on (from memory)"),
        (term,),
    )


def _plain(context: Context, drive: GateDrive, kind: Kind, text: str, level: Level | None = None) -> Result:
    part, path = drive.part, context.circuit.path(drive.gate.element)
    made = context.result(
        RULE,
        kind,
        f"{part.path}: {text}",
        context.place(part.element),
        part.path,
        role=path,
        level=level,
        measure=Measure.number_of(1),
        remedy="fit a resistor between gate and source" if kind == "fail" else "",
        related=context.related([part.element, *drive.gate.beside, drive.gate.element]),
        element=part.element,
    )
    return made._replace(part=part.path)


RULE = Rule(
    slug="gate-discharge-missing",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("driver", "array"),
    facts=("parts.*.output.discharge", "parts.*.output.default"),
    survey=survey,
)

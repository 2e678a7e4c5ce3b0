"""A gate resistor that lets a driver's output carry more than its peak current.

## What it looks at

The resistance between each output of a gate driver and each gate behind it, for the current that turns it on and for
the one that turns it off, against the least that the output's peak current asks for.

## Why it matters

A driver that is asked for more than its peak current heats up with every edge, and its drop is guaranteed no more.

## How it is computed

R_min = (V_CC - V_EE - V_drop) / I_peak, with the supply from rail to rail at its largest, `peak_current_max` (or
`current_max`) and `peak_drop` (unstated 0 to 2.5 V, from memory). Against it stands the resistance of the way at its
lowest, a diode that conducts counts nothing, plus `gate_resistance` where it is stated. Gates side by side share the
current: their conductances add. An output that limits itself (`self_limited`) does not apply.

Settings: driver, conditions, barrier, gate driver.

```toml
[elements."M1"]
gate_threshold_min = "2 V"
```

## Fails

```netlist
* 2.2 ohm at an output for 2.5 A on 15 V (demonstration)
R1 DRIVE A 330
* expect: gate-resistor-low
XU1 A GND VG OUT GNDB DEMO_GD1
C1 VG GNDB 1u
R3 OUT G 2.2
M1 D G GNDB GNDB DEMO_NMOS
R4 G GNDB 10k
.model DEMO_NMOS NMOS (VTO=3 KP=20)
```

## Passes

```netlist
* 6.8 ohm (demonstration)
R1 DRIVE A 330
XU1 A GND VG OUT GNDB DEMO_GD1
C1 VG GNDB 1u
R3 OUT G 6.8
M1 D G GNDB GNDB DEMO_NMOS
R4 G GNDB 10k
.model DEMO_NMOS NMOS (VTO=3 KP=20)
```

## Remedy

A larger resistor in the way that is too small, or a driver for more current.

## What it cannot see

Ringing, how fast the edge is to be, and the inductance of the loop.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from isolint.checking import gate_levels, part_results
from isolint.checking.claims import Claim, at_least, tightest
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
from isolint.worstcase.uncertain import Lacking, Setting, Term


def survey(context: Context) -> Iterable[Result]:
    """One result an output of a gate driver that reaches a gate."""
    for part in context.interfaces.recognition.parts.values():
        if not RULE.asks(part.kind):
            continue
        by_output: dict[int, list[GateDrive]] = {}
        for drive in gate_levels.drives(context, [part]):
            by_output.setdefault(drive.gate.start, []).append(drive)
        for drives in by_output.values():
            yield from _judge(context, part, drives)


def _judge(context: Context, part: Part, drives: Sequence[GateDrive]) -> Iterator[Result]:
    role = context.net(drives[0].gate.start)
    if fact_terms.recorded(part, Output.self_limited):
        text = f"{part.path}: its output limits its current by itself"
        yield context.result(
            RULE, "notApplicable", text, context.place(part.element), part.path, role=role, element=part.element
        )._replace(part=part.path)
        return
    try:
        verdict = decide(lambda setting: _claim(context, part, drives, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, part, reason, role)
        return
    told = verdict.worst
    has, limit = told.beside
    names = ", ".join(context.circuit.path(drive.gate.element) for drive in drives)
    yield part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"{has} lie between its output and the gate of {names} ({told.found.name}), its peak current asks for {limit}",
        evidence=told.evidence(),
        remedy=f"at least {limit} between output {role} and the gate",
        chain=[element for drive in drives for element in (*drive.gate.way, drive.gate.element)],
        role=role,
    )


def _claim(context: Context, part: Part, drives: Sequence[GateDrive], setting: Setting) -> Claim:
    swing = gate_levels.swing(context, drives[0], setting)
    name, record = fact_terms.named(part), part.record
    peak = fact_terms.recorded(part, Output.peak_current_max) or fact_terms.recorded(part, Output.current_max)
    if peak is None:
        file = context.settings_file if record is None or not record.file else record.file
        fact = fact_terms.missing(file, Output.peak_current_max, name)
        raise Lacking(f"the peak current of {name} is not known", [fact])
    drop = fact_terms.of_record(part, Output.peak_drop)
    source = f"record {name}"
    amps = Figure("I_peak", peak, "A", "peak current of the output", source=source)
    volts = swing.volts - Figure("V_drop", setting.low(drop), "V", "drop at the peak current", source=drop.origin)
    least = (volts / amps).called("R_min", "ohm", "least resistance that its peak current asks for", end="min")
    claims = []
    for on in (True, False):
        asked = [drive for drive in drives if (drive.on if on else drive.off)]
        if asked:
            ohms, terms = _parallel(context, asked, setting, on)
            told = f"the way that turns it {'on' if on else 'off'}"
            found = Figure("R", ohms, "ohm", told, end="min")
            claims.append(at_least(found, least, (*swing.terms, drop, *terms)))
    return tightest(claims)


def _parallel(context: Context, drives: Iterable[GateDrive], setting: Setting, on: bool) -> tuple[float, list[Term]]:
    siemens, terms = 0.0, list[Term]()
    for drive in drives:
        ohms, used = gates.resistance(context.lookup, context.analysis.solver, drive.gate, setting, on)
        path = context.circuit.path(drive.gate.element)
        inside = context.facts.of(ElementFacts.gate_resistance, path)
        ohms += 0.0 if inside is None else inside.value
        terms.extend(used)
        siemens += 1.0 / max(ohms, 1e-6)
    return 1.0 / max(siemens, 1e-12), terms


RULE = Rule(
    slug="gate-resistor-low",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("driver",),
    facts=(
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.ground",
        "elements.*.tolerance",
        "parts.*.output.peak_current_max",
        "parts.*.output.peak_drop",
        "parts.*.supply.current",
    ),
    survey=survey,
)

"""A gate that sees more voltage than it stands.

## What it looks at

The largest voltage of either sign between gate and source of each power transistor behind a gate driver or a
photovoltaic coupler, against what its gate stands.

## Why it matters

A gate's oxide breaks down at once, and the transistor is then a short circuit.

## How it is computed

Gate driver: its supplies above and below the source at their ends. Photovoltaic: the open voltage of the best part
(`open_voltage` max, unstated 1 to 1.5 times the usual one, from memory), cold. A Zener diode between gate and source
takes what is more, with a resistor before it or behind a photovoltaic output. The limit is `gate_voltage`, unstated 10
to 20 V either way (from memory).

Settings: conditions, gate.

```toml
[elements."M1"]
gate_voltage = ["-8 V", "8 V"]
```

## Fails

```netlist
* A photovoltaic output of up to 11 V at a gate for 8 V (demonstration)
R1 DRIVE A 220
* expect: gate-voltage-exceeded
XU1 A GND GNDB G DEMO_PV1
R2 G GNDB 10Meg
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
```

## Passes

```netlist
* With a Zener diode at the gate (demonstration)
R1 DRIVE A 220
XU1 A GND GNDB G DEMO_PV1
R2 G GNDB 10Meg
D1 GNDB G DZ6
M1 D G GNDB GNDB DEMO_NMOS
.model DEMO_NMOS NMOS (VTO=2 KP=20)
.model DZ6 D (BV=6.2 IBV=1u)
```

## Remedy

A Zener diode between gate and source with a resistor before it, a lower supply, or a transistor whose gate stands more.

## What it cannot see

Ringing at the gate, and what the drain couples into it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import gate_levels, part_results
from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.gate_levels import GateDrive
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.results import Result
from isolint.worstcase import gates
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result a gate."""
    for part in context.interfaces.recognition.parts.values():
        if RULE.asks(part.kind):
            try:
                found = list(gate_levels.drives(context, [part]))
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)
                continue
            for drive in found:
                yield from _judge(context, drive)


def _judge(context: Context, drive: GateDrive) -> Iterator[Result]:
    path = context.circuit.path(drive.gate.element)
    try:
        verdict = decide(lambda setting: _claim(context, drive, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, drive.part, reason, path)
        return
    told = verdict.worst
    gets, limit = told.beside
    corner = f" ({told.found.corner})" if told.found.corner else ""
    yield part_results.judged(
        context,
        RULE,
        drive.part,
        verdict,
        f"gate of {path} sees {gets}{corner} and stands {limit} ({told.limit.name})",
        evidence=told.evidence(),
        remedy="clamp the gate with a Zener diode behind a resistor, or lower the supply",
        chain=(*drive.gate.way, *drive.gate.beside, drive.gate.element),
        role=path,
    )


def _claim(context: Context, drive: GateDrive, setting: Setting) -> Claim:
    claims = []
    for positive in (True, False):
        level = gate_levels.highest(context, drive, setting, positive)
        stands = gates.rating(context.lookup, drive.gate.element, positive)
        if positive or level.volts.si > 0.0:
            most = Figure("V_GS max", setting.low(stands), "V", stands.name, source=stands.origin)
            claims.append(at_most(level.volts, most, (*level.terms, stands)))
    return tightest(claims)


RULE = Rule(
    slug="gate-voltage-exceeded",
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
        "elements.*.gate_voltage",
        "parts.*.output.open_voltage",
        "parts.*.output.voltage_coefficient",
        "parts.*.supply.current",
    ),
    survey=survey,
)

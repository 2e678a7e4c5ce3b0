"""A relay whose coil gets more voltage than it stands.

## What it looks at

The largest voltage across each relay's coil, against the largest that it stands at the highest ambient.

## Why it matters

A coil on too high a voltage gets hotter than its insulation stands, and fails after weeks.

## How it is computed

V_c is solved in the state in which the coil gets most, at the highest supply and the smallest drop. The limit is
`coil.voltage_max`, unstated 1.1 to 1.3 times the nominal voltage (from memory).

Settings: conditions, relay.

```toml
[supplies."V48"]
voltage = "48 V"
tolerance = "5 %"
ground = "GND"
[outputs."PORT"]
low = { max = "0.4 V", at = "70 mA" }
sink_max = "70 mA"
```

## Fails

```netlist
* A 24 V relay at 48 V (demonstration)
* expect: coil-overvoltage
XK1 V48 PORT COM NO NC DEMO_K1
D1 PORT V48 DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* At 24 V (demonstration)
XK1 V24 PORT COM NO NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A relay for the supply that is there, or a resistor in series.

## What it cannot see

How long the coil is on. A coil that pulses of a higher voltage hold counts with the whole of it.

## Caution

A coil that burns takes the insulation of the relay with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.relay_coils import OneCoil, of_nominal, pulling, relay_coils
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.parts import Coil
from isolint.results import Result
from isolint.rows import least
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term


def survey(context: Context) -> Iterable[Result]:
    """One result a coil of a relay."""
    for coil in relay_coils(context):
        yield from _judge(context, coil)


def _judge(context: Context, coil: OneCoil) -> Iterator[Result]:
    try:
        verdict = decide(lambda setting: _claim(context, coil, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, coil.part, reason, coil.name)
        return
    told = verdict.worst
    gets, limit = told.beside
    yield part_results.judged(
        context,
        RULE,
        coil.part,
        verdict,
        f"{coil.name or 'its coil'} gets up to {gets} ({told.found.corner}) and stands {limit}",
        evidence=told.evidence(),
        remedy=f"a relay for {gets}, or a resistor in series with its coil",
        chain=coil.around.elements,
        role=coil.name,
    )


def _limit(context: Context, coil: OneCoil) -> Term:
    text = "default 1.1 to 1.3 times the nominal voltage (from memory)"
    return of_nominal(
        context, coil, Coil.voltage_max, lambda volts: least(1.1 * volts, 1.3 * volts, text), Coil.voltage
    )


def _claim(context: Context, coil: OneCoil, setting: Setting) -> Claim:
    limit = _limit(context, coil)
    found = pulling(context, coil, setting, high=True)
    volts = Figure("V_c", found.volts.high, "V", "voltage across the coil")
    return at_most(
        volts, Figure("V_max", setting.low(limit), "V", limit.name, source=limit.origin), (*found.terms, limit)
    )


RULE = Rule(
    slug="coil-overvoltage",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("coil",),
    facts=(
        "environment.ambient",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "elements.*.part",
        "outputs.*.supply",
        "parts.*.coil.resistance",
        "parts.*.coil.voltage",
        "parts.*.coil.voltage_max",
    ),
    survey=survey,
)

"""A relay whose coil keeps enough voltage to stay pulled in when it is switched off.

## What it looks at

The voltage that is left across each relay's coil in the state in which it gets least, against its drop-out voltage.

## Why it matters

A relay needs a tenth of its voltage to stay pulled in. A leakage, a bleed resistor, or a low level that is none, is
enough: it pulls in once and never releases.

## How it is computed

V_off is solved in the state in which the coil gets least, with the largest leakage of outputs that are off and the
highest level of those that are low, at the coil's reference temperature: the current at which it releases does not
depend on temperature. The limit is `coil.drop_out`, unstated 5 to 10 % of the nominal voltage (from memory). Less than
1 mV counts as 1 mV: margins above that limit over 1 mV would tell of rounding. What flows through a coupler that is
off is judged with the coupler.

Settings: conditions, relay.

## Fails

```netlist
* An indicator resistor beside the switch keeps the relay pulled in (demonstration)
* expect: drop-out-missed
XK1 V24 PORT COM NO NC DEMO_K1
R1 PORT GND 4.7k
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* Beside the coil it does not (demonstration)
XK1 V24 PORT COM NO NC DEMO_K1
R1 PORT V24 4.7k
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A larger resistor beside the switch, a resistor across the coil, or a switch that leaks less.

## What it cannot see

What remains in the core, and a coil for alternating current.

## Caution

A relay that does not release keeps on what somebody believes to be off.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.relay_coils import OneCoil, of_nominal, relay_coils, releasing
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.parts import Coil
from isolint.results import Result
from isolint.rows import least
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

_NOTHING = 1e-3
"""Volts below which nothing is left across a coil: what they depend on is rounding."""


def survey(context: Context) -> Iterable[Result]:
    """One result a coil of a relay that something in the netlist switches."""
    for coil in relay_coils(context):
        yield from _judge(context, coil)


def _judge(context: Context, coil: OneCoil) -> Iterator[Result]:
    try:
        found = releasing(context, coil, Setting())
        if found is None:
            text = f"{coil.subject}: nothing in this netlist switches its coil"
            made = context.result(
                RULE,
                "notApplicable",
                text,
                context.place(coil.part.element),
                coil.part.path,
                role=coil.name,
                element=coil.part.element,
            )
            yield made._replace(part=coil.part.path)
            return
        verdict = decide(lambda setting: _claim(context, coil, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, coil.part, reason, coil.name)
        return
    told = verdict.worst
    left, limit = told.beside
    corner = f", {told.found.corner}" if told.found.corner else ""
    left = f"{left} are" if told.found.si >= _NOTHING else f"less than {show(_NOTHING, 'V')} is"
    yield part_results.judged(
        context,
        RULE,
        coil.part,
        verdict,
        f"{left} left across {coil.name or 'its coil'} ({found.words}{corner}), it releases below {limit}",
        evidence=told.evidence(),
        remedy="less leakage beside the switch, or a resistor across the coil that takes it",
        chain=coil.around.elements,
        role=coil.name,
    )


def _limit(context: Context, coil: OneCoil) -> Term:
    text = "default 5 to 10 % of the nominal voltage (from memory)"
    return of_nominal(context, coil, Coil.drop_out, lambda volts: least(0.05 * volts, 0.10 * volts, text))


def _claim(context: Context, coil: OneCoil, setting: Setting) -> Claim:
    limit = _limit(context, coil)
    found = releasing(context, coil, setting)
    if found is None:
        raise Lacking(f"nothing switches the coil of {coil.subject}")
    high = found.volts.high
    if high.value < _NOTHING:
        high = high._replace(at=())
    volts = Figure("V_off", high, "V", "voltage left across the coil")
    most = Figure("V_drop_out", setting.low(limit), "V", limit.name, source=limit.origin)
    return at_most(volts, most, (*found.terms, limit), least=_NOTHING)


RULE = Rule(
    slug="drop-out-missed",
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
        "outputs.*.off_leakage",
        "parts.*.coil.resistance",
        "parts.*.coil.drop_out",
    ),
    survey=survey,
)

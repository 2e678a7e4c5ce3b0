"""A relay whose coil gets too little voltage to pull in when it is hot.

## What it looks at

The voltage across each relay's coil with what switches it on, at the lowest supply, against the pull-in voltage of the
hot coil.

## Why it matters

Copper has 0.39 % more resistance a kelvin. The current at which a relay pulls in stays the same, so that a coil at 85
degC needs a quarter more voltage than its data sheet says at 20 or 25 degC. The relay works on the bench and stays open
in a warm cabinet after a dip of the supply.

## How it is computed

V_c is solved in the state in which the coil gets most, with the drop of transistors, outputs and couplers at worst.
The copper's temperature is T_c = T_ambient + R_th V_c^2 / R(T_c) with `coil.thermal_resistance`; unstated 0 to 40 K at
the nominal voltage (from memory). Needed is V_needed = pull_in (1 + a (T_c - T_ref)), a = 0.00393 1/K unless
`coil.temperature_coefficient` is stated, T_ref = `coil.temperature` (25 degC unless stated). `pull_in` unstated: 0.70
to 0.80 of the nominal voltage (from memory). The margin is V_c / V_needed, `limits.pull_in_margin` (1.0 unless stated;
some ask for 1.1) is wanted: every term is already at its end.

Settings: conditions, relay.

```toml
[supplies."V12"]
voltage = "12 V"
tolerance = "5 %"
ground = "GND"
```

## Fails

```netlist
* A resistor before the coil takes a quarter of its supply (demonstration)
R1 V24 P 430
* expect: pull-in-low
XK1 P PORT COM NO NC DEMO_K1
D1 PORT P DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* The coil at its supply (demonstration)
XK1 V24 PORT COM NO NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A relay of a lower nominal voltage, a higher supply, a smaller drop before the coil.

## What it cannot see

How much the contacts heat the coil, magnets beside it, and coils for alternating current. Of polarised and latching
relays each coil is judged for itself.

## Caution

A relay that does not pull in may leave something on, or off, on which somebody relies.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least
from isolint.checking.context import Context
from isolint.checking.relay_coils import OneCoil, of_nominal, pulling, record_of, relay_coils, warmth
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import Limits
from isolint.parts import Coil
from isolint.results import Result
from isolint.rows import most
from isolint.worstcase.figures import Figure
from isolint.worstcase.network_build import COIL_TEMPERATURE, COPPER
from isolint.worstcase.uncertain import Lacking, Setting, Term


def survey(context: Context) -> Iterable[Result]:
    """One result a coil of a relay."""
    for coil in relay_coils(context):
        yield from _judge(context, coil)


def _judge(context: Context, coil: OneCoil) -> Iterator[Result]:
    wanted = context.facts.number(Limits.pull_in_margin)
    try:
        verdict = decide(lambda setting: _claim(context, coil, setting, wanted))
        found = pulling(context, coil, Setting())
    except Lacking as reason:
        yield part_results.lacking(context, RULE, coil.part, reason, coil.name)
        return
    told = verdict.worst
    gets, needs = told.beside
    where = f"{told.found.corner}, coil at {found.copper:.0f} degC"
    yield part_results.judged(
        context,
        RULE,
        coil.part,
        verdict,
        f"{coil.name or 'its coil'} gets {gets} at worst ({where}) and pulls in at {needs}; {told.words}",
        evidence=told.evidence(bounded=True),
        remedy="a relay for a lower voltage, a higher supply, or a smaller drop before the coil",
        chain=coil.around.elements,
        role=coil.name,
    )


def _pull_in(context: Context, coil: OneCoil) -> Term:
    text = "default 70 to 80 % of the nominal voltage (from memory)"
    return of_nominal(
        context, coil, Coil.pull_in, lambda volts: most(0.70 * volts, 0.80 * volts, text, nominal=0.80 * volts)
    )


def _claim(context: Context, coil: OneCoil, setting: Setting, wanted: float) -> Claim:
    own, pull_in = record_of(context, coil), _pull_in(context, coil)
    found = pulling(context, coil, setting)
    at = COIL_TEMPERATURE if own.temperature is None else own.temperature
    drift = COPPER if own.temperature_coefficient is None else own.temperature_coefficient
    cold = Figure("V_pull_in", setting.high(pull_in), "V", pull_in.name, source=pull_in.origin)
    copper = Figure("T_c", found.copper, "degC", "temperature of the copper")
    factor = Figure("", 1.0) + Figure("a", drift, "1/K") * (copper - Figure("T_ref", at, "degC"))
    assert abs(factor.si - warmth(own, found.copper)) < 1e-9
    needed = (cold * factor).called("V_needed", "V", "pull-in voltage of the hot coil", end="min")
    volts = Figure("V_c", found.volts.low, "V", "voltage across the coil", end="min")
    return at_least(volts, needed, (*found.terms, pull_in), wanted, name="pull-in margin")


RULE = Rule(
    slug="pull-in-low",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("coil",),
    facts=(
        "environment.ambient",
        "limits.pull_in_margin",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "elements.*.part",
        "outputs.*.supply",
        "parts.*.coil.resistance",
        "parts.*.coil.pull_in",
        "parts.*.coil.thermal_resistance",
    ),
    survey=survey,
)

"""An isolated amplifier whose signal goes beyond its linear input range.

## What it looks at

Each isolated amplifier or modulator: the voltage between its two inputs over the stated range of its signal, against
`input.range` of its record.

## Why it matters

Beyond its range the output no longer follows: a current controller that sees less than flows adds more. It shows at
full load only.

## How it is computed

    V = I R_shunt (1 + tol)          with `signals."NET".current` at the shunt
    V = range R2 / (R1 + R2)         with `signals."NET".range`, or a supply, behind a divider; at worst tolerances

A resistor alone at an input is a filter and takes nothing. The margin is the smaller of highest range / highest V and
lowest range / lowest V, 1.00 is enough: the linear range, not that at which it clips. Asked where the record states the
range or the signal is stated.

Settings: conditions.

```toml
[signals."SENSE"]
current = ["-50 A", "50 A"]
[elements."R2"]
tolerance = "0 %"
[sides.logic]
nets = ["GND"]
[sides.power]
nets = ["GNDP"]
[[barriers]]
between = ["logic", "power"]
slew = "5 kV/us"
[supplies."VA"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDP"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
```

## Fails

```netlist
* 50 A over 5 mohm at an amplifier for 200 mV (demonstration)
* expect: input-range-exceeded margin=0.80
XU1 VA INP GNDP GNDP GND AN AP V5 DEMO_IA1
R1 SENSE INP 10
R2 SENSE GNDP 5m
C1 VA GNDP 100n
C2 V5 GND 100n
```

## Passes

```netlist
* 4 mohm (demonstration)
XU1 VA INP GNDP GNDP GND AN AP V5 DEMO_IA1
R1 SENSE INP 10
R2 SENSE GNDP 4m
C1 VA GNDP 100n
C2 V5 GND 100n
```

## Remedy

A smaller shunt, a larger ratio of the divider, or an amplifier with a wider range.

## What it cannot see

Offset, errors of gain, and what a short circuit drives through the shunt.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.sensed import Sensing, is_stated, sensed, sensing
from isolint.checking.verdict import decide
from isolint.parts import Input
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result an amplifier of which the range or the signal is stated."""
    for found in sensing(context):
        if fact_terms.recorded(found.part, Input.range) is not None or is_stated(context, found):
            yield _judge(context, found)


def _judge(context: Context, found: Sensing) -> Result:
    part, record = found.part, found.part.record
    assert record is not None
    limits = fact_terms.recorded(part, Input.range)

    def claim(setting: Setting) -> Claim:
        signal = sensed(context, found, setting)
        source = f"record {record.name}"
        ways = []
        for volts, limit, end in ((signal.high, limits.high, "highest"), (-signal.low, -limits.low, "lowest")):
            if volts > 0.0:
                level = Figure("V_in", volts, "V", f"{end} input voltage, as a magnitude", source=signal.words)
                most = Figure("V_range", max(limit, 0.0), "V", f"{end} end of the linear range", source=source)
                ways.append(at_most(level, most, signal.terms))
        return tightest(ways or [at_most(Figure("V_in", 0.0, "V"), Figure("V_range", limits.high, "V"), signal.terms)])

    try:
        if limits is None:
            missing = fact_terms.missing(record.file, Input.range, record.name)
            raise Lacking("its linear input range is not known", [missing])
        verdict = decide(claim)
        signal = sensed(context, found, WORST)
    except Lacking as reason:
        return part_results.lacking(context, RULE, part, reason)
    gets, takes = verdict.worst.beside
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"its input gets up to {gets} ({signal.words}), its linear range ends at {takes}",
        evidence=verdict.worst.evidence(),
        remedy="a smaller shunt, a larger ratio of the divider, or an amplifier with a wider range",
        chain=signal.elements,
    )


RULE = Rule(
    slug="input-range-exceeded",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("analog",),
    facts=(
        "parts.*.input.range",
        "signals.*.range",
        "signals.*.current",
        "elements.*.tolerance",
        "supplies.*.voltage",
        "supplies.*.tolerance",
    ),
    survey=survey,
)

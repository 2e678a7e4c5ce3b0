"""A coupler that turns more power into heat than its ambient allows.

## What it looks at

The largest power in the LED and in the output of each coupler against the ratings of its record at the hot end of the
ambient.

## Why it matters

The LED ages faster the hotter it is, and an output that stands between on and off can take all of its part's power
rating: a linear stage at half supply, or a switch whose ratio is too small to close it.

## How it is computed

    P_LED = IF VF                       (watts, the largest over all corners; of a periodic drive VF mean(IF))
    P_out = VCE(sat) I_closed           of a switch that closes
    P_out = VCE(I) I                    of one whose best part gives only I = IF_max ratio_max
    P_out = max over VCE of VCE I(VCE)  of a linear stage, I no more than the best part gives

    P_out = I^2 R_on F_R                of a MOSFET output, F_R 1 to 1 + 0.6 (T - 25) / 75 (from memory)
    P_out = 0.9 V_on I                  of a thyristor output that carries its load, on direct current V_on I

A solid-state relay whose record states no power is rated by its current alone; a phototriac whose triac takes over
carries pulses. I_closed, VCE(I) and I(VCE) are solved from the load network as it is. Of a linear stage the voltage is
cut into cells from a to b, in which the power is no more than b I(a); the largest of them is printed, 1 % above the
truth at most. A logic output counts with its low level; its supply current counts where the record states it and a
power rating. Ratings: `output.power_max` with its `derating`, `thermal.power_max` for LED and output together, and
(junction_max - T) / Rth for each stated thermal resistance. Without any, 100 to 150 mW for the output, nothing being
left at 100 to 125 degC (an assumption, from memory).

Settings: driver, conditions.

```toml
[supplies."VB"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[signals."OUT"]
use = "linear"
[elements."R*"]
power = "2 W"
voltage = "250 V"
[environment]
ambient = ["0 degC", "70 degC"]
```

## Fails

```netlist
* A linear stage that may stand at 13 V and 13 mA (demonstration)
R1 DRIVE A 390
* expect: coupler-overheated
XU1 A GND OUT GNDB DEMO_PT2
R2 VB OUT 1k
```

## Passes

```netlist
* The same stage with 10 kohm (demonstration)
R1 DRIVE A 470
XU1 A GND OUT GNDB DEMO_PT2
R2 VB OUT 10k
```

## Remedy

A larger load resistor, a lower supply, or a part with a larger power rating; for a switch, enough ratio to close it.

## What it cannot see

Neighbours that heat the part, and the board's own temperature: state the ambient at the part. Losses while switching.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.driver_heat import drivers_stay_cool
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.switch_heat import stays_cool
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.figures import Figure
from isolint.worstcase.heat import NO_POWER, Rating
from isolint.worstcase.uncertain import Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.part.kind.output.switch:
        yield from stays_cool(RULE, context, channel)
        return
    linear = bool(use_of(context, channel))

    def claim(setting: Setting) -> Claim:
        heat = context.analysis.heat(channel, linear, setting)
        return tightest([_claim(rating, heat.terms) for rating in heat.ratings])

    verdict = decide(claim)
    told, heat = verdict.worst, context.analysis.heat(channel, linear)
    where = "where its load lets it take most" if linear else "when it is on"
    text = (
        f"{told.found.name} is up to {told.found} ({heat.output.volts} and {heat.output.amps} at its output {where}), "
        f"{told.limit} are allowed at {heat.hot:g} degC"
    )
    ratings = [_claim(rating) for rating in heat.ratings]
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[
            Figure("P_LED", heat.led, "W", "power in the LED").evidence(),
            heat.output.power.evidence(write="{:.6g}".format),
            *(rating.found.evidence(rating.bound) for rating in ratings),
        ],
        remedy="a larger load resistor, a lower supply, or a part with a larger power rating",
        chain=channel.load.elements,
    )


def _claim(rating: Rating, terms: Iterable[Term] = ()) -> Claim:
    found = Figure("P", rating.actual, "W", rating.name, source=rating.origin)
    return at_most(found, Figure("P_allowed", rating.allowed, "W"), terms, least=NO_POWER)


def beside(context: Context) -> Iterable[Result]:
    """One result a gate driver."""
    return drivers_stay_cool(RULE, context)


RULE = Rule(
    slug="coupler-overheated",
    group="time, heat",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=(
        "environment.ambient",
        "parts.*.output.power_max",
        "parts.*.output.derating",
        "parts.*.thermal.power_max",
        "signals.*.use",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.phase",
        "elements.*.tolerance",
        "loads.*.current",
        "elements.*.gate_charge",
        "signals.*.rate",
        "parts.*.output.switching_energy",
        "parts.*.output.sink_resistance",
        "parts.*.supply.current",
        "parts.*.trigger.on_voltage",
        "parts.*.output.on_voltage",
        "parts.*.output.on_resistance",
        "parts.*.output.versus_temperature",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("driver", "array"),
    needs=("drive", "led-current", "load", "carrying", "heat"),
    room="a part with a larger power rating",
)

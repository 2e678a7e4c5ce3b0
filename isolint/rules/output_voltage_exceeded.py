"""An output that must block more voltage than it stands.

## What it looks at

The voltage across each coupler's output while it is off, at the highest supply, and, where the output itself switches
a coil or lies beside one that something else switches, at the moment when the coil's current is interrupted.

## Why it matters

Above its rating the output breaks down: it conducts although its LED is dark, and the current of a coil then destroys
it.

## How it is computed

The load network is solved with no current through the output, in every state of its switching inputs, over all
corners; AC supplies count at both peaks. A coil that the output interrupts is replaced by the current that it carried,
which its clamp has to take:

    VCE_off = V(collector) - V(emitter)     (volts)     for a diode across the coil the supply plus one diode voltage

A Zener diode adds its breakdown voltage, an RC network I R + I sqrt(L / C). Beside a coil that something else switches
the coil is a source of that voltage (0.6 V to 1.0 V a junction, a Zener diode with its tolerance). The rating is the
record's `output.voltage_max`, else the generic interval of the type (an assumption). Practice asks for 1.3 times the
supply, and for supply plus Zener voltage at 0.8 of the rating at most; the rule judges the rating itself.

An inductive load off the board that a MOSFET output switches on direct current needs a diode across it that conducts
when the output opens, on the board or at the load (`loads.X.clamped`); one the wrong way round shorts the supply when
it closes.

Outputs in series stand all of it each, unless one state switches all of them off, a resistor lies across each and
takes at least ten times what the output passes while it is off (common practice): then each stands what the network
leaves to it with all of them off, and what the others pass over their resistors.

Across an open contact of a relay lies the nominal voltage of an AC supply, rms, against `contact.voltage_max` (unstated
30 to 400 V, from memory): a rating of 250 V is meant for mains of 230 V with all that they may rise by. On direct
current the highest voltage counts against `contact.voltage_max_dc`, unstated 30 V up to the rating on AC.

Settings: driver, conditions, hazards, relay.

```toml
[supplies."LB1"]
kind = "ac"
voltage = "230 V"
tolerance = "10 %"
frequency = "50 Hz"
ground = "GNDB"
[supplies."LB2"]
kind = "ac"
voltage = "400 V"
tolerance = "10 %"
frequency = "50 Hz"
ground = "GNDB"
[loads."HEATER"]
return = "GNDB"
kind = "resistive"
current = ["1 A", "2 A"]
[supplies."V60"]
voltage = "60 V"
tolerance = "10 %"
ground = "GNDB"
[supplies."V80"]
voltage = "80 V"
tolerance = "10 %"
ground = "GNDB"
[inputs."OUT"]
supply = "V60"
low_max = "15 V"
high_min = "35 V"
low_current = "1 uA"
voltage_max = "100 V"
[elements."R*"]
voltage = "250 V"
```

## Fails

```netlist
* A 70 V output under 88 V (demonstration)
R1 DRIVE A 470
* expect: output-voltage-exceeded margin=0.80
XU1 A GND GNDB OUT DEMO_PT1
R2 V80 OUT 100k
```

```netlist
* A contact for 250 V in a line of 400 V (demonstration)
* expect: output-voltage-exceeded margin=0.63
XK1 V24 PORT LB2 HEATER NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* The same output under 66 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 V60 OUT 100k
```

```netlist
* The same contact in a line of 230 V (demonstration)
XK1 V24 PORT LB1 HEATER NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A coupler with a higher rating, a lower supply, or a clamp that lets the coil's voltage rise less.

## What it cannot see

Transients that couple into wires and supplies; the overshoot of wiring inductance.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most, both_ends
from isolint.checking.contacts import stand_voltage
from isolint.checking.context import Context
from isolint.checking.driver_outputs import bear_supply
from isolint.checking.equalised import SwitchRow, Unshared, equalised, share_evidence, shared, unshared_words
from isolint.checking.rule import Rule
from isolint.checking.switch_stress import stands_voltage
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase import limits
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term

SMALLEST_VOLTS = 1e-9


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.part.kind.output.switch:
        yield from stands_voltage(RULE, context, channel)
        return
    rating = limits.output_voltage(channel.part)
    if rating is None:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: a push-pull output blocks nothing"
        )
        return
    kicks = context.analysis.outputs().kicks(channel)

    coils = ", ".join(kick.coil.path for kick in kicks)

    row = equalised(context.analysis, channel)

    def claim(setting: Setting) -> Claim:
        off, terms = _while_off(context, channel, row, setting)
        found = [off]
        for other in context.analysis.released(channel, None, setting):
            terms = (*terms, *other.terms)
            found.append(Figure("VCE", other.high, "V", "while it is off beside a coil", at=other.high_corner))
        if kicks:
            kicked = context.analysis.outputs(setting).kick_voltage(channel, kicks)
            whole = Figure("VCE", kicked.high, "V", f"when it switches {coils} off", at=kicked.high_corner)
            most, rests = _of_row(context, row, whole, setting)
            found.append(most)
            terms = (*terms, *kicked.terms, *rests)
        limit = Figure("VCE_max", setting.low(rating), "V")
        highest = max(found, key=lambda figure: figure.si)
        return at_most(highest, limit, (rating, *terms), least=SMALLEST_VOLTS).shown_above(SMALLEST_VOLTS)

    verdict = decide(claim)
    told, off = verdict.worst, context.analysis.off_voltage(channel)
    evidence = [both_ends("voltage across the output while it is off", "VCE_off", "V", off.quantity, told.bound)]
    if kicks:
        kicked = context.analysis.outputs().kick_voltage(channel, kicks)
        name = f"voltage across the output when it switches {coils} off"
        evidence.append(both_ends(name, "VCE_kick", "V", kicked.quantity, told.bound))
    sees, stands = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"its output stands {stands} and sees up to {sees} {told.found.name} ({told.found.corner})"
        f"{unshared_words(context.analysis, row, told.found)}",
        evidence=(*evidence, *share_evidence(told.found)),
        remedy="a coupler with a higher output voltage, or a lower supply",
        chain=(*channel.load.elements, *(element for kick in kicks for element in kick.clamp.elements)),
    )


def beside(context: Context) -> Iterable[Result]:
    """One result a contact of a relay, or an output of a gate driver."""
    yield from stand_voltage(RULE, context)
    yield from bear_supply(RULE, context)


def _while_off(
    context: Context, channel: Channel, row: SwitchRow | Unshared | None, setting: Setting
) -> tuple[Figure, tuple[Term, ...]]:
    """The voltage across an output while it is off, in a row of equalised ones its share."""
    most = context.analysis.off_voltage(channel, setting)
    whole = Figure("VCE", most.high, "V", "while it is off", at=most.high_corner)
    if not isinstance(row, SwitchRow):
        return whole, most.terms
    apart = context.analysis.off_voltage(channel, setting, row.keys)
    solved = Figure("VCE_off", apart.high, "V", "with all of them off", at=apart.high_corner)
    share, terms = _of_row(context, row, whole, setting, solved)
    return share, (*most.terms, *apart.terms, *terms)


def _of_row(
    context: Context, row: SwitchRow | Unshared | None, whole: Figure, setting: Setting, solved: Figure | None = None
) -> tuple[Figure, tuple[Term, ...]]:
    """What an output has of a voltage across the row that it lies in."""
    if not isinstance(row, SwitchRow):
        return whole, ()

    def dark(channel: Channel, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
        leak = context.analysis.offs(setting).leaks.dark(channel.part, context.lookup.ambient().high)
        return leak.current, leak.terms

    return shared(context.analysis, row, whole, dark, setting, solved=solved)


RULE = Rule(
    slug="output-voltage-exceeded",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "passes"),
    facts=(
        "supplies.*.voltage",
        "supplies.*.phase",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "environment.ambient",
        "parts.*.output.voltage_max",
        "parts.*.output.leakage",
        "parts.*.output.dark_current",
        "parts.*.contact.voltage_max",
        "parts.*.contact.voltage_max_dc",
        "parts.*.coil.inductance",
        "parts.*.coil.clamp_voltage",
        "loads.*.clamped",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("contact", "driver"),
    needs=("load",),
)

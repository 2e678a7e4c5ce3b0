"""A gate that the edge of its own drain lifts above its threshold while it is to be off.

## What it looks at

The gates of transistors behind gate drivers, where `elements."M1".miller_capacitance` is stated together with the
edge: `slew` (or `swing` with `edge_time`) of the barrier that the driver spans, or `signals."SW".slew` of the
transistor's own drain or source net, which goes first. Where one of both is not stated, nothing is asked.

## Why it matters

When the other switch of a half bridge turns on, the drain of this one jumps. The current through the capacitance from
drain to gate flows through the turn-off resistor to the driver and lifts the gate: both transistors conduct for the
length of the edge, at each period.

## How it is computed

    I_M = C_GD * S
    V_GS = V_EE + I_M * (R_off + R_g)                              must not exceed gate_threshold_min

V_EE is the lower rail of the driver above the source at its highest, 0 V without a negative supply. R_off is what lies
from the gate to the lower rail for that current, resistors at their highest: those of the way that turns it off, a
diode there with the drop of its model, and the output of the driver, `sink_resistance` (unstated 0 to 2 ohm, from
memory). The gates of one output send their currents through it together. R_g is `gate_resistance`, none where it is
not stated.
A capacitor between gate and source takes a share: no more than C_GD * swing / C_GS is left where the barrier's `swing`
is stated. Unstated the threshold is 0.5 V, at the kindest half of the model's. A clamp pin of the driver at the gate
holds it.

Settings: driver, conditions, barrier, gate driver.

```toml
[elements."M1"]
gate_threshold_min = "2 V"
miller_capacitance = "20 pF"
[[barriers]]
slew = "10 kV/us"
```

## Fails

```netlist
* 22 ohm, 20 pF and 10 V/ns: 4.4 V at a gate that stands 2 V (demonstration)
R1 DRIVE A 330
* expect: miller-turn-on
XU1 A GND VG OUT GNDB DEMO_GD1
C1 VG GNDB 1u
R3 OUT G 22
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

A smaller turn-off resistor (a diode with a resistor beside that for turning on), a negative supply of the driver, a
driver with a clamp pin, a slower edge, or a transistor with a higher threshold.

## What it cannot see

How the capacitance changes with the voltage, the inductance of the loop and of the source, and a resistance inside the
gate that nobody stated.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import miller, part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.miller import Attack
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.results import Result
from isolint.units import show
from isolint.worstcase import gates
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result a gate of which capacitance and edge are stated."""
    for attack in miller.attacks(context):
        yield _held(context, attack) if attack.clamped else _judge(context, attack)


def _held(context: Context, attack: Attack) -> Result:
    part, path = attack.drive.part, context.circuit.path(attack.drive.gate.element)
    text = f"{part.path}: its clamp pin holds the gate of {path} while off"
    made = context.result(RULE, "pass", text, context.place(part.element), part.path, role=path, element=part.element)
    return made._replace(part=part.path)


def _judge(context: Context, attack: Attack) -> Result:
    drive, path = attack.drive, context.circuit.path(attack.drive.gate.element)

    def claim(setting: Setting) -> Claim:
        lifted = miller.lift(context, attack, setting)
        surely = gates.surely_off(context.lookup, drive.gate.element)
        least = Figure("V_th", setting.low(surely), "V", surely.name, end="min", source=surely.origin)
        return at_most(lifted.volts, least, (*lifted.terms, surely), least=1e-3)

    try:
        threshold = gates.threshold_of(context.lookup, drive.gate.element)
        if threshold is not None and threshold < 0.0:
            raise Lacking(f"{path} is a p-channel transistor: how its gate is driven is not judged")
        verdict = decide(claim)
        unsure = miller.unsure(context, attack)
        if verdict.kind == "fail" and unsure is not None:
            raise unsure
    except Lacking as reason:
        return part_results.lacking(context, RULE, drive.part, reason, path)
    told, lifted = verdict.worst, miller.lift(context, attack, WORST)
    gets, limit = told.beside
    amps, ohms, _ = lifted.parts
    edge = show(attack.edge.term.high, "V/s")
    text = (
        f"an edge of {edge} drives {amps} into the gate of {path}: {ohms} to the lower rail leave it at {gets}, it is "
        f"surely off up to {limit}"
    )
    return part_results.judged(
        context,
        RULE,
        drive.part,
        verdict,
        text,
        evidence=[*(part.evidence() for part in lifted.parts), *told.evidence()],
        remedy="a smaller turn-off resistor, a negative supply of the driver, a clamp, or a higher threshold",
        chain=(*drive.gate.way, *drive.gate.beside, drive.gate.element),
        role=path,
    )


RULE = Rule(
    slug="miller-turn-on",
    group="load",
    level="warning",
    page=__doc__,
    asked_of=("driver",),
    facts=(
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.ground",
        "elements.*.tolerance",
        "elements.*.gate_threshold_min",
        "elements.*.miller_capacitance",
        "barriers.slew",
        "barriers.swing",
        "parts.*.output.sink_resistance",
    ),
    survey=survey,
)

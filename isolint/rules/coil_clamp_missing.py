"""A coil that is switched off with nothing to take its current.

## What it looks at

Every relay coil, and every inductor whose current a coupler's output interrupts, or a transistor or a switch that one
drives (in series with it, through resistors, diodes and 0-V sources only): whether its current finds a way back when
the switch opens, and whether a diode there is the right way round. Windings (inductors that a K card couples), filter
inductors and those that no coupler has to do with are no coils.

## Why it matters

A coil's current cannot stop at once. Without a way back the voltage across the switch rises until something breaks
down: the transistor, the coupler's output, or the insulation. A clamp diode the wrong way round shorts the supply as
soon as the coil is switched on.

## How it is computed

Every path counts that leads outside coil and switches from the coil's switched end back to its other end: a diode in
its conducting direction, a Zener or transient-suppressor diode (a breakdown voltage up to four times the supply, or 36
V), a MOSFET's body diode, or a capacitor of 10 nF or more with its resistor; across the coil, across the switch, or to
another supply of the same side. Supplies and references count at their nominal voltages: the path must block while
nothing moves,

    Vknee = VF + BV + V(rail entered) - V(rail left)     (volts)

This is above 0 with the switch open; on the way that the coil's own supply takes, above the supply with it closed.

Resistors in the path may have ten times the coil's resistance. `coil.internal_clamp = true` in the relay's record
counts. Common practice, no source.

```toml
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDF"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDF"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[environment]
ambient = ["0 degC", "40 degC"]
```

## Fails

```netlist
* Nothing takes the coil's current (demonstration)
* expect: coil-clamp-missing
XK1 V24 SW NO1 NO2 NO3 DEMO_K1
Q1 SW B GNDF QSW
D1 GNDF B DSMALL
R1 DRIVE B 1k
.model QSW NPN(BF=200)
.model DSMALL D(IS=2n)
```

## Passes

```netlist
* A diode takes it (demonstration)
XK1 V24 SW NO1 NO2 NO3 DEMO_K1
Q1 SW B GNDF QSW
D1 SW V24 DSMALL
R1 DRIVE B 1k
.model QSW NPN(BF=200)
.model DSMALL D(IS=2n)
```

## Remedy

A diode across the coil with its cathode at the positive end; a Zener diode in series with it, or across the switch,
where the relay must drop out quickly.

## What it cannot see

A clamp inside a driver that the netlist shows as a block: a coil that hangs on such a part alone is open until the
relay's record says `internal_clamp`, or does not apply where the part is stated to be an ordinary one. Whether the
clamp takes the energy at the rate at which the coil is switched.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.facts import ElementFacts
from isolint.parts import records
from isolint.results import Evidence, Kind, Measure, MissingFact, Result
from isolint.worstcase import fact_terms
from isolint.worstcase.clamps import Clamping
from isolint.worstcase.coils import FoundCoil
from isolint.worstcase.figures import Figure


def survey(context: Context) -> Iterable[Result]:
    """One result a coil."""
    for coil, found in context.analysis.coils():
        yield _judge(context, coil, found)


def _judge(context: Context, coil: FoundCoil, found: Clamping) -> Result:
    what = coil.type or "inductor"
    near = [item.element for item in coil.interrupters]
    if found.clamp is not None and not coil.interrupters and not coil.drivers:
        return _result(
            context, coil, "notApplicable", f"{what} {coil.path}: nothing in this netlist interrupts its current", ()
        )
    if found.wrong >= 0:
        name = context.circuit.path(found.wrong)
        text = f"{what} {coil.path}: diode {name} at its coil is the wrong way round: {found.fault}"
        return _result(
            context,
            coil,
            "fail",
            text,
            [coil.element, *near],
            remedy=_the_right_way(context, coil, found.wrong),
            where=context.place(found.wrong),
        )
    if found.clamp is not None:
        parts = ", ".join(context.circuit.path(element) for element in found.clamp.elements)
        words = "its own clamp" if found.clamp.kind == "internal" else parts
        knee = found.clamp.knee
        evidence = (
            []
            if knee is None
            else [Figure("Vknee", knee, "V", "voltage across the coil at which its clamp conducts").evidence()]
        )
        text = f"{what} {coil.path}: {words} takes the coil's current when {_switches(context, coil)}"
        return _result(context, coil, "pass", text, [coil.element, *near, *found.clamp.elements], evidence=evidence)
    if not coil.interrupters:
        return _driven(context, coil, what)
    if found.doubtful:
        names = ", ".join(context.circuit.path(element) for element in found.doubtful)
        text = (
            f"{what} {coil.path}: not judged: {names} lies across its coil or its switch, and nobody says whether it "
            "takes the coil's current"
        )
        return _result(
            context, coil, "open", text, [coil.element, *near, *found.doubtful], missing=[_internal(context, coil)]
        )
    tiny = "" if found.tiny < 0 else f"; {context.circuit.path(found.tiny)} is too small a capacitor"
    text = f"{what} {coil.path}: nothing takes its coil's current when {_switches(context, coil)}{tiny}"
    nets = f"nets {context.net(coil.plus)} and {context.net(coil.minus)}"
    remedy = f"fit a diode across {nets}" + (f" with its cathode on {context.net(coil.plus)}" if coil.directed else "")
    return _result(context, coil, "fail", text, [coil.element, *near], remedy=remedy)


def _the_right_way(context: Context, coil: FoundCoil, diode: int) -> str:
    """Turned round it takes the coil's current where it lies at both ends of the coil, whatever lies between."""
    ends = [net for net in context.circuit.pins(diode) if net not in (coil.plus, coil.minus)]
    if any(context.lookup.walker.held(net) is not None for net in ends):
        nets = f"nets {context.net(coil.plus)} and {context.net(coil.minus)}"
        cathode = f" with its cathode on {context.net(coil.plus)}" if coil.directed else ""
        return f"take out {context.named(diode)}, and fit a diode across {nets}{cathode}"
    return f"turn {context.named(diode)} round"


def _switches(context: Context, coil: FoundCoil) -> str:
    names = ", ".join(dict.fromkeys(context.circuit.path(item.element) for item in coil.interrupters))
    return f"{names} switches off" if names else "its driver switches off"


def _driven(context: Context, coil: FoundCoil, what: str) -> Result:
    """A coil without a switch of its own in the netlist: what drives it may clamp inside."""
    unsure = []
    for net, element in coil.drivers:
        if element < 0:
            facts = context.facts.output(context.net(net))
            drive = None if facts is None or facts.drive is None else facts.drive.value
            if drive in ("open-drain", "high-side"):
                unsure.append(f"output {context.net(net)}")
        elif element not in context.interfaces.recognition.ordinary:
            unsure.append(context.circuit.path(element))
    if not unsure:
        text = f"{what} {coil.path}: nothing in this netlist interrupts its current"
        return _result(context, coil, "notApplicable", text, ())
    names = ", ".join(dict.fromkeys(unsure))
    text = f"{what} {coil.path}: not judged: {names} drives its coil, and nobody says whether a clamp is inside"
    return _result(context, coil, "open", text, [coil.element], missing=[_internal(context, coil)])


def _internal(context: Context, coil: FoundCoil) -> MissingFact:
    part = context.interfaces.recognition.parts.get(coil.element)
    record = None if part is None else part.record
    if record is None:
        return context.lookup.missing(ElementFacts.part, coil.path, '"DEMO_RELAY"')
    return fact_terms.missing(record.file, records.Coil.internal_clamp, record.name)


def _result(
    context: Context,
    coil: FoundCoil,
    kind: Kind,
    text: str,
    chain: Iterable[int],
    *,
    remedy: str = "",
    where: Place | None = None,
    missing: Iterable[MissingFact] = (),
    evidence: Iterable[Evidence] = (),
) -> Result:
    return context.result(
        RULE,
        kind,
        text,
        where or context.place(coil.element),
        coil.path,
        role=coil.name,
        measure=Measure.number_of(max(1, len(coil.interrupters))),
        related=context.related(chain),
        remedy=remedy,
        missing=missing,
        evidence=evidence,
        element=coil.element,
    )


RULE = Rule(
    slug="coil-clamp-missing",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("coil", "interrupts"),
    facts=("supplies.*.voltage", "parts.*.coil.internal_clamp", "outputs.*.drive"),
    survey=survey,
    judges=("clamp",),
)

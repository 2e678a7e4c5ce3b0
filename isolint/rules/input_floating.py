"""A logic input of an isolator, driver or coupler that nothing holds at a level.

## What it looks at

Every input and enable pin of barrier parts with supplies of their own, and what its net leads to.

## Why it matters

An input that floats follows whatever couples into it: outputs toggle, a driver turns on by itself.

## How it is computed

Held is an input by an output, a line, a supply or a ground on its net or behind R, L, D and transistors, by the output
of another part, or by `input.pull` of its record. Nothing is a net with no other pin, with capacitors or other inputs
alone, or with an output that is off in one of its states and no resistor beside it. An ordinary part is taken to hold
it, and the levels are asked for. A part that nobody explained leaves it open. An input whose output leads nowhere is a
spare one: a note.

Settings: driver, receiver, barrier.

## Fails

```netlist
* The second channel of an isolator is used, its input hangs on a capacitor (demonstration)
* expect: input-floating
XU1 V5 DRIVE IN2 GND GNDB OUT2 OUT VB DEMO_DI1
C1 V5 GND 100n
C2 VB GNDB 100n
C3 IN2 GND 1n
R2 OUT2 GNDB 10k
```

## Passes

```netlist
* A resistor holds it (demonstration)
XU1 V5 DRIVE IN2 GND GNDB OUT2 OUT VB DEMO_DI1
C1 V5 GND 100n
C2 VB GNDB 100n
C3 IN2 GND 1n
R1 IN2 GND 10k
R2 OUT2 GNDB 10k
```

## Remedy

Join the input to an output, or to a rail over a resistor.

## What it cannot see

What a processor does with its pins while it starts: state the output as `unpowered` where that counts.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.logic_pins import HeldInput, LogicPin, held, logic_pins
from isolint.checking.rule import Rule
from isolint.facts import OutputFacts
from isolint.results import Assumption, Kind, Measure, MissingFact, Result


def survey(context: Context) -> Iterable[Result]:
    """One result an input."""
    for pin in logic_pins(context):
        yield _judge(context, pin, held(context, pin))


def _judge(context: Context, pin: LogicPin, found: HeldInput) -> Result:
    name = f"input {pin.name} ({context.net(pin.net)})"
    if found.kind in ("held", "assumed"):
        text = f"{name} is held by {found.by}"
        made = _result(context, pin, "pass", text)
        if found.kind == "assumed":
            assumed = Assumption(f"net {context.net(pin.net)}", "driven", "", f"{found.by} drives it")
            made = made._replace(assumptions=(assumed,))
        return made
    if found.kind == "unknown":
        fact = context.lookup.missing(OutputFacts.supply, context.net(pin.net), "", OutputFacts.high, OutputFacts.low)
        return _result(context, pin, "open", f"{name}: nobody says whether {found.by} drives it", [fact])
    by = f": {found.by}" if found.by else ""
    return _result(context, pin, "fail", f"nothing holds {name} at a level{by}")


def _cure(context: Context, pin: LogicPin, found: HeldInput) -> str:
    rails = " or ".join(context.net(net) for net in (pin.supply, pin.ground) if net >= 0) or "a rail"
    net = context.net(pin.net)
    if found.by:
        # An output would work against what is there.
        return f"join {net} to {rails} over a resistor: the one that it is not driven to"
    return f"join {net} to an output, or to {rails} over a resistor"


def _is_spare(context: Context, pin: LogicPin) -> bool:
    """Whether the output of an input leads nowhere."""
    record, circuit = pin.part.record, context.circuit
    if record is None:
        return False
    own = record.pins[pin.pin].casefold()
    for channel in record.channels:
        if own in (name.casefold() for name in channel.input):
            nets = [circuit.pins(pin.part.element)[record.position(name)] for name in channel.output]
            return all(len(circuit.elements_at(net)) < 2 for net in nets)
    return False


def _result(context: Context, pin: LogicPin, kind: Kind, text: str, missing: Iterable[MissingFact] = ()) -> Result:
    element = pin.part.element
    made = context.result(
        RULE,
        kind,
        f"{pin.part.path}: {text}",
        context.place(element),
        pin.part.path,
        role=pin.name,
        level="note" if kind == "fail" and _is_spare(context, pin) else None,
        measure=Measure.number_of(1),
        missing=missing,
        remedy=_cure(context, pin, held(context, pin)) if kind == "fail" else "",
        related=context.related([element, *pin.around.elements]),
        element=element,
    )
    return made._replace(part=pin.part.path)


RULE = Rule(
    slug="input-floating",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("voltage-input", "logic"),
    facts=("outputs.*.supply",),
    survey=survey,
)

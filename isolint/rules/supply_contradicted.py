"""A supply that is stated at one voltage and held at another by a source or a converter of the netlist.

## What it looks at

Voltage sources between a net that the settings state as a direct supply and the reference of that supply, and isolated
converters with one output that lies there.

## Why it matters

What is stated counts before what a netlist for simulation holds, so everything else here is computed with the stated
voltage. Where the source says 24 V and the settings 5 V, the board that is built may be the one with 24 V.

## How it is computed

The source's voltage, with its sign, must lie within the stated voltage with its tolerance (where none is stated, with
the usual one); of a source that moves, since supplies are switched on, the end farthest from 0 V. Sources named under
`[reading] simulation_only` are stimuli and don't count. Of a converter only the sign is compared: its positive output
must not lie on the reference of a positive supply with its return on the supply. Which of the two is right nobody here
can know, so the result is open and counts as an error.

Settings: driver, receiver, conditions, barrier.

```toml
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
[supplies."VISO"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
load = "20 mA"
```

## Fails

```netlist
* The source gives 24 V, 5 V are stated (demonstration)
* expect-open: supply-contradicted
V1 V5 GND 24
R1 DRIVE A 390
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

```netlist
* The converter's positive output lies on the reference (demonstration)
* expect-open: supply-contradicted
XPS1 V24 GND GNDB VISO DEMO_IS1
R1 VISO GNDB 1k
C1 V24 GND 1u
```

## Passes

```netlist
* The source gives what is stated (demonstration)
V1 V5 GND 5.1
R1 DRIVE A 390
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

```netlist
* The converter's positive output lies on the supply (demonstration)
XPS1 V24 GND VISO GNDB DEMO_IS1
R1 VISO GNDB 1k
C1 V24 GND 1u
```

## Remedy

State the voltage that the built board has, correct the source, or name the source under `simulation_only` where it
stands in the netlist for a test at another voltage.

## What it cannot see

How much regulators and converters make, alternating supplies, and sources stacked on one another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Part
from isolint.results import Result
from isolint.units import show
from isolint.worstcase.alternating import stimulus_ends
from isolint.worstcase.supply_pins import converter_output
from isolint.worstcase.uncertain import Lacking


def survey(context: Context) -> Iterable[Result]:
    """A result for each source that stands across a stated supply."""
    for element in context.circuit.elements_of("V"):
        if element in context.lookup.walker.ignored:
            continue
        one, other = context.circuit.pins(element)[:2]
        for net, opposite, sign in ((one, other, 1.0), (other, one, -1.0)):
            if _is_stated(context, net, opposite):
                yield _compared(context, element, net, sign)
    for part in context.interfaces.recognition.parts.values():
        ends = converter_output(part) if part.kind.output.feeds == "outputs" else None
        if ends is not None:
            yield from _converter(context, part, *(context.circuit.pins(part.element)[end] for end in ends))


def _converter(context: Context, part: Part, plus: int, minus: int) -> Iterator[Result]:
    """Whether an output lies the way round that its supply is stated."""
    for net, opposite, upright in ((plus, minus, True), (minus, plus, False)):
        if not _is_stated(context, net, opposite):
            continue
        stated, name = context.lookup.supply(net), context.net(net)
        place, related = context.place(part.element), context.related([part.element])
        range_stated = f"{show(stated.low, 'V')} to {show(stated.high, 'V')}"
        if upright == (stated.nominal > 0.0):
            text = f"{part.path} holds supply {name} the way round that is stated, {range_stated}"
            yield context.result(RULE, "pass", text, place, part.path, related=related)
            continue
        text = (
            f"supply {name} is stated {range_stated} ({stated.origin}), but the positive output of {part.path} lies on "
            f"{context.net(plus)} and its return on {context.net(minus)}: one of the two is wrong"
        )
        remedy = f"exchange nets {context.net(plus)} and {context.net(minus)} on {part.path}, or correct the pin order"
        yield context.result(RULE, "open", text, place, part.path, remedy=f"{remedy} of its record", related=related)


def _is_stated(context: Context, net: int, opposite: int) -> bool:
    fact = context.facts.supply(context.net(net))
    if fact is None or fact.voltage is None or fact.alternates:
        return False
    stated = None if fact.ground is None else context.circuit.find_net(fact.ground.value)
    return stated == opposite or context.lookup.walker.grounds.holds(opposite)


def _compared(context: Context, element: int, net: int, sign: float) -> Result:
    name, path = context.net(net), context.circuit.path(element)
    stated = context.lookup.supply(net)
    slack = 1e-6 * max(abs(stated.low), abs(stated.high))
    place, related = context.place(element), context.related([element])
    found = _volts(context, element)
    if not found:
        text = f"source {path} across supply {name} has no voltage that can be computed"
        return context.result(RULE, "notApplicable", text, place, path, related=related)
    held = sign * found[0]
    source = show(held, "V")
    range_stated = f"{show(stated.low, 'V')} to {show(stated.high, 'V')}"
    if stated.low - slack <= held <= stated.high + slack:
        text = f"source {path} holds supply {name} at {source}, {range_stated} are stated"
        return context.result(RULE, "pass", text, place, path, related=related)
    return context.result(
        RULE,
        "open",
        f"supply {name} is stated {range_stated} ({stated.origin}), but source {path} holds it at {source}: one of the "
        "two is wrong, and everything here counts with what is stated",
        place,
        path,
        remedy=f"state as voltage of {name} what the built board has, correct {path}, or name {path} under [reading] "
        "simulation_only",
        related=related,
    )


def _volts(context: Context, element: int) -> tuple[float, ...]:
    """What a source holds; of one that moves the end that lies farthest from 0 V, since supplies are switched on."""
    if context.circuit.stimulus(element) is None:
        value = context.circuit.value(element)
        return () if value is None else (value,)
    try:
        return (max(stimulus_ends(context.circuit, element), key=abs),)
    except Lacking:
        return ()


RULE = Rule(
    slug="supply-contradicted",
    group="drive",
    level="error",
    page=__doc__,
    survey=survey,
    open_level="error",
)

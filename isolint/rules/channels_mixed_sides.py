"""A part whose channels face different sides.

## What it looks at

Couplers and relays with several channels or contacts: the sides on which their inputs lie, and those of their outputs.

## Why it matters

A package separates inputs from outputs. Between neighbouring channels at the same edge lies little more than the
distance of two pins, and few parts are rated there. A dual coupler that serves two field circuits separates both from
the logic, but hardly one from the other.

## How it is computed

The inputs of all channels must lie on one side, and the outputs on one side. Channels in both directions are in order
where the part has one group of pins a side (digital isolators), and gate drivers may have outputs on different sides:
they are made for it. A channel that is not connected, or whose circuit returns to nothing known, is left out. It is a
note where the barrier between those two sides is stated functional.

Settings: conditions.

```toml
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VL"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDL"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[outputs."FAR*"]
supply = "VL"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[inputs."OUT*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
[sides.logic]
nets = ["GND"]
[sides.line]
nets = ["GNDL"]
[sides.field]
nets = ["GNDB"]
```

## Fails

```netlist
* Two circuits share one dual coupler (demonstration)
R1 DRIVE1 A1 390
R2 FAR1 A2 390
* expect: channels-mixed-sides
XU1 A1 GND GNDL A2 GNDB OUT2 OUT1 VB DEMO_LO2
R3 VB OUT1 2.2k
R4 VB OUT2 2.2k
C1 VB GNDB 100n
```

## Passes

```netlist
* Both channels serve one circuit (demonstration)
R1 DRIVE1 A1 390
R2 DRIVE2 A2 390
XU1 A1 GND GND A2 GNDB OUT2 OUT1 VB DEMO_LO2
R3 VB OUT1 2.2k
R4 VB OUT2 2.2k
C1 VB GNDB 100n
```

## Remedy

Give each circuit a coupler of its own, or state that the barrier between the two is functional.

## What it cannot see

Ratings between channels, which records don't hold; circuits behind dry contacts that return to nothing in the netlist;
channels that share a connector, a cable or a row of terminals.

## Caution

Where one of the circuits is mains or another hazardous circuit, the gap between two channels can kill. The tool
supports a review and certifies nothing: the applicable standard's current text, local codes and a qualified engineer
decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.barrier_demands import SidePair
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import BarrierFacts
from isolint.interfaces.entities import Part
from isolint.interfaces.references import edges_of, group_label
from isolint.results import Level, Measure, Result


def survey(context: Context) -> Iterable[Result]:
    """One result a part with several groups of pins at one of its edges."""
    for part in context.interfaces.recognition.parts.values():
        edges = edges_of(part)
        if edges is None or max(map(len, edges)) < 2:
            continue
        yield _judged(context, part, edges)


def _judged(context: Context, part: Part, edges: Sequence[Sequence[int]]) -> Result:
    element = part.element
    place, related = context.place(element), context.related([element])
    joint = next((join for join in context.interfaces.separation.joins if element in join.cut), None)
    if joint is not None:
        tied = context.speaker(joint.kind)
        text = f"{part.path}: which sides its channels face is not judged while {tied} stands"
        return context.result(RULE, "notApplicable", text, place, part.path, blocked_by=tied)
    for groups, what in zip(edges, ("inputs", "outputs"), strict=True):
        faced = {group: side for group in groups if (side := _side(context, part, group))}
        sides = sorted(set(faced.values()), key=str.casefold)
        if len(sides) > 1 and _rated(context, part, sides):
            text = f"{part.path}: its record rates it between {what}, which what a barrier must hold is compared with"
            return context.result(RULE, "pass", text, place, part.path, related=related)
        if len(sides) > 1:
            ends = ", ".join(f"{group_label(part, group)} on side {side}" for group, side in faced.items())
            text = f"{part.path}: its {what} face different sides: {ends}; between channels a package is hardly rated"
            remedy = f"{context.named(element)}: a coupler of its own for each of the sides {' and '.join(sides)}"
            return context.result(
                RULE,
                "fail",
                text,
                place,
                part.path,
                level=_level(context, sides),
                measure=Measure.number_of(len(sides)),
                remedy=remedy,
                related=related,
                element=element,
            )
    text = f"{part.path}: its inputs face one side and its outputs another"
    return context.result(RULE, "pass", text, place, part.path, related=related)


def _rated(context: Context, part: Part, sides: Sequence[str]) -> bool:
    """Whether the record rates a part between its channels and barriers between all these sides are stated."""
    grade = None if part.record is None else part.record.insulation.channel_grade
    pairs = [SidePair(context, (one, other)) for place, one in enumerate(sides) for other in sides[place + 1 :]]
    return grade is not None and all(pair.stated(BarrierFacts.insulation) is not None for pair in pairs)


def _level(context: Context, sides: Sequence[str]) -> Level:
    """A note where every two of the sides have a barrier that is stated functional."""
    for position, one in enumerate(sides):
        for other in sides[position + 1 :]:
            insulation = SidePair(context, (one, other)).stated(BarrierFacts.insulation)
            if insulation is None or insulation.value != "functional":
                return RULE.level
    return "note"


def _side(context: Context, part: Part, group: int) -> str:
    """The side that a port group lies on, "" where it is not connected or returns to nothing known."""
    separation = context.interfaces.separation
    pins = context.circuit.pins(part.element)
    for pin in part.groups[group]:
        index = separation.side_of_net.get(pins[pin]) if pin < len(pins) else None
        if index is not None:
            side = separation.sides[index]
            return side.name if side.stated or side.reference >= 0 or side.supplies else ""
    return ""


RULE = Rule(
    slug="channels-mixed-sides",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("edges",),
    facts=("sides.*.nets", "barriers.insulation", "elements.*.part"),
    survey=survey,
)

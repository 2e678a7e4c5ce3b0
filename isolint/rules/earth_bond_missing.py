"""Metal behind basic insulation that nothing joins to protective earth.

## What it looks at

Sides of kind `chassis` with a part, a capacitor or a stated barrier between them and a hazardous side.

## Why it matters

When basic insulation fails the metal is live. Protective earth trips the fuse; a stated bond, a capacitor or a megohm
does not.

## How it is computed

Joined is what less than 10 ohm of the netlist leads to a side of kind `earth`, or `earthed = true`. Double or
reinforced insulation needs no earth (key `iec-62368-1`, from memory, high confidence).

Settings: driver, receiver, conditions, mains.

```toml
[sides.logic]
kind = "chassis"
[sides.pe]
nets = ["PE"]
kind = "earth"
[[bonds]]
between = ["logic", "pe"]
[[barriers]]
insulation = "basic"
touch_current = "3.5 mA"
[elements."CY*"]
class = "Y2"
voltage = "300 V"
```

## Fails

```netlist
* A megohm joins the case, on which the logic lies, to earth (demonstration)
R1 DRIVE A 470
* expect: earth-bond-missing
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
CY1 GND GNDB 1n
R9 GND PE 1Meg
```

## Passes

```netlist
* A strap joins it (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
CY1 GND GNDB 1n
R9 GND PE 0
```

## Remedy

Join the metal to protective earth, or fit double or reinforced insulation.

## What it cannot see

Screws, washers and wires outside the netlist, the size of the conductor, whether it stays connected.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking.barrier_strength import Wall, walls
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.facts import SideFacts
from isolint.results import Measure, Result


def survey(context: Context) -> Iterable[Result]:
    """One result a side of kind chassis that basic insulation keeps from what must not be touched."""
    for wall in walls(context):
        for name, kind, other in zip(wall.pair.sides, wall.kinds, wall.kinds[::-1], strict=True):
            if kind.kind == "chassis" and other.hazardous and (wall.crossers or wall.bridges or wall.pair.facts):
                yield from _of(context, wall, name, earthed=kind.earthed)


def _of(context: Context, wall: Wall, name: str, *, earthed: bool) -> Iterator[Result]:
    strength = wall.limits.strength
    elements = [*wall.elements, *(element for bridge in wall.bridges for element in bridge.elements)]
    where = min(map(context.place, elements), default=Place(context.netlist))
    related = context.related(elements)
    start = f"side {name} (chassis) lies behind {wall.limits.insulation} insulation"
    if strength is None:
        if not wall.limits.functional:
            text = f"whether side {name} must be earthed depends on the insulation, which nobody stated"
            yield context.result(
                RULE, "notApplicable", text, where, name, blocked_by=context.speaker("insulation"), related=related
            )
        return
    if earthed or strength == "reinforced":
        why = "joined to protective earth" if earthed else "which needs no earth"
        yield context.result(RULE, "pass", f"{start}, {why}", where, name, related=related)
        return
    if any(fact.kind is not None and fact.kind.value == "earth" for fact in context.facts.sides.values()):
        text = f"{start} and nothing below 10 ohm joins it to protective earth: a failure puts the hazard on it"
        yield context.result(
            RULE,
            "fail",
            text,
            where,
            name,
            measure=Measure.number_of(1),
            remedy=f"join {name} to protective earth by less than 10 ohm, or fit double or reinforced insulation",
            related=related,
        )
        return
    text = f"{start}; no side of this netlist is protective earth: state that it is earthed if a screw joins it"
    yield context.result(
        RULE, "open", text, where, name, missing=[context.lookup.missing(SideFacts.earthed, name)], related=related
    )


RULE = Rule(
    slug="earth-bond-missing",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "sides.*.kind",
        "sides.*.earthed",
        "barriers.insulation",
    ),
    survey=survey,
)

"""A capacitor across a barrier that is not fit to lie there.

## What it looks at

Capacitors between two sides, in series and in parallel: their class, rated voltage and number, and the touch current
that all of them together let through. Where they meet at earth, a chassis or a shield, each leg counts on its own.

## Why it matters

A capacitor over insulation is part of it. One of the wrong class may fail short and puts one side on the other; too
much capacitance lets a current through that people feel, or worse.

## How it is computed

X classes never bridge insulation. Basic and supplementary insulation bear one Y2 or Y1, Y3 up to 250 V and Y4 up to
150 V of mains; double and reinforced insulation one Y1 up to 300 V of mains, or two Y2 in series with the same nominal
value (rows and their confidence in `isolint/standards/bridging.py`; classes of key `iec-60384-14`, rows of keys
`iec-62368-1`, `single-y1-question`, `two-y2-question`). Each capacitor is rated for the working voltage and for the
mains, volts rms. The weakest way through a network counts.

    I = 2 pi f C U, with U = 1.1 times the mains, C = 1.2 times its nominal value unless a tolerance is stated

against the barrier's `touch_current`, in amperes rms; f is 50 to 60 Hz unless stated. Without a stated mains the
working voltage drives the current. Nothing is asked for where the insulation is stated functional, or where both sides
are of the kinds selv, earth or chassis.

Settings: driver, receiver, conditions, mains.

```toml
[elements."CX*"]
class = "X2"
voltage = "305 V"
[elements."CY*"]
class = "Y1"
voltage = "400 V"
[sides.logic]
kind = "selv"
[[barriers]]
insulation = "reinforced"
touch_current = "0.25 mA"
```

## Fails

```netlist
* An X capacitor across the barrier (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: bridge-capacitor
CX1 GND GNDB 1n
```

## Passes

```netlist
* A Y1 capacitor across the barrier (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
CY1 GND GNDB 1n
```

## Remedy

Fit capacitors of the class that the insulation asks for, rated for the voltage, and as few farads as the interference
allows; state `class` and `voltage` of each.

## What it cannot see

Whether the part that is fitted has the class that is stated; the capacitance of transformers, cables and planes;
equipment standards with limits of their own (medical: two Y1 for two means of patient protection); direct current,
harmonics and fast switching across the barrier; impulses of the mains.

## Caution

Where one side is mains or another hazardous circuit, a capacitor across the barrier can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from isolint.checking.barrier_demands import SidePair, WantedInsulation, pairs
from isolint.checking.context import Context
from isolint.checking.joint_results import joins_of, speaker_of
from isolint.checking.networks import described, fitness_evidence, network_result
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.interfaces.entities import Bridge
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """For each two sides a result on each network of capacitors that is not fit and one on touch current, or a pass."""
    across = [bridge for bridge in context.interfaces.separation.bridges if bridge.kind == "capacitance"]
    for pair in pairs(context, (bridge.sides for bridge in across)):
        bridges = [bridge for bridge in across if set(bridge.sides) == set(pair.sides)]
        wanted = pair.wanted()
        found = list(_judged(context, pair, wanted, bridges)) if bridges else []
        yield from found or [_sound(context, pair, wanted, bridges)]


def _judged(context: Context, pair: SidePair, wanted: WantedInsulation, bridges: Sequence[Bridge]) -> Iterator[Result]:
    """What is wrong or open; nothing where all is well."""
    if wanted.missing:
        elements = [element for bridge in bridges for element in bridge.elements]
        across = ", ".join(described(context, element) for element in elements)
        yield context.result(
            RULE,
            "open",
            f"between sides {pair.name} lies {across}: {wanted.why}",
            min(map(context.place, elements)),
            pair.subject,
            missing=wanted.missing,
            remedy="state the insulation, or the kind of both sides where functional insulation is enough",
            related=context.related(elements),
        )
        return
    for bridge in bridges:
        own = pair.exactly(net for element in bridge.elements for net in context.circuit.pins(element))
        result = network_result(context, RULE, own, wanted if own is pair else own.wanted(), bridge)
        if result is not None:
            yield result


def _sound(context: Context, pair: SidePair, wanted: WantedInsulation, bridges: Sequence[Bridge]) -> Result:
    """A pass, or that nothing can be said while the sides are not known to be apart."""
    elements = [element for bridge in bridges for element in bridge.elements]
    barrier = pair.barrier
    concerned = (*elements, *(() if barrier is None else barrier.parts))
    where = min(map(context.place, concerned), default=Place(context.netlist))
    blocker = _blocker(context, pair)
    if blocker:
        text = f"capacitors between sides {pair.name} are not judged while {blocker} stands"
        return context.result(RULE, "notApplicable", text, where, pair.subject, blocked_by=blocker)
    if not elements:
        return context.result(RULE, "pass", f"no capacitor lies between sides {pair.name}", where, pair.subject)
    text = f"between sides {pair.name} lies {', '.join(described(context, element) for element in elements)}"
    if not wanted.grade:
        return context.result(
            RULE, "pass", f"{text}: {wanted.why}", where, pair.subject, related=context.related(elements)
        )
    text += f": fit for {wanted.why}"
    evidence = fitness_evidence(context, pair, bridges)
    return context.result(RULE, "pass", text, where, pair.subject, evidence=evidence, related=context.related(elements))


def _blocker(context: Context, pair: SidePair) -> str:
    """The rule that says why the two sides are not known to be apart, "" where they are."""
    barrier = pair.barrier
    joins = [] if barrier is None else joins_of(context, barrier)
    if joins:
        return speaker_of(context, joins[0])
    return context.speaker("joined-grounds") if barrier is not None and barrier.undecidable else ""


RULE = Rule(
    slug="bridge-capacitor",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "elements.*.class",
        "elements.*.voltage",
        "barriers.insulation",
        "barriers.working_voltage",
        "barriers.mains",
        "sides.*.kind",
    ),
    survey=survey,
)

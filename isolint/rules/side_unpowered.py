"""A side on which a coupler needs a supply and nothing feeds it.

## What it looks at

The supply pins of couplers, digital isolators and isolated supplies, and what feeds the nets they lie on.

## Why it matters

Each side of a barrier needs a supply of its own. A side without one is often a sheet that was copied without its
converter; then somebody feeds it from the other side, and the barrier is gone.

## How it is computed

From the supply pin over everything that conducts on the same side, up to references. It is fed when the way meets a
stated supply, line or output, a source, a winding, the output of an isolated supply, or a capacitor that leads to an
alternating supply. Of a part with two supply pins and no ground pin, such as one fed from the mains, one pin is fed and
the other may lead back to the reference. Where all that is met is a part that may be a regulator, a connector or
anything else (nothing behind 1 kohm or more counts, that is a pull-up), the name of the net decides: a supply by its
name counts as fed by that part, any other is open. It is open too where all such parts are fed there themselves, since
their records call that pin a supply. A part with two pins may be a fuse, and the way leads on through it. All pins on
one side that nothing feeds are one result.

Settings: driver, receiver, conditions, barrier.

## Fails

```netlist
* The link to the supply of the output side is missing (demonstration)
R1 DRIVE A 390
* expect: side-unpowered
XU1 A GND VDDX OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VDDX GNDB 100n
R3 VDDX GNDB 100k
```

## Passes

```netlist
* The same with the link (demonstration)
R1 DRIVE A 390
XU1 A GND VDDX OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VDDX GNDB 100n
R3 VDDX VB 10
```

## Remedy

Add the converter or link that feeds the side, or state the supply that comes from outside the netlist.

## What it cannot see

Whether the supply is strong enough, and whether it is itself separated from the other side: the rules on joints judge
that. Supplies of parts that are no couplers.

## Caution

A side that has no supply of its own invites one from the other side. The tool supports a review and certifies nothing:
the applicable standard's current text, local codes and a qualified engineer decide. Work on mains-connected circuits
only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.feeding import Feed, feed_of
from isolint.checking.rule import Rule
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Part
from isolint.interfaces.references import group_label
from isolint.interfaces.walk import is_supply_name
from isolint.results import Assumption, Measure, Result
from isolint.tables import basic_string


class _Pin(NamedTuple):
    """A pin that needs a supply, and what feeds it."""

    part: Part
    number: int
    net: int
    feed: Feed


def survey(context: Context) -> Iterable[Result]:
    """One result for each side on which a barrier part needs a supply."""
    sides: dict[int, list[_Pin]] = {}
    feeds: dict[int, Feed] = {}
    side_of = context.interfaces.separation.side_of_net
    for part in context.interfaces.recognition.parts.values():
        nets = context.circuit.pins(part.element)
        for number, (role, net) in enumerate(zip(part.roles, nets, strict=False)):
            if role == "supply" and net in side_of:
                if net not in feeds:
                    feeds[net] = feed_of(context, net)
                sides.setdefault(side_of[net], []).append(_Pin(part, number, net, feeds[net]))
    for index in sorted(sides):
        pins = [pin for pin in sides[index] if not _is_return(pin, sides[index])]
        yield from _side(context, index, pins)


def _is_return(pin: _Pin, pins: Sequence[_Pin]) -> bool:
    """Whether a pin is the return of a supply without polarity: its group has no ground pin, and another pin is fed."""
    group = next((group for group in pin.part.groups if pin.number in group), ())
    if pin.feed.kind != "return" or any(pin.part.roles[other] == "ground" for other in group):
        return False
    others = (other for other in pins if other.part is pin.part and other.number in group and other.net != pin.net)
    return any(other.feed.kind in ("known", "perhaps", "takers") for other in others)


def _side(context: Context, index: int, pins: Sequence[_Pin]) -> Iterator[Result]:
    name = context.interfaces.separation.sides[index].name
    unfed = [pin for pin in pins if pin.feed.kind in ("none", "return")]
    takers = [pin for pin in pins if pin.feed.kind == "takers"]
    doubtful = [pin for pin in pins if pin.feed.kind == "perhaps" and not is_supply_name(context.net(pin.net))]
    if unfed:
        text = (
            f"side {name}: nothing feeds {_pins(context, unfed)}: no stated supply, no source, no converter leads there"
        )
        yield _result(context, "fail", name, unfed, text)
    elif takers:
        others = ", ".join(dict.fromkeys(pin.feed.by for pin in takers))
        text = f"side {name}: nobody stated what feeds {_pins(context, takers)}: {others} lies there, which is fed too"
        yield _result(context, "open", name, [*takers, *doubtful], text)
    elif doubtful:
        perhaps = ", ".join(dict.fromkeys(pin.feed.by for pin in doubtful))
        text = f"side {name}: nobody stated what feeds {_pins(context, doubtful)}: perhaps {perhaps}"
        yield _result(context, "open", name, doubtful, text)
    else:
        by = ", ".join(dict.fromkeys(pin.feed.by for pin in pins))
        made = _result(context, "pass", name, pins, f"side {name}: {_pins(context, pins)} is fed by {by}")
        by_name = [pin for pin in pins if pin.feed.kind == "perhaps"]
        nets = dict.fromkeys(context.net(pin.net) for pin in by_name)
        yield made._replace(
            assumptions=tuple(Assumption(f"supply {net}", "fed", "", "name of the net") for net in nets)
        )


def _result(context: Context, kind: str, name: str, pins: Sequence[_Pin], text: str) -> Result:
    elements = [pin.part.element for pin in pins]
    side = context.facts.side(name)
    subject = name if side is not None else _label(min(pins, key=lambda pin: (pin.part.path.casefold(), pin.number)))
    nets = () if kind == "pass" else dict.fromkeys(context.net(pin.net) for pin in pins)
    ground = SupplyFacts.ground.entry(example=basic_string(_ground(context, pins)))
    facts = [
        context.lookup.missing_lines(SupplyFacts.voltage, net, SupplyFacts.voltage.line(net), ground) for net in nets
    ]
    return context.result(
        RULE,
        "fail" if kind == "fail" else "open" if kind == "open" else "pass",
        text,
        min(map(context.place, elements)),
        subject,
        measure=Measure.number_of(len(pins)),
        missing=facts,
        remedy=""
        if kind == "pass"
        else "feed the side from a supply of its own, or state the one that comes from outside",
        related=context.related(elements),
    )


def _ground(context: Context, pins: Sequence[_Pin]) -> str:
    """The reference of the side, for the line to write."""
    separation = context.interfaces.separation
    reference = separation.sides[separation.side_of_net[pins[0].net]].reference
    return context.net(reference) if reference >= 0 else "GND"


def _label(pin: _Pin) -> str:
    group = next(number for number, group in enumerate(pin.part.groups) if pin.number in group)
    return group_label(pin.part, group)


def _pins(context: Context, pins: Sequence[_Pin]) -> str:
    return ", ".join(f"{pin.part.path} (supply {context.net(pin.net)})" for pin in pins)


RULE = Rule(
    slug="side-unpowered",
    group="barrier",
    level="warning",
    page=__doc__,
    asked_of=("supplies",),
    facts=("supplies.*.voltage", "supplies.*.ground", "elements.*.part"),
    survey=survey,
    judges=("feed",),
)

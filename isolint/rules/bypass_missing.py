"""A supply pin of a driver, isolator, coupler or converter without a capacitor.

## What it looks at

Each pair of nets between which supply pins of barrier parts lie, and the capacitors that lie directly between them.

## Why it matters

Fast outputs take their current from the capacitor beside the pin. Without one the supply dips with every edge: outputs
toggle, an undervoltage lockout trips, a gate is charged half.

## How it is computed

Counted are capacitors between both nets, also through at most 1 ohm, and two in series over a ground or another supply
pin of the part between them (of a positive and a negative supply), with what they have together. There must be as many
of at least 47 nF as barrier parts with a supply pin there, and one of them must have 100 nF (common practice of data
sheets; `limits.bypass`). An isolated converter needs none of its own at its input: one for all is enough, and nothing
is asked where alternating current feeds it or its two input pins are alike. A capacitor whose value can't be read
leaves it open where it decides.

Settings: driver, receiver, barrier.

## Fails

```netlist
* The output side of an isolator has no capacitor (demonstration)
* expect: bypass-missing
XU1 V5 DRIVE GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GND2 100n
R2 GND2 GNDB 100k
```

## Passes

```netlist
* With one on each side (demonstration)
XU1 V5 DRIVE GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
R2 GND2 GNDB 100k
```

## Remedy

100 nF between each supply pin and its return, close to the part.

## What it cannot see

The distance: a capacitor at the other end of the board counts here. What a gate's charge asks for beyond 100 nF.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from isolint.checking import part_results
from isolint.checking.context import Context
from isolint.checking.feeding import Feed, feed_of
from isolint.checking.rule import Rule
from isolint.facts import Limits
from isolint.interfaces.entities import Part
from isolint.results import Evidence, Kind, Limit, Measure, Result
from isolint.units import show
from isolint.worstcase.links import MOST_OHMS, linked
from isolint.worstcase.supply_pins import SupplyPin, supply_pins
from isolint.worstcase.uncertain import Lacking

LEAST_FARADS = 47e-9
"""What counts as a capacitor of its own (common practice, no source)."""

Rails = tuple[int, int]


def survey(context: Context) -> Iterable[Result]:
    """One result a part and supply pin; those that share capacitors name each other."""
    pins: dict[Rails, list[SupplyPin]] = {}
    for part in context.interfaces.recognition.parts.values():
        if not RULE.asks(part.kind):
            continue
        nets = context.circuit.pins(part.element)
        for pin in supply_pins(part):
            if part.roles[pin.back] == "supply" and part.kind.output.feeds == "outputs":
                # Of two like pins neither is a return: such an input may be for alternating current.
                continue
            pins.setdefault((nets[pin.pin], nets[pin.back]), []).append(pin)
    for rails, takers in pins.items():
        yield from _judge(context, rails, takers)


def _judge(context: Context, rails: Rails, takers: Sequence[SupplyPin]) -> Iterable[Result]:
    plus, minus = rails
    parts = list({pin.part.element: pin.part for pin in takers}.values())
    # A converter does with any capacitor at its input: that of another part, or a large one for several of them.
    counted = [part for part in parts if part.kind.output.feeds != "outputs"] or parts[:1]
    if plus == minus or any(map(context.lookup.is_alternating, rails)):
        return
    feeds = [feed_of(context, net) for net in rails]
    if any(_alternates(context, feed) for feed in feeds):
        # Behind a fuse or a choke the mains is no rail either.
        return
    if feeds[0].kind in ("none", "return"):
        reason = Lacking(f"nothing feeds its supply {context.net(plus)}", blocked_by="feed")
        for pin in takers:
            yield part_results.lacking(context, RULE, pin.part, reason, pin.name(pin.pin))
        return
    found = {**_capacitors(context, plus, minus), **_over_middles(context, rails, takers)}
    wanted = context.facts.number(Limits.bypass)
    enough = [farads for farads in found.values() if farads is not None and farads >= LEAST_FARADS * (1.0 - 1e-9)]
    largest = max(enough, default=0.0)
    unread = [element for element, farads in found.items() if farads is None]
    nets = f"{context.net(plus)} and {context.net(minus)}"
    who = ", ".join(part.path for part in counted)
    kind: Kind = "pass"
    if len(enough) < len(counted) or largest < wanted * (1.0 - 1e-9):
        kind = "fail"
        if unread and len(enough) + len(unread) >= len(counted):
            kind = "open"
    if kind == "open":
        names = ", ".join(context.circuit.path(element) for element in unread)
        text = f"between {nets} lies {names}, whose value can't be read"
    elif not enough:
        text = f"no capacitor of {show(LEAST_FARADS, 'F')} or more lies between {nets}"
    elif len(enough) < len(counted):
        text = f"{len(counted)} parts ({who}) share {len(enough)} between {nets}"
    elif kind == "fail":
        text = f"the largest capacitor between {nets} has {show(largest, 'F')}, {show(wanted, 'F')} are wanted"
    else:
        text = f"{len(enough)} of {show(LEAST_FARADS, 'F')} or more between {nets}, the largest {show(largest, 'F')}"
    for part in parts:
        yield _result(context, part, kind, text, takers, list(found), largest, wanted, nets)


def _alternates(context: Context, feed: Feed) -> bool:
    """Whether what feeds a net is a supply that is stated as alternating."""
    supply = context.facts.supply(feed.by.removeprefix("supply "))
    return supply is not None and supply.kind is not None and supply.kind.value == "ac"


def _capacitors(context: Context, plus: int, minus: int) -> dict[int, float | None]:
    """The capacitors between two nets with their farads, also behind jumpers and resistors of at most 1 ohm in all."""
    circuit = context.circuit
    ends = linked(context.lookup, minus)
    found: dict[int, float | None] = {}
    for net, ohms in linked(context.lookup, plus).items():
        for element, pin in () if net in ends else circuit.elements_at(net):
            if circuit.letter(element) == "C":
                far = circuit.pins(element)[1 - pin]
                if far in ends and ohms + ends[far] <= MOST_OHMS:
                    found[element] = circuit.value(element)
    return found


def _over_middles(context: Context, rails: Rails, takers: Sequence[SupplyPin]) -> dict[int, float | None]:
    """Pairs of capacitors in series over a net that stands still between two nets, by one of the pair."""
    circuit, (plus, minus) = context.circuit, rails
    stands: dict[int, None] = {}
    for taker in takers:
        group = next((group for group in taker.part.groups if taker.pin in group), ())
        pins = circuit.pins(taker.part.element)
        roles = taker.part.roles
        stands.update(dict.fromkeys(pins[pin] for pin in group if roles[pin] in ("supply", "ground")))
    ways = {far for element, _ in circuit.elements_at(minus) for far in circuit.pins(element) if far != minus}
    found: dict[int, float | None] = {}
    for middle in sorted(ways):
        if middle == plus or not (middle in stands or context.lookup.walker.grounds.holds(middle)):
            continue
        upper, lower = _capacitors(context, plus, middle), _capacitors(context, minus, middle)
        for one, other in zip(_largest_first(upper), _largest_first(lower), strict=False):
            first, second = upper[one], lower[other]
            found[one] = None if not first or not second else first * second / (first + second)
    return found


def _largest_first(capacitors: Mapping[int, float | None]) -> list[int]:
    return sorted(capacitors, key=lambda element: -(capacitors[element] or 0.0))


def _result(
    context: Context,
    part: Part,
    kind: Kind,
    text: str,
    takers: Sequence[SupplyPin],
    capacitors: Sequence[int],
    largest: float,
    wanted: float,
    nets: str,
) -> Result:
    own = next(pin for pin in takers if pin.part.element == part.element)
    evidence = Evidence(
        "largest capacitor at the supply pin", "C", "F", None, largest, None, Limit("at_least", wanted), {}
    )
    made = context.result(
        RULE,
        kind,
        f"{part.path}: supply {own.name(own.pin)}: {text}",
        context.place(part.element),
        part.path,
        role=own.name(own.pin),
        evidence=[evidence],
        measure=Measure.number_of(len({pin.part.element for pin in takers})),
        remedy="" if kind == "pass" else f"fit {show(wanted, 'F')} between {nets}, beside the part",
        related=context.related([part.element, *capacitors]),
        element=part.element,
    )
    return made._replace(part=part.path)


RULE = Rule(
    slug="bypass-missing",
    group="drive",
    level="warning",
    page=__doc__,
    asked_of=("logic", "driver", "voltage-input", "feeds"),
    facts=("limits.bypass",),
    survey=survey,
)

"""A thyristor output on direct current, which never switches off.

## What it looks at

The supplies of each thyristor output, and what it carries, against its holding current.

## Why it matters

Once fired it stays on until its current ends by itself. On direct current that never happens: the load can be
switched on and not off.

## How it is computed

    I_on > I_H: stays on     (amperes)

On alternating supplies the current returns to zero in each half wave, also behind a bridge; not where a capacitor of
100 nF and more, without a resistor of its own, smooths between bridge and switch. Else the smallest current that it
carries, `loads.X.current` or supply over resistors, against the largest holding current, of the thyristor that it
fires or its own [0.1 mA to 50 mA] (from memory); of a solid-state relay the least current of its load counts. Below it
nobody guarantees anything: that is open. A circuit that is to latch says so, `use = "latch"`, and has something that
breaks the current.

Settings: driver, switched.

## Fails

```netlist
* A phototriac switches 24 V DC (demonstration)
R1 DRIVE A 390
* expect: dc-load-latches
XU1 A GND T1 N DEMO_TR1
R2 T1 V24 1k
```

## Passes

```netlist
* The same load on 230 V AC (demonstration)
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
```

## Remedy

A transistor, a MOSFET output or a relay for direct current.

## What it cannot see

Ripple that lets the current return to zero after all.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import Switched, current, of_thyristor, powered, switched, switches
from isolint.checking.switched_walk import MOST_NETS
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Output, Thyristor, Trigger
from isolint.results import Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term

LEAST_SMOOTHING = 100e-9
"""A capacitor from which on a rectified supply does not return to zero, farads."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    found = switched(context, channel)
    fed = powered(context, found)
    if fed.alternating and not _smoothed(context, found):
        text = f"{channel.subject}: its current returns to zero with each half wave"
        yield context.channel_result(RULE, channel, "pass", text, related=context.related(found.elements))
        return
    if _latches_on_purpose(context, found):
        text = f"{channel.subject}: it is meant to stay on until something breaks its current"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    held = _holding(context, channel, found)
    # The largest holding current is stated; of the least nobody speaks, so that staying off is never certain.
    most = held.high
    low = held._replace(low=0.0, nominal=most / 2.0, kind_low=most, kind_high=most, stated=False)

    def claim(setting: Setting) -> Claim:
        least, largest, terms = current(context, found, setting)
        flows = Figure("I_on", largest if setting.low(low) < most else least, "A", "current that it carries")
        return at_most(flows, Figure("I_H", setting.low(low), "A", source=held.origin), (low, *terms))

    verdict = decide(claim)
    told = verdict.worst
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"on a direct current of {told.found} it stays on once fired: it falls off below {show(most, 'A')} only",
        evidence=told.evidence(),
        remedy="an output that opens by itself (transistor, MOSFET, relay) for direct current",
        chain=found.elements,
    )


def _holding(context: Context, channel: Channel, found: Switched) -> Term:
    """The current above which it stays on: of a complete relay, whose sheet tells no other, the least of its load."""
    if found.thyristor is not None:
        return of_thyristor(context, found.thyristor, Thyristor.holding_current)
    complete = channel.part.kind.output.switch == "complete"
    return fact_terms.of_record(channel.part, Output.current_min if complete else Trigger.holding_current)


def _smoothed(context: Context, found: Switched) -> bool:
    """Whether behind diodes a capacitor without a resistor in series keeps the current from returning to zero.

    Between it and the switch no diode lies: before a bridge the current returns to zero, whatever the bridge feeds.
    """
    if not found.rectified:
        return False
    circuit = context.circuit
    nets = {
        net
        for reached in found.reached
        for net, way in reached.items()
        if not any(circuit.letter(element) == "D" for element in way)
    }
    for net in nets:
        for element, _ in circuit.elements_at(net):
            value = circuit.value(element) if circuit.letter(element) == "C" else None
            ends = circuit.pins(element)
            if value is None or value < LEAST_SMOOTHING or not nets.issuperset(ends):
                continue
            if not any(_in_series(context, element, end) for end in ends) and any(_fed(context, e) for e in ends):
                return True
    return False


def _in_series(context: Context, capacitor: int, net: int) -> bool:
    """Whether nothing but a resistor lies at an end of a capacitor: it is a snubber then."""
    others = [context.circuit.letter(e) for e, _ in context.circuit.elements_at(net) if e != capacitor]
    return others == ["R"]


def _fed(context: Context, net: int) -> bool:
    """Whether a diode charges a net, at it or behind the resistors and chokes of a filter."""
    circuit, seen, waiting = context.circuit, {net}, [net]
    while waiting and len(seen) < MOST_NETS:
        at = waiting.pop()
        if context.lookup.walker.held(at) is not None:
            continue
        for element, pin in circuit.elements_at(at):
            letter = circuit.letter(element)
            if letter == "D":
                return True
            if letter in "RL" and len(circuit.pins(element)) == 2:
                far = circuit.pins(element)[1 - pin]
                if far not in seen:
                    seen.add(far)
                    waiting.append(far)
    return False


def _latches_on_purpose(context: Context, found: Switched) -> bool:
    """Whether the output is stated to latch, and something on its way can break the current."""
    facts = [context.facts.signal(context.net(net)) for net in found.ends]
    if not any(fact is not None and fact.use is not None and fact.use.value == "latch" for fact in facts):
        return False
    parts = context.interfaces.recognition.parts
    return any(context.circuit.letter(e) in "SQMJ" or e in parts for e in found.elements)


RULE = Rule(
    slug="dc-load-latches",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "supplies.*.kind",
        "loads.*.current",
        "signals.*.use",
        "parts.*.trigger.holding_current",
        "parts.*.thyristor.holding_current",
        "parts.*.output.current_min",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
    blocks=("carrying",),
)

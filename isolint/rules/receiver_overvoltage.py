"""An input or a gate that sees more voltage than it stands.

## What it looks at

Every stated logic input on a coupler's output: the highest voltage that the load network can bring there, with the
output off and on, against what the pin stands; on the output of a digital isolator the isolator's highest supply.
Every field-effect transistor whose gate the output moves: the largest voltage of either sign between gate and source.

## Why it matters

A pull-up to 5 V on a 3.3 V pin drives current through the pin's protection into its supply: the pin ages, the supply
rises, and a controller without power is powered through its inputs. A gate's oxide breaks down at once.

## How it is computed

The load network is solved with the output open and closed, in every state of its switching inputs, over all corners.

    margin = voltage_max / V(input)     (volts)
    margin = gate_voltage / V(gate to source)     (volts)

A coil in the load network counts at the moment when it has been switched off too: as a source of the voltage at which
its clamp conducts, its switches open.

`voltage_max` is stated for the input; else the pin stands its supply's maximum + 0.3 V at least and, below a supply
of 5 V, 5.5 V at most (an assumption; between, the verdict is open). A gate stands its `gate_voltage`, unstated 20 V
either way (from memory; gates for 5 V logic often stand less).

Settings: driver, conditions.

```toml
[supplies."V3V3"]
voltage = "3.3 V"
tolerance = "3 %"
ground = "GNDB"
[supplies."V5B"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "V3V3"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "1 uA"
voltage_max = "3.6 V"
```

## Fails

```netlist
* A 3.3 V input pulled up to 5 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
* expect: receiver-overvoltage margin=0.69
R2 V5B OUT 10k
```

```netlist
* An isolator on 5 V before it (demonstration)
* expect: receiver-overvoltage margin=0.69
XU1 V5 DRIVE GND GNDB OUT V5B DEMO_DI4
C1 V5 GND 100n
C2 V5B GNDB 100n
```

## Passes

```netlist
* Pulled up to its own supply (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 V3V3 OUT 10k
```

```netlist
* The isolator on 3.3 V (demonstration)
XU1 V5 DRIVE GND GNDB OUT V3V3 DEMO_DI4
C1 V5 GND 100n
C2 V3V3 GNDB 100n
```

## Remedy

Pull up to the input's own supply, divide the voltage, or use an input that tolerates it.

## What it cannot see

A pin whose protection may carry a small current through a large resistor: state the voltage that it then stands as
`voltage_max`. The order in which supplies rise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking.claims import Claim, at_most, both_ends
from isolint.checking.contact_inputs import contacts_read_no_more
from isolint.checking.context import Context
from isolint.checking.cures import pull_resistor
from isolint.checking.driver_outputs import read_by_inputs
from isolint.checking.isolator_levels import bear_levels
from isolint.checking.rule import Rule
from isolint.checking.switched_inputs import reads_no_more
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.figures import Figure
from isolint.worstcase.gates import usual_rating as gate_rating
from isolint.worstcase.output import Stress
from isolint.worstcase.pin_nets import input_voltage
from isolint.worstcase.uncertain import WORST, Lacking, Setting, unique

SMALLEST_VOLTS = 1e-9


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result an input."""
    if channel.part.kind.output.switch:
        yield from reads_no_more(RULE, context, channel)
        return
    nets = list(dict.fromkeys(held.net for held in channel.load.boundary if held.kind == "input"))
    gates = list(_gates(context, channel))
    if not nets and not gates:
        text = f"{channel.subject}: no stated logic input and no gate reads its output"
        yield context.channel_result(RULE, channel, "notApplicable", text)
    for net in nets:
        role = f"input {context.net(net)}"
        try:
            yield _judge(context, channel, net, role)
        except Lacking as reason:
            yield context.lacking(RULE, channel, reason, role)
    for element in gates:
        role = f"gate {context.circuit.path(element)}"
        try:
            yield _gate(context, channel, element, role)
        except Lacking as reason:
            yield context.lacking(RULE, channel, reason, role)


def _gates(context: Context, channel: Channel) -> Iterator[int]:
    """The field-effect transistors whose gate lies in the load of a channel; those of drivers are asked elsewhere."""
    if not channel.part.kind.traits.isdisjoint(("driver", "array")):
        return
    inner = set(channel.load.inner)
    circuit, parts = context.circuit, context.interfaces.recognition.parts
    for element in channel.load.elements:
        if circuit.letter(element) == "M" and element not in parts and circuit.pins(element)[1] in inner:
            yield element


def _gate(context: Context, channel: Channel, element: int, role: str) -> Result:
    path = context.circuit.path(element)

    def claim(setting: Setting) -> Claim:
        found = context.analysis.gate_level(channel, element, setting)
        highest = max(found, key=lambda stress: stress.high)
        lowest = min(found, key=lambda stress: stress.low)
        ways = []
        for positive, volts, corner in (
            (True, highest.high, highest.high_corner),
            (False, -lowest.low, lowest.low_corner),
        ):
            rating = gate_rating(context.lookup, element, positive)
            name = f"gate {'above' if positive else 'below'} source of {path}"
            level = Figure("V_GS", max(volts, 0.0), "V", name, at=corner)
            limit = Figure("V_GS_max", setting.low(rating), "V", rating.name, source=rating.origin)
            terms = (rating, *unique(term for stress in found for term in stress.terms))
            ways.append(at_most(level, limit, terms, least=SMALLEST_VOLTS))
        return min(ways, key=lambda way: way.margin.si).shown_above(SMALLEST_VOLTS)

    verdict = decide(claim)
    told = verdict.worst
    sees, stands = told.beside
    way = "above" if told.found.name.startswith("gate above") else "below"
    return context.judged(
        RULE,
        channel,
        verdict,
        f"gate of {path} sees up to {sees} {way} its source ({told.found.corner}) and stands {stands}",
        element,
        role=role,
        evidence=told.evidence(),
        remedy="clamp the gate with a Zener diode behind a resistor, or divide its voltage",
        chain=channel.load.elements,
    )


def _judge(context: Context, channel: Channel, net: int, role: str) -> Result:
    rating = input_voltage(context.lookup, net)

    def claim(setting: Setting) -> Claim:
        found = _highest(context, channel, net, setting)
        volts = Figure("V_in", found.high, "V", at=found.high_corner)
        limit = Figure("V_in_max", setting.low(rating), "V")
        return at_most(volts, limit, (rating, *found.terms), least=SMALLEST_VOLTS).shown_above(SMALLEST_VOLTS)

    verdict = decide(claim)
    told, found = verdict.worst, _highest(context, channel, net, WORST)
    name, resistor = context.net(net), pull_resistor(context, channel, net)
    facts = context.lookup.input(net)
    own = f"the supply of input {name}" if facts is None or facts.supply is None else str(facts.supply.value)
    what = "the pull-up" if resistor is None else context.named(resistor)
    sees, stands = told.beside
    return context.judged(
        RULE,
        channel,
        verdict,
        f"input {name} stands {stands} and sees up to {sees} ({told.found.corner})",
        resistor,
        role=role,
        evidence=[both_ends(f"highest voltage at input {name}", "V_in", "V", found.quantity, told.bound)],
        remedy=f"pull up to {own} ({what}), or divide the voltage",
        chain=channel.load.elements,
    )


def _highest(context: Context, channel: Channel, net: int, setting: Setting) -> Stress:
    """The highest voltage at an input, also when a coil beside it has just been switched off."""
    found = [
        context.analysis.input_level(channel, net, setting),
        *context.analysis.released(channel, net, setting),
    ]
    highest = max(found, key=lambda stress: stress.high)
    return highest._replace(terms=unique(term for stress in found for term in stress.terms))


def beside(context: Context) -> Iterable[Result]:
    """One result an output of an isolator or gate driver, or a contact of a relay, and input that reads it."""
    yield from bear_levels(RULE, context)
    yield from contacts_read_no_more(RULE, context)
    yield from read_by_inputs(RULE, context)


RULE = Rule(
    slug="receiver-overvoltage",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=(
        "inputs.*.voltage_max",
        "inputs.*.supply",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "elements.*.gate_voltage",
        "parts.*.coil.clamp_voltage",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("levels", "contact", "driver", "array"),
    needs=("load",),
)

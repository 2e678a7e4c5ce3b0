"""Shunt references in a network: which one lies in the loop of an LED, and what stands in its place.

In: a channel, a shunt reference of its drive network. Out: its branch in an assembly, its values as terms. Fully on it
holds its cathode at the smallest voltage at which it still regulates; off it takes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.facts import ElementFacts, SupplyFacts
from isolint.interfaces.entities import Channel, Recognition, Shunt
from isolint.interfaces.pinguess import record_example
from isolint.interfaces.shunt_references import kind_name, looks_like_one, may_be_one
from isolint.parts import records
from isolint.results import MissingFact
from isolint.rows import Usual, Value, either, most
from isolint.tables import basic_string, dotted
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.uncertain import Lacking, Term

KNEE = 1e-6
"""Amperes from which its whole voltage stands across it."""


def shunt_of(lookup: Lookup, channel: Channel) -> Shunt | None:
    """The shunt reference through which the current of a channel's LED flows, None without."""
    recognition = lookup.walker.recognition
    known = {*channel.drive.inner, *(held.net for held in channel.drive.boundary)}
    for element in channel.drive.elements:
        found = recognition.shunts.get(element)
        if found is None or not found.pins or is_fixed(lookup, found):
            continue
        if lookup.circuit.pins(element)[found.pins[0]] in known:
            return found
    return None


def stated_use(lookup: Lookup, channel: Channel) -> str:
    """`linear` or `feedback` as stated of the output's net, or of the pin of a controller that it moves; else empty.

    A pin of which somebody states a control range is one of a controller.
    """
    own = [channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins]
    read = [held.net for held in channel.load.boundary if held.kind == "input" and held.net not in own]
    for net in (*own, *read):
        facts = lookup.facts.signal(lookup.circuit.net_name(net))
        use = "" if facts is None or facts.use is None else facts.use.value
        if use == "feedback" or (use == "linear" and net in own):
            return use
    pins = [lookup.input(net) for net in (*own, *read)]
    return "feedback" if any(pin is not None and pin.control_range is not None for pin in pins) else ""


def seems_to_feed_back(lookup: Lookup, channel: Channel) -> bool:
    """Whether a shunt reference, or what may be one, lies in the loop of a channel's LED."""
    if shunt_of(lookup, channel) is not None:
        return True
    ends = [held.element for held in channel.drive.boundary if held.kind == "part"]
    return any(unclear_shunt(lookup, channel, element) is not None for element in ends)


def unfed(lookup: Lookup, channel: Channel) -> tuple[list[int], list[MissingFact]]:
    """The nets of a drive that lead nowhere, and what to state of them: of a loop with a reference the supply behind
    its LED."""
    loose = [held.net for held in channel.drive.boundary if held.kind == "loose"]
    shunt = shunt_of(lookup, channel)
    if shunt is None:
        return loose, [lookup.missing_line(net) for net in loose]
    own = lookup.circuit.pins(shunt.element)[shunt.pins[2]]
    feeding = [net for net in loose if net != own]
    names = [lookup.circuit.net_name(net) for net in feeding]
    rows = (SupplyFacts.tolerance, SupplyFacts.ground)
    return feeding, [lookup.missing(SupplyFacts.voltage, name, "", *rows) for name in names]


def unclear_shunt(lookup: Lookup, channel: Channel, element: int) -> Lacking | None:
    """What is asked of a part at the edge of an LED's loop that may be a shunt reference; None where it looks like
    none, and nobody states that the output feeds back."""
    circuit, recognition = lookup.circuit, lookup.walker.recognition
    path = circuit.path(element)
    if element in recognition.shunts:
        named = recognition.shunts[element].name
        text = f"which pins of {path} are cathode, anode and reference nobody says"
        example = record_example(circuit, element, named, kind_name(), certain=True)
        file, key = lookup.facts.record_file(lookup.settings_file), dotted("parts", named)
        return Lacking(text, [MissingFact(file, key, example.replace("\\", "\\\\"))])

    def grounds(net: int) -> bool:
        held = lookup.walker.held(net)
        return held is not None and held.kind == "ground"

    looks = looks_like_one(circuit, recognition, element, grounds)
    if not looks and not (may_be_one(circuit, recognition, element) and stated_use(lookup, channel) == "feedback"):
        return None
    text = f"{path} lies in the loop of its LED, and nobody says whether it is a shunt reference"
    return Lacking(text, [lookup.missing(ElementFacts.type, path, basic_string(kind_name()))])


def is_fixed(lookup: Lookup, shunt: Shunt) -> bool:
    """Whether its input lies at its own cathode, so that it is a Zener diode and regulates nothing else."""
    nets = lookup.circuit.pins(shunt.element)
    return nets[shunt.pins[2]] == nets[shunt.pins[0]]


def term(shunt: Shunt, value: Value[float], usual: Usual | None = None) -> Term:
    """A value of its record as stated, else as usual: by default the row's own."""
    found = None if shunt.record is None else getattr(shunt.record.reference, value.attribute)
    title = value.title.format(shunt.path)
    if found is not None:
        return fact_terms.known(value, shunt.name, found, f"record {shunt.name}", title=title)
    return fact_terms.defaulted(value, shunt.name, usual or value.counts, title=title)


def _stated_voltage(shunt: Shunt) -> Interval | None:
    """What its record says of its reference voltage."""
    spec = None if shunt.record is None else shunt.record.reference.voltage
    ends = [] if spec is None else [end for end in (spec.min, spec.typ, spec.max) if end is not None]
    return Interval(min(ends), max(ends)) if ends else None


def lowest_cathode(shunt: Shunt, only_high: bool) -> Term:
    """Volts at its cathode while it takes all that it can: no less than its own reference voltage, where that is known.

    only_high: what it leaves the LED is asked, which a high one hurts; else either end may.
    """
    row, known = records.Reference.cathode_voltage_min, _stated_voltage(shunt)
    low, high, origin = row.counts.low, row.counts.high, row.counts.origin
    if known is not None:
        low, high, origin = known.low, known.high, f"reference voltage of record {shunt.name}"
    usual = most(low, high, origin) if only_high else either(low, high, high, origin)
    return term(shunt, row, usual)


def _fixed(shunt: Shunt) -> Term:
    row, known = records.Reference.voltage, _stated_voltage(shunt)
    title = row.title.format(shunt.path)
    if known is not None:
        return fact_terms.known(row, shunt.name, known, f"record {shunt.name}", title=title)
    return fact_terms.defaulted(row, shunt.name, row.counts, title=title)


def shunt_branch(
    made: Assembly, lookup: Lookup, recognition: Recognition, element: int, on: bool, ideal: bool, only_high: bool
) -> None:
    """Add a shunt reference: on, its voltage stands in the way of its current, which it can't give by itself."""
    shunt = recognition.shunts[element]
    nets = lookup.circuit.pins(element)
    if not shunt.pins or any(nets[pin] not in made.nets for pin in shunt.pins[:2]):
        # Only its input lies in this network, which takes next to nothing.
        return
    a, b = (made.nets[nets[pin]] for pin in shunt.pins[:2])
    name = shunt.path
    made.branch_of[element] = name
    fixed = is_fixed(lookup, shunt)
    if not (on or fixed):
        made.add(name, lambda vector, temperature: n.Blocked(name, (a, b)))
        return
    if ideal:
        made.add(name, lambda vector, temperature: n.Resistor(name, a, b, 0.0))
        return
    index = made.term(_fixed(shunt) if fixed else lowest_cathode(shunt, only_high))

    def branch(vector: Sequence[float], temperature: float) -> n.Branch:
        volts = vector[index]
        return n.Port(name, a, b, ((-1.0, volts), (-KNEE, volts), (0.0, 0.0), (1.0, 0.0)))

    made.add(name, branch, index)

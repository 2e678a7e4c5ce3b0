"""Two channels that switch in turn: how long after the one's edge the other may follow.

In: a context, channels, a setting. Out: seconds from the edge of the drive to the transistor behind, and the channels
that drive the gates of two transistors in series. Gate drivers with a logic input are none of the channels that the
netlist has: `all_halves` gives them as such, an output each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.speed import speed
from isolint.facts import ElementFacts
from isolint.interfaces.entities import Channel, Network, Part
from isolint.parts import Spec, Timing
from isolint.results import MissingFact
from isolint.rows import Usual, Value, most
from isolint.worstcase import fact_terms
from isolint.worstcase.coils import device_of
from isolint.worstcase.devices import Mos
from isolint.worstcase.gates import outputs
from isolint.worstcase.supply_pins import supply_pins
from isolint.worstcase.uncertain import Lacking, Setting, Term

_VOLTS_ABOVE = 1.0
"""Volts above its threshold at which a gate is taken for on where nobody says it."""

_DEVICE = most(0.0, 1e-6, "assumption, turn-off less turn-on time of a power transistor (from memory)")

_LEAST = Usual(0.0, 0.0, 1.0, 1.0, 1.0, "assumption, from no delay at all to the longest")


class Gate(NamedTuple):
    """A transistor behind a driver: the resistance to its gate, what has to be charged there, its net of the source."""

    element: int
    ohms: float
    farads: float


class Switching(NamedTuple):
    """Seconds from the edge of the drive: the most until the transistor is off, the least until it is on.

    off_gate, on_gate: what the gate's network and the transistor have of them, by `gate_terms`.
    """

    off: float
    on: float
    off_gate: float
    on_gate: float
    gate_terms: tuple[Term, ...]
    terms: tuple[Term, ...]


def switching(context: Context, channel: Channel, setting: Setting) -> Switching:
    """Both times of a channel with the gate behind it; `Lacking` where its delays are not known."""
    terms: list[Term] = []
    off_gate, on_gate = _gate_times(context, channel, setting, terms)
    off_device, on_device = _device_times(context, channel, setting, terms)
    off_gate, on_gate, of_gate = off_gate + off_device, on_gate + on_device, tuple(terms)
    if channel.part.kind.output.conducts == "transistor":
        found = speed(context.analysis, channel, setting)
        spec = fact_terms.recorded(channel.part, Timing.turn_on)
        least = 0.0 if spec is None or spec.min is None else spec.min
        return Switching(found.off + off_gate, least + on_gate, off_gate, on_gate, of_gate, (*found.terms, *terms))
    pulls = channel.part.record is not None and channel.part.record.output.kind == "open-collector"
    rows = (Timing.delay_high, Timing.delay_low) if pulls else (Timing.delay_low, Timing.delay_high)
    off, on = (_spec(context, channel, row, other) for row, other in (rows, rows[::-1]))
    if off.max is None:
        raise Lacking(f"the longest delay of {channel.subject} is not known", [_missing(context, channel, rows[0])])
    least = on.min
    if least is None:
        title = f"least delay of {channel.part.path}, as a share of the longest"
        name, example = fact_terms.named(channel.part), '{ min = "50 ns", max = "100 ns" }'
        term = fact_terms.defaulted(rows[1], name, _LEAST, title=title, example=example, unit="1")
        terms.append(term)
        least = setting.low(term) * (on.max or off.max)
    return Switching(off.max + off_gate, least + on_gate, off_gate, on_gate, of_gate, tuple(terms))


def _spec(context: Context, channel: Channel, row: Value[Spec], other: Value[Spec]) -> Spec:
    """A delay; the other one stands in for it."""
    for each in (row, other):
        found = fact_terms.recorded(channel.part, each)
        if found is not None:
            return Spec(found.min, found.typ, found.max)
    raise Lacking(f"the delays of {channel.subject} are not known", [_missing(context, channel, row)])


def _missing(context: Context, channel: Channel, row: Value[Spec]) -> MissingFact:
    record = channel.part.record
    file = context.settings_file if record is None else record.file
    return fact_terms.missing(file, row, fact_terms.named(channel.part))


# -- the gate behind a driver -----------------------------------------------------------------------------------------


def gates(context: Context, channel: Channel) -> list[Gate]:
    """The transistors whose gates a driver's output reaches, directly or through one resistor."""
    circuit = context.circuit
    start = channel.pins.get("output", -1)
    if start < 0:
        return []
    reached = {start: 0.0}
    for element, pin in circuit.elements_at(start):
        if circuit.letter(element) == "R" and pin < 2:
            ohms = context.lookup.ohms(element) or 0.0
            reached.setdefault(circuit.pins(element)[1 - pin], ohms)
    found = []
    for net, ohms in reached.items():
        for element, pin in circuit.elements_at(net):
            if circuit.letter(element) == "M" and pin == 1:
                found.append(Gate(element, ohms, _at_gate(context, net)))
    return found


def _at_gate(context: Context, net: int) -> float:
    """The capacitors of the netlist at a gate, farads."""
    circuit = context.circuit
    return sum(
        circuit.value(element) or 0.0 for element, _ in circuit.elements_at(net) if circuit.letter(element) == "C"
    )


def _gate_times(context: Context, channel: Channel, setting: Setting, terms: list[Term]) -> tuple[float, float]:
    """The most that a gate takes to turn off, and the least to turn on, seconds."""
    off, on = 0.0, math.inf
    for gate in gates(context, channel):
        device = device_of(context.circuit, gate.element)
        if not isinstance(device, Mos) or gate.farads <= 0.0 or gate.ohms <= 0.0:
            on = 0.0
            continue
        supply = channel.pins.get("supply", -1)
        held = None if supply < 0 else context.lookup.walker.held(supply)
        if held is None or held.kind != "supply":
            on = 0.0
            continue
        volts = context.lookup.supply(supply, held)
        terms.append(volts)
        top = setting.high(volts)
        fact = context.facts.element(context.circuit.path(gate.element)).gate_full_on
        level = abs(device.VTO) + _VOLTS_ABOVE if fact is None else fact.value
        tau = gate.ohms * gate.farads
        off = max(off, tau * math.log(max(top / max(abs(device.VTO) / 2.0, 1e-3), 1.0)))
        on = min(on, tau * math.log(top / (top - level)) if top > level else math.inf)
    return off, 0.0 if math.isinf(on) else on


def _device_times(context: Context, channel: Channel, setting: Setting, terms: list[Term]) -> tuple[float, float]:
    """The longest turn-off and the shortest turn-on time of the transistors themselves, seconds.

    Where neither is stated, one whose gate has capacitors in the netlist is drawn by them; of another the difference of
    both counts as turn-off time.
    """
    off, on = 0.0, math.inf
    for gate in gates(context, channel):
        path = context.circuit.path(gate.element)
        rows = ElementFacts.turn_off_time, ElementFacts.turn_on_time
        known = [context.facts.of(row, path) for row in rows]
        if all(stated is None for stated in known) and gate.farads > 0.0:
            on = 0.0
            continue
        if known[0] is None:
            term = fact_terms.defaulted(rows[0], path, _DEVICE, title=f"turn-off less turn-on time of {path}")
            terms.append(term)
            off, on = max(off, setting.high(term)), 0.0
            continue
        off = max(off, known[0].value)
        on = min(on, 0.0 if known[1] is None else known[1].value)
    return off, 0.0 if math.isinf(on) else on


def in_series(context: Context, channel: Channel, other: Channel) -> bool:
    """Whether the transistors behind two drivers lie in series: the source of one is the drain of the other."""
    circuit = context.circuit
    for one in gates(context, channel):
        for two in gates(context, other):
            first, second = circuit.pins(one.element), circuit.pins(two.element)
            if one.element != two.element and (first[2] == second[0] or second[2] == first[0]):
                return True
    return False


_NOTHING = Network((), (), ())


def all_halves(context: Context) -> tuple[Channel, ...]:
    """The channels of a netlist, and behind them the outputs of gate drivers of which no channels are made."""
    made = {channel.part.element for channel in context.channels}
    parts = context.interfaces.recognition.parts.values()
    drivers = [part for part in parts if "gate" in part.kind.owns and part.element not in made]
    return (*context.channels, *(half for part in drivers for half in _outputs(context, part)))


def _outputs(context: Context, part: Part) -> Iterator[Channel]:
    """The outputs of a gate driver that turn a gate off, with their supplies; of several each by its name."""
    nets = context.circuit.pins(part.element)
    rails = list(supply_pins(part))
    sinking = [output for output in outputs(context.lookup, part) if output.off]
    for output in sinking:
        group = next((group for group in part.groups if output.pin in group), ())
        supply = next((nets[rail.pin] for rail in rails if rail.pin in group), -1)
        pins = {"output": output.net, "supply": supply}
        name = "" if len(sinking) == 1 or part.record is None else part.record.pins[output.pin]
        yield Channel(part, name, pins, _NOTHING, _NOTHING)


def half_bridges(context: Context, channel: Channel) -> Iterator[Channel]:
    """The channels behind this one whose transistor lies in series with its own."""
    later = False
    for other in all_halves(context):
        if later and "gate" in other.part.kind.owns and in_series(context, channel, other):
            yield other
        later = later or other.subject == channel.subject

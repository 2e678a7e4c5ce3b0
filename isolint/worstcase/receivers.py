"""What reads a coupler's output, and the level that it asks for.

In: a channel's load network. Out: `Receiver`s: logic inputs, transistor bases, gates, switches with a threshold,
coils, the next LED. Levels that nobody stated come from the device or from the logic family of the supply.
"""

from __future__ import annotations

from collections.abc import Container
from typing import TYPE_CHECKING, Literal, NamedTuple

from isolint.facts import InputFacts
from isolint.interfaces.entities import Channel, Part
from isolint.parts import records
from isolint.results import MissingFact
from isolint.tables import basic_string
from isolint.worstcase.demands import Threshold, logic_level, thresholds
from isolint.worstcase.devices import Bipolar, Mos
from isolint.worstcase.network_build import lacking_coil, led_in
from isolint.worstcase.uncertain import Lacking, Term

if TYPE_CHECKING:
    from isolint.worstcase.load import LoadAnalyser

BASE_OFF_VOLTS = 0.4
"""Volts from base to emitter at which a transistor is off."""

MOST_LOGIC_VOLTS = 5.5

NO_MOVE = 1e-6
"""Volts below which a movement tells no direction."""

ReceiverKind = Literal["input", "bjt", "mos", "coil", "threshold", "led"]


class Receiver(NamedTuple):
    """Something that reads a channel's output.

    net: where it reads (-1 for a coil or an LED). element: the BJT, MOS, relay, switch or coupler, -1 for a logic
    input. inverted: the coupler pulls it low or switches it off. level: volts to be reached (amperes for a coil and an
    LED, for the base current of a BJT 0). words: for messages. terms: what a level rests on that nobody stated. volts:
    the level of an LED is a voltage. minus: the net against which a switch reads.
    """

    kind: ReceiverKind
    net: int
    element: int
    inverted: bool
    level: float
    words: str
    terms: tuple[Term, ...] = ()
    volts: bool = False
    minus: int = -1


class ReceiverFinder:
    """Finds what reads the outputs of one netlist, in the setting of its load analyser."""

    def __init__(self, loads: LoadAnalyser) -> None:
        self.loads = loads
        self.lookup = loads.lookup
        self.circuit = loads.circuit
        self.recognition = loads.recognition

    def reading(self, channel: Channel) -> tuple[int, ...]:
        """What reads the output: nets, and LEDs and coils by their element as -1 - element."""
        inner = set(channel.load.inner)
        nets = [held.net for held in channel.load.boundary if held.kind == "input"]
        nets += [self.circuit.pins(element)[1] for element in self._readers(channel, inner)]
        for switch in thresholds(self.lookup, channel.load.inner):
            nets += [net for net in (switch.plus, switch.minus) if net in inner]
        parts = [-1 - element for element, _ in channel.load.branches if element != channel.part.element]
        return tuple(dict.fromkeys((*nets, *parts)))

    def find(self, channel: Channel, chosen: Container[int] | None = None) -> list[Receiver]:
        """Everything that reads the output; `Lacking` when a part on it is not explained or nothing is known.

        chosen: those of `reading` that are asked for, all where it is None.
        """

        def asked(*keys: int) -> bool:
            return chosen is None or any(key in chosen for key in keys)

        found: list[Receiver] = []
        for held in channel.load.boundary:
            if held.kind == "input" and not asked(held.net):
                continue
            if held.kind == "input":
                # Behind a transistor that never moves it says nothing; that transistor is asked.
                if self._moves(channel, held.net) or not self._readers(channel, set(channel.load.inner)):
                    found.append(self._logic_input(channel, held.net))
            elif (
                held.kind == "part"
                and held.element not in self.recognition.parts
                and len(self.circuit.pins(held.element)) > 1
            ):
                name = self.circuit.net_name(held.net)
                text = f"net {name} goes to {self.circuit.path(held.element)}, and nobody says what reads it there"
                raise Lacking(text, [self._input_fact(channel, name)])
        inner = set(channel.load.inner)
        for element in self._readers(channel, inner):
            if not asked(self.circuit.pins(element)[1]):
                continue
            letter = self.circuit.letter(element)
            found.append(
                self._transistor(channel, element, "bjt" if letter == "Q" else "mos", self.circuit.pins(element)[1])
            )
        found.extend(
            self._threshold(channel, item)
            for item in thresholds(self.lookup, channel.load.inner)
            if asked(item.plus, item.minus)
        )
        for element, pins in channel.load.branches:
            if not asked(-1 - element):
                continue
            part = self.recognition.parts[element]
            if element != channel.part.element and "anode" in (part.roles[pin] for pin in pins):
                found.append(self._led(channel, part))
            # A coil behind a transistor is that transistor's load, not the coupler's.
            if "coil" in part.kind.inputs and not any(receiver.kind in ("bjt", "mos") for receiver in found):
                found.append(self._coil(element))
        if not found and chosen is None:
            ends = [net for role, net in channel.pins.items() if role in ("collector", "emitter", "output")]
            at_ends = {net: self.lookup.walker.held(net) for net in ends}
            moving = [net for net in ends if (at := at_ends[net]) is None or at.kind != "ground"]
            name = self.circuit.net_name(next((net for net in ends if net in inner), (moving or ends)[0]))
            raise Lacking(f"nobody says what reads net {name}", [self._input_fact(channel, name)])
        return found

    def _readers(self, channel: Channel, inner: set[int]) -> list[int]:
        """The transistors whose base or gate lies in the load, without those that another one of them stands for.

        Of a darlington the first one counts (the second is its load), of a follower and what it drives the second one.
        """
        circuit = self.circuit
        readers = [
            element
            for element in channel.load.elements
            if element not in self.recognition.parts and circuit.letter(element) in "QM"
        ]
        readers = [element for element in readers if circuit.pins(element)[1] in inner]
        dropped: set[int] = set()
        for first in readers:
            for second in readers:
                one, other = circuit.pins(first)[:3], circuit.pins(second)[:3]
                if first != second and circuit.letter(first) == "Q" and one[2] == other[1]:
                    dropped.add(second if one[0] == other[0] else first)
        return [element for element in readers if element not in dropped]

    def _input_fact(self, channel: Channel, name: str) -> MissingFact:
        """What to state of an input, with the logic supply that the load hangs on and the levels usual there."""
        supply, low, high = "V3V3", 0.8, 2.0
        for held in channel.load.boundary:
            if held.kind != "supply" or self.lookup.is_alternating(held.net):
                continue
            try:
                volts = self.lookup.supply(held.net, held).nominal
            except Lacking:
                continue
            if 0.0 < volts <= MOST_LOGIC_VOLTS:
                supply, low, high = self.circuit.net_name(held.net), 0.3 * volts, 0.7 * volts
                break
        lines = (
            InputFacts.supply.line(name, example=basic_string(supply)),
            InputFacts.low_max.entry(example=f'"{low:.3g} V"'),
            InputFacts.high_min.entry(example=f'"{high:.3g} V"'),
        )
        return self.lookup.missing_lines(InputFacts.low_max, name, *lines)

    def _logic_input(self, channel: Channel, net: int) -> Receiver:
        name = self.circuit.net_name(net)
        inverted = self._falls(channel, net)
        demand = logic_level(self.lookup, net, inverted, self.loads.setting)
        words = f"input {name} {'low' if inverted else 'high'}"
        return Receiver("input", net, -1, inverted, demand.level, words, demand.terms)

    def _transistor(self, channel: Channel, element: int, kind: ReceiverKind, net: int) -> Receiver:
        path = self.circuit.path(element)
        device = self.loads.device(element)
        low, high = self.loads.voltage_pair(channel, net)
        polarity = device.polarity if isinstance(device, Bipolar | Mos) else 1
        turns_off = (high - low) * polarity < 0.0
        if kind == "bjt":
            return Receiver(
                kind,
                net,
                element,
                turns_off,
                BASE_OFF_VOLTS if turns_off else 0.0,
                f"transistor {path} {'off' if turns_off else 'on'}",
            )
        if not isinstance(device, Mos):
            raise Lacking(f"the model of {path} can't be solved here")
        fact = self.lookup.facts.element(path).gate_full_on
        on = abs(device.VTO) + 1.0 if fact is None else fact.value
        return Receiver(
            kind,
            net,
            element,
            turns_off,
            abs(device.VTO) / 2 if turns_off else on,
            f"gate of {path} {'off' if turns_off else 'on'}",
        )

    def _threshold(self, channel: Channel, found: Threshold) -> Receiver:
        """A switch with a threshold, which stands for a comparator."""
        rising = [
            self.loads.voltage_pair(channel, net) if net in channel.load.inner else (0.0, 0.0)
            for net in (found.plus, found.minus)
        ]
        opens = (rising[0][1] - rising[0][0]) - (rising[1][1] - rising[1][0]) < 0.0
        words = f"switch {self.circuit.path(found.element)} {'off' if opens else 'on'}"
        return Receiver(
            "threshold", found.plus, found.element, opens, found.off if opens else found.on, words, minus=found.minus
        )

    def _led(self, channel: Channel, part: Part) -> Receiver:
        """The LED of another coupler, which the output lights or shunts."""
        made = self.loads.assembled(channel)
        vector = made.nominal(self.loads.setting)
        name, _, _ = led_in(self.circuit, part, made)
        dark, lit = (self.loads.solved(made, channel, vector, 25.0, amps, ()).current(name) for amps in (0.0, 10e-6))
        level, volts = self.loads.beside.asked(channel, part, lit < dark)
        return Receiver(
            "led",
            -1,
            part.element,
            lit < dark,
            level,
            f"LED of {part.path} {'off' if lit < dark else 'on'}",
            volts=volts,
        )

    def _coil(self, element: int) -> Receiver:
        part = self.recognition.parts[element]
        coil = None if part.record is None else part.record.coil
        if coil is None or coil.resistance is None:
            raise lacking_coil(self.lookup, part, records.Coil.resistance, "resistance")
        if coil.pull_in is None:
            raise lacking_coil(self.lookup, part, records.Coil.pull_in, "pull-in voltage")
        return Receiver("coil", -1, element, False, coil.pull_in / coil.resistance, f"coil of {part.path} pulled in")

    def _moves(self, channel: Channel, net: int) -> bool:
        """Whether the output moves a net at all."""
        without, with_current = self.loads.voltage_pair(channel, net)
        return abs(with_current - without) >= NO_MOVE

    def _falls(self, channel: Channel, net: int) -> bool:
        """Whether the voltage of a net falls when the output conducts."""
        without, with_current = self.loads.voltage_pair(channel, net)
        if not self._moves(channel, net):
            raise Lacking(f"the output does not move net {self.circuit.net_name(net)}", blocked_by="load")
        return with_current < without

"""Channels with identical cards and identical surroundings: judged once, said for each.

In: a context. Out: groups of channels that differ in names and lines only, and results of one said in the names of
another. All that a rule may look at is keyed by cards, values, models, facts and order, as far as it reaches. A net
that is a supply or a reference, or that many elements touch, must be the very same one, and so must an element that
names others. Of each group two channels are judged. Only where the results of the first, in the names of the second,
are those of the second to the letter are they said of the others too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from operator import itemgetter
from typing import NamedTuple, TypeVar, cast

from isolint.checking.context import Context
from isolint.checking.driven_stage import driven_transistors
from isolint.checking.equalised import equalised
from isolint.errors import Place
from isolint.interfaces.entities import Channel, Network, Part
from isolint.interfaces.netnames import is_earth_name, is_ground_name, is_supply_name, own_name, voltage_of_name
from isolint.results import Result

FEWEST = 3
"""Below this number of twins nothing is won."""

MOST_TOUCHING = 64
"""A net that more elements touch, or an element with more pins, must be the very same one."""

MOST_ELEMENTS = 256
"""A channel whose surroundings reach further has no twins."""

Key = tuple[Hashable, ...]

_Ordered = TypeVar("_Ordered", str, int, Place)

_DIGITS = re.compile(r"\d+")


class Twin(NamedTuple):
    """A channel with the names of all that it may speak of, in the order of its group; `places` are their ids.

    spots: where the cards of its elements stand, which are the first of the places.
    """

    channel: Channel
    names: tuple[str, ...]
    places: tuple[int, ...]
    spots: tuple[Place, ...]


def find_twins(context: Context, blocked: Mapping[str, Hashable]) -> list[list[Twin]]:
    """Groups of at least three channels that differ in names only, each in the order of the cards.

    blocked: what is known of a channel beforehand, by subject.
    """
    describe = _Describer(context)
    groups: dict[Key, list[Twin]] = {}
    paired = {name.casefold() for pair in context.facts.pairs for name in pair.channels}
    for channel in _repeated(context):
        if channel.subject.casefold() in paired or channel.part.kind.output.switch or "gate" in channel.part.kind.owns:
            # What switches in turn with it, or what it switches, lies beyond its own surroundings.
            continue
        if driven_transistors(context, channel):
            # So does what these switch.
            continue
        if channel.load.pairs and equalised(context.analysis, channel) is not None:
            # So does what drives those that are to share its voltage.
            continue
        made = describe.channel(channel)
        if made is not None:
            key, twin = made
            groups.setdefault((key, blocked.get(channel.subject)), []).append(twin)
    found: list[list[Twin]] = []
    for group in groups.values():
        if len(group) < FEWEST:
            continue
        # What is the same in the first two must be in all, and nothing else: only such names were put to the test.
        first, second = group[:2]
        alike = _alike(first, second)
        chosen = [first, *(twin for twin in group[1:] if _alike(first, twin) == alike)]
        if len(chosen) >= FEWEST:
            found.append(chosen)
    return found


def _repeated(context: Context) -> list[Channel]:
    """The channels that may have twins: those of like cards are many enough."""
    circuit = context.circuit
    found: dict[Key, list[Channel]] = {}
    for channel in context.channels:
        instance, index = circuit.locate(channel.part.element)
        where: Key = ("", channel.part.model_name)
        if instance != circuit.instances[0]:
            where = (circuit.block(instance).scope, index)
        found.setdefault((where, channel.name), []).append(channel)
    return [channel for group in found.values() if len(group) >= FEWEST for channel in group]


def _alike(one: Twin, other: Twin) -> tuple[bool, ...]:
    return tuple(
        name == second and place == third
        for name, second, place, third in zip(one.names, other.names, one.places, other.places, strict=True)
    )


class _Describer:
    """Describes channels by everything but names. Nets and instances are numbered as they are met."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self._nets: dict[int, Key] = {}
        self._names: dict[str, Key] = {}
        self._controlled: dict[int, list[int]] = {}
        self._touching: dict[int, list[tuple[int, int]] | None] = {}
        self.far: set[int] = set()
        """Nets around which more elements lie than are described."""
        circuit = context.circuit
        for element in circuit.elements_of("SEG"):
            for net in circuit.controls(element):
                self._controlled.setdefault(net, []).append(element)

    def channel(self, channel: Channel) -> tuple[Key, Twin] | None:
        """The key of a channel, and the channel with its names; None where its surroundings reach too far."""
        return _Description(self, channel).made()

    def facts_of(self, net: int) -> Key:
        """What facts and its name say of a net. Records that several nets share are one."""
        known = self._nets.get(net)
        if known is None:
            facts, name = self.context.facts, self.context.circuit.net_name(net)
            stated = (facts.supply, facts.output, facts.input, facts.line, facts.signal, facts.load)
            # Where an element is called as the net is, messages say which of the two they speak of.
            alone = self.context.lookup.source_name(net) == name
            known = self._nets[net] = (*(id(ask(name)) for ask in stated), alone, *self._told(own_name(name)))
        return known

    def _told(self, own: str) -> Key:
        """What a net's own name says."""
        known = self._names.get(own)
        if known is None:
            told = (is_ground_name(own), is_earth_name(own), is_supply_name(own), voltage_of_name(own))
            known = self._names[own] = told
        return known

    def touching(self, net: int) -> list[tuple[int, int]] | None:
        """The elements at a net and their pins, -1 for those that it controls; None where it stands for itself."""
        if net not in self._touching:
            self._touching[net] = self._found_at(net)
        return self._touching[net]

    def _found_at(self, net: int) -> list[tuple[int, int]] | None:
        held = self.context.lookup.walker.held(net)
        if held is not None and held.kind in ("supply", "ground"):
            return None
        found = [*self.context.circuit.elements_at(net), *((element, -1) for element in self._controlled.get(net, ()))]
        return None if len(found) > MOST_TOUCHING else found


class _Description:
    """One channel while it is described."""

    def __init__(self, describer: _Describer, channel: Channel) -> None:
        self.d = describer
        self.circuit = describer.context.circuit
        self.recognition = describer.context.interfaces.recognition
        self.subject = channel
        self.instances: dict[int, int] = {}
        self.elements: dict[int, int] = {}
        self.nets: dict[int, int] = {}
        self.key: list[Hashable] = []

    def made(self) -> tuple[Key, Twin] | None:
        channel = self.subject
        self._element(channel.part.element)
        self.key += [
            channel.name,
            len(channel.loop),
            tuple((role, self._net(net)) for role, net in channel.pins.items()),
        ]
        for network in (channel.drive, channel.load):
            self._network(network)
        looked = 0
        while looked < len(self.nets):
            # More nets come in while they are looked at.
            for net in list(self.nets)[looked:]:
                self._surroundings(net)
                looked += 1
                # What reaches as far as another one does that reaches too far, does so itself.
                if len(self.elements) > MOST_ELEMENTS or net in self.d.far:
                    self.d.far.update(net for net in self.nets if self.d.touching(net) is not None)
                    return None
        self.key += [self.d.facts_of(net) for net in self.nets]
        circuit, separation = self.circuit, self.d.context.interfaces.separation
        on = [separation.side_of_net.get(net) for net in self.nets]
        sides = {index: number for number, index in enumerate(dict.fromkeys(on))}
        met = [separation.sides[index] for index in sides if index is not None]
        self.key += [tuple(sides[index] for index in on), tuple((side.stated, side.kind) for side in met)]
        names = [circuit.path(element) for element in self.elements]
        names += [circuit.net_name(net) for net in self.nets]
        self._ordered([name.casefold() for name in names])
        self._ordered(list(self.elements))
        self._ordered([net for net in self.nets if self.d.touching(net) is not None])
        spots = tuple(map(circuit.place, self.elements))
        self._ordered(spots)
        self._one_where(spots)
        names += [circuit.instance_path(element) for element in self.elements]
        names += [side.name for side in met]
        # As messages say where a card stands.
        names += [f"{spot.file.rsplit('/', 1)[-1]}:{spot.line}" for spot in spots]
        # Two that have one name in this channel have one name in each.
        self._one_where(names)
        places = (*self.elements, *self.nets)
        padded = (*places, *(-1 for _ in names[len(places) :]))
        return tuple(self.key), Twin(channel, tuple(names), padded, spots)

    def _ordered(self, values: Sequence[_Ordered]) -> None:
        """In which order values stand that are others in each channel."""
        self.key.append(tuple(sorted(range(len(values)), key=lambda index: (values[index], index))))

    def _one_where(self, values: Sequence[Hashable]) -> None:
        """Which of some values are the same."""
        first: dict[Hashable, int] = {}
        self.key.append(tuple(first.setdefault(value, index) for index, value in enumerate(values)))

    def _surroundings(self, net: int) -> None:
        touching = self.d.touching(net)
        if touching is None:
            self.key.append(("net", net))
        else:
            self.key.append(tuple((self._element(element), self._pin(element, pin)) for element, pin in touching))

    def _network(self, network: Network) -> None:
        self.key.append(tuple(map(self._element, network.elements)))
        self.key.append(tuple(map(self._net, network.inner)))
        self.key.append(
            tuple(
                (self._net(held.net), held.kind, self._element(held.element) if held.element >= 0 else -1)
                for held in network.boundary
            )
        )
        self.key.append(tuple((self._element(element), pins) for element, pins in network.branches))
        self.key.append(tuple((self._element(pair.element), pair[1:]) for pair in network.pairs))
        self.key.append(network.complete)

    def _net(self, net: int) -> int:
        return self.nets.setdefault(net, len(self.nets))

    def _pin(self, element: int, pin: int) -> int:
        """The pin by number; which pin of a part without a record a net is on says nothing."""
        ordinary = element in self.recognition.ordinary or element in self.recognition.unknown
        ordinary = ordinary and element not in self.recognition.kept_apart
        return -2 if ordinary and self.circuit.letter(element) in "XUA" else pin

    def _element(self, element: int) -> int:
        known = self.elements.get(element)
        if known is not None:
            return known
        number = self.elements[element] = len(self.elements)
        circuit = self.circuit
        instance, index = circuit.locate(element)
        if instance == circuit.instances[0] and circuit.control_names(element):
            self.key.append(("the same", element))
            return number
        stimulus = circuit.stimulus(element)
        if instance == circuit.instances[0]:
            # Of a name may count which letters it holds, not which number.
            card: Key = (circuit.letter(element), _DIGITS.sub("#", circuit.name(element)), circuit.model_name(element))
        else:
            card = (self.instances.setdefault(instance, len(self.instances)), circuit.block(instance).scope, index)
        self.key += [
            (number, *card),
            (circuit.value(element), circuit.value_text(element), stimulus, tuple(circuit.tail(element).items())),
            tuple(circuit.model_parameters(element).items()),
            id(self.d.context.facts.element(circuit.path(element))),
            _said_of(self.recognition.parts.get(element)),
            element in self.recognition.ordinary,
            element in self.recognition.unknown,
        ]
        pins = circuit.pins(element)
        self.key.append(tuple(map(self._net, pins)) if len(pins) <= MOST_TOUCHING else ("element", element))
        return number


def _said_of(part: Part | None) -> Key:
    if part is None:
        return ()
    said = part.type, part.roles, part.groups, part.recognised_by, part.model_name, part.channels, part.typical
    return id(part.record), *said


# -- results in other names ----------------------------------------------------------------------------------------

_Fill = Callable[[Twin], object]


class Template:
    """Says of the twins of two channels what is said of the first one."""

    def __init__(self, twin: Twin, alike: Twin) -> None:
        self._slots: dict[str, int] = {}
        for slot, (name, other) in enumerate(zip(twin.names, alike.names, strict=True)):
            if name != other and name:
                self._slots.setdefault(name, slot)
        self._spots: dict[Place, int] = {}
        for slot, (spot, there) in enumerate(zip(twin.spots, alike.spots, strict=True)):
            if spot != there:
                self._spots.setdefault(spot, slot)
        ordered = sorted(self._slots, key=len, reverse=True)
        text = "|".join(map(re.escape, ordered))
        self._regex = re.compile(rf"(?<![\w.])({text})(?!\w)") if ordered else None

    def of(self, results: Iterable[Result]) -> Callable[[Twin], list[Result]]:
        """What makes results of the first channel in the names of another one."""
        fills = [(result, self._filled(result)) for result in results]
        return lambda twin: [result if fill is None else cast(Result, fill(twin)) for result, fill in fills]

    def _filled(self, value: object) -> _Fill | None:
        """How a value is made in other names; None where it holds none."""
        if isinstance(value, str):
            return self._text(value)
        if isinstance(value, Place):
            return self._place(value)
        if isinstance(value, tuple):
            return _tuple(value, [self._filled(each) for each in value])
        if isinstance(value, Mapping):
            return _mapping(self._filled(tuple(value.items())))
        return None

    def _place(self, place: Place) -> _Fill | None:
        spot = self._spots.get(place)
        return None if spot is None else lambda twin: twin.spots[spot]

    def _text(self, text: str) -> _Fill | None:
        pieces = self._regex.split(text) if self._regex is not None else [text]
        if len(pieces) == 1:
            return None
        slots = [self._slots[name] for name in pieces[1::2]]
        if pieces == ["", pieces[1], ""]:
            (slot,) = slots
            return lambda twin: twin.names[slot]
        form = "%s".join(piece.replace("%", "%%") for piece in pieces[::2])
        if len(slots) == 1:
            (slot,) = slots
            return lambda twin: form % (twin.names[slot],)
        taken = itemgetter(*slots)
        return lambda twin: form % taken(twin.names)


def _tuple(value: tuple[object, ...], fills: Sequence[_Fill | None]) -> _Fill | None:
    """How a tuple is made of which some members hold names."""
    if not any(fills):
        return None
    changed = [(index, fill) for index, fill in enumerate(fills) if fill is not None]
    # A record of named fields is a tuple too.
    kind, new = type(value), tuple.__new__

    def filled(twin: Twin) -> object:
        made = list(value)
        for index, fill in changed:
            made[index] = fill(twin)
        return new(kind, made)

    return filled


def _mapping(fill: _Fill | None) -> _Fill | None:
    return None if fill is None else lambda twin: dict(cast(Iterable[tuple[object, object]], fill(twin)))

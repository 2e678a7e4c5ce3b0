"""Finds what the places of unexplained parts tell: asked by name, by pair of grounds, or listed."""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Iterable

from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.facts.paths import FILE_NAME
from isolint.interfaces.entities import Recognition
from isolint.interfaces.netnames import GROUND_HINTS, is_supply_name
from isolint.interfaces.references import nets_named, simulation_ground
from isolint.interfaces.sides import ignored_elements
from isolint.positions.domains import Labels, find_labels
from isolint.positions.flat import Flat, flatten, is_unread
from isolint.positions.found import Asked, Claim, DoubtfulPair, Positions, Sheet
from isolint.positions.guess import guess
from isolint.positions.neighbours import Neighbours
from isolint.positions.pairs import GroundPairs, Key
from isolint.positions.scores import PartPlace, place_of
from isolint.positions.spoken import (
    POLE_HINTS,
    SHORT_POLES,
    is_connector,
    is_earth,
    is_reference_name,
    mains_pole,
    reference_letters,
)
from isolint.positions.united import Domains, Tie, Union, find_islands

_STRONG = 5
"""The score from which one instance is enough for its name."""

_CONNECTING = frozenset("RLCKVIDQMJSWEGFHBTO")


def find_positions(circuit: Circuit, facts: Facts, recognition: Recognition, netlist: str = "") -> Positions:
    """What the places of the unexplained parts of a netlist tell; quick where all are explained.

    netlist: its path in the tree, by which the settings in its own folder are known.
    """
    claim = _claim(facts, recognition, netlist)
    counted, unexplained, unread = _counted(circuit, recognition)
    if not unread:
        return Positions(parts=counted, claim=claim)
    off = simulation_ground(circuit, facts)
    flat = flatten(circuit, recognition, unread, frozenset(ignored_elements(circuit, facts)), off)
    references = _references(circuit, facts, off)
    union = find_islands(flat, references)
    near = Neighbours(flat, union)
    labels = find_labels(flat, near)
    found = _Finder(flat, recognition, labels, near).positions(counted, unexplained)
    return _silenced(found) if claim == "stated" else found._replace(claim=claim)


def _claim(facts: Facts, recognition: Recognition, netlist: str) -> Claim:
    """Whether the settings in the netlist's own folder claim that nothing isolates, and nothing contradicts it."""
    stated = facts.reading.isolation
    if stated is None or stated.file != posixpath.join(posixpath.dirname(netlist), FILE_NAME):
        return ""
    return "ignored" if recognition.parts or len(facts.sides) > 1 else "stated"


def _silenced(found: Positions) -> Positions:
    """The same with nothing asked: somebody claims that no part isolates."""
    asked = [*found.asked, *(entry for pair in found.pairs for entry in pair.parts)]
    return found._replace(
        asked=(),
        across=(),
        pairs=(),
        listed=(*found.listed, *((entry.name, entry.elements) for entry in asked)),
        sheet="",
        apart=frozenset(),
        claim="stated",
    )


def _counted(circuit: Circuit, recognition: Recognition) -> tuple[int, int, frozenset[int]]:
    """How many parts of four pins and more there are, connectors apart, how many of them nobody explained, and all
    parts that nothing explains."""
    unread: set[int] = set()
    count, unexplained = len(recognition.parts), 0
    for element in recognition.ordinary:
        count += circuit.letter(element) not in _CONNECTING and len(circuit.pins(element)) > 3
    known_bare: dict[tuple[int, str, str | None], bool] = {}
    block, base, end = circuit.block(0), 0, 0
    for element, known in recognition.unknown.items():
        if not base <= element < end:
            instance, index = circuit.locate(element)
            block, base = circuit.block(instance), element - index
            end = base + len(block.letters)
        index = element - base
        letter, model = block.letters[index], block.models[index]
        body = block.scope, letter, model
        if body not in known_bare:
            known_bare[body] = is_unread(circuit, element)
        bare = bool(known.suspected_type) or known_bare[body]
        if bare:
            unread.add(element)
        if len(block.pins[index]) > 3 and not is_connector(reference_letters(block.names[index], letter)):
            count += 1
            unexplained += bare
    return count, unexplained, frozenset(unread)


def _references(circuit: Circuit, facts: Facts, off: int) -> Domains:
    """The nets that are a reference: stated first, then by name; earth is one, mains poles are one."""
    of_net: dict[int, int] = {}
    nets: list[int] = []
    names: list[str] = []
    stated: set[int] = set()

    def add(net: int, name: str) -> int:
        nets.append(net)
        names.append(name)
        of_net[net] = len(nets) - 1
        return len(nets) - 1

    for side, fact in facts.sides.items():
        number = -1
        for written in fact.nets.value if fact.nets is not None else ():
            for net in nets_named(circuit, written):
                if net != off and net not in of_net:
                    number = add(net, side) if number < 0 else number
                    of_net[net] = number
                    stated.add(number)
    hints = (*GROUND_HINTS, "com", "rtn", "ret", "pe", "fe", "chas", "shield", "shld", "frame")
    zero = circuit.find_net("0")
    earth = -1
    for net in sorted({*circuit.nets_holding(hints), *(() if zero is None else (zero,))}):
        if net == off or net in of_net:
            continue
        name = circuit.net_name(net)
        if is_earth(name):
            earth = add(net, name) if earth < 0 else earth
            of_net[net] = earth
        elif is_reference_name(name):
            add(net, name)
    mains = _mains(circuit, of_net, earth >= 0)
    number = -1
    for net in mains:
        number = add(net, "the mains poles") if number < 0 else number
        of_net[net] = number
    return Domains(of_net, tuple(nets), tuple(names), earth, number, frozenset(stated))


def _mains(circuit: Circuit, known: Collection[int], earthed: bool) -> list[int]:
    """The nets named as poles of the mains, where a neutral or an earth is there too."""
    short = (circuit.find_net(name) for name in SHORT_POLES)
    nets = {*circuit.nets_holding(POLE_HINTS), *(net for net in short if net is not None)}
    poles = {net: mains_pole(circuit.net_name(net)) for net in nets if net not in known}
    found = {net: pole for net, pole in poles.items() if pole}
    if "line" not in found.values() or not ("neutral" in found.values() or earthed):
        return []
    return sorted(found)


class _Finder:
    """Turns places into what is asked and what is listed."""

    def __init__(self, flat: Flat, recognition: Recognition, labels: Labels, near: Neighbours) -> None:
        self.flat = flat
        self.circuit = flat.circuit
        self.recognition = recognition
        self.labels = labels
        self.near = near
        self.union: Union = labels.union
        self.references = labels.union.references
        self.grounds = GroundPairs(flat, labels, near)

    def _places(self) -> tuple[dict[str, str], dict[str, list[PartPlace]]]:
        """The name of each part as it is shown, and where the parts of that name are; by name in lower case."""
        places: dict[str, list[PartPlace]] = {}
        shown: dict[str, str] = {}
        for part, islands in zip(self.flat.parts, self.near.islands, strict=True):
            element = part[0]
            known = self.recognition.unknown.get(element)
            told = known.suspected_type if known is not None else ""
            place = place_of(self.flat, self.labels, self.near, part, islands, told)
            name = self._name(element)
            key = name.casefold()
            shown.setdefault(key, name)
            places.setdefault(key, []).append(place)
        return shown, places

    def positions(self, parts: int, unexplained: int) -> Positions:
        shown, places = self._places()
        asked: list[Asked] = []
        doubtful: dict[Key, list[Asked]] = {}
        listed: list[tuple[str, tuple[int, ...]]] = []
        strays: list[PartPlace] = []
        for key, own in places.items():
            name, elements = shown[key], tuple(place.element for place in own)
            strays.extend(place for place in own if place.across and not place.is_candidate)
            best = self._best(own)
            if best is None:
                listed.append((name, elements))
                continue
            entry = Asked(name, best, guess(self.flat, self.near, best), elements)
            pair = self.grounds.between(best)
            if pair is None:
                asked.append(entry)
            else:
                doubtful.setdefault(pair, []).append(entry)
        pairs, one_ground = self._pairs(doubtful)
        for merged in one_ground:
            listed.extend((entry.name, entry.elements) for entry in merged.parts)
        names = tuple(shown[key] for key in places)
        connectors = tuple(self._connectors())
        return Positions(
            tuple(asked),
            tuple(self._small()),
            tuple(pairs),
            tuple(one_ground),
            tuple(listed),
            tuple(strays),
            connectors,
            tuple(self.union.stars),
            unexplained,
            parts,
            names,
            tuple(dict.fromkeys(self.references.names[number] for number in self._sides())),
            self.references.mains >= 0,
            self._sheet(),
            labels=dict(
                self._label_names([*asked, *(entry for pair in pairs for entry in pair.parts)], strays, connectors)
            ),
            apart=frozenset(
                (
                    *(element for entry in asked for element in entry.elements),
                    *(element for pair in pairs for entry in pair.parts for element in entry.elements),
                    *(tie.element for tie in self.union.ties if not tie.known),
                    *(suspect.element for suspect in self.recognition.suspects),
                )
            ),
            grounds=self.references.names,
        )

    def _name(self, element: int) -> str:
        return self.circuit.model_name(element) or self.circuit.path(element)

    def _sides(self) -> list[int]:
        """The references that may be sides, those of one island once."""
        found: dict[int, int] = {}
        for net, number in self.references.of_net.items():
            if number not in (self.references.earth, self.references.mains):
                found.setdefault(self.union.find(net), number)
        return list(found.values())

    def _best(self, places: list[PartPlace]) -> PartPlace | None:
        """The place that makes a name asked: one strong one, or half of its instances; None where it is only listed."""
        candidates = [place for place in places if place.is_candidate]
        if not candidates:
            return None
        best = max(candidates, key=lambda place: place.score)
        nameless = not self.references.of_net
        if 2 * len(candidates) >= len(places) or best.told or (nameless and best.score >= _STRONG):
            return best
        return best if best.across and best.own and best.score >= _STRONG else None

    def _pairs(self, doubtful: dict[Key, list[Asked]]) -> tuple[list[DoubtfulPair], list[DoubtfulPair]]:
        asked: list[DoubtfulPair] = []
        merged: list[DoubtfulPair] = []
        for key, entries in doubtful.items():
            (asked if self.grounds.is_asked(key, [entry.place for entry in entries]) else merged).append(
                self.grounds.pair(key, entries)
            )
        return asked, merged

    def _small(self) -> Iterable[tuple[str, tuple[Tie, ...]]]:
        """Unexplained parts of two or three pins between two references, by name."""
        found: dict[str, list[Tie]] = {}
        for tie in self.union.ties:
            if not tie.known and self.references.earth not in (tie.one, tie.other):
                found.setdefault(self._name(tie.element), []).append(tie)
        return ((name, tuple(ties)) for name, ties in found.items())

    def _connectors(self) -> Iterable[tuple[int, tuple[int, ...]]]:
        for element, nets in self.flat.connectors:
            islands = [self.union.parent[net] for net in nets]
            own = {label for label in self.labels.of(islands, element) if label is not None}
            if len(own) > 1:
                yield element, tuple(sorted(own))

    def _label_names(
        self, asked: Iterable[Asked], strays: Iterable[PartPlace], connectors: Iterable[tuple[int, tuple[int, ...]]]
    ) -> Iterable[tuple[int, str]]:
        yield from self._grounds()
        wanted = {label for entry in asked for label in entry.place.labels if label is not None and label < 0}
        wanted |= {label for place in strays for label in place.labels if label is not None and label < 0}
        wanted |= {label for _, own in connectors for label in own if label < 0}
        if not wanted:
            return
        best: dict[int, tuple[bool, int, int]] = {}
        islands = {island: label for island, label in self.labels.own.items() if label in wanted}
        for net, (count, island) in enumerate(zip(self.flat.degree, self.union.parent, strict=True)):
            if count > 1 and island in islands:
                label = islands[island]
                named = is_supply_name(self.circuit.net_name(net))
                best[label] = max(best.get(label, (False, 0, 0)), (named, count, -net))
        for label, (_, _, net) in sorted(best.items()):
            yield label, self.circuit.net_name(-net)

    def _grounds(self) -> Iterable[tuple[int, str]]:
        """The name of each reference: of those of one island the one that most pins lie on."""
        best: dict[int, int] = {}
        degree, root = self.flat.degree, self.union.parent
        for number, net in enumerate(self.references.nets):
            known = best.get(root[net])
            if known is None or degree[net] > degree[self.references.nets[known]]:
                best[root[net]] = number
        for number, net in enumerate(self.references.nets):
            yield number, self.references.names[best[root[net]]]

    def _sheet(self) -> Sheet:
        """Whether all returns are one node that sources feed, or no net is named as a reference."""
        sides = self._sides()
        if self.references.mains >= 0 or len(sides) > 1:
            return ""
        ends = [set(nets) for _, nets in self.flat.sources]
        if sides:
            ground = {net for net, number in self.references.of_net.items() if number == sides[0]}
            return "one node" if any(ground & own for own in ends) else ""
        shared = set.intersection(*ends) if ends else set()
        return "one node" if len(ends) > 1 and shared else "no reference"

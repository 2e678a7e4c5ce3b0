"""What is placed where: elements and nets of all instances by their ids, their names, and which touches which.

An element id is `element_base[instance] + index of the card in its scope`; a net id is `net_base[instance] +
local net`. A net is always named at the highest level that it reaches (`canonical`), so equal ids mean equal nets.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Collection, Iterator
from typing import Literal

from isolint.circuit.blocks import Block
from isolint.circuit.instances import TOP, Instances
from isolint.circuit.names import may_lead
from isolint.netlist.cards import Cards, Scope


class Placed:
    """Elements and nets of one netlist by integer ids, whatever stands on their cards."""

    def __init__(self, cards: Cards, instances: Instances) -> None:
        self.cards = cards
        self._i = instances
        self._prefixes: dict[int, str] = {}
        self._global_names = {net: name for name, net in instances.globals.items()}
        self._net_count = instances.net_base[-1] + len(instances.definition[-1].net_names)
        self._element_count = instances.element_base[-1] + len(instances.definition[-1].pins)
        self._blocks: dict[int, Block] = {}
        self._cards_named: Counter[str] | None = None
        self._holding: dict[tuple[str, ...], list[int]] = {}
        self._ports: dict[int, tuple[int, ...]] = {}

    # -- definitions and instances ----------------------------------------------------------------------------

    @property
    def instances(self) -> range:
        """The instances by number, the top level first; elements and nets are numbered one instance after the other."""
        return range(len(self._i.definition))

    def block(self, instance: int) -> Block:
        """What stands in an instance, by local number; one value for all instances of a definition."""
        definition = self._i.definition[instance]
        made = self._blocks.get(definition.scope)
        if made is None:
            members = tuple(self._i.by_scope[definition.scope])
            made = self._blocks[definition.scope] = Block(definition, self.cards.scopes[definition.scope], members)
        return made

    def blocks(self) -> Iterator[Block]:
        """Each definition that is placed, the top level first."""
        return (self.block(members[0]) for members in self._i.by_scope.values())

    def first_element(self, instance: int) -> int:
        """The element id of the first card of an instance; those of the others follow."""
        return self._i.element_base[instance]

    def is_sheet(self, element: int) -> bool:
        """Whether an element is a subcircuit call that is expanded."""
        return element in self._i.children

    def elements_of(self, letters: Collection[str]) -> Iterator[int]:
        """The elements with one of some letters, expanded subcircuit calls left out, in the order of `elements`."""
        wanted = frozenset(letters)
        children = self._i.children
        for instance in self.instances:
            base = self._i.element_base[instance]
            for index in self.block(instance).with_letters(wanted):
                if base + index not in children:
                    yield base + index

    def letters(self) -> frozenset[str]:
        """The letters of all elements."""
        return frozenset(letter for block in self.blocks() for letter in block.letters_used)

    def elements_like(self, pattern: str, regex: re.Pattern[str], what: Literal["path", "card", "last"]) -> set[int]:
        """The elements whose path, name on the card, or what stands behind the last dot of it matches a pattern.

        The pattern is given in folded case; `*` and `?` are wild in it.
        """
        found: set[int] = set()
        for block in self.blocks():
            names = block.last_names if what == "last" else block.element_names
            local = () if what == "path" and TOP not in block.members else names.like(pattern, regex)
            for instance in block.members:
                base = self._i.element_base[instance]
                found.update(base + index for index in local)
                if what == "path" and instance != TOP:
                    prefix = self._prefix(instance).casefold()
                    if may_lead(prefix, pattern):
                        paths = ((index, prefix + name.casefold()) for index, name in enumerate(block.names))
                        found.update(base + index for index, path in paths if regex.match(path))
        return found - self._i.children.keys()

    def cards_named(self, name: str) -> int:
        """How many cards of all placed definitions have a name behind the last dot of theirs, without case."""
        if self._cards_named is None:
            self._cards_named = Counter()
            for block in self.blocks():
                self._cards_named.update(block.last_names.folded())
        return self._cards_named[name.casefold()]

    # -- elements ---------------------------------------------------------------------------------------------

    def elements(self) -> Iterator[int]:
        """All elements, expanded subcircuit calls left out, in the order of the cards, instance by instance."""
        children = self._i.children
        for base, definition in zip(self._i.element_base, self._i.definition, strict=True):
            for element in range(base, base + len(definition.pins)):
                if element not in children:
                    yield element

    def sheets(self) -> Iterator[int]:
        """The subcircuit calls that are expanded."""
        return iter(sorted(self._i.children))

    def locate(self, element: int) -> tuple[int, int]:
        """The instance and the card index of an element."""
        instance = bisect_right(self._i.element_base, element) - 1
        # Instances without elements share their base with the next one; the last of them holds the element.
        return instance, element - self._i.element_base[instance]

    def letter(self, element: int) -> str:
        instance, index = self.locate(element)
        return self._scope(instance).letters[index]

    def name(self, element: int) -> str:
        """The name on the card."""
        instance, index = self.locate(element)
        return self._scope(instance).names[index]

    def path(self, element: int) -> str:
        """The name with the instances that lead to it: `Xch1.R1`."""
        instance, index = self.locate(element)
        return self._prefix(instance) + self._scope(instance).names[index]

    def pins(self, element: int) -> tuple[int, ...]:
        """The nets on the connecting pins, in the order of the card."""
        instance, index = self.locate(element)
        definition = self._i.definition[instance]
        nets = definition.pins[index]
        if instance == TOP:
            return nets
        count, base, ports = definition.port_count, self._i.net_base[instance], self._port_nets(instance)
        if definition.global_of:
            return tuple([self.canonical(instance, net) for net in nets])
        return tuple([base + net if net >= count else ports[net] for net in nets])

    def controls(self, element: int) -> tuple[int, ...]:
        """The nets that only control the element (control pairs of E, G, S)."""
        instance, index = self.locate(element)
        local = self._i.definition[instance].controls.get(index, ())
        return tuple(self.canonical(instance, net) for net in local)

    def find(self, path: str) -> int | None:
        """The element with this path (`Xch1.R1`); case does not matter. Names may hold dots themselves."""
        for instance, last in self._splits(path):
            index = self._i.definition[instance].by_name.get(last)
            if index is not None:
                return self._i.element_base[instance] + index
        return None

    def _splits(self, path: str) -> Iterator[tuple[int, str]]:
        """Every way to read a path as an instance and a lower-case name in it, the highest instance first."""
        waiting = [(TOP, path.lower())]
        for instance, rest in waiting:  # grows while it is walked
            yield instance, rest
            definition, base = self._i.definition[instance], self._i.element_base[instance]
            dot = rest.find(".")
            while dot >= 0:
                index = definition.by_name.get(rest[:dot])
                child = None if index is None else self._i.children.get(base + index)
                if child is not None:
                    waiting.append((child, rest[dot + 1 :]))
                dot = rest.find(".", dot + 1)

    # -- nets -------------------------------------------------------------------------------------------------

    @property
    def net_count(self) -> int:
        """One more than the largest net id."""
        return self._net_count

    @property
    def element_count(self) -> int:
        """One more than the largest element id."""
        return self._element_count

    def canonical(self, instance: int, local: int) -> int:
        """The id of a local net at the highest level that it reaches."""
        if instance == TOP:
            return local
        instances = self._i
        definition = instances.definition[instance]
        if local < definition.port_count:
            return self._port_nets(instance)[local]
        top = definition.global_of.get(local)
        return instances.net_base[instance] + local if top is None else top

    def _port_nets(self, instance: int) -> tuple[int, ...]:
        """The nets on the ports of an instance at the highest level that they reach, followed once."""
        if instance in self._ports:
            return self._ports[instance]
        instances = self._i
        way = [instance]
        while (above := instances.parent[way[-1]]) != TOP and above not in self._ports:
            way.append(above)
        for inner in reversed(way):
            parent = instances.parent[inner]
            index = instances.element[inner] - instances.element_base[parent]
            nets = instances.definition[parent].pins[index][: instances.definition[inner].port_count]
            self._ports[inner] = nets if parent == TOP else tuple([self.canonical(parent, net) for net in nets])
        return self._ports[instance]

    def locate_net(self, net: int) -> tuple[int, int]:
        """The instance and the local number of a net."""
        instance = bisect_right(self._i.net_base, net) - 1
        return instance, net - self._i.net_base[instance]

    def nets(self) -> Iterator[int]:
        """All nets, each once, at the highest level that it reaches."""
        yield from range(len(self._i.definition[TOP].net_names))
        for instance in self.instances[1:]:
            base = self._i.net_base[instance]
            for local in self.block(instance).own_nets:
                yield base + local

    def nets_like(self, pattern: str, regex: re.Pattern[str]) -> list[int]:
        """The nets whose name matches a pattern with `*` and `?`, given in folded case; ascending."""
        found: list[int] = []
        for block in self.blocks():
            if block.members == (TOP,):
                found.extend(block.net_names.like(pattern, regex))
                continue
            names = block.own_nets
            for instance in block.members:
                prefix = self._prefix(instance).casefold()
                if may_lead(prefix, pattern):
                    base = self._i.net_base[instance]
                    found.extend(base + net for net, name in names.items() if regex.match(prefix + name.casefold()))
        return sorted(found)

    def nets_holding(self, words: Collection[str]) -> list[int]:
        """The nets whose name holds one of some words without a dot, given in folded case; ascending."""
        if (known := self._holding.get(key := tuple(words))) is not None:
            return known
        found: list[int] = []
        any_of = re.compile("|".join(map(re.escape, words)))
        for block in self.blocks():
            if block.members == (TOP,):
                found.extend(block.net_names.holding(words, any_of))
                continue
            own = list(block.own_nets)
            held = {own[place] for place in block.own_net_names.holding(words, any_of)}
            for instance in block.members:
                led = any_of.search(self._prefix(instance).casefold())  # a word may lie in the path as well
                base = self._i.net_base[instance]
                found.extend(base + net for net in (own if led else held))
        return self._holding.setdefault(key, sorted(found))

    def net_name(self, net: int) -> str:
        """The name of a net, with the path of its instance when it is an inner one."""
        instance = bisect_right(self._i.net_base, net) - 1
        return self._prefix(instance) + self._i.definition[instance].net_names[net - self._i.net_base[instance]]

    def find_net(self, name: str) -> int | None:
        """The net with this name or path; case does not matter. Names may hold dots themselves."""
        for instance, last in self._splits(name):
            local = self._i.definition[instance].net_by_name.get(last)
            if local is not None:
                return self.canonical(instance, local)
        return None

    def elements_at(self, net: int) -> tuple[tuple[int, int], ...]:
        """The (element, pin index) pairs that touch a net, through all levels, in the order of the cards."""
        found: list[tuple[int, int]] = []
        instance = bisect_right(self._i.net_base, net) - 1
        waiting = [(instance, net - self._i.net_base[instance])]
        name = self._global_names.get(net)
        if name is not None:
            for members in self._i.by_scope.values():
                used = self._i.definition[members[0]].globals_used.get(name)
                if used is not None and members[0] != TOP:
                    waiting.extend((member, used) for member in members)
        while waiting:
            instance, local = waiting.pop()
            base = self._i.element_base[instance]
            definition = self._i.definition[instance]
            for index in dict.fromkeys(definition.at(local)):
                child = self._i.children.get(base + index)
                pins = [pin for pin, net in enumerate(definition.pins[index]) if net == local]
                if child is None:
                    found.extend((base + index, pin) for pin in pins)
                else:
                    waiting.extend((child, pin) for pin in pins)
        return tuple(sorted(found))

    def is_node_0(self, net: int) -> bool:
        """Whether a net is the simulator's node 0 (only the name `0`)."""
        return net == self._i.globals.get("0")

    # -- inner ------------------------------------------------------------------------------------------------

    def instance_path(self, element: int) -> str:
        """The path of the instance that holds an element, empty at the top level."""
        instance, _ = self.locate(element)
        return self._prefix(instance)[:-1]

    def call_apart(self, element: int) -> int | None:
        """The card that tells an element from those of other instances of its definition.

        The innermost of the subcircuit calls above it that stands in a scope placed once; None where the element itself
        does.
        """
        instance, call = self.locate(element)[0], None
        while instance != TOP and len(self._i.by_scope[self._i.definition[instance].scope]) > 1:
            call = self._i.element[instance]
            instance = self._i.parent[instance]
        return call

    def _scope(self, instance: int) -> Scope:
        return self.cards.scopes[self._i.definition[instance].scope]

    def _prefix(self, instance: int) -> str:
        if instance == TOP:
            return ""
        known = self._prefixes.get(instance)
        if known is None:
            way = [instance]
            while (parent := self._i.parent[way[-1]]) != TOP:
                way.append(parent)
            known = ""
            for at in reversed(way):
                parent = self._i.parent[at]
                known += self._scope(parent).names[self._i.element[at] - self._i.element_base[parent]] + "."
            self._prefixes[instance] = known
        return known

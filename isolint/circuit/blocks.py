"""A definition that is placed, as the stages above see it: columns by local number.

Work on it is done once for all its instances.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from isolint.circuit.instances import Definition
from isolint.circuit.names import ScopeNames
from isolint.netlist.cards import Number, Scope, Stimulus


@dataclass(slots=True, eq=False, repr=False)
class Block:
    """A definition that is placed: its columns by local number, and where it stands.

    members: its instances. What is sought in it is sorted in when first asked for, once for all instances.
    """

    _definition: Definition
    _scope: Scope
    members: tuple[int, ...]
    _by_letters: dict[frozenset[str], list[int]] = field(default_factory=dict)
    _own_nets: dict[int, str] | None = None
    _names: dict[str, ScopeNames] = field(default_factory=dict)

    @property
    def scope(self) -> int:
        """The scope index of the definition."""
        return self._definition.scope

    @property
    def letters(self) -> list[str]:
        """The letter of each element."""
        return self._scope.letters

    @property
    def names(self) -> list[str]:
        """The name on each card."""
        return self._scope.names

    @property
    def models(self) -> list[str | None]:
        """The model or subcircuit that each card names."""
        return self._scope.models

    @property
    def pins(self) -> list[tuple[int, ...]]:
        """The local nets of each element."""
        return self._definition.pins

    @property
    def values(self) -> list[Number | Stimulus | None]:
        """The value on each card as it was read."""
        return self._scope.values

    @property
    def tails(self) -> Mapping[int, Mapping[str, Number | str]]:
        """The `key=value` parameters of the elements that have some."""
        return self._scope.tails

    @property
    def controls(self) -> Mapping[int, tuple[int, ...]]:
        """The local nets that only control an element."""
        return self._definition.controls

    @property
    def net_count(self) -> int:
        """How many local nets there are."""
        return len(self._definition.net_names)

    @property
    def outer(self) -> set[int]:
        """The local nets that reach a higher level: ports and global nets."""
        return {*range(self._definition.port_count), *self._definition.global_of}

    @property
    def own_nets(self) -> dict[int, str]:
        """The names of the local nets that end here."""
        if self._own_nets is None:
            outer, names = self.outer, self._definition.net_names
            self._own_nets = {net: name for net, name in enumerate(names) if net not in outer}
        return self._own_nets

    @property
    def element_names(self) -> ScopeNames:
        """The names on the cards, to search."""
        return self._sought("elements", self._scope.names)

    @property
    def last_names(self) -> ScopeNames:
        """What stands behind the last dot in the name on each card, to search."""
        names = self._scope.names
        if not any("." in name for name in names):
            return self.element_names
        return self._sought("last", [name.rpartition(".")[2] for name in names])

    @property
    def net_names(self) -> ScopeNames:
        """The names of the local nets, to search."""
        return self._sought("nets", self._definition.net_names)

    @property
    def own_net_names(self) -> ScopeNames:
        """The names of the local nets that end here, to search, in the order of `own_nets`."""
        if "own nets" not in self._names:
            self._names["own nets"] = ScopeNames(list(self.own_nets.values()))
        return self._names["own nets"]

    @property
    def letters_used(self) -> frozenset[str]:
        """The letters of its elements."""
        return frozenset(self._scope.letters)

    def with_letters(self, wanted: frozenset[str]) -> list[int]:
        """The elements with one of some letters, ascending."""
        found = self._by_letters.get(wanted)
        if found is None:
            found = [index for index, letter in enumerate(self._scope.letters) if letter in wanted]
            self._by_letters[wanted] = found
        return found

    def _sought(self, what: str, names: list[str]) -> ScopeNames:
        if what not in self._names:
            self._names[what] = ScopeNames(names)
        return self._names[what]

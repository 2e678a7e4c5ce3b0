"""Number nets and unfold the instance tree."""

from __future__ import annotations

from collections.abc import Callable

from isolint.circuit.circuit import Circuit
from isolint.circuit.instances import TOP, Definition, Instances
from isolint.netlist.cards import Cards, Note

MAX_DEPTH = 64
MAX_INSTANCES = 20_000
MAX_ELEMENTS = 20_000_000

IsSheet = Callable[[str, int, str], bool]
"""(path of the element, scope index of the called subcircuit, its name) -> expand it?"""


def build(
    cards: Cards,
    is_sheet: IsSheet = lambda path, scope, name: True,
    top: int = 0,
    most: int = MAX_INSTANCES,
) -> Circuit:
    """Make the circuit of `cards`, or of the one subcircuit whose scope index is `top`.

    `is_sheet` decides for each subcircuit call whose definition is there whether it is a sheet (expanded) or a leaf
    part. Calls of a subcircuit inside itself, hierarchies deeper than 64 levels or with more than `most` instances are
    left as leaf parts and noted, once a card; so are calls whose number of nodes differs from the header's.
    """
    unfolding = _Unfolding(cards, is_sheet, most)
    unfolding.run(top)
    _number_nets(unfolding.instances)
    return Circuit(cards, unfolding.instances, tuple(unfolding.notes))


class _Unfolding:
    """The instance tree while it grows, level by level, in the order of the cards."""

    def __init__(self, cards: Cards, is_sheet: IsSheet, most: int) -> None:
        self.cards = cards
        self.is_sheet = is_sheet
        self.most = most
        self.instances = Instances()
        self.notes: list[Note] = []
        self._definitions: dict[int, Definition] = {}
        self._calls: dict[int, list[int]] = {}
        self._noted: set[tuple[int, int]] = set()
        # (instance, path prefix, scopes on the way here)
        self._waiting: list[tuple[int, str, tuple[int, ...]]] = []

    def run(self, top: int) -> None:
        self._add(top, -1, -1)
        self._waiting.append((TOP, "", (top,)))
        position = 0
        while position < len(self._waiting):
            instance, prefix, chain = self._waiting[position]
            self._waiting[position] = (instance, "", ())
            position += 1
            if not self._unfold(instance, prefix, chain):
                return

    def _add(self, scope: int, parent: int, element: int) -> int:
        instances = self.instances
        made = self._definitions.get(scope)
        if made is None:
            made = self._definitions[scope] = _define(self.cards, scope)
        number = len(instances.definition)
        base = instances.element_base[-1] + len(instances.definition[-1].pins) if number else 0
        instances.definition.append(made)
        instances.parent.append(parent)
        instances.element.append(element)
        instances.element_base.append(base)
        instances.by_scope.setdefault(scope, []).append(number)
        return number

    def _unfold(self, instance: int, prefix: str, chain: tuple[int, ...]) -> bool:
        """Expand the sheets of one instance; False when the hierarchy has become too large."""
        cards, instances = self.cards, self.instances
        at = instances.definition[instance].scope
        scope = cards.scopes[at]
        base = instances.element_base[instance]
        for index in self._calls_in(at):
            name = scope.models[index]
            if name is None:
                continue
            called = cards.find_subcircuit(name, at)
            if called is None:
                continue
            path = prefix + scope.names[index]
            header = cards.scopes[called]
            given = len(scope.nodes[index])
            if given != len(header.ports):
                text = f"{path} gives {given} nodes, subcircuit {header.name} has {len(header.ports)} ports"
                self._note(at, index, path, text, "give one node for each port, in the order of the header")
                continue
            if not self.is_sheet(path, called, name):
                continue
            if called in chain:
                text = f"{path}: subcircuit {name} calls itself"
                self._note(at, index, path, text, "break the loop of subcircuit calls")
                continue
            if len(chain) > MAX_DEPTH:
                text = f"{path}: more than {MAX_DEPTH} levels of subcircuits"
                self._note(at, index, path, text, "flatten the hierarchy")
                continue
            if len(instances.definition) >= self.most or instances.element_base[-1] > MAX_ELEMENTS:
                text = f"{path}: the hierarchy unfolds to more than {self.most:,} instances; the rest was not judged"
                self._note(at, index, path, text, "check the blocks one by one")
                return False
            child = self._add(called, instance, base + index)
            instances.children[base + index] = child
            self._waiting.append((child, path + ".", (*chain, called)))
        return True

    def _calls_in(self, scope: int) -> list[int]:
        """The subcircuit calls in a scope."""
        found = self._calls.get(scope)
        if found is None:
            letters = self.cards.scopes[scope].letters
            found = self._calls[scope] = [index for index, letter in enumerate(letters) if letter == "X"]
        return found

    def _note(self, scope: int, index: int, path: str, text: str, remedy: str) -> None:
        """Note one card, however often its sheet is placed."""
        if (scope, index) not in self._noted:
            self._noted.add((scope, index))
            place = self.cards.place(scope, index)
            self.notes.append(Note("malformed-card", "error", text, place, path, remedy))


def _define(cards: Cards, index: int) -> Definition:
    scope = cards.scopes[index]
    names: list[str] = []
    number: dict[str, int] = {}

    class LocalNets(dict[str, int]):
        """Local nets by name as written; a name met for the first time gets its number."""

        def __missing__(self, node: str) -> int:
            key = node.lower()
            found = number.get(key)
            if found is None:
                found = number[key] = len(names)
                names.append(node)
            self[node] = found
            return found

    net = LocalNets().__getitem__
    for port in scope.ports:
        # A port named twice (often NC) is two ports; only the first is reached by name.
        if port.lower() in number:
            names.append(port)
        else:
            net(port)
    port_count = len(names)
    ports = frozenset(number)
    pins = [tuple(map(net, nodes)) for nodes in scope.nodes]
    controls: dict[int, tuple[int, ...]] = {}
    for element, nodes in scope.controls.items():
        if scope.letters[element] in "EGS":
            controls[element] = tuple(map(net, nodes))
    named = sorted((number[key], key) for key in cards.globals if key in number and key not in ports)
    globals_used = {key: local for local, key in named}
    count = len(scope.names)
    # Of two elements with one name the first is found: it comes last here.
    by_name = dict(zip(map(str.lower, reversed(scope.names)), range(count - 1, -1, -1), strict=True))
    return Definition(index, names, port_count, pins, controls, globals_used, by_name, number)


def _number_nets(instances: Instances) -> None:
    """Give the nets their ids. A global net that only inner instances name stands at the top as well.

    A top subcircuit may have a port called `0`: then node 0 of its inner instances is another net.
    """
    top = instances.definition[TOP]
    used = {
        name: made.net_names[local]
        for made in reversed(instances.definition[1:])
        for name, local in made.globals_used.items()
    }
    instances.globals.update(top.globals_used)
    for name in sorted(used.keys() - top.globals_used.keys()):
        instances.globals[name] = len(top.net_names)
        top.net_by_name.setdefault(name, len(top.net_names))
        top.net_names.append(used[name])
    for members in instances.by_scope.values():
        made = instances.definition[members[0]]
        if made is not top:
            made.global_of.update((local, instances.globals[name]) for name, local in made.globals_used.items())
    base = 0
    for made in instances.definition:
        instances.net_base.append(base)
        base += len(made.net_names)

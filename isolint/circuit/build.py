"""Number nets and unfold the instance tree."""

from __future__ import annotations

from collections.abc import Callable

from isolint.circuit.circuit import TOP, Circuit, Definition, Instances
from isolint.errors import Place
from isolint.netlist.cards import Cards, Note

MAX_DEPTH = 64
MAX_INSTANCES = 200_000
MAX_ELEMENTS = 20_000_000

IsSheet = Callable[[str, int, str], bool]
"""(path of the element, scope index of the called subcircuit, its name) -> expand it?"""


def build(cards: Cards, is_sheet: IsSheet = lambda path, scope, name: True, top: int = TOP) -> Circuit:
    """Make the circuit of `cards`, or of the one subcircuit whose scope index is `top`.

    `is_sheet` decides for each subcircuit call whose definition is there whether it is a sheet (expanded) or a leaf
    part. Calls of a subcircuit inside itself, hierarchies deeper than 64 levels or wider than the limits are left
    as leaf parts and noted; so are calls whose number of nodes differs from the header's.
    """
    notes: list[Note] = []
    definitions: dict[int, Definition] = {}
    instances = Instances()
    all_globals = _globals_used(cards)

    def definition(scope: int) -> Definition:
        if scope not in definitions:
            definitions[scope] = _define(cards, scope, all_globals if scope == top else frozenset())
        return definitions[scope]

    def add(scope: int, parent: int, element: int, element_base: int, net_base: int) -> int:
        made = definition(scope)
        number = len(instances.definition)
        instances.definition.append(made)
        instances.parent.append(parent)
        instances.element.append(element)
        instances.element_base.append(element_base)
        instances.net_base.append(net_base)
        instances.by_scope.setdefault(scope, []).append(number)
        return number

    add(top, -1, -1, 0, 0)
    # (instance, path prefix, scopes on the way here); worked off in the order of the cards, level by level.
    waiting: list[tuple[int, str, tuple[int, ...]]] = [(TOP, "", (top,))]
    full = False
    position = 0
    while position < len(waiting):
        instance, prefix, chain = waiting[position]
        waiting[position] = (instance, "", ())
        position += 1
        made = instances.definition[instance]
        scope = cards.scopes[made.scope]
        base = instances.element_base[instance]
        for index, letter in enumerate(scope.letters):
            if letter != "X":
                continue
            name = scope.models[index]
            called = None if name is None else cards.find_subcircuit(name, made.scope)
            if name is None or called is None:
                continue
            path = prefix + scope.names[index]
            place = cards.place(made.scope, index)
            _check_ports(cards, called, path, len(scope.nodes[index]), place, notes)
            if not is_sheet(path, called, name):
                continue
            if called in chain:
                notes.append(_note(f"{path}: subcircuit {name} calls itself", place, path, "break the loop of subcircuit calls"))
                continue
            if len(chain) > MAX_DEPTH:
                notes.append(_note(f"{path}: more than {MAX_DEPTH} levels of subcircuits", place, path, "flatten the hierarchy"))
                continue
            last = instances.definition[-1]
            element_base = instances.element_base[-1] + len(last.pins)
            net_base = instances.net_base[-1] + len(last.net_names)
            if len(instances.definition) >= MAX_INSTANCES or element_base > MAX_ELEMENTS:
                if not full:
                    text = f"{path}: the hierarchy unfolds to more than {MAX_INSTANCES} instances; the rest was not judged"
                    notes.append(_note(text, place, path, "check the blocks one by one"))
                full = True
                continue
            child = add(called, instance, base + index, element_base, net_base)
            instances.children[base + index] = child
            waiting.append((child, path + ".", (*chain, called)))
    return Circuit(cards, instances, tuple(dict.fromkeys(notes)))


def _note(text: str, place: Place, subject: str, remedy: str) -> Note:
    return Note("netlist-malformed", "error", text, place, subject, remedy)


def _check_ports(cards: Cards, called: int, path: str, given: int, place: Place, notes: list[Note]) -> None:
    header = cards.scopes[called]
    if given != len(header.ports):
        text = f"{path} gives {given} nodes, subcircuit {header.name} has {len(header.ports)} ports"
        notes.append(_note(text, place, path, "give one node for each port, in the order of the header"))


def _globals_used(cards: Cards) -> frozenset[str]:
    """The global names that some scope mentions without shadowing them by a port."""
    used: set[str] = set()
    for scope in cards.scopes:
        ports = {port.lower() for port in scope.ports}
        for nodes in (*scope.nodes, *scope.controls.values()):
            used.update(name for name in map(str.lower, nodes) if name in cards.globals and name not in ports)
    return frozenset(used)


def _define(cards: Cards, index: int, extra: frozenset[str]) -> Definition:
    scope = cards.scopes[index]
    names: list[str] = []
    number: dict[str, int] = {}
    written: dict[str, int] = {}

    def net(node: str) -> int:
        found = written.get(node)
        if found is None:
            key = node.lower()
            found = number.get(key)
            if found is None:
                found = number[key] = len(names)
                names.append(node)
            written[node] = found
        return found

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
    for name in sorted(extra):
        net(name)
    at: list[list[tuple[int, int]]] = [[] for _ in names]
    for element, locals_ in enumerate(pins):
        for pin, local in enumerate(locals_):
            at[local].append((element, pin))
    globals_used = {key: local for key, local in number.items() if key in cards.globals and key not in ports}
    by_name: dict[str, int] = {}
    for element, name in enumerate(scope.names):
        by_name.setdefault(name.lower(), element)
    return Definition(index, names, port_count, pins, controls, at, globals_used, by_name, number)

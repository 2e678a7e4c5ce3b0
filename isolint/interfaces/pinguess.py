"""The part record to write for a part that nobody knows: its pins as such parts usually have them.

In: a card of a circuit, a type, and what the structure of a subcircuit tells. Out: TOML text. A guess, for somebody to
hold against the data sheet; nothing is ever judged by it. The nets on the card decide between usual orders: a pin on a
ground is no collector.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint import types
from isolint.circuit import Circuit
from isolint.facts import ElementFacts
from isolint.interfaces.netnames import is_ground_name, is_supply_name
from isolint.parts import role_of
from isolint.tables import UNSTATED, basic_string, dotted

UNKNOWN = basic_string(UNSTATED)
"""The placeholder as the value of a key."""


def type_line(key: str, kinds: Sequence[str]) -> str:
    """The line that says what an element is; `kinds` it may be are told beside it, and none of them is the answer."""
    told = f"perhaps {listed(kinds)}; " if kinds else ""
    return f'{ElementFacts.type.line(key, UNKNOWN)}  # {told}"ordinary": it joins its pins'


def record_lines(name: str, kind: str, pins: Sequence[str], certain: bool = False) -> str:
    """The lines of a record to fill in. kind and pins are guesses, told beside their keys; the type may be certain."""
    listed_ = ", ".join(map(basic_string, pins))
    type_ = f'type = "{kind}"' if certain else f"type = {UNKNOWN}  # perhaps {basic_string(kind)}"
    return f"[{dotted('parts', name)}]\n{type_}\npins = {UNKNOWN}  # in the order of the card, perhaps [{listed_}]"


def blank_record(circuit: Circuit, element: int, name: str) -> str:
    """The lines of a record of which nothing is known but the nets on its pins."""
    nets = ", ".join(map(circuit.net_name, circuit.pins(element)))
    told = "".join(letter if letter.isprintable() else " " for letter in nets)
    return (
        f'[{dotted("parts", name)}]\ntype = {UNKNOWN}  # by its data sheet, "ordinary" if it joins its pins\n'
        f"pins = {UNKNOWN}  # their names in the order of the card, now on {told}"
    )


def listed(words: Sequence[str]) -> str:
    """Words with commas and an "or"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def record_example(
    circuit: Circuit, element: int, name: str, kind: str, roles: Sequence[str] = (), *, certain: bool = False
) -> str:
    """The lines of a record for the part on a card. roles: what the structure tells of each pin, "" where nothing.

    certain: whether the type is stated or told by the structure.
    """
    nets = [_told(circuit, net) for net in circuit.pins(element)]
    free = [len(circuit.elements_at(net)) < 2 for net in circuit.pins(element)]
    # A pin that something is fitted to is not called unconnected: it would fall out of the sides unseen.
    pins = [
        pin if alone or role_of(pin, kind) != "none" else f"pin{number}"
        for number, (pin, alone) in enumerate(zip(usual_pins(kind, nets, roles), free, strict=True), start=1)
    ]
    return record_lines(name, kind, pins, certain)


def told_lines(
    circuit: Circuit, element: int, name: str, kind: str, pins: Sequence[str], doubtful: Sequence[int]
) -> str:
    """The lines of a record whose pins a model tells; those in `doubtful` take what is left and usual."""
    certain = ["" if port in doubtful else pin for port, pin in enumerate(pins)]
    usual = usual_pins(kind, [_told(circuit, net) for net in circuit.pins(element)], certain)
    if all(pin in ("", word) for pin, word in zip(certain, usual, strict=True)):
        found = list(usual)
    else:
        left = [word for word in usual if word not in certain]
        found = [pin or (left.pop(0) if left else f"pin{number}") for number, pin in enumerate(certain, start=1)]
    # A name that stands twice gets a number.
    twice = {pin for pin in found if found.count(pin) > 1}
    seen: dict[str, int] = {}
    for position, pin in enumerate(found):
        if pin in twice:
            seen[pin] = seen.get(pin, 0) + 1
            found[position] = f"{pin}{seen[pin]}"
    return record_lines(name, kind, found)


def groups_example(name: str, kind: str, pins: Sequence[str]) -> str:
    """The line of a record that says which pins are joined inside: those in doubt by themselves, or halves of the card
    where all are."""
    read = types.of(kind).pins
    keys = [] if read.groups is None else read.groups([types.of(kind).pin(pin) for pin in pins])
    if not any(keys):
        keys = ["first" if 2 * position < len(pins) else "second" for position in range(len(pins))]
    groups: dict[str, list[str]] = {}
    for key, pin in zip(keys, pins, strict=True):
        groups.setdefault(key or "", []).append(basic_string(pin))
    return _groups_line(name, groups.values())


def windings_example(name: str, groups: Iterable[Sequence[str]]) -> str:
    """The same for windings of which names don't tell where one ends: pairs in the order of the card."""
    pairs = [group[at : at + 2] for group in groups for at in range(0, len(group), 2)]
    return _groups_line(name, ([basic_string(pin) for pin in pair] for pair in pairs))


def _groups_line(name: str, groups: Iterable[Sequence[str]]) -> str:
    listed = ", ".join(f"[{', '.join(group)}]" for group in groups)
    told = f"added to the record that stands there, perhaps [{listed}]; the pins that are joined inside"
    return f"[{dotted('parts', name)}]\ngroups = {UNKNOWN}  # {told}"


def _told(circuit: Circuit, net: int) -> str:
    """The name of a net, or one that says what a source makes of it."""
    name = circuit.net_name(net)
    if is_ground_name(name) or is_supply_name(name):
        return name
    ends = {end for source, end in circuit.elements_at(net) if circuit.letter(source) == "V"}
    return {frozenset({0}): "VCC", frozenset({1}): "GND"}.get(frozenset(ends), name)


def usual_pins(kind: str, nets: Sequence[str], roles: Sequence[str] = ()) -> tuple[str, ...]:
    """Names for as many pins as there are nets; what is not usual for the type is `pin1`, `pin2` ..."""
    count = len(nets)
    known = [role if role and roles.index(role) == pin else "" for pin, role in enumerate(roles)]
    pins = types.of(kind).pins
    shapes = pins.usual
    exact = next((shape for shape in shapes if len(shape) == count), None)
    names = list(exact or max((shape for shape in shapes if len(shape) < count), key=len, default=()))
    names += [f"pin{number}" for number in range(len(names) + 1, count + 1)]
    if len(known) != count or not set(known) - {""} <= set(names):
        return tuple(_as_the_nets_say(names, nets, pins.ends)) if exact else tuple(names)
    left = [pin for pin in names if pin not in known]
    return tuple(pin or left.pop(0) for pin in known)


def series_pins(circuit: Circuit, element: int, kind: str) -> tuple[str, ...]:
    """The usual pins of a type, held against the nets on a card."""
    return usual_pins(kind, [_told(circuit, net) for net in circuit.pins(element)])


def series_order(circuit: Circuit, element: int, kind: str, orders: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """The usual order of a series that the nets on a card fit best, two ends of a side exchanged where they say so."""
    nets = [_told(circuit, net) for net in circuit.pins(element)]
    ends = types.of(kind).pins.ends
    fitted = [tuple(_as_the_nets_say(order, nets, ends)) for order in orders if len(order) == len(nets)]
    if not fitted:
        return ()
    # Fewest exchanges first: an order as it stands is likelier than one that was turned.
    changes = [sum(a != b for a, b in zip(one, order, strict=True)) for one, order in zip(fitted, orders, strict=True)]
    return fitted[changes.index(min(changes))]


def with_nets(circuit: Circuit, element: int, pins: Sequence[str]) -> str:
    """Pins with the nets that they lie on: `anode on A, cathode on GND`."""
    nets = map(circuit.net_name, circuit.pins(element))
    return ", ".join(f"{pin} on {net}" for pin, net in zip(pins, nets, strict=True))


def _as_the_nets_say(names: Sequence[str], nets: Sequence[str], ends: Sequence[tuple[str, str]]) -> list[str]:
    """The names with two ends of a side exchanged where the nets fit better so: a ground the lower one."""
    found = list(names)
    for low, high in ends:
        if low in found and high in found:
            first, second = found.index(low), found.index(high)
            straight = is_ground_name(nets[first]) + is_supply_name(nets[second])
            if is_supply_name(nets[first]) + is_ground_name(nets[second]) > straight:
                found[first], found[second] = high, low
    return found

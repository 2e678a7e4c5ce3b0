"""The part record to write for a part that nobody knows: its pins as such parts usually have them.

In: a card of a circuit, a type, and what the structure of a subcircuit tells. Out: TOML text. A guess, for somebody to
hold against the data sheet; nothing is ever judged by it. The nets on the card decide between usual orders: a pin on a
ground is no collector.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.circuit import Circuit
from isolint.interfaces.netnames import is_ground_name, is_supply_name
from isolint.parts import role_of
from isolint.tables import basic_string

_LED = ("anode", "cathode")
_USUAL: dict[str, tuple[tuple[str, ...], ...]] = {
    "phototransistor": (
        (*_LED, "emitter", "collector"),
        (*_LED, "emitter", "collector", "base"),
        (*_LED, "nc", "emitter", "collector", "base"),
        ("anode1", "cathode1", "anode2", "cathode2", "emitter2", "collector2", "emitter1", "collector1"),
    ),
    "photo-scr": ((*_LED, "scrk", "scra"), (*_LED, "scrk", "scra", "gate"), (*_LED, "nc", "scrk", "scra", "gate")),
    "phototriac": ((*_LED, "terminal1", "terminal2"), (*_LED, "nc1", "terminal1", "nc2", "terminal2")),
    "photovoltaic": ((*_LED, "pv-", "pv+"),),
    "mosfet-output": ((*_LED, "drain1", "drain2"), (*_LED, "nc", "drain1", "source", "drain2")),
    "linear": ((*_LED, "pda1", "pdk1", "pda2", "pdk2"),),
    "logic-output": ((*_LED, "vcc", "out", "gnd"), (*_LED, "nc", "gnd", "out", "vcc")),
    "gate-driver": (
        (*_LED, "vcc", "out", "gnd"),
        (*_LED, "nc", "gnd", "out", "vcc"),
        ("vdd1", "in+", "in-", "gnd1", "gnd2", "out-", "out+", "vdd2"),
    ),
    "digital-isolator": (
        ("vdd1", "in", "gnd1", "gnd2", "out", "vdd2"),
        ("vdd1", "ina", "inb", "gnd1", "gnd2", "outb", "outa", "vdd2"),
    ),
    "isolated-amplifier": (("vdd1", "in+", "in-", "gnd1", "gnd2", "out-", "out+", "vdd2"),),
    "isolated-supply": (("in+", "in-", "out+", "out-"), ("in+", "in-", "out+", "0v", "out-")),
    "transformer": (("pri1", "pri2", "sec1", "sec2"), ("pri1", "pri2", "sec1", "sec2", "sec3", "sec4")),
    "relay": (
        ("coil1", "coil2", "com", "no"),
        ("coil1", "coil2", "com", "no", "nc"),
        ("coil1", "coil2", "com1", "no1", "com2", "no2"),
        ("coil1", "coil2", "com1", "no1", "nc1", "com2", "no2", "nc2"),
    ),
}
_USUAL["photodarlington"] = _USUAL["phototransistor"]

_LOW = frozenset(("cathode", "emitter", "gnd", "gnd1", "gnd2", "in-", "out-", "0v", "scrk", "pv-"))
"""Pins that a ground fits best; a supply fits those of `_HIGH`."""
_HIGH = frozenset(("anode", "collector", "vcc", "vdd1", "vdd2", "in+", "out+", "scra", "pv+"))
_ENDS = (
    ("anode", "cathode"), ("emitter", "collector"), ("scrk", "scra"), ("pv-", "pv+"), ("vcc", "gnd"), ("in+", "in-"),
    ("out+", "out-"), ("vdd1", "gnd1"), ("gnd2", "vdd2"),
)  # fmt: skip
"""Pins of one side that makers place either way round."""


def record_example(circuit: Circuit, element: int, name: str, kind: str, roles: Sequence[str] = ()) -> str:
    """The lines of a record for the part on a card. roles: what the structure tells of each pin, "" where nothing."""
    nets = [_told(circuit, net) for net in circuit.pins(element)]
    free = [len(circuit.elements_at(net)) < 2 for net in circuit.pins(element)]
    # A pin that something is fitted to is not called unconnected: it would fall out of the sides unseen.
    pins = [
        pin if alone or role_of(pin, kind) != "none" else f"pin{number}"
        for number, (pin, alone) in enumerate(zip(usual_pins(kind, nets, roles), free, strict=True), start=1)
    ]
    listed = ", ".join(map(basic_string, pins))
    return f'[parts.{basic_string(name)}]\ntype = "{kind}"\npins = [{listed}]  # a guess: in the order of the card'


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
    shapes = _USUAL.get(kind, ())
    exact = next((shape for shape in shapes if len(shape) == count), None)
    names = list(exact or max((shape for shape in shapes if len(shape) < count), key=len, default=()))
    names += [f"pin{number}" for number in range(len(names) + 1, count + 1)]
    if len(known) != count or not set(known) - {""} <= set(names):
        return tuple(_as_the_nets_say(names, nets)) if exact else tuple(names)
    left = [pin for pin in names if pin not in known]
    return tuple(pin or left.pop(0) for pin in known)


def _as_the_nets_say(names: Sequence[str], nets: Sequence[str]) -> list[str]:
    """The names with two ends of a side exchanged where the nets fit better so."""
    found = list(names)
    for one, other in _ENDS:
        if one in found and other in found:
            first, second = found.index(one), found.index(other)
            straight = _fit(one, nets[first]) + _fit(other, nets[second])
            if _fit(other, nets[first]) + _fit(one, nets[second]) > straight:
                found[first], found[second] = other, one
    return found


def _fit(pin: str, net: str) -> int:
    return (pin in _LOW and is_ground_name(net)) + (pin in _HIGH and is_supply_name(net))

"""What the circuit's tests share: netlist text in, circuits and plain pictures of them out."""

from __future__ import annotations

from isolint.circuit import Circuit, build
from isolint.netlist import read
from isolint.source import MemoryTree


def circuit_of(*lines: str, leaves: tuple[str, ...] = ()) -> Circuit:
    """The circuit of a deck with these lines below a title; the subcircuits named `leaves` are not expanded."""
    text = "\n".join(("an invented board", *lines)) + "\n"
    cards = read(MemoryTree({"board.cir": text}), "board.cir")
    return build(cards, lambda path, scope, name: name.lower() not in leaves)


def pins(circuit: Circuit, path: str) -> tuple[str, ...]:
    """The names of the nets on an element's pins."""
    element = circuit.find(path)
    assert element is not None, path
    return tuple(map(circuit.net_name, circuit.pins(element)))


def value(circuit: Circuit, path: str) -> float | None:
    """The value of the element with this path."""
    element = circuit.find(path)
    assert element is not None, path
    return circuit.value(element)


def at(circuit: Circuit, net: str) -> list[str]:
    """What touches a net, as `path:pin`."""
    found = circuit.find_net(net)
    assert found is not None, net
    return [f"{circuit.path(element)}:{pin + 1}" for element, pin in circuit.elements_at(found)]

"""The voltage between two nets that stand still: what a supply pin gets, what a gate is held at.

In: two nets, what is drawn between them. Out: a `Rail` with both ends over values and temperature, and what it rests
on. Held nets count by their own facts, so that what two of them have in common moves together; any other is solved
through what leads to it. Knows nothing of rules.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Sequence
from typing import NamedTuple

from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Boundary, Network
from isolint.interfaces.netnames import voltage_of_name
from isolint.worstcase import network as n
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Assembler, Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, Quantity, over_temperature
from isolint.worstcase.solve import Point
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

_LEAK = 1e12


def _wire(name: str, first: int, last: int) -> Callable[[Sequence[float], float], n.Branch]:
    return lambda vector, temperature: n.Resistor(name, first, last, 0.0)


Extra = Callable[[Assembly], Callable[[Sequence[float], float], list[n.Branch]]]
"""Adds terms to an assembly, and gives further branches at a vector and a temperature."""


class Rail(NamedTuple):
    """Volts of one net above another, with the elements that lead there and the terms that they rest on."""

    volts: Quantity
    terms: tuple[Term, ...]
    elements: tuple[int, ...]

    def end(self, high: bool) -> Bound:
        """One end of it."""
        return self.volts.high if high else self.volts.low


class RailAnalyser:
    """Voltages between nets of one netlist in one setting."""

    def __init__(self, lookup: Lookup, assembler: Assembler, setting: Setting) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.assembler = assembler
        self.setting = setting
        self._windings: frozenset[int] | None = None

    def between(
        self, plus: int, minus: int, state: State | None = None, extra: Extra | None = None, receivers: bool = False
    ) -> Rail:
        """Volts of net `plus` above net `minus`; outputs are high and lines on where `state` says nothing.

        extra: branches to add. receivers: whether `plus` is looked at as though nothing held it. `Lacking` where
        nobody says what holds one of them.
        """
        walked = self.walked((plus, minus), plus if receivers else None)
        levels: dict[int, Level] = {
            held.net: "on" if held.kind == "line" else "high"
            for held in walked.boundary
            if held.kind in ("output", "line")
        }
        wires = frozenset(
            element
            for element in walked.elements
            if self.circuit.letter(element) in "XUA" and element not in self.assembler.parts
        )
        made = self.assembler.assemble(walked, {**levels, **(state or {})}, skip=wires)
        for element in wires:
            first, last = (made.node(end, self.circuit.net_name(end)) for end in self.circuit.pins(element))
            made.add(self.circuit.path(element), _wire(self.circuit.path(element), first, last))
        more = extra(made) if extra is not None else None
        ends = [made.nets[net] for net in (plus, minus)]
        leaks = [
            n.Resistor(f"leakage of {made.nodes[node]}", node, 0, _LEAK)
            for node in dict.fromkeys(made.nets[net] for net in walked.inner)
            if node
        ]

        def solved(vector: Sequence[float], temperature: float) -> Point:
            branches = [*leaks, *(more(vector, temperature) if more is not None else [])]
            try:
                return self.assembler.solver.solve(made.network(vector, temperature, branches), temperature)
            except n.NotSolvable as error:
                raise Lacking(error.text) from None

        def volts(vector: Sequence[float], temperature: float) -> list[float]:
            point = solved(vector, temperature)
            return [point.voltage(ends[0]) - point.voltage(ends[1])]

        middle = volts(made.nominal(self.setting), self.lookup.ambient().nominal)
        found = []
        for temperature in temperatures(self.lookup, None, self.setting):

            def at_one(vector: Sequence[float], t: float = temperature) -> list[float]:
                return volts(vector, t)

            ranges = made.ranges(self.setting, temperature)
            found.append((temperature, solved_extremes(self.assembler.solver, ranges, at_one)))
        terms = unique([*made.terms, *((self.lookup.ambient(),) if walked.elements else ())])
        return Rail(over_temperature(0, middle[0], found), terms, walked.elements)

    def walked(self, nets: Iterable[int], free: int | None = None) -> Network:
        """What leads to some nets, joined; `free` is walked even where something holds it."""
        walker = self.lookup.walker
        waiting, seen = deque(dict.fromkeys(nets)), set(nets)
        elements: dict[int, None] = {}
        inner: dict[int, None] = {}
        boundary: dict[Boundary, None] = {}
        branches: dict[tuple[int, tuple[int, ...]], None] = {}
        while waiting:
            net = waiting.popleft()
            held = walker.held(net)
            if held is not None and net != free and self.holds(net):
                boundary[held] = None
                continue
            around = walker.around(net)
            if not around.complete:
                raise Lacking(f"what leads to net {self.circuit.net_name(net)} is too large to be followed")
            elements.update(dict.fromkeys(around.elements))
            inner.update(dict.fromkeys(around.inner))
            boundary.update(dict.fromkeys(held for held in around.boundary if held.kind not in ("part", "loose")))
            branches.update(dict.fromkeys(around.branches))
            wires = self._wires(around)
            for element in wires:
                elements[element] = None
                waiting.extend(other for other in self.circuit.pins(element) if other not in seen)
                seen.update(self.circuit.pins(element))
            self._settled(net, around, wires)
        return Network(tuple(elements), tuple(inner), tuple(boundary), tuple(branches))

    def holds(self, net: int) -> bool:
        """Whether something holds a net at a voltage by itself."""
        held = self.lookup.walker.held(net)
        return held is not None and not self._unsaid(held)

    def _unsaid(self, held: Boundary) -> bool:
        """Whether only a name without a number calls a net a supply, so that what leads there tells its voltage."""
        name = self.circuit.net_name(held.net)
        plain = held.kind == "supply" and held.element < 0
        return plain and self.lookup.facts.supply(name) is None and voltage_of_name(name) is None

    def _wires(self, around: Network) -> list[int]:
        """Parts with two pins that a network leads to: a fuse, a bead or a jumper, of which nothing is known."""
        ends = (held.element for held in around.boundary if held.kind == "part")
        found = [element for element in ends if element not in self.assembler.parts]
        return [element for element in dict.fromkeys(found) if len(self.circuit.pins(element)) == 2]

    def _settled(self, net: int, around: Network, wires: Collection[int]) -> None:
        """Refuse a net that a part nobody asked about may hold, or that leads to nothing that is held."""
        parts = self.assembler.parts
        name = self.circuit.net_name(net)
        ground = SupplyFacts.ground
        missing = [self.lookup.missing(SupplyFacts.voltage, name, "", SupplyFacts.tolerance, ground)]
        for held in around.boundary:
            if held.kind == "part" and held.element in wires:
                continue
            if held.kind == "part" and (held.element not in parts or self._feeds(held)):
                path = self.circuit.path(held.element)
                raise Lacking(f"the voltage of net {name} is not known: {path} may hold it", missing)
        for element in around.elements:
            if self.circuit.letter(element) == "L" and element in self._coupled():
                raise Lacking(
                    f"the voltage of net {name} is not known: winding {self.circuit.path(element)} feeds it", missing
                )
        if not wires and not any(held.kind in ("supply", "output", "line", "ground") for held in around.boundary):
            raise Lacking(f"the voltage of net {name} is not known: nothing that is stated leads to it", missing)

    def _coupled(self) -> frozenset[int]:
        """The inductors that K cards couple."""
        if self._windings is None:
            found: set[int] = set()
            for element in self.circuit.elements_of("K"):
                prefix = self.circuit.instance_path(element)
                for name in self.circuit.control_names(element):
                    winding = self.circuit.find(f"{prefix}.{name}" if prefix else name)
                    found.update(() if winding is None else (winding,))
            self._windings = frozenset(found)
        return self._windings

    def _feeds(self, held: Boundary) -> bool:
        """Whether the pin of a barrier part at a net may hold it at a voltage."""
        part = self.assembler.parts[held.element]
        roles = {
            part.roles[pin]
            for pin, net in enumerate(self.circuit.pins(held.element))
            if net == held.net and pin < len(part.roles)
        }
        return part.kind.output.feeds == "every pin" or "output" in roles

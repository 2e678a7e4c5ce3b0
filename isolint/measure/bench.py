"""A body with sources at some of its nets, and what it does there at rest.

In: a `Body`, voltages held and currents pushed in at its nets. Out: voltages and currents, or `Unmeasurable` with the
card that stands in the way. Only what bears on the nets that are driven is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.measure import branches as b
from isolint.measure.at_rest import Effort, Exhausted, RestNetwork, operating_point
from isolint.measure.body import ZERO, Body, Device
from isolint.measure.make import Unknowns, Unmeasurable, branches_of, law_of
from isolint.measure.semiconductors import NOMINAL

MOST_DEVICES = 400
QUICK = 20_000
"""Effort while a part is recognised: about a second at most."""

THOROUGH = 100_000
"""Effort for who asked to measure."""


class Bench:
    """The points of one body. Both sources and their values can be changed; each point is sought from the last one."""

    def __init__(
        self,
        body: Body,
        held: Mapping[int, float],
        pushed: Mapping[int, float],
        temperature: float = NOMINAL,
        effort: int = QUICK,
        heard: Device | None = None,
        fixed: Mapping[int, float] | None = None,
    ) -> None:
        """effort: what all points together may cost. heard: a source whose value is wanted, not its effect.

        fixed: more nets that are held, of which nothing else is looked at.
        """
        self.body = body
        edges = fixed or {}
        nets = [*held, *pushed]
        senses: tuple[int, ...] = ()
        if heard is not None:
            senses = heard.senses
            nets += [net for number in senses for net in body.devices[number].pins]
            nets += [net for pair in heard.pairs for net in pair]
        devices = bearing(body, nets, frozenset(edges))
        if len(devices) > MOST_DEVICES:
            raise Unmeasurable(f"more than {MOST_DEVICES} elements bear on it")
        self.unknowns = unknowns = Unknowns((*senses, *(number for device in devices for number in device.senses)))
        for net in nets:
            unknowns.node(net)
        made: list[b.Branch] = [*branches_of(body, devices, unknowns, temperature, lenient=heard is not None)]
        self._holds = {
            net: b.Hold(unknowns.node(net), b.GROUND, unknowns.current(), volts)
            for net, volts in (*held.items(), *edges.items())
            if net != ZERO
        }
        self._pushes = {net: b.Push(b.GROUND, unknowns.node(net), amps) for net, amps in pushed.items()}
        branches = (*made, *self._holds.values(), *self._pushes.values())
        self._network = RestNetwork(branches, tuple(unknowns.is_node), Effort(effort))
        self._x: list[float] | None = None

    def hold(self, net: int, volts: float) -> None:
        """Change a voltage that is held."""
        self._holds[net].volts = volts

    def push(self, net: int, amps: float) -> None:
        """Change a current that is pushed in."""
        self._pushes[net].amps = amps

    def solve(self) -> None:
        """Find the operating point; raise `Unmeasurable` where there is none."""
        found = None
        try:
            found = operating_point(self._network, self._x)
            if found is None and self._x is not None:
                found = operating_point(self._network)
        except Exhausted:
            raise Unmeasurable("the equations of its model take too long to solve") from None
        except (ArithmeticError, ValueError):
            found = None
        self._x = found
        if found is None:
            raise Unmeasurable("the equations of its model have no solution that was found")

    def voltage(self, net: int) -> float:
        """Volts of a net against ground."""
        return b.at(self._solved(), self.unknowns.node(net))

    def taken(self, net: int) -> float:
        """The current that goes into a net from the source that holds it."""
        return -self._solved()[self._holds[net].own]

    def sensed(self, number: int) -> float:
        """The current of a device that another one senses, counted from its first pin on."""
        return self._solved()[self.unknowns.sensed[number]]

    def _solved(self) -> Sequence[float]:
        if self._x is None:
            self.solve()
        assert self._x is not None
        return self._x


class Heard:
    """The value of a source where its LED carries a current and nets of its output are held, without its own effect."""

    def __init__(
        self,
        body: Body,
        source: Device,
        held: Mapping[int, float],
        pushed: Mapping[int, float],
        fixed: Mapping[int, float],
    ) -> None:
        self.source = source
        self.law = law_of(body.circuit, source)
        self.bench = Bench(body, held, pushed, heard=source, fixed=fixed)

    def value(self) -> float:
        """Amperes from its first pin to its second, or volts of the first over the second."""
        bench, source = self.bench, self.source
        inputs = [bench.voltage(one) - bench.voltage(other) for one, other in source.pairs]
        value = self.law([*inputs, *map(bench.sensed, source.senses)])
        if value is None:
            raise Unmeasurable(f"{source.name} has no value")
        return value


def bearing(body: Body, nets: Sequence[int], edges: frozenset[int] = frozenset()) -> list[Device]:
    """The devices on which depends what happens at some nets, in their order: what joins them, what controls that.

    edges: nets beyond which nothing is looked at.
    """
    at: dict[int, list[Device]] = {}
    for device in body.devices:
        for net in dict.fromkeys(_carrying(device)):
            at.setdefault(net, []).append(device)
    seen = set(edges)
    found: set[int] = set()
    waiting = [net for net in nets if net != ZERO]
    while waiting:
        net = waiting.pop()
        if net in seen:
            continue
        seen.add(net)
        for device in at.get(net, ()):
            if device.number in found:
                continue
            found.add(device.number)
            listened = [body.devices[number] for number in device.senses]
            waiting += _carrying(device)
            waiting += [end for pair in device.pairs for end in pair if end != ZERO]
            waiting += [end for other in listened for end in other.pins if end != ZERO]
    return [device for device in body.devices if device.number in found]


def _carrying(device: Device) -> tuple[int, ...]:
    """The nets between which a device carries current, be it little: of a resistor both, however large it is."""
    return tuple(net for net in device.pins[:2] if net != ZERO) if device.letter in "RC" else device.nets

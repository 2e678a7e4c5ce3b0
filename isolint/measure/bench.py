"""A body with sources at some of its nets, and what it does there at rest.

In: a `Body`, voltages held and currents pushed in at its nets. Out: voltages and currents, or `Unmeasurable` with the
card that stands in the way. Only what bears on the nets that are driven is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.measure import branches as b
from isolint.measure.body import ZERO, Body, Device
from isolint.measure.junctions import NOMINAL
from isolint.measure.make import Unknowns, Unmeasurable, branches_of, law_of
from isolint.measure.point import Effort, Exhausted, Network, operating_point

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
        heard: Device | None = None,
        effort: int = QUICK,
    ) -> None:
        """heard: a source whose value is wanted, not its effect; then what can't be computed is left out.

        effort: what all points together may cost.
        """
        self.body = body
        nets = [*held, *pushed]
        if heard is not None:
            nets += [net for number in heard.senses for net in body.devices[number].pins]
            nets += [net for pair in heard.pairs for net in pair]
        devices = bearing(body, nets)
        if len(devices) > MOST_DEVICES:
            raise Unmeasurable(f"more than {MOST_DEVICES} elements bear on it")
        self.unknowns = unknowns = Unknowns(
            number for device in (*devices, *((heard,) if heard else ())) for number in device.senses
        )
        for net in nets:
            unknowns.node(net)
        made: list[b.Branch] = [*branches_of(body, devices, unknowns, temperature, lenient=heard is not None)]
        self._holds = {
            net: b.Hold(unknowns.node(net), b.GROUND, unknowns.current(), volts)
            for net, volts in held.items()
            if net != ZERO
        }
        self._pushes = {net: b.Push(b.GROUND, unknowns.node(net), amps) for net, amps in pushed.items()}
        self._effort = Effort(effort)
        branches = (*made, *self._holds.values(), *self._pushes.values())
        self._network = Network(branches, tuple(unknowns.is_node), self._effort)
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

    def given(self, source: Device) -> float:
        """The value of a source at the operating point: amperes from its first pin to its second, or volts."""
        law = law_of(self.body.circuit, source)
        x = self._solved()
        inputs = [b.at(x, self.unknowns.node(one)) - b.at(x, self.unknowns.node(other)) for one, other in source.pairs]
        value = law([*inputs, *(x[self.unknowns.sensed[number]] for number in source.senses)])
        if value is None:
            raise Unmeasurable(f"{source.name} has no value")
        return value

    def _solved(self) -> Sequence[float]:
        if self._x is None:
            self.solve()
        assert self._x is not None
        return self._x


def bearing(body: Body, nets: Sequence[int]) -> list[Device]:
    """The devices on which depends what happens at some nets, in their order: what joins them, what controls that."""
    at: dict[int, list[Device]] = {}
    for device in body.devices:
        for net in dict.fromkeys(_carrying(device)):
            at.setdefault(net, []).append(device)
    seen: set[int] = set()
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

"""From the devices of a body to branches that can be solved.

In: devices with their cards. Out: branches over unknowns, or `Unmeasurable` with the card that stands in the way.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from isolint.circuit import Circuit
from isolint.errors import IsolintError
from isolint.measure import branches as b
from isolint.measure.body import ZERO, Body, Device
from isolint.measure.given import Value, controlled, own_value
from isolint.measure.semiconductors import ChannelModel, DiodeModel, bipolar, diode

_LEAST_OHMS = 1e-9
_GATES = {"nmos": 1, "pmos": -1, "vdmos": 1, "vdmosn": 1, "vdmosp": -1}


class Unmeasurable(IsolintError):
    """Why a value can't be computed, with the card."""


class Unknowns:
    """The unknowns of a network: voltages of nets and of nodes inside devices, currents of branches.

    sensed: the unknown of the current of each device that another one senses.
    """

    def __init__(self, sensed: Iterable[int]) -> None:
        self.is_node: list[bool] = []
        self._nodes: dict[int, int] = {}
        self.sensed = {number: self.current() for number in dict.fromkeys(sensed)}

    def _new(self, is_node: bool) -> int:
        self.is_node.append(is_node)
        return len(self.is_node) - 1

    def node(self, net: int) -> int:
        """The voltage of a net."""
        if net == ZERO:
            return b.GROUND
        found = self._nodes.get(net)
        if found is None:
            found = self._nodes[net] = self._new(True)
        return found

    def inner(self) -> int:
        """A node inside a device."""
        return self._new(True)

    def current(self) -> int:
        """The current of a branch."""
        return self._new(False)


def branches_of(
    body: Body, devices: Sequence[Device], unknowns: Unknowns, temperature: float, lenient: bool = False
) -> Iterator[b.Branch]:
    """The branches of some devices. lenient: a resistor without value is 1 ohm."""
    maker = _Maker(body, unknowns, temperature)
    for device in devices:
        try:
            yield from maker.made(device)
        except Unmeasurable:
            if not lenient or device.letter != "R" or device.law is not None:
                raise
            one, other = maker.pins(device)[:2]
            yield b.Resistance(one, other, 1.0)


def law_of(circuit: Circuit, source: Device) -> Value:
    """What a source gives, by what it listens to; raise `Unmeasurable` where that can't be computed."""
    if not source.is_controlled and source.law is None:
        own = own_value(circuit, source) or 0.0
        return lambda given: own
    found = controlled(circuit, source)
    if isinstance(found, str):
        raise Unmeasurable(f"{source.name} {found}")
    return found.value


class _Maker:
    """Makes the branches of one body."""

    def __init__(self, body: Body, unknowns: Unknowns, temperature: float) -> None:
        self.body = body
        self.circuit = body.circuit
        self.unknowns = unknowns
        self.temperature = temperature

    def branches(self, device: Device) -> Iterator[b.Branch]:
        made = _KINDS.get(device.letter)
        if made is None:
            raise self.lacking(device, "is no element that is computed here")
        yield from made(self, device)

    def made(self, device: Device) -> list[b.Branch]:
        """The branches of a device; `Unmeasurable` too where its numbers are such that none can be made."""
        try:
            return list(self.branches(device))
        except (ArithmeticError, ValueError):
            raise self.lacking(device, "has values that no such device has") from None

    def lacking(self, device: Device, why: str) -> Unmeasurable:
        place = self.circuit.place(device.element)
        return Unmeasurable(f"{device.name} ({place.file}:{place.line}) {why}")

    def pins(self, device: Device) -> list[int]:
        """The nodes of its pins; behind the first one a current that something senses is counted."""
        return [self.unknowns.node(net) for net in device.pins]

    def counted(self, device: Device, first: int) -> Iterator[b.Branch]:
        """The node behind the first pin, with what counts the current there; given back through `behind`."""
        own = self.unknowns.sensed.get(device.number)
        self.behind = first
        if own is not None:
            self.behind = self.unknowns.inner()
            yield b.Hold(first, self.behind, own, 0.0)

    def numbers(self, device: Device) -> float:
        """How many of a device lie in parallel."""
        tail = self.circuit.tail(device.element)
        found = 1.0
        for key in ("area", "m"):
            value = tail.get(key, 1.0)
            found *= value if isinstance(value, float | int) and value > 0 else 1.0
        return found

    def model(self, device: Device) -> tuple[str, dict[str, float]]:
        """Type and numbers of its `.model`."""
        model = self.circuit.model(device.element)
        if model is None:
            name = self.circuit.model_name(device.element) or "?"
            raise self.lacking(device, f"names the model {name}, which is not there")
        return model.type, self.circuit.model_parameters(device.element)

    # -- what holds or carries -----------------------------------------------------------------------------------

    def resistor(self, device: Device) -> Iterator[b.Branch]:
        a, c = self.pins(device)[:2]
        if device.law is not None:
            yield from self.by_law(device)
            return
        if device.value is None:
            raise self.lacking(device, "has no value")
        yield from self.counted(device, a)
        ohms = device.value if abs(device.value) > _LEAST_OHMS else _LEAST_OHMS
        yield b.Resistance(self.behind, c, 1.0 / ohms)

    def capacitor(self, device: Device) -> Iterator[b.Branch]:
        ohms = self.circuit.tail(device.element).get("rpar")
        if isinstance(ohms, float | int) and ohms > 0.0:
            a, c = self.pins(device)[:2]
            yield b.Resistance(a, c, 1.0 / ohms)

    def holding(self, device: Device) -> Iterator[b.Branch]:
        """A voltage source, or a coil as one of 0 V."""
        if device.law is not None:
            yield from self.by_law(device)
            return
        a, c = self.pins(device)[:2]
        volts = 0.0
        if device.letter == "V":
            stated = own_value(self.circuit, device)
            if stated is None:
                raise self.lacking(device, "has no value at rest")
            volts = stated
        ohms = self.circuit.tail(device.element).get("rser", 0.0)
        own = self.unknowns.sensed.get(device.number)
        own = self.unknowns.current() if own is None else own
        yield b.Hold(a, c, own, volts, ohms if isinstance(ohms, float | int) else 0.0)

    def pushing(self, device: Device) -> Iterator[b.Branch]:
        if device.law is not None:
            yield from self.by_law(device)
            return
        a, c = self.pins(device)[:2]
        amps = own_value(self.circuit, device)
        if amps is None:
            raise self.lacking(device, "has no value at rest")
        yield from self.counted(device, a)
        yield b.Push(self.behind, c, amps)

    def by_law(self, device: Device) -> Iterator[b.Branch]:
        """A source that others control."""
        inputs: list[b.Input] = [
            *((self.unknowns.node(one), self.unknowns.node(other), True) for one, other in device.pairs),
            *((self.unknowns.sensed[number], b.GROUND, False) for number in device.senses),
        ]
        a, c = self.pins(device)[:2]
        found = controlled(self.circuit, device)
        if isinstance(found, str):
            raise self.lacking(device, found)
        if found.resists:
            inputs.append((a, c, True))
        is_voltage = device.is_voltage_source or (device.letter == "V")
        own = -1
        if is_voltage:
            own = self.unknowns.sensed.get(device.number, -1)
            own = self.unknowns.current() if own < 0 else own
        else:
            yield from self.counted(device, a)
            a = self.behind
        yield b.Controlled(a, c, own, inputs, found.value, found.steep)

    # -- semiconductors ------------------------------------------------------------------------------------------

    def junction(self, device: Device) -> Iterator[b.Branch]:
        kind, parameters = self.model(device)
        if kind != "d" or parameters.get("level", 1.0) not in (1.0, 3.0):
            raise self.lacking(device, f"has a model of type {kind} that is not computed here")
        yield from self.counted(device, self.unknowns.node(device.pins[0]))
        found = diode(parameters, self.numbers(device), device.series, self.temperature)
        yield from self.behind_ohms(found, self.behind, self.unknowns.node(device.pins[1]))

    def behind_ohms(self, found: DiodeModel, anode: int, cathode: int) -> Iterator[b.Branch]:
        if found.ohms:
            inner = self.unknowns.inner()
            yield b.Resistance(anode, inner, 1.0 / found.ohms)
            anode = inner
        yield b.Junction(anode, cathode, found)

    def transistor(self, device: Device) -> Iterator[b.Branch]:
        kind, parameters = self.model(device)
        if kind not in ("npn", "pnp", "lpnp") or parameters.get("level", 1.0) != 1.0:
            raise self.lacking(device, f"has a model of type {kind} that is not computed here")
        found = bipolar(kind, parameters, self.numbers(device), self.temperature)
        collector, base, emitter = self.pins(device)[:3]
        yield from self.counted(device, collector)
        ends = [self.behind, base, emitter]
        for place, ohms in ((0, found.collector_ohms), (2, found.emitter_ohms)):
            if ohms > 0.0:
                inner = self.unknowns.inner()
                yield b.Resistance(ends[place], inner, 1.0 / ohms)
                ends[place] = inner
        if found.base_ohms > 0.0:
            ends[1] = self.unknowns.inner()
        yield b.Transistor(ends[0], ends[1], ends[2], found, base)

    def channel(self, device: Device) -> Iterator[b.Branch]:
        kind, parameters = self.model(device)
        get = parameters.get
        if kind not in _GATES or get("level", 1.0) > 3.0:
            raise self.lacking(device, f"has a model of type {kind} that is not computed here")
        drain, gate, source = self.pins(device)[:3]
        yield from self.counted(device, drain)
        ends = [self.behind, source]
        number = self.numbers(device)
        for place, key in enumerate(("rd", "rs")):
            if get(key, 0.0) > 0.0:
                inner = self.unknowns.inner()
                yield b.Resistance(ends[place], inner, number / get(key, 0.0))
                ends[place] = inner
        power = kind.startswith("vdmos")
        tail = self.circuit.tail(device.element)
        sizes = [tail.get(key, get(key, 1e-4)) for key in ("w", "l")]
        width, length = (float(size) if isinstance(size, float | int) and size > 0 else 1e-4 for size in sizes)
        ratio = 1.0 if power else width / length
        polarity = -1 if "pchan" in parameters else _GATES[kind]
        model = self.circuit.model(device.element)
        if model is not None and "pchan" in model.parameters:
            polarity = -1
        threshold = polarity * get("vto", get("vt0", 0.0))
        steep = get("kp", 1.0 if power else 2e-5) * ratio * number
        yield b.FieldEffect(ends[0], gate, ends[1], ChannelModel(threshold, steep, get("lambda", 0.0), polarity))
        if get("rds", 0.0) > 0.0:
            yield b.Resistance(self.behind, source, number / get("rds", 0.0))
        body = diode({"is": get("is", 1e-14), "n": get("n", 1.0)}, number, 1.0, self.temperature)
        yield b.Junction(*((source, self.behind) if polarity > 0 else (self.behind, source)), body)

    def junction_gate(self, device: Device) -> Iterator[b.Branch]:
        kind, parameters = self.model(device)
        if kind not in ("njf", "pjf"):
            raise self.lacking(device, f"has a model of type {kind} that is not computed here")
        get, polarity = parameters.get, 1 if kind == "njf" else -1
        drain, gate, source = self.pins(device)[:3]
        yield from self.counted(device, drain)
        ends, number = [self.behind, source], self.numbers(device)
        for place, key in enumerate(("rd", "rs")):
            if get(key, 0.0) > 0.0:
                inner = self.unknowns.inner()
                yield b.Resistance(ends[place], inner, number / get(key, 0.0))
                ends[place] = inner
        steep = 2.0 * get("beta", 1e-4) * number
        # The threshold of a junction gate is stated as that of an n-channel device, whichever it is.
        yield b.FieldEffect(ends[0], gate, ends[1], ChannelModel(get("vto", -2.0), steep, get("lambda", 0.0), polarity))
        found = diode({"is": get("is", 1e-14), "n": get("n", 1.0)}, number, 1.0, self.temperature)
        for end in ends:
            yield b.Junction(*((gate, end) if polarity > 0 else (end, gate)), found)

    # -- switches and the rest ---------------------------------------------------------------------------------------

    def switch(self, device: Device) -> Iterator[b.Branch]:
        kind, parameters = self.model(device)
        get = parameters.get
        on, off = get("ron", 1.0), get("roff", 1e12)
        a, c = self.pins(device)[:2]
        if device.letter == "S":
            if not device.pairs:
                raise self.lacking(device, "has no control")
            one, other = device.pairs[0]
            control = (self.unknowns.node(one), self.unknowns.node(other), True)
            names = ("von", "voff", "vt", "vh")
        else:
            if not device.senses:
                raise self.lacking(device, "senses a source that is not there")
            control = (self.unknowns.sensed[device.senses[0]], b.GROUND, False)
            names = ("ion", "ioff", "it", "ih")
        yield from self.counted(device, a)
        a = self.behind
        if names[0] in parameters or names[1] in parameters or kind in ("vswitch", "iswitch"):
            usual = 1.0 if device.letter == "S" else 1e-3
            yield _gradual(a, c, control, (get(names[0], usual), get(names[1], 0.0)), (on, off))
            return
        middle, half = get(names[2], 0.0), abs(get(names[3], 0.0))
        yield b.ThresholdSwitch(a, c, control, (middle - half, middle + half), (on, off))

    def line(self, device: Device) -> Iterator[b.Branch]:
        if len(device.pins) < 4:
            raise self.lacking(device, "is no element that is computed here")
        pins = self.pins(device)
        for one, other in ((0, 2), (1, 3)):
            if pins[one] == pins[other]:
                continue
            yield b.Hold(pins[one], pins[other], self.unknowns.current(), 0.0)

    def nothing(self, device: Device) -> Iterator[b.Branch]:
        """A coupling of coils, which does nothing at rest."""
        return iter(())


def _gradual(a: int, c: int, control: b.Input, ends: tuple[float, float], ohms: tuple[float, float]) -> b.Branch:
    """A switch whose resistance passes from one end to the other, straight in its logarithm with round shoulders."""
    (on, off), (on_ohms, off_ohms) = ends, ohms
    middle = (math.log(on_ohms) + math.log(off_ohms)) / 2.0
    span = math.log(on_ohms) - math.log(off_ohms)

    def value(inputs: Sequence[float]) -> float | None:
        place = 0.5 if on == off else (inputs[0] - off) / (on - off)
        if on == off:
            place = 1.0 if inputs[0] >= on else 0.0
        way = min(max(place, 0.0), 1.0) - 0.5
        return inputs[1] / math.exp(middle + span * (1.5 * way - 2.0 * way**3))

    return b.Controlled(a, c, -1, (control, (a, c, True)), value)


_KINDS = {
    "R": _Maker.resistor,
    "C": _Maker.capacitor,
    "L": _Maker.holding,
    "V": _Maker.holding,
    "I": _Maker.pushing,
    "E": _Maker.by_law,
    "G": _Maker.by_law,
    "F": _Maker.by_law,
    "H": _Maker.by_law,
    "B": _Maker.by_law,
    "D": _Maker.junction,
    "Q": _Maker.transistor,
    "M": _Maker.channel,
    "J": _Maker.junction_gate,
    "S": _Maker.switch,
    "W": _Maker.switch,
    "T": _Maker.line,
    "K": _Maker.nothing,
}

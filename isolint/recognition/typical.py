"""What a model gives at a few LED currents: the current that the light makes, and the transfer ratio.

In: a signal graph, an LED and what the output is made of. Out: numbers, or None where a step can't be computed: more
than one diode shares the LED's current, a part that is no resistor or source stands in the chain, a loop. Saturation,
high-current loss and leakage are left out, so that the numbers are typical ones and never limits.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from isolint.measure.body import ZERO, Device
from isolint.measure.laws import evaluate
from isolint.netlist.card_values import read_value
from isolint.netlist.expressions import ExpressionError, parse
from isolint.recognition.led_groups import Led, drop_of
from isolint.recognition.signals import Graph
from isolint.recognition.typical_values import VOLTAGE_CURRENT, Typical

CURRENTS = (1e-3, 5e-3, 10e-3)
_GAIN = 100.0
"""Current gain of a transistor whose model states none."""

_MAX_NETS = 40
_MAX_STEPS = 400
_MAX_INNER_OHMS = 50.0
_SMALL_SIEMENS = 1e-13
_WORD = re.compile(r"[^\s,]+")


def typical(graph: Graph, led: Led, light: Sequence[Device]) -> Typical:
    """Forward voltage and ratios of an LED whose light `light[0]` turns into a current, with the transistors behind."""
    if not led.alone:
        return Typical()
    ratios = []
    for current in CURRENTS if light else ():
        value = Light(graph, led, current).ratio(light)
        if value is None or not 1e-6 < value < 1e4:
            return Typical(_forward_voltage(led))
        ratios.append((current, value))
    return Typical(_forward_voltage(led), tuple(ratios))


def _forward_voltage(led: Led) -> float | None:
    if led.drop is None:
        return None
    inner = sum(device.value or 0.0 for device, _ in led.way if device.letter == "R")
    inner += sum(device.series * device.parameters.get("rs", 0.0) for device, _ in led.way if device.letter == "D")
    return led.drop + inner * VOLTAGE_CURRENT if inner <= _MAX_INNER_OHMS else None


def flow(graph: Graph, led: Led, source: Device) -> tuple[int, int]:
    """(the net where a lit current enters a source, where it leaves), by its sign where that can be computed."""
    value = Light(graph, led, 5e-3).source(source)
    first, second = source.pins[:2]
    return (second, first) if value is not None and value < 0.0 else (first, second)


class Light:
    """The voltages and currents of a body while its LED carries a current, and nets of its output are held."""

    def __init__(self, graph: Graph, led: Led, current: float, held: Mapping[int, float] | None = None) -> None:
        self.graph = graph
        self.led = led
        self.current = current
        self.held = held or {}
        self.steps = 0
        self._solved: dict[int, dict[int, float] | None] = {}
        self._branch: dict[int, float] = {}
        self._signs = {device.number: sign for device, sign in led.way}
        self._nets = self._along()

    def ratio(self, light: Sequence[Device]) -> float | None:
        """Output current over LED current."""
        source, chain = light[0], light[1:]
        value = self.source(source)
        if value is None:
            return None
        photocurrent = abs(value)
        if not chain:
            return photocurrent / self.current
        total = photocurrent
        for transistor in chain:
            total *= transistor.parameters.get("bf", _GAIN) + 1.0
        collectors = [transistor.pins[0] for transistor in chain]
        taken = any(self.graph.same_wire(net, pin) for net in source.pins[:2] for pin in collectors)
        return (total if taken else total - photocurrent) / self.current

    def _along(self) -> dict[int, float]:
        """Volts of the nets on the way through the LED against its cathode's port."""
        volts, at = 0.0, self.graph.body.ports[self.led.ports[1]]
        found = {at: 0.0}
        for device, sign in reversed(self.led.way):
            one, other = _ends(device)
            at = one if at == other else other
            if device.letter == "V":
                volts += sign * (device.value or 0.0)
            elif device.letter == "R":
                volts += self.current * (device.value or 0.0)
            elif device.letter != "L":
                drop = drop_of(device, self.current) if device.letter in "DQ" else self.led.drop
                volts += (drop or 0.0) + self.current * device.series * device.parameters.get("rs", 0.0)
            found[at] = volts
        return found

    # -- single values ----------------------------------------------------------------------------------------------

    def source(self, device: Device) -> float | None:
        """The value of a source: amperes from its first pin to its second, or volts of the first against the second."""
        self.steps += 1
        if self.steps > _MAX_STEPS:
            return None
        if device.law is not None:
            return self._law(device)
        if not device.is_controlled:
            return device.value if device.value is not None else 0.0
        inputs: list[float] = []
        for sensed in device.senses:
            current = self._current(sensed)
            if current is None:
                return None
            inputs.append(current)
        for one, other in device.pairs:
            volts = self._voltage(one, other)
            if volts is None:
                return None
            inputs.append(volts)
        if device.value is not None:
            return device.value * inputs[0] if len(inputs) == 1 else None
        return self._polynomial(device, inputs)

    def _law(self, device: Device) -> float | None:
        law = device.law
        assert law is not None
        voltages = dict(zip(law.pairs, device.pairs, strict=False)) if len(law.pairs) == len(device.pairs) else {}
        currents = (
            dict(zip(law.currents, device.senses, strict=False)) if len(law.currents) == len(device.senses) else {}
        )

        def voltage(one: str, other: str) -> float | None:
            pair = voltages.get((one, other))
            return None if pair is None else self._voltage(*pair)

        def current(name: str) -> float | None:
            sensed = currents.get(name)
            return None if sensed is None else self._current(sensed)

        environment, functions = self.graph.body.circuit.surroundings(device.element)
        return evaluate(law.text, voltage, current, environment, functions)

    def _polynomial(self, device: Device, inputs: Sequence[float]) -> float | None:
        """POLY: constant, one factor an input, then the squares and products."""
        circuit = self.graph.body.circuit
        text = circuit.tail(device.element).get("coefficients")
        if not isinstance(text, str) or not inputs:
            return None
        environment, functions = circuit.surroundings(device.element)
        factors: list[float] = []
        for word in _WORD.findall(text):
            value = read_value(word)
            if value is None:
                try:
                    value = parse(word.strip("{}'")).evaluate(environment, functions)
                except ExpressionError:
                    return None
            factors.append(value)
        if len(inputs) == 1:
            if len(factors) == 1:
                return factors[0] * inputs[0]
            return sum(factor * inputs[0] ** power for power, factor in enumerate(factors[:12]))
        terms = [1.0, *inputs, *(x * y for at, x in enumerate(inputs) for y in inputs[at:])]
        return sum(f * t for f, t in zip(factors, terms, strict=False)) if len(factors) <= len(terms) else None

    def _current(self, index: int) -> float | None:
        sign = self._signs.get(index)
        if sign is not None:
            return sign * self.current
        device = self.graph.body.devices[index]
        for component in self.graph.outputs(device):
            if not self.graph.ports(component) and self._solve(component) is not None:
                return self._branch.get(index)
        return None

    def _voltage(self, one: int, other: int) -> float | None:
        first, second = self._net(one, other), self._net(other, one)
        return None if first is None or second is None else first - second

    def _net(self, net: int, partner: int) -> float | None:
        if net in self._nets and partner in self._nets:
            return self._nets[net]
        if net == ZERO:
            return 0.0
        if net in self.held:
            return self.held[net]
        component = self.graph.component(net)
        if component == self.led.component or self.graph.ports(component):
            return None
        solved = self._solve(component)
        return None if solved is None else solved.get(net)

    # -- an inner component as a linear network -----------------------------------------------------------------------

    def _solve(self, component: int) -> dict[int, float] | None:
        """Volts of the nets of an inner component against node 0; None where it can't be solved."""
        if component in self._solved:
            return self._solved[component]
        self._solved[component] = None  # a loop finds nothing
        devices = self.graph.devices(component)
        nets = list(dict.fromkeys(net for device in devices for net in device.nets))
        if len(nets) > _MAX_NETS or any(device.letter not in "RLVIEGFHB" for device in devices):
            return None
        row = {net: number for number, net in enumerate(nets)}
        held = [device for device in devices if device.letter in "VL" or device.is_voltage_source]
        size = len(nets) + len(held)
        matrix = [[0.0] * (size + 1) for _ in range(size)]
        for number in range(len(nets)):
            matrix[number][number] = _SMALL_SIEMENS
        for device in devices:
            if device in held:
                continue
            ends = tuple(row.get(net, -1) for net in device.pins[:2])
            if device.letter == "R":
                if device.value is None or device.law is not None or not device.value > 0.0:
                    return None
                _stamp(matrix, ends, 1.0 / device.value)
                continue
            value = self.source(device)
            if value is None:
                return None
            for end, sign in zip(ends, (-1.0, 1.0), strict=True):
                if end >= 0:
                    matrix[end][size] += sign * value
        for number, device in enumerate(held, start=len(nets)):
            volts = 0.0 if device.letter == "L" else self.source(device)
            if volts is None:
                return None
            for net, sign in zip(device.pins[:2], (1.0, -1.0), strict=True):
                if net in row:
                    matrix[row[net]][number] += sign
                    matrix[number][row[net]] += sign
            matrix[number][size] = volts
        found = _eliminate(matrix)
        if found is None or any(abs(value) > 1e9 for value in found):
            return None
        self._branch.update({device.number: found[at] for at, device in enumerate(held, start=len(nets))})
        solved = dict(zip(nets, found, strict=False))
        self._solved[component] = solved
        return solved


def _ends(device: Device) -> tuple[int, int]:
    if device.letter == "Q":
        return device.pins[1], device.pins[2]
    return device.pins[0], device.pins[1]


def _stamp(matrix: list[list[float]], ends: tuple[int, ...], siemens: float) -> None:
    one, other = ends
    for end in ends:
        if end >= 0:
            matrix[end][end] += siemens
    if one >= 0 and other >= 0:
        matrix[one][other] -= siemens
        matrix[other][one] -= siemens


def _eliminate(matrix: list[list[float]]) -> list[float] | None:
    """Solve by elimination with row exchange; None for a singular system."""
    size = len(matrix)
    for column in range(size):
        pivot = max(range(column, size), key=lambda at: abs(matrix[at][column]))
        if abs(matrix[pivot][column]) < 1e-15:
            return None
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        lead = matrix[column]
        for at in range(column + 1, size):
            factor = matrix[at][column] / lead[column]
            if factor:
                line = matrix[at]
                for position in range(column, size + 1):
                    line[position] -= factor * lead[position]
    found = [0.0] * size
    for at in range(size - 1, -1, -1):
        rest = sum(matrix[at][position] * found[position] for position in range(at + 1, size))
        found[at] = (matrix[at][size] - rest) / matrix[at][at]
    return found

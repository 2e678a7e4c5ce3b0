"""Transistor switches of a drive network in its on state: what each can carry, and what it must carry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.worstcase.corner_words import words
from isolint.worstcase.corners import Extreme
from isolint.worstcase.devices import Bipolar, Mos, from_model
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network import BipolarBranch, Branch, BranchNetwork
from isolint.worstcase.network_build import Assembler
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import NO_CURRENT, Quantity, over_temperature
from isolint.worstcase.solve import Point
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Setting

OFF_SHARE = 0.01
IDEAL_GAIN = 1e6
FULLY_ON_ABOVE_THRESHOLD = 1.0


class SwitchDrive(NamedTuple):
    """A BJT or MOS switch of the drive network in the on state.

    For a BJT `available` is BF_min x IB_min and `required` IC_max with the switch ideal, in amperes; for a MOS
    `available` is VGS_min and `required` the gate-source voltage that turns it fully on, in volts. `base_current` and
    `gain` show the product.
    """

    element: int
    kind: str
    available: float
    required: float
    corner: str
    base_current: float
    gain: float


class SwitchAnalyser:
    """Judges the transistor switches of one assembled drive network."""

    def __init__(self, lookup: Lookup, assembler: Assembler, setting: Setting, made: Assembly) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.assembler = assembler
        self.setting = setting
        self.made = made

    # -- which transistors --------------------------------------------------------------------------------------

    def bipolars(self) -> list[int]:
        """The bipolar transistors that work as switches."""
        return [element for element in self.made.bipolars if self._is_switch(element)]

    def mosfets(self, point: Point) -> list[int]:
        """The MOS transistors that carry current at an operating point."""
        paths = ((element, self.circuit.path(element)) for element in self.made.mosfets)
        return [element for element, path in paths if abs(point.current(path, "drain")) > NO_CURRENT]

    def _is_switch(self, element: int) -> bool:
        """A BJT whose emitter is held, directly or through the second one of a darlington, and that nothing regulates.

        Such a loop is another transistor that takes base current away and senses the switched current; that one is no
        switch either. The second one of a darlington never saturates: the first one stands for both.
        """
        collector, base, emitter = self.circuit.pins(element)[:3]
        others = [other for other in self.made.bipolars if other != element]
        if any(self._feeds(other, element) for other in others):
            return False
        held = self._held_by_wires(emitter) or any(self._feeds(element, other) for other in others)
        if not held or self._is_regulated(element):
            return False
        return not any(
            collector == self._base(other)
            and not self._held_by_wires(self._emitter(other))
            # What it takes it takes from the current that it senses at the other one's emitter.
            and (base == self._emitter(other) or self._joined(base, self._emitter(other)))
            for other in others
        )

    def _base(self, element: int) -> int:
        return self.circuit.pins(element)[1]

    def _emitter(self, element: int) -> int:
        return self.circuit.pins(element)[2]

    def _feeds(self, first: int, second: int) -> bool:
        """Whether two transistors are a darlington: the first one's emitter is the second one's base, on one load."""
        one, other = self.circuit.pins(first)[:3], self.circuit.pins(second)[:3]
        return one[2] == other[1] and one[0] == other[0] and self._held_by_wires(other[2])

    def _is_regulated(self, element: int) -> bool:
        """Whether another transistor takes base current away and senses this one's collector."""
        collector, base, _ = self.circuit.pins(element)[:3]
        for other in self.made.bipolars:
            taker, sense = self.circuit.pins(other)[:2]
            if other != element and taker == base and (sense == collector or self._joined(sense, collector)):
                return True
        return False

    def _held_by_wires(self, net: int) -> bool:
        """Whether a net is held, directly or through 0 ohm, 0 V or an inductor."""
        seen, waiting = {net}, [net]
        while waiting:
            at = waiting.pop()
            if self.lookup.walker.held(at) is not None:
                return True
            for element, _ in self.circuit.elements_at(at):
                letter = self.circuit.letter(element)
                still = self.circuit.value(element) == 0.0 and self.circuit.stimulus(element) is None
                if letter == "L" or (letter in "RV" and still):
                    further = [other for other in self.circuit.pins(element) if other not in seen]
                    seen.update(further)
                    waiting.extend(further)
        return False

    def _joined(self, a: int, b: int) -> bool:
        """Whether a resistor lies between two nets."""
        touching = (element for element, _ in self.circuit.elements_at(a))
        return any(self.circuit.letter(element) == "R" and b in self.circuit.pins(element) for element in touching)

    def _device(self, element: int) -> object:
        model = self.circuit.model(element)
        tail = {key: value for key, value in self.circuit.tail(element).items() if isinstance(value, float)}
        kind, parameters = None if model is None else model.type, self.circuit.model_parameters(element)
        return from_model(self.circuit.letter(element), kind, parameters, tail)

    # -- what they can and must ---------------------------------------------------------------------------------

    def values(self, point: Point, bases: Sequence[int], gates: Sequence[int]) -> list[float]:
        """Base currents, then gate-source voltages counted in the direction that turns the transistor on."""
        found = [abs(point.current(self.circuit.path(element), "base")) for element in bases]
        for element in gates:
            _, gate, source = self.circuit.pins(element)[:3]
            device = self._device(element)
            sign = device.polarity if isinstance(device, Mos) else 1
            found.append(sign * (point.voltage(self.made.nets[gate]) - point.voltage(self.made.nets[source])))
        return found

    def drives(
        self,
        bases: Sequence[int],
        gates: Sequence[int],
        per_temperature: list[tuple[float, tuple[Extreme, ...]]],
        first: int,
        current: Quantity,
    ) -> tuple[SwitchDrive, ...]:
        """Each switch with what it can and must carry; the extremes of `values` stand from index `first` on."""
        found: list[SwitchDrive] = []
        for index, element in enumerate(bases, first):
            base = over_temperature(index, 0.0, per_temperature)
            if base.high.value < NO_CURRENT:
                continue
            device = self._device(element)
            assert isinstance(device, Bipolar)
            gain = device.BF * self.setting.low(self.assembler.gain(element, device))
            required, corner = self._ideal_collector(element, [temperature for temperature, _ in per_temperature])
            if required < OFF_SHARE * current.high.value:
                # A transistor across the LED is off while the LED is on; it is no source of the LED's current.
                continue
            least, words_ = base.low.value, f"{base.low.corner}; {corner}"
            found.append(SwitchDrive(element, "bjt", gain * least, required, words_, least, gain))
        for index, element in enumerate(gates, first + len(bases)):
            voltage = over_temperature(index, 0.0, per_temperature).low
            device = self._device(element)
            assert isinstance(device, Mos)
            fact = self.lookup.facts.element(self.circuit.path(element)).gate_full_on
            required = abs(device.VTO) + FULLY_ON_ABOVE_THRESHOLD if fact is None else fact.value
            found.append(SwitchDrive(element, "mos", voltage.value, required, voltage.corner, 0.0, 0.0))
        return tuple(found)

    def _ideal_collector(self, element: int, temperatures: Sequence[float]) -> tuple[float, str]:
        """Largest collector current with this switch ideal (no drop, no limit by its gain), in amperes."""
        path = self.circuit.path(element)
        best = (0.0, "")

        def idealised(network: BranchNetwork) -> BranchNetwork:
            branches: list[Branch] = []
            for branch in network.branches:
                if isinstance(branch, BipolarBranch) and branch.name == path:
                    ideal = branch.device._replace(BF=IDEAL_GAIN, RC=0.0, RE=0.0)
                    branches.append(branch._replace(device=ideal))
                else:
                    branches.append(branch)
            return BranchNetwork(network.nodes, tuple(branches))

        for temperature in temperatures:

            def evaluate(vector: Sequence[float], t: float = temperature) -> list[float]:
                point = self.assembler.solver.solve(idealised(self.made.network(vector, t)), t)
                return [abs(point.current(path, "collector"))]

            (extreme,) = solved_extremes(
                self.assembler.solver, self.made.ranges(self.setting, temperature), evaluate, sought="high"
            )
            if extreme.high > best[0]:
                best = (extreme.high, words(extreme.high_corner, temperature))
        return best

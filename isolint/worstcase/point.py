"""An operating point: every voltage and current, checked at every node."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.worstcase.equations import Bench, System, add_leakage
from isolint.worstcase.network import (
    BipolarBranch,
    Blocked,
    Branch,
    BranchNetwork,
    CurrentSource,
    MosBranch,
    NotSolvable,
    Port,
    Unlimited,
    VoltageSource,
)
from isolint.worstcase.topology import Structure, inner_ohms, listed, port_conflict

_MOST_AMPS = 1e6
_MOST_PORT_AMPS = 1e3
# Ports of different voltage on one net meet through the micro-ohms that keep the equations solvable.

_MOST_VOLTS = 1e6
_ROUNDING = 1e-14
_SMALLEST = 1e-8
# Amperes from which on a node's currents must balance in relation to the largest of them.
_PINS: dict[type, tuple[str, ...]] = {
    BipolarBranch: ("collector", "base", "emitter"),
    MosBranch: ("drain", "gate", "source"),
}


class Point(NamedTuple):
    """One operating point. voltages: of each node in volts. amps: the currents of each branch in amperes. residual:
    largest sum of currents at a node over the largest current there. iterations: Newton steps, 0 for a linear network.
    bench: what the next solution of a network with this structure may use again."""

    network: BranchNetwork
    temperature: float
    voltages: Sequence[float]
    amps: Sequence[Sequence[float]]
    residual: float
    iterations: int
    structure: Structure
    states: tuple[tuple[float, ...], ...]
    unknowns: Sequence[float]
    bench: Bench

    def of(
        self, network: BranchNetwork, temperature: float, voltages: Sequence[float], amps: Sequence[Sequence[float]]
    ) -> Point:
        """This point with another network of its structure, and with what is another there."""
        return Point(
            network,
            temperature,
            voltages,
            amps,
            self.residual,
            self.iterations,
            self.structure,
            self.states,
            self.unknowns,
            self.bench,
        )

    def voltage(self, node: int | str) -> float:
        """Voltage of a node, by index or name, against node 0."""
        return self.voltages[node if isinstance(node, int) else self.network.nodes.index(node)]

    def current(self, branch: str, pin: str | None = None) -> float:
        """Current of a branch in the direction its class names; for transistors into the pin."""
        branches, number = self.network.branches, 0
        while branches[number].name != branch:
            number += 1
        own, values = branches[number], self.amps[number]
        if len(values) == 1:
            return values[0]
        if pin is None:
            raise ValueError(f"{branch} has several pins: name one")
        return values[_PINS[type(own)].index(pin)]


def no_point(network: BranchNetwork) -> str:
    """Why a network whose iteration failed has no operating point, as far as its connections tell."""
    names = port_conflict(network)
    if len(names) > 1:
        return f"sources {listed(names)} are in conflict: they hold one net at different voltages"
    return "the network has no operating point"


def point_of(
    network: BranchNetwork, structure: Structure, temperature: float, system: System, x: Sequence[float], count: int
) -> Point:
    """Expand the kept unknowns, work out every branch current and check them at every node."""
    full = system.reduction.expand(x)
    volts = [full[i] if i >= 0 else held for i, held in zip(structure.unknowns, system.held, strict=True)]
    if not max(map(abs, volts)) <= _MOST_VOLTS:
        sources = [branch.name for branch in network.branches if isinstance(branch, CurrentSource)]
        what = f": nothing takes the current of {listed(sources)}" if sources else ""
        raise NotSolvable(f"the network has no operating point{what}")
    values = _solved_currents(network, structure, system, full)
    leaving, residual = _balance(network, structure, system, volts, values)
    # What a node that sources hold takes, its own source delivers, from the farthest one inwards.
    for step in reversed(structure.held):
        delivered = step.sign * leaving[step.to]
        values[step.branch] = [_delivery_sign(network.branches[step.branch]) * delivered]
        leaving[step.start] += leaving[step.to]
    return Point(
        network=network,
        temperature=temperature,
        voltages=volts[: len(network.nodes)],
        amps=values,
        residual=residual,
        iterations=count,
        structure=structure,
        states=tuple([companion.state() for companion in system.companions]),
        unknowns=x[: system.size],
        bench=system.bench,
    )


def unlimited(branch: Branch) -> Unlimited:
    """What to raise where a branch's current grows without bound."""
    return Unlimited(f"nothing limits the current through {branch.name}", branch.name)


def runaway(network: BranchNetwork, system: System) -> Branch | None:
    """The first branch whose current had grown without bound when an iteration gave up."""
    for number, companion in zip(system.owners, system.companions, strict=True):
        if max(map(abs, companion.currents())) > _MOST_AMPS:
            return network.branches[number]
    return None


def _delivery_sign(branch: Branch) -> float:
    """Sources count what they deliver out of a, everything else what flows from a to b."""
    return 1.0 if isinstance(branch, (VoltageSource, Port)) else -1.0


def _solved_currents(
    network: BranchNetwork, structure: Structure, system: System, full: Sequence[float]
) -> list[list[float]]:
    """The currents that are unknowns or states of companions, by branch; empty for all others."""
    values: list[list[float]] = [[] for _ in network.branches]
    for own, number in enumerate(structure.floating, structure.unknown_nodes):
        values[number] = [_delivery_sign(network.branches[number]) * full[own]]
    for number, _ in structure.redundant:
        values[number] = [0.0]
    for number, companion in zip(system.owners, system.companions, strict=True):
        amps = list(companion.currents())
        branch = network.branches[number]
        if isinstance(branch, Port) and abs(amps[0]) > _MOST_PORT_AMPS:
            raise NotSolvable(no_point(network))
        if max(map(abs, amps)) > _MOST_AMPS:
            raise unlimited(branch)
        if values[number] and isinstance(branch, MosBranch):
            # The second companion of a MOS transistor is its body diode, from source to drain of an n-channel one.
            inwards = -branch.device.polarity * amps[0]
            values[number][0] += inwards
            values[number][2] -= inwards
        else:
            values[number] = amps
    return values


def _balance(
    network: BranchNetwork, structure: Structure, system: System, volts: Sequence[float], values: list[list[float]]
) -> tuple[list[float], float]:
    """Complete `values`; the current that leaves each node, and the largest remainder over its node's currents."""
    leaving = [0.0] * len(network.nodes)
    largest = [_SMALLEST] * len(network.nodes)
    noise = [0.0] * len(network.nodes)
    _add_resistive(structure, system.siemens, volts, values, leaving, largest, noise)
    _add_rounding(structure, system, volts, noise)
    for number in structure.carrying:
        branch, nodes, own = network.branches[number], structure.touched[number], values[number]
        if isinstance(branch, CurrentSource):
            own.append(branch.amps)
        else:
            add_leakage(branch, volts, own)
        if len(own) == 1:
            flow = -own[0] if isinstance(branch, (VoltageSource, Port)) else own[0]
            flows: Sequence[float] = (flow, -flow)
        else:
            flows = own
            for node, inner in zip(nodes, inner_ohms(branch), strict=False):
                if inner is not None:
                    noise[node] += 2.0 * _ROUNDING * abs(volts[node]) / inner
        for node, flow in zip(nodes, flows, strict=True):
            leaving[node] += flow
            if abs(flow) > largest[node]:
                largest[node] = abs(flow)
    residual = 0.0
    for node, rest in enumerate(leaving):
        if structure.unknowns[node] >= 0:
            residual = max(residual, (abs(rest) - noise[node]) / largest[node])
    for number, branch in enumerate(network.branches):
        if isinstance(branch, Blocked):
            values[number] = [0.0]
    return leaving, residual


def _add_resistive(
    structure: Structure,
    siemens: Sequence[float],
    volts: Sequence[float],
    values: list[list[float]],
    leaving: list[float],
    largest: list[float],
    noise: list[float],
) -> None:
    """Add the currents of the resistive branches to `values` and to their nodes, with what they are known to."""
    touched = structure.touched
    for number in structure.resistive:
        a, b = touched[number]
        va, vb, conductance = volts[a], volts[b], siemens[number]
        amps = (va - vb) * conductance
        values[number] = [amps]
        leaving[a] += amps
        leaving[b] -= amps
        amps = abs(amps)
        # The difference of two large voltages over a small resistance is known no better than this.
        floor = _ROUNDING * (abs(va) + abs(vb)) * conductance
        for node in (a, b):
            noise[node] += floor
            if amps > largest[node]:
                largest[node] = amps


def _add_rounding(structure: Structure, system: System, volts: Sequence[float], noise: list[float]) -> None:
    """Add to `noise` what rounding of its voltages makes of the current of each nonlinear branch."""
    for number, companion in zip(system.owners, system.companions, strict=True):
        steepness = companion.steepness()
        if steepness:
            nodes = structure.touched[number]
            rounding = _ROUNDING * steepness * sum([abs(volts[node]) for node in nodes])
            for node in nodes:
                noise[node] += rounding

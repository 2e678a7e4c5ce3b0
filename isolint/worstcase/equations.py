"""A network with its values as equations: the linear part reduced, a companion for each nonlinear branch.

In: a network, its structure, a temperature. Out: a `System` for the iteration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from isolint.worstcase.companions import Companion, LedCompanion, PortCompanion
from isolint.worstcase.elimination import Matrix, Reduction, reduce_linear
from isolint.worstcase.junctions import BipolarCompanion, DiodeCompanion, MosCompanion
from isolint.worstcase.network import (
    BipolarBranch,
    Branch,
    CurrentSource,
    DiodeBranch,
    Led,
    MosBranch,
    Network,
    NotSolvable,
    Port,
    Resistor,
    SwitchBranch,
    nodes_of,
)
from isolint.worstcase.structure import Structure, inner_ohms, volts_of

LEAKAGE = 1e-12
"""Siemens across every nonlinear branch, so that a net between two blocking ones has a voltage."""


@dataclass(slots=True)
class System:
    """A network with values: reduced linear part and companions. slots: position of each node in the unknowns."""

    reduction: Reduction
    size: int
    rows: Matrix
    right: list[float]
    constants: list[float]
    companions: list[Companion]
    owners: list[int]
    held: list[float]

    def start(self) -> list[float]:
        """All unknowns 0, constants in place."""
        return [0.0] * self.size + self.constants


def assemble(network: Network, structure: Structure, temperature: float) -> System:
    """Fill the linear equations, eliminate their linear part and set up the companions."""
    index = structure.index
    nodes = structure.nodes
    first_source = structure.unknown_nodes
    first_port = first_source + len(structure.floating)
    size = first_port + len(structure.ports)
    rows: Matrix = [[0.0] * size for _ in range(size)]
    right = [0.0] * size
    nonlinear = [False] * size
    held = [0.0] * nodes
    branches = network.branches
    for step in structure.held:
        held[step.to] = held[step.start] + step.sign * volts_of(branches[step.branch])

    def conduct(a: int, b: int, siemens: float) -> None:
        i, j = index[a], index[b]
        if i >= 0:
            rows[i][i] += siemens
            if j >= 0:
                rows[i][j] -= siemens
            else:
                right[i] += siemens * held[b]
        if j >= 0:
            rows[j][j] += siemens
            if i >= 0:
                rows[j][i] -= siemens
            else:
                right[j] += siemens * held[a]

    def hold(a: int, b: int, own: int, volts: float) -> None:
        """Row v(a) - v(b) = volts, and its current `own` delivered into a."""
        for node, sign in ((a, 1.0), (b, -1.0)):
            i = index[node]
            if i >= 0:
                rows[own][i] += sign
                rows[i][own] -= sign
            else:
                volts -= sign * held[node]
        right[own] = volts

    specs: list[tuple[int, Branch, tuple[int, ...]]] = []
    hidden = len(network.nodes)
    port = first_port
    for number, branch in enumerate(branches):
        if isinstance(branch, (Resistor, SwitchBranch)):
            resistance = ohms_of(branch)
            if resistance > 0.0:
                conduct(branch.a, branch.b, 1.0 / resistance)
            elif resistance != 0.0:
                raise NotSolvable(f"{branch.name} has a resistance of {resistance:g} ohm; it must be 0 or more")
        elif isinstance(branch, CurrentSource):
            for node, sign in ((branch.a, -1.0), (branch.b, 1.0)):
                if index[node] >= 0:
                    right[index[node]] += sign * branch.amps
        elif isinstance(branch, Port):
            hold(branch.a, branch.ref, port, 0.0)
            nonlinear[port] = True
            specs.append((number, branch, (port,)))
            port += 1
        elif isinstance(branch, (Led, DiodeBranch)):
            conduct(branch.anode, branch.cathode, LEAKAGE)
            specs.append((number, branch, (branch.anode, branch.cathode)))
        elif isinstance(branch, (BipolarBranch, MosBranch)):
            pins = []
            for node, ohms in zip(nodes_of(branch), inner_ohms(branch), strict=True):
                if ohms is None:
                    pins.append(node)
                    continue
                conduct(node, hidden, 1.0 / ohms)
                pins.append(hidden)
                hidden += 1
            if isinstance(branch, BipolarBranch):
                conduct(branch.base, branch.collector, LEAKAGE)
                conduct(branch.base, branch.emitter, LEAKAGE)
                specs.append((number, branch, tuple(pins)))
            else:
                conduct(branch.drain, branch.source, shunt(branch))
                specs.append((number, branch, (*pins, branch.drain, branch.source)))
    for own, number in enumerate(structure.floating, first_source):
        a, b = nodes_of(branches[number])
        hold(a, b, own, volts_of(branches[number]))
    for _, branch, touched in specs:
        if not isinstance(branch, Port):
            for node in touched:
                if index[node] >= 0:
                    nonlinear[index[node]] = True
    return _finish(specs, structure, temperature, held, reduce_linear(rows, right, nonlinear))


def ohms_of(branch: Resistor | SwitchBranch) -> float:
    """The resistance of a linear branch in its present state; 0 is a wire."""
    return branch.ohms if isinstance(branch, Resistor) else branch.device.ohms


def shunt(branch: MosBranch) -> float:
    """Conductance between drain and source beside the channel."""
    return LEAKAGE + (1.0 / branch.device.RDS if branch.device.RDS else 0.0)


def _finish(
    specs: Sequence[tuple[int, Branch, tuple[int, ...]]],
    structure: Structure,
    temperature: float,
    held: list[float],
    reduction: Reduction,
) -> System:
    """Give every node of a nonlinear branch its slot: kept unknowns, LED currents, then constant voltages."""
    index = structure.index
    kept = len(reduction.kept)
    leds = sum(isinstance(branch, Led) for _, branch, _ in specs)
    size = kept + leds
    position = {unknown: slot for slot, unknown in enumerate(reduction.kept)}
    constants: list[float] = []
    fixed: dict[int, int] = {}

    def slot(node: int) -> int:
        if index[node] >= 0:
            return position[index[node]]
        if node not in fixed:
            fixed[node] = size + len(constants)
            constants.append(held[node])
        return fixed[node]

    companions: list[Companion] = []
    owners: list[int] = []
    led = kept
    for number, branch, touched in specs:
        owners.append(number)
        if isinstance(branch, Port):
            companions.append(PortCompanion(position[touched[0]], branch.table))
        elif isinstance(branch, Led):
            pieces = branch.curve.pieces(temperature, branch.series_ohms)
            a, k = slot(touched[0]), slot(touched[1])
            companions.append(LedCompanion(a, k, led, pieces, math.log(branch.curve.at)))
            led += 1
        elif isinstance(branch, DiodeBranch):
            companions.append(DiodeCompanion(slot(touched[0]), slot(touched[1]), branch.device, temperature))
        elif isinstance(branch, BipolarBranch):
            c, b, e = (slot(node) for node in touched)
            companions.append(BipolarCompanion(c, b, e, branch.device, temperature))
        elif isinstance(branch, MosBranch):
            d, g, s, drain, source = (slot(node) for node in touched)
            companions.append(MosCompanion(d, g, s, branch.device, temperature))
            if branch.device.body is not None:
                ends = (source, drain) if branch.device.polarity > 0 else (drain, source)
                owners.append(number)
                companions.append(DiodeCompanion(*ends, branch.device.body, temperature))
    padding = [0.0] * (leds + len(constants))
    rows = [row + padding for row in reduction.rows]
    rows.extend([0.0] * (size + len(constants)) for _ in padding)
    right = reduction.right + padding
    return System(reduction, size, rows, right, constants, companions, owners, held)

"""A network with its values as equations: the linear part reduced, a companion for each nonlinear branch.

In: a network, its structure, a temperature. Out: a `System` for the iteration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from isolint.worstcase.companion_models import Companion, LedCompanion, PortCompanion
from isolint.worstcase.elimination import Eliminated, Matrix, reduce_linear
from isolint.worstcase.junctions import BipolarCompanion, DiodeCompanion, MosCompanion
from isolint.worstcase.network import (
    BipolarBranch,
    Branch,
    BranchNetwork,
    CurrentSource,
    DiodeBranch,
    LedBranch,
    MosBranch,
    NotSolvable,
    Port,
    Resistor,
    SwitchBranch,
)
from isolint.worstcase.topology import Structure, inner_ohms, volts_of

LEAKAGE = 1e-12
"""Siemens across every nonlinear branch, so that a net between two blocking ones has a voltage."""


Bench = dict[tuple[int, int], tuple[Branch, float, tuple[int, ...], Companion]]
"""Companions of an earlier system for reuse, by branch and place: with the branch, temperature and slots they serve."""


class System(NamedTuple):
    """A network with values: reduced linear part and companions.

    siemens: conductance of each resistive branch, 0 for the others. owners: the branch of each companion. held: volts
    of each node that sources hold. bench: the companions for the next system.
    """

    reduction: Eliminated
    size: int
    rows: Matrix
    right: list[float]
    constants: list[float]
    companions: list[Companion]
    owners: list[int]
    held: list[float]
    siemens: list[float]
    bench: Bench

    def start(self) -> list[float]:
        """All unknowns 0, constants in place."""
        return [0.0] * self.size + self.constants


def assemble(network: BranchNetwork, structure: Structure, temperature: float, bench: Bench | None = None) -> System:
    """Fill the linear equations, eliminate their linear part and set up the companions.

    bench: companions of a solved system of the same structure, whose states the caller sets.
    """
    branches, touched = network.branches, structure.touched
    filling = _Filling(network, structure)
    siemens = [0.0] * len(branches)
    for number in structure.resistive:
        resistance = ohms_of(branches[number])
        if resistance < 0.0:
            raise NotSolvable(f"{branches[number].name} has a resistance of {resistance:g} ohm; it must be 0 or more")
        a, b = touched[number]
        siemens[number] = 1.0 / resistance
        filling.conduct(a, b, siemens[number])
    for number in structure.carrying:
        filling.carry(number, branches[number])
    for own, number in enumerate(structure.floating, structure.unknown_nodes):
        a, b = touched[number]
        filling.hold(a, b, own, volts_of(branches[number]))
    reduction = reduce_linear(filling.rows, filling.right, _nonlinear(filling.specs, structure))
    known = {} if bench is None else bench
    return _finish(filling.specs, structure, temperature, filling.held, siemens, reduction, known)


class _Filling:
    """The linear equations of one network while they are filled. specs: the nonlinear branches met."""

    __slots__ = ("held", "hidden", "index", "port", "right", "rows", "specs", "touched")

    def __init__(self, network: BranchNetwork, structure: Structure) -> None:
        size = structure.size
        self.index, self.touched = structure.unknowns, structure.touched
        self.rows: Matrix = [[0.0] * size for _ in range(size)]
        self.right = [0.0] * size
        self.held = [0.0] * structure.nodes
        for step in structure.held:
            self.held[step.to] = self.held[step.start] + step.sign * volts_of(network.branches[step.branch])
        self.specs: list[Spec] = []
        self.hidden = len(network.nodes)
        self.port = structure.unknown_nodes + len(structure.floating)

    def conduct(self, a: int, b: int, siemens: float) -> None:
        """A conductance between two nodes."""
        rows = self.rows
        i, j = self.index[a], self.index[b]
        if i >= 0:
            rows[i][i] += siemens
            if j >= 0:
                rows[i][j] -= siemens
                rows[j][i] -= siemens
                rows[j][j] += siemens
            else:
                self.right[i] += siemens * self.held[b]
        elif j >= 0:
            rows[j][j] += siemens
            self.right[j] += siemens * self.held[a]

    def hold(self, a: int, b: int, own: int, volts: float) -> None:
        """Row v(a) - v(b) = volts, and its current `own` delivered into a."""
        for node, sign in ((a, 1.0), (b, -1.0)):
            i = self.index[node]
            if i >= 0:
                self.rows[own][i] += sign
                self.rows[i][own] -= sign
            else:
                volts -= sign * self.held[node]
        self.right[own] = volts

    def carry(self, number: int, branch: Branch) -> None:
        """A branch whose current is no multiple of its voltage; a nonlinear one also gets its entry in `specs`."""
        if isinstance(branch, (LedBranch, DiodeBranch)):
            self.conduct(branch.anode, branch.cathode, LEAKAGE)
            self.specs.append((number, branch, self.touched[number]))
        elif isinstance(branch, CurrentSource):
            for node, sign in ((branch.a, -1.0), (branch.b, 1.0)):
                if self.index[node] >= 0:
                    self.right[self.index[node]] += sign * branch.amps
        elif isinstance(branch, Port):
            self.hold(branch.a, branch.ref, self.port, 0.0)
            self.specs.append((number, branch, (self.port,)))
            self.port += 1
        elif isinstance(branch, BipolarBranch):
            pins = self._inner_pins(number, branch)
            self.conduct(branch.base, branch.collector, LEAKAGE)
            self.conduct(branch.base, branch.emitter, LEAKAGE)
            self.specs.append((number, branch, pins))
        elif isinstance(branch, MosBranch):
            pins = self._inner_pins(number, branch)
            self.conduct(branch.drain, branch.source, shunt(branch))
            self.specs.append((number, branch, (*pins, branch.drain, branch.source)))

    def _inner_pins(self, number: int, branch: BipolarBranch | MosBranch) -> tuple[int, ...]:
        """The nodes of a transistor behind its resistances: hidden ones where it has any."""
        pins = []
        for node, ohms in zip(self.touched[number], inner_ohms(branch), strict=True):
            if ohms is None:
                pins.append(node)
                continue
            self.conduct(node, self.hidden, 1.0 / ohms)
            pins.append(self.hidden)
            self.hidden += 1
        return tuple(pins)


def _nonlinear(specs: Sequence[Spec], structure: Structure) -> list[bool]:
    """Whether an unknown belongs to a nonlinear branch and is kept for the iteration."""
    index = structure.unknowns
    nonlinear = [False] * structure.size
    for _, branch, ends in specs:
        if isinstance(branch, Port):
            nonlinear[ends[0]] = True
        else:
            for node in ends:
                if index[node] >= 0:
                    nonlinear[index[node]] = True
    return nonlinear


def ohms_of(branch: Branch) -> float:
    """The resistance of a linear branch in its present state; 0 is a wire."""
    if isinstance(branch, Resistor):
        return branch.ohms
    assert isinstance(branch, SwitchBranch)
    return branch.device.ohms


def add_leakage(branch: Branch, volts: Sequence[float], amps: list[float]) -> None:
    """Add what flows beside junctions and channels at some voltages, or its share of what moves with them."""
    if isinstance(branch, (LedBranch, DiodeBranch)):
        amps[0] += LEAKAGE * (volts[branch.anode] - volts[branch.cathode])
    elif isinstance(branch, MosBranch):
        past = shunt(branch) * (volts[branch.drain] - volts[branch.source])
        amps[0] += past
        amps[2] -= past
    elif isinstance(branch, BipolarBranch):
        to_collector = LEAKAGE * (volts[branch.base] - volts[branch.collector])
        to_emitter = LEAKAGE * (volts[branch.base] - volts[branch.emitter])
        amps[0] -= to_collector
        amps[1] += to_collector + to_emitter
        amps[2] -= to_emitter


def shunt(branch: MosBranch) -> float:
    """Conductance between drain and source beside the channel."""
    return LEAKAGE + (1.0 / branch.device.RDS if branch.device.RDS else 0.0)


Spec = tuple[int, Branch, tuple[int, ...]]
"""A nonlinear branch: its number and the nodes of its pins, of a port the place of its current."""


def _finish(
    specs: Sequence[Spec],
    structure: Structure,
    temperature: float,
    held: list[float],
    siemens: list[float],
    reduction: Eliminated,
    bench: Bench,
) -> System:
    """Give every node of a nonlinear branch its slot: kept unknowns, LED currents, then constant voltages."""
    index = structure.unknowns
    kept = len(reduction.kept)
    leds = sum(isinstance(branch, LedBranch) for _, branch, _ in specs)
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
    kept_for_next: Bench = {}
    led = kept
    for number, branch, touched in specs:
        slots = (position[touched[0]],) if isinstance(branch, Port) else tuple([slot(node) for node in touched])
        if isinstance(branch, LedBranch):
            slots = (*slots, led)
            led += 1
        for part in range(2 if isinstance(branch, MosBranch) and branch.device.body is not None else 1):
            known = bench.get((number, part))
            if known is not None and known[0] is branch and known[1] == temperature and known[2] == slots:
                companion = known[3]
            else:
                companion = companion_of(branch, temperature, slots, part)
            owners.append(number)
            companions.append(companion)
            kept_for_next[number, part] = (branch, temperature, slots, companion)
    padding = [0.0] * (leds + len(constants))
    rows = [row + padding for row in reduction.rows]
    rows.extend([0.0] * (size + len(constants)) for _ in padding)
    right = reduction.right + padding
    return System(reduction, size, rows, right, constants, companions, owners, held, siemens, kept_for_next)


def companion_of(branch: Branch, temperature: float, slots: tuple[int, ...], part: int) -> Companion:
    """The companion of a nonlinear branch; part 1 is the body diode of a MOS transistor."""
    if isinstance(branch, Port):
        return PortCompanion(slots[0], branch.table)
    if isinstance(branch, LedBranch):
        anode, cathode, own = slots
        pieces = branch.curve.pieces(temperature, branch.series_ohms)
        return LedCompanion(anode, cathode, own, pieces, math.log(branch.curve.at))
    if isinstance(branch, DiodeBranch):
        anode, cathode = slots
        return DiodeCompanion(anode, cathode, branch.device, temperature)
    if isinstance(branch, BipolarBranch):
        collector, base, emitter = slots
        return BipolarCompanion(collector, base, emitter, branch.device, temperature)
    assert isinstance(branch, MosBranch)
    d, g, s, drain, source = slots
    if part == 0 or branch.device.body is None:
        return MosCompanion(d, g, s, branch.device, temperature)
    ends = (source, drain) if branch.device.polarity > 0 else (drain, source)
    return DiodeCompanion(*ends, branch.device.body, temperature)

"""The DC operating point of a small network: modified nodal equations, Newton's method, plain Python.

In: a `BranchNetwork` and a temperature. Out: a `Point`, or `NotSolvable` in circuit words. The linear part is
eliminated first, so that the iteration runs on the nodes of nonlinear branches only; a linear network takes one step.
Where Newton's method fails from the usual start, conductances to the reference, then the sources are stepped.
A leakage of 1 pA/V lies across every junction, LED and channel, as in most circuit simulators.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from isolint.worstcase.budget import Meter, work_of
from isolint.worstcase.companion_models import Companion, PortCompanion
from isolint.worstcase.elimination import Elimination
from isolint.worstcase.equations import System, assemble
from isolint.worstcase.network import (
    BipolarBranch,
    BranchNetwork,
    Codes,
    DiodeBranch,
    LedBranch,
    MosBranch,
    NotSolvable,
    Port,
)
from isolint.worstcase.point import Point, no_point, point_of, runaway, unlimited
from isolint.worstcase.topology import Structure, alike, analyse, check_loops

__all__ = ["Point", "Solver", "solve", "step_leakage", "step_sources"]

_TOLERANCE = 1e-12
_FLOOR = 1e-5
# With the tolerance, what no equation is asked to go below: 1e-17 A at a node.
_FURTHER = 2
# Steps beyond that, where a node carries so little that the floor is much of it: a net between two LEDs that are off
# has its voltage from leakage alone, and is to be as steady as others while values move a little.
_ITERATIONS = 60
_STEPS = 400
_MOST_RESIDUAL = 1e-9
_POLISHING = 4
_TRIES = 10
# What a network without a point counts more: it was sought in several ways.

_NONLINEAR = (LedBranch, DiodeBranch, BipolarBranch, MosBranch, Port)


def solve(network: BranchNetwork, temperature: float, start: Point | None = None) -> Point:
    """Find the operating point at a temperature in degrees Celsius; raise `NotSolvable` where there is none.

    start: a point of a network with the same connections, whose work is reused. It changes the time only.
    """
    return _solve(network, temperature, start if start is not None and alike(start.network, network) else None)


def _solve(network: BranchNetwork, temperature: float, start: Point | None) -> Point:
    """Solve from nothing, or from a point of a network with the same structure."""
    structure = analyse(network) if start is None else start.structure
    if structure.redundant:
        check_loops(network, structure)
    system = assemble(network, structure, temperature, None if start is None else start.bench)
    if not system.companions:
        if system.reduction.kept:
            raise NotSolvable(no_point(network))
        return point_of(network, structure, temperature, system, [], 0)
    count = None
    if start is not None and len(start.states) == len(system.companions):
        x = [*start.unknowns[: system.size], *system.constants]
        for companion, state in zip(system.companions, start.states, strict=True):
            companion.restore(state, x)
        count = _newton(system, x, _ITERATIONS)
    if count is None:
        if start is not None:
            system = assemble(network, structure, temperature)
        x = system.start()
        count = _newton(system, x, _ITERATIONS)
    if count is None:
        found = step_leakage(network, structure, temperature) or step_sources(network, structure, temperature)
        if found is None:
            branch = runaway(network, system)
            raise NotSolvable(no_point(network)) if branch is None else unlimited(branch)
        system, x, count = found
    point = point_of(network, structure, temperature, system, x, count)
    for _ in range(_POLISHING):
        if point.residual <= _MOST_RESIDUAL:
            return point
        # Currents far below the others at their node: go on until rounding stops it.
        _newton(system, x, 2, tolerance=0.0)
        point = point_of(network, structure, temperature, system, x, count)
    raise NotSolvable(no_point(network))


class Solver:
    """Solves the networks of one netlist: each only once, whatever its names, starting from the last one like it.

    meter: counts what is solved; `OverBudget` where that is too much.
    """

    RECENT = 8
    MOST = 4096

    def __init__(self) -> None:
        self.codes = Codes()
        self.meter = Meter()
        self._known: dict[tuple[int, tuple[int, ...], float | None], Point] = {}
        self._recent: list[Point] = []
        self._followed: list[Point] | None = None
        self._instead: Callable[[BranchNetwork, float], Point] | None = None

    @contextmanager
    def followed(self) -> Iterator[list[Point]]:
        """What is solved inside."""
        before, self._followed = self._followed, []
        try:
            yield self._followed
        finally:
            if before is not None:
                before.extend(self._followed)
            self._followed = before

    @contextmanager
    def replaced(self, solve: Callable[[BranchNetwork, float], Point]) -> Iterator[None]:
        """Inside another function is asked for points."""
        before, self._instead = self._instead, solve
        try:
            yield
        finally:
            self._instead = before

    def solve(self, network: BranchNetwork, temperature: float) -> Point:
        """Find the operating point as `solve` does."""
        if self._instead is not None:
            return self._instead(network, temperature)
        point = self._found(network, temperature)
        if self._followed is not None:
            self._followed.append(point)
        return point

    def _found(self, network: BranchNetwork, temperature: float) -> Point:
        key = (len(network.nodes), network.codes, temperature if network.is_warm else None)
        known = self._known.get(key) if network.codes else None
        if known is not None:
            return known.of(network, temperature, known.voltages, known.amps)
        last = next((point for point in self._recent if alike(point.network, network)), None)
        work = _work(network, last)
        self.meter.charge(work)
        try:
            point = _solve(network, temperature, last)
        except NotSolvable:
            self.meter.charge(_TRIES * work)
            raise
        self._recent = [point, *(other for other in self._recent if other is not last)][: self.RECENT]
        if network.codes:
            if len(self._known) >= self.MOST:
                self._known.clear()
            self._known[key] = point
        return point


def _work(network: BranchNetwork, last: Point | None) -> int:
    """What solving a network counts, by a point of one with the same connections where there is one."""
    if last is not None:
        return work_of(last.structure.size, len(last.unknowns))
    return work_of(len(network.nodes), sum(isinstance(branch, _NONLINEAR) for branch in network.branches))


def _newton(
    system: System, x: list[float], most: int, factor: float = 1.0, extra: float = 0.0, tolerance: float = _TOLERANCE
) -> int | None:
    """Iterate `x` in place to the operating point; the number of steps, or None where it did not converge.

    factor: scales all sources. extra: conductance from every kept node to the reference.
    tolerance: what may remain in an equation, as a part of its largest terms.
    """
    size, companions = system.size, system.companions
    linear = len(system.reduction.kept)
    paired = system.reduction.paired
    right = [factor * value for value in system.right]
    base = system.rows
    for offset, value in enumerate(system.constants):
        x[size + offset] = factor * value
    span = range(size)
    elimination = Elimination()
    further = 0
    for count in range(most):
        matrix = [row[:] for row in base]
        residual = [-value for value in right]
        scale = [abs(value) + _FLOOR for value in right]
        for i in range(linear):
            total = weight = 0.0
            for coefficient, value in zip(base[i], x, strict=False):
                if coefficient:
                    term = coefficient * value
                    total += term
                    weight += abs(term)
            residual[i] += total
            scale[i] += weight
        if extra:
            for i in range(paired):
                matrix[i][i] += extra
                residual[i] += extra * x[i]
        for companion in companions:
            companion.stamp(x, matrix, residual, scale)
        if further or (count and _converged(span, residual, scale, companions, tolerance)):
            if further == _FURTHER or all(abs(residual[i]) <= tolerance * (scale[i] - _FLOOR) for i in span):
                return count
            further += 1
        step = elimination.solve(matrix, residual, size)
        if step is None:
            return None
        for i in range(linear):
            x[i] -= step[i]
        step = [-value for value in step[:size]]
        for companion in companions:
            companion.settle(x, step)
        if not all(map(math.isfinite, step)):
            return None
    return None


def _converged(
    span: range, residual: list[float], scale: list[float], companions: Sequence[Companion], tolerance: float
) -> bool:
    for i in span:
        if abs(residual[i]) > tolerance * scale[i]:
            return False
    return all(abs(companion.mismatch) < 1e-7 for companion in companions)


Found = tuple[System, list[float], int]


def step_leakage(network: BranchNetwork, structure: Structure, temperature: float) -> Found | None:
    """Start with 10 mS from every nonlinear node to the reference and take it away in decades."""
    system = assemble(network, structure, temperature)
    x = system.start()
    total = 0
    for decade in range(2, 14):
        count = _newton(system, x, _ITERATIONS, extra=10.0**-decade)
        if count is None:
            return None
        total += count
    count = _newton(system, x, _ITERATIONS)
    return None if count is None else (system, x, total + count)


def step_sources(network: BranchNetwork, structure: Structure, temperature: float) -> Found | None:
    """Raise all sources from zero in steps that shorten where the iteration fails."""
    system = assemble(network, structure, temperature)
    ports = [companion for companion in system.companions if isinstance(companion, PortCompanion)]
    x = system.start()
    done, width, total = 0.0, 0.1, 0
    good: tuple[list[float], list[tuple[float, ...]]] | None = None
    for _ in range(_STEPS):
        factor = min(1.0, done + width)
        for port in ports:
            port.factor = factor
        count = _newton(system, x, _ITERATIONS, factor=factor)
        if count is not None:
            total += count
            done = factor
            if done == 1.0:
                return system, x, total
            good = x[:], [companion.state() for companion in system.companions]
            width *= 2.0
            continue
        width *= 0.25
        if width < 1e-6:
            return None
        x = system.start() if good is None else good[0][:]
        for companion, state in zip(system.companions, good[1] if good else (), strict=False):
            companion.restore(state, x)
    return None

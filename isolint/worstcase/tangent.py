"""How an operating point moves with small changes of its network: one factorisation a point, no iteration.

In: a solved point, and a network of the same connections with slightly other values. Out: the point to first order.
The equations are those of the solver, written out for all nodes; what changed in a branch, at the voltages that there
are, is the right side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from operator import add
from typing import TYPE_CHECKING, Final, NamedTuple

from isolint.worstcase.box import Bending, Evaluate, Range
from isolint.worstcase.budget import work_of
from isolint.worstcase.companion_models import Matrix
from isolint.worstcase.corners import Extreme, Sought, extremes
from isolint.worstcase.equations import LEAKAGE, add_leakage, companion_of, ohms_of, shunt
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
from isolint.worstcase.point import Point
from isolint.worstcase.sparse_factors import Factors, Order
from isolint.worstcase.topology import Structure, alike, inner_ohms, volts_of
from isolint.worstcase.uncertain import Lacking

if TYPE_CHECKING:
    from isolint.worstcase.solve import Solver

MOST_POINTS: Final = 2
"""An evaluation that takes more points seeks one, and may seek it another way for other values."""

EACH: Final = 4
"""As many followed points count as one that is solved."""

LEAST: Final = 1e-12
"""Amperes or volts below which a change is none."""


class NoTangent(Exception):
    """The point can't be followed: it must be solved."""


class Tangents:
    """An evaluation that remembers the points it solved, and follows them where values change a little."""

    def __init__(self, solver: Solver, evaluate: Evaluate) -> None:
        self._solver = solver
        self._evaluate = evaluate
        self._solved: dict[tuple[float, ...], tuple[Point, ...]] = {}
        self._made: dict[int, Tangent] = {}
        self._order: Order = ()
        self._followed = 0
        self._last: list[Point] = []

    def at(self, vector: Sequence[float]) -> Sequence[float]:
        """What is evaluated at a vector."""
        with self._solver.followed() as points:
            values = self._evaluate(vector)
        self._solved[tuple(vector)] = tuple(points)
        return values

    def near(self, base: Sequence[float], vector: Sequence[float]) -> Sequence[float] | None:
        """The same at a vector near one that was evaluated, to first order; None where that can't be told."""
        points = self._solved.get(tuple(base), ())
        if not 0 < len(points) <= MOST_POINTS:
            return None
        left = list(points)
        self._last = []

        def follow(network: BranchNetwork, temperature: float) -> Point:
            if not left:
                raise NoTangent
            self._count()
            self._last.append(self._tangent(left.pop(0)).follow(network, temperature))
            return self._last[-1]

        try:
            with self._solver.replaced(follow):
                values = self._evaluate(vector)
            return None if left else values
        except (NoTangent, ArithmeticError, NotSolvable, Lacking):
            return None

    def bending(self, base: Sequence[float]) -> list[Bending]:
        """Currents of outputs and LEDs that bend at known ones, and what decides over transistors."""
        return [found for point in self._solved[tuple(base)] for found in bending(point)]

    def moved(self) -> list[float]:
        return [value for point in self._last for value, _ in bending(point)]

    def may(self, vector: Sequence[float]) -> bool:
        try:
            self.at(vector)
        except (ArithmeticError, NotSolvable, Lacking):
            return False
        return True

    def _tangent(self, point: Point) -> Tangent:
        tangent = self._made.get(id(point))
        if tangent is None:
            self._solver.meter.charge(work_of(point.structure.size, 0), points=0)
            tangent = self._made[id(point)] = Tangent(point, self._order)
            self._order = tangent.order
        return tangent

    def _count(self) -> None:
        """What follows a point is a part of the work that solving it was."""
        self._followed += 1
        if self._followed % EACH == 0:
            self._solver.meter.charge(1, points=0)


def solved_extremes(
    solver: Solver,
    ranges: Sequence[Range],
    evaluate: Evaluate,
    noise: float = LEAST,
    sought: Sought | Sequence[Sought] = "both",
    careful: bool = True,
) -> tuple[Extreme, ...]:
    """The ends of quantities that are read from solved points, as `extremes` gives them."""
    followed = Tangents(solver, evaluate)
    return extremes(ranges, followed.at, noise, sought, followed.near, careful, followed)


def bending(point: Point) -> list[Bending]:
    """What in a network bends, by which its currents and voltages turn elsewhere: with the values at which it does."""
    found: list[Bending] = []
    volts = point.voltages
    for branch, amps in zip(point.network.branches, point.amps, strict=True):
        if isinstance(branch, LedBranch):
            found.append((amps[0], (branch.curve.at,) if branch.curve.floor else ()))
        elif isinstance(branch, Port):
            found.append((amps[0], tuple(at for at, _ in branch.table) if len(branch.table) > 1 else ()))
        elif isinstance(branch, BipolarBranch):
            found.extend(((amps[0], None), (amps[1], None), (volts[branch.base] - volts[branch.emitter], None)))
        elif isinstance(branch, MosBranch):
            found.extend(((amps[0], None), (volts[branch.gate] - volts[branch.source], None)))
    return found


class _Own(NamedTuple):
    """A companion seen by itself: its branch and part, the slots that it touches, what it adds there and the slopes.

    pins: which of its slots is which pin of its branch.
    """

    number: int
    part: int
    state: tuple[float, ...]
    slots: tuple[int, ...]
    slopes: Matrix
    residual: list[float]
    pins: tuple[tuple[int, int], ...]
    is_port: bool


class Tangent:
    """One point with its equations factorised."""

    def __init__(self, point: Point, order: Order = ()) -> None:
        """order: that of another point, tried first; it changes the time only."""
        self.point = point
        network, structure = point.network, point.structure
        if structure.redundant:
            raise NoTangent
        self._branches = network.branches
        nodes = structure.nodes
        self._hidden = len(network.nodes)
        sources = [step.branch for step in structure.held] + list(structure.floating)
        own = {number: nodes + place for place, number in enumerate(sources)}
        extra = nodes + len(sources)
        self._source = own
        self.x = [*point.voltages, *[0.0] * (nodes - len(network.nodes))]
        specs, inner, self.size = self._lay_out(structure, extra)
        self.x.extend([0.0] * (self.size - len(self.x)))
        self._rows: list[dict[int, float]] = [{} for _ in range(self.size)]
        for number in structure.resistive:
            a, b = structure.touched[number]
            self._conduct(a, b, 1.0 / ohms_of(network.branches[number]))
        for a, b, ohms in inner:
            self._conduct(a, b, 1.0 / ohms)
        for number, place in own.items():
            a, b = structure.touched[number]
            self._hold(a, b, place)
        self._companions: list[_Own] = []
        states = iter(point.states)
        for number, slots in specs:
            self._companion(number, slots, states)
        # The reference stays where it is.
        self._rows[0] = {0: 1.0}
        factors = Factors.of(self._rows, order)
        if factors is None:
            raise NoTangent
        self._factors = factors
        self._sort_branches(structure)

    def _lay_out(
        self, structure: Structure, extra: int
    ) -> tuple[list[tuple[int, tuple[int, ...]]], list[tuple[int, int, float]], int]:
        """The unknowns of each nonlinear branch, further ones from `extra` on; inner resistances; how many unknowns."""
        specs: list[tuple[int, tuple[int, ...]]] = []
        inner: list[tuple[int, int, float]] = []
        for number in structure.carrying:
            branch, touched = self._branches[number], structure.touched[number]
            if isinstance(branch, (LedBranch, DiodeBranch)):
                slots = touched
                if isinstance(branch, LedBranch):
                    slots, extra = (*touched, extra), extra + 1
                specs.append((number, slots))
            elif isinstance(branch, Port):
                specs.append((number, (extra,)))
                extra += 1
            elif isinstance(branch, (BipolarBranch, MosBranch)):
                pins = self._pins(number, branch, touched, inner)
                specs.append((number, pins if isinstance(branch, BipolarBranch) else (*pins, *touched[::2])))
        return specs, inner, extra

    def _sort_branches(self, structure: Structure) -> None:
        """List by kind what `currents` goes through at each followed point."""
        branches, touched = self._branches, structure.touched
        self._conducting = [
            (number, a, b, 1.0 / ohms_of(branches[number]))
            for number in structure.resistive
            for a, b in (touched[number],)
        ]
        self._delivering = [
            (number, place, -1.0 if isinstance(branches[number], (Resistor, SwitchBranch)) else 1.0)
            for number, place in self._source.items()
        ]
        self._leaking = [
            number for number in structure.carrying if isinstance(branches[number], (BipolarBranch, MosBranch))
        ]
        self._junctions = [
            (number, *touched[number])
            for number in structure.carrying
            if isinstance(branches[number], (LedBranch, DiodeBranch))
        ]
        self._following = [
            (own.number, pin, [pair for pair in zip(own.slots, own.slopes[place], strict=True) if pair[1]])
            for own in self._companions
            if not own.is_port
            for pin, place in own.pins
        ]
        self._ports = [(own.number, own.slots[0]) for own in self._companions if own.is_port]

    @property
    def order(self) -> Order:
        """In which order its equations were eliminated."""
        return self._factors.order

    def _pins(
        self, number: int, branch: Branch, touched: Sequence[int], inner: list[tuple[int, int, float]]
    ) -> tuple[int, ...]:
        """The nodes of the intrinsic transistor, whose voltages follow from the currents through what lies before."""
        pins: list[int] = []
        for pin, (node, ohms) in enumerate(zip(touched, inner_ohms(branch), strict=True)):
            if ohms is None:
                pins.append(node)
                continue
            inner.append((node, self._hidden, ohms))
            self.x[self._hidden] = self.x[node] - ohms * self.point.amps[number][pin]
            pins.append(self._hidden)
            self._hidden += 1
        return tuple(pins)

    def _conduct(self, a: int, b: int, siemens: float) -> None:
        for one, other in ((a, b), (b, a)):
            row = self._rows[one]
            row[one] = row.get(one, 0.0) + siemens
            row[other] = row.get(other, 0.0) - siemens

    def _hold(self, a: int, b: int, own: int) -> None:
        """Row v(a) - v(b) = volts, and its current `own` delivered into a."""
        for node, sign in ((a, 1.0), (b, -1.0)):
            self._rows[own][node] = self._rows[own].get(node, 0.0) + sign
            self._rows[node][own] = self._rows[node].get(own, 0.0) - sign

    def _companion(self, number: int, slots: tuple[int, ...], states: Iterator[tuple[float, ...]]) -> None:
        branch, touched = self._branches[number], self.point.structure.touched[number]
        if isinstance(branch, Port):
            self._hold(branch.a, branch.ref, slots[0])
        elif isinstance(branch, BipolarBranch):
            self._conduct(branch.base, branch.collector, LEAKAGE)
            self._conduct(branch.base, branch.emitter, LEAKAGE)
        elif isinstance(branch, MosBranch):
            self._conduct(branch.drain, branch.source, shunt(branch))
        else:
            self._conduct(touched[0], touched[1], LEAKAGE)
        if len(set(touched)) < len(touched):
            raise NoTangent
        parts = 2 if isinstance(branch, MosBranch) and branch.device.body is not None else 1
        for part in range(parts):
            own = self._alone(number, branch, part, next(states), slots)
            self._companions.append(own)
            for slot, slopes in zip(slots, own.slopes, strict=True):
                row = self._rows[slot]
                for other, value in zip(slots, slopes, strict=True):
                    if value:
                        row[other] = row.get(other, 0.0) + value

    def _alone(self, number: int, branch: Branch, part: int, state: tuple[float, ...], slots: tuple[int, ...]) -> _Own:
        """A branch in a state at the voltages of the point."""
        count = len(slots)
        companion = companion_of(branch, self.point.temperature, tuple(range(count)), part)
        x = [self.x[slot] for slot in slots]
        companion.restore(state, x)
        slopes = [[0.0] * count for _ in slots]
        residual = [0.0] * count
        companion.stamp(x, slopes, residual, [0.0] * count)
        pins: tuple[tuple[int, int], ...]
        if isinstance(branch, (BipolarBranch, MosBranch)):
            pins = ((0, 3), (2, 4)) if part else ((0, 0), (1, 1), (2, 2))
        else:
            pins = ((0, 0),)
        return _Own(number, part, state, slots, slopes, residual, pins, isinstance(branch, Port))

    # -- following ------------------------------------------------------------------------------------------------

    def follow(self, network: BranchNetwork, temperature: float) -> Point:
        """The point of a network of the same connections to first order; `NoTangent` where it can't be told."""
        point = self.point
        if temperature != point.temperature or not alike(point.network, network):
            raise NoTangent
        both = zip(self._branches, network.branches, strict=True)
        others = [(number, old, new) for number, (old, new) in enumerate(both) if new is not old]
        changed = {number: new for number, old, new in others if new != old}
        if not changed:
            return point.of(network, temperature, point.voltages, point.amps)
        right = [0.0] * self.size
        amps = list(map(list, point.amps))
        for number, branch in changed.items():
            self._shift(number, branch, right, amps)
        for own in self._companions:
            if own.number in changed:
                other = self._alone(own.number, changed[own.number], own.part, own.state, own.slots)
                shift = [new - before for new, before in zip(other.residual, own.residual, strict=True)]
                for slot, value in zip(own.slots, shift, strict=True):
                    right[slot] -= value
                if not own.is_port:
                    for pin, place in own.pins:
                        amps[own.number][pin] += shift[place]
        right[0] = 0.0
        moved = self._factors.solved(right)
        self._currents(moved, amps)
        voltages = list(map(add, point.voltages, moved))
        return point.of(network, temperature, voltages, amps)

    def _shift(self, number: int, branch: Branch, right: list[float], amps: list[list[float]]) -> None:
        """What a changed linear branch adds to the right side, and to its own current."""
        old = self._branches[number]
        if number in self._source:
            right[self._source[number]] += volts_of(branch) - volts_of(old)
        elif isinstance(branch, (Resistor, SwitchBranch)):
            a, b = branch.a, branch.b
            own = (self.x[a] - self.x[b]) * (1.0 / ohms_of(branch) - 1.0 / ohms_of(old))
            right[a] -= own
            right[b] += own
            amps[number][0] += own
        elif isinstance(branch, CurrentSource) and isinstance(old, CurrentSource):
            own = branch.amps - old.amps
            right[branch.a] -= own
            right[branch.b] += own
            amps[number][0] += own
        elif isinstance(branch, MosBranch) and isinstance(old, MosBranch) and shunt(branch) != shunt(old):
            raise NoTangent

    def _currents(self, moved: Sequence[float], amps: list[list[float]]) -> None:
        """Bring the currents of all branches along."""
        for number, a, b, siemens in self._conducting:
            amps[number][0] += (moved[a] - moved[b]) * siemens
        for number, place, sign in self._delivering:
            amps[number][0] += sign * moved[place]
        for number, slot in self._ports:
            amps[number][0] += moved[slot]
        for number, pin, beside in self._following:
            total = 0.0
            for slot, value in beside:
                total += value * moved[slot]
            amps[number][pin] += total
        for number, a, b in self._junctions:
            amps[number][0] += LEAKAGE * (moved[a] - moved[b])
        for number in self._leaking:
            add_leakage(self._branches[number], moved, amps[number])

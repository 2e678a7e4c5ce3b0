"""The operating point of a network: Newton's method, with conductances to ground, then sources, brought in by steps.

In: branches and how many unknowns they have. Out: the values of the unknowns, or None where no point was found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from isolint.measure.branches import Branch, NoValue, Sums, ThresholdSwitch
from isolint.measure.sparse import solve_sparse

LEAK = 1e-15
"""Siemens from every node to ground, so that a net that nothing holds has a voltage."""

_ITERATIONS = 120
_TIRED = 60
# From this iteration on steps are halved: laws made of straight pieces may go to and fro.
_TURNS = 12
_HALVINGS = 50
_AWAY = (1e-3, 1e-6)
# Volts and amperes of a start beside zero.

_RELATIVE = 1e-10
_LEAST_VOLTS = 1e-10
_LEAST_AMPS = 1e-16


class Exhausted(Exception):
    """More was computed than one point may cost."""


class Effort:
    """What seeking a point may still cost: one for each branch that is looked at once."""

    def __init__(self, most: int) -> None:
        self.left = most

    def spend(self, branches: int) -> None:
        """Count a look at all branches; raise `Exhausted` where that is too much."""
        self.left -= branches
        if self.left < 0:
            raise Exhausted


class RestNetwork(NamedTuple):
    """Branches over unknowns; of each unknown whether it is the voltage of a node (else it is a current)."""

    branches: tuple[Branch, ...]
    is_node: tuple[bool, ...]
    effort: Effort

    @property
    def size(self) -> int:
        """The number of unknowns."""
        return len(self.is_node)


def operating_point(network: RestNetwork, start: Sequence[float] | None = None) -> list[float] | None:
    """Find the point at rest. start: a point of a network with the same unknowns, near this one."""
    x = list(start) if start is not None else [0.0] * network.size
    switches = [branch for branch in network.branches if isinstance(branch, ThresholdSwitch)]
    for _ in range(_TURNS):
        found = _settled(network, x, cold=start is None)
        if found is None:
            return None
        x = found
        turned = [switch.turn(x) for switch in switches]
        if not any(turned):
            return x
    return None


def _settled(network: RestNetwork, x: list[float], cold: bool) -> list[float] | None:
    """A point with all switches as they are."""
    found = _newton(network, x)
    if found is not None:
        return found
    stepped = [0.0] * network.size
    for decade in range(1, 15):
        found = _newton(network, stepped, leak=10.0**-decade)
        if found is None:
            break
        stepped = found
    else:
        found = _newton(network, stepped)
        if found is not None:
            return found
    return _raised(network)


def _raised(network: RestNetwork) -> list[float] | None:
    """Raise the sources from nothing in steps that shorten where the iteration fails."""
    x = [0.0] * network.size
    done, width = 0.0, 0.1
    while width > 1e-5:
        factor = min(1.0, done + width)
        found = _newton(network, x, factor=factor)
        if found is None:
            width *= 0.25
            continue
        x, done = found, factor
        if done >= 1.0:
            return x
        width *= 2.0
    return None


def _newton(
    network: RestNetwork, start: Sequence[float], leak: float = LEAK, factor: float = 1.0
) -> list[float] | None:
    """Iterate from a start; None where that does not settle."""
    x = list(start)
    before = list(start)
    for count in range(_ITERATIONS):
        loaded = _loaded(network, x, before, leak, factor)
        if loaded is None and not count:
            # A law that divides by what is nothing yet has a value beside it.
            x = [_AWAY[0] * (1 + at % 7) if node else _AWAY[1] for at, node in enumerate(network.is_node)]
            loaded = _loaded(network, x, x, leak, factor)
        if loaded is None:
            return None
        sums, held_back = loaded
        step = solve_sparse(sums.rows, sums.left)
        if step is None or not all(map(math.isfinite, step)):
            return None
        before = x
        share = 0.5 if count > _TIRED else 1.0
        x = [value - share * change for value, change in zip(x, step, strict=True)]
        if not held_back and _small(step, x, network.is_node):
            return x
    return None


def _loaded(
    network: RestNetwork, x: list[float], before: Sequence[float], leak: float, factor: float
) -> tuple[Sums, bool] | None:
    """The equations at a trial point; where a law has no value there, the point is taken back half the way."""
    for _ in range(_HALVINGS):
        network.effort.spend(len(network.branches))
        sums = Sums(network.size)
        for node, is_node in enumerate(network.is_node):
            if is_node:
                sums.rows[node][node] = leak
                sums.left[node] = leak * x[node]
        try:
            held_back = [branch.load(x, sums, factor) for branch in network.branches]
        except (NoValue, OverflowError):
            x[:] = [0.5 * (new + old) for new, old in zip(x, before, strict=True)]
            continue
        return sums, any(held_back)
    return None


def _small(step: Sequence[float], x: Sequence[float], is_node: Sequence[bool]) -> bool:
    return all(
        abs(change) <= _RELATIVE * abs(value) + (_LEAST_VOLTS if node else _LEAST_AMPS)
        for change, value, node in zip(step, x, is_node, strict=True)
    )

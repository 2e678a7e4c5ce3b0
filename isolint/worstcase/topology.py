"""What a network's connections alone decide, before any solving: held nodes, floating nets, sources in conflict.

In: a network. Out: a `Structure`, or `NotSolvable` in circuit words. Everything here is graph search.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from isolint.worstcase.network import (
    BipolarBranch,
    Blocked,
    Branch,
    BranchNetwork,
    CurrentSource,
    MosBranch,
    NotSolvable,
    Port,
    Resistor,
    SwitchBranch,
    VoltageSource,
    is_wire,
    nodes_of,
    shape_of,
)
from isolint.worstcase.network import inner_ohms as inner_ohms


class HoldStep(NamedTuple):
    """Branch `branch` holds node `to` once `start` is held; `sign` is +1 where `to` is the branch's node a."""

    branch: int
    start: int
    to: int
    sign: int


class Structure(NamedTuple):
    """The part of an analysis that depends on the connections alone, reusable for other values.

    held: nodes whose voltage sources alone fix, outwards from the reference. floating: sources and wires between other
    nodes, they get an unknown current. redundant: sources and wires that close a loop of others; they carry nothing,
    but their voltage must agree: (branch, loop as (branch, sign)). unknowns: the unknown of each node, -1 for held
    ones; nodes inside devices follow those of the network. touched: the nodes of each branch. resistive: resistors and
    switches that are no wires. carrying: what else carries current and is not held.
    """

    nodes: int
    held: tuple[HoldStep, ...]
    floating: tuple[int, ...]
    redundant: tuple[tuple[int, tuple[tuple[int, int], ...]], ...]
    unknowns: tuple[int, ...]
    unknown_nodes: int
    ports: tuple[int, ...]
    touched: tuple[tuple[int, ...], ...]
    resistive: tuple[int, ...]
    carrying: tuple[int, ...]

    @property
    def size(self) -> int:
        """The number of unknowns: free nodes, currents of floating sources, currents of ports."""
        return self.unknown_nodes + len(self.floating) + len(self.ports)


def alike(one: BranchNetwork, other: BranchNetwork) -> bool:
    """Whether the structure of one network serves the other: the same kinds of branches between the same nodes."""
    if len(one.branches) != len(other.branches) or len(one.nodes) != len(other.nodes):
        return False
    if one.shapes and other.shapes:
        return one.shapes == other.shapes
    return all(a is b or shape_of(a) == shape_of(b) for a, b in zip(one.branches, other.branches, strict=True))


def analyse(network: BranchNetwork) -> Structure:
    """Check the connections and order them for the solver."""
    _check(network)
    _check_paths(network)
    count = len(network.nodes)
    held, floating, redundant, fixed = _sources(network)
    index: list[int] = []
    unknown = 0
    for node in range(count):
        index.append(-1 if fixed[node] else unknown)
        unknown += not fixed[node]
    for branch in network.branches:
        if isinstance(branch, (BipolarBranch, MosBranch)):
            for ohms in inner_ohms(branch):
                if ohms is not None:
                    index.append(unknown)
                    unknown += 1
    at_rest = {step.branch for step in held}
    resistive = tuple(
        i
        for i, branch in enumerate(network.branches)
        if isinstance(branch, (Resistor, SwitchBranch)) and not is_wire(branch)
    )
    return Structure(
        nodes=len(index),
        held=tuple(held),
        floating=tuple(floating),
        redundant=tuple(redundant),
        unknowns=tuple(index),
        unknown_nodes=unknown,
        ports=tuple(i for i, branch in enumerate(network.branches) if isinstance(branch, Port)),
        touched=tuple(map(nodes_of, network.branches)),
        resistive=resistive,
        carrying=tuple(
            i
            for i, branch in enumerate(network.branches)
            if not isinstance(branch, Blocked) and i not in at_rest and i not in resistive
        ),
    )


def _check(network: BranchNetwork) -> None:
    names: set[str] = set()
    for branch in network.branches:
        if branch.name in names:
            raise ValueError(f"two branches are called {branch.name}")
        names.add(branch.name)
        if any(not 0 <= node < len(network.nodes) for node in nodes_of(branch)):
            raise ValueError(f"{branch.name} touches a node that the network does not have")
        if isinstance(branch, Port):
            amps = [point[0] for point in branch.table]
            volts = [point[1] for point in branch.table]
            if not amps or any(x >= y for x, y in pairwise(amps)):
                raise ValueError(f"{branch.name}: the breakpoints' currents must rise")
            if any(x < y for x, y in pairwise(volts)):
                raise ValueError(f"{branch.name}: the breakpoints' voltages must not rise")


def _paths(branch: Branch) -> tuple[tuple[int, int], ...]:
    """The pairs of nodes that a branch joins for direct current."""
    if isinstance(branch, (CurrentSource, Blocked)):
        return ()
    if isinstance(branch, MosBranch):
        return ((branch.drain, branch.source),)
    nodes = nodes_of(branch)
    return tuple(pairwise(nodes))


def _check_paths(network: BranchNetwork) -> None:
    """Raise `NotSolvable` for the first group of nodes without a conducting path to node 0."""
    count = len(network.nodes)
    neighbours: list[list[int]] = [[] for _ in range(count)]
    for branch in network.branches:
        for a, b in _paths(branch):
            neighbours[a].append(b)
            neighbours[b].append(a)
    seen = _reach(0, neighbours)
    for node in range(count):
        if node not in seen:
            island = sorted(_reach(node, neighbours))
            raise NotSolvable(_floating_text(network, island))


def _reach(start: int, neighbours: Sequence[Sequence[int]]) -> set[int]:
    seen = {start}
    queue = deque([start])
    while queue:
        for node in neighbours[queue.popleft()]:
            if node not in seen:
                seen.add(node)
                queue.append(node)
    return seen


def _floating_text(network: BranchNetwork, island: Sequence[int]) -> str:
    inside = set(island)
    touching = [b for b in network.branches if inside.intersection(nodes_of(b))]
    # Elements wholly inside a larger island don't explain it; those that lead out of it do.
    leading = [b.name for b in touching if not inside.issuperset(nodes_of(b)) or isinstance(b, Blocked)]
    names = leading or ([b.name for b in touching] if len(island) == 1 else [])
    nets = ", ".join(network.nodes[node] for node in island[:4]) + (" and others" if len(island) > 4 else "")
    net = f"net {nets}" if len(island) == 1 else f"nets {nets}"
    it = "it" if len(island) == 1 else "them"
    if not names:
        return f"no DC path from {net} to a reference: nothing connects {it}"
    verb = "connects" if len(names) == 1 else "connect"
    return f"no DC path from {net} to a reference: only {listed(names)} {verb} {it}"


def listed(names: Sequence[str]) -> str:
    """A, B and C."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


Loop = tuple[int, tuple[tuple[int, int], ...]]


def _sources(network: BranchNetwork) -> tuple[list[HoldStep], list[int], list[Loop], list[bool]]:
    """Span all sources and wires with trees; the tree of node 0 holds its nodes, what closes a loop is redundant."""
    count = len(network.nodes)
    touching: list[list[int]] = [[] for _ in range(count)]
    for i, branch in enumerate(network.branches):
        if is_wire(branch):
            for node in set(nodes_of(branch)):
                touching[node].append(i)
    fixed = [False] * count
    held: list[HoldStep] = []
    floating: list[int] = []
    redundant: list[Loop] = []
    used: set[int] = set()
    arrived: dict[int, HoldStep | None] = {}
    for root in range(count):
        if root in arrived or (root and not touching[root]):
            continue
        arrived[root] = None
        fixed[root] = root == 0
        queue = deque([root])
        while queue:
            node = queue.popleft()
            for i in touching[node]:
                if i in used:
                    continue
                used.add(i)
                a, b = nodes_of(network.branches[i])
                other = b if node == a else a
                if other in arrived:
                    redundant.append((i, _loop(a, b, arrived)))
                    continue
                step = HoldStep(i, node, other, 1 if other == a else -1)
                arrived[other] = step
                queue.append(other)
                if root == 0:
                    fixed[other] = True
                    held.append(step)
                else:
                    floating.append(i)
    return held, floating, redundant, fixed


def _loop(a: int, b: int, arrived: dict[int, HoldStep | None]) -> tuple[tuple[int, int], ...]:
    """The tree branches between b and a with the sign in which each adds to v(a) - v(b), without the shared part."""

    def climb(node: int) -> list[HoldStep]:
        steps = []
        step = arrived[node]
        while step is not None:
            steps.append(step)
            step = arrived[step.start]
        return steps

    up, down = climb(a), climb(b)
    while up and down and up[-1] == down[-1]:
        up.pop()
        down.pop()
    return tuple((step.branch, step.sign) for step in up) + tuple((step.branch, -step.sign) for step in down)


def volts_of(branch: Branch) -> float:
    """The voltage that a source or wire holds from a to b."""
    return branch.volts if isinstance(branch, VoltageSource) else 0.0


def check_loops(network: BranchNetwork, structure: Structure) -> None:
    """Raise `NotSolvable` where sources that close a loop do not agree."""
    for closing, loop in structure.redundant:
        own = volts_of(network.branches[closing])
        total = sum(sign * volts_of(network.branches[i]) for i, sign in loop)
        scale = max(abs(own), *(abs(volts_of(network.branches[i])) for i, _ in loop), 0.0) if loop else abs(own)
        if abs(total - own) > 1e-9 * scale:
            sources = sorted({closing, *(i for i, _ in loop)})
            raise NotSolvable(_conflict_text([network.branches[i] for i in sources], total - own))


def _conflict_text(branches: Sequence[Branch], rest: float) -> str:
    named = [b for b in branches if volts_of(b) != 0.0]
    wires = [b.name for b in branches if volts_of(b) == 0.0]
    names = [b.name for b in named]
    if len(names) == 1:
        way = f" through {listed(wires)}" if wires else ""
        return f"source {names[0]} is short-circuited{way}"
    way = f", joined by {listed(wires)}" if wires else ""
    return f"sources {listed(names)} are in conflict{way}: round their loop {abs(rest):.4g} V remain"


def port_conflict(network: BranchNetwork) -> tuple[str, ...]:
    """The sources and ports of the first loop of them that holds a port: what a failed solution should name."""
    parent = list(range(len(network.nodes)))
    members: dict[int, list[str]] = {}

    def find(node: int) -> int:
        while parent[node] != node:
            node = parent[node]
        return node

    for branch in network.branches:
        if not (is_wire(branch) or isinstance(branch, Port)):
            continue
        a, b = (find(node) for node in nodes_of(branch))
        joined = [*members.pop(a, []), *members.pop(b, []), branch.name]
        if a == b:
            ports = [b.name for b in network.branches if isinstance(b, Port) and b.name in joined]
            if ports:
                touching = set(nodes_of(branch))
                near = [
                    b.name
                    for b in network.branches
                    if (is_wire(b) or isinstance(b, Port)) and touching.intersection(set(nodes_of(b)) - {0})
                ]
                return tuple(name for name in near if name in joined)
        parent[a] = b
        members[b] = joined
    return ()

"""The networks of a drive over one period of a sine, at one corner.

In: a drive network in the states of both half waves. Out: operating points with the source at any volts, on request
with another branch in the place of one. Of two antiparallel LEDs the one that counts stands in each half wave's
network.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.interfaces.entities import Channel
from isolint.worstcase import network as n
from isolint.worstcase.drive import DriveAnalyser, vector_of
from isolint.worstcase.network_build import State
from isolint.worstcase.quantities import Bound
from isolint.worstcase.solve import Point, Solver
from isolint.worstcase.uncertain import Lacking


class Halves(NamedTuple):
    """middle, crest: volts of the sine. lower, upper: the networks below and above its middle."""

    solver: Solver
    name: str
    middle: float
    crest: float
    lower: n.BranchNetwork
    upper: n.BranchNetwork
    temperature: float

    def point(self, volts: float, instead: n.Branch | None = None) -> Point:
        """The operating point with the source at some volts; `instead` stands for the branch of its name."""
        return self.solved(self.upper if volts >= self.middle else self.lower, volts, instead)

    def solved(self, network: n.BranchNetwork, volts: float, instead: n.Branch | None = None) -> Point:
        """The same in the network of one of the half waves."""
        branches: list[n.Branch] = []
        for branch in network.branches:
            if isinstance(branch, n.VoltageSource) and branch.name == self.name:
                branches.append(branch._replace(volts=volts))
            else:
                branches.append(instead if instead is not None and branch.name == instead.name else branch)
        try:
            return self.solver.solve(n.BranchNetwork(network.nodes, tuple(branches)), self.temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None

    def holding(self, instead: n.Branch) -> Halves:
        """The same networks with another branch in the place of one, in both."""

        def changed(network: n.BranchNetwork) -> n.BranchNetwork:
            branches = (instead if branch.name == instead.name else branch for branch in network.branches)
            return n.BranchNetwork(network.nodes, tuple(branches))

        return self._replace(lower=changed(self.lower), upper=changed(self.upper))

    def branch(self, name: str) -> n.Branch:
        """A branch of the positive half wave by its name."""
        return next(branch for branch in self.upper.branches if branch.name == name)


def halves(drives: DriveAnalyser, channel: Channel, states: Sequence[State], name: str, corner: Bound) -> Halves:
    """The networks of both half waves at a corner. states: one a half wave. name: of the source in the networks."""
    found: list[tuple[float, n.BranchNetwork]] = []
    for state in states:
        made = drives.assemble(channel, state)
        network = made.network(vector_of(made, corner.at), corner.temperature)
        end = next(b.volts for b in network.branches if isinstance(b, n.VoltageSource) and b.name == name)
        found.append((end, network))
    (bottom, lower), (top, upper) = sorted(found, key=lambda half: half[0])
    return Halves(drives.solver, name, (bottom + top) / 2.0, (top - bottom) / 2.0, lower, upper, corner.temperature)

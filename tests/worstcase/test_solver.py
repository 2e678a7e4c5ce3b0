"""Solving many networks of one netlist: each only once, from the last one like it."""

from __future__ import annotations

import random

import pytest

from isolint.worstcase import solve as module
from isolint.worstcase.network import Branch, BranchNetwork, LedBranch, NotSolvable, Resistor, VoltageSource
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.point import Point
from isolint.worstcase.solve import Solver, solve
from tests.worstcase.networks import drive_network


def numbered(solver: Solver, network: BranchNetwork, suffix: str = "") -> BranchNetwork:
    """The network with a code for each branch, its branches and nodes renamed by a suffix."""
    branches = tuple(branch._replace(name=branch.name + suffix) for branch in network.branches)
    nodes = ("0", *(node + suffix for node in network.nodes[1:]))
    return BranchNetwork(nodes, branches, tuple(solver.codes.of(branch)[0] for branch in branches))


def has_led(network: BranchNetwork) -> bool:
    return any(isinstance(branch, LedBranch) for branch in network.branches)


@pytest.fixture
def solved(monkeypatch: pytest.MonkeyPatch) -> list[BranchNetwork]:
    """The networks that were really solved."""
    real, found = module._solve, list[BranchNetwork]()

    def noted(network: BranchNetwork, temperature: float, start: Point | None) -> Point:
        found.append(network)
        return real(network, temperature, start)

    monkeypatch.setattr(module, "_solve", noted)
    return found


def test_networks_that_differ_in_names_only_are_solved_once(solved: list[BranchNetwork]) -> None:
    solver = Solver()
    for seed in range(20):
        drive = drive_network(seed)
        first = solver.solve(numbered(solver, drive), 25.0)
        again = solver.solve(numbered(solver, drive, "_2"), 25.0)
        assert again.voltages == first.voltages
        for branch, values in zip(drive.branches, first.amps, strict=True):
            if len(values) == 1:
                assert again.current(f"{branch.name}_2") == values[0]
    assert len(solved) == 20


def test_another_value_node_or_temperature_is_another_network(solved: list[BranchNetwork]) -> None:
    solver = Solver()
    supply, upper, lower = VoltageSource("V", 1, 0, 5.0), Resistor("RA", 1, 2, 1e3), Resistor("RB", 2, 0, 1e3)
    cases: list[tuple[Branch, ...]] = [
        (supply, upper, lower),
        (supply, upper, lower._replace(ohms=2e3)),
        (supply._replace(volts=6.0), upper, lower),
        (supply, upper, lower._replace(a=1)),
        (supply, lower, upper),
    ]
    found = []
    for branches in cases:
        network = BranchNetwork(("0", "A", "B"), branches, tuple(solver.codes.of(branch)[0] for branch in branches))
        found += [solver.solve(network, temperature) for temperature in (25.0, 85.0)]
    # What is linear has the same point at any temperature.
    assert (len(solved), len(found)) == (5, 10)
    assert [point.temperature for point in found] == [25.0, 85.0] * 5
    assert [point.voltage("B") for point in found[::2]] == pytest.approx([2.5, 10.0 / 3.0, 3.0, 5.0, 2.5])


def test_a_network_with_an_led_is_another_one_at_another_temperature(solved: list[BranchNetwork]) -> None:
    solver = Solver()
    network = numbered(solver, next(drive for drive in map(drive_network, range(20)) if has_led(drive)))
    cold, hot, again = (solver.solve(network, temperature) for temperature in (25.0, 85.0, 25.0))
    assert len(solved) == 2
    assert cold.voltages == again.voltages != hot.voltages


def test_networks_without_codes_are_never_taken_for_each_other(solved: list[BranchNetwork]) -> None:
    solver = Solver()
    network = BranchNetwork(("0", "A"), (VoltageSource("V", 1, 0, 5.0), Resistor("R", 1, 0, 1e3)))
    assert solver.solve(network, 25.0).current("R") == pytest.approx(5e-3)
    other = BranchNetwork(("0", "A"), (VoltageSource("V", 1, 0, 5.0), Resistor("R", 1, 0, 2e3)))
    assert solver.solve(other, 25.0).current("R") == pytest.approx(2.5e-3)
    assert len(solved) == 2


def test_a_network_without_an_operating_point_is_told_with_its_own_names() -> None:
    solver = Solver()
    for name in ("R1", "R7"):
        floating = BranchNetwork(("0", f"net_{name}", "M"), (VoltageSource("V", 0, 0, 0.0), Resistor(name, 1, 2, 1e3)))
        with pytest.raises(NotSolvable, match=f"net_{name}"):
            solver.solve(numbered(solver, floating), 25.0)


def test_what_was_solved_before_changes_no_operating_point() -> None:
    solver, rng = Solver(), random.Random(4)
    seeds = [rng.randrange(60) for _ in range(200)]
    for seed in seeds:
        drive = drive_network(seed)
        values = tuple(
            branch._replace(ohms=branch.ohms * rng.uniform(0.9, 1.1)) if isinstance(branch, Resistor) else branch
            for branch in drive.branches
        )
        network = BranchNetwork(drive.nodes, values)
        chained = solver.solve(numbered(solver, network), 25.0)
        assert chained.voltages == pytest.approx(solve(network, 25.0).voltages, rel=1e-6, abs=1e-6), seed


def test_the_memory_of_a_solver_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Solver, "MOST", 10)
    solver = Solver()
    for ohms in range(1, 40):
        branches: tuple[Branch, ...] = (VoltageSource("V", 1, 0, 1.0), Resistor("R", 1, 0, float(ohms)))
        network = BranchNetwork(("0", "A"), branches, tuple(solver.codes.of(branch)[0] for branch in branches))
        assert solver.solve(network, 25.0).current("R") == pytest.approx(1.0 / ohms)
        assert len(solver._known) <= 10


def test_equal_numbers_give_the_same_branch_by_identity() -> None:
    made = Assembly(nodes=["0", "A"])
    made.add("R", lambda vector, temperature: Resistor("R", 1, 0, 1e3 * (1.0 + vector[1]) * (1.0 + temperature)), 1)
    made.add("S", lambda vector, temperature: Resistor("S", 1, 0, 1e3 * (1.0 + temperature)), warm=True)
    first, other_term, other_value, warmer = (
        made.network(vector, temperature)
        for vector, temperature in (((0.0, 0.1), 1.0), ((9.0, 0.1), 1.0), ((0.0, 0.2), 1.0), ((0.0, 0.1), 2.0))
    )
    assert other_term.branches[0] is first.branches[0]
    assert other_value.branches[0] is not first.branches[0]
    assert warmer.branches[0] is first.branches[0]
    assert warmer.branches[1] is not first.branches[1]
    assert first.codes == other_term.codes != other_value.codes

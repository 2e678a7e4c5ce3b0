"""A board judged with a solver that remembers and with one that solves everything anew from nothing."""

from __future__ import annotations

import math

import pytest

from isolint import app
from isolint.results import Result
from isolint.worstcase.network import BranchNetwork
from isolint.worstcase.point import Point
from isolint.worstcase.solve import Solver, solve
from tests.conftest import REPOSITORY

BOARDS = ("sluice-gate/sound", "sluice-gate/broken", "pump-station/sound", "pump-station/broken")


def judged(board: str) -> list[Result]:
    report = app.check([str(REPOSITORY / "fixtures/boards" / board / "board.cir")], app.Options())
    return [result for netlist in report.netlists for result in netlist.results]


def same(one: float | None, other: float | None) -> bool:
    """Whether both are unknown, or equal but for rounding."""
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)


@pytest.mark.parametrize("board", BOARDS)
def test_what_the_solver_remembers_changes_no_result(board: str, monkeypatch: pytest.MonkeyPatch) -> None:
    remembered = judged(board)
    anew = 0

    def plainly(self: Solver, network: BranchNetwork, temperature: float) -> Point:
        nonlocal anew
        anew += 1
        return solve(network, temperature)

    monkeypatch.setattr(Solver, "_found", plainly)
    plain = judged(board)
    assert anew > 500
    for one, other in zip(remembered, plain, strict=True):
        assert one._replace(evidence=(), margin=None, measure=None) == other._replace(
            evidence=(), margin=None, measure=None
        )
        for shown, redone in zip(one.evidence, other.evidence, strict=True):
            assert same(shown.min, redone.min), shown
            assert same(shown.max, redone.max), shown

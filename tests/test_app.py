"""Runs over several netlists."""

from __future__ import annotations

import gc
from pathlib import Path

from isolint.app import Options, Run
from isolint.preparing import locate
from isolint.worstcase.solve import Point
from tests.benchmarks.rows import repository


def points() -> int:
    """How many solved points are held."""
    return sum(isinstance(each, Point) for each in gc.get_objects())


def test_a_run_without_the_collector_lets_go_of_each_board_before_the_next(tmp_path: Path) -> None:
    repository(tmp_path, 3)
    gc.collect()
    before = points()
    run = Run(Options(root=str(tmp_path)))
    held = []
    gc.disable()
    try:
        for number in range(3):
            name = str(tmp_path / f"board{number:03}/main.cir")
            tree, inner, root = locate(name, str(tmp_path))
            run.add(tree, inner, root, name)
            held.append(points() - before)
    finally:
        gc.enable()
    assert len(run.report().netlists) == 3
    assert held[2] <= held[0]

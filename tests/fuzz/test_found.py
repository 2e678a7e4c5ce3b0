"""Everything that fuzzing ever found is replayed, and every seed is."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.__main__ import seeds
from tests.fuzz.targets import TARGETS

FOUND = sorted((Path(__file__).parent / "found").glob("*"))


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.name)
def test_what_fuzzing_found_no_longer_fails(path: Path) -> None:
    target = path.name.partition("-")[0]
    TARGETS[target](path.read_bytes())


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_seeds_of_each_target_run(target: str) -> None:
    data = seeds(target)
    assert len(data) >= 5
    for seed in data:
        TARGETS[target](seed)

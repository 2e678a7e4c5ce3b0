"""Everything that fuzzing ever found is replayed, and every seed is."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.__main__ import seeds
from tests.fuzz.targets import TARGETS

FOUND = Path(__file__).parent / "found"


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_seeds_and_what_fuzzing_found_run(target: str) -> None:
    data = seeds(target)
    assert len(data) >= 5
    found = [path.read_bytes() for path in sorted(FOUND.glob(f"{target}-*"))]
    for seed in (*data, *found):
        TARGETS[target](seed)

"""Invented series in the place of the trade's, which stand in their one data file only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint.interfaces.classify import hint_for
from isolint.recognition import series

INVENTED = """
[[series]]
type = "phototransistor"
match = 'DEMO4N\\d'
pins = { 4 = ["A K C E", "A K E C"], 6 = ["A K n n C E"] }
alternating = '\\w*4N7'

[[series]]
type = "logic-output"
match = 'DEMO9[AB]'
only = 5
pins = { 5 = ["A K G O V"] }

[[series]]
type = ""
match = 'DEMOWORD'
word = true
"""


@pytest.fixture
def invented(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Invented series in the place of the trade's."""
    path = tmp_path / "series.toml"
    path.write_text(INVENTED, encoding="utf-8")
    monkeypatch.setattr(series, "_FILE", str(path))
    series._rows.cache_clear()
    series.hint_of.cache_clear()
    hint_for.cache_clear()
    yield
    series._rows.cache_clear()
    series.hint_of.cache_clear()

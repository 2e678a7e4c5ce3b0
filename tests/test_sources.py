"""Citations: one file holds them, everything else names their keys."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.conftest import REPOSITORY

SOURCES: dict[str, dict[str, Any]] = tomllib.loads((REPOSITORY / "tests/sources.toml").read_text(encoding="utf-8"))

# Citation keys hold a hyphen, the keys of settings don't.
NAMED = re.compile(r"\bkeys? `([a-z0-9]+(?:[-.][a-z0-9]+)+)`")
TEXT = {".py", ".md", ".toml", ".lark", ".cir", ".lib", ".yaml", ".json", ".sub", ".inc"}


def texts() -> Iterator[tuple[Path, str]]:
    """Every text of the project but the citations themselves."""
    for folder in ("isolint", "grammars", "fixtures", "tests"):
        for path in sorted((REPOSITORY / folder).rglob("*")):
            if path.suffix in TEXT and path.name != "sources.toml":
                yield path, path.read_text(encoding="utf-8", errors="replace")
    for path in sorted(REPOSITORY.glob("*.md")):
        yield path, path.read_text(encoding="utf-8")


def test_each_source_has_title_publisher_number_year_and_kind() -> None:
    for key, source in SOURCES.items():
        assert re.fullmatch(r"[a-z0-9.-]+", key)
        assert set(source) == {"title", "publisher", "number", "year", "kind"}, key
        assert source["title"], key
        assert source["publisher"], key
        assert isinstance(source["year"], int), key
        assert source["kind"] in ("standard", "article", "maker", "public"), key


def test_each_key_that_is_named_exists() -> None:
    named = {(path.name, key) for path, text in texts() for key in NAMED.findall(text)}
    assert named, "the pattern must find at least one"
    assert {(name, key) for name, key in named if key not in SOURCES} == set()


def test_makers_are_named_nowhere_else() -> None:
    makers = sorted({source["publisher"] for source in SOURCES.values() if source["kind"] == "maker"})
    assert makers
    pattern = re.compile(rf"\b({'|'.join(map(re.escape, makers))})\b", re.IGNORECASE)
    assert [(path.name, found) for path, text in texts() for found in pattern.findall(text)] == []

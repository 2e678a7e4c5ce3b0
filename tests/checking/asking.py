"""Which rows of facts and part records are asked for, stated or not."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from isolint.facts.stated import Fact
from isolint.rows import Row, Rows, Value


@contextmanager
def watched_rows() -> Iterator[set[tuple[str, str]]]:
    """The (table, key) of the rows that are asked for meanwhile."""
    found: set[tuple[str, str]] = set()

    def get(row: Row[Any], rows: Rows | None, owner: type[Rows]) -> Any:
        if rows is None:
            return row
        found.add((row.table, row.key))
        return rows.__dict__.get(row.attribute)

    def put(row: Row[Any], rows: Rows, value: Any) -> None:
        rows.__dict__[row.attribute] = value

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Fact, "__get__", get)
        patch.setattr(Value, "__get__", get)
        patch.setattr(Row, "__set__", put, raising=False)
        yield found

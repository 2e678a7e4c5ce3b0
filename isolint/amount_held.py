"""The row of a table that says what a barrier must hold beside what holds it."""

from __future__ import annotations

from typing import Literal, NamedTuple


class Held(NamedTuple):
    """One amount that a barrier must hold beside what holds it, in words for a table.

    margin: offered over required, None where one of both is not known. by: elements and record. key: what of their
    record, or what stands in for it. row: the row of the table, or what is stated.
    """

    name: str
    required: str
    offered: str
    margin: float | None
    by: str
    key: str
    row: str
    verdict: Literal["holds", "short", "open"]

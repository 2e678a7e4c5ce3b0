"""What is said of barriers beside the results: of which nothing is asked, and what the tables of a profile lack."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.barrier_limits import NOT_CARRIED
from isolint.checking.barrier_strength import walls
from isolint.checking.context import Context


def unasked_notes(context: Context) -> Iterator[str]:
    """One line for all barriers of which nobody states what their sides are."""
    found = walls(context)
    names = [
        wall.pair.name
        for wall in found
        if wall.crossers
        and not wall.pair.facts
        and any(kind.danger == "U" for kind in wall.kinds)
        and not any(kind.hazardous for kind in wall.kinds)
    ]
    if names:
        what = "1 barrier" if len(names) == 1 else f"{len(names)} barriers"
        yield f"{what} not judged for strength, nobody stated the kind of a side: {'; '.join(names)}"


def table_notes(context: Context) -> Iterator[str]:
    """What the tables lack by which the barriers of a netlist are judged, one line a profile."""
    judged = (wall.limits for wall in walls(context) if wall.limits.full and wall.limits.strength is not None)
    for profile in sorted({limits.profile for limits in judged}):
        yield f"profile {profile}, not carried here: {NOT_CARRIED[profile]}"

"""A fault that channels of one network share is one result.

In: results in the order of the rules. Out: the same, but of failures of one rule at one element that stands in the
networks of several channels only the one with the least margin remains; the others are notApplicable and name it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.checking.context import Context
from isolint.errors import Place
from isolint.results import Result

Key = tuple[str, int, str]
ByPlace = Mapping[str, Mapping[Place, int]]


def said_once(context: Context, results: Sequence[Result]) -> list[Result]:
    """Keep one failure of each rule, element and role among the channels that have the element in their networks."""
    elements = {
        channel.subject: {
            context.place(element): element for element in (*channel.drive.elements, *channel.load.elements)
        }
        for channel in context.channels
    }
    worst: dict[Key, Result] = {}
    for result in results:
        key = _key(result, elements)
        if key is not None and _margin(result) < _margin(worst.get(key)):
            worst[key] = result
    return [_named(result, worst.get(key) if (key := _key(result, elements)) else None) for result in results]


def _key(result: Result, elements: ByPlace) -> Key | None:
    """Rule, element and role of a failure that stands at an element of its channel's networks, else None."""
    element = elements.get(result.subject, {}).get(result.where) if result.kind == "fail" else None
    return None if element is None else (result.rule, element, result.role)


def _margin(result: Result | None) -> float:
    if result is None:
        return float("inf")
    return 0.0 if result.margin is None else result.margin.value


def _named(result: Result, worst: Result | None) -> Result:
    if worst is None or result.subject == worst.subject:
        return result
    text = f"{result.subject}: the same card fails {worst.rule} for {worst.subject}"
    return result._replace(
        kind="notApplicable", level="none", message=text, blocked_by=result.rule, remedy="", missing=()
    )

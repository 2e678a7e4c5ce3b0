"""Colours of elements and nets: two that look alike as far as some rounds reach have the same one.

Colours are numbers out of one table for both netlists, so that they can be compared.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import NamedTuple

from isolint.review.sketch import Sketch

MOST_WORK = 4_000_000
"""Pins times rounds that a colouring which goes on until nothing splits may take."""


class Colours(NamedTuple):
    """Colours of the elements and nets of one sketch."""

    elements: list[int]
    nets: list[int]


class ColourTable:
    """Numbers for what is equal; the same for all sketches that it is used with."""

    def __init__(self) -> None:
        self._numbers: dict[Hashable, int] = {}

    def __call__(self, what: Hashable) -> int:
        return self._numbers.setdefault(what, len(self._numbers))


def coloured(
    sketches: Sequence[Sketch],
    table: ColourTable,
    strict: bool,
    rounds: int | None,
    known: Sequence[Mapping[int, int]] = ({}, {}),
) -> list[Colours]:
    """Colour sketches alike for so many rounds; None: until no colour splits any more.

    strict: whether values and models count. known: elements of each sketch that have a colour of their own, by number.
    """
    found = []
    for sketch, own in zip(sketches, known, strict=True):
        elements = [
            table(("own", own[index]) if index in own else ("element", kind, *_worth(sketch, index, strict)))
            for index, kind in enumerate(sketch.kinds)
        ]
        found.append(Colours(elements, [table(("net", each)) for each in sketch.fixed]))
    if rounds is None:
        size = sum(len(pins) for sketch in sketches for pins in sketch.pins) + 1
        rounds = max(6, MOST_WORK // size)
        classes = _classes(found)
        for _ in range(rounds):
            found = [_refined(sketch, colours, table) for sketch, colours in zip(sketches, found, strict=True)]
            before, classes = classes, _classes(found)
            if classes == before:
                break
        return found
    for _ in range(rounds):
        found = [_refined(sketch, colours, table) for sketch, colours in zip(sketches, found, strict=True)]
    return found


def _worth(sketch: Sketch, index: int, strict: bool) -> tuple[Hashable, ...]:
    return (sketch.values[index], sketch.models[index]) if strict else ()


def _classes(found: Sequence[Colours]) -> int:
    return len({colour for colours in found for colour in colours.elements}) + len(
        {colour for colours in found for colour in colours.nets}
    )


def _refined(sketch: Sketch, colours: Colours, table: ColourTable) -> Colours:
    elements = []
    around: list[list[tuple[int, int]]] = [[] for _ in sketch.nets]
    for index, (pins, swap, own) in enumerate(zip(sketch.pins, sketch.swaps, colours.elements, strict=True)):
        met = [colours.nets[net] for net in pins]
        elements.append(table(("e", own, *(sorted(met) if swap else met))))
        for place, net in enumerate(pins):
            around[net].append((own, -1 if swap else place))
        del index
    nets = [table(("n", own, *sorted(met))) for own, met in zip(colours.nets, around, strict=True)]
    return Colours(elements, nets)


def classes_of(colours: Sequence[int], left: Iterator[int]) -> dict[int, list[int]]:
    """The members of each colour among those that are left, in their order."""
    found: dict[int, list[int]] = {}
    for index in left:
        found.setdefault(colours[index], []).append(index)
    return found

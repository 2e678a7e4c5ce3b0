"""How much the place of an unexplained part speaks for a barrier in it.

In: the flat view and labels. Out: a `PartPlace` a part: its score, whether it touches two domains, its LED pair or
coil. The points are thresholds set by hand on generated boards (no source); a score decides what is asked, never a
verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from isolint.positions.domains import Labels
from isolint.positions.flat import Flat, Joint
from isolint.positions.neighbours import Neighbours
from isolint.positions.spoken import is_connector, is_passive, told_by_letters

ASKED_ACROSS = 3
ASKED_ALONE = 4
_MANY_PINS, _SOME_PINS, _FEW_PINS = 24, 16, 6


class PartPlace(NamedTuple):
    """What the place of a part tells.

    labels: the domain of each pin, None for none. across: whether two domains or more touch it. told: the type that
    letters or name tell, "coupler" for any, "" for none. pair: LED pins by index. coil: pins across which a diode lies.
    """

    element: int
    nets: tuple[int, ...]
    labels: tuple[int | None, ...]
    score: int
    across: bool
    told: str = ""
    pair: tuple[int, ...] = ()
    coil: tuple[int, ...] = ()
    own: bool = True

    @property
    def is_candidate(self) -> bool:
        """Whether it is asked about by its place alone."""
        if self.across:
            return self.score >= ASKED_ACROSS
        return self.score >= (ASKED_ALONE if not self.told else 3)


def place_of(
    flat: Flat, labels: Labels, near: Neighbours, part: Joint, islands: Sequence[int], named: str
) -> PartPlace:
    """Score one part; `islands` are those of its pins, `named` is what its name tells."""
    element, nets = part
    letters = flat.letters.get(element, "")
    told = told_by_letters(letters) or named
    of = labels.of(islands, element)
    distinct = set(of)
    if len(distinct) > (2 if None in distinct else 1):
        return _across(labels, element, nets, of, islands, told, letters)._replace(pair=near.led_pair(nets, of))
    pair, coil = near.led_pair(nets, of), near.coil(nets)
    if is_passive(letters) or is_connector(letters):
        return PartPlace(element, nets, tuple(of), 0, False, told, pair, coil)
    if len(nets) > _FEW_PINS and not pair and not coil and not told:
        # Nothing else adds up to a question.
        return PartPlace(element, nets, tuple(of), 0, False)
    score = _alone(near, nets, islands, told, pair, coil)
    return PartPlace(element, nets, tuple(of), score, False, told, pair, coil)


def _across(
    labels: Labels,
    element: int,
    nets: tuple[int, ...],
    of: list[int | None],
    islands: Sequence[int],
    told: str,
    letters: str,
) -> PartPlace:
    """The score of a part that touches two domains or more."""
    sides: dict[int, set[int]] = {}
    of = labels.shorted(of)
    for label, net in zip(of, nets, strict=True):
        if label is not None:
            sides.setdefault(label, set()).add(net)
    by_size = sorted(sides, key=lambda label: -len(sides[label]))
    second = by_size[1]
    own = {label for label, island in zip(of, islands, strict=True) if label is not None and island in labels.own}
    score = 2 if len(own) > 1 else 0
    known = [label for label in of if label is not None]
    runs = 1 + sum(one != other for one, other in pairwise(known))
    score += 2 if runs == len(sides) else -1
    beside = len(nets) <= _SOME_PINS and any(
        label == second and any(of[pin + step] is None for step in (-1, 1) if 0 <= pin + step < len(of))
        for pin, label in enumerate(of)
    )
    score += 1 if len(sides[second]) > 1 or beside else -2
    score -= len(nets) > _MANY_PINS
    score += bool(told)
    score -= 2 * is_passive(letters)
    return PartPlace(element, nets, tuple(of), score, True, told, own=len(own) > 1)


def _alone(
    near: Neighbours,
    nets: tuple[int, ...],
    islands: Sequence[int],
    told: str,
    pair: tuple[int, ...],
    coil: tuple[int, ...],
) -> int:
    """The score of a part that touches one domain or none."""
    supplied = any(map(near.is_supply, nets))
    score = 0
    if pair:
        apart = near.is_apart(pair, islands)
        score += 2 * (not supplied or apart) + apart
    terminals = sum(near.is_terminal(net) for net in dict.fromkeys(nets))
    score += not supplied and len(nets) <= 8
    score += len(nets) <= 6
    score += any(near.is_open(net) for net in nets)
    if coil and sum(near.is_terminal(nets[pin]) for pin in range(len(nets)) if pin not in coil) >= 2:
        score += 4
    score += terminals >= 2
    if pair and len(nets) == 4 and all(near.is_terminal(nets[pin]) for pin in range(4) if pin not in pair):
        score += 2
    if told:
        score += 1 if told == "isolated-supply" else 3
    return score

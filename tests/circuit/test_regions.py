from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from isolint.circuit import Region, islands, summarise

PINS = ((0, 2), (2, 3), (3, 1), (0, 4), (4, 5, 0), (0, 1), (6, 7))


def test_inner_nets_that_hang_on_the_same_nets_are_one_region() -> None:
    made = summarise(PINS, range(7), (), {0, 1}, 8)
    assert made.regions == (
        Region((0, 1), (2, 3), (0, 1, 2)),
        Region((0,), (4, 5), (3, 4)),
        Region((), (6, 7), (6,)),
    )
    assert made.kept == (5,)
    assert made.region_of == {2: 0, 3: 0, 4: 1, 5: 1, 6: 2, 7: 2}


def test_what_is_kept_stays_in_the_order_of_the_cards() -> None:
    assert summarise(PINS, (3, 5), (0, 6), {0, 1, 2, 6, 7}, 8).kept == (0, 5, 6)


@given(
    st.lists(st.lists(st.integers(0, 11), min_size=1, max_size=3).map(tuple), max_size=14), st.sets(st.integers(0, 11))
)
def test_regions_are_the_components_between_the_nets_of_their_own(pins: list[tuple[int, ...]], own: set[int]) -> None:
    made = summarise(pins, range(len(pins)), (), own, 12)
    joined = islands(12, [tuple(net for net in nets if net not in own) for nets in pins])
    ends: dict[int, set[int]] = {}
    for nets in pins:
        for root in {joined.of(net) for net in nets if net not in own}:
            ends.setdefault(root, set()).update(own.intersection(nets))
    regions: dict[tuple[int, ...], tuple[set[int], set[int]]] = {}
    for element, nets in enumerate(pins):
        for net in set(nets) - own:
            inner, elements = regions.setdefault(tuple(sorted(ends[joined.of(net)])), (set(), set()))
            inner.add(net)
            elements.add(element)
    assert {region.ends: (set(region.nets), set(region.elements)) for region in made.regions} == regions
    assert made.kept == tuple(element for element, nets in enumerate(pins) if set(nets) <= own)

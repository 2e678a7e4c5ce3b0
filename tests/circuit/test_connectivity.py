from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from isolint.circuit import islands
from isolint.circuit.connectivity import Islands


def test_joined_nets_share_the_smallest_id() -> None:
    made = islands(6, [(4, 2), (5, 4, 4), (), (0,)])
    assert [made.of(net) for net in range(6)] == [0, 1, 2, 3, 2, 2]


@given(st.lists(st.lists(st.integers(0, 7), max_size=3).map(tuple), max_size=8))
def test_islands_are_what_repeated_merging_of_sets_gives(joined: list[tuple[int, ...]]) -> None:
    sets = [{net} for net in range(8)]
    for nets in joined:
        touched = [group for group in sets if group & set(nets)]
        if touched:
            sets = [group for group in sets if group not in touched] + [set().union(*touched)]
    made = islands(8, joined)
    assert all(made.of(net) == min(group) for group in sets for net in group)


def test_a_long_chain_is_followed_without_recursion() -> None:
    count = 50_000
    made = islands(count, ((net, net + 1) for net in reversed(range(count - 1))))
    assert made.of(count - 1) == 0


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=60))
def test_few_joined_nets_of_very_many_are_as_well_kept_apart(pairs: list[tuple[int, int]]) -> None:
    sparse, plain, one_by_one = Islands.sparse(), Islands(41), Islands(41)
    sparse.join_pairs(pairs)
    plain.join_pairs(pairs)
    for one, other in pairs:
        one_by_one.join(one, other)
    assert [sparse.of(net) for net in range(41)] == [plain.of(net) for net in range(41)]
    assert [plain.of(net) for net in range(41)] == [one_by_one.of(net) for net in range(41)]
    assert sparse.of(10**12) == 10**12

"""Couplers whose outputs lie in the networks of others: in series, in parallel, or before another one's LED.

In: channels as they were walked. Out: the same, without the outputs that lie across a channel's own, and with the loops
in which channels drive each other.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence

from isolint.circuit import Circuit
from isolint.interfaces.entities import Channel, Pair
from isolint.interfaces.pinsets import output_pairs, pin_sets


def with_companions(circuit: Circuit, channels: Sequence[Channel]) -> tuple[Channel, ...]:
    """The channels, each with the outputs of others that decide beside it, and the loop that it is part of."""
    apart = [_without_parallel(circuit, channel) for channel in channels]
    if not any(channel.drive.pairs for channel in apart):
        return tuple(apart)
    own = {pair: channel.subject for channel in apart for pair in own_pairs(channel)}
    drivers = {channel.subject: [own[pair] for pair in channel.drive.pairs if pair in own] for channel in apart}
    within = _entangled(drivers)
    return tuple(
        channel._replace(loop=_round(drivers, channel.subject, within)) if channel.subject in within else channel
        for channel in apart
    )


def own_pairs(channel: Channel) -> tuple[Pair, ...]:
    """The channel's own output, nothing where it conducts in no way that is known."""
    names = [name for name, _ in pin_sets(channel.part)]
    pairs = output_pairs(channel.part)
    if len(pairs) != len(names):
        return ()
    return (pairs[names.index(channel.name)],)


def _without_parallel(circuit: Circuit, channel: Channel) -> Channel:
    """A channel without the outputs across its own: whether one of them conducts is what the channel can't change."""
    if not channel.load.pairs:
        return channel
    own = {_ends(circuit, pair) for pair in own_pairs(channel)}
    left = tuple(pair for pair in channel.load.pairs if _ends(circuit, pair) not in own)
    return channel._replace(load=channel.load._replace(pairs=left))


def _ends(circuit: Circuit, pair: Pair) -> frozenset[int]:
    pins = circuit.pins(pair.element)
    return frozenset((pins[pair.first], pins[pair.last]))


def _entangled(drivers: Mapping[str, Sequence[str]]) -> frozenset[str]:
    """The channels that are left when those that nothing drives, and those that drive nothing, are taken out."""
    left = dict.fromkeys(drivers)
    followers: dict[str, list[str]] = {}
    for subject, before in drivers.items():
        for other in before:
            followers.setdefault(other, []).append(subject)
    ways: list[tuple[Mapping[str, Sequence[str]], Mapping[str, Sequence[str]]]]
    ways = [(drivers, followers), (followers, drivers)]
    for nearer, after in ways:
        waiting = {subject: sum(other in left for other in nearer.get(subject, ())) for subject in left}
        free = [subject for subject, count in waiting.items() if not count]
        while free:
            subject = free.pop()
            left.pop(subject, None)
            for other in after.get(subject, ()):
                if other in left:
                    waiting[other] -= 1
                    if not waiting[other]:
                        free.append(other)
    return frozenset(left)


def _round(drivers: Mapping[str, Sequence[str]], start: str, within: frozenset[str]) -> tuple[str, ...]:
    """The shortest way from a channel over those that drive it back to itself, in the order in which they drive."""
    came: dict[str, str] = {}
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        for other in drivers[here]:
            if other == start:
                way = [here]
                while way[-1] != start:
                    way.append(came[way[-1]])
                return (start, *(subject for subject in way if subject != start))
            if other in within and other not in came:
                came[other] = here
                waiting.append(other)
    return ()

"""What reads an output in which states of the outputs beside it.

In: the load analyser of a netlist, a channel. Out: each receiver with the channel as it stands while the output decides
over it: the outputs of others that conduct then are the pairs of its load network. In series with others it decides
where they conduct, beside others where they don't.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import TYPE_CHECKING

from isolint.interfaces.entities import Boundary, Channel
from isolint.worstcase import network as n
from isolint.worstcase.companions import DROP
from isolint.worstcase.network_build import led_in
from isolint.worstcase.receivers import Receiver, ReceiverFinder
from isolint.worstcase.uncertain import Lacking

if TYPE_CHECKING:
    from isolint.worstcase.load import LoadAnalyser

Reading = tuple[Channel, Receiver]

MOST_PAIRS = 6
CLOSED_OHMS = 1.0
LEAST_VOLTS = 0.1
"""What moves less where others conduct beside the output is not decided by it."""

SHARE = 0.1
"""What is moved by less than this part of what is moved most is not what the output is there for."""

PER_AMPERE = 1e3
"""Volts that stand for an ampere where movements of currents and voltages are compared."""


def readings(loads: LoadAnalyser, channel: Channel) -> Iterator[Reading]:
    """Every receiver in every state in which the output decides over it; `Lacking` when a part on it is not explained,
    nothing is known to read it, or it decides over nothing."""
    finder = ReceiverFinder(loads)
    if not channel.load.pairs:
        yield from ((channel, receiver) for receiver in finder.find(channel))
        return
    keys = finder.reading(channel)
    moved = [(standing, _moved(loads, standing, keys)) for standing in standings(loads, channel)]
    most = max((how for _, found in moved for _, how in found), default=0.0)
    if keys and most < LEAST_VOLTS:
        raise Lacking("its output decides nothing", blocked_by="load")
    done = False
    for standing, found in moved:
        chosen = {key for key, how in found if how >= max(LEAST_VOLTS, SHARE * most)}
        for receiver in finder.find(standing, chosen) if chosen else ():
            done = True
            yield standing, receiver
    if not done:
        yield from ((channel, receiver) for receiver in finder.find(channel))


def standings(loads: LoadAnalyser, channel: Channel) -> list[Channel]:
    """The channel with each choice of the outputs beside it that conduct."""
    pairs = channel.load.pairs
    if len(pairs) > MOST_PAIRS:
        raise Lacking(f"its load network holds {len(pairs)} other outputs, more than {MOST_PAIRS} are not judged")
    inner = set(channel.load.inner)
    pins = loads.circuit.pins
    # Between outputs that are off a net would float.
    between = {net for pair in pairs for net in (pins(pair.element)[pair.first], pins(pair.element)[pair.last])} & inner
    loose = tuple(Boundary(net, "loose") for net in sorted(between))
    network = channel.load._replace(boundary=(*channel.load.boundary, *loose))
    series = loads.beside.in_series(channel)
    choices = [(True,) if pair in series or loads.beside.always_on(channel, pair) else (False, True) for pair in pairs]
    return [
        channel._replace(load=network._replace(pairs=tuple(p for p, on in zip(pairs, levels, strict=True) if on)))
        for levels in product(*choices)
    ]


def decides(loads: LoadAnalyser, channel: Channel) -> bool:
    """Whether the output moves anything that reads it in any state; true where nothing is known to read it."""
    keys = ReceiverFinder(loads).reading(channel) if channel.load.pairs else ()
    if not keys:
        return True
    return any(how >= LEAST_VOLTS for standing in standings(loads, channel) for _, how in _moved(loads, standing, keys))


def _moved(loads: LoadAnalyser, channel: Channel, keys: tuple[int, ...]) -> list[tuple[int, float]]:
    """By how many volts the output moves each net that is read, nominally; currents of LEDs and coils scaled."""
    made = loads.assembled(channel)
    nominal = made.nominal(loads.setting)
    # What an output leaves at worst another one beside it may well take away, and decides nothing by that.
    vector = [0.0 if term.name.startswith(DROP) else x for term, x in zip(made.terms, nominal, strict=True)]
    first, last = loads.ends(channel)
    a, b = made.node(first, "output"), made.node(last, "return")
    try:
        open_, closed = (
            loads.solver.solve(made.network(vector, 25.0, [*extra, *loads.leaks(made, channel)]), 25.0)
            for extra in ((), (n.Resistor("coupler output", a, b, CLOSED_OHMS),))
        )
    except n.NotSolvable as error:
        raise Lacking(error.text) from None
    found = []
    for key in keys:
        if key >= 0:
            found.append((key, abs(closed.voltage(made.nets[key]) - open_.voltage(made.nets[key]))))
            continue
        part = loads.recognition.parts[-1 - key]
        name = led_in(loads.circuit, part, made)[0] if "coil" not in part.kind.inputs else part.path
        found.append((key, PER_AMPERE * abs(closed.current(name) - open_.current(name))))
    return found

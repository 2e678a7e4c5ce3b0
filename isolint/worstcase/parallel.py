"""LEDs that hang side by side on the same two nets.

In: a lookup, a channel's drive network. Out: elements of other parts, or the same part's other LED, in parallel with
its own.
"""

from __future__ import annotations

from collections.abc import Mapping

from isolint.interfaces.entities import Channel, Part
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import SMALLEST_OHMS


def parallel_leds(lookup: Lookup, parts: Mapping[int, Part], channel: Channel) -> tuple[tuple[int, int, int], ...]:
    """(element.

    Anode net, cathode net) of every other LED that stands the same way round between the same nets, wires counted as
    one net.
    """
    alias = _wired(lookup, channel)

    def one(net: int) -> int:
        while net in alias:
            net = alias[net]
        return net

    own = (one(channel.pins["anode"]), one(channel.pins["cathode"]))
    found = []
    for element, pins in channel.drive.branches:
        part = parts[element]
        roles = {part.roles[pin]: lookup.circuit.pins(element)[pin] for pin in pins}
        if "anode" not in roles or "cathode" not in roles:
            continue
        if (one(roles["anode"]), one(roles["cathode"])) == own:
            found.append((element, roles["anode"], roles["cathode"]))
    return tuple(found)


def _wired(lookup: Lookup, channel: Channel) -> Mapping[int, int]:
    """Nets joined by links, inductors and 0-V sources: each points towards one of them."""
    alias: dict[int, int] = {}

    def root(net: int) -> int:
        while net in alias:
            net = alias[net]
        return net

    circuit = lookup.circuit
    for element in channel.drive.elements:
        letter = circuit.letter(element)
        value = lookup.ohms(element) if letter == "R" else circuit.value(element)
        wire = letter == "L" or (
            letter in "RV" and value is not None and abs(value) < SMALLEST_OHMS and circuit.stimulus(element) is None
        )
        if wire:
            a, b = (root(net) for net in circuit.pins(element)[:2])
            if a != b:
                alias[max(a, b)] = min(a, b)
    return alias

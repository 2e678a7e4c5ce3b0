"""Which pins of a part make up each of its channels, by canonical role."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.interfaces.entities import Pair, Part
from isolint.types.form.pin_names import folded

_SHARED = ("supply", "ground", "emitter")
"""Roles that several channels may have in common."""

_AUXILIARY = frozenset(("g", "gate", "zc", "sub", "substrate"))
"""Pins beside the two ends of a switch."""

_CONDUCTING = (("collector", "emitter"), ("output", "ground"))


def pin_sets(part: Part) -> list[tuple[str, Mapping[str, int]]]:
    """(channel name, pin index by role) for each channel of a coupler; the name is empty where there is only one.

    Of an input for alternating current, whose two pins are both anodes, the first stands for the anode and the second
    for the cathode. A channel whose input has other pins is left out: nothing of it can be judged.
    """
    channels = _channels(part)
    found: list[tuple[str, Mapping[str, int]]] = []
    for name, inputs, outputs in channels:
        roles = [part.roles[pin] for pin in inputs]
        if sorted(roles) not in (["anode", "cathode"], ["anode", "anode"]) or not outputs:
            continue
        alternating = dict(zip(("anode", "cathode"), inputs, strict=True)) if "cathode" not in roles else {}
        pins = {part.roles[pin]: pin for pin in (*inputs, *outputs) if part.roles[pin] not in ("", "none")}
        pins.update(alternating)
        around = [pin for group in part.groups if set(group) & set(outputs) for pin in group]
        for role in _SHARED:
            shared = next((pin for pin in around if part.roles[pin] == role), None)
            if role not in pins and shared is not None:
                pins[role] = shared
        found.append((name if len(channels) > 1 else "", pins))
    return found


def output_pairs(part: Part) -> tuple[Pair, ...]:
    """The outputs of a coupler that conduct or not; none of a part whose outputs drive both levels or are not known."""
    record = part.record
    if not part.kind.output.conducts or (record is not None and record.output.kind == "push-pull"):
        return ()
    found = []
    for _, pins in pin_sets(part):
        ends = next((ends for ends in _CONDUCTING if all(role in pins for role in ends)), None)
        if ends is not None:
            found.append(Pair(part.element, pins[ends[0]], pins[ends[1]]))
    return tuple(found)


def switch_pins(part: Part, name: str) -> tuple[int, ...]:
    """The pins of a channel's output between which it opens and closes a way; more or fewer than two where names do
    not tell which of several they are."""
    channels = _channels(part)
    found = next((outputs for channel, _, outputs in channels if channel == name or len(channels) == 1), ())
    pins = tuple(pin for pin in found if part.roles[pin] == "output")
    names = () if part.record is None else part.record.pins
    if len(pins) > 2 and names:
        ends = [pin for pin in pins if folded(names[pin]).rstrip("12") not in _AUXILIARY]
        drains = [pin for pin in ends if folded(names[pin]).startswith("d")]
        return tuple(drains if len(drains) == 2 else ends)
    return pins


def unjudged_channels(part: Part) -> bool:
    """Whether the part has a channel that `pin_sets` leaves out, or none at all."""
    channels = _channels(part)
    return not channels or len(pin_sets(part)) < len(channels)


def _channels(part: Part) -> Sequence[tuple[str, tuple[int, ...], tuple[int, ...]]]:
    record = part.record
    if record is not None and record.channels:
        return [
            (
                channel.name or str(number),
                tuple(map(record.position, channel.input)),
                tuple(map(record.position, channel.output)),
            )
            for number, channel in enumerate(record.channels, start=1)
        ]
    if part.channels:
        return part.channels
    leds = tuple(pin for pin, role in enumerate(part.roles) if role in ("anode", "cathode"))
    rest = tuple(pin for pin, role in enumerate(part.roles) if role not in ("anode", "cathode", "", "none"))
    return [("", leds, rest)] if leds else []

"""What a pin is by its name, and which pins are joined inside a part.

In: pin names and a type. Out: canonical roles and port groups. Names are read by the type's tables; what no rule places
has role "" and no group, and the record has to say. Position on the card is never used to place a pin.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint import types

__all__ = ["derive_groups", "role_of"]


def role_of(pin: str, type_: str) -> str:
    """The canonical role of a pin by its name, "" when no rule knows it.

    One of anode, cathode, collector, emitter, base, supply, ground, output, input, enable, coil, contact, winding,
    photodiode; "none" for a pin that is not connected inside; "pin" for any pin of an ordinary part.
    """
    return types.of(type_).pin(pin).role


def derive_groups(pins: Sequence[str], type_: str) -> tuple[tuple[tuple[int, ...], ...], tuple[str, ...]]:
    """The port groups by names, as pin positions, and the pins that no rule places.

    Groups are sorted by their first pin. A pin that is not connected inside has a group of its own. Where names
    leave a choice, all pins in doubt are returned as not placed.
    """
    kind = types.of(type_)
    if not kind.isolates or kind.pins.groups is None:
        return (tuple(range(len(pins))),), ()
    parts = [kind.pin(pin) for pin in pins]
    unknown = tuple(pin for pin, part in zip(pins, parts, strict=True) if not part.role)
    if unknown:
        return (), unknown
    keys = kind.pins.groups(parts)
    doubtful = tuple(pin for pin, key in zip(pins, keys, strict=True) if key is None)
    if doubtful:
        return (), doubtful
    groups: dict[str, list[int]] = {}
    for index, key in enumerate(keys):
        groups.setdefault(key or "", []).append(index)
    return tuple(sorted(tuple(group) for group in groups.values())), ()

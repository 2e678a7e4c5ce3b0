"""Which input of a part drives which output, told from the names of its pins."""

from __future__ import annotations

import re
from collections.abc import Sequence

from isolint import types
from isolint.types.form.pin_names import Pin


def derive_channels(
    pins: Sequence[str], type_: str, groups: Sequence[Sequence[int]]
) -> tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] | None:
    """The channels by names as (name, input pins, output pins); None where there may be several and names don't tell.

    Parts that pass no signal (transformer, isolated supply, ordinary part) have none.
    """
    kind = types.of(type_)
    if not kind.inputs:
        return ()
    parts = [kind.pin(pin) for pin in pins]
    roles = [part.role for part in parts]
    if "coil" in kind.inputs:
        inputs = [index for index, role in enumerate(roles) if role == "coil"]
        outputs = [index for index, role in enumerate(roles) if role == "contact"]
        return (_channel("1", pins, inputs, outputs),) if inputs and outputs else None
    lit = [group for group in groups if any(roles[index] in ("anode", "cathode") for index in group)]
    if lit:
        outputs = [
            index
            for index, role in enumerate(roles)
            if role in ("collector", "emitter", "base", "output", "photodiode")
        ]
        if len(lit) == 1:
            return (_channel("1", pins, list(lit[0]), outputs),) if outputs else None
        made: list[tuple[str, tuple[str, ...], tuple[str, ...]]] = []
        for group in lit:
            number = parts[group[0]].number
            own = [index for index in outputs if parts[index].number == number]
            if not own:
                return None
            made.append(_channel(str(len(made) + 1), pins, list(group), own))
        used = [pin for _, _, output in made for pin in output]
        return tuple(made) if len(used) == len(outputs) else None
    return _logic_channels(pins, parts)


def _logic_channels(
    pins: Sequence[str], parts: Sequence[Pin]
) -> tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] | None:
    """Channels of a part with logic or voltage inputs: one input and output, or pairs with the same ending."""
    endings: dict[str, dict[str, list[int]]] = {}
    for index, part in enumerate(parts):
        if part.role in ("input", "output"):
            ending = re.sub(r"^(v?in(?:put)?|vi|v?out(?:put)?|vo|[oqy])", "", part.stem).strip("+-")
            ending = "" if ending in ("p", "n") else ending
            endings.setdefault(ending + part.number, {}).setdefault(part.role, []).append(index)
    whole = [(name, ends) for name, ends in endings.items() if set(ends) == {"input", "output"}]
    if not whole or len(whole) < len(endings):
        return None
    return tuple(
        _channel(name or str(number), pins, ends["input"], ends["output"])
        for number, (name, ends) in enumerate(whole, start=1)
    )


def _channel(
    name: str, pins: Sequence[str], inputs: Sequence[int], outputs: Sequence[int]
) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    return name, tuple(pins[index] for index in inputs), tuple(pins[index] for index in outputs)

"""24 V DC digital inputs by IEC 61131-2 (key `iec-61131-2`): what a field input must take for on and for off.

The figures are from memory, some of them confirmed by module data; the standard's current text decides.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_NAME = re.compile(r"\s*(?:iec\s*)?61131-2\s*,?\s*(?:type\s*)?([123])\s*\Z", re.IGNORECASE)


class InputType(NamedTuple):
    """One type of 24 V input: volts and amperes.

    From on_volts to most_volts it must be on, drawing on_amps to most_amps. At off_volts and below it must be off at
    any current, and below the transition current off_amps at any voltage.
    """

    number: int
    on_volts: float
    on_amps: float
    off_volts: float
    off_amps: float
    most_volts: float
    most_amps: float


TYPES = {
    1: InputType(1, 15.0, 2e-3, 5.0, 0.5e-3, 30.0, 15e-3),
    2: InputType(2, 11.0, 6e-3, 5.0, 2e-3, 30.0, 30e-3),
    3: InputType(3, 11.0, 2e-3, 5.0, 1.5e-3, 30.0, 15e-3),
}


def input_type(text: str) -> InputType | None:
    """The type that a text such as `IEC 61131-2 type 1` names, None for another one."""
    found = _NAME.match(text)
    return None if found is None else TYPES[int(found[1])]

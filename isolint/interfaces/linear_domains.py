"""The two domains of a linear coupler: its LED with the servo photodiode, and the output photodiode.

In: a part and the names of its pins; which diode is the servo's a record states, or those names tell. Out: its port
groups. The servo diode lies on the LED's own side by design, so that a joint between the two is no joint across
anything; the package insulates the output diode only.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from isolint.interfaces.entities import Part

_SERVO = re.compile(r"servo|(?:pd|pda|pdk|pdc|[akc]|an|anode|cat|cathode)[-+]?1[-+akc]?|pd1\w*")
_OUTPUT = re.compile(r"(?:pd|pda|pdk|pdc|[akc]|an|anode|cat|cathode)[-+]?2[-+akc]?|pd2\w*")


def with_domains(part: Part, names: Sequence[str]) -> Part:
    """A linear coupler with LED and servo diode as one group, as it was where names do not tell the diodes apart."""
    if "photodiode" not in part.roles or len(names) != len(part.roles):
        return part
    diodes = [group for group in part.groups if {part.roles[pin] for pin in group} == {"photodiode"}]
    leds = [group for group in part.groups if "anode" in {part.roles[pin] for pin in group}]
    stated = None if part.record is None else part.record.photodiodes.servo
    if stated is not None:
        wanted = {pin.casefold() for pin in stated}
        servos = [group for group in diodes if {names[pin].casefold() for pin in group} == wanted]
        outputs = [group for group in diodes if group not in servos]
    else:
        servos = [group for group in diodes if _all(_SERVO, group, names)]
        outputs = [group for group in diodes if _all(_OUTPUT, group, names)]
    if len(diodes) != 2 or len(leds) != 1 or len(servos) != 1 or len(outputs) != 1:
        return part
    merged = tuple(sorted((*leds[0], *servos[0])))
    others = [group for group in part.groups if group not in (leds[0], servos[0])]
    return part._replace(groups=tuple(sorted((merged, *others))))


def _all(pattern: re.Pattern[str], group: Sequence[int], names: Sequence[str]) -> bool:
    return all(pattern.fullmatch(names[pin].casefold()) for pin in group)

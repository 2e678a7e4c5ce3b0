"""How the servo photodiode of a linear coupler and the amplifier that drives its LED are connected.

In: a context, a part. Out: its `Servo`, the nets within reach of a pin, and the `Amplifier` between the two, by the
names of its pins. Direct current only: reach goes through resistors and inductors and ends at nets that are held.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.entities import Part
from isolint.types.form.pin_names import folded
from isolint.worstcase.uncertain import Lacking

_ANODE = re.compile(r"(?:pd|servo)?(?:a|an|anode)\d?|pd\d?\+|pda\d|servo\+|pd\d(?:a|anode)")
_CATHODE = re.compile(r"(?:pd|servo)?(?:k|c|cath|cathode)\d?|pd\d?-|pd[kc]\d|servo-|pd\d(?:k|c|cathode)")
_PINS = {
    "plus": re.compile(r"in\+|\+in|inp|vin\+|vinp|in_?p|plus|noninv\w*"),
    "minus": re.compile(r"in-|-in|inn|inm|vin-|vinn|minus|inv\w*"),
    "out": re.compile(r"out|vout|output|vo"),
    "top": re.compile(r"v\+|vcc|vdd|vs\+|vp|supply"),
    "bottom": re.compile(r"v-|vee|vss|vs-|vn|gnd|ground"),
}


class Servo(NamedTuple):
    """The nets of the LED and of the servo diode."""

    led_anode: int
    led_cathode: int
    anode: int
    cathode: int


class Amplifier(NamedTuple):
    """An ordinary part with the pins of an amplifier, by its nets."""

    element: int
    plus: int
    minus: int
    out: int
    top: int
    bottom: int


def servo_of(context: Context, part: Part) -> Servo:
    """The servo diode, which lies in the group of the LED; raises `Lacking` where names do not tell it."""
    names = _names(context, part.element, part)
    group = next((group for group in part.groups if "anode" in {part.roles[pin] for pin in group}), ())
    diode = [pin for pin in group if part.roles[pin] == "photodiode"]
    nets = context.circuit.pins(part.element)
    by_role = {part.roles[pin]: nets[pin] for pin in group}
    anodes = [pin for pin in diode if names and _ANODE.fullmatch(folded(names[pin]))]
    cathodes = [pin for pin in diode if names and _CATHODE.fullmatch(folded(names[pin]))]
    if len(diode) != 2 or len(anodes) != 1 or len(cathodes) != 1 or "cathode" not in by_role:
        raise Lacking("the names of its pins do not tell anode and cathode of the servo photodiode (pd1+, pd1-)")
    return Servo(by_role["anode"], by_role["cathode"], nets[anodes[0]], nets[cathodes[0]])


def reach(context: Context, start: int) -> frozenset[int]:
    """The nets that direct current reaches from a net through resistors and inductors; it ends at held nets."""
    circuit, held = context.circuit, context.lookup.walker.held
    seen, left = {start}, [start]
    while left:
        net = left.pop()
        if held(net) is not None:
            continue
        for element, _ in circuit.elements_at(net):
            if circuit.letter(element) in "RL":
                new = set(circuit.pins(element)) - seen
                seen |= new
                left += new
    return frozenset(seen)


def others(context: Context, nets: Iterable[int], part: Part) -> frozenset[int]:
    """What lies at some nets beside a part, resistors, inductors and capacitors: what could amplify."""
    circuit, held = context.circuit, context.lookup.walker.held
    return frozenset(
        element
        for net in nets
        if held(net) is None
        for element, _ in circuit.elements_at(net)
        if element != part.element and circuit.letter(element) not in "RLCK"
    )


def amplifier(context: Context, element: int) -> Amplifier | None:
    """A part as an amplifier, None where its pins are not exactly those of one."""
    if element in context.interfaces.recognition.parts:
        return None
    names = [folded(name) for name in _names(context, element, None)]
    nets = context.circuit.pins(element)
    found = {
        key: [net for name, net in zip(names, nets, strict=False) if pattern.fullmatch(name)]
        for key, pattern in _PINS.items()
    }
    if len(names) != len(nets) or any(len(each) != 1 for each in found.values()):
        return None
    return Amplifier(element, *(found[key][0] for key in ("plus", "minus", "out", "top", "bottom")))


def _names(context: Context, element: int, part: Part | None) -> Sequence[str]:
    record = context.record_of(element) if part is None else part.record
    if record is not None:
        return record.pins
    scope = context.circuit.subcircuit(element)
    return () if scope is None else context.circuit.cards.scopes[scope].ports

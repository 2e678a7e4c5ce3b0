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


def is_anode(context: Context, part: Part, pin: int) -> bool | None:
    """Whether a pin of a photodiode is its anode by its name, None where that does not tell."""
    names = _names(context, part.element, part)
    if len(names) <= pin:
        return None
    anode, cathode = (pattern.fullmatch(folded(names[pin])) is not None for pattern in (_ANODE, _CATHODE))
    return None if anode == cathode else anode


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


def signs_of(context: Context, servo: Servo, loop: Amplifier, at_anode: bool) -> tuple[int, int, int]:
    """Of the diode, of the input and of the LED: +1 where more light drives it higher, so that all three at +1, or two
    at -1, are positive feedback."""
    here = servo.anode if at_anode else servo.cathode
    lit = loop.out in reach(context, servo.led_anode)
    return 1 if at_anode else -1, 1 if here == loop.plus else -1, 1 if lit else -1


class Closed(NamedTuple):
    """A servo loop that regulates: its diode, its amplifier, the input at which the diode lies and the other input.

    at_anode: the diode's anode lies there. sources: the amplifier's output lies on the anode side of the LED.
    """

    servo: Servo
    loop: Amplifier
    here: int
    other: int
    at_anode: bool
    sources: bool


def closed(context: Context, part: Part) -> Closed:
    """The servo loop of a linear coupler; `Lacking` that names what judges it where it is not seen to regulate."""
    try:
        servo = servo_of(context, part)
        why = cut(context, part, servo)
        loop, at_anode = loop_of(context, part, servo) if not why else (None, False)
    except Lacking as reason:
        raise Lacking(reason.reason, blocked_by="servo") from None
    if loop is None:
        raise Lacking(why, blocked_by="servo")
    signs = signs_of(context, servo, loop, at_anode)
    if signs[0] * signs[1] * signs[2] > 0:
        raise Lacking("its feedback is positive", blocked_by="servo")
    here = servo.anode if at_anode else servo.cathode
    other = loop.minus if here == loop.plus else loop.plus
    return Closed(servo, loop, here, other, at_anode, signs[2] > 0)


def cut(context: Context, part: Part, servo: Servo) -> str:
    """Why nothing of the servo diode's current can reach what drives the LED, "" where it may."""
    ends = (servo.anode, servo.cathode)
    if servo.anode == servo.cathode:
        return f"both its ends lie on net {context.net(servo.anode)}"
    for net in ends:
        if is_loose(context, net):
            return f"net {context.net(net)} leads nowhere"
    if all(is_steady(context, net) for net in ends):
        return f"both its ends lie on held nets, {context.net(servo.anode)} and {context.net(servo.cathode)}"
    for what, near in (("the servo photodiode", ends), ("the LED", (servo.led_anode, servo.led_cathode))):
        nets = frozenset[int]().union(*(reach(context, net) for net in near))
        closed = all(is_steady(context, net) or _is_inner(context, net) for net in nets)
        if closed and not others(context, nets, part):
            return f"nothing that could amplify is connected to {what}"
    return ""


def loop_of(context: Context, part: Part, servo: Servo) -> tuple[Amplifier, bool]:
    """The one amplifier at whose input the servo diode lies, and whether with its anode."""
    drives = [reach(context, net) for net in (servo.led_anode, servo.led_cathode)]
    ends = [
        (net, at_anode)
        for net, at_anode in ((servo.anode, True), (servo.cathode, False))
        if context.lookup.walker.held(net) is None
    ]
    if len(ends) != 1:
        raise Lacking("both ends of the servo photodiode lie on nets that nothing holds")
    here, at_anode = ends[0]
    nets = reach(context, here)
    near = others(context, [here], part)
    at_led = others(context, drives[0] | drives[1], part)
    found = [loop for element in near if (loop := amplifier(context, element)) is not None]
    if len(near) != 1 or len(found) != 1 or at_led != near:
        raise Lacking(
            "its servo photodiode is not seen to lie at an input of the one amplifier that drives the LED, as a part "
            "with the pins in+, in-, out, v+, v-"
        )
    (loop,) = found
    if (here == loop.plus) == (here == loop.minus) or (loop.out in drives[0]) == (loop.out in drives[1]):
        raise Lacking("the amplifier has the servo photodiode at no one input or the LED not on one side of its output")
    if loop.out in nets or not nets.isdisjoint(_led_nets(servo)):
        raise Lacking("a resistor leads round the amplifier, and how much it leaves of the loop is not computed")
    return loop, at_anode


def _led_nets(servo: Servo) -> frozenset[int]:
    """The nets of the LED, at which a resistor from the servo's input closes another loop."""
    return frozenset((servo.led_anode, servo.led_cathode))


def is_steady(context: Context, net: int) -> bool:
    """Whether a net is a ground, or held at a voltage by a source or a stated supply; a name alone does not tell."""
    held = context.lookup.walker.held(net)
    if held is None or held.kind not in ("ground", "supply"):
        return False
    stated = context.facts.supply(context.circuit.net_name(net)) is not None
    return held.kind == "ground" or held.element >= 0 or stated


def is_loose(context: Context, net: int) -> bool:
    """Whether a net is at the end of a single element, and nobody states anything of it."""
    alone = len(context.circuit.elements_at(net)) == 1
    return alone and context.lookup.walker.held(net) is None and context.lookup.input(net) is None


def _is_inner(context: Context, net: int) -> bool:
    """Whether a net is one that nothing beyond the netlist can reach: nobody holds it or reads it, and it goes on."""
    known = context.lookup.walker.held(net) is not None or context.lookup.input(net) is not None
    return not known and len(context.circuit.elements_at(net)) > 1

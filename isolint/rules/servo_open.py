"""A linear coupler whose servo photodiode does not close the loop that drives its LED.

## What it looks at

The servo photodiode of each linear coupler, the amplifier that it feeds, and the LED that this amplifier drives.

## Why it matters

The LED's light follows the signal only because the servo photodiode compares it. Without it, or with it turned round,
the amplifier stands at a rail, the LED is dark or fully lit, and the output reads a constant that looks like a signal.

## How it is computed

By what is connected. Reach goes through resistors and inductors and ends at nets that are held. It fails where both
ends of the servo diode lie on held nets or on one net, where nothing that could amplify is within its reach, or where
the LED's current comes from held nets alone. Where the servo diode lies at an input of an amplifier whose pins have the
usual names, and its output drives the LED, the signs are multiplied:

    s = (anode at the input: +1, cathode: -1) (in+: +1, in-: -1) (output on the anode side of the LED: +1, else -1)

The diode's current flows out of its anode. s = +1 fails: positive feedback. s = -1 passes where the other input lies on
a rail or reference at which the diode is not forward biased, the LED's other end on the rail that makes it light at one
end of the output only, and no resistor leads round the amplifier. All else (transistors between, other inputs,
amplifiers whose pins have no such names) is open.

Settings: conditions, servo.

## Fails

```netlist
* The servo diode returned to ground, not to the input (demonstration)
R1 SIGNAL SUM 120k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
R2 V5 A 180
* expect: servo-open
XU1 LEDK A GND GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 62k
```

## Passes

```netlist
* The amplifier sinks the LED's current until the servo diode takes what the signal brings (demonstration)
R1 SIGNAL SUM 120k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
R2 V5 A 180
* expect: none
XU1 LEDK A SUM GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 62k
```

## Remedy

Connect the servo diode to the input of the amplifier that drives the LED, turned so that more light makes less drive.

## What it cannot see

Stability, offset, whether the signal has the sign that the diode's current can balance, an output that does not come
near enough to its rail to darken the LED, whether the amplifier has the current and swing that the signal's range asks
for, and whether a part with the pins of an amplifier is one.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import part_results
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.servo_loop import Amplifier, cut, is_loose, is_steady, loop_of, reach, servo_of, signs_of
from isolint.interfaces.entities import Part
from isolint.results import Kind, Measure, Result
from isolint.worstcase.uncertain import Lacking


def survey(context: Context) -> Iterable[Result]:
    """One result a linear coupler."""
    for part in context.interfaces.recognition.parts.values():
        if RULE.asks(part.kind):
            try:
                yield _judge(context, part)
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)


def _judge(context: Context, part: Part) -> Result:
    servo = servo_of(context, part)
    dark = servo.led_anode == servo.led_cathode or any(is_loose(context, net) for net in servo[:2])
    if dark and all(is_loose(context, net) or is_steady(context, net) for net in servo):
        return _told(context, part, "notApplicable", "neither its LED nor its servo photodiode is used")
    fault = cut(context, part, servo)
    if fault:
        return _told(context, part, "fail", f"the servo photodiode does not reach the amplifier of the LED: {fault}")
    loop, at_anode = loop_of(context, part, servo)
    name = context.circuit.path(loop.element)
    here = servo.anode if at_anode else servo.cathode
    sides = (reach(context, servo.led_anode), reach(context, servo.led_cathode))
    signs = signs_of(context, servo, loop, at_anode)
    sum_ = " x ".join(f"{sign:+d}" for sign in signs)
    sign = signs[0] * signs[1] * signs[2]
    if sign > 0:
        text = f"positive feedback through {name} ({sum_} = +1): turn the servo photodiode or swap the inputs"
        return _told(context, part, "fail", text, loop)
    back = servo.cathode if at_anode else servo.anode
    other = loop.minus if here == loop.plus else loop.plus
    _biased(context, loop, back, other, at_anode)
    far, rail = (sides[1], loop.bottom) if signs[2] > 0 else (sides[0], loop.top)
    if rail not in far and not (signs[2] > 0 and any(_is_ground(context, net) for net in far)):
        raise Lacking(f"the LED's other end is not seen to lie on net {context.net(rail)}, a rail of {name}")
    text = f"more light of the LED makes {name} drive it less ({sum_} = -1): the loop is closed"
    return _told(context, part, "pass", text, loop)


def _biased(context: Context, loop: Amplifier, back: int, other: int, at_anode: bool) -> None:
    """Raise `Lacking` unless the regulated diode is seen to have no forward voltage."""
    rail = loop.top if at_anode else loop.bottom
    if not is_steady(context, other):
        raise Lacking(f"net {context.net(other)}, at the other input, is not held at a stated voltage")
    if back not in (other, rail):
        raise Lacking(
            f"whether the servo photodiode is forward biased between nets {context.net(other)} and {context.net(back)} "
            "is not computed"
        )


def _is_ground(context: Context, net: int) -> bool:
    held = context.lookup.walker.held(net)
    return held is not None and held.kind == "ground"


def _told(context: Context, part: Part, kind: Kind, text: str, loop: Amplifier | None = None) -> Result:
    chain = [part.element] if loop is None else [part.element, loop.element]
    made = context.result(
        RULE,
        kind,
        f"{part.path}: {text}",
        context.place(part.element),
        part.path,
        measure=Measure.number_of(1),
        remedy="lead the servo photodiode to the input of the amplifier that drives the LED, turned so that more light "
        "makes less drive"
        if kind == "fail"
        else "",
        related=context.related(chain),
        element=part.element,
    )
    return made._replace(part=part.path)


RULE = Rule(
    slug="servo-open",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("photodiodes",),
    survey=survey,
    judges=("servo",),
    structural=True,
)

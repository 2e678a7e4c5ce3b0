"""A servo loop of a linear coupler that can't follow its signal over the whole range.

## What it looks at

The amplifier that drives the LED of each linear coupler, the LED, and the current that the loop asks for over the range
of the signal; at the output the amplifier that makes a voltage of the second diode's current.

## Why it matters

Where the amplifier comes to its rail, or the LED to its limit, the loop is open: the output stands still while the
signal goes on, and it does so first on the part with the smallest gain, hot, after years.

## How it is computed

With I_P1 at both ends of the signal's range as for `photodiode-overdriven`:

    IF_max = I_P1_max F_t / K1_min        F_t = 1 / `parts.X.trigger.remaining` (not stated: 1 to 1.3, from memory)

- IF_max <= `led.forward_current_max`, derated at the hottest.
- The amplifier at the end of its swing (`amplifier.swing_high` or `swing_low` from its rail; 0 to 1.5 V where not
  stated, from memory) drives IF_max through the LED at its highest forward voltage and its resistors: solved.
- IF_max <= `amplifier.output_current_max` (not stated: 5 to 25 mA, from memory).
- I_P1 >= 0 at the other end of the range: a diode passes one way only, and a signal of both signs needs an offset.
- K3_max I_P1_max over the resistor of the output's amplifier stays within its swing.

The smallest margin is told. K1 not stated: 0.0036 to 0.017, as two usual families have it (from memory).

Settings: conditions, servo.

## Fails

```netlist
* 680 ohm before the LED: the amplifier comes to its rail at half the range (demonstration)
R1 SIGNAL SUM 120k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
* expect: servo-range-short
R2 V5 A 680
XU1 LEDK A SUM GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 62k
```

## Passes

```netlist
* 180 ohm before the LED (demonstration)
R1 SIGNAL SUM 120k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
R2 V5 A 180
* expect: none
XU1 LEDK A SUM GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 62k
```

## Remedy

A smaller resistor before the LED, a higher supply of the amplifier, less current in the photodiodes, or an offset for a
signal of both signs.

## What it cannot see

Gain and linearity near the ends, the stability of the loop, and output diodes that are read by more than one resistor.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, bare, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.servo_currents import asked, in_reach, of_amplifier, of_diodes, output_swing
from isolint.checking.servo_loop import Closed, closed
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Part
from isolint.parts.records import AmplifierValues, Photodiodes, Trigger
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting

_NOTHING = 1e-9
"""Amperes of the servo diode below which the signal does not reverse it."""


def survey(context: Context) -> Iterable[Result]:
    """One result a linear coupler."""
    for part in context.interfaces.recognition.parts.values():
        if RULE.asks(part.kind) and part.path not in context.interfaces.unused:
            try:
                yield _judge(context, part, closed(context, part))
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)


def _judge(context: Context, part: Part, found: Closed) -> Result:
    verdict = decide(lambda setting: _claim(context, part, found, setting))
    told, amplifier = verdict.worst, context.circuit.path(found.loop.element)
    (got, limit), at = told.beside, f" ({told.found.corner})" if told.found.corner else ""
    symbol, place = told.found.symbol, None
    if symbol == "I_P1_min":
        text = f"at one end of the signal's range the servo photodiode would have to carry {got}{at}: it passes one way"
        cure = "an offset that keeps the photodiode's current above 0 over the whole range"
    elif symbol == "IF_avail":
        text = f"{amplifier} drives {got} through the LED at the end of its swing{at}, and the range asks for {limit}"
        near = [e for e in _led_resistors(context, found) if context.circuit.letter(e) == "R"]
        place = near[0] if near else None
        cure = "a smaller resistor before the LED, a higher supply of the amplifier, or less current in the photodiodes"
    elif symbol == "V_out":
        text = f"the output's amplifier would have to go {got} from its other input{at}, and its swing ends at {limit}"
        cure = "a smaller resistor round the output's amplifier"
    else:
        what = "its LED stands" if told.limit.symbol == "IF_limit" else f"{amplifier} gives"
        text = f"the range asks for {got} in the LED{at}, {what} {limit}"
        cure = "less current in the photodiodes, or a part with a higher servo gain"
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"{text}: {told.words}",
        place if verdict.kind == "fail" else None,
        evidence=told.evidence(),
        remedy=cure,
        chain=(found.loop.element, *_led_resistors(context, found)),
    )


def _led_resistors(context: Context, found: Closed) -> list[int]:
    """The resistors at the LED."""
    nets = (found.servo.led_anode, found.servo.led_cathode)
    near = (element for net in nets for element, _ in context.circuit.elements_at(net))
    return [element for element in dict.fromkeys(near) if context.circuit.letter(element) in "RL"]


def _claim(context: Context, part: Part, found: Closed, setting: Setting) -> Claim:
    flows = asked(context, found, setting)
    if flows.least.value < -_NOTHING:
        reverse = Figure("I_P1_min", flows.least, "A", "least current of the servo photodiode", end="min")
        zero = Figure("I_P1_limit", 0.0, "A", "least current that a photodiode passes")
        return bare(Figure("margin", 0.0, "1", "margin", end="min"), flows.terms)._replace(
            found=reverse, limit=zero, decided=False
        )
    gain, left = of_diodes(part, Photodiodes.servo_gain, "min"), fact_terms.of_record(part, Trigger.remaining)
    terms = (*flows.terms, gain, left)
    share = Figure("K1_min", setting.low(gain), "1", gain.name, end="min", source=gain.origin)
    remains = Figure("remaining", setting.low(left), "1", left.name, end="min", source=left.origin)
    most = Figure("I_P1_max", flows.most, "A", "largest current of the servo photodiode")
    need = (most / (share * remains)).called("IF_max", "A", "LED current that the range asks for", at=flows.most)
    led, hot = context.analysis.led(part), setting.high(context.lookup.ambient())
    stands = led.forward_current_max
    derated = Figure("IF_limit", led.limit(hot, setting.low(stands)), "A", stands.name, end="min", source=stands.origin)
    claims = [at_most(need, derated, (*terms, stands, context.lookup.ambient()))]
    gives = of_amplifier(context, found.loop, AmplifierValues.output_current_max)
    strong = Figure("I_amplifier", setting.low(gives), "A", gives.name, end="min", source=gives.origin)
    claims.append(at_most(need, strong, (*terms, gives)))
    bound, more = in_reach(context, part, found, setting)
    reached = Figure("IF_avail", bound, "A", "LED current at the end of the amplifier's swing", end="min")
    claims.append(at_least(reached, need, (*terms, *more)))
    output = output_swing(context, part, setting)
    if output is not None:
        third = of_diodes(part, Photodiodes.transfer_gain, "max")
        ratio = Figure("K3_max", setting.high(third), "1", third.name, source=third.origin)
        ohms = Figure("R2", output.ohms, "ohm", "resistor round the output's amplifier")
        volts = (most * ratio * ohms).called("V_out", "V", "voltage that the output is asked for", at=flows.most)
        room = Figure("V_swing", output.room, "V", "swing of the output's amplifier", end="min")
        claims.append(at_most(volts, room, (*flows.terms, third, *output.terms), least=1e-3))
    return tightest(claims)


RULE = Rule(
    slug="servo-range-short",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("photodiodes",),
    facts=(
        "environment.ambient",
        "elements.*.tolerance",
        "signals.*.range",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "parts.*.amplifier.output_current_max",
        "parts.*.amplifier.swing_high",
        "parts.*.amplifier.swing_low",
        "parts.*.led.forward_current_max",
        "parts.*.led.forward_voltage",
        "parts.*.photodiodes.servo_gain",
        "parts.*.photodiodes.transfer_gain",
        "parts.*.trigger.remaining",
    ),
    survey=survey,
)

"""Capacitors across a resistor of an LED: each edge of the source charges them through the LED.

In: a rule, a context, a channel. Out: one result a capacitor. A small one only makes the LED light sooner; a large one
lets all pass for a while that the source gives.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.parts import Led
from isolint.results import Measure, Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.alternating import alternates
from isolint.worstcase.figures import Figure
from isolint.worstcase.network import Unlimited
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import WORST

HARMLESS = 1e-6
"""Coulombs that an LED of which nobody states a pulse limit takes in one pulse: 1 A for 1 us (from memory)."""

_LINK = 1e-3


class _Bypassed(NamedTuple):
    capacitor: int
    resistor: int
    farads: float


def charged_through(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """Each capacitor across a resistor in the drive of an LED that a source switches on and off."""
    bypassed = list(_bypassed(context, channel))
    if not bypassed or any(alternates(context.lookup, held) for held in channel.drive.boundary):
        # One that drops an alternating voltage is judged by its charge a period.
        return
    drives = context.analysis.drives()
    if all(drives.led_current(channel, state) > NO_CURRENT for state in drives.states(channel)):
        return
    stresses = context.analysis.resistors(channel)
    for found in bypassed:
        stress = stresses.get(found.resistor)
        if stress is None:
            continue
        volts = Figure("V_R", stress.volts, "V", f"voltage across {context.circuit.path(found.resistor)}")
        charge = (Figure("C", found.farads, "F") * volts).called("Q", "C", "charge that passes the LED at an edge")
        yield _judge(rule, context, channel, found, charge)


def _bypassed(context: Context, channel: Channel) -> Iterator[_Bypassed]:
    circuit = context.circuit
    resistors = {
        frozenset(circuit.pins(element)[:2]): element
        for element in channel.drive.elements
        if circuit.letter(element) == "R" and (context.lookup.ohms(element) or 0.0) > 1.0
    }
    led = frozenset((channel.pins["anode"], channel.pins["cathode"]))
    for element in channel.drive.elements:
        nets = frozenset(circuit.pins(element)[:2])
        if circuit.letter(element) == "C" and nets in resistors and nets != led and not _to_reference(context, nets):
            spread = WORST.high(context.lookup.tolerance(element))
            yield _Bypassed(element, resistors[nets], (circuit.value(element) or 0.0) * (1.0 + spread))


def _to_reference(context: Context, nets: frozenset[int]) -> bool:
    held = [context.lookup.walker.held(net) for net in nets]
    return any(each is not None and each.kind == "ground" for each in held)


def _judge(rule: Rule, context: Context, channel: Channel, found: _Bypassed, charge: Figure) -> Result:
    capacitor, resistor = context.named(found.capacitor), context.circuit.path(found.resistor)
    role = f"{context.circuit.path(found.capacitor)} across {resistor}"
    limit = fact_terms.recorded(channel.part, Led.pulse_current_max)
    place, related = context.place(found.capacitor), context.related([found.capacitor, found.resistor])
    passes = f"at each edge {capacitor} lets {show(charge.si, 'C')} pass the LED beside {resistor}"
    if charge.si <= HARMLESS:
        text = f"{channel.subject}: {passes}, {show(HARMLESS, 'C')} are harmless"
        return context.channel_result(rule, channel, "pass", text, place, role=role, evidence=[charge.evidence()])
    try:
        peak = context.resized(found.resistor, _LINK).analysis.drive(channel).current.high.value
    except Unlimited:
        peak = float("inf")
    peaks = "as much as its source gives" if peak > 100.0 else f"up to {show(peak, 'A')}"
    if limit is None:
        name = fact_terms.named(channel.part)
        file = context.settings_file if channel.part.record is None else channel.part.record.file
        missing = [fact_terms.missing(file, Led.pulse_current_max, name)]
        text = f"{channel.subject}: {passes}, {peaks}; what it takes in a pulse is not known"
        return context.channel_result(
            rule,
            channel,
            "open",
            text,
            place,
            role=role,
            evidence=[charge.evidence()],
            missing=missing,
            related=related,
        )
    kind = "fail" if peak > float(limit) else "pass"
    text = f"{channel.subject}: {passes}, {peaks}, {show(float(limit), 'A')} are allowed in a pulse"
    smaller = HARMLESS / charge.si * found.farads
    remedy = f"{capacitor}: {show(smaller, 'F')} or less, or a resistor in series with it"
    return context.channel_result(
        rule,
        channel,
        "fail" if kind == "fail" else "pass",
        text,
        place,
        role=role,
        evidence=[charge.evidence()],
        measure=Measure(min(peak, 1e3), larger_is_worse=True),
        remedy=remedy if kind == "fail" else "",
        related=related,
    )

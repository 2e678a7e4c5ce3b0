"""What the resistors between a driven field-effect transistor and its supply stand while it conducts.

In: a channel, a setting. Out: a `Stress` a resistor. The transistor, and a coil beside the resistor, count as a short,
and the state lasts. A resistor whose power nobody states is left out: it may stand for a lamp or a heater.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.context import Context
from isolint.checking.driven_stage import Stage, stages
from isolint.checking.switched import VoltageBetween, across, load_ohms, load_path
from isolint.interfaces.entities import Channel
from isolint.worstcase.quantities import Bound
from isolint.worstcase.resistors import Stress
from isolint.worstcase.uncertain import Lacking, Setting

_ROOT = 2.0**0.5


def stresses(context: Context, channel: Channel, setting: Setting) -> dict[int, Stress]:
    """Every resistor around a channel, and behind the transistors that it drives; raises `Lacking`."""
    found: dict[int, Stress] = {}
    for stage in stages(context, channel):
        if context.circuit.letter(stage.element) == "M":
            found.update((stress.element, stress) for stress in _conducting(context, stage, setting))
    return {**found, **context.analysis.resistors(channel, setting)}


def _conducting(context: Context, stage: Stage, setting: Setting) -> Iterator[Stress]:
    path = load_path(context, stage.found)
    try:
        volts = across(context, stage.found, setting)
    except Lacking:
        # What feeds the load is asked where the transistor is.
        return
    if volts is None or any(context.circuit.letter(element) not in "RLM" for element in path):
        return
    least, spreads = load_ohms(context, stage.found, setting, False)
    for element in path:
        stated = context.facts.element(context.circuit.path(element)).power
        if context.circuit.letter(element) == "R" and stated is not None and _alone(context, element):
            yield _stress(context, stage, element, volts, least, setting)._replace(terms=(*volts.terms, *spreads))


def _stress(
    context: Context, stage: Stage, element: int, volts: VoltageBetween, least: float, setting: Setting
) -> Stress:
    """least: ohms of all that is in series, each at its lowest. Most is taken by a resistor as large as the rest."""
    tolerance, nominal = context.lookup.tolerance(element), context.lookup.ohms(element) or 0.0
    low, high = (nominal * (1.0 + spread) for spread in setting.range(tolerance))
    rest = least - low
    ohms = low if low >= rest else min(high, rest)
    amps = volts.high / (_ROOT if volts.alternating else 1.0) / (rest + ohms)
    at = [(term.name, volts.high) for term in volts.terms[:1]]
    at.append((tolerance.name, ohms / nominal - 1.0))
    words = f"{context.circuit.path(stage.element)} conducting"
    power = Bound(amps * amps * ohms, tuple(at), setting.high(context.lookup.ambient()))
    return Stress(element, power, amps * ohms, amps, ohms, 1.0, words, ())


def _alone(context: Context, element: int) -> bool:
    """Whether no other resistor shares its current."""
    pins = set(context.circuit.pins(element)[:2])
    beside = {other for other, _ in context.circuit.elements_at(min(pins)) if context.circuit.letter(other) == "R"}
    return not any(other != element and set(context.circuit.pins(other)[:2]) == pins for other in beside)

"""Levels that receivers ask for where no fact states them: logic families by supply, switches with a threshold, the
next LED.

In: a net or element that reads a coupler's output. Out: a `LevelDemand`: the level with the terms that it rests on, or
`Lacking`. The order of trust is that of all facts: a stated level first, then the family's at its supply, as an
interval and an assumption.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.facts import InputFacts
from isolint.interfaces.entities import Part
from isolint.parts import Led
from isolint.rows import least, most
from isolint.standards import logic
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking, Setting, Term


class LevelDemand(NamedTuple):
    """A level in volts or amperes with the terms behind it."""

    level: float
    terms: tuple[Term, ...] = ()


def logic_level(lookup: Lookup, net: int, low: bool, setting: Setting) -> LevelDemand:
    """The low (or high) level that a stated input needs: its own fact, else what inputs at its supply usually need."""
    name = lookup.circuit.net_name(net)
    facts = lookup.input(net)
    assert facts is not None
    row = InputFacts.low_max if low else InputFacts.high_min
    fact = facts.low_max if low else facts.high_min
    if fact is not None:
        return LevelDemand(fact.value)
    if facts.supply is None:
        text = f"the {'low' if low else 'high'} level that input {name} needs is not stated, nor its supply"
        raise Lacking(text, [lookup.missing(row, name)])
    supply = lookup.supply_named(facts.supply.value)
    hysteresis = facts.hysteresis is not None and bool(facts.hysteresis.value)
    found = logic.levels(Interval(supply.low, supply.high), supply.nominal, hysteresis)
    text = f"usual inputs at {supply.nominal:g} V: {found.families} (JESD8 and from memory)"
    if low:
        ends = found.low_max
        term = fact_terms.defaulted(row, name, least(ends.low, ends.high, text))
        return LevelDemand(setting.low(term), (term, supply))
    ends = found.high_min
    term = fact_terms.defaulted(row, name, most(ends.low, ends.high, text, nominal=ends.high))
    return LevelDemand(setting.high(term), (term, supply))


class Threshold(NamedTuple):
    """A voltage-controlled switch that reads a pair of nets: on above `on`, off below `off`, volts."""

    element: int
    plus: int
    minus: int
    on: float
    off: float


def thresholds(lookup: Lookup, nets: Sequence[int]) -> list[Threshold]:
    """The S elements whose control pair touches one of some nets."""
    inside = set(nets)
    found: list[Threshold] = []
    circuit = lookup.circuit
    for element in lookup.controlled:
        controls = circuit.controls(element)
        if len(controls) == 2 and inside & set(controls):
            values = circuit.model_parameters(element)
            middle, half = values.get("vt", 0.0), abs(values.get("vh", 0.0))
            on, off = values.get("von", middle + half), values.get("voff", middle - half)
            found.append(Threshold(element, controls[0], controls[1], on, off))
    return found


def next_led(part: Part, off: bool) -> tuple[float, bool]:
    """What the LED of another coupler asks for: amperes, or to be off also volts where the second value is true."""
    record = part.record
    led = None if record is None else record.led
    name = record.name if record is not None else part.model_name or part.path
    file = record.file if record is not None else ""
    if off:
        if led is not None and led.off_current is not None:
            return led.off_current, False
        if led is not None and led.off_voltage is not None:
            return led.off_voltage, True
        fact = fact_terms.missing(file, Led.off_current, name, '"10 uA"')
        raise Lacking(f"the LED current at which {part.path} is off is not known", [fact])
    needed = None if record is None else record.switching_current
    if needed is None:
        fact = fact_terms.missing(file, Led.recommended_current_min, name)
        raise Lacking(f"the LED current that {part.path} needs is not known", [fact])
    return needed, False

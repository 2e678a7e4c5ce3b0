"""An LED's forward voltage and current limits as terms, from its part record or its type's generic family."""

from __future__ import annotations

from typing import NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import generic
from isolint.parts.records import Led, Spec
from isolint.recognition.typical_values import VOLTAGE_CURRENT
from isolint.rows import Usual, either, least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.devices import LedCurve
from isolint.worstcase.lookup import NOMINAL_TEMPERATURE
from isolint.worstcase.uncertain import Term, stated

EMISSION = (1.5, 2.0)
SERIES_OHMS = (1.0, 5.0)
ANY_LED = generic.ForwardVoltage(Interval(1.15, 1.68), 1.85, 5e-3)


class LedTerms(NamedTuple):
    """Forward voltage at the test current `at`, its temperature coefficient, an internal resistor, the DC limit.

    Volts, amperes, V/K, ohms. `forward_current_max` is the DC limit at 25 degC; `slope` and `derated_from` lower it
    above a temperature, 0 where the record states no derating.
    """

    forward_voltage: Term
    temperature_coefficient: Term
    internal_resistor: Term | None
    at: float
    forward_current_max: Term
    slope: float = 0.0
    derated_from: float = NOMINAL_TEMPERATURE

    def curve(self, volts: float, coefficient: float, ideal: bool = False) -> LedCurve:
        """The curve of an LED with `volts` at the test current.

        Above typical, and at the largest value, it is a maximum curve (not lowered below its test current); below
        typical, and at the smallest value, a minimum curve.
        """
        term = self.forward_voltage
        if ideal:
            return LedCurve(volts, self.at, EMISSION[0], 0.0, coefficient)
        top = volts >= term.high - 1e-9 and term.high > term.low
        bottom = volts <= term.low + 1e-9 and term.high > term.low
        if volts > term.nominal + 1e-9 or top:
            return LedCurve.highest(volts, self.at, EMISSION, SERIES_OHMS, coefficient)
        if volts < term.nominal - 1e-9 or bottom:
            return LedCurve.lowest(volts, self.at, EMISSION, SERIES_OHMS, coefficient)
        return LedCurve(volts, self.at, sum(EMISSION) / 2, sum(SERIES_OHMS) / 2, coefficient)

    def limit(self, temperature: float, dc_limit: float) -> float:
        """The DC limit at a temperature, amperes."""
        return max(dc_limit - self.slope * max(temperature - self.derated_from, 0.0), 0.0)


def led_terms(part: Part) -> LedTerms:
    """Terms of a coupler's LED; what the record omits comes from the generic family and is marked as a default."""
    record = part.record
    led = model_led(part) if record is None else record.led
    name = (part.model_name or part.path) if record is None else record.name
    source = f"typical, from the model of {name}" if record is None else f"record {name}"
    family = generic.forward_voltage(part.type, led.technology) or ANY_LED
    forward, at = _forward_voltage(part, led.forward_voltage or Spec(), family, name, source)
    drift = generic.temperature_coefficient(part.type, led.technology)
    middle = (drift.low + drift.high) / 2
    title = Led.technology.title.format(part.path)
    usual = either(drift.low, middle, drift.high, "LED technology not stated")
    coefficient = fact_terms.defaulted(Led.technology, name, usual, title=title, unit="V/K")
    if led.technology is not None:
        origin = f"LED technology {led.technology}"
        coefficient = stated(coefficient.key, title, "V/K", drift.low, middle, drift.high, origin)
    inner = None
    if led.internal_resistor is not None:
        title = Led.internal_resistor.title.format(part.path)
        inner = fact_terms.known(Led.internal_resistor, name, led.internal_resistor, source, title=title)
    slope, start = (0.0, NOMINAL_TEMPERATURE) if led.derating is None else (led.derating.slope, led.derating.from_)
    return LedTerms(forward, coefficient, inner, at, _limit(part), slope, start)


def model_led(part: Part) -> Led:
    """The LED of a part without a record: the typical forward voltage of its model, if that gives one."""
    volts = part.typical.forward_voltage
    return Led() if volts is None else Led(forward_voltage=Spec(typ=volts, at=VOLTAGE_CURRENT))


def _forward_voltage(
    part: Part, spec: Spec, family: generic.ForwardVoltage, name: str, source: str
) -> tuple[Term, float]:
    """The forward voltage and its test current. By default the minimum is typ - 0.15 V, at the kindest typ."""
    typical = family.typ
    if spec.typ is not None:
        typical = Interval(spec.typ, spec.typ)
    elif spec.min is not None and spec.max is not None:
        typical = Interval((spec.min + spec.max) / 2, (spec.min + spec.max) / 2)
    else:
        floor, ceiling = spec.min or 0.0, spec.max or family.max
        typical = Interval(*(min(max(end, floor), ceiling) for end in (typical.low, typical.high)))
    nominal = (typical.low + typical.high) / 2
    low = spec.min if spec.min is not None else typical.low - generic.FORWARD_VOLTAGE_SPREAD
    high = spec.max if spec.max is not None else max(family.max, nominal)
    kind_low = low if spec.min is not None else nominal
    kind_high = high if spec.max is not None else nominal
    known = spec.min is not None and spec.max is not None
    if known:
        text = source
    elif spec.typ is not None:
        omitted = " and ".join(word for word, end in (("minimum", spec.min), ("maximum", spec.max)) if end is None)
        default = "typ - 0.15 V by default" if spec.max is not None else f"of {generic.origin(part.type)}"
        text = f"{source}, {omitted} {default}"
    else:
        text = generic.origin(part.type)
    usual = Usual(low, nominal, high, kind_low, kind_high, text)
    term = fact_terms.defaulted(Led.forward_voltage, name, usual, title=Led.forward_voltage.title.format(part.path))
    term = term._replace(stated=known)
    return term, spec.at if spec.at is not None else family.at


def _limit(part: Part) -> Term:
    return fact_terms.of_part(part, Led.forward_current_max, least, generic.family(part.type).forward_current_max)

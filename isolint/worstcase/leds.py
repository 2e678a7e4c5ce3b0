"""An LED's forward voltage and current limits as terms, from its part record or its type's generic family."""

from __future__ import annotations

from dataclasses import dataclass

from isolint.interfaces.values import Part
from isolint.parts import generic
from isolint.worstcase.devices import LedCurve
from isolint.worstcase.lookup import NOMINAL_TEMPERATURE
from isolint.units import Interval
from isolint.worstcase.terms import Term, stated

EMISSION = (1.5, 2.0)
SERIES_OHMS = (1.0, 5.0)
MINIMUM_BELOW_TYPICAL = 0.15
FROM_MEMORY = "generic LED (from memory)"


@dataclass(frozen=True, slots=True)
class LedTerms:
    """Forward voltage at the test current `at`, its temperature coefficient, an internal resistor, the DC limit.

    Volts, amperes, V/K, ohms. `forward_current_max` is the DC limit at 25 degC; `slope` and `derated_from` lower it above a
    temperature, 0 where the record states no derating.
    """

    forward_voltage: Term
    temperature_coefficient: Term
    internal_resistor: Term | None
    at: float
    forward_current_max: Term
    slope: float = 0.0
    derated_from: float = NOMINAL_TEMPERATURE

    def curve(self, volts: float, coefficient: float, ideal: bool = False) -> LedCurve:
        """The curve of an LED with `volts` at the test current; above typical it is a maximum, below a minimum curve."""
        typical = self.forward_voltage.nominal
        if ideal:
            return LedCurve(volts, self.at, EMISSION[0], 0.0, coefficient)
        if volts > typical + 1e-9:
            return LedCurve.highest(volts, self.at, EMISSION, SERIES_OHMS, coefficient)
        if volts < typical - 1e-9:
            return LedCurve.lowest(volts, self.at, EMISSION, SERIES_OHMS, coefficient)
        return LedCurve(volts, self.at, sum(EMISSION) / 2, sum(SERIES_OHMS) / 2, coefficient)

    def limit(self, temperature: float, dc_limit: float) -> float:
        """The DC limit at a temperature, amperes."""
        return max(dc_limit - self.slope * max(temperature - self.derated_from, 0.0), 0.0)


def led_terms(part: Part) -> LedTerms:
    """Terms of a coupler's LED; what the record omits comes from the generic family and is marked as a default."""
    record = part.record
    led = None if record is None else record.led
    name = part.path if record is None else record.name
    technology = None if led is None else led.technology
    spec = None if led is None else led.forward_voltage
    family = generic.forward_voltage(part.type, technology) or generic.ForwardVoltage(Interval(1.15, 1.68), 1.85, 5e-3)
    usual = generic.family(part.type).forward_current_max or Interval(20e-3, 60e-3)
    generic_origin = generic.origin(part.type)
    source = f"record {name}"
    prefix = f"parts.{name}.led"
    example = f'[{prefix}]\nforward_voltage = {{ typ = "1.2 V", max = "1.4 V", at = "10 mA" }}'
    at = spec.at if spec is not None and spec.at is not None else family.at
    typical = spec.typ if spec is not None and spec.typ is not None else None
    highest = spec.max if spec is not None and spec.max is not None else None
    nominal = typical if typical is not None else min(family.typ.high, highest or family.typ.high)
    top = highest if highest is not None else max(family.max, nominal)
    kind_top = top if highest is not None else nominal
    lowest = spec.min if spec is not None and spec.min is not None else nominal - MINIMUM_BELOW_TYPICAL
    known = spec is not None and spec.min is not None and typical is not None and highest is not None
    kind_low = lowest if spec is not None and spec.min is not None else nominal
    text = source if known else (f"{source}, minimum typ - 0.15 V by default" if typical is not None else generic_origin)
    forward = Term(f"{prefix}.forward_voltage", f"forward voltage of {part.path}", "V", lowest, nominal, top, kind_low, kind_top, known, text, example)
    drift = generic.temperature_coefficient(part.type, technology)
    middle = (drift.low + drift.high) / 2
    coefficient = Term(
        f"{prefix}.technology", f"temperature coefficient of VF of {part.path}", "V/K", drift.low, middle, drift.high, middle, middle,
        drift.low == drift.high, f"LED technology {technology or 'not stated'}", f'[{prefix}]\ntechnology = "GaAs"',
    )  # fmt: skip
    inner = None
    if led is not None and led.internal_resistor is not None:
        ends = led.internal_resistor
        inner = stated(f"{prefix}.internal_resistor", f"internal resistor of {part.path}", "ohm", ends.low, (ends.low + ends.high) / 2, ends.high, source)
    if led is not None and led.forward_current_max is not None:
        most = led.forward_current_max
        limit = stated(f"{prefix}.forward_current_max", f"LED current limit of {part.path}", "A", most, most, most, source)
    else:
        ends = usual
        limit = Term(
            f"{prefix}.forward_current_max", f"LED current limit of {part.path}", "A", ends.low, ends.low, ends.high, ends.high, ends.high,
            False, generic_origin, f'[{prefix}]\nforward_current_max = "50 mA"',
        )  # fmt: skip
    derating = None if led is None else led.derating
    slope, start = (0.0, NOMINAL_TEMPERATURE) if derating is None else (derating.slope, derating.from_)
    return LedTerms(forward, coefficient, inner, at, limit, slope, start)

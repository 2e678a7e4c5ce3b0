"""The saturated output current that a transistor coupler can give at worst, factor by factor.

In: part record or generic family, LED current, temperature, output voltage. Out: the available current with every
factor, its origin and the bound that it came from. Two lower bounds compete: the
record's saturation line scaled down, and the minimum ratio with its factors; the larger one holds.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.curve import Curve
from isolint.interfaces.entities import Part
from isolint.parts import PartRecord, Ratio, generic
from isolint.parts.records import Ageing
from isolint.results import MissingFact
from isolint.units import Interval, show
from isolint.worstcase import ageing
from isolint.worstcase.factors import Factor, aged, reaching, read_off
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated

_VOLTAGE_FACTOR = Interval(0.6, 1.0)
_CURVES = {
    "versus_current": (
        '[{0}.transfer]\nversus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]'
    ),
    "versus_temperature": (
        '[{0}.transfer]\nversus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]'
    ),
    "versus_voltage": '[{0}.transfer]\nversus_voltage = [["0.4 V", 0.70], ["1 V", 0.90], ["5 V", 1.0]]',
}
_RATIO_EXAMPLE = '[{0}.transfer]\nratio = {{ min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }}'


class Available(NamedTuple):
    """Output current available at one LED current, temperature and output voltage, amperes.

    bound: "saturation line" or "ratio". factors: multiplied with the LED current they give `current`.
    """

    current: float
    bound: str
    led_current: float
    temperature: float
    factors: tuple[Factor, ...]
    terms: tuple[Term, ...]


class TransferAnalyser:
    """Ratio factors of one part in one setting."""

    def __init__(self, lookup: Lookup, part: Part, setting: Setting) -> None:
        self.lookup = lookup
        self.part = part
        self.setting = setting
        self.record = part.record if part.record is not None else generic_record(part)
        self.name = self.record.name
        self.family = generic.family(part.type)
        self.origin = generic.origin(part.type)
        self._terms: list[Term] = []

    @property
    def terms(self) -> tuple[Term, ...]:
        """The terms used by the last question."""
        return tuple(self._terms)

    def origin_of_saturation(self) -> str:
        """Where the saturation voltage comes from."""
        return self.origin if self.record.output.saturation_voltage is None else f"record {self.name}"

    # -- saturation voltage -----------------------------------------------------------------------------------

    def saturation_voltage(self) -> float:
        """VCE(sat)max of the record or the generic family, volts; a darlington never below 0.7 V."""
        record = self.record
        line = record.output.saturation_voltage
        if line is not None:
            volts = line.max
        else:
            ends = self.family.saturation_voltage or Interval(0.2, 1.0)
            key = f"parts.{self.name}.output.saturation_voltage"
            title = f"saturation voltage of {self.part.path}"
            example = (
                f"[parts.{self.name}.output]\n"
                + 'saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }'
            )
            limits = (ends.low, ends.high, ends.high, ends.low, ends.low)
            term = Term(key, title, "V", *limits, False, self.origin, example)
            self._terms.append(term)
            volts = self.setting.high(term)
        return max(volts, self.part.kind.output.least_volts)

    def level_is_valid(self, volts: float) -> bool:
        """Whether the output can be relied on at all at this collector-emitter voltage."""
        if volts < self.part.kind.output.least_volts:
            return False
        record = self.record
        curve = record.transfer.versus_voltage
        return volts >= self.saturation_voltage() or (curve is not None and volts > 0.0)

    # -- available current ------------------------------------------------------------------------------------

    def available(self, led_current: float, stress_current: float, temperature: float, volts: float) -> Available:
        """The larger of the two lower bounds; `Lacking` when neither can be computed.

        led_current: smallest LED current, amperes. stress_current: largest LED current, for ageing. volts: output
        voltage left.
        """
        if volts < self.saturation_voltage() and not self.level_is_valid(volts):
            text = f"{show(volts, 'V')} left across the output is less than it needs to conduct"
            raise Lacking(text, blocked_by="level")
        bounds: list[Available] = []
        reasons: list[Lacking] = []
        self._terms = []
        for bound in (self._by_line, self._by_ratio):
            try:
                found = bound(led_current, stress_current, temperature, volts)
            except Lacking as lacking:
                reasons.append(lacking)
                continue
            if found is not None:
                bounds.append(found)
        if not bounds:
            missing = [fact for reason in reasons for fact in reason.missing]
            text = "; ".join(dict.fromkeys(reason.reason for reason in reasons))
            raise Lacking(text or "its transfer ratio is not known", missing)
        best = max(bounds, key=lambda item: item.current)
        # Which bound is the larger one may change with any term of either.
        return best._replace(terms=tuple(self._terms))

    def _by_line(self, led: float, stress: float, temperature: float, volts: float) -> Available | None:
        """Bound (a): the forced ratio of the VCE(sat) line."""
        line = self.record.output.saturation_voltage
        if line is None or volts < self.saturation_voltage():
            return None
        source = f"record {self.name}"
        numbers = f"{line.at:g} / {line.drive:g}"
        forced = Factor(
            "ratio_sat", "IC/IF of the VCE(sat) line", line.at / line.drive, source, "IC_sat / IF_sat", numbers
        )
        at_led, at_drive = self._current_factor(led), self._current_factor(line.drive, highest=True)
        at_led, at_drive = at_led._replace(symbol="D_IF_at"), at_drive._replace(symbol="D_IF_sat")
        value = min(at_led.value / at_drive.value, 1.0)
        scaled = Factor(
            "D_IF",
            f"ratio at {_amps(led)} over that at {_amps(line.drive)}, never above 1",
            value,
            at_led.origin,
            "min(D_IF_at / D_IF_sat, 1)",
            f"min({at_led.value:.7g} / {at_drive.value:.7g}, 1)",
            (at_led, at_drive),
        )
        factors = (forced, scaled, self._temperature_factor(temperature), self._life_factor(stress))
        return self._product("saturation line", led, temperature, factors)

    def _by_ratio(self, led: float, stress: float, temperature: float, volts: float) -> Available | None:
        """Bound (b): the minimum ratio with its factors."""
        if volts < self.saturation_voltage() and self.record.transfer.versus_voltage is None:
            return None
        factors = (
            self._ratio(),
            self._current_factor(led),
            self._voltage_factor(volts),
            self._temperature_factor(temperature),
            self._life_factor(stress),
        )
        return self._product("ratio", led, temperature, factors)

    def _product(self, bound: str, led: float, temperature: float, factors: tuple[Factor, ...]) -> Available:
        current = led
        for factor in factors:
            current *= factor.value
        return Available(current, bound, led, temperature, factors, tuple(self._terms))

    # -- factors ----------------------------------------------------------------------------------------------

    def _ratio(self) -> Factor:
        ratio = self.record.transfer.ratio
        if ratio is not None and ratio.min is not None:
            return Factor("ratio_min", "minimum transfer ratio", ratio.min, f"record {self.name}")
        ends = self.family.ratio
        if ends is None:
            text = f"the transfer ratio of {self.name} is not known"
            raise Lacking(text, [self._fact("ratio", _RATIO_EXAMPLE)])
        # A minimum lies at or below whatever else the record says of the ratio.
        highest = min(end for end in (ends.high, *(() if ratio is None else (ratio.typ, ratio.max))) if end is not None)
        term = self._low_end("ratio", "minimum transfer ratio", min(ends.low, highest), highest, _RATIO_EXAMPLE)
        return Factor("ratio_min", "minimum transfer ratio", self.setting.low(term), self.origin)

    def _current_factor(self, led: float, highest: bool = False) -> Factor:
        curve = self.record.transfer.versus_current
        title = f"ratio over LED current at {_amps(led)}"
        if curve is not None:
            found = read_off("D_IF", title, curve, led, "IF", f"record {self.name}")
            if found is None:
                text = f"the LED current {_amps(led)} lies outside the curve versus_current of record {self.name}"
                raise Lacking(text, [self._fact("versus_current", _wider("versus_current", curve, led, "A"))])
            return found
        ends = generic.current_factor(self._with_test_point(), self._technology(), led)
        if ends is None:
            text = f"no typical curve reaches the LED current {_amps(led)}"
            raise Lacking(text, [self._curve_fact("versus_current")])
        if highest:
            # The divisor of bound (a) hurts at its high end.
            term = self._high_end("versus_current", title, ends.low, ends.high, _CURVES["versus_current"])
            return Factor("D_IF", title, self.setting.high(term), self.origin)
        term = self._low_end("versus_current", title, ends.low, ends.high, _CURVES["versus_current"])
        return Factor("D_IF", title, self.setting.low(term), self.origin)

    def _voltage_factor(self, volts: float) -> Factor:
        curve = self.record.transfer.versus_voltage
        ratio = self.record.transfer.ratio
        title = f"ratio over output voltage at {show(volts, 'V')}"
        test = ratio.voltage if ratio is not None and ratio.voltage is not None else (self.family.ratio_voltage or 5.0)
        if volts >= test:
            # A transistor gives at least its test ratio at more than the test voltage.
            return Factor("D_VCE", title, 1.0, f"at or above the test voltage {show(test, 'V')}")
        if curve is not None:
            found = read_off("D_VCE", title, curve, volts, "VCE", f"record {self.name}")
            if found is None:
                text = (
                    f"the output voltage {show(volts, 'V')} lies outside the curve versus_voltage of record {self.name}"
                )
                raise Lacking(text, [self._fact("versus_voltage", _wider("versus_voltage", curve, volts, "V"))])
            return found
        ends = _VOLTAGE_FACTOR
        term = self._low_end("versus_voltage", title, ends.low, ends.high, _CURVES["versus_voltage"])
        return Factor("D_VCE", title, self.setting.low(term), self.origin)

    def _temperature_factor(self, temperature: float) -> Factor:
        curve = self.record.transfer.versus_temperature
        title = f"ratio over temperature at {temperature:g} degC"
        if curve is not None:
            found = read_off("D_T", title, curve, temperature, "T", f"record {self.name}")
            if found is None:
                text = (
                    f"the ambient {temperature:g} degC lies outside the curve versus_temperature of record {self.name}"
                )
                wider = _wider("versus_temperature", curve, temperature, "degC")
                raise Lacking(text, [self._fact("versus_temperature", wider)])
            return found
        ends = generic.temperature_factor(self.record, self._technology(), temperature)
        if ends is None:
            text = f"no typical curve reaches {temperature:g} degC"
            raise Lacking(text, [self._curve_fact("versus_temperature")])
        term = self._low_end("versus_temperature", title, ends.low, ends.high, _CURVES["versus_temperature"])
        return Factor("D_T", title, self.setting.low(term), self.origin)

    def _life_factor(self, stress_current: float) -> Factor:
        model = self.record.transfer.ageing
        title = "ratio left at the end of life"
        if model is not None and model.remaining is not None:
            return Factor("D_t", title, model.remaining, f"record {self.name}")
        life, duty, ambient = self.lookup.life_hours(), self.lookup.duty(), self.lookup.ambient()
        self._terms.extend((life, duty))
        hours = self.setting.high(life) * self.setting.high(duty)
        if hours <= 0.0:
            return Factor("D_t", title, 1.0, "new part")
        stress = None if model is None else _stress_point(model)
        if stress is not None:
            self._terms.append(ambient)
            hot = self.setting.high(ambient)
            text = (
                f"record {self.name}, {hours:.0f} h at {_amps(stress_current)} "
                f"and {hot:g} degC (accelerated-life formula)"
            )
            return aged(stress, hours, stress_current, hot, text)
        ends = generic.REMAINING
        term = self._low_end("ageing", title, ends.low, ends.high, "[{0}.transfer]\nageing = {{ remaining = 0.8 }}")
        return Factor("D_t", title, self.setting.low(term), self.origin)

    # -- helpers ----------------------------------------------------------------------------------------------

    def _technology(self) -> str | None:
        return self.record.led.technology

    def _file(self) -> str:
        return self.record.file or self.lookup.settings_file

    def _with_test_point(self) -> PartRecord:
        """The record with the family's test current where it states none, so that generic curves have their 1.0."""
        ratio = self.record.transfer.ratio or Ratio()
        if ratio.current is not None:
            return self.record
        return self.record._replace(
            transfer=self.record.transfer.with_(ratio=ratio._replace(current=self.family.ratio_current))
        )

    def _low_end(self, key: str, title: str, low: float, high: float, example: str) -> Term:
        """A defaulted factor of which the low end hurts: kindest is its high end."""
        return self._defaulted(key, title, example, low, high, high)

    def _high_end(self, key: str, title: str, low: float, high: float, example: str) -> Term:
        """A defaulted factor of which the high end hurts: kindest is its low end."""
        return self._defaulted(key, title, example, low, high, low)

    def _defaulted(self, key: str, title: str, example: str, low: float, high: float, kind: float) -> Term:
        fact = self._fact(key, example)
        name = f"{title} ({self.part.path})"
        if low == high:
            term = stated(fact.key, name, "1", low, low, low, self.origin)
        else:
            term = Term(fact.key, name, "1", low, kind, high, kind, kind, False, self.origin, fact.example)
        self._terms.append(term)
        return term

    def _fact(self, key: str, example: str) -> MissingFact:
        text = example.format(f"parts.{self.name}")
        return MissingFact(self._file(), f"parts.{self.name}.transfer.{key}", text)

    def _curve_fact(self, key: str) -> MissingFact:
        return self._fact(key, _CURVES[key])


def _wider(key: str, curve: Curve, x: float, unit: str) -> str:
    """The example for a curve that ends before `x`."""
    return f"[{{0}}.transfer]\n{key} = {reaching(curve, x, unit)}"


def _stress_point(model: Ageing) -> ageing.StressPoint | None:
    """The life test of a record, hours and degrees; None where it states none."""
    if model.loss is None or model.time is None or model.current is None or model.temperature is None:
        return None
    return ageing.StressPoint(1.0 - model.loss, model.time / 3600.0, model.current, model.temperature)


def generic_record(part: Part) -> PartRecord:
    """An empty record for a part that has none: everything then comes from its type's generic family."""
    return PartRecord(part.model_name or part.path, part.type, (), (), (), "generic family", "")


def _amps(value: float) -> str:
    return show(value, "A")

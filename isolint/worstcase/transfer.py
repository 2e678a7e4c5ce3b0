"""The saturated output current that a transistor coupler can give at worst, factor by factor.

In: part record or generic family, LED current, temperature, output voltage. Out: the available current with every factor, its
origin and the bound that it came from. Two lower bounds compete (the design's section on worst case): the record's saturation line scaled
down, and the minimum ratio with its factors; the larger one holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from isolint.interfaces.values import Part
from isolint.parts import PartRecord, Ratio, generic
from isolint.results import MissingFact
from isolint.units import Interval, show
from isolint.worstcase import ageing
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.terms import Lacking, Setting, Term, stated

DARLINGTON_LEAST_VOLTS = 0.7
_RATIO_EXAMPLE = '[{0}.transfer]\nratio = {{ min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }}'


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor of the available current with its value and where it is from."""

    symbol: str
    name: str
    value: float
    origin: str


@dataclass(frozen=True, slots=True)
class Available:
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
            term = Term(
                f"parts.{self.name}.output.saturation_voltage", f"saturation voltage of {self.part.path}", "V", ends.low, ends.high, ends.high,
                ends.low, ends.low, False, self.origin, self._example('[{0}.output]\nsaturation_voltage = {{ max = "0.3 V", at = "2.4 mA", drive = "8 mA" }}'),
            )  # fmt: skip
            self._terms.append(term)
            volts = self.setting.high(term)
        return max(volts, DARLINGTON_LEAST_VOLTS) if self.part.type == "photodarlington" else volts

    def level_is_valid(self, volts: float) -> bool:
        """Whether the output can be relied on at all at this collector-emitter voltage."""
        if self.part.type == "photodarlington" and volts < DARLINGTON_LEAST_VOLTS:
            return False
        record = self.record
        curve = record.transfer.versus_voltage
        return volts >= self.saturation_voltage() or (curve is not None and volts > 0.0)

    # -- available current ------------------------------------------------------------------------------------

    def available(self, led_current: float, stress_current: float, temperature: float, volts: float) -> Available:
        """The larger of the two lower bounds; `Lacking` when neither can be computed.

        led_current: smallest LED current, amperes. stress_current: largest LED current, for ageing. volts: output voltage left.
        """
        bounds: list[Available] = []
        reasons: list[Lacking] = []
        for bound in (self._by_line, self._by_ratio):
            self._terms = []
            try:
                found = bound(led_current, stress_current, temperature, volts)
            except Lacking as lacking:
                reasons.append(lacking)
                continue
            if found is not None:
                bounds.append(found)
        if not bounds:
            missing = [fact for reason in reasons for fact in reason.missing]
            raise Lacking("; ".join(reason.reason for reason in reasons) or "its transfer ratio is not known", missing)
        return max(bounds, key=lambda item: item.current)

    def _by_line(self, led: float, stress: float, temperature: float, volts: float) -> Available | None:
        """Bound (a): the forced ratio of the VCE(sat) line."""
        record = self.record
        line = record.output.saturation_voltage
        if line is None or volts < self.saturation_voltage():
            return None
        forced = Factor("ratio_sat", "IC/IF of the VCE(sat) line", line.at / line.drive, f"record {self.name}")
        at_drive, at_led = self._current_factor(line.drive), self._current_factor(led)
        scaled = Factor("D_IF", f"D_IF({_amps(led)}) / D_IF({_amps(line.drive)}), never above 1", min(at_led.value / at_drive.value, 1.0), at_led.origin)
        factors = (forced, scaled, self._temperature_factor(temperature, led), self._life_factor(stress))
        return self._product("saturation line", led, temperature, factors)

    def _by_ratio(self, led: float, stress: float, temperature: float, volts: float) -> Available | None:
        """Bound (b): the minimum ratio with its factors."""
        record = self.record
        curve = record.transfer.versus_voltage
        if volts < self.saturation_voltage() and curve is None:
            return None
        factors = (self._ratio(), self._current_factor(led), self._voltage_factor(volts), self._temperature_factor(temperature, led), self._life_factor(stress))
        return self._product("ratio", led, temperature, factors)

    def _product(self, bound: str, led: float, temperature: float, factors: tuple[Factor, ...]) -> Available:
        current = led
        for factor in factors:
            current *= factor.value
        return Available(current, bound, led, temperature, factors, tuple(self._terms))

    # -- factors ----------------------------------------------------------------------------------------------

    def _ratio(self) -> Factor:
        record = self.record
        ratio = record.transfer.ratio
        if ratio is not None and ratio.min is not None:
            return Factor("ratio_min", "minimum transfer ratio", ratio.min, f"record {self.name}")
        ends = self.family.ratio
        if ends is None:
            text = f"the transfer ratio of {self.name} is not known"
            raise Lacking(text, [MissingFact(self._file(), f"parts.{self.name}.transfer.ratio", self._example(_RATIO_EXAMPLE))])
        term = self._low_end(
            "transfer.ratio", "minimum transfer ratio", ends.low, ends.high,
            _RATIO_EXAMPLE,
        )  # fmt: skip
        return Factor("ratio_min", "minimum transfer ratio", self.setting.low(term), self.origin)

    def _current_factor(self, led: float) -> Factor:
        record = self.record
        curve = record.transfer.versus_current
        if curve is not None:
            value = curve.at(led)
            if value is None:
                raise Lacking(f"the LED current {_amps(led)} lies outside the curve versus_current of record {self.name}", [self._curve_fact("versus_current")])
            return Factor("D_IF", f"ratio over LED current at {_amps(led)}", value, f"record {self.name}")
        ends = generic.current_factor(self._with_test_point(), self._technology(), led)
        if ends is None:
            raise Lacking(f"no typical curve reaches the LED current {_amps(led)}", [self._curve_fact("versus_current")])
        term = self._low_end("transfer.versus_current", f"ratio over LED current at {_amps(led)}", ends.low, ends.high, self._curve_fact("versus_current").example)
        return Factor("D_IF", f"ratio over LED current at {_amps(led)}", self.setting.low(term), self.origin)

    def _voltage_factor(self, volts: float) -> Factor:
        record = self.record
        curve = record.transfer.versus_voltage
        ratio = record.transfer.ratio
        test = ratio.voltage if ratio is not None and ratio.voltage is not None else (self.family.ratio_voltage or 5.0)
        if volts >= test:
            # A transistor gives at least its test ratio at more than the test voltage.
            return Factor("D_VCE", f"ratio over output voltage at {show(volts, 'V')}", 1.0, f"at or above the test voltage {show(test, 'V')}")
        if curve is not None:
            value = curve.at(volts)
            if value is None:
                raise Lacking(f"the output voltage {show(volts, 'V')} lies outside the curve versus_voltage of record {self.name}", [self._curve_fact("versus_voltage")])
            return Factor("D_VCE", f"ratio over output voltage at {show(volts, 'V')}", value, f"record {self.name}")
        ends = Interval(0.6, 1.0)
        term = self._low_end("transfer.versus_voltage", f"ratio over output voltage at {show(volts, 'V')}", ends.low, ends.high, self._curve_fact("versus_voltage").example)
        return Factor("D_VCE", f"ratio over output voltage at {show(volts, 'V')}", self.setting.low(term), self.origin)

    def _temperature_factor(self, temperature: float, led: float) -> Factor:
        record = self.record
        curve = record.transfer.versus_temperature
        title = f"ratio over temperature at {temperature:g} degC"
        if curve is not None:
            value = curve.at(temperature)
            if value is None:
                raise Lacking(f"the ambient {temperature:g} degC lies outside the curve versus_temperature of record {self.name}", [self._curve_fact("versus_temperature")])
            return Factor("D_T", title, value, f"record {self.name}")
        ends = generic.temperature_factor(record, self._technology(), temperature)
        if ends is None:
            raise Lacking(f"no typical curve reaches {temperature:g} degC", [self._curve_fact("versus_temperature")])
        term = self._low_end("transfer.versus_temperature", title, ends.low, ends.high, self._curve_fact("versus_temperature").example)
        return Factor("D_T", title, self.setting.low(term), self.origin)

    def _life_factor(self, stress_current: float) -> Factor:
        record = self.record
        model = record.transfer.ageing
        if model is not None and model.remaining is not None:
            return Factor("D_t", "ratio left at the end of life", model.remaining, f"record {self.name}")
        if model is not None and None not in (model.loss, model.time, model.current, model.temperature):
            life, duty, ambient = self.lookup.life_hours(), self.lookup.duty(), self.lookup.ambient()
            self._terms.extend((life, duty, ambient))
            hours = self.setting.high(life) * self.setting.high(duty)
            hot = self.setting.high(ambient)
            assert model.loss is not None and model.time is not None and model.current is not None and model.temperature is not None
            stress = ageing.StressPoint(1.0 - model.loss, model.time / 3600.0, model.current, model.temperature)
            low, _ = ageing.remaining_ratio(stress, hours, stress_current, hot)
            text = f"record {self.name}, {hours:.0f} h at {_amps(stress_current)} and {hot:g} degC (accelerated-life formula)"
            return Factor("D_t", "ratio left at the end of life", low, text)
        ends = generic.REMAINING
        life, duty = self.lookup.life_hours(), self.lookup.duty()
        self._terms.extend((life, duty))
        if self.setting.high(life) * self.setting.high(duty) <= 0.0:
            return Factor("D_t", "ratio left at the end of life", 1.0, "new part")
        term = self._low_end("transfer.ageing", "ratio left at the end of life", ends.low, ends.high, "[{0}.transfer]\nageing = {{ remaining = 0.8 }}")
        return Factor("D_t", "ratio left at the end of life", self.setting.low(term), self.origin)

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
        return replace(self.record, transfer=replace(self.record.transfer, ratio=replace(ratio, current=self.family.ratio_current)))

    def _low_end(self, key: str, title: str, low: float, high: float, example: str) -> Term:
        """A defaulted factor of which only the low end counts: kindest is its high end."""
        full = f"parts.{self.name}.{key}"
        term = Term(full, f"{title} ({self.part.path})", "1", low, high, high, high, high, False, self.origin, self._example(example))
        if low == high:
            term = stated(full, term.name, "1", low, low, low, self.origin)
        self._terms.append(term)
        return term

    def _example(self, text: str) -> str:
        return text.format(f"parts.{self.name}") if "{0}" in text else text

    def _curve_fact(self, key: str) -> MissingFact:
        points = {
            "versus_current": '[["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]',
            "versus_temperature": '[["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]',
            "versus_voltage": '[["0.4 V", 0.70], ["1 V", 0.90], ["5 V", 1.0]]',
        }[key]
        return MissingFact(self._file(), f"parts.{self.name}.transfer.{key}", f"[parts.{self.name}.transfer]\n{key} = {points}")


def generic_record(part: Part) -> PartRecord:
    """An empty record for a part that has none: everything then comes from its type's generic family."""
    return PartRecord(part.model_name or part.path, part.type, (), (), (), "generic family", "")


def _amps(value: float) -> str:
    return show(value, "A")

"""The saturated output current that a transistor coupler can give at worst, factor by factor.

In: part record or generic family, LED current, temperature, output voltage. Out: the available current with every
factor, its origin and the bound that it came from. Two lower bounds compete: the
record's saturation line scaled down, and the minimum ratio with its factors; the larger one holds.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import Output, PartRecord, Ratio, Transfer, generic
from isolint.parts.records import Ageing
from isolint.results import MissingFact
from isolint.rows import Usual, Value, least, most
from isolint.units import show
from isolint.worstcase import ageing, fact_terms
from isolint.worstcase.factors import Factor, aged, reaching, read_off
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking, Setting, Term


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


MODEL_CURRENT = 5e-3
"""Amperes of LED current at which the ratio of a model stands, where the type's family names none."""


NO_VOLTS = 1e-6
"""What a solved voltage may lack of the level that it was solved for."""


class TransferAnalyser:
    """Ratio factors of one part in one setting."""

    def __init__(self, lookup: Lookup, part: Part, setting: Setting, warmer: float = 0.0) -> None:
        """warmer: kelvins by which its own heat warms the LED on average, as far as its record states it."""
        self.warmer = warmer
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
            ends = self.family.saturation_voltage
            title = Output.saturation_voltage.title.format(self.part.path)
            usual = most(ends.low, ends.high, self.origin, nominal=ends.high)
            term = fact_terms.defaulted(Output.saturation_voltage, self.name, usual, title=title)
            self._terms.append(term)
            volts = self.setting.high(term)
        return max(volts, self.part.kind.output.least_volts)

    def level_is_valid(self, volts: float) -> bool:
        """Whether the output can be relied on at all at this collector-emitter voltage."""
        if volts < self.part.kind.output.least_volts:
            return False
        record = self.record
        curve = record.transfer.versus_voltage
        return self._saturates(volts) or (curve is not None and volts > 0.0)

    def _saturates(self, volts: float) -> bool:
        return volts >= self.saturation_voltage() - NO_VOLTS

    # -- available current ------------------------------------------------------------------------------------

    def available(self, led_current: float, stress_current: float, temperature: float, volts: float) -> Available:
        """The larger of the two lower bounds; `Lacking` when neither can be computed.

        led_current: smallest LED current, amperes. stress_current: largest LED current, for ageing. volts: output
        voltage left.
        """
        if not self._saturates(volts) and not self.level_is_valid(volts):
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
        if line is None or not self._saturates(volts):
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
        if self.part.record is None and ratio is not None and ratio.typ is not None:
            return self._typical_ratio(ratio.typ)
        ends = self.family.ratio
        if ends is None:
            text = f"the transfer ratio of {self.name} is not known"
            raise Lacking(text, [self._fact(Transfer.ratio)])
        # A minimum lies at or below whatever else is known of the ratio, and as far below a typical one as is usual.
        typical, origin = self._known_typical(ratio)
        known = (ends.high, typical, None if ratio is None else ratio.max)
        highest = min(end for end in known if end is not None)
        lowest = min(ends.low, highest) if typical is None else min(ends.low, typical * generic.RATIO_SPREAD)
        usual = least(lowest, highest, origin, nominal=highest)
        term = self._defaulted(Transfer.ratio, "minimum transfer ratio", usual)
        return Factor("ratio_min", "minimum transfer ratio", self.setting.low(term), origin)

    def _known_typical(self, ratio: Ratio | None) -> tuple[float | None, str]:
        """The typical ratio of the record, else of the part's own model, and where the default is from."""
        if ratio is not None:
            told = None if ratio.typ is None else f"typical {ratio.typ * 100:.3g} % of record {self.name}"
            return ratio.typ, f"{told}, spread of {self.origin}" if told else self.origin
        model = model_ratio(self.part)
        if model is None:
            return None, self.origin
        return model, f"typical {model * 100:.3g} % from the model of {self.name}, spread of {self.origin}"

    def _typical_ratio(self, typical: float) -> Factor:
        """The ratio of a model: typical, with the spread of usual parts below it, and no guaranteed end."""
        low = typical * generic.RATIO_SPREAD
        origin = f"typical {typical * 100:.3g} % from the model of {self.name}, spread of {self.origin}"
        usual = least(low, typical, origin, nominal=typical)
        term = self._defaulted(Transfer.ratio, "minimum transfer ratio", usual)
        return Factor("ratio_min", "minimum transfer ratio", self.setting.low(term), origin)

    def _current_factor(self, led: float, highest: bool = False) -> Factor:
        curve = self.record.transfer.versus_current
        title = f"ratio over LED current at {_amps(led)}"
        if curve is not None:
            found = read_off("D_IF", title, curve, led, "IF", f"record {self.name}")
            if found is None:
                text = f"the LED current {_amps(led)} lies outside the curve versus_current of record {self.name}"
                raise Lacking(text, [self._fact(Transfer.versus_current, reaching(curve, led, "A"))])
            return found
        ends = generic.current_factor(self._with_test_point(), self._technology(), led)
        if ends is None:
            text = f"no typical curve reaches the LED current {_amps(led)}"
            raise Lacking(text, [self._fact(Transfer.versus_current)])
        if highest:
            # The divisor of bound (a) hurts at its high end.
            term = self._high_end(Transfer.versus_current, title, ends.low, ends.high)
            return Factor("D_IF", title, self.setting.high(term), self.origin)
        term = self._low_end(Transfer.versus_current, title, ends.low, ends.high)
        return Factor("D_IF", title, self.setting.low(term), self.origin)

    def _voltage_factor(self, volts: float) -> Factor:
        curve = self.record.transfer.versus_voltage
        ratio = self.record.transfer.ratio
        title = f"ratio over output voltage at {show(volts, 'V')}"
        test = ratio.voltage if ratio is not None and ratio.voltage is not None else self.family.ratio_voltage
        if volts >= test:
            # A transistor gives at least its test ratio at more than the test voltage.
            return Factor("D_VCE", title, 1.0, f"at or above the test voltage {show(test, 'V')}")
        if curve is not None:
            found = read_off("D_VCE", title, curve, volts, "VCE", f"record {self.name}")
            if found is None:
                text = (
                    f"the output voltage {show(volts, 'V')} lies outside the curve versus_voltage of record {self.name}"
                )
                raise Lacking(text, [self._fact(Transfer.versus_voltage, reaching(curve, volts, "V"))])
            return found
        ends = self.family.voltage_factor
        term = self._low_end(Transfer.versus_voltage, title, ends.low, ends.high)
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
                wider = reaching(curve, temperature, "degC")
                raise Lacking(text, [self._fact(Transfer.versus_temperature, wider)])
            return found
        ends = generic.temperature_factor(self.record, self._technology(), temperature)
        if ends is None:
            text = f"no typical curve reaches {temperature:g} degC"
            raise Lacking(text, [self._fact(Transfer.versus_temperature)])
        term = self._low_end(Transfer.versus_temperature, title, ends.low, ends.high)
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
            hot = self.setting.high(ambient) + self.warmer
            own = f", {self.warmer:.2g} K by its own heat" if self.warmer > 0.0 else ""
            text = (
                f"record {self.name}, {hours:.0f} h at {_amps(stress_current)} "
                f"and {hot:.4g} degC{own} (accelerated-life formula)"
            )
            return aged(stress, hours, stress_current, hot, text)
        ends = generic.REMAINING
        term = self._low_end(Transfer.ageing, title, ends.low, ends.high)
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

    def _low_end(self, value: Value[Any], title: str, low: float, high: float) -> Term:
        """A defaulted factor of which the low end hurts: kindest is its high end."""
        return self._defaulted(value, title, least(low, high, self.origin, nominal=high))

    def _high_end(self, value: Value[Any], title: str, low: float, high: float) -> Term:
        """A defaulted factor of which the high end hurts: kindest is its low end."""
        return self._defaulted(value, title, most(low, high, self.origin))

    def _defaulted(self, value: Value[Any], title: str, usual: Usual) -> Term:
        term = fact_terms.defaulted(value, self.name, usual, title=f"{title} ({self.part.path})", unit="1")
        # Where the curves of all technologies agree there is nothing to state.
        term = term._replace(stated=True, example="") if term.is_point else term
        self._terms.append(term)
        return term

    def _fact(self, value: Value[Any], example: str = "") -> MissingFact:
        return fact_terms.missing(self._file(), value, self.name, example)


def _stress_point(model: Ageing) -> ageing.StressPoint | None:
    """The life test of a record, hours and degrees; None where it states none."""
    if model.loss is None or model.time is None or model.current is None or model.temperature is None:
        return None
    return ageing.StressPoint(1.0 - model.loss, model.time / 3600.0, model.current, model.temperature)


def generic_record(part: Part) -> PartRecord:
    """A record for a part that has none: the typical ratio of its model, all else from its type's generic family."""
    made = PartRecord(part.model_name or part.path, part.type, (), (), (), "generic family", "")
    ratio = model_ratio(part)
    if ratio is None:
        return made
    return made._replace(transfer=Transfer(ratio=Ratio(typ=ratio, current=_ratio_current(part))))


def model_ratio(part: Part) -> float | None:
    """The typical ratio of a part's own model at the family's test current; None where it gives none."""
    return part.typical.ratio_at(_ratio_current(part))


def _ratio_current(part: Part) -> float:
    return generic.family(part.type).ratio_current or MODEL_CURRENT


def _amps(value: float) -> str:
    return show(value, "A")

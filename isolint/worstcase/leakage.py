"""What an output still passes in the off state: dark current, and what little LED current gives.

In: a part, a setting, a temperature. Out: `Leak`s in amperes with their formula. New parts count here: an aged LED
gives less.
"""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any, NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import Curve, Output, PartRecord, Ratio, Transfer, generic
from isolint.parts.records import HOT_POINT, WIDE_TEMPERATURES
from isolint.rows import Value, all_of, least, point
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.factors import Factor, reaching
from isolint.worstcase.figures import Figure, power_of_two
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.transfer import generic_record
from isolint.worstcase.uncertain import Lacking, Setting, Term
from isolint.worstcase.watch import Sources

NEVER_DOUBLES = 1e9
"""Kelvins of a dark current whose guaranteed points are alike."""


class Leak(NamedTuple):
    """Output current in the off state at one temperature, with the terms that it rests on.

    couplers: how many outputs side by side pass that much each.
    """

    current: Figure
    temperature: float
    terms: tuple[Term, ...]
    couplers: int = 1

    @property
    def amps(self) -> float:
        """The current of all of them in amperes."""
        return self.current.si * self.couplers


def alike(part: Part) -> Hashable:
    """What outputs have in common that pass the same without light."""
    return (part.type, part.record.name if part.record is not None else part.model_name or part.path)


class LeakAnalyser:
    """Output currents in the off state, of the parts of one netlist in one setting."""

    def __init__(self, lookup: Lookup, setting: Setting) -> None:
        self.lookup = lookup
        self.setting = setting
        self._dark: dict[tuple[str, float], tuple[Leak, Sources]] = {}

    def dark(self, part: Part, temperature: float) -> Leak:
        """The output current without any LED current, as a new part's maximum at a temperature."""
        # Terms are called by the part, so that each part has its own.
        key = (part.path, temperature)
        return self.lookup.watch.kept(self._dark, key, lambda: self._dark_of(part, temperature))

    def _dark_of(self, part: Part, temperature: float) -> Leak:
        record = part.record or generic_record(part)
        if part.kind.output.conducts != "transistor":
            return self._logic_leakage(part, temperature)
        given = record.output.dark_current
        name = record.name
        if given is not None:
            most, at, origin = given.max, given.at, f"record {name}"
            base = fact_terms.known(
                Output.dark_current, name, most, origin, title=Output.dark_current.title.format(part.path)
            )
            hot = given.hot
        else:
            usual = generic.family(part.type).dark_current
            origin = generic.origin(part.type)
            title = f"{Output.dark_current.title.format(part.path)} at 25 degC"
            base = fact_terms.defaulted(Output.dark_current, name, point(usual.high, usual.low, origin), title=title)
            at, hot = 25.0, None
        amps = self.setting.high(base)
        if hot is not None and amps > 0.0:
            return self._with_hot_point(base, amps, at, hot, temperature, origin)
        doubling = generic.DARK_CURRENT_DOUBLING
        counts = least(doubling.low, doubling.high, "8 to 10 K (from memory)", nominal=doubling.high)
        title = f"kelvins in which the dark current of {part.path} doubles"
        kelvins = fact_terms.defaulted(Output.dark_current, name, counts, title=title, example=HOT_POINT, unit="K")
        kelvins = kelvins._replace(key=f"{kelvins.key}.hot")
        # Below the test temperature the slow doubling leaves more.
        rate = self.setting.low(kelvins) if temperature >= at else kelvins.high
        return _doubling(amps, temperature, at, rate, origin, (base, kelvins))

    def _with_hot_point(
        self, base: Term, amps: float, at: float, hot: tuple[float, float], temperature: float, origin: str
    ) -> Leak:
        """Straight in the logarithm between the two guaranteed points; above the hot one as without it."""
        most, hottest = hot
        if temperature > hottest:
            doubling = generic.DARK_CURRENT_DOUBLING.low
            amps, at = most, hottest
        else:
            doubling = (hottest - at) / math.log2(most / amps) if most > amps else NEVER_DOUBLES
        return _doubling(amps, temperature, at, doubling, f"{origin}, with its hot point", (base,))

    def _logic_leakage(self, part: Part, temperature: float) -> Leak:
        ends = generic.family(part.type).leakage
        term = fact_terms.of_part(part, Output.leakage, all_of, ends, memory=True)
        given = Figure("I_leakage", self.setting.high(term), "A")
        return Leak(given.called("I_dark", "A", source=term.origin), temperature, (term,))

    def passed(self, part: Part, led_current: float, temperature: float) -> tuple[Leak, tuple[Factor, ...]]:
        """The most output current that an LED current gives through a new part, with its factors."""
        record = part.record or generic_record(part)
        technology = record.led.technology
        origin = generic.origin(part.type)
        terms: list[Term] = []

        def usual(value: Value[Any], title: str, ends: Interval, key: str = "") -> float:
            title = f"{title} ({part.path})"
            term = fact_terms.defaulted(value, record.name, all_of(ends.low, ends.high, origin), title=title, unit="1")
            term = term._replace(key=key or term.key)
            if ends.is_point:
                return ends.high
            terms.append(term)
            return self.setting.high(term)

        ratio = record.transfer.ratio
        if ratio is not None and ratio.max is not None:
            most = Factor("ratio_max", "maximum transfer ratio", ratio.max, f"record {record.name}")
        else:
            family = generic.family(part.type).ratio
            if family is None:
                fact = fact_terms.missing(record.file or self.lookup.settings_file, Transfer.ratio, record.name)
                raise Lacking(f"the maximum transfer ratio of {record.name} is not known", [fact])
            low = ratio.min if ratio is not None and ratio.min is not None else family.low
            ends = Interval(min(low, family.high), family.high)
            key = "" if ratio is None else f"{Transfer.ratio.path(record.name)}.max"
            value = usual(Transfer.ratio, "maximum transfer ratio", ends, key)
            most = Factor("ratio_max", "maximum transfer ratio", value, origin)
        curve = record.transfer.versus_current
        if curve is not None:
            at_led = Factor(
                "D_IF", "largest ratio over LED current", _largest(curve, led_current), f"record {record.name}"
            )
        else:
            ends = Interval(1.0, max(_generic_peak(part, record, technology), 1.0))
            value = usual(Transfer.versus_current, "largest ratio over LED current", ends)
            at_led = Factor("D_IF", "largest ratio over LED current", value, origin)
        curve = record.transfer.versus_temperature
        title = f"ratio over temperature at {temperature:g} degC"
        found = generic.temperature_factor(record, technology, temperature)
        if found is None:
            points = WIDE_TEMPERATURES if curve is None else reaching(curve, temperature, "degC")
            file = record.file or self.lookup.settings_file
            fact = fact_terms.missing(file, Transfer.versus_temperature, record.name, points)
            raise Lacking(f"the ambient {temperature:g} degC lies outside the curves of {record.name}", [fact])
        warm = usual(Transfer.versus_temperature, title, found)
        heat = Factor("D_T", title, warm, origin if curve is None else f"record {record.name}")
        volts = record.transfer.versus_voltage
        across = Factor(
            "D_VCE",
            "largest ratio over output voltage",
            1.0 if volts is None else max(1.0, *(y for _, y in volts.points)),
            "not below 1",
        )
        factors = (most, at_led, across, heat)
        amps = Figure("IF_off", led_current, "A")
        for factor in factors:
            amps = amps * Figure(factor.symbol, factor.value)
        return Leak(amps.called("I_passed", "A", source=most.origin), temperature, tuple(terms)), factors


def _doubling(
    amps: float, temperature: float, at: float, doubling: float, origin: str, terms: tuple[Term, ...]
) -> Leak:
    """A dark current at its test temperature `at` that doubles each so many kelvins."""
    above = Figure("T", temperature, "degC") - Figure("T_test", at, "degC")
    current = Figure("I_test", amps, "A") * power_of_two(above / Figure("K", doubling, "K"))
    return Leak(current.called("I_dark", "A", source=origin), temperature, terms)


def _largest(curve: Curve, x: float) -> float:
    """The value of a curve, outside its points the largest value that it has anywhere: a bound, no extrapolation."""
    inside = curve.at(x)
    return max(y for _, y in curve.points) if inside is None else inside


def _generic_peak(part: Part, record: PartRecord, technology: str | None) -> float:
    """The largest generic ratio over LED current, 1.0 at the test current."""
    ratio = record.transfer.ratio
    test = ratio.current if ratio is not None and ratio.current is not None else generic.family(part.type).ratio_current
    if test is None:
        return 1.0
    if ratio is None or ratio.current is None:
        record = record._replace(transfer=record.transfer.with_(ratio=(ratio or Ratio())._replace(current=test)))
    points = (0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3)
    found = [generic.current_factor(record, technology, point) for point in points]
    return max((ends.high for ends in found if ends is not None), default=1.0)

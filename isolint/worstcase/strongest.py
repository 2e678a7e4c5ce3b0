"""The most that a transistor output may carry: the largest LED current times the ratio of the best new part.

In: a part, its LED current, temperatures, a setting. Out: the ratio with its origin and terms. New parts: life takes
nothing away.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import PartRecord, Ratio, Transfer, generic
from isolint.rows import Value, most
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.lookup import NOMINAL_TEMPERATURE
from isolint.worstcase.transfer import generic_record
from isolint.worstcase.uncertain import Setting, Term


class Strongest(NamedTuple):
    """The largest ratio of output to LED current, with its three factors."""

    ratio: float
    highest: float
    current_factor: float
    temperature_factor: float
    origin: str
    terms: tuple[Term, ...]


def strongest(part: Part, setting: Setting, led_current: float, temperatures: Sequence[float]) -> Strongest | None:
    """The ratio of the best new part at an LED current, highest over temperature; None where nothing bounds it."""
    record = part.record if part.record is not None else generic_record(part)
    family = generic.family(part.type)
    terms: list[Term] = []
    top = _highest(part, record, family, setting, terms)
    if top is None:
        return None
    current = _current(part, record, family, setting, led_current, terms)
    if current is None:
        return None
    low, high = min(temperatures), max(temperatures)
    curve = record.transfer.versus_temperature
    between = [at for at, _ in curve.points if low < at < high] if curve is not None else []
    inner = [NOMINAL_TEMPERATURE] if low < NOMINAL_TEMPERATURE < high else []
    warm = [_temperature(part, record, setting, at, terms) for at in (*temperatures, *between, *inner)]
    known = [value for value in warm if value is not None]
    if len(known) < len(warm):
        return None
    source = (
        f"record {record.name}"
        if record.transfer.ratio is not None and record.transfer.ratio.max is not None
        else generic.origin(part.type)
    )
    return Strongest(top * current * max(known), top, current, max(known), source, tuple(terms))


def highest_ratio(part: Part, setting: Setting, terms: list[Term]) -> float:
    """The ratio of the best new part at LED currents below that of its test, highest over temperature.

    A ratio that rises towards small currents counts with its highest point there. terms: takes what it rests on.
    """
    record = part.record if part.record is not None else generic_record(part)
    top = _highest(part, record, generic.family(part.type), setting, terms)
    if top is None:
        return 1.0
    below, warm = record.transfer.versus_current, record.transfer.versus_temperature
    at = None if record.transfer.ratio is None else record.transfer.ratio.current
    small = [y for x, y in below.points if at is None or x <= at] if below is not None else []
    return top * max([1.0, *small]) * max([1.0, *(y for _, y in warm.points)] if warm is not None else [1.0])


def _highest(
    part: Part, record: PartRecord, family: generic.Family, setting: Setting, terms: list[Term]
) -> float | None:
    ratio = record.transfer.ratio
    if ratio is not None and ratio.max is not None:
        return ratio.max
    if family.ratio is None:
        return None
    least = family.ratio.low if ratio is None else max(ratio.min or 0.0, ratio.typ or 0.0, family.ratio.low)
    ends = Interval(least, max(family.ratio.high, least))
    title = f"maximum transfer ratio of {part.path}"
    return _high_end(Transfer.ratio, title, ends, part, setting, terms)


def _current(
    part: Part, record: PartRecord, family: generic.Family, setting: Setting, led: float, terms: list[Term]
) -> float | None:
    curve = record.transfer.versus_current
    if curve is not None:
        value = curve.at(led)
        if value is not None:
            return value
        # A ratio falls beyond the last point of its curve: the highest point bounds it.
        return max(y for _, y in curve.points)
    ratio = record.transfer.ratio or Ratio()
    tested = record
    if ratio.current is None:
        tested = record._replace(transfer=record.transfer.with_(ratio=ratio._replace(current=family.ratio_current)))
    ends = generic.current_factor(tested, record.led.technology, led)
    if ends is None:
        return None
    title = f"ratio over LED current of {part.path}"
    return _high_end(Transfer.versus_current, title, ends, part, setting, terms)


def _temperature(part: Part, record: PartRecord, setting: Setting, at: float, terms: list[Term]) -> float | None:
    curve = record.transfer.versus_temperature
    if curve is not None:
        return curve.at(at)
    ends = generic.temperature_factor(record, record.led.technology, at)
    if ends is None:
        return None
    title = f"ratio over temperature of {part.path}"
    return _high_end(Transfer.versus_temperature, title, ends, part, setting, terms)


def _high_end(value: Value[Any], title: str, ends: Interval, part: Part, setting: Setting, terms: list[Term]) -> float:
    """A defaulted factor of which only the high end counts: kindest is its low end."""
    usual = most(ends.low, ends.high, generic.origin(part.type))
    term = fact_terms.defaulted(value, fact_terms.named(part), usual, title=title, unit="1")
    terms.append(term)
    return setting.high(term)


class AskedCurrent(NamedTuple):
    """The current that an output may be asked to carry, amperes.

    strongest: the bound by the LED, None where the load alone decides. ratio: of the best new part.
    """

    current: float
    corner: str
    led_current: float
    ratio: float
    strongest: float | None
    origin: str
    terms: tuple[Term, ...]

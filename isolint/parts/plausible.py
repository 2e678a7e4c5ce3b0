"""What may be right in a record and hardly is: values that contradict each other, or that no such part has.

In: a sound record. Out: `Mistake`s. What can't be right at all is refused when a record is read. The bands are from
memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.errors import Mistake
from isolint.parts.records import PartRecord
from isolint.units import show

LEAST_VF, MOST_VF = 0.8, 4.5
LEAST_WITHSTAND = 500.0
MOST_DARK = 1e-4


def implausible(record: PartRecord) -> Iterator[Mistake]:
    """Everything about a record that somebody should look up again."""

    def told(key: str, text: str, cure: str) -> Mistake:
        return Mistake(record.file, f"{record.key}.{key}", text, cure)

    if not record.source.strip():
        yield told("source", "nobody says where the values are from", 'write source = "..." with the data sheet')
    ratio, saturation = record.transfer.ratio, record.output.saturation_voltage
    if ratio is not None and saturation is not None:
        linear = max(value for value in (ratio.min, ratio.typ, ratio.max) if value is not None)
        saturated = saturation.at / saturation.drive
        if saturated > linear:
            text = f"saturated it gives {saturated:.3g} times the LED current, unsaturated {linear:.3g} at most"
            yield told("output.saturation_voltage", text, "at is the collector current, drive the LED current")
    yield from _led(record, told("led", "", ""))
    insulation = record.insulation
    if insulation.withstand is not None and insulation.withstand < LEAST_WITHSTAND:
        text = f"it withstands {show(insulation.withstand, 'V')} only"
        yield told("insulation.withstand", text, "the rms voltage for one minute is meant")
    dark = record.output.dark_current
    if dark is not None and dark.max > MOST_DARK:
        yield told("output.dark_current", f"{show(dark.max, 'A')} flow in the dark", "mind nA and uA")


def _led(record: PartRecord, place: Mistake) -> Iterator[Mistake]:
    """What its LED takes and drops."""
    led = record.led
    voltage = led.forward_voltage
    for volts in () if voltage is None else (voltage.min, voltage.typ, voltage.max):
        if volts is not None and not LEAST_VF <= volts <= MOST_VF:
            text = f"no LED drops {show(volts, 'V')}"
            yield place._replace(key=f"{place.key}.forward_voltage", text=text, cure="one LED has about 1 V to 4 V")
    most, ratio = led.forward_current_max, record.transfer.ratio
    if most is not None and ratio is not None and ratio.current is not None and ratio.current > most:
        text = f"the ratio was measured at {show(ratio.current, 'A')}, and the LED takes {show(most, 'A')}"
        yield place._replace(key=f"{place.key}.forward_current_max", text=text, cure="one of the two has another unit")

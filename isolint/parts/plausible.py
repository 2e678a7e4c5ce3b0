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
MOST_SATURATION = 3.0
MOST_OUTPUT_VOLTS, MOST_OUTPUT_AMPS = 5e3, 20.0
MOST_REVERSE = 60.0
LED_AMPS = (1e-3, 1.0)
RATIOS = (1e-3, 200.0)


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
    yield from _output(record, told("output", "", ""))
    for value in () if ratio is None else (ratio.min, ratio.typ, ratio.max):
        if value is not None and not RATIOS[0] <= value <= RATIOS[1]:
            yield told("transfer.ratio", f"no coupler has a ratio of {show(value, '%')}", "mind % and plain numbers")
            break
    insulation = record.insulation
    if insulation.withstand is not None and insulation.withstand < LEAST_WITHSTAND:
        text = f"it withstands {show(insulation.withstand, 'V')} only"
        yield told("insulation.withstand", text, "the rms voltage for one minute is meant")
    dark = record.output.dark_current
    if dark is not None and dark.max > MOST_DARK:
        yield told("output.dark_current", f"{show(dark.max, 'A')} flow in the dark", "mind nA and uA")


def _output(record: PartRecord, place: Mistake) -> Iterator[Mistake]:
    """What its output carries and leaves."""
    output = record.output
    saturation = None if output.saturation_voltage is None else output.saturation_voltage.max
    limits = (
        ("voltage_max", output.voltage_max, MOST_OUTPUT_VOLTS, "V"),
        ("current_max", output.current_max, MOST_OUTPUT_AMPS, "A"),
        ("saturation_voltage", saturation, MOST_SATURATION, "V"),
    )
    for key, value, most, unit in limits:
        if value is not None and value > most:
            text = f"{show(value, unit)} is more than outputs of couplers have"
            yield place._replace(key=f"{place.key}.{key}", text=text, cure="mind the unit")


def _led(record: PartRecord, place: Mistake) -> Iterator[Mistake]:
    """What its LED takes and drops."""
    led = record.led
    voltage = led.forward_voltage
    for volts in () if voltage is None else (voltage.min, voltage.typ, voltage.max):
        if volts is not None and not LEAST_VF <= volts <= MOST_VF:
            text = f"no LED drops {show(volts, 'V')}"
            yield place._replace(key=f"{place.key}.forward_voltage", text=text, cure="one LED has about 1 V to 4 V")
    most, ratio = led.forward_current_max, record.transfer.ratio
    if most is not None and not LED_AMPS[0] <= most <= LED_AMPS[1]:
        text = f"no LED of a coupler is made for {show(most, 'A')}"
        yield place._replace(key=f"{place.key}.forward_current_max", text=text, cure="mind mA and A")
    if led.reverse_voltage_max is not None and led.reverse_voltage_max > MOST_REVERSE:
        text = f"no LED blocks {show(led.reverse_voltage_max, 'V')}"
        yield place._replace(key=f"{place.key}.reverse_voltage_max", text=text, cure="VR of the LED, not of the output")
    needed = record.switching_current
    if most is not None and needed is not None and needed > most:
        text = f"it needs {show(needed, 'A')} to switch, and its LED takes {show(most, 'A')}"
        yield place._replace(key=f"{place.key}.forward_current_max", text=text, cure="one of the two has another unit")
    if most is not None and ratio is not None and ratio.current is not None and ratio.current > most:
        text = f"the ratio was measured at {show(ratio.current, 'A')}, and the LED takes {show(most, 'A')}"
        yield place._replace(key=f"{place.key}.forward_current_max", text=text, cure="one of the two has another unit")

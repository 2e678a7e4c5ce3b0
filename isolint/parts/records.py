"""The part record: one named tuple a table of a record file, attribute names equal to the TOML keys.

SI units, temperatures in degrees Celsius, ratios as plain numbers. None means that the record does not say. A table
that is absent is a record of nothing but None. (`from_` stands for the key `from`.)
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import NamedTuple

from isolint.units import Interval


class Curve(NamedTuple):
    """Points (x, y) with ascending x, joined by straight lines; over log x where x is a current."""

    points: tuple[tuple[float, float], ...]
    logarithmic: bool = False

    def at(self, x: float) -> float | None:
        """The value at x, None outside the points: a curve is never extrapolated."""
        points = self.points
        if not points or not points[0][0] <= x <= points[-1][0]:
            return None
        index = min(bisect_right(points, x, key=lambda point: point[0]), len(points) - 1)
        (left, low), (right, high) = points[max(index - 1, 0)], points[index]
        if x == left:
            return low
        if x == right:
            return high
        share = math.log(x / left) / math.log(right / left) if self.logarithmic else (x - left) / (right - left)
        return low + share * (high - low)


class Spec(NamedTuple):
    """A specified value with its spread, at a test current `at`."""

    min: float | None = None
    typ: float | None = None
    max: float | None = None
    at: float | None = None


class Ratio(NamedTuple):
    """A transfer ratio at a test LED current and output voltage, 25 degC."""

    min: float | None = None
    typ: float | None = None
    max: float | None = None
    current: float | None = None
    voltage: float | None = None


class Saturation(NamedTuple):
    """The output voltage `max` at the output current `at` and the LED current `drive`."""

    max: float
    at: float
    drive: float


class DarkCurrent(NamedTuple):
    """The off current `max` at the temperature `at`; hot is (current, temperature) of a second guaranteed point."""

    max: float
    at: float
    voltage: float | None = None
    hot: tuple[float, float] | None = None


class Level(NamedTuple):
    """A guaranteed level, `min` for a high and `max` for a low one, up to the current `at`."""

    min: float | None = None
    max: float | None = None
    at: float | None = None


class Derating(NamedTuple):
    """A limit falls by `slope` per kelvin above the temperature `from_`."""

    from_: float
    slope: float


class Ageing(NamedTuple):
    """Either the ratio that remains at the end of life, or the loss in one stress test."""

    remaining: float | None = None
    loss: float | None = None
    time: float | None = None
    current: float | None = None
    temperature: float | None = None


class Led(NamedTuple):
    """The LED of a coupler."""

    technology: str | None = None
    forward_voltage: Spec | None = None
    forward_current_max: float | None = None
    pulse_current_max: float | None = None
    reverse_voltage_max: float | None = None
    internal_resistor: Interval | None = None
    recommended_current_min: float | None = None
    recommended_current_max: float | None = None
    threshold_current: float | None = None
    off_voltage: float | None = None
    off_current: float | None = None
    derating: Derating | None = None


class Input(NamedTuple):
    """The logic input of a part without an LED."""

    low_max: float | None = None
    high_min: float | None = None
    current: float | None = None


class Transfer(NamedTuple):
    """Output current over LED current. versus_current is normalised to ratio.current, versus_temperature to 25 degC,
    versus_voltage to ratio.voltage. photo_gain: smallest current of the photodiode at the base over the LED current."""

    ratio: Ratio | None = None
    versus_current: Curve | None = None
    versus_temperature: Curve | None = None
    versus_voltage: Curve | None = None
    photo_gain: float | None = None
    ageing: Ageing | None = None


class Output(NamedTuple):
    """The output; `voltage` is what an isolated supply gives."""

    kind: str | None = None
    voltage: Interval | None = None
    voltage_max: float | None = None
    reverse_voltage_max: float | None = None
    current_max: float | None = None
    power_max: float | None = None
    saturation_voltage: Saturation | None = None
    dark_current: DarkCurrent | None = None
    low_level: Level | None = None
    high_level: Level | None = None
    leakage: float | None = None
    on_resistance: float | None = None
    derating: Derating | None = None


class Supply(NamedTuple):
    """The supply of the output side: operating range and current."""

    voltage: Interval | None = None
    current: float | None = None


class Timing(NamedTuple):
    """Times in seconds; a plain value in the record is a maximum."""

    rise: Spec | None = None
    fall: Spec | None = None
    turn_on: Spec | None = None
    turn_off: Spec | None = None
    delay_high: Spec | None = None
    delay_low: Spec | None = None
    storage: Spec | None = None
    load: float | None = None


class Thermal(NamedTuple):
    """Thermal resistances in K/W, temperatures in degrees Celsius."""

    led_to_ambient: float | None = None
    output_to_ambient: float | None = None
    junction_max: float | None = None
    ambient: Interval | None = None
    power_max: float | None = None
    derating: Derating | None = None


class Trigger(NamedTuple):
    """A phototriac's or photo-SCR's output. current_max is the largest LED trigger current."""

    current_max: float | None = None
    holding_current: float | None = None
    surge_current: float | None = None
    blocking_voltage: float | None = None
    on_voltage: float | None = None
    inhibit_voltage: float | None = None
    slew: float | None = None
    zero_crossing: bool | None = None


class Coil(NamedTuple):
    """A relay's coil at the reference temperature (25 degC unless stated)."""

    resistance: float | None = None
    tolerance: Interval | None = None
    voltage: float | None = None
    pull_in: float | None = None
    drop_out: float | None = None
    inductance: float | None = None
    internal_clamp: bool | None = None
    temperature_coefficient: float | None = None
    temperature: float | None = None


class Contact(NamedTuple):
    """A relay's contact."""

    form: str | None = None
    voltage_max: float | None = None
    current_max: float | None = None
    current_min: float | None = None


class Photodiodes(NamedTuple):
    """A linear coupler's photodiodes: servo_gain K1, transfer_gain K3."""

    servo_gain: Ratio | None = None
    transfer_gain: Spec | None = None
    current_max: float | None = None
    reverse_voltage_max: float | None = None


class Insulation(NamedTuple):
    """Insulation ratings: withstand and working_voltage rms, repetitive_peak and transient peak volts."""

    standard: str | None = None
    grade: str | None = None
    withstand: float | None = None
    working_voltage: float | None = None
    repetitive_peak: float | None = None
    transient: float | None = None
    creepage: float | None = None
    clearance: float | None = None
    slew_immunity: float | None = None


class Channel(NamedTuple):
    """One input and one output of a coupler, as pin names."""

    name: str
    input: tuple[str, ...]
    output: tuple[str, ...]


class PartRecord(NamedTuple):
    """What is known of a part. pins are in the order on the card; groups hold the pins joined inside, by name.

    key is where the record starts in its file: `parts.NAME`.
    """

    name: str
    type: str
    pins: tuple[str, ...]
    channels: tuple[Channel, ...]
    groups: tuple[tuple[str, ...], ...]
    source: str
    file: str
    key: str = ""
    led: Led = Led()
    input: Input = Input()
    transfer: Transfer = Transfer()
    output: Output = Output()
    supply: Supply = Supply()
    timing: Timing = Timing()
    thermal: Thermal = Thermal()
    trigger: Trigger = Trigger()
    coil: Coil = Coil()
    contact: Contact = Contact()
    photodiodes: Photodiodes = Photodiodes()
    insulation: Insulation = Insulation()

    @property
    def switching_current(self) -> float | None:
        """The LED current at which the part surely switches, amperes: the largest of its minima; None for none."""
        minima = (self.led.recommended_current_min, self.led.threshold_current, self.trigger.current_max)
        return max((value for value in minima if value is not None), default=None)

    def position(self, pin: str) -> int:
        """The position of a pin on the card (case does not matter)."""
        folded = pin.casefold()
        return next(index for index, name in enumerate(self.pins) if name.casefold() == folded)

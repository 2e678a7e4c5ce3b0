"""The part record: one class a table of a record file, one row a key.

SI units, temperatures in degrees Celsius, ratios as plain numbers. None means that the record does not say. A table
that is absent states nothing. Defaults that depend on the type of a part come from its generic family; a row holds
those that do not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from isolint import kinds as k
from isolint.curve import Curve
from isolint.parts import record_kinds as p
from isolint.parts.record_values import (
    Ageing,
    DarkCurrent,
    Derating,
    Level,
    Ratio,
    Saturation,
    Spec,
)
from isolint.rows import Row, Rows, Value, least

__all__ = [
    "Ageing",
    "Channel",
    "Coil",
    "Contact",
    "Curve",
    "DarkCurrent",
    "Derating",
    "Input",
    "Insulation",
    "Led",
    "Level",
    "Output",
    "PartRecord",
    "Photodiodes",
    "Ratio",
    "Saturation",
    "Spec",
    "Supply",
    "Thermal",
    "Timing",
    "Transfer",
    "Trigger",
]

TECHNOLOGIES = ("GaAs", "AlGaAs", "GaAsP")
GRADES = ("functional", "basic", "reinforced")
OUTPUT_KINDS = ("transistor", "open-collector", "push-pull", "triac", "mosfet", "photodiode", "contact", "supply")

LATER_LED = "for rules that this version does not have"
LATER_LOGIC = "for the rules about logic inputs and supplies, which this version has not"
LATER_TIME = "for the rules about speed, which this version has not"
LATER_MAINS = "for the rules about mains switching, which this version has not"
LATER_CONTACT = "for the rules about contacts, which this version has not"
LATER_LINEAR = "for rules about linear couplers that this version does not have"
LATER_BARRIER = "shown by `isolint barrier`, for rules about the barrier that this version does not have"

_TIME = '{ typ = "3 us", max = "18 us" }'
_WATTS = '{ from = "25 degC", slope = "2 mW/K" }'


HOT_POINT = '{ max = "100 nA", at = "25 degC", hot = ["10 uA", "85 degC"] }'
"""What else may be written of a dark current."""

WIDE_TEMPERATURES = '[["-40 degC", 0.80], ["25 degC", 1.0], ["100 degC", 0.60]]'
"""A curve over temperature that reaches further than the usual ones."""


class Led(Rows, table="parts.led"):
    """The LED of a coupler."""

    technology = Value(k.choice(*TECHNOLOGIES), "temperature coefficient of VF of {}")
    forward_voltage = Value(
        p.spec("V", '{ min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }', k.positive("A")),
        "forward voltage of {}",
    )
    forward_current_max = Value(k.positive("A"), "LED current limit of {}", '"50 mA"')
    pulse_current_max = Value(k.positive("A"), "pulse current limit of the LED of {}", '"500 mA"')
    reverse_voltage_max = Value(k.positive("V"), "reverse voltage limit of the LED of {}", '"5 V"')
    internal_resistor = Value(k.interval("ohm", above=0.0), "internal resistor of {}", '"1 kohm"')
    recommended_current_min = Value(k.positive("A"), "recommended LED current of {}", '"2 mA"')
    recommended_current_max = Value(k.positive("A"), "top LED current of {}", '"20 mA"', unread=LATER_LED)
    threshold_current = Value(k.positive("A"), "threshold current of {}", '"5 mA"')
    off_voltage = Value(k.positive("V"), "off voltage of {}", '"0.8 V"')
    off_current = Value(k.positive("A"), "off current of {}", '"250 uA"')
    bidirectional = Value(k.FLAG)
    derating = Value(p.derating("A/K", '{ from = "25 degC", slope = "0.7 mA/K" }'), "derating of the LED of {}")


class Input(Rows, table="parts.input"):
    """The logic input of a part without an LED."""

    low_max = Value(k.quantity("V"), "low level of the input of {}", '"0.8 V"', unread=LATER_LOGIC)
    high_min = Value(k.quantity("V"), "high level of the input of {}", '"2.0 V"', unread=LATER_LOGIC)
    current = Value(k.magnitude("A"), "input current of {}", '"1 uA"', unread=LATER_LOGIC)


class Transfer(Rows, table="parts.transfer"):
    """Output current over LED current. versus_current is normalised to ratio.current, versus_temperature to 25 degC,
    versus_voltage to ratio.voltage. photo_gain: smallest current of the photodiode at the base over the LED current."""

    ratio = Value(p.ratio('{ min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }'), "transfer ratio of {}")
    versus_current = Value(p.curve(k.positive("A"), True, '[["1 mA", 0.60], ["5 mA", 1.00]]'))
    versus_temperature = Value(
        p.curve(k.quantity("degC"), False, '[["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]')
    )
    versus_voltage = Value(p.curve(k.positive("V"), False, '[["0.4 V", 0.7], ["5 V", 1.0]]'))
    photo_gain = Value(
        k.positive("1"),
        "photo gain of {}",
        '"0.15 %"',
        least(1e-3, 2e-3, "default 0.1 to 0.2 % of the LED current (from memory)"),
    )
    ageing = Value(p.ageing("{ remaining = 0.8 }"), "ageing of {}")


class Output(Rows, table="parts.output"):
    """The output; `voltage` is what an isolated supply gives."""

    kind = Value(k.choice(*OUTPUT_KINDS))
    voltage = Value(k.interval("V"), "voltage of {}", '"5 V"', unread=LATER_LOGIC)
    voltage_max = Value(k.positive("V"), "largest output voltage of {}", '"70 V"')
    reverse_voltage_max = Value(k.positive("V"), "largest reverse voltage of the output of {}", '"6 V"')
    current_max = Value(k.positive("A"), "largest output current of {}", '"50 mA"')
    power_max = Value(k.positive("W"), "power rating of the output of {}", '"150 mW"')
    saturation_voltage = Value(
        p.saturation('{ max = "0.3 V", at = "2.4 mA", drive = "8 mA" }'), "saturation voltage of {}"
    )
    dark_current = Value(p.dark_current('{ max = "100 nA", at = "25 degC" }'), "dark current of {}")
    low_level = Value(p.level("max", '{ max = "0.6 V", at = "13 mA" }'), "low level of {}")
    high_level = Value(p.level("min", '{ min = "4 V", at = "1 mA" }'), "high level of {}", unread=LATER_LOGIC)
    leakage = Value(k.magnitude("A"), "off leakage of {}", '"100 uA"')
    on_resistance = Value(k.positive("ohm"), "on resistance of {}", '"25 ohm"', unread=LATER_LOGIC)
    derating = Value(p.derating("W/K", _WATTS), "ambient at which {} stands no power")


class Supply(Rows, table="parts.supply"):
    """The supply of the output side: operating range and current."""

    voltage = Value(k.interval("V", above=0.0), "supply range of {}", '["4.5 V", "5.5 V"]')
    current = Value(k.magnitude("A"), "supply current of {}", '"10 mA"')


class Timing(Rows, table="parts.timing"):
    """Times in seconds; a plain value in the record is a maximum."""

    rise = Value(p.time(_TIME), "rise time of {}", unread=LATER_TIME)
    fall = Value(p.time(_TIME), "fall time of {}", unread=LATER_TIME)
    turn_on = Value(p.time(_TIME), "turn-on time of {}", unread=LATER_TIME)
    turn_off = Value(p.time(_TIME), "turn-off time of {}", unread=LATER_TIME)
    delay_high = Value(p.time(_TIME), "delay of {} to high", unread=LATER_TIME)
    delay_low = Value(p.time(_TIME), "delay of {} to low", unread=LATER_TIME)
    storage = Value(p.time(_TIME), "storage time of {}", unread=LATER_TIME)
    load = Value(k.positive("ohm"), "test load of {}", '"100 ohm"', unread=LATER_TIME)


class Thermal(Rows, table="parts.thermal"):
    """Thermal resistances in K/W, temperatures in degrees Celsius."""

    led_to_ambient = Value(k.positive("K/W"), "thermal resistance of the LED of {}", '"400 K/W"')
    output_to_ambient = Value(k.positive("K/W"), "thermal resistance of the output of {}", '"400 K/W"')
    junction_max = Value(k.quantity("degC"), "highest junction temperature of {}", '"125 degC"')
    ambient = Value(k.interval("degC"), "operating range of {}", '["-40 degC", "85 degC"]', unread=LATER_LED)
    power_max = Value(k.positive("W"), "power rating of {}", '"200 mW"')
    derating = Value(p.derating("W/K", _WATTS), "ambient at which {} stands no power")


class Trigger(Rows, table="parts.trigger"):
    """A phototriac's or photo-SCR's output. current_max is the largest LED trigger current."""

    current_max = Value(k.positive("A"), "LED trigger current of {}", '"10 mA"')
    holding_current = Value(k.positive("A"), "holding current of {}", '"1 mA"', unread=LATER_MAINS)
    surge_current = Value(k.positive("A"), "surge current of {}", '"1 A"', unread=LATER_MAINS)
    blocking_voltage = Value(k.positive("V"), "blocking voltage of {}", '"600 V"', unread=LATER_MAINS)
    on_voltage = Value(k.positive("V"), "on voltage of {}", '"3 V"', unread=LATER_MAINS)
    inhibit_voltage = Value(k.positive("V"), "inhibit voltage of {}", '"20 V"', unread=LATER_MAINS)
    slew = Value(k.positive("V/s"), "slew rate that {} stands", '"600 V/us"', unread=LATER_MAINS)
    zero_crossing = Value(k.FLAG, unread=LATER_MAINS)


class Coil(Rows, table="parts.coil"):
    """A relay's coil at the reference temperature (25 degC unless stated)."""

    resistance = Value(k.positive("ohm"), "coil resistance of {}", '"1440 ohm"')
    tolerance = Value(k.tolerance("1", low=-1.0), "tolerance of the coil of {}", '"10 %"', nominal=0.0)
    voltage = Value(k.positive("V"), "nominal voltage of {}", '"24 V"')
    pull_in = Value(k.positive("V"), "pull-in voltage of {}", '"16.8 V"')
    drop_out = Value(k.positive("V"), "drop-out voltage of {}", '"2.4 V"')
    inductance = Value(k.positive("H"), "inductance of {}", '"2 H"')
    internal_clamp = Value(k.FLAG)
    temperature_coefficient = Value(k.quantity("1/K"), "temperature coefficient of the coil of {}", '"0.0039 1/K"')
    temperature = Value(k.quantity("degC"), "reference temperature of the coil of {}", '"25 degC"')


class Contact(Rows, table="parts.contact"):
    """A relay's contact."""

    form = Value(k.TEXT, example='"A"', unread=LATER_CONTACT)
    voltage_max = Value(k.positive("V"), "contact voltage of {}", '"250 V"', unread=LATER_CONTACT)
    current_max = Value(k.positive("A"), "contact current of {}", '"5 A"', unread=LATER_CONTACT)
    current_min = Value(k.magnitude("A"), "least contact current of {}", '"10 mA"', unread=LATER_CONTACT)


class Photodiodes(Rows, table="parts.photodiodes"):
    """A linear coupler's photodiodes: servo_gain K1, transfer_gain K3."""

    servo_gain = Value(
        p.ratio('{ min = 0.006, max = 0.017, current = "10 mA" }'), "servo gain of {}", unread=LATER_LINEAR
    )
    transfer_gain = Value(p.spec("1", "{ min = 0.85, max = 1.15 }"), "transfer gain of {}", unread=LATER_LINEAR)
    current_max = Value(k.positive("A"), "photodiode current of {}", '"5 mA"', unread=LATER_LINEAR)
    reverse_voltage_max = Value(k.positive("V"), "photodiode voltage of {}", '"30 V"', unread=LATER_LINEAR)


class Insulation(Rows, table="parts.insulation"):
    """Insulation ratings: withstand and working_voltage rms, repetitive_peak and transient peak volts."""

    standard = Value(k.TEXT, example='"IEC 60747-5-5"', unread=LATER_BARRIER)
    grade = Value(k.choice(*GRADES), unread=LATER_BARRIER)
    withstand = Value(k.positive("V"), "withstand voltage of {}", '"5000 V"', unread=LATER_BARRIER)
    working_voltage = Value(k.positive("V"), "working voltage of {}", '"600 V"', unread=LATER_BARRIER)
    repetitive_peak = Value(k.positive("V"), "repetitive peak voltage of {}", '"848 V"', unread=LATER_BARRIER)
    transient = Value(k.positive("V"), "transient voltage of {}", '"8000 V"', unread=LATER_BARRIER)
    creepage = Value(k.positive("m"), "creepage of {}", '"8 mm"', unread=LATER_BARRIER)
    clearance = Value(k.positive("m"), "clearance of {}", '"7 mm"', unread=LATER_BARRIER)
    slew_immunity = Value(k.positive("V/s"), "slew immunity of {}", '"10 kV/us"', unread=LATER_BARRIER)


SECTIONS: tuple[type[Rows], ...] = (
    Led,
    Input,
    Transfer,
    Output,
    Supply,
    Timing,
    Thermal,
    Trigger,
    Coil,
    Contact,
    Photodiodes,
    Insulation,
)
"""The tables of a record, in its order."""


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

    def path_of(self, row: Row[Any]) -> str:
        """The dotted key of a value in the file of the record."""
        return f"{self.key}.{row.table.removeprefix('parts.')}.{row.key}"

    def entries(self) -> Iterator[Row[Any]]:
        """The rows of what it states, table by table."""
        for table in SECTIONS:
            rows: Rows = getattr(self, table.TABLE.removeprefix("parts."))
            yield from (table.ROWS[name] for name, _ in rows.items())

    def with_sections(self, change: Callable[[Any], Any]) -> PartRecord:
        """The record with each of its tables changed."""
        names = (table.TABLE.removeprefix("parts.") for table in SECTIONS)
        return self._replace(**{name: change(getattr(self, name)) for name in names})

    def position(self, pin: str) -> int:
        """The position of a pin on the card (case does not matter)."""
        folded = pin.casefold()
        return next(index for index, name in enumerate(self.pins) if name.casefold() == folded)

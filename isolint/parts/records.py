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
from isolint.parts.record_insulation import Insulation
from isolint.parts.record_reference import AmplifierValues, Reference
from isolint.parts.record_relay import Coil, Contact
from isolint.parts.record_servo import Photodiodes
from isolint.parts.record_supply import Supply, SupplyOf
from isolint.parts.record_switching import FROM_MEMORY, Thyristor, Trigger
from isolint.parts.record_timing import Timing
from isolint.parts.record_values import (
    Ageing,
    DarkCurrent,
    Derating,
    Leakage,
    Ratio,
    RecordLevel,
    Saturation,
    Spec,
)
from isolint.rows import Row, Rows, Value, least, most

__all__ = [
    "Ageing",
    "AmplifierValues",
    "ChannelPins",
    "Coil",
    "Contact",
    "Curve",
    "DarkCurrent",
    "Derating",
    "Input",
    "Insulation",
    "Leakage",
    "Led",
    "Output",
    "PartRecord",
    "Photodiodes",
    "Ratio",
    "RecordLevel",
    "Reference",
    "Saturation",
    "Spec",
    "Supply",
    "SupplyOf",
    "Thermal",
    "Thyristor",
    "Timing",
    "Transfer",
    "Trigger",
]

TECHNOLOGIES = ("GaAs", "AlGaAs", "GaAsP")
OUTPUT_KINDS = ("transistor", "open-collector", "push-pull", "triac", "mosfet", "photodiode", "contact", "supply")

LATER_LED = "for rules that this version does not have"
LATER_LOGIC = "for the rules about logic inputs and supplies, which this version has not"

_WATTS = '{ from = "25 degC", slope = "2 mW/K" }'


HOT_POINT = '{ max = "100 nA", at = "25 degC", hot = ["10 uA", "85 degC"] }'
"""What else may be written of a dark current."""

WIDE_TEMPERATURES = '[["-40 degC", 0.80], ["25 degC", 1.0], ["100 degC", 0.60]]'
"""A curve over temperature that reaches further than the usual ones."""


class Led(Rows, table="parts.led"):
    """The LED of a coupler."""

    technology = Value(
        k.choice(*TECHNOLOGIES),
        "temperature coefficient of VF of {}",
        sheet="LED material (GaAs infrared, AlGaAs, GaAsP red)",
    )
    forward_voltage = Value(
        p.spec("V", '{ min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }', k.positive("A")),
        "forward voltage of {}",
        sheet="VF, forward voltage",
    )
    forward_current_max = Value(
        k.positive("A"), "LED current limit of {}", '"50 mA"', sheet="IF, absolute maximum continuous forward current"
    )
    pulse_current_max = Value(
        k.positive("A"),
        "pulse current limit of the LED of {}",
        '"500 mA"',
        sheet="IFP, IFSM, absolute maximum peak forward current",
    )
    pulse_time = Value(
        k.positive("s"),
        "how long the LED of {} takes its pulse limit",
        '"100 us"',
        least(1e-6, 10e-3, "default 1 us to 10 ms (from memory)"),
        sheet="tp, pulse width of the peak forward current",
    )
    reverse_voltage_max = Value(
        k.positive("V"), "reverse voltage limit of the LED of {}", '"5 V"', sheet="VR, absolute maximum reverse voltage"
    )
    internal_resistor = Value(
        k.interval("ohm", above=0.0), "internal resistor of {}", '"1 kohm"', sheet="series resistor inside the part"
    )
    recommended_current_min = Value(
        k.positive("A"), "recommended LED current of {}", '"2 mA"', sheet="IF(ON), smallest recommended LED current"
    )
    recommended_current_max = Value(
        k.positive("A"),
        "top LED current of {}",
        '"20 mA"',
        unread=LATER_LED,
        sheet="IF(ON), largest recommended LED current",
    )
    threshold_current = Value(
        k.positive("A"), "threshold current of {}", '"5 mA"', sheet="IFLH, IFHL, IFT, largest threshold LED current"
    )
    threshold_temperature = Value(
        k.interval("degC", single=False),
        "range over which the threshold current of {} is guaranteed",
        '["-40 degC", "105 degC"]',
        sheet="ambient range for which the threshold current is guaranteed",
    )
    off_voltage = Value(
        k.positive("V"), "off voltage of {}", '"0.8 V"', sheet="VF(OFF), forward voltage at which it is surely off"
    )
    off_current = Value(
        k.positive("A"), "off current of {}", '"250 uA"', sheet="IF(OFF), LED current at which it is surely off"
    )
    bidirectional = Value(k.FLAG, sheet="AC input: two LEDs in antiparallel")
    derating = Value(
        p.derating("A/K", '{ from = "25 degC", slope = "0.7 mA/K" }'),
        "derating of the LED of {}",
        sheet="forward current derating against ambient temperature",
    )


class Input(Rows, table="parts.input"):
    """The input of a part: of one without an LED, and what enables one. range: of one that takes a voltage."""

    low_max = Value(k.quantity("V"), "low level of the input of {}", '"0.8 V"', sheet="VIL, low-level input voltage")
    high_min = Value(k.quantity("V"), "high level of the input of {}", '"2.0 V"', sheet="VIH, high-level input voltage")
    low_ratio = Value(
        k.number(0.0, 1.0),
        "low level of the input of {} over its supply",
        "0.3",
        least(0.3, 0.5),
        sheet="VIL as a share of the supply",
    )
    high_ratio = Value(
        k.number(0.0, 1.0),
        "high level of the input of {} over its supply",
        "0.7",
        most(0.5, 0.7),
        sheet="VIH as a share of the supply",
    )
    current = Value(
        k.magnitude("A"),
        "input current of {}",
        '"1 uA"',
        most(0.0, 10e-6, "default 0 to 10 uA (from memory)"),
        sheet="IIL, IIH, input current",
    )
    voltage_max = Value(
        k.positive("V"), "largest voltage at the input of {}", '"5.5 V"', sheet="VI, absolute maximum input voltage"
    )
    pull = Value(k.choice("up", "down", "none"), sheet="pull-up or pull-down inside at the input")
    range = Value(
        k.interval("V", single=False),
        "linear input range of {}",
        '["-0.2 V", "0.2 V"]',
        sheet="linear input range of an isolated amplifier or modulator",
    )


class Transfer(Rows, table="parts.transfer"):
    """Output current over LED current. versus_current is normalised to ratio.current, versus_temperature to 25 degC,
    versus_voltage to ratio.voltage. photo_gain: smallest current of the photodiode at the base over the LED current."""

    ratio = Value(
        p.ratio('{ min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }'),
        "transfer ratio of {}",
        sheet="CTR, current transfer ratio IC/IF, with IF and VCE of its test",
    )
    versus_current = Value(
        p.curve(k.positive("A"), True, '[["1 mA", 0.60], ["5 mA", 1.00]]'),
        sheet="curve of CTR against IF, 1.0 at the test current",
    )
    versus_temperature = Value(
        p.curve(k.quantity("degC"), False, '[["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]'),
        sheet="curve of CTR against ambient temperature, 1.0 at 25 degC",
    )
    versus_voltage = Value(
        p.curve(k.positive("V"), False, '[["0.4 V", 0.7], ["5 V", 1.0]]'),
        sheet="curve of IC against VCE, 1.0 at the test voltage",
    )
    photo_gain = Value(
        k.positive("1"),
        "photo gain of {}",
        '"0.15 %"',
        least(1e-3, 2e-3, "default 0.1 to 0.2 % of the LED current (from memory)"),
        sheet="collector-base photocurrent ICBO(light) over IF",
    )
    ageing = Value(p.ageing("{ remaining = 0.8 }"), "ageing of {}", sheet="CTR that remains at the end of life")


class Output(Rows, table="parts.output"):
    """The output; `voltage` is what an isolated supply gives."""

    kind = Value(k.choice(*OUTPUT_KINDS), sheet="what the output is")
    voltage = Value(k.interval("V"), "voltage of {}", '"5 V"', sheet="output voltage")
    voltage_max = Value(
        k.positive("V"), "largest output voltage of {}", '"70 V"', sheet="VCEO, VDRM, absolute maximum output voltage"
    )
    reverse_voltage_max = Value(
        k.positive("V"),
        "largest reverse voltage of the output of {}",
        '"6 V"',
        sheet="VECO, absolute maximum reverse voltage of the output",
    )
    current_max = Value(
        k.positive("A"), "largest output current of {}", '"50 mA"', sheet="IC, absolute maximum output current"
    )
    power_max = Value(
        k.positive("W"),
        "power rating of the output of {}",
        '"150 mW"',
        sheet="PC, absolute maximum power of the output",
    )
    saturation_voltage = Value(
        p.saturation('{ max = "0.3 V", at = "2.4 mA", drive = "8 mA" }'),
        "saturation voltage of {}",
        sheet="VCE(sat) with its IC and IF",
    )
    dark_current = Value(
        p.dark_current('{ max = "100 nA", at = "25 degC" }'), "dark current of {}", sheet="ICEO, collector dark current"
    )
    low_level = Value(p.level("max", '{ max = "0.6 V", at = "13 mA" }'), "low level of {}", sheet="VOL with its IOL")
    high_level = Value(
        p.level("min", '{ min = "4 V", at = "1 mA" }'),
        "high level of {}",
        sheet="VOH with its IOH; below 0 V how far below the supply",
    )
    leakage = Value(k.magnitude("A"), "off leakage of {}", '"100 uA"', sheet="IOFF, off-state leakage current")
    peak_current_max = Value(
        k.positive("A"), "largest peak current of the output of {}", '"2.5 A"', sheet="IO(peak), peak output current"
    )
    peak_drop = Value(
        k.magnitude("V"),
        "drop of {} at its peak current",
        '"2 V"',
        least(0.0, 2.5, "default 0 to 2.5 V (from memory)"),
        sheet="VOL at the peak output current",
    )
    switching_energy = Value(
        k.positive("J"),
        "energy that the output of {} loses a period",
        '"5 uJ"',
        sheet="ESW, energy of the output a period, at the board's gate charge and resistor",
    )
    self_limited = Value(k.FLAG, sheet="whether it limits its output current by itself (short-circuit proof)")
    open_voltage = Value(
        p.spec("V", '{ min = "8 V", typ = "9 V" }'), "open voltage of {}", sheet="VOC, open-circuit output voltage"
    )
    short_current = Value(
        p.short_current('{ min = "8 uA", drive = "10 mA" }'),
        "short-circuit current of {}",
        sheet="ISC, short-circuit output current with its LED current",
    )
    voltage_coefficient = Value(
        k.number(0.0),
        "loss of the open voltage of {} a kelvin",
        '"0.3 %"',
        most(0.0, 0.003, "default 0 to 0.3 % a kelvin (from memory)"),
        sheet="temperature coefficient of VOC, as a share a kelvin",
    )
    output_curve = Value(
        p.curve(k.positive("V"), False, '[["4 V", 0.9], ["7 V", 0.4]]'),
        "curve of the output of {}",
        sheet="curve of the output current over ISC against the output voltage",
    )
    versus_temperature = Value(
        p.curve(k.quantity("degC"), False, '[["-40 degC", 1.1], ["25 degC", 1.0], ["85 degC", 0.8]]'),
        sheet="curve of the output's figure against ambient temperature, 1.0 at 25 degC",
    )
    discharge = Value(p.discharge("true"), "turn-off circuit inside {}", sheet="turn-off circuit or resistor inside")
    default = Value(
        k.choice("low", "high", "hi-z"),
        "level of the output of {} without supply or signal",
        '"low"',
        sheet="default state of the output",
    )
    sink_resistance = Value(
        k.positive("ohm"),
        "resistance with which the output of {} sinks",
        '"2.5 ohm"',
        sheet="resistance of the output to its lower rail, where it is another than to the upper",
    )
    on_resistance = Value(k.positive("ohm"), "on resistance of {}", '"25 ohm"', sheet="RON, on-state resistance")
    bidirectional = Value(k.FLAG, sheet="whether the output switches current both ways")
    current_is = Value(k.choice("rms", "peak"), "kind of the current rating of {}", sheet="whether IO is rms or peak")
    pulse_current_max = Value(
        k.positive("A"), "pulse current of the output of {}", '"1 A"', sheet="ILP, ITSM, peak load current of pulses"
    )
    current_min = Value(
        k.positive("A"),
        "least load current of {}",
        '"50 mA"',
        most(1e-3, 100e-3, FROM_MEMORY),
        sheet="minimum load current",
    )
    on_voltage = Value(
        k.positive("V"),
        "on voltage of {}",
        '"1.5 V"',
        most(0.8, 1.6, FROM_MEMORY),
        sheet="VT, on-state voltage of a solid-state relay",
    )
    capacitance_max = Value(
        k.positive("F"),
        "largest capacitance at the output of {}",
        '"100 uF"',
        sheet="maximum capacitive load of an isolated supply",
    )
    internal_snubber = Value(k.FLAG, sheet="whether a snubber is inside, across the output")
    derating = Value(
        p.derating("W/K", _WATTS), "ambient at which {} stands no power", sheet="power derating of the output"
    )


class Thermal(Rows, table="parts.thermal"):
    """Thermal resistances in K/W, temperatures in degrees Celsius."""

    led_to_ambient = Value(
        k.positive("K/W"), "thermal resistance of the LED of {}", '"400 K/W"', sheet="RthJA of the LED"
    )
    output_to_ambient = Value(
        k.positive("K/W"), "thermal resistance of the output of {}", '"400 K/W"', sheet="RthJA of the output"
    )
    junction_max = Value(
        k.quantity("degC"),
        "highest junction temperature of {}",
        '"125 degC"',
        sheet="TJ, absolute maximum junction temperature",
    )
    ambient = Value(
        k.interval("degC"),
        "operating range of {}",
        '["-40 degC", "85 degC"]',
        unread=LATER_LED,
        sheet="Topr, operating temperature",
    )
    power_max = Value(k.positive("W"), "power rating of {}", '"200 mW"', sheet="Ptot, absolute maximum total power")
    derating = Value(p.derating("W/K", _WATTS), "ambient at which {} stands no power", sheet="total power derating")


SECTIONS: tuple[type[Rows], ...] = (
    Led,
    Input,
    Transfer,
    Output,
    Supply,
    Timing,
    Thermal,
    Trigger,
    Thyristor,
    Reference,
    AmplifierValues,
    Coil,
    Contact,
    Photodiodes,
    Insulation,
)
"""The tables of a record, in its order."""


class ChannelPins(NamedTuple):
    """One input and one output of a coupler, as pin names."""

    name: str
    input: tuple[str, ...]
    output: tuple[str, ...]


class PartRecord(NamedTuple):
    """What is known of a part. pins are in the order on the card; groups hold the pins joined inside, by name.

    supplies: where several are stated, each with its pins. key is where the record starts in its file: `parts.NAME`.
    named: whether pin names alone tell the groups.
    """

    name: str
    type: str
    pins: tuple[str, ...]
    channels: tuple[ChannelPins, ...]
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
    thyristor: Thyristor = Thyristor()
    reference: Reference = Reference()
    amplifier: AmplifierValues = AmplifierValues()
    coil: Coil = Coil()
    contact: Contact = Contact()
    photodiodes: Photodiodes = Photodiodes()
    insulation: Insulation = Insulation()
    named: bool = False
    supplies: tuple[SupplyOf, ...] = ()

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

    def supply_of(self, pin: str) -> SupplyOf | None:
        """What it states of the supply at a pin, None where that says nothing.

        One that names neither pins nor side is that of every supply pin.
        """
        folded = pin.casefold()
        for one in self.supplies:
            if folded in (name.casefold() for name in one.pins):
                return one
        side = self.supply.side
        if self.supplies or not any(self.supply.items()):
            return None
        own = side is None or any(
            {folded, side.casefold()} <= {name.casefold() for name in group} for group in self.groups
        )
        return SupplyOf((pin,), self.supply) if own else None

    def with_sections(self, change: Callable[[Any], Any]) -> PartRecord:
        """The record with each of its tables changed."""
        names = (table.TABLE.removeprefix("parts.") for table in SECTIONS)
        return self._replace(**{name: change(getattr(self, name)) for name in names})

    def position(self, pin: str) -> int:
        """The position of a pin on the card (case does not matter)."""
        folded = pin.casefold()
        return next(index for index, name in enumerate(self.pins) if name.casefold() == folded)

"""The stated facts: one class a table of isolint.toml, one row a key.

Everything is in SI units, temperatures in degrees Celsius. None means that nobody stated it. (`class_` stands for
the key `class`.) To add a fact, add its row here; DEVELOPERS.md shows the walk.
"""

from __future__ import annotations

from datetime import date
from typing import Any, Generic, NamedTuple, TypeVar, overload

from isolint import kinds as k
from isolint import types
from isolint.rows import Row, Rows, Usual, either, least, most, point
from isolint.tables import Kind, Table
from isolint.units import Interval

T = TypeVar("T")

HOURS = 3600.0
LIFE_YEARS = 10.0
YEAR = 8766.0 * HOURS


class Stated(NamedTuple, Generic[T]):
    """A value with its origin: the file, the dotted TOML key there, and the text that was written."""

    value: T
    file: str
    key: str
    text: str = ""


class Fact(Row[T]):
    """A row of isolint.toml: instances give the value with its origin."""

    @overload
    def __get__(self, rows: None, owner: type[Rows]) -> Fact[T]: ...
    @overload
    def __get__(self, rows: Rows, owner: type[Rows]) -> Stated[T] | None: ...
    def __get__(self, rows: Rows | None, owner: type[Rows]) -> Fact[T] | Stated[T] | None:
        return self if rows is None else None


class Level(NamedTuple):
    """A guaranteed level in volts, `min` for a high and `max` for a low one, up to the current `at`."""

    min: float | None = None
    max: float | None = None
    at: float | None = None


_RESISTORS = "default, 0603 chip to large resistor (common practice, no source)"
# Watts and volts of an 0603 chip and of the largest resistor that people fit without a word about it.


def _level(bound: str, example: str) -> Kind[Level]:
    table = Table({bound: k.quantity("V"), "at": k.magnitude("A")}, required=(bound, "at"))
    return k.record(table, Level, "a level with its current", example)


def _spread(ratio: float, text: str) -> Usual:
    return either(-ratio, 0.0, ratio, text=text)


PROFILE = k.choice("iec-60664-1", "iec-62368-1", "iec-60601-1", "iec-61010-1")
# The families of tables by which a barrier is judged.


class Reading(Rows, table="reading"):
    """How the netlist is read. include_root is a folder in the tree, already resolved.

    isolation: "none" claims that nothing on the board isolates; it counts only beside the netlist itself. exported: a
    schematic tool writes the netlist, so that nobody should mend it there.
    """

    include_root = Fact(k.TEXT, example='"."')
    simulation_ground = Fact(k.TEXT, example='"0"')
    simulation_only = Fact(k.texts('["VCM*"]'))
    isolation = Fact(k.choice("none"))
    exported = Fact(k.FLAG)


class Environment(Rows, table="environment"):
    """Where and how long the board works. life in seconds, duty as a ratio, altitude in metres."""

    ambient = Fact(
        k.interval("degC"),
        "ambient temperature",
        '["0 degC", "70 degC"]',
        either(0.0, 25.0, 70.0, text='["0 degC", "70 degC"]'),
    )
    life = Fact(k.magnitude("s"), "life", '"10 year"', point(LIFE_YEARS * YEAR, 0.0, text='"10 year"'))
    duty = Fact(k.number(0.0, 1.0), "duty", "1.0", point(1.0, 0.0, text="1.0"))
    altitude = Fact(k.quantity("m"), "altitude", '"2000 m"', point(2000.0, 2000.0, text='"2000 m"'))
    pollution_degree = Fact(k.integer(1, 4), "pollution degree", "2", point(2.0, 2.0, text="2"))
    profile = Fact(PROFILE, "profile", '"iec-60664-1"')


class Limits(Rows, table="limits"):
    """Limits that replace common practice, points; insulating_resistance in ohms."""

    drive_headroom = Fact(k.number(above=0.0), "drive headroom", "1.3", point(1.3, 1.3, text="1.3"))
    transfer_margin = Fact(k.number(above=0.0), "transfer margin", "1.2", point(1.2, 1.2, text="1.2"))
    pulse_distortion = Fact(
        k.number(above=0.0, high=1.0),
        "pulse distortion as a share of the shortest pulse",
        "0.25",
        point(0.5, 0.5, "half of a pulse must be left (common practice, no source)"),
        cases={"baud": point(0.25, 0.25, "for sampling in the middle of a bit (from memory)")},
    )
    bypass = Fact(k.positive("F"), "smallest bypass capacitor", '"1 uF"', point(100e-9, 100e-9, text='"100 nF"'))
    pull_in_margin = Fact(k.number(above=0.0), "pull-in margin", "1.1", point(1.0, 1.0, text="1.0"))
    insulating_resistance = Fact(
        k.positive("ohm"), "insulating resistance", '"1 Mohm"', point(1e6, 1e6, text='"1 Mohm"')
    )
    blocking_margin = Fact(k.number(above=0.0), "blocking margin", "1.2", point(1.2, 1.2, text="1.2"))
    firing_fraction = Fact(k.number(above=0.0, high=1.0), "firing fraction", "0.5", point(0.5, 0.5, text="0.5"))
    slew_margin = Fact(k.number(above=0.0), "slew margin", "1.5", point(1.5, 1.0, text="1.5"))


class ElementFacts(Rows, table="elements"):
    """Facts about one element or part; tolerance and tempco are deviations around zero."""

    tolerance = Fact(
        k.tolerance("1", low=-1.0),
        "tolerance of {}",
        '"1 %"',
        _spread(0.05, '"5 %"'),
        nominal=0.0,
        cases={"C": _spread(0.2, '"20 %"')},
    )
    tempco = Fact(k.tolerance("1/K"), "tempco of {}", '"100 ppm/K"', nominal=0.0)
    power = Fact(
        k.positive("W"),
        "power rating of {}",
        '"0.25 W"',
        least(0.1, 1.0, _RESISTORS),
    )
    voltage = Fact(
        k.positive("V"),
        "voltage rating of {}",
        '"200 V"',
        least(75.0, 350.0, _RESISTORS),
    )
    pulse_energy = Fact(
        k.positive("J"),
        "pulse energy of {}",
        '"1 J"',
        least(0.1, 10.0, "default, the rated power for 0.1 s to 10 s (from memory)"),
    )
    class_ = Fact(k.choice("X1", "X2", "X3", "Y1", "Y2", "Y3", "Y4"), "class of {}", '"Y2"')
    part = Fact(k.TEXT, "part of {}", '"DEMO_PART"')
    type = Fact(k.choice(*types.NAMES, listing=types.described), "type of {}")
    ordinary = Fact(k.FLAG)
    gain_min = Fact(k.number(above=0.0), "smallest current gain of {}", "50")
    saturation_current = Fact(k.interval("A", above=0.0), "saturation current of {}", '["2 mA", "6 mA"]')
    pinch_off = Fact(k.interval("V", above=0.0), "pinch-off voltage of {}", '["1 V", "4 V"]')
    gate_full_on = Fact(k.quantity("V"), "gate voltage of {} fully on", '"4.5 V"')
    gate_voltage = Fact(k.interval("V", single=False), "gate voltage of {} that it stands", '["-20 V", "20 V"]')
    gate_threshold_min = Fact(k.positive("V"), "smallest threshold of {}", '"2 V"')
    drop_out = Fact(k.positive("V"), "voltage at which coil {} lets go", '"2.4 V"')
    gate_charge = Fact(k.positive("C"), "gate charge of {} at its drive", '"60 nC"')
    gate_resistance = Fact(k.magnitude("ohm"), "resistance inside the gate of {}", '"2 ohm"')
    turn_on_time = Fact(k.magnitude("s"), "shortest turn-on time of {}", '"20 ns"')
    turn_off_time = Fact(k.magnitude("s"), "longest turn-off time of {}", '"150 ns"')
    miller_capacitance = Fact(k.positive("F"), "capacitance between gate and drain of {}", '"50 pF"')
    clamp_voltage = Fact(k.positive("V"), "largest voltage that {} lets stand in a surge", '"775 V"')
    sheet = Fact(k.FLAG)
    safety_resistor = Fact(k.FLAG)


class SupplyFacts(Rows, table="supplies"):
    """A net held at a voltage; a pair as voltage is the whole range, one value is a point that `tolerance` widens."""

    voltage = Fact(k.interval("V"), "supply {}", '"5 V"')
    tolerance = Fact(k.tolerance("1", low=-1.0), "tolerance of supply {}", '"5 %"', _spread(0.05, '"5 %"'), nominal=0.0)
    ground = Fact(k.TEXT, "ground of supply {}", '"GND"')
    kind = Fact(k.choice("dc", "ac"), "kind of supply {}", '"ac"')
    frequency = Fact(k.positive("Hz"), "frequency of supply {}", '"50 Hz"')
    surge = Fact(k.positive("V"), "largest surge of supply {}", '"1 kV"')
    load = Fact(k.interval("A", low=0.0), "current that the rest on supply {} takes", '["10 mA", "40 mA"]')
    phase = Fact(
        k.choice("0 deg", "90 deg", "120 deg", "180 deg", "240 deg"),
        "phase of supply {} against others",
        '"120 deg"',
        point(180.0, 0.0, "default, anything from against to with the other supply"),
    )

    @property
    def alternates(self) -> bool:
        """Whether it is an AC supply; a frequency says so too where no kind is stated."""
        return self.frequency is not None if self.kind is None else self.kind.value == "ac"

    @property
    def stated_range(self) -> Interval | None:
        """The range of the voltage as far as it is stated: a pair, or a value with a tolerance; else None."""
        if self.voltage is None:
            return None
        voltage = self.voltage.value
        if not voltage.is_point:
            return voltage
        if self.tolerance is None:
            return None
        spread = self.tolerance.value
        ends = (voltage.low * (1.0 + spread.low), voltage.low * (1.0 + spread.high))
        return Interval(min(ends), max(ends))


class OutputFacts(Rows, table="outputs"):
    """A net that another part's output drives."""

    supply = Fact(k.TEXT, "supply of output {}", '"V3V3"')
    drive = Fact(k.choice("push-pull", "open-drain", "high-side"), "drive of output {}")
    high = Fact(_level("min", '{ min = "2.9 V", at = "4 mA" }'), "high level of output {}")
    low = Fact(_level("max", '{ max = "0.4 V", at = "4 mA" }'), "lowest level of output {}")
    source_max = Fact(k.magnitude("A"), "source_max of output {}", '"8 mA"')
    sink_max = Fact(k.magnitude("A"), "sink_max of output {}", '"8 mA"')
    off_leakage = Fact(
        k.magnitude("A"),
        "off leakage of output {}",
        '"1 uA"',
        most(0.0, 10e-6, "default 0 to 10 uA (from memory)"),
    )
    voltage_max = Fact(k.positive("V"), "highest voltage that the pin of output {} may see", '"5.5 V"')
    high_max = Fact(k.quantity("V"), "highest level of output {}", '"3.4 V"')
    group = Fact(k.TEXT, "group of output {}", '"port A"')
    exclusive = Fact(k.TEXT, "set of output {}", '"set name"')
    unpowered = Fact(k.FLAG, "output {} unpowered")


class GroupFacts(Rows, table="groups"):
    """Outputs that share a current limit."""

    def __init__(self, name: str, **values: Any) -> None:
        super().__init__(**values)
        self.name = name

    current_max = Fact(k.positive("A"), "current_max of group {}", '"50 mA"')


class InputFacts(Rows, table="inputs"):
    """A net that a logic input reads, or a controller's pin: control_range is where that acts. Currents are magnitudes.

    source_current: what a source inside gives out of the pin.
    """

    supply = Fact(k.TEXT, "supply of input {}", '"V3V3"')
    low_max = Fact(k.quantity("V"), "low level of input {}", '"0.8 V"')
    high_min = Fact(k.quantity("V"), "high level of input {}", '"2.0 V"')
    low_current = Fact(
        k.magnitude("A"), "low current of input {}", '"1 uA"', most(0.0, 10e-6, "default 0 to 10 uA (from memory)")
    )
    high_current = Fact(
        k.magnitude("A"), "high current of input {}", '"1 uA"', most(0.0, 10e-6, "default 0 to 10 uA (from memory)")
    )
    voltage_max = Fact(k.positive("V"), "largest voltage at input {}", '"5.5 V"')
    hysteresis = Fact(k.FLAG, "hysteresis of input {}")
    pull_up = Fact(k.interval("ohm", above=0.0), "pull-up of input {}", '["20 kohm", "50 kohm"]')
    control_range = Fact(k.interval("V"), "control range of input {}", '["0.5 V", "3 V"]')
    source_current = Fact(k.interval("A", low=0.0), "source current of input {}", '["0.3 mA", "0.6 mA"]')
    edge_max = Fact(
        k.positive("s"),
        "longest edge that input {} takes",
        '"50 ns"',
        least(10e-9, 500e-9, "default 10 ns a volt between its levels to 500 ns (from memory)"),
    )
    capacitance = Fact(
        k.magnitude("F"), "capacitance of input {}", '"10 pF"', most(5e-12, 30e-12, "default 5 to 30 pF (from memory)")
    )


class LineFacts(Rows, table="lines"):
    """A net that comes from field wiring."""

    on = Fact(k.interval("V"), "line {} on", '["15 V", "30 V"]')
    off = Fact(k.interval("V"), "line {} off", '["-3 V", "5 V"]')
    leakage = Fact(k.magnitude("A"), "leakage of line {}", '"1.5 mA"')
    reverse = Fact(k.magnitude("V"), "line {} reversed", '"30 V"')
    kind = Fact(k.choice("dc", "ac"), "kind of line {}", '"ac"')
    frequency = Fact(k.positive("Hz"), "frequency of line {}", '"50 Hz"')
    standard = Fact(k.TEXT, "standard of line {}", '"IEC 61131-2 type 1"')

    @property
    def alternates(self) -> bool:
        """Whether it is an AC line; a frequency says so too where no kind is stated."""
        return self.frequency is not None if self.kind is None else self.kind.value == "ac"


class SignalFacts(Rows, table="signals"):
    """What a net carries: rate in hertz, or shortest pulse in seconds, its use, or over what an analogue one ranges.

    A rate in Hz repeats, one in baud or bit/s does not. duty: the share of the period in which it is high. current:
    what drives into the net, in place of a range of its voltage. slew: how fast its edges are, for gates beside it.
    safe: the level that is wanted of it where the far side has no supply or sends nothing.
    """

    rate = Fact(k.positive("Hz"), "rate of {}", '"9600 baud"')
    duty = Fact(
        k.interval("1", low=0.0),
        "share of its period in which {} is high",
        "0.5",
        Usual(0.0, 0.5, 1.0, 1.0, 0.5, "assumption, anything from never to always on"),
    )
    pulse = Fact(k.positive("s"), "shortest pulse of {}", '"50 us"')
    use = Fact(k.choice("linear", "feedback", "pulses", "steady", "phase-control", "latch"), "use of {}")
    range = Fact(k.interval("V", single=False), "range of {}", '["0 V", "5 V"]')
    current = Fact(k.interval("A", single=False), "current range of {}", '["4 mA", "20 mA"]')
    ignores = Fact(k.positive("s"), "longest pulse that {} ignores", '"5 us"')
    slew = Fact(k.positive("V/s"), "slew rate of {}", '"10 kV/us"')
    safe = Fact(k.choice("low", "high"), "level of {} that is wanted without supply or signal", '"low"')


class LoadFacts(Rows, table="loads"):
    """What hangs on a net at the switched end of a load, on the board or off it. current: steady, rms on AC.

    return: the net at the load's other end, where the netlist does not show it. off_voltage: the largest peak across
    the open switch, measured or calculated. off_current_max: what may flow while it is to be off, rms on AC.
    """

    return_ = Fact(k.TEXT, "other end of load {}", '"N"')
    current = Fact(k.interval("A", low=0.0), "current of load {}", '["0.1 A", "2 A"]')
    kind = Fact(
        k.choice("resistive", "inductive", "motor", "transformer", "lamp", "capacitive", "electronic"),
        "kind of load {}",
        '"motor"',
    )
    power_factor = Fact(k.number(0.0, 1.0), "power factor of load {}", "0.5", least(0.0, 0.9, "default (from memory)"))
    inrush = Fact(k.positive("A"), "inrush of load {}", '"10 A"')
    off_current_max = Fact(k.positive("A"), "current at which load {} is surely off", '"1 mA"')
    clamped = Fact(k.FLAG, "clamp at load {}")
    off_voltage = Fact(k.positive("V"), "voltage across the open switch of load {}", '"650 V"')


class SideFacts(Rows, table="sides"):
    """A stated side and the nets that lie on it."""

    def __init__(self, name: str, **values: Any) -> None:
        super().__init__(**values)
        self.name = name

    nets = Fact(k.texts('["GND"]', least=1), "nets of side {}")
    kind = Fact(k.choice("mains", "hazardous", "selv", "earth", "chassis", "internal"), "kind of side {}", '"selv"')
    earthed = Fact(k.FLAG, "whether side {} is joined to protective earth outside the netlist")
    applied_part = Fact(k.choice("B", "BF", "CF"), "type of applied part that side {} is", '"BF"')


BETWEEN = k.texts('["field", "logic"]', 2, 2)


class Bond(NamedTuple):
    """Two sides that are joined on purpose."""

    between: tuple[str, str]
    file: str
    key: str


INSULATIONS = (
    *("functional", "basic", "supplementary", "double", "reinforced"),
    *("1 MOOP", "2 MOOP", "1 MOPP", "2 MOPP"),
)
"""What insulation may be stated; the means of protection are those of IEC 60601-1."""


class BarrierFacts(Rows, table="barriers"):
    """What a barrier has to do; voltages rms, but impulse, swing and what says peak."""

    def __init__(self, between: tuple[str, str], file: str, key: str, **values: Any) -> None:
        super().__init__(**values)
        self.between, self.file, self.key = between, file, key

    insulation = Fact(k.choice(*INSULATIONS), "insulation of {}", '"basic"')
    profile = Fact(PROFILE, "profile of {}", '"iec-60664-1"')
    working_voltage = Fact(k.magnitude("V"), "working voltage", '"50 V"')
    working_peak = Fact(k.magnitude("V"), "peak working voltage", '"71 V"')
    peak_frequency = Fact(k.positive("Hz"), "frequency of the recurring peak", '"65 kHz"')
    mains = Fact(k.positive("V"), "mains", '"230 V"')
    mains_frequency = Fact(k.positive("Hz"), "mains frequency", '"50 Hz"', most(50.0, 60.0))
    touch_current = Fact(k.magnitude("A"), "touch current", '"0.5 mA"')
    touch_current_fault = Fact(k.magnitude("A"), "touch current with one component shorted", '"3.5 mA"')
    overvoltage_category = Fact(k.integer(1, 4), "overvoltage category", "2")
    impulse = Fact(k.positive("V"), "impulse that the equipment must bear", '"2400 V"')
    withstand = Fact(k.positive("V"), "one-minute test", '"1500 V"')
    slew = Fact(k.positive("V/s"), "slew rate", '"5 kV/us"')
    swing = Fact(k.positive("V"), "swing", '"400 V"')
    edge_time = Fact(k.positive("s"), "edge time", '"20 ns"')
    board_creepage = Fact(k.positive("m"), "smallest creepage on the board", '"6.4 mm"')
    board_clearance = Fact(k.positive("m"), "smallest clearance on the board", '"5.5 mm"')
    board_group = Fact(k.choice("I", "II", "IIIa", "IIIb"), "material group of the board", '"IIIa"')
    printed = Fact(k.FLAG)


CHANNELS = k.texts('["XU1", "XU2"]', 2, 2)


class PairFacts(Rows, table="pairs"):
    """Two channels that switch in turn, of which never both may be on."""

    def __init__(self, channels: tuple[str, str], file: str, key: str, **values: Any) -> None:
        super().__init__(**values)
        self.channels, self.file, self.key = channels, file, key

    dead_time = Fact(k.magnitude("s"), "dead time", '"1 us"')


class Waiver(NamedTuple):
    """A failure that a named role accepts for a reason until a date; `bound` is the smallest margin it accepts."""

    rule: str
    where: str
    reason: str
    by: str
    until: date
    file: str
    key: str
    bound: float | None = None


TABLES: tuple[type[Rows], ...] = (
    Reading,
    Environment,
    Limits,
    ElementFacts,
    SupplyFacts,
    OutputFacts,
    GroupFacts,
    InputFacts,
    LineFacts,
    SignalFacts,
    LoadFacts,
    SideFacts,
    BarrierFacts,
    PairFacts,
)
"""The tables of rows, in the order in which facts are listed."""

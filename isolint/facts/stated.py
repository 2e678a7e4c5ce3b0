"""The fact records: one named tuple a table of isolint.toml, attribute names equal to the TOML keys.

Everything is in SI units, temperatures in degrees Celsius. None means that nobody stated it. (`class_` stands for
the key `class`.)
"""

from __future__ import annotations

from datetime import date
from typing import Generic, NamedTuple, TypeVar

from isolint.units import Interval

T = TypeVar("T")


class Stated(NamedTuple, Generic[T]):
    """A value with its origin: the file, the dotted TOML key there, and the text that was written."""

    value: T
    file: str
    key: str
    text: str = ""


class Level(NamedTuple):
    """A guaranteed level in volts, `min` for a high and `max` for a low one, up to the current `at`."""

    min: float | None = None
    max: float | None = None
    at: float | None = None


class ElementFacts(NamedTuple):
    """Facts about one element or part; tolerance and tempco are deviations around zero."""

    tolerance: Stated[Interval] | None = None
    tempco: Stated[Interval] | None = None
    power: Stated[float] | None = None
    voltage: Stated[float] | None = None
    class_: Stated[str] | None = None
    part: Stated[str] | None = None
    type: Stated[str] | None = None
    ordinary: Stated[bool] | None = None
    gain_min: Stated[float] | None = None
    gate_full_on: Stated[float] | None = None
    sheet: Stated[bool] | None = None


class SupplyFacts(NamedTuple):
    """A net held at a voltage; a pair as voltage is the whole range, one value is a point that `tolerance` widens."""

    voltage: Stated[Interval] | None = None
    tolerance: Stated[Interval] | None = None
    ground: Stated[str] | None = None
    kind: Stated[str] | None = None
    frequency: Stated[float] | None = None

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


class OutputFacts(NamedTuple):
    """A net that another part's output drives."""

    supply: Stated[str] | None = None
    drive: Stated[str] | None = None
    high: Stated[Level] | None = None
    low: Stated[Level] | None = None
    source_max: Stated[float] | None = None
    sink_max: Stated[float] | None = None
    off_leakage: Stated[float] | None = None
    voltage_max: Stated[float] | None = None
    high_max: Stated[float] | None = None
    group: Stated[str] | None = None
    exclusive: Stated[str] | None = None
    unpowered: Stated[bool] | None = None


class GroupFacts(NamedTuple):
    """Outputs that share a current limit."""

    name: str
    current_max: Stated[float] | None = None


class InputFacts(NamedTuple):
    """A net that a logic input reads. Currents are magnitudes."""

    supply: Stated[str] | None = None
    low_max: Stated[float] | None = None
    high_min: Stated[float] | None = None
    low_current: Stated[float] | None = None
    high_current: Stated[float] | None = None
    voltage_max: Stated[float] | None = None
    hysteresis: Stated[bool] | None = None
    pull_up: Stated[Interval] | None = None


class LineFacts(NamedTuple):
    """A net that comes from field wiring."""

    on: Stated[Interval] | None = None
    off: Stated[Interval] | None = None
    leakage: Stated[float] | None = None
    reverse: Stated[float] | None = None
    standard: Stated[str] | None = None


class SignalFacts(NamedTuple):
    """What a net carries: rate in hertz, or shortest pulse in seconds, or its use."""

    rate: Stated[float] | None = None
    pulse: Stated[float] | None = None
    use: Stated[str] | None = None


class SideFacts(NamedTuple):
    """A stated side and the nets that lie on it."""

    name: str
    nets: Stated[tuple[str, ...]] | None = None
    kind: Stated[str] | None = None


class Bond(NamedTuple):
    """Two sides that are joined on purpose."""

    between: tuple[str, str]
    file: str
    key: str


class BarrierFacts(NamedTuple):
    """What a barrier has to do; voltages rms unless the key says peak."""

    between: tuple[str, str]
    file: str
    key: str
    insulation: Stated[str] | None = None
    working_voltage: Stated[float] | None = None
    working_peak: Stated[float] | None = None
    mains: Stated[float] | None = None
    mains_frequency: Stated[float] | None = None
    touch_current: Stated[float] | None = None
    overvoltage_category: Stated[int] | None = None
    slew: Stated[float] | None = None


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


class Environment(NamedTuple):
    """Where and how long the board works. life in seconds, duty as a ratio, altitude in metres."""

    ambient: Stated[Interval] | None = None
    life: Stated[float] | None = None
    duty: Stated[float] | None = None
    altitude: Stated[float] | None = None
    pollution_degree: Stated[int] | None = None


class Limits(NamedTuple):
    """Limits that replace common practice; insulating_resistance in ohms."""

    drive_headroom: Stated[float] | None = None
    transfer_margin: Stated[float] | None = None
    insulating_resistance: Stated[float] | None = None


class Reading(NamedTuple):
    """How the netlist is read. include_root is a folder in the tree, already resolved."""

    include_root: Stated[str] | None = None
    simulation_ground: Stated[str] | None = None
    simulation_only: Stated[tuple[str, ...]] | None = None

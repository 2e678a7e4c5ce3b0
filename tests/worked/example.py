"""What a worked example is, and the small circuits that the examples share.

Spreads that the source does not have are stated as zero, so that the worst case is the source's own arithmetic. Parts
are invented and hold nothing but the figures of the example.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Label = Literal["published", "derived", "band"]
"""published: the result stands in the source. derived: ours from printed inputs. band: a range in the source."""


@dataclass(frozen=True)
class WorkedClaim:
    """One number: the evidence `symbol` of a rule's result, at `end`, must be `value` within the relative tolerance.

    A pair is a band: the evidence must lie inside. `label` where it is another than that of the example.
    """

    rule: str
    symbol: str
    end: Literal["min", "nominal", "max"]
    value: float | tuple[float, float]
    tolerance: float = 0.01
    label: Label | None = None


@dataclass(frozen=True)
class WorkedLimit:
    """A sizing result: with `{x}` in the netlist at `value` a rule's margin is just enough.

    passes: whether smaller or larger values pass. required: the margin that is just enough.
    """

    rule: str
    value: float
    passes: Literal["smaller", "larger"]
    tolerance: float = 0.01
    required: float = 1.0


@dataclass(frozen=True)
class Example:
    """One example: its number in the trade's collection, its label and the key of its source."""

    number: str
    title: str
    label: Label
    source: str
    netlist: str
    facts: str
    record: str
    claims: tuple[WorkedClaim, ...] = ()
    limits: tuple[WorkedLimit, ...] = ()
    fails: tuple[str, ...] = ()
    passes: tuple[str, ...] = ()
    values: Mapping[str, float] = field(default_factory=dict)

    @property
    def id(self) -> str:
        """Name of the test."""
        return f"{self.number} {self.title}"


def facts(
    drive: float | str | tuple[float, float] = 5.0,
    load: float | str = 5.0,
    more: str = "",
    ambient: float = 25.0,
    margin: float = 1.0,
) -> str:
    """Exact supplies: VA over GNDA drives, VB over GNDB loads. All spreads are zero unless `more` says otherwise."""
    given = f'["{drive[0]} V", "{drive[1]} V"]' if isinstance(drive, tuple) else f'"{drive} V"\ntolerance = "0 %"'
    return f"""
top = true
parts = ["parts.toml"]
[environment]
ambient = ["{ambient} degC", "{ambient} degC"]
life = "0 h"
duty = 1.0
[limits]
transfer_margin = {margin}
drive_headroom = 1.0
[elements."*"]
tolerance = "0 %"
[supplies."VA"]
voltage = {given}
ground = "GNDA"
[supplies."VB"]
voltage = "{load} V"
tolerance = "0 %"
ground = "GNDB"
{more}
"""


def reads(low_max: float = 0.8, high_min: float = 2.0, low_current: str = "0 A", high_current: str = "0 A") -> str:
    """A logic input at net OUT."""
    return f"""
[inputs."OUT"]
supply = "VB"
low_max = "{low_max} V"
high_min = "{high_min} V"
low_current = "{low_current}"
high_current = "{high_current}"
"""


def transistor(
    forward: float,
    at: str,
    ratio: str | tuple[str, str] = "100 %",
    current: str = "5 mA",
    saturation: str = '{ max = "0.005 V", at = "1 uA", drive = "10 mA" }',
    led: str = "",
    output: str = "",
    ageing: str = "{ remaining = 1.0 }",
) -> str:
    """A phototransistor whose ratio depends on nothing but what the example says."""
    ends = ratio if isinstance(ratio, tuple) else (ratio, ratio)
    return f"""
[parts.DEMO_W]
type = "phototransistor"
pins = ["anode", "cathode", "collector", "emitter"]
source = "figures of the example"
[parts.DEMO_W.led]
technology = "GaAs"
forward_voltage = {{ min = "{forward} V", typ = "{forward} V", max = "{forward} V", at = "{at}" }}
forward_current_max = "60 mA"
reverse_voltage_max = "6 V"
{led}
[parts.DEMO_W.transfer]
ratio = {{ min = "{ends[0]}", max = "{ends[1]}", current = "{current}", voltage = "5 V" }}
versus_current = [["1 uA", 1.0], ["{current}", 1.0], ["100 mA", 1.0]]
versus_temperature = [["-40 degC", 1.0], ["25 degC", 1.0], ["100 degC", 1.0]]
versus_voltage = [["1 mV", 1.0], ["5 V", 1.0], ["60 V", 1.0]]
ageing = {ageing}
[parts.DEMO_W.output]
voltage_max = "80 V"
current_max = "100 mA"
reverse_voltage_max = "6 V"
saturation_voltage = {saturation}
dark_current = {{ max = "1 pA", at = "25 degC" }}
{output}
"""


def logic(forward: float, at: str, needed: str, most: str = "50 mA", technology: str = "GaAs") -> str:
    """A logic output coupler that needs a minimum LED current; it stands for any LED that must be lit surely."""
    return f"""
[parts.DEMO_W]
type = "logic-output"
pins = ["anode", "cathode", "supply", "output", "ground"]
source = "figures of the example"
[parts.DEMO_W.led]
technology = "{technology}"
forward_voltage = {{ min = "{forward} V", typ = "{forward} V", max = "{forward} V", at = "{at}" }}
forward_current_max = "{most}"
reverse_voltage_max = "5 V"
recommended_current_min = "{needed}"
[parts.DEMO_W.output]
kind = "open-collector"
voltage_max = "20 V"
low_level = {{ max = "0.4 V", at = "13 mA" }}
leakage = "1 uA"
[parts.DEMO_W.supply]
voltage = ["4 V", "20 V"]
"""


LOADED = "R9 VB OUT 10k\n"
LOGIC_LOAD = "R9 VB OUT 10k\nC9 VB GNDB 100n\n"


def led_with(resistor: str, coupler: str = "XU1 A GNDA OUT GNDB DEMO_W\n", load: str = LOADED) -> str:
    """VA, a resistor and the LED; the output pulls OUT down against a resistor."""
    return f"* LED from a supply\nR1 VA A {resistor}\n{coupler}{load}.end\n"


def follower(resistor: str, drive: str = "1k") -> str:
    """The output feeds a resistor to ground from VB."""
    return f"* emitter follower\nR1 VA A {drive}\nXU1 A GNDA VB OUT DEMO_W\nR2 OUT GNDB {resistor}\n.end\n"

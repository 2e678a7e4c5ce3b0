"""Small boards in memory for the tests of drive, load and ratio, with facts whose numbers are easy to redo by hand."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from isolint import app
from isolint.checking.context import Context
from isolint.interfaces.entities import Channel
from isolint.preparing import prepare
from isolint.results import NetlistReport, Result
from isolint.source import MemoryTree
from isolint.worstcase.devices import thermal_voltage
from isolint.worstcase.drive import Drive
from isolint.worstcase.load import Load
from isolint.worstcase.margin import TransferRows
from isolint.worstcase.uncertain import WORST, Setting

SUPPLIES = """
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
"""
PORT = """
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "4 mA" }
low = { max = "0.4 V", at = "4 mA" }
source_max = "20 mA"
sink_max = "20 mA"
"""
INPUT = """
[inputs."OUT"]
supply = "VB"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "10 uA"
high_current = "10 uA"
"""
ENVIRONMENT = """
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 1.0
"""
RESISTORS = """
[elements."R*"]
tolerance = "1 %"
"""
FACTS = "top = true\nparts = ['parts.toml']\n" + ENVIRONMENT + SUPPLIES + PORT + INPUT + RESISTORS

PART = """
[parts.DEMO_A]
type = "phototransistor"
pins = ["anode", "cathode", "collector", "emitter"]
source = "invented for the tests"
[parts.DEMO_A.led]
technology = "GaAs"
forward_voltage = { min = "1.0 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
reverse_voltage_max = "6 V"
[parts.DEMO_A.transfer]
ratio = { min = "100 %", max = "200 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.5], ["5 mA", 1.0], ["50 mA", 0.8]]
versus_temperature = [["-25 degC", 0.9], ["25 degC", 1.0], ["85 degC", 0.7]]
versus_voltage = [["0.4 V", 0.7], ["1 V", 0.9], ["5 V", 1.0]]
ageing = { remaining = 0.8 }
[parts.DEMO_A.output]
voltage_max = "70 V"
current_max = "50 mA"
saturation_voltage = { max = "0.3 V", at = "2 mA", drive = "10 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
"""
LOAD = "R9 VB OUT 10k\n"
COUPLER = "XU1 A GND OUT GNDB DEMO_A\n"


def board(drive: str, load: str = LOAD, coupler: str = COUPLER) -> str:
    """A netlist: drive cards, the coupler, load cards."""
    return f"* test\n{drive}\n{coupler}{load}.end\n"


def context(netlist: str, facts: str = FACTS, part: str = PART) -> Context:
    """What rules may ask of a netlist."""
    return prepare(MemoryTree({"board.cir": netlist, "isolint.toml": facts, "parts.toml": part}), "board.cir", "")[0]


def channel(found: Context, subject: str = "XU1") -> Channel:
    return next(item for item in found.channels if item.subject == subject)


def drive(netlist: str, facts: str = FACTS, part: str = PART, setting: Setting = WORST, subject: str = "XU1") -> Drive:
    found = context(netlist, facts, part)
    return found.analysis.drive(channel(found, subject), setting)


def load(netlist: str, facts: str = FACTS, part: str = PART, setting: Setting = WORST, subject: str = "XU1") -> Load:
    found = context(netlist, facts, part)
    return found.analysis.load(channel(found, subject), setting)


def transfer(netlist: str, facts: str = FACTS, part: str = PART, setting: Setting = WORST) -> TransferRows:
    found = context(netlist, facts, part)
    return found.analysis.transfer(channel(found), setting)


def report(netlist: str, facts: str = FACTS, part: str = PART) -> NetlistReport:
    """The whole main job."""
    tree = MemoryTree({"board.cir": netlist, "isolint.toml": facts, "parts.toml": part})
    return app.check_in(tree, "board.cir", "", app.Options())[0]


def result(found: NetlistReport, rule: str, role: str | None = None) -> Result:
    """The one result of a rule on XU1."""
    items = [item for item in found.results if item.rule == rule and role in (None, item.role)]
    items = [item for item in items if item.subject.startswith("XU1")]
    assert len(items) == 1, [(item.rule, item.kind, item.message) for item in found.results]
    return items[0]


def without(facts: str, *keys: str) -> str:
    """The facts without the lines that state some keys."""
    return "\n".join(line for line in facts.splitlines() if line.split(" = ")[0].strip() not in keys) + "\n"


# The LED of DEMO_A at both ends of its spread, written down once more.

COLD, HOT = 0.0, 60.0
K = -1.5e-3


def vf_max(temperature: float) -> float:
    """Not lowered below its test current of 10 mA."""
    return 1.4 + K * (temperature - 25.0)


def vf_min(amps: float, temperature: float) -> float:
    """n = 2, Rs = 5 ohm below the test current; n = 1.5, Rs = 1 ohm above it."""
    emission, ohms = (2.0, 5.0) if amps <= 10e-3 else (1.5, 1.0)
    vt = thermal_voltage(temperature)
    return 1.0 + emission * vt * math.log(amps / 10e-3) + ohms * (amps - 10e-3) + K * (temperature - 25.0)


def most(volts: float, ohms: float, temperature: float) -> float:
    """The largest current through a resistor and the LED of smallest forward voltage."""
    return brentq(lambda i: volts - ohms * i - vf_min(i, temperature), 1e-6, 1.0)

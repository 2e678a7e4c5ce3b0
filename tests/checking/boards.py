"""A sound board with two sides and the facts of it, which tests of the engine change card by card and fact by fact."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from isolint.checking.context import Context
from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.results import Result
from isolint.rules import RULES
from isolint.source import MemoryTree

FACTS = """
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDB"]
[[barriers]]
between = ["logic", "field"]
insulation = "basic"
working_voltage = "50 V"
"""

SOUND = """* A sound channel, invented for the tests
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
"""

SECOND = """R11 DRIVE2 A2 470
XU2 A2 GND GNDB OUT2 DEMO_PT1
R12 VB OUT2 10k
"""

PARTS = """
[parts.DEMO_PX]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
source = "invented for the tests"
[parts.DEMO_PX.led]
technology = "GaAs"
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
[parts.DEMO_PX.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]
versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]
versus_voltage = [["0.3 V", 0.60], ["1 V", 0.90], ["5 V", 1.00]]
ageing = { remaining = "80 %" }
[parts.DEMO_PX.output]
voltage_max = "70 V"
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
"""
"""A part of which everything is stated: what is open with it is open for other reasons."""

WITH_PARTS = f'parts = ["parts.toml"]\n{FACTS}'

CORE = (
    *(
        "ground-tie",
        "supply-shared",
        "bridge-conducting",
        "led-unlimited",
        "led-reversed",
        "led-overdriven",
        "led-underdriven",
    ),
    *("drive-headroom-low", "load-missing", "transfer-margin-low", "output-level-invalid", "netlist-malformed"),
    *("part-unknown", "pins-mismatched", "include-missing", "include-refused", "waiver-stale"),
)


def context_of(netlist: str, facts: str = FACTS, **files: str) -> Context:
    """What rules see of a netlist in memory; PARTS are there as parts.toml, `files` as further TOML files."""
    tree = MemoryTree(
        {
            "board.cir": netlist,
            "isolint.toml": f"top = true\n{facts}",
            "parts.toml": PARTS,
            **{f"{name}.toml": text for name, text in files.items()},
        }
    )
    context: Context = prepare(tree, "board.cir", "")[0]
    return context


def core(
    netlist: str, facts: str = FACTS, strict: bool = False, today: date | None = None, **files: str
) -> tuple[Result, ...]:
    """The results of the rules that this folder's tests are about, whatever rules there are besides."""
    rules = [rule for rule in RULES if rule.slug in CORE]
    return run(context_of(netlist, facts, **files), rules, strict, today)


def told(results: Sequence[Result]) -> list[tuple[str, str, str]]:
    """Rule, kind and subject of all failures and open results."""
    return [(result.rule, result.kind, result.subject) for result in results if result.kind in ("fail", "open")]


def kinds(results: Sequence[Result], rule: str) -> list[str]:
    """The kinds of a rule's results."""
    return [result.kind for result in results if result.rule == rule]


def one(results: Sequence[Result], rule: str, kind: str | None = None) -> Result:
    """The one result of a rule, of one kind."""
    (found,) = [result for result in results if result.rule == rule and kind in (None, result.kind)]
    return found

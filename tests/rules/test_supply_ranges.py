"""Which supply pin the range that a record states is of."""

from __future__ import annotations

from isolint.results import Result
from tests.answers import answered
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VG"]
voltage = "15 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
[elements."M1"]
gate_full_on = "8 V"
gate_voltage = ["-20 V", "20 V"]
gate_threshold_min = "2 V"
"""
RECORD = """
[parts.DEMO_GX]
type = "gate-driver"
pins = ["vdd1", "in", "gnd1", "vcc", "out", "gnd"]
groups = [["vdd1", "in", "gnd1"], ["vcc", "out", "gnd"]]
[parts.DEMO_GX.output]
high_level = { min = "-0.3 V", at = "10 mA" }
peak_current_max = "2.5 A"
default = "low"
"""
OF_OUTPUT = '[[parts.DEMO_GX.supplies]]\npins = ["vcc", "gnd"]\nvoltage = ["13 V", "30 V"]\n'
BOARD = """* a driver with a logic supply and a gate supply
XU1 V5 DRIVE GND VG OUTG GNDB DEMO_GX
C1 V5 GND 100n
C2 VG GNDB 1u
R1 OUTG G 10
R2 G GNDB 10k
M1 BUS G GNDB GNDB MSW
R3 VG BUS 100
.model MSW NMOS(VTO=3 KP=5)
"""


def ranges(supply: str) -> dict[str, Result]:
    """What the rule says of each supply pin."""
    report = judge(BOARD, FACTS, parts__toml=RECORD + supply)
    return {result.role: result for result in report.results if result.rule == "supply-out-of-range"}


def test_a_range_of_a_driver_without_a_side_is_that_of_its_outputs() -> None:
    found = ranges('[parts.DEMO_GX.supply]\nvoltage = ["13 V", "30 V"]\n')
    assert {role: result.kind for role, result in found.items()} == {"vdd1": "open", "vcc": "pass"}
    assert "write parts.DEMO_GX.supply in the same way" in found["vdd1"].message


def test_what_lies_outside_it_fails_at_the_outputs() -> None:
    found = ranges('[parts.DEMO_GX.supply]\nvoltage = ["18 V", "30 V"]\n')
    assert found["vcc"].kind == "fail"


def test_the_lines_that_are_printed_beside_a_list_of_supplies_settle_the_other_pin() -> None:
    (fact,) = ranges(OF_OUTPUT)["vdd1"].missing
    found = ranges(f"{OF_OUTPUT}{answered(fact.example)}\n")
    assert found["vcc"].kind == "pass"
    assert found["vdd1"].kind in ("pass", "fail")

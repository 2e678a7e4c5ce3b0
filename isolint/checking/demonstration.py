"""Settings that the pages of rules share, so that a page writes down only what is particular to it.

A page names them in one line, `Settings: driver, receiver.`, before its own TOML if it has any. Who reads it sees them
in full, joined with its own, and its examples are run with just that.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Final

SHARED: Final = {
    "driver": """\
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
""",
    "receiver": """\
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
""",
    "conditions": """\
[elements."R*"]
tolerance = "1 %"
power = "0.25 W"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
""",
    "servo": """\
[signals."SIGNAL"]
range = ["0 V", "5 V"]
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
""",
    "feedback": """\
[supplies."VOUT"]
voltage = "12 V"
tolerance = "3 %"
ground = "GNDB"
[supplies."VDD"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[inputs."FB"]
control_range = ["0.5 V", "3 V"]
voltage_max = "7 V"
""",
    "hazards": """\
[sides.logic]
nets = ["GND"]
kind = "hazardous"
[sides.field]
nets = ["GNDB"]
kind = "hazardous"
""",
    "mains": """\
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDB"]
kind = "mains"
[[barriers]]
between = ["logic", "field"]
working_voltage = "250 V"
working_peak = "358 V"
mains = "230 V"
mains_frequency = "50 Hz"
overvoltage_category = 2
""",
    "switched": """\
[supplies."L"]
voltage = "230 V"
tolerance = "10 %"
kind = "ac"
frequency = "50 Hz"
ground = "N"
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "N"
[elements."R*"]
tolerance = "1 %"
power = "3 W"
voltage = "350 V"
[environment]
ambient = ["0 degC", "60 degC"]
[sides.logic]
nets = ["GND"]
kind = "hazardous"
[sides.mains]
nets = ["N"]
kind = "hazardous"
""",
    "barrier": """\
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDB"]
[[barriers]]
between = ["logic", "field"]
insulation = "basic"
working_voltage = "50 V"
""",
    "gate": """\
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "12 mA" }
low = { max = "0.4 V", at = "12 mA" }
source_max = "30 mA"
[elements."M1"]
gate_full_on = "4.5 V"
gate_voltage = ["-20 V", "20 V"]
""",
    "gate driver": """\
[supplies."VG"]
voltage = "15 V"
tolerance = "5 %"
ground = "GNDB"
[elements."M1"]
gate_full_on = "10 V"
gate_voltage = ["-20 V", "20 V"]
gate_charge = "60 nC"
[signals."G"]
rate = "20 kHz"
[[barriers]]
slew = "20 kV/us"
""",
    "relay": """\
[supplies."V24"]
voltage = "24 V"
tolerance = "5 %"
ground = "GND"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[outputs."PORT"]
supply = "V5"
drive = "open-drain"
low = { max = "0.4 V", at = "40 mA" }
sink_max = "40 mA"
off_leakage = "1 uA"
voltage_max = "60 V"
""",
}

_NAMED: Final = re.compile(r"^Settings: ([a-z, ]+)\.\n(?:\n```toml\n(.*?)```\n)?", re.MULTILINE | re.DOTALL)


def whole(page: str) -> str:
    """A page with the settings that it names written out, each value of its own in the place of the shared one."""
    return _NAMED.sub(lambda found: f"```toml\n{_written_out(found[1], found[2] or '')}```\n", page)


def _written_out(names: str, own: str) -> str:
    return merged(*(SHARED[name] for name in names.split(", ")), own)


def merged(*texts: str) -> str:
    """Settings as one text: tables that several have are joined, keys of a later one replace those of an earlier."""
    tables: dict[str, dict[str, str]] = {"": {}}
    table = ""
    for text in texts:
        seen: Counter[str] = Counter()
        for line in text.splitlines():
            if line.startswith("["):
                # The second table of an array is another one than the first.
                seen[line] += line.startswith("[[")
                table = line + " " * max(seen[line] - 1, 0)
                tables.setdefault(table, {})
            elif " = " in line:
                tables[table][line.partition(" = ")[0]] = line
        table = ""
    return "".join(
        "\n".join((name.rstrip(), *rows.values())).lstrip("\n") + "\n" for name, rows in tables.items() if name or rows
    )

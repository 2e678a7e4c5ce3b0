"""Alternating drives judged as whole netlists, against transients of ngspice on the same cards.

Nominal values on both sides, so that a difference is the error of the method. Bounds lie on their side of what the
simulator finds, and not far from it. The LED is a diode with the forward voltage of the part record.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest

from isolint.results import NetlistReport
from tests.rules.test_boards_in_time import BRIDGE, DIODES, PULSES, check, supply, value
from tests.support import only

pytestmark = pytest.mark.outside

_VALUE = re.compile(r"^(\w+)\s+=\s+([-+0-9.e]+)", re.MULTILINE)
_LED = ".model DLED D(IS=3e-14 N=1.75 RS=3 CJO=20p)\n"
"""1.2 V at 6 mA, of the curve that a record without one gets."""


class TimedDrive(NamedTuple):
    """Cards between L and the LED from A to K, rms volts, and how long it takes to settle, seconds."""

    cards: str
    volts: float
    settles: float


DRIVES = {
    "half wave": TimedDrive("R1 L P1 66k\nD1 P1 A DREC\nR5 K GND 1\n", 230.0, 0.1),
    "bridge": TimedDrive(f"R1 L P 47k\n{BRIDGE}R3 V A 1\n", 230.0, 0.1),
    "diode across the LED": TimedDrive("R1 L A 2.2k\nD1 K A DREC\nR5 K GND 1\n", 24.0, 0.1),
    "bridge with storage": TimedDrive(f"R1 L P 1k\n{BRIDGE}C1 V K 22u\nR3 V A 2.2k\n", 24.0, 1.0),
    "half wave with storage": TimedDrive(
        "R1 L P1 470\nD1 P1 V DREC\nC1 V GND 47u\nR3 V A 2.2k\nR5 K GND 1\n", 24.0, 1.0
    ),
    "dropper": TimedDrive("C1 L P1 330n\nR1 P1 A 470\nD1 K A DREC\nR5 K GND 1\n", 230.0, 0.3),
    "dropper and bridge": TimedDrive(f"C1 L P1 330n\nR1 P1 P 470\n{BRIDGE}R3 V A 1\n", 230.0, 0.3),
    "dropper as large as its resistor": TimedDrive(f"C1 L P1 330n\nR1 P1 P 9.6k\n{BRIDGE}R3 V A 1\n", 230.0, 0.3),
    "dropper with storage": TimedDrive(f"C1 L P1 330n\nR1 P1 P 470\n{BRIDGE}C2 V K 220u\nR3 V A 1.5k\n", 230.0, 3.0),
}


def judged(drive: TimedDrive) -> NetlistReport:
    output = "XU1 A K GNDB OUT DEMO_T\nR2 VB OUT 10k\n"
    return check(f"{drive.cards}{output}{DIODES}", f"{supply(drive.volts)}{PULSES}")


def simulated(drive: TimedDrive, folder: Path) -> dict[str, float]:
    """Least, most, mean and rms LED current of two settled periods, amperes."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip("ngspice is not installed")
    end = drive.settles + 0.04
    asked = (("low", "min"), ("high", "max"), ("mean", "avg"), ("rms", "rms"))
    lines = [
        "* a drive",
        f"V1 L 0 SIN(0 {drive.volts * 2.0**0.5:g} 50)",
        drive.cards.replace("GND", "0") + "VLED A LED 0",
        "DLED LED K DLED",
        _LED + DIODES.replace("BV=800", "BV=800 CJO=20p").strip(),
        ".options reltol=1e-4 abstol=1e-9 method=gear",
        ".control",
        f"tran 10u {end:g} 0 10u",
        *(f"meas tran {name} {how} i(VLED) from={drive.settles:g} to={end:g}" for name, how in asked),
        "quit",
        ".endc",
        ".end",
    ]
    (folder / "deck.cir").write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run(
        [program, "-b", "deck.cir"], cwd=folder, capture_output=True, encoding="utf-8", timeout=120, check=False
    )
    found = {name: float(number) for name, number in _VALUE.findall(done.stdout)}
    assert {"low", "high", "mean", "rms"} <= set(found), done.stdout + done.stderr
    assert found["high"] > 0.0, done.stdout
    return found


@pytest.mark.parametrize("name", DRIVES)
def test_a_transient_lies_between_the_bounds(name: str, tmp_path: Path) -> None:
    report, told = judged(DRIVES[name]), simulated(DRIVES[name], tmp_path)
    found = only(report, "led-overdriven")
    if "storage" in name:
        row = next(item for item in found.evidence if item.symbol == "IF")
        assert row.min is not None and row.max is not None
        assert 0.85 * told["low"] < row.min < 1.002 * told["low"]
        assert 0.998 * told["high"] < row.max < 1.10 * told["high"]
        return
    assert 0.998 * told["mean"] < value(found, "IF_avg") < 1.02 * told["mean"]
    assert 0.995 * told["high"] < value(found, "I_peak") < 1.03 * told["high"]
    assert 0.998 * told["rms"] < value(found, "IF_rms") < 1.03 * told["rms"]

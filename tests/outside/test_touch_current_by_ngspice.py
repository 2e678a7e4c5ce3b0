"""The current through ten networks of capacitors and resistances against another simulator."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from isolint.checking.bridge_network import RcNetwork, largest_admittance
from tests.checking.rc_networks import HERTZ, network, spread

pytestmark = pytest.mark.outside


def deck(rc: RcNetwork) -> str:
    """1 V between node 0 and node 1, which the simulator calls a and 0; its current is the admittance."""
    names = {0: "a", 1: "0"}
    cards = [
        f"{edge.letter}{edge.element} {names.get(edge.one, f'n{edge.one}')} {names.get(edge.other, f'n{edge.other}')} "
        f"{edge.value:.12g}"
        for edge in rc.edges
    ]
    # What hangs on capacitors alone has no operating point of its own.
    cards += [f"Rleak{node} n{node} 0 1e15" for node in range(2, rc.nodes)]
    commands = (f"ac lin 1 {HERTZ:g} {HERTZ:g}", "let y = mag(i(V1))", "print y", "quit")
    return "\n".join(
        ("* network", "V1 a 0 dc 0 ac 1", *cards, ".control", "set numdgt=12", *commands, ".endc", ".end", "")
    )


@pytest.mark.parametrize("seed", range(10))
def test_ngspice_finds_the_same_current(seed: int, tmp_path: Path) -> None:
    program = shutil.which("ngspice")
    assert program is not None, "ngspice is a system package"
    rc = network(seed)
    path = tmp_path / "network.cir"
    path.write_text(deck(rc), encoding="utf-8")
    done = subprocess.run(
        [program, "-b", str(path)], capture_output=True, text=True, timeout=60, check=False, stdin=subprocess.DEVNULL
    )
    (value,) = re.findall(r"^y = ([-+0-9.e]+)$", done.stdout, re.MULTILINE)
    nominal = largest_admittance(rc, HERTZ, spread(seed, rc), nominal=True)
    assert float(value) == pytest.approx(nominal, rel=1e-6)

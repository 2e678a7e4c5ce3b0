"""Values measured on models, against another simulator: within 2 % of ngspice on the models with closed forms."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint.measure.body import flatten
from isolint.measure.sheet_values import DARK_VOLTS, LED_CURRENTS, SATURATION_DRIVE, ChannelNets, Values, measured
from isolint.netlist import read
from isolint.source import MemoryTree
from tests.measure.models import MODELS, PortModel, library

pytestmark = pytest.mark.outside

_VALUE = re.compile(r"^(\w+) = ([-+0-9.e]+)$", re.MULTILINE)
_COLLECTOR = (0.4, 5.0)


def deck(model: PortModel, values: Values) -> str:
    """What asks the simulator for the points that were measured."""
    supply = "VV V 0 5\n" if model.ports.endswith(" V") else ""
    nodes = model.ports.split(" PARAMS")[0].replace("K", "0").replace("E", "0")
    saturated = values.saturated
    assert saturated is not None
    lines = [
        f"* {model.name}",
        library().split("\n", 1)[1],
        f"X1 {nodes} {model.name}",
        "IA 0 A 0",
        "VC C2 0 5",
        "RC C2 C 1m",
        "IC 0 C 0",
        supply,
        ".options gmin=1e-15 reltol=1e-6 abstol=1e-15 itl1=500",
        ".control",
        *_commands(saturated.at),
        "quit",
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _commands(saturated: float) -> Iterator[str]:
    for number, amps in enumerate(LED_CURRENTS):
        yield f"alter IA dc = {amps:g}"
        for place, volts in enumerate(_COLLECTOR):
            yield from (f"alter VC dc = {volts:g}", "op", f"let c{number}_{place} = -i(VC)", f"print c{number}_{place}")
        yield from (f"let f{number} = v(A)", f"print f{number}")
    yield from ("alter IA dc = 0", f"alter VC dc = {DARK_VOLTS:g}", "op", "let dark = -i(VC)", "print dark")
    yield from (f"alter IA dc = {SATURATION_DRIVE:g}", f"alter IC dc = {saturated:g}", "alter VC dc = 0")
    yield from ("alter RC = 1e12", "op", "let sat = v(C)", "print sat")


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.name)
def test_ngspice_gives_the_same_within_2_percent(model: PortModel, tmp_path: Path) -> None:
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip("ngspice is not installed")
    cards = read(MemoryTree({"demo.lib": library().encode()}), "demo.lib")
    scope = cards.find_subcircuit(model.name, 0)
    assert scope is not None
    body = flatten(cards, scope)
    assert body is not None
    anode, cathode, collector, emitter, *supplies = body.ports
    values = measured(body, ChannelNets(anode, cathode, collector, emitter, tuple(supplies)))
    (tmp_path / ".spiceinit").write_text("set ngbehavior=psa\n", encoding="utf-8")
    (tmp_path / "deck.cir").write_text(deck(model, values), encoding="utf-8")
    done = subprocess.run(
        [program, "-b", "deck.cir"], cwd=tmp_path, capture_output=True, encoding="utf-8", timeout=60, check=False
    )
    told = {name: float(value) for name, value in _VALUE.findall(done.stdout)}
    assert set(told) >= {"dark", "sat", "f0"}, done.stdout + done.stderr
    for number, (amps, volts) in enumerate(values.forward):
        assert volts == pytest.approx(told[f"f{number}"], rel=0.02)
        ratio = dict(values.over_current)[amps]
        assert ratio == pytest.approx(told[f"c{number}_1"] / amps, rel=0.02, abs=1e-6), amps
    at = LED_CURRENTS.index(5e-3)
    assert dict(values.over_voltage)[0.4] == pytest.approx(told[f"c{at}_0"] / 5e-3, rel=0.02)
    assert values.dark == pytest.approx(told["dark"], rel=0.02, abs=1e-10)
    assert values.saturated is not None
    assert values.saturated.volts == pytest.approx(told["sat"], rel=0.02)

"""How fast photovoltaic outputs move gates: the sums by hand, and boards one card or fact apart."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge_files

BOARD = "* Gate on light alone\nR1 DRIVE A 220\nXU1 A GND S G DEMO_PVX\nR2 G S 1meg\nM1 D G S S MSW\nV1 D S 24\n"
MODEL = ".model MSW NMOS(VTO=2 KP=20)\n"
RECORD = """[parts.DEMO_PVX]
type = "photovoltaic"
pins = ["anode", "cathode", "pv-", "pv+"]
[parts.DEMO_PVX.led]
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.5 V", at = "10 mA" }
recommended_current_min = "5 mA"
[parts.DEMO_PVX.trigger]
remaining = 1.0
[parts.DEMO_PVX.output]
open_voltage = { min = "8 V", typ = "9 V", max = "11 V" }
short_current = { min = "5 uA", drive = "5 mA" }
versus_temperature = [["-40 degC", 1.0], ["25 degC", 1.0], ["85 degC", 1.0]]
discharge = false
"""
SETTINGS = """top = true
parts = ["p.toml"]
[environment]
ambient = ["0 degC", "50 degC"]
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "20 mA" }
low = { max = "0.4 V", at = "20 mA" }
source_max = "30 mA"
[elements."R*"]
tolerance = "0 %"
[elements."M*"]
gate_charge = "50 nC"
gate_full_on = "5 V"
"""


def report(signal: str, cards: str = BOARD, more: str = "", record: str = RECORD) -> NetlistReport:
    files = {"board.cir": cards + MODEL, "isolint.toml": SETTINGS + more + signal, "p.toml": record}
    return judge_files(files)


def found(report: NetlistReport) -> Result | None:
    return next((each for each in report.results if each.rule == "switching-too-slow" and each.subject == "XU1"), None)


def judged(signal: str, cards: str = BOARD, more: str = "", record: str = RECORD) -> tuple[str, float]:
    """The kind and the margin."""
    result = found(report(signal, cards, more, record))
    assert result is not None and result.margin is not None
    return result.kind, round(result.margin.value, 2)


def signal(rate: str, more: str = "") -> str:
    return f'[signals."G"]\nrate = "{rate}"\n{more}'


def test_a_gate_charge_over_the_current_of_light_is_the_time_to_turn_on() -> None:
    result = found(report(signal("20 Hz")))
    assert result is not None and result.kind == "pass"
    # 10 nF at 5 V are 50 nC, 5 uA take 10 ms for it; 2.2 x 1 Mohm x 10 nF are 22 ms: 50 ms hold both 1.56 times.
    on, off, margin = result.evidence
    assert (on.max, off.max, margin.min) == pytest.approx((10e-3, 22e-3, 50 / 32))
    assert "charged within 10 ms and discharged within 22 ms" in result.message


@pytest.mark.parametrize(
    ("stated", "kind", "margin"),
    [
        (signal("40 Hz"), "fail", 0.78),  # 25 ms for 32 ms, whatever the duty
        (signal("20 Hz", 'duty = "0.5"\n'), "pass", 1.14),  # 25 ms against 22 ms
        (signal("20 Hz", 'duty = ["0.2", "0.5"]\n'), "fail", 0.45),  # 10 ms against 22 ms
        ('[signals."G"]\npulse = "30 ms"\n', "pass", 1.36),
        ('[signals."DRIVE"]\npulse = "20 ms"\n', "fail", 0.91),
    ],
)
def test_a_period_holds_both_times_and_a_pulse_the_longer(stated: str, kind: str, margin: float) -> None:
    assert judged(stated) == (kind, margin)


# key `photovoltaic-gate-times`
def test_the_published_times_of_a_large_gate_hold_a_pulse_width_modulation_at_mains_frequency() -> None:
    # 160 us and 40 us at 200 pF, scaled to 10 nF: 8 ms on, 2 ms off.
    fast = (
        RECORD.replace('"5 uA", drive', '"6.25 uA", drive') + '[parts.DEMO_PVX.timing]\nturn_off = { max = "2 ms" }\n'
    )
    assert judged(signal("50 Hz"), record=fast) == ("pass", 2.0)


def test_two_gates_on_one_output_share_its_current() -> None:
    both = BOARD + "M2 E G S S MSW\nV2 E S 24\n"
    assert judged(signal("20 Hz"), both) == ("fail", 0.78)


def test_a_gate_of_which_nobody_states_the_charge_is_asked_about_only_where_a_rate_is_stated() -> None:
    silent = SETTINGS.replace('gate_charge = "50 nC"\n', "")
    files = {"board.cir": BOARD + MODEL, "isolint.toml": silent + signal("20 Hz"), "p.toml": RECORD}
    result = found(judge_files(files))
    assert result is not None and result.kind == "open"
    assert [fact.key for fact in result.missing] == ['elements."M1".gate_charge']
    assert found(report("")) is None


def test_a_circuit_inside_that_discharges_is_asked_for_its_time() -> None:
    inside = RECORD.replace("discharge = false", "discharge = true")
    result = found(report(signal("20 Hz"), BOARD.replace("R2 G S 1meg\n", ""), record=inside))
    assert result is not None and result.kind == "open"
    assert [fact.key for fact in result.missing] == ["parts.DEMO_PVX.timing.turn_off"]

"""Gates that the edge of their drain lifts: the sum by hand, what takes its share, and when nothing is asked."""

import pytest

from isolint.checking.demonstration import SHARED, merged
from isolint.results import Result
from tests.support import judge

SETTINGS = merged(
    *(SHARED[name] for name in ("driver", "conditions", "barrier", "gate driver")),
    """\
[elements."M1"]
gate_threshold_min = "2 V"
miller_capacitance = "50 pF"
[elements."M2"]
gate_full_on = "10 V"
gate_voltage = ["-20 V", "20 V"]
gate_charge = "60 nC"
gate_threshold_min = "2 V"
[elements."R*"]
tolerance = "0 %"
[supplies."VN"]
voltage = "-5 V"
tolerance = "5 %"
ground = "GNDB"
[[barriers]]
slew = "10 kV/us"
""",
)
EDGE = '[[barriers]]\nslew = "10 kV/us"\n'
RECORD = """\
[parts.DEMO_CLAMPED]
type = "gate-driver"
pins = ["anode", "cathode", "vcc", "out", "clamp", "gnd"]
groups = [["anode", "cathode"], ["vcc", "out", "clamp", "gnd"]]
source = "invented for this test"
[parts.DEMO_CLAMPED.output]
sink_resistance = "1 ohm"
"""
WAY = "R2 OUT G 10"
SLUG = "miller-turn-on"


def gate(way: str = WAY, facts: str = "", part: str = "DEMO_GD1", pins: str = "A GND VG OUT GNDB") -> list[Result]:
    """What is said of the gates of a board with a way from the driver's output."""
    cards = (
        f"* gate\nR1 DRIVE A 330\nXU1 {pins} {part}\nC1 VG GNDB 1u\n{way}\nR4 G GNDB 1Meg\nM1 D G GNDB GNDB MN\n"
        ".model MN NMOS (VTO=3 KP=20)\n.model DD D (IS=1e-14)\n"
    )
    report = judge(cards, 'parts = ["p.toml"]\n' + merged(SETTINGS, facts), p__toml=RECORD)
    return [result for result in report.results if result.rule == SLUG]


def lifted(result: Result) -> float:
    """Volts to which the gate is lifted at worst."""
    found = next(each for each in result.evidence if each.symbol == "V_GS")
    assert found.max is not None
    return found.max


def test_the_sum_by_hand() -> None:
    (result,) = gate()
    # 50 pF * 10 V/ns = 0.5 A through 10 ohm and the 0 to 2 ohm of an output whose resistance nobody states
    assert result.kind == "fail"
    assert lifted(result) == pytest.approx(0.5 * 12.0, rel=1e-4)
    assert "500 mA" in result.message


def test_a_negative_supply_takes_it_off() -> None:
    (result,) = gate(pins="A GND VG OUT VN")
    assert result.kind == "pass"
    assert lifted(result) == pytest.approx(-4.75 + 6.0, rel=1e-4)


def test_the_resistance_inside_the_gate_adds() -> None:
    (result,) = gate(facts='[elements."M1"]\ngate_resistance = "3 ohm"\n')
    assert lifted(result) == pytest.approx(0.5 * 15.0, rel=1e-4)


def test_a_diode_for_turning_off_takes_its_drop() -> None:
    (open_way,) = gate("R2 OUT G 100\nR3 OUT X 2\nD1 G X DD")
    # Through 2 ohm, the diode and up to 2 ohm of the output 0.5 A would leave 2 V and the drop
    assert 2.0 + 0.6 < lifted(open_way) < 2.0 + 1.0
    (turned,) = gate("R2 OUT G 100\nR3 OUT X 2\nD1 X G DD")
    assert lifted(turned) == pytest.approx(0.5 * 102.0, rel=1e-2)


def test_gates_of_one_output_share_its_way() -> None:
    second = "M2 D G GNDB GNDB MN"
    (unknown,) = gate(f"{WAY}\n{second}")
    assert unknown.kind == "open"
    assert [fact.key for fact in unknown.missing] == ['elements."M2".miller_capacitance']
    both = gate(f"{WAY}\n{second}", '[elements."M2"]\nmiller_capacitance = "30 pF"\n')
    assert [lifted(result) for result in both] == pytest.approx([0.8 * 12.0] * 2, rel=1e-4)
    own = gate(
        f"{WAY}\nR3 OUT H 10\nR5 H GNDB 1Meg\nM2 D H GNDB GNDB MN", '[elements."M2"]\nmiller_capacitance = "30 pF"\n'
    )
    assert [lifted(result) for result in own] == pytest.approx([5.0 + 0.8 * 2.0, 3.0 + 0.8 * 2.0], rel=1e-4)


def test_a_capacitor_at_the_gate_takes_a_share() -> None:
    (asked,) = gate(f"{WAY}\nC3 G GNDB 10n")
    assert asked.kind == "open"
    assert [fact.key for fact in asked.missing] == ["barriers[0].swing"]
    (held,) = gate(f"{WAY}\nC3 G GNDB 10n", f'{EDGE}swing = "100 V"\n')
    # 50 pF / 10 nF of 100 V, the capacitor 20 % below its value
    assert held.kind == "pass"
    assert lifted(held) == pytest.approx(0.5 / 0.8, rel=1e-4)


def test_a_transistor_at_the_gate_is_not_computed() -> None:
    (result,) = gate(f"{WAY}\nQ1 GNDB OUT G QP\n.model QP PNP (BF=100)")
    assert result.kind == "open"
    assert "Q1 may hold the gate" in result.message


def test_a_clamp_pin_holds_the_gate() -> None:
    (held,) = gate(part="DEMO_CLAMPED", pins="A GND VG OUT G GNDB")
    assert held.kind == "pass"
    assert "clamp pin" in held.message
    (elsewhere,) = gate("R2 OUT G 10\nR3 CL GNDB 10k", part="DEMO_CLAMPED", pins="A GND VG OUT CL GNDB")
    assert elsewhere.kind == "fail"


def test_the_edge_of_a_net_goes_before_that_of_the_barrier() -> None:
    (slow,) = gate(facts='[signals."D"]\nslew = "1 kV/us"\n')
    assert slow.kind == "pass"
    assert lifted(slow) == pytest.approx(0.05 * 12.0, rel=1e-4)


def test_nothing_is_asked_where_one_of_both_is_not_stated() -> None:
    assert gate(facts='[elements."M1"]\nmiller_capacitance = "?"\n') == []
    assert gate(facts='[[barriers]]\nslew = "?"\n') == []


def test_swing_and_time_count_between_four_fifths_and_all_of_it() -> None:
    told = '[[barriers]]\nslew = "?"\nswing = "400 V"\nedge_time = "40 ns"\n'
    # 10 V/ns and 8 V/ns, of 0 to 2 ohm beside 8 ohm: 5 V and 3.2 V at worst and at the kindest
    (between,) = gate("R2 OUT G 8", f'{told}[elements."M1"]\ngate_threshold_min = "4 V"\n')
    assert between.kind == "open"
    assert lifted(between) == pytest.approx(5.0, rel=1e-4)
    (failing,) = gate("R2 OUT G 8", f'{told}[elements."M1"]\ngate_threshold_min = "3 V"\n')
    assert failing.kind == "fail"

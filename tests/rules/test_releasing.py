"""What lies beside a coil sees the voltage of its clamp when it is switched off."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from isolint.checking.coil_speed import ringing, seconds
from isolint.results import NetlistReport
from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRB"]
supply = "VB"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "1 W"
voltage = "250 V"
[environment]
ambient = ["25 degC", "25 degC"]
"""
PARTS = """
[parts.DEMO_KX]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_KX.coil]
resistance = "4.8 kohm"
pull_in = "16.8 V"
"""
MODELS = """
.model QSW NPN(IS=2e-14 BF=250)
.model DFLY D(IS=10n N=1.9 BV=200)
.model DZEN D(IS=1n N=1.5 BV=24)
"""
# The relay's switched end is read back over a divider by the controller, and by a coupler's output.
BOARD = """* relay with a contact of its driver read back
R1 V5 A 1k
XU1 A GND GNDB OUT DEMO_PT1
XK1 V24 SW C1 C2 {relay}
Q1 SW B GNDB QSW
R3 DRB B 4.7k
R4 SW OUT 100k
R5 OUT GNDB 18k
"""
DIODE = "D1 SW V24 DFLY\n"
ZENER = "D1 SW Z DFLY\nD2 V24 Z DZEN\n"


def board(clamp: str, facts: str = "", parts: str = PARTS) -> NetlistReport:
    return judge(f"{BOARD.format(relay='DEMO_KX')}{clamp}{MODELS}", f"{FACTS}{facts}", parts__toml=parts)


def test_a_divider_at_a_coil_with_a_diode_gives_its_input_the_supply_and_a_junction() -> None:
    found = only(board(DIODE), "receiver-overvoltage")
    assert found.kind == "pass"
    # 24 V + 10 % and 1 V over the divider.
    assert found.margin is not None
    assert found.margin.value == pytest.approx(5.5 / ((26.4 + 1.0) * 18.18 / (18.18 + 99.0)), rel=0.01)


def test_the_same_divider_behind_a_zener_diode_gives_its_input_far_too_much() -> None:
    found = only(board(ZENER), "receiver-overvoltage")
    assert found.kind == "fail"
    assert "coil XK1 just switched off" in found.message
    most = 26.4 + 24.0 * 1.05 + 1.0
    assert found.margin is not None
    assert found.margin.value == pytest.approx(5.5 / (most * 18.18 / (18.18 + 99.0)), rel=0.01)


def test_a_resistor_at_the_coil_stands_the_same_voltage() -> None:
    facts = '[elements."R4"]\nvoltage = "40 V"\n'
    assert only(board(DIODE, facts), "resistor-overloaded").kind == "pass"
    found = only(board(ZENER, facts), "resistor-overloaded", "fail")
    assert "R4" in found.message
    assert "coil XK1 just switched off" in found.message


def test_a_stated_spread_of_the_zener_diode_hurts_at_the_kindest_end_too() -> None:
    # 26.4 V + 24 V and 0.6 V give 7.91 V at the input, 5 % of 24 V with a junction of 1 V 0.25 V more, 20 % 0.74 V.
    facts = FACTS.replace('voltage_max = "5.5 V"', 'voltage_max = "8.0 V"')
    netlist = f"{BOARD.format(relay='DEMO_KX')}{ZENER}{MODELS}"
    unstated = only(judge(netlist, facts, parts__toml=PARTS), "receiver-overvoltage")
    assert unstated.kind == "open"
    stated = f'{facts}[elements."D2"]\ntolerance = "20 %"\n'
    assert only(judge(netlist, stated, parts__toml=PARTS), "receiver-overvoltage").kind == "fail"


def test_a_clamp_inside_the_relay_is_asked_for_its_voltage() -> None:
    inside = f"{PARTS}internal_clamp = true\n"
    asked = [result for result in board("", "", inside).results if result.kind == "open" and result.missing]
    keys = {fact.key: result.rule for result in asked for fact in result.missing}
    # One of the three rules that wait for it asks.
    assert keys["parts.DEMO_KX.coil.clamp_voltage"] == "output-voltage-exceeded"
    assert only(board("", "", f'{inside}clamp_voltage = "1 V"\n'), "receiver-overvoltage").kind == "pass"
    assert only(board("", "", f'{inside}clamp_voltage = "30 V"\n'), "receiver-overvoltage").kind == "fail"


def test_without_any_clamp_the_missing_one_is_the_fault() -> None:
    report = board("")
    assert only(report, "coil-clamp-missing").kind == "fail"
    assert only(report, "receiver-overvoltage").kind == "notApplicable"


@pytest.mark.parametrize("clamp", [DIODE, ZENER])
def test_a_coil_that_is_drawn_as_inductor_and_resistor_is_one_coil(clamp: str) -> None:
    drawn = BOARD.replace("XK1 V24 SW C1 C2 {relay}\n", "RV1 V24 L 4.8k\nLV1 L SW 1\n")
    found = only(judge(f"{drawn}{clamp}{MODELS}", FACTS, parts__toml=PARTS), "receiver-overvoltage")
    relay = only(board(clamp), "receiver-overvoltage")
    assert found.margin is not None and relay.margin is not None
    assert found.margin.value == pytest.approx(relay.margin.value, rel=1e-3)


COUPLED = """* a coupler that switches a relay
R1 DRV A 470
XU1 A GND E V24 DEMO_PT1
R2 E B 10k
R3 B GNDB 10k
Q1 SW B GNDB QSW
XK1 V24 SW C1 C2 DEMO_KX
"""
PULSED = """
[outputs."DRV"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[signals."DRV"]
pulse = "20 ms"
"""


@pytest.mark.parametrize(
    ("clamp", "inductance", "kind"),
    [(DIODE, "", "open"), (DIODE, "5 H", "pass"), (DIODE, "60 H", "fail"), (ZENER, "60 H", "pass")],
)
def test_a_relay_must_have_released_before_a_pulse_is_over(clamp: str, inductance: str, kind: str) -> None:
    stated = f'drop_out = "2.4 V"\n{f"inductance = {chr(34)}{inductance}{chr(34)}" if inductance else ""}\n'
    found = only(
        judge(f"{COUPLED}{clamp}{MODELS}", f"{FACTS}{PULSED}", parts__toml=f"{PARTS}{stated}"), "switching-too-slow"
    )
    assert found.kind == kind
    if not inductance:
        assert [fact.key for fact in found.missing] == ["parts.DEMO_KX.coil.inductance"]
        return
    took = next(item for item in found.evidence if item.symbol == "t_release")
    # The Zener diode may have 5 % less.
    knee = 0.6 if clamp == DIODE else 0.95 * 24.0 + 0.6
    by_hand = 1.05 * float(inductance.split()[0]) / 4.8e3 * math.log((26.4 + knee) / (2.4 + knee))
    assert took.max == pytest.approx(by_hand, rel=1e-6)


GATE = COUPLED.replace("R2 E B 10k\nR3 B GNDB 10k", "R3 E GNDB 10k").replace("Q1 SW B GNDB QSW", "M1 SW E GNDB GNDB NM")
GATE = GATE.replace("GND E V24", "GND E VB") + ".model NM NMOS(VTO=2 KP=1)\n"
LOGIC = """
[parts.DEMO_LG]
type = "logic-output"
pins = ["anode", "cathode", "ground", "output", "supply"]
[parts.DEMO_LG.led]
forward_voltage = { min = "1.2 V", typ = "1.4 V", max = "1.7 V", at = "10 mA" }
forward_current_max = "25 mA"
threshold_current = "5 mA"
[parts.DEMO_LG.output]
kind = "open-collector"
low_level = { max = "0.5 V", at = "13 mA" }
current_max = "50 mA"
voltage_max = "40 V"
[parts.DEMO_LG.timing]
delay_low = "500 ns"
delay_high = "500 ns"
"""
SINK = "* t\nR1 DRV A 390\nXU1 A GND GNDB SW VB DEMO_LG\nXK1 V24 SW C1 C2 DEMO_KX\n"
DRIVES = f"{SINK.replace('V24 SW', 'SW GNDB')}D1 GNDB SW DFLY\n"
DRAWN = COUPLED.replace("XK1 V24 SW C1 C2 DEMO_KX\n", "RV1 V24 L 4.8k\nLV1 L SW 60\n")
SLOW = 60.0 / 4.8e3


@pytest.mark.parametrize(
    ("cards", "by_hand"),
    [
        pytest.param(GATE + DIODE, SLOW * math.log(27.0 / 3.0), id="behind a MOSFET"),
        pytest.param(SINK + DIODE, SLOW * math.log(27.0 / 3.0), id="at a logic output"),
        # It drives both levels: the coil dies away over its own resistance, from 5.25 V.
        pytest.param(DRIVES, SLOW * math.log(5.25 / 2.4), id="at a logic output that shorts it"),
        # Beside its diode a resistor of the coil's size: half the time constant.
        pytest.param(
            f"{COUPLED}D1 SW Z DFLY\nR9 Z V24 4.8k\n", SLOW / 2.0 * math.log(53.4 / 5.4), id="diode and resistor"
        ),
        # 1 % less of its resistor, and a twentieth of 24 V.
        pytest.param(
            DRAWN + DIODE,
            SLOW / 0.99 * math.log((26.4 / 0.99 + 0.6 / 0.99) / (1.2 + 0.6 / 0.99)),
            id="drawn as inductor and resistor",
        ),
    ],
)
def test_a_coil_is_waited_for_however_it_is_driven_clamped_and_drawn(cards: str, by_hand: float) -> None:
    parts = f'{PARTS}drop_out = "2.4 V"\ninductance = "60 H"\n{LOGIC}'
    if "SW GNDB C1" in cards:
        parts = parts.replace("open-collector", "push-pull")
    found = only(judge(f"{cards}{MODELS}", f"{FACTS}{PULSED}", parts__toml=parts), "switching-too-slow")
    took = next(item for item in found.evidence if item.symbol == "t_release")
    assert took.max == pytest.approx(1.05 * by_hand, rel=1e-6)
    assert "then its coil" in found.message
    assert found.kind == ("pass" if 1.05 * by_hand < 19e-3 else "fail")


def test_what_is_stated_of_a_drawn_coil_says_where_it_lets_go() -> None:
    stated = f'{FACTS}{PULSED}[elements."LV1"]\ndrop_out = "4.8 V"\n'
    found = only(judge(f"{DRAWN}{DIODE}{MODELS}", stated, parts__toml=PARTS), "switching-too-slow")
    left = next(item for item in found.evidence if item.symbol == "I_do")
    assert left.min == pytest.approx(1e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("henries", "ohms", "micro", "volts", "drop_out"),
    [(60.0, 5800.0, 1.0, 26.4, 0.5e-3), (2.0, 900.0, 0.1, 12.0, 1.6e-3), (1.0, 4000.0, 10.0, 24.0, 2e-3)],
)
def test_the_time_of_an_rc_network_is_no_shorter_than_that_of_the_integrated_loop(
    henries: float, ohms: float, micro: float, volts: float, drop_out: float
) -> None:
    """L di/dt = -R i - u, C du/dt = i from the coil's current and a capacitor that is charged to its voltage."""
    farads, held = micro * 1e-6, volts / (0.8 * ohms)
    found = ringing(henries, ohms, farads, volts, held, drop_out)
    times = np.linspace(0.0, 3.0 * found, 3001)
    run = solve_ivp(
        lambda t, x: [-(ohms * x[0] + x[1]) / henries, x[0] / farads], (0.0, times[-1]), [held, -volts],
        t_eval=times, rtol=1e-9, atol=1e-12,
    )  # fmt: skip
    last = times[np.nonzero(np.abs(run.y[0]) > drop_out)[0][-1]]
    assert last <= found
    assert found <= last + 0.05 * math.sqrt(henries * farads) + times[1]


def test_an_rc_network_drops_a_coil_no_sooner_than_its_loop_rings_out() -> None:
    parts = f'{PARTS}drop_out = "2.4 V"\ninductance = "60 H"\n'
    cards = f"{COUPLED}C9 SW Z 1u\nR9 Z V24 1k\n{MODELS}"
    found = only(judge(cards, f"{FACTS}{PULSED}", parts__toml=parts), "switching-too-slow")
    took = next(item for item in found.evidence if item.symbol == "t_release")
    expected = max(ringing(60.0, 5800.0, 1e-6 * share, 26.4, 26.4 / 4800.0, 0.5e-3) for share in (0.8, 1.2))
    assert took.max == pytest.approx(1.05 * expected, rel=1e-6)


def test_an_rc_network_lets_a_coil_rise_by_its_highest_current() -> None:
    """26.4 V over 4.8 kohm, at the least capacitance of 20 %."""
    facts = '[elements."R4"]\nvoltage = "1 kV"\n[elements."R5"]\nvoltage = "1 kV"\n'
    parts = f'{PARTS}inductance = "2 H"\n'
    found = only(board("C9 SW Z 1u\nR9 Z V24 1k\n", facts, parts), "receiver-overvoltage")
    kick = 26.4 / 4.8e3 * (1e3 + math.sqrt(2.0 / 0.8e-6))
    assert found.margin is not None
    assert found.margin.value == pytest.approx(5.5 / ((26.4 + kick) * 18.18 / (18.18 + 99.0)), rel=0.01)


@pytest.mark.parametrize(("henries", "ohms", "supply", "drop_out"), [(2.0, 720.0, 12.0, 1.2), (5.0, 4800.0, 26.4, 2.4)])
def test_the_time_to_release_is_no_shorter_than_that_of_an_integrated_coil_and_diode(
    henries: float, ohms: float, supply: float, drop_out: float
) -> None:
    """L di/dt = -R i - v(i) with a diode of 10 nA and 1.9 emission, which has less than 0.8 V at these currents."""
    diode = 1.9 * 0.02585

    def slope(t: float, i: list[float]) -> list[float]:
        return [-(ohms * i[0] + diode * math.log1p(max(i[0], 0.0) / 10e-9)) / henries]

    def let_go(t: float, i: list[float]) -> float:
        return float(i[0] - drop_out / ohms)

    run = solve_ivp(slope, (0.0, 20.0 * henries / ohms), [supply / ohms], events=let_go, rtol=1e-8, atol=1e-12)
    expected = run.t_events[0][0]
    found = seconds(henries, ohms, 0.55, supply / ohms, drop_out / ohms)
    assert expected <= 1.001 * found < 1.10 * expected

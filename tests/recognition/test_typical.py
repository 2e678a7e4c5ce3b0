"""Forward voltage and transfer ratio of a model, against closed forms."""

from __future__ import annotations

import math

import pytest

from isolint.recognition import Typical, recognise_body
from isolint.worstcase.devices import thermal_voltage
from tests.recognition.labelled import cards_of

MODELS = ".model DL D(IS=1e-15 N=2)\n.model QN NPN(BF=300)\n.model QD NPN(BF=49)\n"
LIT = "D1 A N DL\nV1 N K 0\n"
OUT = "\nQ1 C B E QN"


def of(body: str, header: str = "A K C E", models: str = MODELS) -> Typical:
    cards = cards_of(f".subckt DEMO_X {header}\n{body}\n{models}.ends\n")
    scope = cards.find_subcircuit("DEMO_X", 0)
    assert scope is not None
    return recognise_body(cards, scope).typical


def test_the_forward_voltage_is_that_of_the_junction_with_its_small_resistors() -> None:
    junction = 2 * thermal_voltage(27.0) * math.log(10e-3 / 1e-15 + 1)
    assert of(LIT + "F1 C B V1 1m" + OUT).forward_voltage == pytest.approx(junction)
    models = MODELS.replace("N=2)", "N=2 RS=3)")
    series = "R1 A M 2\nD1 M N DL\nV1 N K 0\nF1 C B V1 1m" + OUT
    assert of(series, models=models).forward_voltage == pytest.approx(junction + 0.05)
    assert of(series.replace("R1 A M 2", "R1 A M 200")).forward_voltage is None, "a series resistor is no LED"
    assert of(LIT.replace("V1 N K 0", "V0 N O 0.1\nV1 O K 0") + "F1 C B V1 1m" + OUT).forward_voltage == pytest.approx(
        junction + 0.1
    )


@pytest.mark.parametrize(
    ("how", "body", "photocurrent"),
    [
        ("F", "F1 C B V1 2m", 2e-3),
        ("law", "B1 C B I=I(V1)*0.002", 2e-3),
        ("H and divider", "H1 P 0 V1 1k\nR1 P Q 1k\nR2 Q 0 3k\nG1 C B Q 0 2u", 1.5e-3),
        ("F into a resistor", "F9 0 P V1 0.5\nR1 P 0 2k\nG1 C B P 0 2u", 2e-3),
        ("meter in the light", "F9 0 P V1 0.5\nR1 P Q 1k\nVM Q 0 0\nF1 C B VM 4m", 2e-3),
        ("polynomial", "H1 P 0 V1 1k\nG1 C B POLY(1) P 0 0 2u", 2e-3),
        ("table", "E1 P 0 TABLE {I(V1)} = (0,0) (5m,10) (10m,12)\nG1 C B P 0 1u", None),
        ("delay", "E1 P 0 LAPLACE {I(V1)} = {1000/(1+1u*s)}\nG1 C B P 0 2u", 2e-3),
    ],
)  # fmt: skip
def test_the_ratio_follows_the_light_chain(how: str, body: str, photocurrent: float | None) -> None:
    found = of(LIT + body + OUT)
    if photocurrent is not None:
        assert found.ratio_at(5e-3) == pytest.approx(photocurrent * 301), how
    else:
        assert [value for _, value in found.ratios] == pytest.approx([2e-6 / 1e-3 * 301, 10e-6 / 5e-3 * 301, 0.3612])


def test_current_from_node_0_does_not_pass_the_collector() -> None:
    assert of(LIT + "F1 0 B V1 2m" + OUT).ratio_at(5e-3) == pytest.approx(2e-3 * 300)


def test_a_darlington_multiplies_both_gains() -> None:
    body = LIT + "F1 C B V1 1m\nQ1 C B M QD\nQ2 C M E QD"
    assert of(body).ratio_at(5e-3) == pytest.approx(1e-3 * 50 * 50)


def test_a_voltage_across_a_series_resistor_is_the_leds_current() -> None:
    assert of("D1 A N DL\nR1 N K 4\nG1 C B N K 0.5m" + OUT).ratio_at(5e-3) == pytest.approx(2e-3 * 301)


def test_parameters_of_the_header_and_functions_count() -> None:
    body = ".func f(x) {x*{CTR}}\n" + LIT + "B1 C B I=f(I(V1))/100" + OUT
    assert of(body, "A K C E PARAMS: CTR=0.2").ratio_at(5e-3) == pytest.approx(2e-3 * 301)


@pytest.mark.parametrize(
    "body",
    [
        LIT + "E1 P 0 VALUE={I(V1)+V(Q)}\nE2 Q 0 P 0 1\nG1 C B P 0 1m",
        LIT + "G1 C B VALUE={I(V1)*{unknown}}",
    ],
)  # fmt: skip
def test_what_cannot_be_computed_gives_no_ratio(body: str) -> None:
    assert of(body + OUT).ratios == ()


def test_diodes_that_share_the_current_of_the_led_and_stand_in_the_way_of_its_light_count_with_what_they_do() -> None:
    shared = of("D1 A N DL\nD2 A K DL\nV1 N K 0\nF1 C B V1 2m" + OUT)
    assert shared.ratio_at(5e-3) == pytest.approx(0.5 * 2e-3 * 301, rel=1e-4)
    volts = 5.0
    for _ in range(60):
        volts = 5.0 - 2 * thermal_voltage(27.0) * math.log1p(volts / 1e3 / 1e-15)
    behind = of(LIT + "H1 P 0 V1 1k\nD9 P Q DL\nR1 Q 0 1k\nG1 C B Q 0 2u" + OUT)
    assert behind.ratio_at(5e-3) == pytest.approx(2e-6 * volts * 301 / 5e-3, rel=1e-4)


def test_a_resistor_from_base_to_emitter_takes_its_part_of_the_light() -> None:
    found = of(LIT + "F1 C B V1 2m" + OUT + "\nRBE B E 100k")
    lit = 2e-3 * 5e-3
    base = lit
    for _ in range(60):
        base = lit - thermal_voltage(27.0) * math.log(300 * base / 1e-16) / 100e3
    assert found.ratio_at(5e-3) == pytest.approx((lit + 300 * base) / 5e-3, rel=1e-3)


def test_a_diode_whose_current_a_resistor_across_it_takes_has_no_forward_voltage_of_an_led() -> None:
    assert of("D1 A N DL\nR1 A N 10\nV1 N K 0\nF1 C B V1 2m\nQ1 C B E QN").forward_voltage is None

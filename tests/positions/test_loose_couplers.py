"""A coupler drawn as loose cards on a sheet is asked about; what measures, drives or regulates an LED is not."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.support import judge

LED = ".model DEMO_LED D(IS=1e-14 N=1.9)\n"
FED = "R2 VB C 4k7\nV2 VB {ground} 5\n"
LIT = {
    "a current source of a sensed current": "V1 A 0 5\nR1 A AN 330\nD1 AN K DEMO_LED\nVS K 0 0\nF1 C {ground} VS 0.5\n",
    "a law that names the LED": "V1 A 0 5\nR1 A AN 330\nD1 AN 0 DEMO_LED\nB1 C {ground} I=0.5*I(D1)\n",
    "a switch of a sensed current": (
        "V1 A 0 5\nR1 A AN 330\nVS AN K 0\nD1 K 0 DEMO_LED\nW1 C {ground} VS DEMO_SW\n.model DEMO_SW CSW(IT=5m)\n"
    ),
    "a switch of the LED's voltage": (
        "V1 A GNDA 5\nR1 A AN 330\nD1 AN GNDA DEMO_LED\nS1 C {ground} AN GNDA DEMO_SW\n.model DEMO_SW SW(VT=1)\n"
    ),
}


def loose(cards: str, ground: str, facts: str = "") -> NetlistReport:
    return judge("loose cards\n" + (cards + FED).format(ground=ground) + LED, facts)


def asked(report: NetlistReport) -> list[str]:
    return [result.subject for result in report.results if result.rule == "part-unknown"]


@pytest.mark.parametrize("ground", ["0", "GNDB", "N7"])
@pytest.mark.parametrize("cards", LIT.values(), ids=LIT)
def test_what_an_led_moves_without_a_conductor_is_asked_about_whatever_the_returns_are_called(
    cards: str, ground: str
) -> None:
    report = loose(cards, ground)
    assert len(asked(report)) == 1
    assert report.coverage.silence.startswith("NOTHING WAS JUDGED")


@pytest.mark.parametrize(
    "cards",
    [
        pytest.param("V1 A 0 5\nR1 A AN 330\nD1 AN K DEMO_LED\nVS K 0 0\nF1 0 M VS 1\nR3 M 0 1k\n", id="a monitor"),
        pytest.param("V1 A 0 5\nR1 A AN 330\nD1 AN K DEMO_LED\nVS K 0 0\nF1 A 0 VS 1\n", id="a mirror on one supply"),
        pytest.param("V1 A 0 5\nR1 A AN 330\nD1 AN 0 DEMO_LED\nB1 C 0 V=I(D1)*V(AN)\n", id="a power meter"),
        pytest.param("V1 A 0 5\nR1 A AN 330\nD1 AN K DEMO_PN\nVS K 0 0\nF1 C 0 VS 1\n.model DEMO_PN D\n", id="silicon"),
    ],
)
def test_what_measures_or_regulates_is_no_question(cards: str) -> None:
    assert not asked(loose(cards, "0"))


def test_a_declaration_and_a_claim_both_settle_the_question() -> None:
    cards = LIT["a current source of a sensed current"]
    assert not asked(loose(cards, "N7", '[elements."F1"]\nordinary = true\n'))
    assert not asked(loose(cards, "N7", '[reading]\nisolation = "none"\n'))


def test_the_cure_names_what_can_be_done_with_a_source() -> None:
    (result,) = [r for r in loose(LIT["a law that names the LED"], "GNDB").results if r.rule == "part-unknown"]
    assert ".subckt" in result.remedy
    assert "record" not in result.remedy

"""What judging time costs in solved points: counted, on one channel at two temperatures."""

from __future__ import annotations

import pytest

from isolint.worstcase import solve
from tests.rules.test_boards_in_time import BRIDGE, DIODES, FACTS, PART, PULSES, supply
from tests.support import judge

OUTPUT = "R3 V A 1k\nXU1 A K GNDB OUT DEMO_T\nR2 VB OUT 10k\n"
STEADY = '[supplies."L"]\nvoltage = "24 V"\ntolerance = "10 %"\nground = "GND"\n'


def points(cards: str, facts: str, monkeypatch: pytest.MonkeyPatch) -> int:
    """How often a network is solved while a board is judged."""
    solved = []
    plain = solve._solve

    def counted(*given: object) -> object:
        solved.append(1)
        return plain(*given)  # type: ignore[arg-type]

    warm = FACTS.replace('["25 degC", "25 degC"]', '["0 degC", "60 degC"]')
    with monkeypatch.context() as patch:
        patch.setattr(solve, "_solve", counted)
        judge(f"* cost\n{cards}{OUTPUT}{DIODES}", f"{warm}{facts}", parts__toml=PART)
    return len(solved)


def test_a_stated_rate_costs_no_more_than_half_as_much_again(monkeypatch: pytest.MonkeyPatch) -> None:
    cards = "R1 L V 2.2k\nR5 K GND 1\n"
    rate = '[signals."OUT"]\nrate = "100 baud"\n'
    assert points(cards, STEADY + rate, monkeypatch) <= 1.5 * points(cards, STEADY, monkeypatch)


@pytest.mark.parametrize(
    ("cards", "facts", "most"),
    [
        (f"R1 L P 2.2k\n{BRIDGE}", supply(24, "10 %"), 140),
        (f"R1 L P 2.2k\n{BRIDGE}", supply(24, "10 %") + PULSES, 140),
        (f"R1 L P 2.2k\n{BRIDGE}C1 V K 47u\n", supply(24, "10 %"), 245),
        (f"C1 L P1 330n\nR1 P1 P 470\n{BRIDGE}", supply(230, "10 %") + PULSES, 230),
    ],
)
def test_an_alternating_drive_costs_a_few_direct_ones(
    cards: str, facts: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert 30 < points(cards, facts, monkeypatch) <= most

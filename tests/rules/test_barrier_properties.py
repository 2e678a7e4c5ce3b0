"""Random barriers: a larger demand clears no failure, a stronger rating adds none, order and names change nothing."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from random import Random

import pytest

from tests.rules.test_insulation import RULES
from tests.support import judge

Numbers = dict[str, float]
UNITS = {
    **dict.fromkeys(("working_voltage", "working_peak", "mains", "impulse", "withstand", "repetitive_peak"), "V"),
    **dict.fromkeys(("transient", "surge", "channel_withstand"), "V"),
    **dict.fromkeys(("creepage", "clearance", "board_creepage", "altitude"), "m"),
    **dict.fromkeys(("slew", "slew_immunity"), "V/s"),
    "touch_current": "A",
}
DEMANDS = ("working_voltage", "mains", "impulse", "withstand", "slew", "overvoltage_category")
RATINGS = ("working_voltage", "repetitive_peak", "transient", "withstand", "creepage", "clearance", "slew_immunity")
GRADES = ("functional", "basic", "reinforced")


class DrawnBarrier:
    """A coupler, a Y capacitor and a string across one barrier, all of it drawn by a seed."""

    def __init__(self, seed: int) -> None:
        draw = self.draw = Random(seed)
        volts = draw.choice((24.0, 50.0, 120.0, 230.0, 277.0, 400.0, 690.0, 1000.0))
        self.kinds = draw.choice((("mains", "selv"), ("mains", "earth"), ("hazardous", "selv"), ("", "selv"), ("", "")))
        self.profile = draw.choice(("iec-60664-1", "iec-60664-1", "iec-62368-1", "iec-60601-1"))
        self.insulation = draw.choice(GRADES)
        self.demands: Numbers = {"working_voltage": volts * draw.uniform(1.0, 1.2), "touch_current": 0.5e-3}
        if draw.random() < 0.7:
            self.demands |= {"mains": volts, "overvoltage_category": draw.randint(1, 4)}
        for key, value in (("impulse", draw.uniform(500.0, 9000.0)), ("withstand", draw.uniform(500.0, 5000.0))):
            if draw.random() < 0.3:
                self.demands[key] = value
        if draw.random() < 0.5:
            self.demands["slew"] = draw.uniform(1e9, 5e10)
        self.grade = draw.choice(GRADES)
        peak = volts * draw.uniform(0.7, 3.0)
        self.ratings: Numbers = {
            "working_voltage": peak / 1.414,
            "repetitive_peak": peak,
            # A record whose ratings contradict each other is refused.
            "transient": max(peak, draw.uniform(2000.0, 12000.0)),
            "withstand": 6.0 * peak,
            "creepage": draw.uniform(2e-3, 16e-3),
            "slew_immunity": draw.uniform(1e9, 1e11),
        }
        self.ratings["clearance"] = self.ratings["creepage"] * draw.uniform(0.8, 1.0)
        self.degree, self.altitude = draw.randint(1, 3), draw.choice((0.0, 2000.0, 3500.0, 6000.0))

    def settings(self, sides: tuple[str, str] = ("field", "logic")) -> list[str]:
        """The tables of isolint.toml."""
        insulation = {"functional": "functional", "basic": "1 MOOP", "reinforced": "2 MOOP"}[self.insulation]
        level = insulation if self.profile == "iec-60601-1" else self.insulation
        tables = [
            f'[environment]\npollution_degree = {self.degree}\naltitude = "{self.altitude} m"\n',
            f'[[barriers]]\nbetween = ["{sides[0]}", "{sides[1]}"]\ninsulation = "{level}"\n'
            f'profile = "{self.profile}"\n{_lines(self.demands)}',
            '[elements."R*"]\nvoltage = "300 V"\n',
            '[elements."CY*"]\nclass = "Y2"\nvoltage = "300 V"\n',
        ]
        for name, net, kind in zip(sides, ("N", "G"), self.kinds, strict=True):
            tables.append(f'[sides.{name}]\nnets = ["{net}"]\n' + (f'kind = "{kind}"\n' if kind else ""))
        return tables

    def failures(self, tables: list[str] | None = None, names: tuple[str, str] = ("field", "logic")) -> set[str]:
        """What fails, with names of its own for the sides."""
        record = (
            '[parts.DEMO_X1]\ntype = "phototransistor"\npins = ["anode", "cathode", "emitter", "collector"]\n'
            f'source = "invented"\n[parts.DEMO_X1.insulation]\ngrade = "{self.grade}"\n{_lines(self.ratings)}'
        )
        across = "CY1 N M 2.2n\nCY2 M G 2.2n\nR7 N Q 4.7Meg\nR8 Q G 4.7Meg\n"
        cards = f"R1 A K 1k\nXU1 K N G OUT DEMO_X1\nR2 V5 OUT 10k\n{across}"
        own = 'parts = ["p.toml"]\n'
        report = judge(f"* board\n{cards}.end\n", own + "".join(tables or self.settings(names)), p__toml=record)
        return {
            f"{result.rule} {result.role.partition(', another')[0]}"
            for result in report.results
            if result.kind == "fail" and result.rule in RULES
        }


def _lines(numbers: Mapping[str, float]) -> str:
    return "".join(
        f'{key} = "{value:.9g} {UNITS[key]}"\n' if key in UNITS else f"{key} = {value:g}\n"
        for key, value in numbers.items()
    )


def raising_a_demand_clears_nothing(seed: int) -> None:
    board = DrawnBarrier(seed)
    before = board.failures()
    key = board.draw.choice([key for key in (*DEMANDS, "insulation", "degree", "altitude") if _can_rise(board, key)])
    if key == "insulation":
        # That too little is stated between two sides is what stating more cures.
        before = {failure for failure in before if not failure.endswith(" chain")}
        board.insulation = GRADES[GRADES.index(board.insulation) + 1]
    elif key == "degree":
        board.degree += 1
    elif key == "altitude":
        board.altitude += 1500.0
    elif key == "overvoltage_category":
        board.demands[key] += 1
    else:
        board.demands[key] *= board.draw.uniform(1.0, 3.0)
    assert before <= board.failures(), (seed, key)


def _can_rise(board: DrawnBarrier, key: str) -> bool:
    if key == "insulation":
        return board.insulation != "reinforced"
    if key == "degree":
        return board.degree < 4
    if key == "overvoltage_category":
        return board.demands.get(key, 4) < 4
    # The mains bounds the working voltage from below, and both rise together.
    return key == "altitude" or key in board.demands


def strengthening_a_part_adds_nothing(seed: int) -> None:
    board = DrawnBarrier(seed)
    before = board.failures()
    key = board.draw.choice(RATINGS)
    factor = board.draw.uniform(1.0, 3.0)
    board.ratings[key] *= factor
    # A record that contradicts itself is refused: what lies above rises with it.
    for ladder in (("working_voltage", "repetitive_peak", "transient"), ("clearance", "creepage")):
        for lower, upper in pairwise(ladder):
            board.ratings[upper] = max(board.ratings[upper], board.ratings[lower])
    assert board.failures() <= before, (seed, key)


def order_and_names_change_nothing(seed: int) -> None:
    board = DrawnBarrier(seed)
    before = board.failures()
    tables = board.settings()
    board.draw.shuffle(tables)
    assert board.failures(tables) == before, seed
    assert board.failures(names=("zulu", "alpha")) == before, seed


PROPERTIES = (raising_a_demand_clears_nothing, strengthening_a_part_adds_nothing, order_and_names_change_nothing)


@pytest.mark.parametrize("claim", PROPERTIES, ids=lambda claim: claim.__name__)
def test_of_a_few_random_barriers(claim: object) -> None:
    for seed in range(8):
        claim(seed)  # type: ignore[operator]


@pytest.mark.long
@pytest.mark.parametrize("claim", PROPERTIES, ids=lambda claim: claim.__name__)
def test_of_many_random_barriers(claim: object) -> None:
    for seed in range(100, 500):
        claim(seed)  # type: ignore[operator]

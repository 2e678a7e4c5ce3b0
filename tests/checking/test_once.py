"""What is computed once is kept by its function and its arguments, and what is lacking is kept too."""

from __future__ import annotations

import pytest

from isolint.checking.analysis import Analysis
from isolint.checking.once import Key, Known, once
from isolint.worstcase.budget import Meter
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting
from isolint.worstcase.watch import Watch
from tests.checking.boards import SECOND, SOUND, context_of


class Counting:
    """Quantities that count how often they are computed."""

    def __init__(self) -> None:
        self.memo: dict[Key, list[Known]] = {}
        self.base = self.changed = None
        self.watch = Watch()
        self.asked: list[object] = []
        self.meter = Meter()

    @once
    def plain(self, ohms: float, setting: Setting = WORST) -> float:
        self.asked.append(setting)
        return 2 * ohms + setting.is_kindest

    @once
    def other(self, ohms: float, setting: Setting = WORST) -> float:
        return 3 * ohms + setting.is_kindest

    @once
    def lacking(self, ohms: float) -> float:
        self.asked.append(ohms)
        raise Lacking("nobody knows")

    @once
    def failing(self, ohms: float) -> float:
        self.asked.append(ohms)
        raise ZeroDivisionError


def test_an_argument_left_out_is_the_same_as_its_default_and_another_setting_is_another_value() -> None:
    counting = Counting()
    assert [counting.plain(1.0), counting.plain(1.0, WORST), counting.plain(1.0, KINDEST)] == [2.0, 2.0, 3.0]
    assert counting.asked == [WORST, KINDEST]
    assert counting.plain(1.0, setting=KINDEST) == 3.0


def test_two_quantities_of_the_same_arguments_are_kept_apart() -> None:
    counting = Counting()
    assert (counting.plain(1.0), counting.other(1.0), counting.plain(1.0)) == (2.0, 3.0, 2.0)


def test_what_is_lacking_is_asked_for_once_and_what_broke_is_asked_for_again() -> None:
    counting = Counting()
    for _ in range(2):
        with pytest.raises(Lacking, match="nobody knows"):
            counting.lacking(1.0)
        with pytest.raises(ZeroDivisionError):
            counting.failing(2.0)
    assert counting.asked == [1.0, 2.0, 2.0]


def test_a_changed_resistor_leaves_the_quantities_alone_in_which_it_plays_no_part() -> None:
    context = context_of(SOUND + SECOND)
    first, second = context.channels
    resistor = context.circuit.find("R1")
    assert resistor is not None
    changed = Analysis(
        context.lookup.resized({resistor: 100.0}), context.interfaces, base=context.analysis, changed=resistor
    )
    assert changed.drive(second) is context.analysis.drive(second)
    assert changed.load(first) is context.analysis.load(first)
    assert changed.drive(first).current.low.value > 2 * context.analysis.drive(first).current.low.value

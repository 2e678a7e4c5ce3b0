"""What is computed once is kept by its function and its arguments, and what is lacking is kept too."""

from __future__ import annotations

import pytest

from isolint.checking.analysis import Analysis
from isolint.checking.once import Key, KnownValue, apart, once
from isolint.worstcase.budget import Meter
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term
from isolint.worstcase.watch import Sources, Watch
from tests.checking.boards import SECOND, SOUND, context_of


class Counting:
    """Quantities that count how often they are computed."""

    def __init__(self) -> None:
        self.memo: dict[Key, list[KnownValue]] = {}
        self.base: Counting | None = None
        self.changed: int | None = None
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


AGEING = Term("a", "ageing", "1", 0.5, 1.0, 1.0, 1.0, 1.0, False, "default")
SPREAD = Term("s", "spread", "1", 0.9, 1.0, 1.1, 1.0, 1.0, False, "default")


class Resting:
    """Quantities of which one rests on another, on terms, and on the value of element 7."""

    def __init__(self, base: Resting | None = None, changed: int | None = None) -> None:
        self.memo: dict[Key, list[KnownValue]] = {}
        self.base = base
        self.changed = changed
        self.watch: Watch = Watch() if base is None else base.watch
        self.meter = Meter()
        self.worked: list[str] = []

    @once
    def aged(self, setting: Setting = WORST) -> float:
        self.worked.append("aged")
        return setting.low(AGEING)

    @once
    def spread(self, setting: Setting = WORST) -> float:
        self.worked.append("spread")
        self.watch.note(7)
        return setting.low(SPREAD)

    @once
    def product(self, setting: Setting = WORST) -> float:
        self.worked.append("product")
        return self.aged(setting) * self.spread(setting)

    @apart
    def holder(self, setting: Setting = WORST) -> Setting:
        self.worked.append("holder")
        return setting


def test_another_setting_works_out_only_what_rests_on_a_term_that_is_another_in_it() -> None:
    resting = Resting()
    assert resting.product() == 0.45
    assert resting.product(Setting({"a": 1.0})) == 0.9
    assert resting.worked == ["product", "aged", "spread", "product", "aged"]
    assert resting.product(Setting({"nobody": 1.0})) == 0.45
    assert resting.product(KINDEST) == 1.0
    assert resting.worked[5:] == ["product", "spread"]


def test_what_is_known_already_counts_among_what_the_next_rests_on() -> None:
    resting = Resting()
    assert resting.aged() == 0.5
    assert resting.product() == 0.45
    assert resting.product(Setting({"a": 1.0})) == 0.9


def test_another_value_of_an_element_leaves_what_never_asked_for_it() -> None:
    base = Resting()
    base.product()
    trial = Resting(base, 7)
    assert (trial.product(), trial.aged()) == (0.45, 0.5)
    assert trial.worked == ["product", "spread"]
    other = Resting(base, 8)
    assert other.product() == 0.45
    assert other.worked == []


def test_what_holds_on_to_a_setting_is_made_for_each() -> None:
    resting = Resting()
    assert [resting.holder(), resting.holder(KINDEST), resting.holder()] == [WORST, KINDEST, WORST]
    assert resting.worked == ["holder", "holder"]


def test_what_is_kept_beside_notes_the_same_when_it_is_asked_for_again() -> None:
    watch, memo = Watch(), dict[str, tuple[float, Sources]]()
    found = []
    for _ in range(2):
        with watch.noting() as sources:
            watch.kept(memo, "x", lambda: watch.watching(WORST).high(AGEING))
        found.append(sources)
    assert found == [{AGEING}, {AGEING}]


def test_a_setting_that_is_asked_how_far_it_goes_is_worked_out_for_another_one_again() -> None:
    counting = Counting()
    assert [counting.plain(1.0), counting.plain(1.0, Setting({"a": 1.0})), counting.plain(1.0, KINDEST)] == [2, 2, 3]
    assert counting.asked == [WORST, KINDEST]


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

"""What is asked of a type follows from its traits and from what each rule says that it is asked of."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from isolint import types
from isolint.rules import RULES
from isolint.types.form.part_type import Conduction, Input, Own, Trait
from tests.support import FIXTURES, judge_fixture, of_netlist

ASKED = {name: {rule.slug for rule in RULES if rule.asks(kind)} for name, kind in types.BY_NAME.items()}
_WORDS = [part for words in (Trait, Input, Conduction, Own) for part in get_args(words)]
TRAITS = {trait for part in _WORDS for trait in (get_args(part) or (part,))}
BARRIER = {
    "ground-tie",
    "supply-shared",
    "bridge-conducting",
    "bridge-capacitor",
    "insulation-grade-low",
    "working-voltage-exceeded",
    "transient-rating-low",
    "distance-short",
    "touch-current-high",
    "earth-bond-missing",
}
BOARDS = [
    path
    for pattern in ("*/fails.cir", "*/*phototriac.cir", "*/mosfet-output.cir")
    for path in sorted((FIXTURES / "rules").glob(pattern))
]


def test_a_rule_is_asked_of_traits_and_types_that_there_are() -> None:
    known = TRAITS | set(types.NAMES)
    assert {"led", "barrier", "transistor", "phototriac"} <= known
    for rule in RULES:
        assert set(rule.asked_of) <= known, rule.slug
        assert len(rule.record.asked_of) > 0 or not rule.asked_of, rule.slug


def test_only_what_is_asked_of_a_netlist_is_asked_of_no_type() -> None:
    nobody = {rule.slug for rule in RULES if not rule.asked_of}
    reading = {rule.slug for rule in RULES if rule.group == "reading" and rule.judge is None}
    # What is stated of a supply against the source across it is no matter of any part that isolates.
    assert nobody == reading | {"supply-contradicted"}
    assert all(rule.asked_of for rule in RULES if rule.judge is not None)


def test_every_type_that_isolates_is_asked_about_its_barrier_and_an_ordinary_part_nothing() -> None:
    for name, kind in types.BY_NAME.items():
        assert ASKED[name] >= BARRIER if kind.isolates else ASKED[name] == set(), name


def test_outputs_are_asked_about_as_far_as_they_are_known() -> None:
    assert ASKED["phototransistor"] - ASKED["logic-output"] == {
        *("transfer-margin-low", "base-resistor-low"),
        *("feedback-range-short", "feedback-bias-missing"),
    }
    # What a sine chops is the level of either.
    assert "output-chopped" in ASKED["phototransistor"] & ASKED["logic-output"]
    # Its output has a supply and may have an enable, which is read as a logic input is.
    assert ASKED["logic-output"] - ASKED["phototransistor"] == {
        "trigger-margin-low",
        "side-unpowered",
        "supply-out-of-range",
        "bypass-missing",
        "input-floating",
        "logic-level-missed",
    }
    assert "led-unlimited" in ASKED["phototriac"]
    assert {"load-missing", "dc-load-latches"} <= ASKED["phototriac"]
    # It holds by itself, so that there is no level or leakage for a receiver to read.
    assert ASKED["phototriac"].isdisjoint({"transfer-margin-low", "output-level-invalid", "dark-current-high"})
    driven = {"led-overdriven", "led-reverse-exceeded"}
    assert ASKED["linear"] == BARRIER | driven | {"servo-open", "servo-range-short", "photodiode-overdriven"}
    assert {"coil-clamp-missing", "coil-overvoltage", "pull-in-low", "drop-out-missed"} <= ASKED["relay"]
    assert "led-unlimited" not in ASKED["relay"]
    assert "side-unpowered" in ASKED["isolated-supply"]


@pytest.mark.parametrize("path", [*map(of_netlist, BOARDS)])
def test_what_is_judged_of_a_channel_was_asked_of_its_type_and_what_was_asked_is_answered(path: Path) -> None:
    report = judge_fixture(path)
    # Parts of which no channel is made, relays and supplies, are answered too.
    of_part = {answers.part: answers.type for answers in report.coverage.answers}
    assert {coupler.part: coupler.type for coupler in report.couplers}.items() <= of_part.items()
    answered: dict[str, set[str]] = {}
    for result in report.results:
        if result.part:
            answered.setdefault(result.part, set()).add(result.rule)
            if result.kind != "notApplicable":
                assert result.rule in ASKED[of_part[result.part]], result.message
    for part, slugs in answered.items():
        # What drives a channel decides whether some rules are asked of it at all.
        every = [rule for rule in RULES if rule.judge is not None and rule.concerns is None]
        kind = types.of(of_part[part])
        # What is asked beside channels, of the part, may have nothing to say of it.
        about = {rule.slug for rule in every if rule.asks_channels(kind)} if "channel" in kind.traits else set()
        # What several channels share is said of the first.
        shared = {result.rule for result in report.results if result.kind == "fail"}
        assert about <= slugs | shared, part

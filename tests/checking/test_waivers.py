"""Accepted failures: what a waiver accepts, what it does not, and when it is stale."""

from __future__ import annotations

from datetime import date

import pytest

from isolint import app
from isolint.results import Result
from tests.checking.boards import FACTS, SECOND, SOUND, core
from tests.support import judge

TIED = SOUND + SECOND + "R9 GND GNDB 0\n"
TODAY = date(2026, 6, 1)


def waiver(rule: str = "ground-tie", where: str = "R9", until: str = "2027-06-30") -> str:
    """Facts with one waiver."""
    return (
        f'{FACTS}[[waivers]]\nrule = "{rule}"\nwhere = "{where}"\nreason = "bench fixture only"\nby = "hardware '
        f'lead"\nuntil = {until}\n'
    )


def failures(netlist: str, facts: str, today: date | None = TODAY) -> list[Result]:
    """All failures, accepted ones too, stale waivers first."""
    found = [result for result in core(netlist, facts, today=today) if result.kind == "fail"]
    return sorted(found, key=lambda result: result.rule != "waiver-stale")


def test_a_waiver_accepts_the_failure_and_keeps_it_visible() -> None:
    (found,) = failures(TIED, waiver())
    assert found.rule == "ground-tie"
    assert found.level == "error"
    accepted = found.suppression
    assert accepted is not None
    assert (accepted.justification, accepted.by, accepted.until) == (
        "bench fixture only",
        "hardware lead",
        "2027-06-30",
    )


@pytest.mark.parametrize("where", ["logic", "FIELD", "GND", "gndb", "XU1", "XU1.*", "field | logic"])
def test_a_waiver_of_a_joint_names_its_element_and_not_the_sides_that_any_other_one_joins_too(where: str) -> None:
    stale = next(result for result in failures(TIED, waiver(where=where)) if result.rule == "waiver-stale")
    assert "name what joins the sides in where (R9)" in stale.remedy
    assert all(result.suppression is None for result in failures(TIED, waiver(where=where)))


@pytest.mark.parametrize("where", ["R9", "r9", "R?"])
def test_where_names_the_element_case_not_counting(where: str) -> None:
    (found,) = failures(TIED, waiver(where=where))
    assert found.suppression is not None


@pytest.mark.parametrize("where", ["XU1", "R1", "DRIVE", "R[9]", "R", "V9", "earth"])
def test_where_that_names_nothing_of_the_failure_accepts_nothing(where: str) -> None:
    assert [(result.rule, result.suppression) for result in failures(TIED, waiver(where=where))] == [
        ("waiver-stale", None),
        ("ground-tie", None),
    ]


@pytest.mark.parametrize(
    ("rule", "where"), [("led-overdriven", "XU1"), ("led-overdriven", "R1"), ("led-overdriven", "A")]
)
def test_where_may_name_the_part_the_card_to_change_or_a_net_of_the_chain(rule: str, where: str) -> None:
    board = (SOUND + SECOND).replace("470", "47")
    first, second = failures(board, waiver(rule, where))
    assert first.suppression is not None
    assert (second.subject, second.suppression) == ("XU2", None)


def test_a_waiver_is_for_one_rule_only() -> None:
    found = failures(TIED, waiver("bridge-conducting"))
    assert [(result.rule, result.suppression) for result in found] == [("waiver-stale", None), ("ground-tie", None)]


def test_the_last_day_counts_and_the_next_does_not() -> None:
    assert [result.suppression is not None for result in failures(TIED, waiver(until="2026-06-01"))] == [True]
    over = failures(TIED, waiver(until="2026-05-31"))
    assert [(result.rule, result.level, result.suppression) for result in over] == [
        ("waiver-stale", "warning", None),
        ("ground-tie", "error", None),
    ]
    assert "ended on 2026-05-31" in over[0].message
    assert "still fails" in over[0].message


def test_a_waiver_that_is_over_and_matches_nothing_is_one_result() -> None:
    (stale,) = failures(SOUND, waiver(until="2020-01-01"))
    assert stale.rule == "waiver-stale"
    assert "nothing fails there now" in stale.message
    assert stale.where.file == "isolint.toml"


def test_a_waiver_that_matches_nothing_is_stale_and_says_what_to_do() -> None:
    (stale,) = failures(SOUND, waiver())
    assert (stale.rule, stale.level, stale.subject) == ("waiver-stale", "warning", "ground-tie at R9")
    assert "matches no failure" in stale.message
    assert stale.remedy


def test_two_waivers_that_match_one_failure_are_both_in_use() -> None:
    facts = waiver() + waiver(where="R?").removeprefix(FACTS)
    assert [result.rule for result in failures(TIED, facts)] == ["ground-tie"]


def test_an_open_result_cannot_be_waived() -> None:
    facts = waiver("part-unknown", "X9")
    results = core(SOUND + "X9 V5 GND VB GNDB MYSTERY\n", facts, strict=True, today=TODAY)
    told = [(result.rule, result.kind, result.suppression) for result in results if result.kind in ("open", "fail")]
    assert told == [("part-unknown", "open", None), ("waiver-stale", "fail", None)]


def test_an_element_inside_a_sheet_is_named_locally_or_by_its_path() -> None:
    sheet = ".subckt LINK A B\nR9 A B 0\n.ends\n"
    for where in ("R9", "Xlink.R9", "xlink.*"):
        (found,) = failures(SOUND + "Xlink GND GNDB LINK\n" + sheet, waiver(where=where))
        assert found.suppression is not None


def test_one_of_two_uses_of_a_sheet_is_waived_by_its_path_and_the_other_stands() -> None:
    sheet = ".subckt CH D O\nR1 D A 47\nXU1 A GND GNDB O DEMO_PT1\nR2 VB O 10k\n.ends\n"
    board = f"* t\nXch1 DRIVE1 OUT1 CH\nXch2 DRIVE2 OUT2 CH\n{sheet}.global GND GNDB VB\n"
    found = failures(board, waiver("led-overdriven", "Xch2.XU1"))
    assert [(result.subject, result.suppression is not None) for result in found] == [
        ("Xch1.XU1", False),
        ("Xch2.XU1", True),
    ]


@pytest.mark.parametrize(("where", "accepted"), [("X2.RT", True), ("RT", True), ("X1.RT", False), ("X1.*", False)])
def test_a_joint_in_one_instance_is_not_waived_by_the_name_of_another(where: str, accepted: bool) -> None:
    block = "* t\n.subckt DEMO_TIE a b r=20meg\nRT a b {r}\n.ends\nX1 GND GNDB DEMO_TIE\nX2 GND GNDB DEMO_TIE r=0\n"
    tie = next(result for result in failures(block + SOUND, waiver(where=where)) if result.rule == "ground-tie")
    assert (tie.suppression is not None) == accepted


def test_waived_failures_do_not_count_and_the_date_is_that_of_the_check() -> None:
    netlist = judge(TIED, waiver(), app.Options(today=TODAY))
    assert not any(result.kind == "fail" and result.suppression is None for result in netlist.results)
    later = judge(TIED, waiver(), app.Options(today=date(2030, 1, 1)))
    assert any(result.rule == "ground-tie" and result.suppression is None for result in later.results)

"""Which number of a result its margin belongs to, and how numbers stand that lie close to their limits."""

from __future__ import annotations

import pytest

from isolint.archive import pieces
from isolint.archive.worst_case import corner_of, deciding, quantities
from isolint.errors import Place
from isolint.reports.barrier_page import cell
from isolint.reports.wording import details
from isolint.results import Evidence, Limit, Margin, Result
from isolint.units import show_share
from tests.support import FIXTURES, judge_fixture


def result(*evidence: Evidence, margin: Margin | None, kind: str = "fail") -> Result:
    return Result(
        "board.cir", "x-low", "fail" if kind == "fail" else "pass", "none", "", Place("board.cir"), "XU1", "OUT",
        evidence=evidence, margin=margin,
    )  # fmt: skip


def least(name: str, value: float, limit: float, **more: object) -> Evidence:
    return Evidence(name, "", "A", min=value, limit=Limit("at_least", limit), **more)  # type: ignore[arg-type]


def most(name: str, value: float, limit: float, **more: object) -> Evidence:
    return Evidence(name, "", "A", max=value, limit=Limit("at_most", limit), **more)  # type: ignore[arg-type]


HOLDS = least("at 15 V", 6.7e-3, 2e-3, corners={"min": "cold"})
BREAKS = most("at 30 V", 20e-3, 15e-3, corners={"max": "hot"})


def test_a_margin_stands_beside_the_number_that_it_was_made_of_and_the_others_have_their_own() -> None:
    one = result(HOLDS, BREAKS, margin=Margin(0.75, 1.0))
    assert deciding(one) is BREAKS
    assert [(row.item, f"{row.margin:.2f}", row.verdict, row.corner) for row in quantities([one])] == [
        ("at 15 V, OUT", "3.35", "holds", "cold"),
        ("at 30 V, OUT", "0.75", "fail", "hot"),
    ]


def test_where_no_number_fits_the_margin_the_one_nearest_to_its_limit_decides() -> None:
    assert deciding(result(HOLDS, BREAKS, margin=Margin(0.2, 1.0))) is BREAKS
    assert deciding(result(HOLDS, BREAKS, margin=None)) is BREAKS
    assert deciding(result(Evidence("x", "", "A", min=1.0), margin=None)) is None


def test_a_margin_over_more_than_one_keeps_its_own_scale() -> None:
    whole = Evidence("margin", "", "1", min=1.25, limit=Limit("at_least", 1.2))
    (row,) = quantities([result(whole, margin=Margin(1.25, 1.2), kind="pass")])
    assert (row.margin, row.required, row.verdict) == (1.25, 1.2, "pass")


@pytest.mark.parametrize(
    "evidence",
    [
        Evidence("temperature", "", "degC", max=90.0, limit=Limit("at_most", 100.0)),
        most("nothing", 0.0, 1.0),
        Evidence("unknown", "", "A", limit=Limit("at_most", 1.0)),
    ],
)
def test_a_ratio_that_says_nothing_is_not_printed(evidence: Evidence) -> None:
    (row,) = quantities([result(evidence, margin=None)])
    assert row.margin is None


def test_a_number_made_of_others_names_their_corners() -> None:
    parts = (
        Evidence("available", "I_a", "A", min=0.0155, corners={"min": "cold"}),
        Evidence("required", "I_r", "A", max=0.0107, corners={"max": "hot"}),
    )
    formula = "margin = I_a / I_r = 0.0155 / 0.0107 = 1.4486"
    whole = Evidence("margin", "I_a / I_r", "1", min=1.4486, limit=Limit("at_least", 1.2), formula=formula)
    assert corner_of(result(*parts, whole, margin=Margin(1.4486, 1.2)), whole) == "I_a: cold; I_r: hot"
    assert corner_of(result(parts[0], whole, margin=Margin(1.4486, 1.2)), whole) == "cold"
    assert corner_of(result(HOLDS, whole, margin=Margin(1.4486, 1.2)), whole) == ""


def test_the_two_ends_of_a_digital_input_are_told_apart() -> None:
    report = judge_fixture(FIXTURES / "rules/input-thresholds-missed/fails.cir")
    rows = [row for row in quantities(report.results) if row.rule == "input-thresholds-missed"]
    told = [(row.unit, row.limit, f"{row.margin:.2f}", row.verdict) for row in rows if row.parameter != "margin"]
    assert told == [
        ("A", 0.002, "1.84", "holds"),
        ("A", 0.015, "1.36", "holds"),
        ("V", 3.5, "0.00", "fail"),
        ("V", 15.0, "1.42", "holds"),
    ]
    assert all("%" in row.corner for row in rows if row.parameter != "margin")


def test_what_lies_just_beside_its_limit_has_digits_that_tell_it_from_it() -> None:
    drawn = pieces.bars([("x", 1.003, 1.0, ""), ("y", 0.9996, 1.0, ""), ("z", 1.2004, 1.2, "")], "margins")
    for words in ("1.003 of 1<", "0.9996 of 1 SHORT<", "1.2004 of 1.2<"):
        assert words in drawn
    assert pieces.beside(5.4999, 5.5, "V") == ("5.4999 V", "5.5 V")
    assert [show_share(value) for value in (0.998, 1.0, 1.003, 1.2, 0.999999999)] == [
        "0.998", "1.00", "1.003", "1.20", "1.00"]  # fmt: skip
    told = "\n".join(details(result(most("voltage", 5.0004, 5.0), margin=Margin(0.99992, 1.0))))
    assert "max 5.0004 A; at most 5 A" in told
    assert "margin: 0.9999, required 1" in told


def test_only_long_words_may_be_broken_anywhere() -> None:
    assert cell("capacitors") == "<td>capacitors</td>"
    assert cell("<span class='a-long-name-of-a-class-of-it'>XU1</span> of two words", "n") == (
        "<td class=\"n\"><span class='a-long-name-of-a-class-of-it'>XU1</span> of two words</td>"
    )
    assert cell("elements.&quot;R*&quot;.power") == "<td>elements.&quot;R*&quot;.power</td>"
    assert cell("x" * 29, "n") == f'<td class="n long">{"x" * 29}</td>'

"""A line that cures is offered only where it was tried, byte for byte but for the value."""

from __future__ import annotations

import pytest

from tests.review.comparing import BOARD, changed, files, only, reviewed


def test_the_value_that_cures_is_offered_for_the_line_as_it_stands() -> None:
    item = only(changed("R2 VB OUT 10k", "R2  VB   OUT  1k ; pull-up", cures=True))
    made = item.suggestion
    assert made is not None and (made.file, made.line) == ("board.cir", 4)
    assert made.before == "R2  VB   OUT  1k ; pull-up"
    value = made.after.removeprefix("R2  VB   OUT  ").removesuffix(" ; pull-up")
    assert value.endswith("k") and f"{value[:-1]} kohm or more" in item.cure
    cured = reviewed(files(), files(BOARD.replace("R2 VB OUT 10k", made.after)), cures=True)
    assert not any(each.counts for each in cured.items)


@pytest.mark.parametrize(
    "card",
    [
        "R2 VB OUT\n+ 1k",
        "R2 VB OUT 1k\n+ tc=0",
        "R2 VB OUT {p}\n.param p=1k",
        "R2 VB OUT 1k ; `x`",
        f"R2 VB OUT 1k ; {'x' * 200}",
    ],
)
def test_a_line_that_is_not_plain_is_never_written_otherwise(card: str) -> None:
    item = only(changed("R2 VB OUT 10k", card, cures=True))
    assert item.rule == "transfer-margin-low" and item.suggestion is None


def test_no_value_is_offered_where_no_resistor_cures() -> None:
    assert all(each.suggestion is None for each in changed("R2 VB", "R90 GND GNDB 0\nR2 VB", cures=True).items)

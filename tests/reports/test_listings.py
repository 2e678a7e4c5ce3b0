from __future__ import annotations

from isolint.reports import facts_listing, rulebook, worksheet_text
from isolint.results import WorksheetLine, WorksheetSection
from tests.reports.sample import RULES


def test_a_worksheet_has_titled_blocks_with_the_origin_after_each_line() -> None:
    sections = (
        WorksheetSection("XU1 drive", (WorksheetLine("IF = U / R = 1.8 V / 1.8 kohm = 1 mA", "R4, board.cir:12"),)),
        WorksheetSection("XU1 load\x1b", (WorksheetLine("n = 1 + 1 = 2"),)),
    )
    assert worksheet_text.render(sections) == (
        "XU1 drive\n  IF = U / R = 1.8 V / 1.8 kohm = 1 mA  # R4, board.cir:12\n\nXU1 load\\x1b\n  n = 1 + 1 = 2\n"
    )


def test_no_sheet_is_an_empty_text() -> None:
    assert worksheet_text.render(()) == ""


def test_rules_are_listed_by_group_in_their_own_order() -> None:
    assert rulebook.listing(RULES) == (
        "barrier\n"
        "  ground-tie       error    the references of two sides are joined\n"
        "\n"
        "drive\n"
        "  led-unlimited    error    nothing limits the LED's current\n"
        "  led-underdriven  error    the LED gets too little current\n"
        "\n"
        "time\n"
        "  slow-edge        warning  an edge is too slow\n"
    )


def test_a_page_stands_under_its_slug() -> None:
    assert rulebook.pages(RULES[:1]) == "ground-tie (barrier, error)\n\nWhat it looks at\n...\n"


def test_facts_are_one_line_a_key_with_origin() -> None:
    assert facts_listing.render([("duty", "1", "default"), ("parts", "a\nb", "isolint.toml")]) == (
        "duty = 1  # default\nparts = a\\nb  # isolint.toml\n"
    )

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from isolint.reports import facts_listing, rulebook, worksheet_page, worksheet_text
from isolint.results import Plot, PlotCurve, WorksheetLine, WorksheetSection
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


def test_a_page_of_sheets_draws_curves_and_keeps_foreign_text_as_text() -> None:
    curve = PlotCurve("volts of <L>", "V", ((0.0, 2.0), (1e-3, -2.0)), (("off <level>", 1.0),))
    section = WorksheetSection(
        "<XU1> period", (WorksheetLine("n = 1 + 1 = 2", "R<1>"),), plot=Plot("a <period>", (curve,))
    )
    page = worksheet_page.render((section,), "Sheets of <board>.cir")
    assert page.count("<svg ") == page.count("</svg>") == 1
    svg = ElementTree.fromstring(page[page.index("<svg ") : page.index("</svg>") + 6])
    points = next(element.attrib["points"] for element in svg if element.tag.endswith("polyline"))
    (x1, y1), (x2, y2) = (map(float, pair.split(",")) for pair in points.split())
    assert x1 < x2 and y1 < y2
    said = {element.text for element in svg if element.tag.endswith("text")}
    assert {"volts of <L>", "off <level>", "a <period>", "2 V", "-2 V", "t = 1 ms"} <= said
    dashed = next(element for element in svg if "stroke-dasharray" in element.attrib)
    assert float(dashed.attrib["y1"]) == pytest.approx(y1 + (y2 - y1) / 4.0)
    assert "<board>" not in page and "<XU1>" not in page and "R<1>" not in page

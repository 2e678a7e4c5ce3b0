"""A review in its formats: read back by independent readers, safe with hostile names, the same bytes each time."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import jsonschema
import pytest

from isolint.review import review_formats as formats
from isolint.review import review_json
from isolint.review.document import Unreadable
from isolint.review.review_markdown import summary
from isolint.review.values import Review
from tests.review.comparing import BOARD, SETTINGS, changed, files, reviewed

HOSTILE = "</b>-->`@team"


@pytest.fixture(scope="module")
def worse() -> Review:
    """A review with a new failure and a change of policy."""
    return reviewed(files(), files(BOARD.replace("OUT 10k", "OUT 1k"), SETTINGS + '[levels]\nled-undriven = "note"\n'))


@pytest.fixture(scope="module")
def hostile() -> Review:
    """A review of a board whose names try to do harm."""
    board = f"* t\nR1 DRIVE {HOSTILE} 47\nX{HOSTILE} {HOSTILE} GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nR90 GND GNDB 1k\n"
    return reviewed(files(), files(board))


def test_the_document_is_what_its_schema_says_and_reads_back(worse: Review, hostile: Review) -> None:
    schema = review_json.json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    for review in (worse, hostile):
        text = review_json.render(review)
        jsonschema.Draft202012Validator(schema).validate(json.loads(text))
        assert review_json.render(review_json.load(text.encode())) == text
        assert json.loads(text)["exit_status"] == review.exit_status == 1


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ('"isolint-review/1"', '"isolint-review/2"', "isolint-review/1 is read here"),
        ('"harm": ', '"harm": NaN, "x": ', "no number"),
        ('"counts": true', '"counts": "yes"', "not of the kind"),
        ('"version": ', '"surplus": 1, "version": ', "unknown key"),
        ('"state": "new"', '"state": "newest"', "not one of"),
        ('"ordinal": 0', '"ordinal": 1e400', "ordinal: not of the kind"),
    ],
)
def test_a_document_that_is_not_exactly_one_is_refused_with_the_place(
    worse: Review, before: str, after: str, told: str
) -> None:
    text = review_json.render(worse)
    assert before in text
    with pytest.raises(Unreadable, match=told):
        review_json.load(text.replace(before, after, 1).encode())


@pytest.mark.parametrize("data", [b"", b"[" * 100_000, b"\xff", b'{"a":' * 30 + b"1" + b"}" * 30, b"x" * (9 << 20)])
def test_a_file_that_is_no_document_is_refused(data: bytes) -> None:
    with pytest.raises(Unreadable):
        review_json.load(data)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag != "meta":
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_is_whole_and_shows_the_margins_as_bars(worse: Review, hostile: Review) -> None:
    for review in (worse, hostile):
        page = _Tags()
        page.feed(formats.render("html", review))
        assert page.open == [] and "script" not in page.seen and "b" not in page.seen
    assert "too little" in formats.render("html", worse) and 'stroke-dasharray="4 2"' in formats.render("html", worse)


def _places(page: str) -> list[tuple[float, str]]:
    """The texts of the drawings with where they begin."""
    return [(float(x), said) for x, said in re.findall(r'<text x="([\d.]+)"[^>]*>([^<]+)</text>', page)]


@pytest.mark.parametrize("load", ["1k", "2.4k", "3k", "3.3k"])
def test_no_number_of_a_bar_stands_across_the_line_of_what_is_wanted(load: str) -> None:
    page = formats.render("html", changed("OUT 10k", f"OUT {load}"))
    (line,) = (x for x, said in _places(page) if said.startswith("wanted"))
    numbers = [(x, said) for x, said in _places(page) if re.match(r"\d", said)]
    assert len(numbers) == 2 and any("too little" in said for _, said in numbers)
    assert all(x >= line or x + 6.5 * len(said) <= line for x, said in numbers)


def test_a_margin_that_is_gone_has_a_row_that_says_so() -> None:
    page = formats.render("html", changed("A 47", "A 0", BOARD.replace("470", "47")))
    assert [said for _, said in _places(page) if said in ("before", "now", "no margin")] == [
        "before",
        "now",
        "no margin",
    ]


def test_hostile_names_do_nothing_in_markdown(hostile: Review) -> None:
    text = formats.render("markdown", hostile)
    assert "-->" in text  # shown, inside of code
    for line in text.splitlines():
        outside = "".join(line.split("``")[::2])
        assert "@team" not in outside and "</b>" not in outside


def test_what_is_cut_is_counted(hostile: Review) -> None:
    many = hostile._replace(items=hostile.items * 300)
    text = summary(many, limit=8_000)
    assert len(text.encode()) <= 8_000
    rows = sum(line.startswith("| error") for line in text.splitlines())
    assert 0 < rows < len(many.items) and "more lines are not shown" in text
    assert f"{len(many.items)} new" in text.splitlines()[0]


def test_sarif_holds_what_the_change_brought_and_nothing_else(worse: Review) -> None:
    log = json.loads(formats.render("sarif-active", worse))
    (result,) = log["runs"][0]["results"]
    assert result["ruleId"] == "transfer-margin-low" and "3." in result["message"]["text"]
    fixed = changed("OUT 1k", "OUT 10k", BOARD.replace("OUT 10k", "OUT 1k"))
    assert json.loads(formats.render("sarif-active", fixed))["runs"][0]["results"] == []


def test_text_says_before_now_cause_and_policy_and_nothing_where_there_is_nothing(worse: Review) -> None:
    text = formats.render("text", worse)
    assert text.startswith("board.cir:4:1: error, new: transfer margin of XU1 ")
    assert "one of" in text or "because R2 went from 10 kohm to 1 kohm" in text
    assert 'policy: isolint.toml: levels.led-undriven: came ("note")' in text
    nothing = reviewed(files(), files(BOARD + "* a remark\n"))
    assert formats.render("text", nothing) == "1 netlist depends on the change; no electrical difference\n"


def test_the_same_review_is_the_same_bytes(worse: Review) -> None:
    again = reviewed(files(), files(BOARD.replace("OUT 10k", "OUT 1k"), SETTINGS + '[levels]\nled-undriven = "note"\n'))
    for form in formats.FORMATS:
        assert formats.render(form, worse) == formats.render(form, again)

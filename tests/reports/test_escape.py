from __future__ import annotations

import csv
import html
import html.parser
import io
import json
import re
import unicodedata
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.reports import escape
from isolint.reports.escape import json_document, terminal, terminal_lines
from tests.reports.names import hostile


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\rb\nc\td", "a\\rb\\nc\\td"),
        ("\x9b2J", "\\x9b2J"),
        ("\u202eGND", "\\u202eGND"),
        ("\u2066x\u2069", "\\u2066x\\u2069"),
        ("V\u200bCC", "V\\u200bCC"),
        ("line\u2028break", "line\\u2028break"),
        ("\ud800", "\\ud800"),
        ("\U000e0041", "\\U000e0041"),
        ("\x7f\x00", "\\x7f\\x00"),
    ],
)
def test_what_moves_hides_or_reorders_text_is_shown_as_an_escape(raw: str, shown: str) -> None:
    assert terminal(raw) == shown


@pytest.mark.parametrize("plain", ["R1/+24V (a|b) <x> `y` @z", "4.7 µF, 10 Ω, Größe, 抵抗"])
def test_ordinary_names_stay_as_they_are(plain: str) -> None:
    assert terminal(plain) == plain


@given(st.text())
def test_no_text_leaves_with_a_control_or_format_character(text: str) -> None:
    shown = terminal(text)
    assert not [c for c in shown if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")]
    assert terminal(shown) == shown


def test_lines_meant_as_lines_stay_lines() -> None:
    assert terminal_lines("a\nb\x1b") == ["a", "b\\x1b"]


@given(st.text())
def test_json_is_ascii_without_raw_controls_and_reads_back(text: str) -> None:
    document = json_document({"name": text})
    assert document.isascii()
    assert "\x7f" not in document
    assert not [c for c in document if c < " " and c != "\n"]
    assert json.loads(document) == {"name": text}


def test_json_refuses_what_it_has_no_number_for() -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        json_document(float("nan"))


def visible(text: str) -> str:
    """What a reader sees: without the zero-width space that parts a mark from what follows."""
    return text.replace("\u200b", "")


@given(hostile)
def test_json_in_html_ends_no_element_and_reads_back(text: str) -> None:
    document = escape.json_in_html({"name": text})
    assert not set("<>&") & set(document)
    assert json.loads(document) == {"name": text}


@given(hostile)
def test_html_has_no_markup_and_reads_back(text: str) -> None:
    shown = escape.html(text)
    assert not set("<>\"'") & set(shown)
    assert html.unescape(shown) == terminal(text)
    tags: list[str] = []
    attributes: list[tuple[str, str | None]] = []

    class Reader(html.parser.HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            tags.append(tag)
            attributes.extend(attrs)

    Reader().feed(f'<p title="{shown}">{shown}</p>')
    assert tags == ["p"]
    assert attributes == [("title", terminal(text))]


@given(hostile)
def test_xml_is_well_formed_with_any_name_and_reads_back(text: str) -> None:
    shown = escape.xml(text)
    element = ElementTree.fromstring(f'<a b="{shown}">{shown}</a>')
    assert element.text == element.get("b") or (not shown and element.text is None)
    assert not list(element)
    if not re.search("[\ufffe\uffff]", text):
        assert (element.text or "") == terminal(text)


@given(st.lists(hostile, min_size=1, max_size=4))
def test_csv_cells_read_back_and_none_begins_a_formula(texts: list[str]) -> None:
    line = ",".join(map(escape.csv_cell, texts)) + "\r\n"
    (row,) = csv.reader(io.StringIO(line))
    assert len(row) == len(texts)
    for cell, text in zip(row, texts, strict=True):
        assert cell.removeprefix("'") == terminal(text).removeprefix("'")
        assert cell.lstrip()[:1] not in ("=", "+", "-", "@")


@given(hostile, hostile)
def test_a_workflow_command_stays_one_command_with_its_properties(name: str, message: str) -> None:
    command = f"::error file={escape.command_property(name)},line=1::{escape.command_message(message)}"
    assert "\n" not in command and "\r" not in command
    # As the runner reads it: the properties end at the next `::`, `,` parts them, escapes are undone last.
    properties, _, told = command.removeprefix("::error ").partition("::")
    read = dict(each.split("=", 1) for each in properties.split(","))
    undone = (
        read["file"]
        .replace("%3A", ":")
        .replace("%2C", ",")
        .replace("%0D", "\r")
        .replace("%0A", "\n")
        .replace("%25", "%")
    )
    assert undone.replace("#\\x23", "##") == terminal(name).replace("#\\x23", "##")
    assert set(read) == {"file", "line"}
    assert told.replace("%25", "%").replace("#\\x23", "##") == terminal(message).replace("#\\x23", "##")


@given(st.lists(hostile.map(terminal), max_size=4))
def test_no_line_of_a_log_is_a_command(lines: list[str]) -> None:
    text = escape.log_lines("\n".join(lines))
    assert text.count("\n") == max(0, len(lines) - 1)
    for line in text.split("\n"):
        assert not line.lstrip().startswith("::")
        assert "##[" not in line
        assert "##vso[" not in line.lower()


def test_ordinary_lines_of_a_log_stay_as_they_are() -> None:
    text = "a.cir:1:1: error: A::B has ## in it [led-unlimited]\n    chain: x\n"
    assert escape.log_lines(text) == text


@given(hostile)
def test_a_code_span_holds_the_text_and_ends_where_it_ends(text: str) -> None:
    span = escape.markdown_code(text)
    shown = terminal(text)
    if not shown:
        assert span == ""
        return
    fence = re.match("`+", span)
    assert fence and span.endswith(fence[0])
    inside = span[len(fence[0]) : -len(fence[0])]
    assert fence[0] not in re.findall("`+", inside)
    if inside.strip(" ") and inside[0] == inside[-1] == " ":
        inside = inside[1:-1]
    assert inside == shown


@given(hostile)
def test_markdown_text_has_no_mark_that_means_anything(text: str) -> None:
    shown = escape.markdown(text)
    assert "\n" not in shown
    assert not re.search(r"(?<!\\)(?:\\\\)*[!-/:-@\[-`{-~](?<!\\)", shown), "a mark that no backslash escapes"
    unescaped = re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", shown)
    assert visible(unescaped) == visible(terminal(text))
    assert not unescaped.startswith(("/", " "))
    assert not re.search(r"@\w|[#!$]\d|~\w|%\w|://|:\w+:|www\.\w", unescaped)
    assert not re.search(r"\b[0-9a-f]{7,40}\b", unescaped)


@given(st.lists(hostile, min_size=1, max_size=3))
def test_a_table_has_as_many_cells_as_were_written(texts: list[str]) -> None:
    cells = [f(text) or "-" for text in texts for f in (escape.markdown, escape.markdown_code)]
    row = "| " + " | ".join(map(escape.markdown_cell, cells)) + " |"
    bars = [found for found in re.findall(r"\\.|\|", row) if found == "|"]
    assert len(bars) == len(cells) + 1

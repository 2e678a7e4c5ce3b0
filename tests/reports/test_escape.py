from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.reports.escape import json_document, terminal, terminal_lines


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

"""Text from a netlist made harmless for where it goes: one function a context.

Names, messages and remedies may carry whatever a stranger wrote into a netlist. Every format passes such text
through the function of its context here, and nowhere else decides what is dangerous. A new context is one more
function beside these; all of them first show control, bidi and format characters as escapes, as `terminal` does.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import Final

_NAMED: Final = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}
_SEPARATORS: Final = frozenset("\u2028\u2029")
_PART: Final = "\u200b"
_COMMAND_START: Final = re.compile(r"(?m)^([^\S\n]*)::")
_COMMAND_MARK: Final = re.compile(r"##(?=\[|vso\[|teamcity\[)", re.IGNORECASE)
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_FORGE_MARK: Final = re.compile(
    r"@(?=\S)|[#!$&^](?=\d)|[~%](?=[\w\"])|:(?=//|[\w+-]+:)|(?<=[Ww]{3})\.(?=\S)|(?<=\b[Gg][Hh])-(?=\d)"
)
_HASH: Final = re.compile(r"\b[0-9a-fA-F]{7,}\b")
_PUNCTUATION: Final = re.compile(r"[!-/:-@\[-`{-~]")
_BAR: Final = re.compile(r"\\.|\|")
_BIDI: Final = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def is_harmful(character: str) -> bool:
    """Whether a character can move a cursor, break a line, reorder or hide text: controls, bidi, format, surrogates."""
    if " " <= character <= "~":
        return False
    if character in _BIDI or character in _SEPARATORS:
        return True
    return unicodedata.category(character) in ("Cc", "Cf", "Cs")


def terminal(text: str) -> str:
    """Give `text` as one line that a terminal shows as it stands; what could do harm is shown as an escape."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_code(character) if is_harmful(character) else character for character in text)


def terminal_lines(text: str) -> list[str]:
    """Split at line feeds only, each line as by `terminal`; for texts that may have several lines by design."""
    return [terminal(line) for line in text.split("\n")]


def json_document(value: object) -> str:
    """Write a JSON document in ASCII, two blanks an indent, closing line feed; refuse NaN and infinities.

    ASCII keeps bidi and control characters from reaching a terminal or an editor raw; `<` is left alone, since a
    document embedded in HTML has a context of its own.
    """
    import json

    text = json.dumps(value, ensure_ascii=True, allow_nan=False, indent=2)
    return text.replace("\x7f", "\\u007f") + "\n"


def json_in_html(value: object) -> str:
    """Write JSON for a `<script type="application/json">`: nothing in it can end the element or open a comment."""
    text = json_document(value)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def log_lines(text: str) -> str:
    """Give a whole text of lines so that no line of it is a command to a CI service that reads the log.

    A line whose first visible characters are `::`, and `##[`, `##vso[` and `##teamcity[` anywhere, are commands there.
    """
    if "::" in text:
        text = _COMMAND_START.sub(lambda found: f"{found[1]}\\x3a:", text)
    if "##" in text:
        text = _COMMAND_MARK.sub("#\\\\x23", text)
    return text


def command_message(text: str) -> str:
    """Give `text` as the message of a workflow command (`::error ...::MESSAGE`)."""
    shown = _COMMAND_MARK.sub("#\\\\x23", terminal(text))
    return shown.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def command_property(text: str) -> str:
    """Give `text` as the value of a property of a workflow command (`file=VALUE`)."""
    return command_message(text).replace(":", "%3A").replace(",", "%2C")


def html(text: str) -> str:
    """Give `text` for HTML: between tags, or inside an attribute that stands in quotes."""
    shown = terminal(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return shown.replace('"', "&quot;").replace("'", "&#39;")


def xml(text: str) -> str:
    """Give `text` for XML 1.0, as character data or as the value of an attribute; what XML can't hold is an escape."""
    shown = "".join(
        _code(character) if ord(character) & 0xFFFE == 0xFFFE else character for character in terminal(text)
    )
    return html(shown)


def csv_cell(text: str) -> str:
    """Give `text` as one quoted CSV cell (RFC 4180) that no spreadsheet takes for a formula; not meant for numbers."""
    shown = terminal(text)
    if shown.lstrip()[:1] in _FORMULA_STARTS:
        shown = f"'{shown}"
    return '"' + shown.replace('"', '""') + '"'


def markdown_code(text: str) -> str:
    """Give `text` as a code span of Markdown: its fence is longer than any run of backticks inside.

    Mentions, references, addresses, HTML and a forge's quick actions have no meaning in it. `|` would still end the
    cell of a table: see `markdown_cell`.
    """
    shown = terminal(text)
    longest = max(map(len, re.findall("`+", shown)), default=0)
    fence = "`" * (longest + 1)
    # A code span loses one blank at both ends if it has both; it needs one beside a backtick.
    padded = longest and (shown[0] == "`" or shown[-1] == "`")
    padded = padded or (shown[:1] == " " and shown[-1:] == " " and shown.strip(" ") != "")
    pad = " " if padded else ""
    return f"{fence}{pad}{shown}{pad}{fence}" if shown else ""


def markdown(text: str) -> str:
    """Give `text` as a paragraph or list item of Markdown on a forge: it shows as it is and does nothing.

    Every punctuation mark of ASCII is escaped. A forge looks for mentions (`@name`), references (`#1`, `!1`, `$1`,
    `~label`, `%milestone`, a commit), addresses and emoji after Markdown was taken away: a zero-width space parts the
    mark from what follows. The first character is never the `/` of a quick action.
    """
    shown = terminal(text)
    shown = _FORGE_MARK.sub(lambda found: f"{found[0]}{_PART}", shown)
    shown = _HASH.sub(lambda found: _PART.join(re.findall(".{1,6}", found[0])), shown)
    shown = _PUNCTUATION.sub(r"\\\g<0>", shown)
    return f"{_PART}{shown}" if shown.lstrip()[:2] in ("\\/", "/") or shown[:1] in (" ", "/") else shown


def markdown_block(lines: Sequence[str]) -> list[str]:
    """Give lines as a code block of Markdown whose fence is longer than any run of backticks inside."""
    shown = [terminal(line) for line in lines]
    longest = max((len(run) for line in shown for run in re.findall("`+", line)), default=0)
    fence = "`" * max(3, longest + 1)
    return [f"{fence}text", *shown, fence]


def markdown_cell(text: str) -> str:
    """Give Markdown made by the functions above for the cell of a table, where an unescaped `|` ends the cell."""
    return _BAR.sub(lambda found: found[0] if len(found[0]) > 1 else r"\|", text)


def _code(character: str) -> str:
    named = _NAMED.get(character)
    if named is not None:
        return named
    number = ord(character)
    if number < 0x100:
        return f"\\x{number:02x}"
    if number < 0x10000:
        return f"\\u{number:04x}"
    return f"\\U{number:08x}"

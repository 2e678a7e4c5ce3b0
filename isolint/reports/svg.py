"""Pieces of SVG that drawings share: text that stays text, lines, and texts broken or cut to a width in characters."""

from __future__ import annotations

from collections.abc import Sequence

from isolint.reports.escape import xml

RED = "#b00018"


def wire(x1: float, y1: float, x2: float, y2: float, width: float, ink: str, extra: str = "") -> str:
    """A straight line."""
    return f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" stroke="{ink}" stroke-width="{width:g}"{extra}/>'


def text(x: float, y: float, words: str, size: float, anchor: str = "start", bold: bool = False) -> str:
    """A line of text; `y` is its base line, `anchor` what of it lies at `x`."""
    extra = f' text-anchor="{anchor}"' if anchor != "start" else ""
    extra += ' font-weight="bold"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}"{extra}>{xml(words)}</text>'


def wrapped(words: str, most: int) -> list[str]:
    """Break a text into lines of at most `most` characters, at blanks where there are any."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        while len(word) > most:
            room = most - len(line) - 1 if line else most
            if room < most // 3:
                lines.append(line)
                line, room = "", most
            lines.append(f"{line} {word[:room]}".lstrip())
            line, word = "", word[room:]
        if line and len(line) + 1 + len(word) > most:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".lstrip()
    return [*lines, line] if line or not lines else lines


def packed(items: Sequence[str], most: int) -> list[str]:
    """Put short items side by side into lines of at most `most` characters."""
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + 2 + len(item) <= most:
            lines[-1] += f"; {item}"
        else:
            lines.append(item)
    return lines


def shortened(words: str, most: int) -> str:
    """A text that fits in `most` characters, its end cut off where it must be."""
    return words if len(words) <= most else words[: most - 3] + "..."

"""Controlled and behavioural sources: what stands behind the output pair of E, G, F, H and B cards."""

from __future__ import annotations

import re

from isolint.netlist.card_values import read_value
from isolint.netlist.cards import Number
from isolint.netlist.element import BadCard, Element, Tails, quantity_or_text
from isolint.netlist.syntax import Parsed, flat, tails_of, value_of

_VOLTAGE = re.compile(r"\bv\s*\(\s*\"?([^(),\s\"]+)\"?\s*(?:,\s*\"?([^(),\s\"]+)\"?\s*)?\)", re.IGNORECASE)
_CURRENT = re.compile(r"\bi\s*\(\s*([^(),\s]+)\s*\)", re.IGNORECASE)


def _live_controls(text: str) -> tuple[str, ...]:
    """What an expression listens to: node names of `v(..)`, and `i(NAME)` for currents."""
    found: dict[str, None] = {}
    for match in _VOLTAGE.finditer(text):
        found[match[1]] = None
        if match[2]:
            found[match[2]] = None
    for match in _CURRENT.finditer(text):
        found[f"i({match[1]})"] = None
    return tuple(found)


def _live_nodes(text: str) -> tuple[str, ...]:
    """The node names of `v(..)` alone, for E and G, whose controls are nodes."""
    return tuple(control for control in _live_controls(text) if not control.startswith("i("))


def _after(parsed: Parsed, kind: str, text: str) -> str:
    """The text behind the keyword of that kind."""
    keyword = next(part for part in parsed.items if part.kind == kind)
    return text[keyword.end :].lstrip(" =").strip()


def _poly(parsed: Parsed, nodes_each: int, tails: Tails) -> tuple[str, ...]:
    """The controls of a POLY(n) card; keeps the dimension and coefficients in the tails."""
    count_part = parsed.items[1]
    dimension = read_value(count_part.text)
    parts = flat(parsed.items[2:])
    if dimension is None or not 1 <= dimension <= len(parts):
        raise BadCard("has a POLY whose dimension does not fit", count_part.start)
    wanted = int(dimension) * nodes_each
    if len(parts) < wanted:
        raise BadCard("has fewer controls than its POLY needs", parts[-1].end)
    tails["poly"] = dimension
    tails["coefficients"] = " ".join(part.text for part in parts[wanted:])
    return tuple(part.text for part in parts[:wanted])


def controlled(letter: str, parsed: Parsed, text: str) -> Element:
    """Read an E or G card; its controls are nodes."""
    tails = tails_of(parsed.tails, text)
    nodes = parsed.pairs[0]
    if parsed.form == "poly":
        return Element(letter, parsed.name, nodes, None, None, _poly(parsed, 2, tails), tails)
    if parsed.form in ("expression", "function"):
        return _by_expression(letter, parsed, text, tails)
    if parsed.form == "only_tails":
        return Element(letter, parsed.name, nodes, None, None, _live_nodes(text), tails)
    value: Number | None = None
    if parsed.items:
        value = value_of(parsed.items[0])
    else:
        stated = next((tails.pop(key) for key in ("gain", "value", "transconductance") if key in tails), None)
        if stated is None or isinstance(stated, str):
            raise BadCard("has no gain", len(text))
        value = stated
    return Element(letter, parsed.name, nodes, None, value, parsed.pairs[1], tails or None)


def _by_expression(letter: str, parsed: Parsed, text: str, tails: Tails) -> Element:
    """VALUE, TABLE, LAPLACE, FREQ: the text behind the keyword is kept in the tails under its name."""
    kind = "VALUE" if parsed.form == "expression" else "FUNCTION"
    keyword = next(part for part in parsed.items if part.kind == kind)
    tails[keyword.text.lower()] = _after(parsed, kind, text)
    listens = _live_nodes if letter in "EG" else _live_controls
    controls = parsed.pairs[1] if len(parsed.pairs) > 1 else listens(text[keyword.end :])
    return Element(letter, parsed.name, parsed.pairs[0], None, None, controls, tails)


def sensed(letter: str, parsed: Parsed, text: str) -> Element:
    """Read an F or H card; its controls are the names of sources."""
    tails = tails_of(parsed.tails, text)
    nodes = parsed.pairs[0]
    if parsed.form == "poly":
        return Element(letter, parsed.name, nodes, None, None, _poly(parsed, 1, tails), tails)
    if parsed.form in ("expression", "function"):
        return _by_expression(letter, parsed, text, tails)
    if parsed.form == "only_tails":
        return Element(letter, parsed.name, nodes, None, None, _live_controls(text), tails)
    first, *rest = parsed.items
    if first.kind != "WORD":
        raise BadCard("can't be read", first.start)
    if rest:
        value: Number | str | None = value_of(rest[0])
    else:
        value = tails.pop("gain", None)
    if value is None or isinstance(value, str):
        raise BadCard("has no gain", len(text))
    return Element(letter, parsed.name, nodes, None, value, (first.text,), tails or None)


def behavioural(parsed: Parsed, text: str) -> Element:
    """Read a B card; its expression stays text in the tails, under its key."""
    tails: Tails = {}
    for item in parsed.tails:
        raw = text[item.start : item.end].strip()
        tails[item.key] = raw if item.key in ("v", "i", "r", "q", "p", "b") else quantity_or_text(raw)
    return Element("B", parsed.name, parsed.pairs[0], None, None, _live_controls(text), tails)

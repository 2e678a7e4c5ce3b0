"""Dot cards that carry structure: subcircuit headers, models, parameters, functions.

Regular ones are read by splitting, the others through the grammar; a test holds both to the same answer.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from isolint.netlist.card_values import read_value
from isolint.netlist.cards import Function, Number
from isolint.netlist.element import BadCard, bare, quantity, quantity_or_text, split_first, unbraced
from isolint.netlist.expressions import ExpressionError, parse


class Header(NamedTuple):
    """A `.subckt` line: `optional` gives the default node of each optional pin, which stand last in `ports`."""

    name: str
    ports: tuple[str, ...]
    optional: Mapping[str, str]
    defaults: Mapping[str, Number]
    unread: tuple[str, ...] = ()


class ModelCard(NamedTuple):
    """A `.model` line: `base` is the model that it copies (AKO), `unread` names parameters without a readable value."""

    name: str
    type: str
    base: str
    parameters: Mapping[str, Number]
    unread: tuple[str, ...] = ()


class ParamLine(NamedTuple):
    """A `.param` line."""

    values: Mapping[str, Number]
    functions: tuple[Function, ...] = ()
    unread: tuple[str, ...] = ()


_IRREGULAR = re.compile(r"[(){}'\",\[\]:]|\s=|=\s")
_PARAMS = re.compile(r"\sparams:\s", re.IGNORECASE)
_MODEL = re.compile(r"([^\s(){}'\",=:]+)\s+([A-Za-z]\w*+)\s*+(?:\(([^(){}'\",\[\]]*)\)|([^(){}'\",\[\]]*))\Z")
_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_.]*\Z")
_COMMA = re.compile(r",(?=\s*+[A-Za-z_][\w.]*+\s*+=(?!=))")
_BARE_PAIR = re.compile(r"([A-Za-z_][\w.]*+)\s++(\{[^{}]*+\}|'[^']*+'|[-+]?\.?\d[^\s=,]*+)(?=[\s,]|\Z)[\s,]*+(?!=)")


def _numbers(words: list[str]) -> dict[str, Number] | None:
    """Read words that are all `key=number`; None if one is not."""
    found: dict[str, Number] = {}
    for word in words:
        key, _, text = word.partition("=")
        value = read_value(text)
        if value is None or not _KEY.match(key):
            return None
        found[key.lower()] = value
    return found


def fast_header(text: str) -> Header | None:
    """A header of plain words and `key=number`, or None."""
    text = _PARAMS.sub(" ", text, count=1)
    if _IRREGULAR.search(text) or not text:
        return None
    words = text.split()
    count = next((i for i, word in enumerate(words) if "=" in word), len(words))
    defaults = _numbers(words[count:])
    return None if defaults is None or count == 0 else Header(words[0], tuple(words[1:count]), {}, defaults)


def fast_model(text: str) -> ModelCard | None:
    """A model whose parameters are all `key=number`, or None."""
    match = _MODEL.match(text)
    if match is None or match[2].lower() == "ako":
        return None
    parameters = _numbers((match[3] or match[4] or "").split())
    if parameters is None or not _KNOWN_ASIDE.isdisjoint(parameters):
        return None
    return ModelCard(match[1], match[2].lower(), "", parameters)


def fast_parameters(text: str) -> ParamLine | None:
    """Parameters that are all `key=number`, or None."""
    if _IRREGULAR.search(text):
        return None
    values = _numbers(text.split())
    return None if values is None else ParamLine(values)


def header(text: str) -> Header:
    """Read what follows `.subckt`; raise `BadCard`."""
    return fast_header(text) or slow_header(text)


def model(text: str) -> ModelCard:
    """Read what follows `.model`; raise `BadCard`."""
    return fast_model(text) or slow_model(text)


def parameters(text: str) -> ParamLine:
    """Read what follows `.param`; raise `BadCard`."""
    return fast_parameters(text) or slow_parameters(text)


def _apart(text: str) -> str:
    """The text with a blank for each comma in front of a `key=`: `D(IS=1e-14,N=2)`."""
    return _COMMA.sub(" ", text) if "," in text else text


def _with_equal_signs(text: str) -> str:
    """The text with `A {x} B 5` at its beginning written as `A={x} B=5`."""
    found: list[str] = []
    at = 0
    while (match := _BARE_PAIR.match(text, at)) is not None:
        found.append(f"{match[1]}={match[2]} ")
        at = match.end()
    return "".join(found) + text[at:]


def slow_header(text: str) -> Header:
    """Read a header through the grammar."""
    tree = _parse("subckt", _apart(unbraced(text)))
    words, pairs, optional = tree
    defaults: dict[str, Number] = {}
    unread: list[str] = []
    for key, raw in pairs:
        value = quantity_or_text(raw)
        if isinstance(value, str):
            unread.append(key)
        else:
            defaults[key.lower()] = value
    return Header(words[0], (*words[1:], *optional), dict(optional), defaults, tuple(unread))


_KNOWN_ASIDE = frozenset({"dev", "lot", "mfg", "vendor", "manufacturer"})
_FLAG = re.compile(r"[A-Za-z_]\w*\Z")


def slow_model(text: str) -> ModelCard:
    """Read a model through the grammar; parentheses round the parameters are optional, also the closing one."""
    opening = text.find("(")
    if opening >= 0 and "=" not in text[:opening] and "ako" not in text[:opening].lower().split(":")[-1]:
        closing = text.rfind(")")
        whole = text.count("(") == text.count(")")
        text = text[:opening] + " " + text[opening + 1 :]
        if whole and closing > opening and not text[closing + 1 :].strip():
            text = text[:closing]
    words, pairs, base = _parse("model", _apart(text))
    name, *rest = words
    if not rest and not base:
        raise BadCard("has no type", len(text), "write `.model name type(...)`")
    found: dict[str, Number] = {word.lower(): 1.0 for word in rest[1:] if _FLAG.match(word)}
    unread: list[str] = []
    for key, raw in pairs:
        low = key.lower()
        if low in _KNOWN_ASIDE:
            continue
        value = quantity_or_text(raw)
        if not isinstance(value, str):
            found[low] = value
        elif not raw.lstrip().startswith("["):
            unread.append(key)
        _head, behind = split_first(raw)
        flags = (flag.lower() for flag in behind.split()[:20] if _FLAG.match(flag))
        found.update({flag: 1.0 for flag in flags if flag not in _KNOWN_ASIDE})
    return ModelCard(name, rest[0].lower() if rest else "", base, found, tuple(unread))


def slow_parameters(text: str) -> ParamLine:
    """Read parameters through the grammar; functions may stand among them."""
    _words, pairs, _base = _parse("param", _apart(_with_equal_signs(text)))
    values: dict[str, Number] = {}
    functions: list[Function] = []
    unread: list[str] = []
    for key, raw in pairs:
        raw = raw.rstrip().rstrip(",")
        try:
            if "(" in key:
                functions.append(_function(key, raw))
            else:
                values[key.lower()] = quantity(raw)
        except ExpressionError:
            unread.append(key)
    return ParamLine(values, tuple(functions), tuple(unread))


def function(text: str) -> Function:
    """Read what follows `.func`; raise `BadCard`."""
    _words, pairs, _base = _parse("func", text)
    key, raw = pairs[0]
    try:
        return _function(key, raw)
    except ExpressionError as error:
        raise BadCard(f"can't be read: {error.text}", 0, "write `.func name(x) {expression}`") from None


def _function(key: str, raw: str) -> Function:
    name, _, arguments = key.partition("(")
    names = tuple(word.strip().lower() for word in arguments.rstrip(") \t").split(",") if word.strip())
    return Function(name.strip().lower(), names, parse(bare(raw)))


_Found = tuple[list[str], list[tuple[str, str]], Any]


def _parse(start: str, text: str) -> _Found:
    """Parse with the grammar of dot cards: plain words, `key = text` pairs, and what is special to the card."""
    from lark import UnexpectedInput

    try:
        return _collect(_parser().parse(text, start=start), text)
    except UnexpectedInput as error:
        at = _stop(error, text)
        rest = " ".join(text[at : at + 120].split())[:30]
        raise BadCard(f"can't be read at `{rest}`" if rest else "is not complete", at) from None


def _stop(error: Any, text: str) -> int:
    """Where reading stopped."""
    token = getattr(error, "token", None)
    if token is not None and token.type == "$END":
        return len(text)
    return max(int(error.pos_in_stream or 0), 0)


def _collect(tree: Any, text: str) -> _Found:
    from lark import Token, Tree

    words: list[str] = []
    pairs: list[tuple[str, str]] = []
    special: Any = ""
    if tree.data == "func":
        tokens = _tokens(tree)
        body = [token for token in tokens[1:] if token.type != "EQUAL"]
        return words, [(str(tokens[0]), text[body[0].start_pos : body[-1].end_pos])], special
    if tree.data == "subckt":
        special = {}
    for child in tree.children:
        if isinstance(child, Token):
            if child.type == "AKO":
                special = str(child).partition(":")[2].strip()
            else:
                words.append(str(child))
        elif isinstance(child, Tree) and child.data in ("assignment", "definition"):
            tokens = _tokens(child)
            end = tokens[-1].end_pos if len(tokens) > 1 else None
            pairs.append((str(tokens[0]), text[tokens[1].start_pos : end] if len(tokens) > 1 else ""))
        elif isinstance(child, Tree) and child.data == "optional":
            names = [str(token) for token in _tokens(child)]
            special = dict(zip(names[::2], names[1::2], strict=True))
    return words, pairs, special


def _tokens(tree: Any) -> list[Any]:
    """All tokens below a tree in order, without recursion."""
    found: list[Any] = []
    stack = [tree]
    while stack:
        node = stack.pop()
        if hasattr(node, "children"):
            stack.extend(reversed(node.children))
        else:
            found.append(node)
    return found


@cache
def _parser() -> Any:
    from isolint.netlist.grammar import build

    return build("dots", ("subckt", "model", "param", "func"), None)

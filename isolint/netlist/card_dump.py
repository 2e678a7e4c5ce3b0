"""Cards as text, one line each, for tests and for looking at."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.netlist.cards import Cards, Number, Scope, Stimulus
from isolint.netlist.expressions import Expression


def dump(cards: Cards) -> str:
    """Write all cards, models, parameters and notes, one a line: `(R R1 a b 10k @board.cir:3)`."""
    lines = list(_lines(cards))
    return "\n".join(lines) + "\n"


def _lines(cards: Cards) -> Iterator[str]:
    for file in cards.files:
        title = "" if file.title is None else f" title={file.title!r}"
        yield f"(file {file.path} {file.encoding}{title})"
    extra = sorted(cards.globals - {"0", "gnd", "gnd!"})
    if extra:
        yield f"(global {' '.join(extra)})"
    if cards.temperature is not None:
        yield f"(temperature {cards.temperature:g})"
    for index, scope in enumerate(cards.scopes):
        if index:
            yield _header(cards, scope)
        indent = "  " if index else ""
        for name, value in scope.parameters.items():
            yield f"{indent}(param {name}={_number(value)})"
        for function in scope.functions.values():
            yield f"{indent}(func {function.name}({','.join(function.arguments)}) {{{function.body.text}}})"
        for model in scope.models_by_name.values():
            parameters = "".join(f" {key}={_number(value)}" for key, value in model.parameters.items())
            yield f"{indent}(model {model.name} {model.type}{parameters} @{model.place.file}:{model.place.line})"
        for card in range(len(scope)):
            yield indent + _card(cards, index, card)
    for note in cards.notes:
        yield f"[{note.level} {note.kind} {note.subject} @{note.place}] {note.message}"
    reasons = "".join(f", {count} {reason}" for reason, count in cards.reasons.items())
    yield f"{cards.understood} of {cards.total} cards understood{reasons}"


def _header(cards: Cards, scope: Scope) -> str:
    parent = cards.scopes[scope.parent].name
    inside = f" in {parent}" if parent else ""
    defaults = "".join(f" {key}={_number(value)}" for key, value in scope.defaults.items())
    optional = "".join(f" {key}->{node}" for key, node in scope.optional.items())
    unreadable = " unreadable" if scope.unreadable else ""
    ports = " ".join(scope.ports)
    place = f"@{scope.place.file}:{scope.place.line}"
    return f"(subckt {scope.name}{inside} [{ports}]{optional}{defaults}{unreadable} {place})"


def _card(cards: Cards, at: int, index: int) -> str:
    scope = cards.scopes[at]
    words = [scope.letters[index], scope.names[index], *scope.nodes[index]]
    if index in scope.controls:
        words.append(f"<{' '.join(scope.controls[index])}>")
    model = scope.models[index]
    if model is not None:
        words.append(f"={model}")
    value = scope.values[index]
    if isinstance(value, Stimulus):
        words.append(_stimulus(value))
    elif value is not None:
        words.append(_number(value))
    for key, tail in scope.tails.get(index, {}).items():
        words.append(f"{key}={tail if isinstance(tail, str) else _number(tail)}")
    place = cards.place(at, index)
    return f"({' '.join(words)} @{place.file}:{place.line})"


def _stimulus(value: Stimulus) -> str:
    dc = "" if value.dc is None else _number(value.dc)
    if value.kind == "DC":
        return dc
    arguments = " ".join(_number(argument) for argument in value.args)
    return f"{dc} {value.kind}({arguments})".strip()


def _number(value: Number) -> str:
    """A number with the SPICE suffix that leaves no exponent, or an expression in braces."""
    if isinstance(value, Expression):
        return f"{{{value.text}}}"
    for suffix, power in (
        ("t", 12),
        ("g", 9),
        ("meg", 6),
        ("k", 3),
        ("", 0),
        ("m", -3),
        ("u", -6),
        ("n", -9),
        ("p", -12),
    ):
        if abs(value) >= 10.0**power:
            mantissa = value / 10.0**power
            return f"{mantissa:.6g}{suffix}" if abs(mantissa) < 1000 else f"{value:.6g}"
    return f"{value:.6g}"

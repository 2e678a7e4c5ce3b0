"""What the dot cards that say something of the circuit do to the cards read so far."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from isolint.errors import Place
from isolint.netlist.builder import Builder
from isolint.netlist.card_values import read_value
from isolint.netlist.dots import function, header, model, parameters
from isolint.netlist.ends import unclosed_body
from isolint.netlist.malformed import shown

_TEMPERATURE = re.compile(r"\btemp\s*=\s*(\S+)", re.IGNORECASE)


def subckt(builder: Builder, rest: str, place: Place) -> None:
    """`.subckt NAME port ... [key=value ...]`: opens a body."""
    found = header(rest)
    builder.structure += 1
    builder.begin_subcircuit(found, place)
    _unread(builder, place, found.name, found.unread)


def ends(builder: Builder, rest: str, place: Place) -> None:
    """`.ends [NAME]`: closes the innermost body, or, where the name says so, an outer one with all inside it."""
    name = rest.split(None, 1)[0] if rest else ""
    if len(builder.open) == 1:
        builder.malformed("note", "`.ends` closes no subcircuit", place, f".ends {name}".strip(), "remove it")
        return
    open_names = [builder.scopes[index].name.lower() for index in builder.open[1:]]
    if name and name.lower() != open_names[-1]:
        if name.lower() in open_names:
            while builder.scope.name.lower() != name.lower():
                inner = builder.scope.name
                message = f"the subcircuit {inner} is not closed before `.ends {name}`"
                unclosed_body(builder, message, f"write `.ends {inner}`")
        else:
            message = f"`.ends {name}` closes the subcircuit {builder.scope.name}"
            builder.malformed("note", message, place, f".ends {name}", f"write `.ends {builder.scope.name}`")
    builder.end_subcircuit()


def model_card(builder: Builder, rest: str, place: Place) -> None:
    """`.model NAME TYPE(...)`."""
    card = model(rest)
    builder.structure += 1
    builder.add_model(card, place)
    _unread(builder, place, f"model {card.name}", card.unread)


def param(builder: Builder, rest: str, place: Place) -> None:
    """`.param key=value ...`; an empty one says nothing."""
    found = parameters(rest)
    builder.structure += bool(found.values)
    builder.add_parameters(found.values, found.functions)
    _unread(builder, place, ".param", found.unread)


def func(builder: Builder, rest: str, place: Place) -> None:
    """`.func name(x) {expression}`."""
    builder.add_parameters({}, (function(rest),))


def global_nodes(builder: Builder, rest: str, place: Place) -> None:
    """`.global node ...`."""
    builder.globals.update(word.lower() for word in rest.replace(",", " ").split())


def temperature(builder: Builder, rest: str, place: Place) -> None:
    """`.temp number`, in degrees Celsius; the first one counts."""
    words = rest.replace("=", " ").split()
    if builder.temperature is None and words:
        builder.temperature = read_value(words[0])


def options(builder: Builder, rest: str, place: Place) -> None:
    """`.options`: only the temperature matters."""
    match = _TEMPERATURE.search(rest)
    if match is not None:
        temperature(builder, match[1], place)


def _unread(builder: Builder, place: Place, name: str, keys: tuple[str, ...]) -> None:
    if keys:
        message = f"{name}: the value of {shown(', '.join(keys), 60)} can't be read and is left out"
        builder.malformed("warning", message, place, name, "write a number or {expression}")


ACTIONS: Mapping[str, Callable[[Builder, str, Place], None]] = {
    "subckt": subckt,
    "ends": ends,
    "model": model_card,
    "param": param,
    "func": func,
    "global": global_nodes,
    "temp": temperature,
    "options": options,
}

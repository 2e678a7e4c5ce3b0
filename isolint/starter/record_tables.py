"""A record to fill in for a part of a netlist, or for a name alone.

In: a name of a part or instance, perhaps a netlist. Out: TOML text. Pins are those of the part's model where its
structure tells them, else as makers usually have them, held against the nets.
"""

from __future__ import annotations

from isolint import types
from isolint.app import Options
from isolint.checking.context import Context
from isolint.checking.record_lines import pins_of
from isolint.errors import IsolintError
from isolint.interfaces.pinguess import series_pins
from isolint.parts.template import template
from isolint.preparing import locate, prepare
from isolint.starter.part_choices import check_type
from isolint.worstcase.fact_terms import named


def new_record(name: str, kind: str | None, netlist: str | None, options: Options) -> str:
    """The text of a record for a part by its name, or for an instance of a netlist."""
    if kind is not None:
        check_type(kind)
    if netlist is None:
        guess = kind or types.guessed(2)
        shapes = types.of(guess).pins.usual
        return template(name, guess, shapes[0] if shapes else ())
    tree, inner, root = locate(netlist, options.root)
    context, _ = prepare(tree, inner, root)
    element = _element(context, name)
    part = context.interfaces.recognition.parts.get(element)
    nets = [context.net(net) for net in context.circuit.pins(element)]
    if part is not None and kind in (None, part.type):
        own = part.record.pins if part.record is not None else pins_of(part)
        return template(named(part), part.type, own, nets, certain=part.record is not None or all(part.roles))
    unknown = context.interfaces.recognition.unknown.get(element)
    told = None if unknown is None or unknown.suspected_type not in types.BY_NAME else unknown.suspected_type
    guess = kind or told or types.guessed(len(nets) - 2)
    called = context.circuit.model_name(element) or context.circuit.path(element)
    return template(called, guess, series_pins(context.circuit, element, guess), nets)


def pin_nets(name: str, netlist: str, options: Options) -> list[str]:
    """The nets on the pins of a part of a netlist, in the order of its card; of its first instance."""
    tree, inner, root = locate(netlist, options.root)
    context, _ = prepare(tree, inner, root)
    return [context.net(net) for net in context.circuit.pins(_element(context, name))]


def _element(context: Context, name: str) -> int:
    """The first element of that path, or whose part has that name."""
    found = context.circuit.find(name)
    if found is not None:
        return found
    folded = name.casefold()
    for element in context.circuit.elements():
        if (context.circuit.model_name(element) or "").casefold() == folded:
            return element
    raise IsolintError(f"no element and no part of the netlist is called {name}", cure="give its name as on its card")

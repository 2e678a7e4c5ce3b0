"""A part record with the typical values of a part's own model, and the curves behind them.

In: a file, the name of a `.subckt` in it or of an element that calls one. Out: TOML that loads as it stands. A model
guarantees nothing: only what a record may state as typical stands as a value, all else is told beside a placeholder.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import NamedTuple

from isolint import types
from isolint.app import Options
from isolint.errors import IsolintError
from isolint.interfaces.classify import hint_for
from isolint.measure import sheet_values as m
from isolint.measure.body import Body, flatten
from isolint.measure.semiconductors import NOMINAL
from isolint.netlist import Cards, read
from isolint.parts import PartRecord, from_names
from isolint.preparing import locate
from isolint.recognition import StructureVerdict, recognise_body
from isolint.starter.part_choices import check_type
from isolint.tables import UNSTATED, basic_string, dotted
from isolint.units import show

_DIGITS = 4
_UNKNOWN = basic_string(UNSTATED)
_MOST_NAMES = 8


class _Part(NamedTuple):
    """A subcircuit as a part: name, where it is from, type, pin names in the order of its ports, what is doubtful."""

    name: str
    file: str
    kind: str
    pins: tuple[str, ...]
    doubts: tuple[str, ...]
    body: Body


def measured_record(path: str, name: str, kind: str | None, pins: Sequence[str], options: Options) -> str:
    """The record of the subcircuit that `name` means; type and pins as its structure tells unless they are given."""
    if kind is not None:
        check_type(kind)
    tree, inner, root = locate(path, options.root)
    cards = read(tree, inner, root=root)
    scope = _scope(cards, name)
    header = cards.scopes[scope]
    body = None if header.unreadable else flatten(cards, scope)
    if body is None:
        raise IsolintError(f"the subcircuit {header.name} can't be read, is empty or too large to be measured")
    verdict = recognise_body(cards, scope, lambda: hint_for(header.name, len(header.ports)))
    part = _named(header.name, path, verdict, kind, pins, body)
    channel, count = _channel(part)
    found = m.measured(body, channel)
    if not found.forward:
        raise IsolintError(f"nothing of {header.name} can be computed: {'; '.join(why for _, why in found.missing)}")
    return "\n".join(_lines(part, channel, found, count)) + "\n"


def _scope(cards: Cards, name: str) -> int:
    """The subcircuit of that name, or that an element of that name calls."""
    found = cards.find_subcircuit(name, 0)
    if found is not None:
        return found
    top, folded = cards.scopes[0], name.casefold()
    for letter, own, model in zip(top.letters, top.names, top.models, strict=True):
        if letter == "X" and own.casefold() == folded and model is not None:
            called = cards.find_subcircuit(model, 0)
            if called is None:
                raise IsolintError(
                    f"{own} calls {model}, which has no .subckt here", cure="name the file that holds it"
                )
            return called
    known = [cards.scopes[scope].name for scope in top.subcircuits.values()]
    near = get_close_matches(name.upper(), [each.upper() for each in known], n=3) or known[:_MOST_NAMES]
    told = f"it holds {', '.join(near)}{' ...' if len(known) > len(near) else ''}" if known else "it holds no .subckt"
    raise IsolintError(f"there is no .subckt {name}", cure=told)


def _named(name: str, file: str, verdict: StructureVerdict, kind: str | None, pins: Sequence[str], body: Body) -> _Part:
    """Type and pins of a part, as given, else as its structure tells."""
    header = " ".join(body.names)
    cure = f"give --type, and --pins with a name for each of: {header}"
    if pins and len(pins) != len(body.ports):
        raise IsolintError(f"{len(pins)} pins are given, {name} has {len(body.ports)}: {header}", cure=cure)
    chosen = kind or verdict.type
    if not chosen or (not pins and not all(verdict.pins or ("",))):
        why = f": {verdict.why}" if verdict.why else ""
        raise IsolintError(f"what {name} is, or which pin is which, can't be told from its structure{why}", cure=cure)
    doubts = []
    if verdict.is_asked and kind is None and len(verdict.choices) > 1:
        doubts.append(f"by its structure one of {', '.join(verdict.choices)}: check the type")
    if verdict.doubtful and not pins:
        ports = ", ".join(body.names[port] for port in verdict.doubtful)
        doubts.append(f"which pin is which is not certain for {ports}: check the pins")
    return _Part(name, file, chosen, tuple(pins) or verdict.pins, tuple(doubts), body)


def _channel(part: _Part) -> tuple[m.ChannelNets, int]:
    """The nets of the first channel by the pins' names, and how many channels there are."""
    record: PartRecord | None = from_names(part.name, part.kind, part.pins)
    if record is None or not record.channels:
        text = f"no channel of a {part.kind} with the pins {', '.join(part.pins)} has an input and an output"
        raise IsolintError(text, cure="give --type and --pins as a record would have them")
    kind = types.of(part.kind)
    nets = {pin: part.body.ports[place] for place, pin in enumerate(part.pins)}
    first = record.channels[0]

    def net(pins: Sequence[str], role: str) -> int | None:
        return next((nets[pin] for pin in pins if kind.pin(pin).role == role), None)

    anode, cathode = net(first.input, "anode"), net(first.input, "cathode")
    if anode is None or cathode is None:
        lit = [nets[pin] for pin in first.input if kind.pin(pin).role == "anode"]
        if len(lit) != 2:
            raise IsolintError(f"a {part.kind} has no LED that could be measured")
        anode, cathode = lit
    supplies = tuple(nets[pin] for pin in part.pins if kind.pin(pin).role == "supply")
    collector = emitter = None
    if kind.output.conducts == "transistor":
        collector, emitter = net(first.output, "collector"), net(first.output, "emitter")
    return m.ChannelNets(anode, cathode, collector, emitter, supplies), len(record.channels)


# -- text -------------------------------------------------------------------------------------------------------------


def _lines(part: _Part, channel: m.ChannelNets, found: m.Values, channels: int) -> Iterator[str]:
    head = dotted("parts", part.name)
    said = f"typical, from the model {part.name} in {part.file}, no guarantee"
    yield _comment(
        f"Measured on the model {part.name} at {NOMINAL:g} degC: typical values, and no guarantee of anybody."
    )
    yield "# Ends that a data sheet guarantees go beside them as min and max; what no model tells stays away."
    for doubt in part.doubts:
        yield _comment(doubt)
    if channels > 1:
        yield _comment(f"the first of its {channels} channels was measured")
    for what, why in found.missing:
        yield _comment(f"{what}: not computed: {why}")
    yield f"[{head}]"
    yield f"type = {basic_string(part.kind)}"
    yield f"pins = [{', '.join(map(basic_string, part.pins))}]  # as the model has them"
    yield f"source = {basic_string(''.join(letter if letter.isprintable() else ' ' for letter in said))}"
    yield ""
    yield f"[{head}.led]"
    volts = dict(found.forward)[m.FORWARD_CURRENT]
    yield f'forward_voltage = {{ typ = "{_shown(volts, "V")}", at = "{show(m.FORWARD_CURRENT, "A")}" }}'
    if channel.collector is None:
        yield _comment(f"Of the output of a {part.kind} nothing is measured.")
    else:
        yield from _output(head, found)
    yield from _curves(found)


def _output(head: str, found: m.Values) -> Iterator[str]:
    if found.ratio is not None and found.ratio > 0.0:
        yield ""
        yield f"[{head}.transfer]"
        point = f'current = "{show(m.RATIO_CURRENT, "A")}", voltage = "{show(m.RATIO_VOLTS, "V")}"'
        yield f'ratio = {{ typ = "{_shown(found.ratio, "%")}", {point} }}'
    if found.saturated is None and found.dark is None:
        return
    yield ""
    yield f"[{head}.output]"
    if found.saturated is not None:
        volts, at, drive = found.saturated
        told = f"typical {_shown(volts, 'V')} at {_shown(at, 'A')} with {show(drive, 'A')} in the LED"
        yield f"saturation_voltage = {_UNKNOWN}  # {told}; a record states its maximum"
    if found.dark is not None:
        amps = f"typical {_shown(found.dark, 'A')}" if found.dark >= m.LEAST_DARK else "the model has none"
        told = f"{amps} at {show(m.DARK_VOLTS, 'V')} and {NOMINAL:g} degC"
        yield f"dark_current = {_UNKNOWN}  # {told}; a record states its maximum"


def _curves(found: m.Values) -> Iterator[str]:
    ratios = dict(found.over_current)
    yield ""
    more = f"  ratio at {show(m.RATIO_VOLTS, 'V')}" if ratios else ""
    yield f"# LED current  forward voltage{more}"
    for amps, volts in found.forward:
        row = f"# {show(amps, 'A'):>11}  {_shown(volts, 'V'):>15}"
        yield row + (f"  {_shown(ratios[amps], '%'):>12}" if amps in ratios else "")
    if found.over_voltage:
        yield ""
        yield f"# output voltage  ratio at {show(m.RATIO_CURRENT, 'A')}"
        for volts, ratio in found.over_voltage:
            yield f"# {show(volts, 'V'):>14}  {_shown(ratio, '%'):>13}"


def _shown(value: float, unit: str) -> str:
    return show(value, unit, _DIGITS)


def _comment(text: str) -> str:
    return "# " + "".join(letter if letter.isprintable() else " " for letter in text)

"""The outputs of isolators for logic: what each gives at its net, which inputs read it, what else drives it.

In: a context. Out: `LogicOutput`s with the nets of stated inputs behind them, `OutputLevels` in a setting. `Lacking`
where a fact is missing. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.facts import OutputFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output, RecordLevel
from isolint.rows import most
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.supply_pins import SupplyPin, supply_pins
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

_DROP = 0.4
"""Volts that an unloaded output of CMOS stays from its rail at most, where nobody states it (from memory)."""


class LogicOutput(NamedTuple):
    """An output pin with its net and the nets of its own supply. pulls: it drives low only. stated: its range."""

    part: Part
    pin: int
    name: str
    net: int
    supply: int
    ground: int
    pulls: bool
    stated: Interval | None


class OutputLevels(NamedTuple):
    """The highest high, the lowest high and the highest low level, volts against its ground, and what they rest on."""

    highest: float
    high: float
    low: float
    terms: tuple[Term, ...]


def logic_outputs(context: Context) -> Iterator[LogicOutput]:
    """Every output of an isolator for logic whose supply its pins tell."""
    for part in context.interfaces.recognition.parts.values():
        if "levels" not in part.kind.owns:
            continue
        nets, rails = context.circuit.pins(part.element), list(supply_pins(part))
        pulls = fact_terms.recorded(part, Output.kind) == "open-collector"
        for pin, role in enumerate(part.roles):
            group = next((group for group in part.groups if pin in group), ())
            own = next((rail for rail in rails if rail.pin in group), None)
            if role == "output" and own is not None and pin < len(nets):
                name = part.record.pins[pin] if part.record is not None else f"pin {pin + 1}"
                yield LogicOutput(part, pin, name, nets[pin], nets[own.pin], nets[own.back], pulls, _range(part, own))


def _range(part: Part, rail: SupplyPin) -> Interval | None:
    """The range of an output's supply, as its record states it of that pin or of the part."""
    return rail.stated.voltage or (None if part.record is None else part.record.supply.voltage)


def within_range(context: Context, output: LogicOutput, setting: Setting = WORST) -> bool:
    """Whether an output's supply lies in its range: outside, its levels are no matter of their own."""
    volts = context.analysis.supplied(output.supply, output.ground, setting).volts
    stated = output.stated
    return stated is None or (stated.low <= volts.low.value * 1.001 and volts.high.value <= stated.high * 1.001)


def readers(context: Context, output: LogicOutput) -> list[int]:
    """The nets of stated inputs that see an output's level: its own, and one behind a resistor with nothing beside."""
    found = [output.net] if context.lookup.input(output.net) is not None else []
    circuit = context.circuit
    for element, pin in circuit.elements_at(output.net):
        if circuit.letter(element) != "R":
            continue
        far = circuit.pins(element)[1 - pin]
        beside = [
            other for other, _ in circuit.elements_at(far) if other != element and circuit.letter(other) in "RDQM"
        ]
        if far != output.net and not beside and context.lookup.input(far) is not None:
            found.append(far)
    return found


def pulled(context: Context, output: LogicOutput) -> tuple[bool, bool]:
    """Whether something pulls an output's net up, and down: a resistor to a held net, or the reader's own pull-up."""
    circuit, walker = context.circuit, context.lookup.walker
    up = down = False
    for element, pin in circuit.elements_at(output.net):
        if circuit.letter(element) == "R":
            held = walker.held(circuit.pins(element)[1 - pin])
            up = up or (held is not None and held.kind == "supply")
            down = down or (held is not None and held.kind == "ground")
    facts = context.lookup.input(output.net)
    return up or (facts is not None and facts.pull_up is not None), down


def levels(context: Context, output: LogicOutput, setting: Setting) -> OutputLevels:
    """What a push-pull output gives; `Lacking` where its load takes more than its levels are stated for."""
    rail = context.analysis.supplied(output.supply, output.ground, setting)
    high, low = (fact_terms.recorded(output.part, row) for row in (Output.high_level, Output.low_level))
    _carries(context, output, rail.volts.high.value, high, low)
    drop, floor = _drop(output, high, rail.volts.low.value), _floor(output, low)
    return OutputLevels(
        rail.volts.high.value,
        rail.volts.low.value - setting.high(drop),
        setting.high(floor),
        (*rail.terms, drop, floor),
    )


def _drop(output: LogicOutput, level: RecordLevel | None, supply: float) -> Term:
    """How far below its supply a high level lies: below 0 V it is stated so.

    One that is stated above 0 V holds at the lowest supply of the part's range; above that it rises by as much. Where
    no range is stated, perhaps not.
    """
    name = fact_terms.named(output.part)
    title = f"what output {output.name} of {output.part.path} loses below its supply"
    if level is None or level.min is None:
        usual = most(0.0, _DROP, f"default 0 to {_DROP:g} V below its supply (from memory)")
        return fact_terms.defaulted(Output.high_level, name, usual, title=title)
    if level.min < 0.0:
        return fact_terms.known(Output.high_level, name, -level.min, f"record {name}", title=title)
    worst = max(supply - level.min, 0.0)
    if output.stated is not None:
        drop = min(max(output.stated.low - level.min, 0.0), worst)
        source = f"record {name}, {level.min:g} V at its lowest supply"
        return fact_terms.known(Output.high_level, name, drop, source, title=title)
    usual = most(0.0, worst, f"{level.min:g} V at whatever supply, or as far below it as at its least")
    return fact_terms.defaulted(Output.high_level, name, usual, title=title)


def _floor(output: LogicOutput, level: RecordLevel | None) -> Term:
    name = fact_terms.named(output.part)
    title = f"low level of output {output.name} of {output.part.path}"
    if level is None or level.max is None:
        usual = most(0.0, _DROP, f"default 0 to {_DROP:g} V (from memory)")
        return fact_terms.defaulted(Output.low_level, name, usual, title=title)
    return fact_terms.known(Output.low_level, name, level.max, f"record {name}", title=title)


def _carries(
    context: Context, output: LogicOutput, volts: float, high: RecordLevel | None, low: RecordLevel | None
) -> None:
    """Refuse levels that are stated for less than the resistors at an output take."""
    circuit, taken = context.circuit, 0.0
    for element, pin in circuit.elements_at(output.net):
        ohms = context.lookup.ohms(element) if circuit.letter(element) == "R" else None
        far = context.lookup.walker.held(circuit.pins(element)[1 - pin]) if ohms else None
        if ohms and far is not None and far.kind in ("supply", "ground"):
            taken += volts / ohms
    for level, row in ((high, Output.high_level), (low, Output.low_level)):
        if level is not None and level.at is not None and taken > level.at > 0.0:
            record = output.part.record
            assert record is not None
            text = f"its levels hold up to {level.at:g} A and up to {taken:.3g} A are taken from output {output.name}"
            raise Lacking(text, [fact_terms.missing(record.file, row, record.name)])


class Driver(NamedTuple):
    """What else drives the net of an output to both levels, in words. enabled: it may be switched off by a pin."""

    words: str
    element: int
    enabled: bool


def other_drivers(context: Context, output: LogicOutput) -> Iterator[Driver]:
    """Other outputs that drive an output's net low and high."""
    circuit, parts = context.circuit, context.interfaces.recognition.parts
    others = False
    for element, pin in circuit.elements_at(output.net):
        if element == output.part.element:
            continue
        part = parts.get(element)
        if part is None:
            others = others or element in context.interfaces.recognition.ordinary
        elif part.roles[pin] == "output" and _drives_both(part) and not _same_input(context, output, part, pin):
            yield Driver(f"output of {part.path}", element, _enabled(context, part, pin))
    fact = context.facts.output(context.net(output.net))
    if fact is None or not others or context.lookup.input(output.net) is not None:
        # It may be the output itself that is stated there, where nothing else could be meant.
        return
    plain = fact.drive is None or fact.drive.value == "push-pull"
    told = any(fact_terms.recorded(output.part, row) is not None for row in (Output.high_level, Output.low_level))
    if plain and told and fact.exclusive is None:
        yield Driver(f"stated output {context.net(output.net)}", -1, False)


def _drives_both(part: Part) -> bool:
    kind = fact_terms.recorded(part, Output.kind)
    if "levels" in part.kind.owns:
        return bool(kind != "open-collector")
    return part.kind.output.conducts == "logic" and bool(kind == "push-pull")


def _same_input(context: Context, output: LogicOutput, part: Part, pin: int) -> bool:
    """Whether two outputs follow one net, so that they agree."""
    nets = [_input_net(context, output.part, output.pin), _input_net(context, part, pin)]
    return nets[0] is not None and nets[0] == nets[1]


def _input_net(context: Context, part: Part, pin: int) -> int | None:
    record, nets = part.record, context.circuit.pins(part.element)
    if record is None:
        return None
    own = record.pins[pin].casefold()
    for channel in record.channels:
        if own in (name.casefold() for name in channel.output) and len(channel.input) == 1:
            return nets[record.position(channel.input[0])]
    inputs = [at for at, role in enumerate(part.roles) if role == "input"]
    return nets[inputs[0]] if len(inputs) == 1 else None


def _enabled(context: Context, part: Part, pin: int) -> bool:
    """Whether a pin beside an output may switch it off: one that nothing holds."""
    group = next((group for group in part.groups if pin in group), ())
    nets = context.circuit.pins(part.element)
    held = (context.lookup.walker.held(nets[other]) for other in group if part.roles[other] == "enable")
    return any(end is None or end.kind == "output" for end in held)


def may_be_off(context: Context, output: LogicOutput) -> bool:
    """Whether an enable pin of its own may switch an output off."""
    return _enabled(context, output.part, output.pin)


def exclusive(context: Context, output: LogicOutput) -> bool:
    """Whether somebody states that only one of the outputs at a net drives at a time."""
    fact = context.facts.of(OutputFacts.exclusive, context.net(output.net))
    return fact is not None

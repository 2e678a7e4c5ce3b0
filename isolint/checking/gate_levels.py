"""What drives the gates behind gate drivers and photovoltaic couplers: the voltage between gate and source.

In: a context, a setting. Out: `GateDrive`s: each gate with the part that drives it; `GateLevel`s with figures and
terms. `Lacking` where a fact is missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from isolint.checking.context import Context
from isolint.facts import ElementFacts
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Output, Trigger
from isolint.rows import Row, Usual
from isolint.worstcase import fact_terms, gates
from isolint.worstcase import network as n
from isolint.worstcase.figures import Figure
from isolint.worstcase.gates import Driven
from isolint.worstcase.supply_pins import supply_pins
from isolint.worstcase.uncertain import Lacking, Setting, Term

CURRENT_LOSS = Usual(0.0, 0.0, 0.005, 0.0, 0.0, "default 0 to 0.5 % a kelvin (from memory)")
_REFERENCE = 25.0
_ZENER_MOST = 75.0


class GateDrive(NamedTuple):
    """One gate with what drives it. plus, back: the nets of the output and of its return; back is -1 where the return
    is that of the supply. channels: those of a photovoltaic output, in series or side by side."""

    part: Part
    gate: Driven
    back: int
    channels: tuple[Channel, ...] = ()
    series: bool = False
    on: bool = True
    off: bool = True


class GateLevel(NamedTuple):
    """A voltage between gate and source with what it rests on."""

    volts: Figure
    terms: tuple[Term, ...]


def drives(context: Context, parts: Iterable[Part]) -> Iterator[GateDrive]:
    """Every gate behind some parts, in their order."""
    recognition = context.interfaces.recognition
    for part in parts:
        if "supplies" in part.kind.owns:
            seen: set[tuple[int, int]] = set()
            for output in gates.outputs(context.lookup, part):
                for gate in gates.driven(context.lookup, recognition, part, output.net):
                    if (gate.element, output.net) not in seen:
                        seen.add((gate.element, output.net))
                        yield GateDrive(part, gate, -1, on=output.on, off=output.off)
        else:
            yield from _arrays(context, part)


def _arrays(context: Context, part: Part) -> Iterator[GateDrive]:
    """The gates of a photovoltaic coupler, of the first one where several are joined."""
    for channel in context.analysis.neighbours().of_part(part.element):
        row = joined_arrays(context, channel)
        if row[0].subject != channel.subject:
            continue
        own = tuple(_beside(context, channel)) if len(row) == 1 else tuple(row)
        top, bottom = ends(context, row[-1])[0], ends(context, channel)[1]
        for gate in gates.driven(context.lookup, context.interfaces.recognition, part, top, bottom):
            yield GateDrive(part, gate, bottom, own, len(row) > 1)


def joined_arrays(context: Context, channel: Channel) -> list[Channel]:
    """The photovoltaic outputs in a row with one, the lowest first; of several side by side the first alone."""
    return _in_series(context, _beside(context, channel)[0])


def _beside(context: Context, channel: Channel) -> list[Channel]:
    own = ends(context, channel)
    return [other for other in _of_arrays(context) if ends(context, other) == own]


def _of_arrays(context: Context) -> list[Channel]:
    return [channel for channel in context.channels if "array" in channel.part.kind.owns]


def _in_series(context: Context, channel: Channel) -> list[Channel]:
    """The photovoltaic outputs in a row with one, the lowest first; a gate on a net between ends the row."""
    found = [channel]
    every = _of_arrays(context)
    while True:
        top = ends(context, found[-1])[0]
        above = [one for one in every if ends(context, one)[1] == top and one not in found]
        if len(above) != 1 or _gate_at(context, top):
            break
        found.append(above[0])
    while True:
        bottom = ends(context, found[0])[1]
        below = [one for one in every if ends(context, one)[0] == bottom and one not in found]
        if len(below) != 1 or _gate_at(context, bottom):
            break
        found.insert(0, below[0])
    return found


def _gate_at(context: Context, net: int) -> bool:
    letters = [(context.circuit.letter(element), pin) for element, pin in context.circuit.elements_at(net)]
    return any(letter == "M" for letter, _ in letters)


def ends(context: Context, channel: Channel) -> tuple[int, int]:
    """The nets of a photovoltaic output, plus first; `Lacking` where names do not tell them apart."""
    part, record = channel.part, channel.part.record
    nets = context.circuit.pins(part.element)
    if record is None:
        missing = context.lookup.missing(ElementFacts.part, part.path, '"DEMO_PV1"')
        raise Lacking(f"which output of {part.path} is plus is not known", [missing])
    stated = next((one.output for one in record.channels if one.name == channel.name), None)
    names = stated or (record.channels[0].output if len(record.channels) == 1 else ())
    pins = [record.position(name) for name in names] or [pin for pin, role in enumerate(part.roles) if role == "output"]
    plus = [pin for pin in pins if record.pins[pin].endswith("+")]
    minus = [pin for pin in pins if record.pins[pin].endswith("-")]
    if len(plus) != 1 or len(minus) != 1:
        pins_row = ", ".join(record.pins[pin] for pin in pins)
        raise Lacking(f"which of {pins_row} is plus is not known: call them pv+ and pv-")
    return nets[plus[0]], nets[minus[0]]


# -- gate drivers -----------------------------------------------------------------------------------------------------


def _rails(context: Context, drive: GateDrive) -> tuple[int, int]:
    """Nets of the supply and of its return at the output of a gate driver."""
    output = next(pin for pin, net in enumerate(context.circuit.pins(drive.part.element)) if net == drive.gate.start)
    group = next((group for group in drive.part.groups if output in group), ())
    nets = context.circuit.pins(drive.part.element)
    for pin in supply_pins(drive.part):
        if pin.pin in group:
            return nets[pin.pin], nets[pin.back]
    raise Lacking(f"which pin supplies the output of {drive.part.path} is not known")


def swing(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The largest supply of a gate driver's output, from rail to rail."""
    plus, minus = _rails(context, drive)
    rail = context.analysis.supplied(plus, minus, setting)
    return GateLevel(Figure("V_CC", rail.volts.high, "V", "largest supply of the output"), rail.terms)


def _missing(context: Context, part: Part, row: Row[Any]) -> Lacking:
    record = part.record
    file = context.settings_file if record is None or not record.file else record.file
    name = fact_terms.named(part)
    fact = fact_terms.missing(file, row, name)
    return Lacking(f"the {fact.key.rpartition('.')[2].replace('_', ' ')} of {name} is not known", [fact])


def lowest_on(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The least voltage between gate and source while it is to be on."""
    if drive.channels:
        return _array_on(context, drive, setting)
    plus, _ = _rails(context, drive)
    level = fact_terms.recorded(drive.part, Output.high_level)
    if level is None or level.min is None:
        raise _missing(context, drive.part, Output.high_level)
    rail = context.analysis.supplied(plus, drive.gate.source, setting)
    top = Figure("V_CC", rail.volts.low, "V", "supply above the source", end="min")
    source = f"record {fact_terms.named(drive.part)}"
    if level.min > 0.0:
        least = Figure("V_OH", level.min, "V", "guaranteed high level", end="min", source=source)
        volts = top if top.si <= least.si else least
    else:
        volts = top - Figure("V_drop", -level.min, "V", "drop of its output", source=source)
    return GateLevel(
        volts.called("V_GS", "V", "voltage between gate and source", end="min", at=rail.volts.low), rail.terms
    )


def highest(context: Context, drive: GateDrive, setting: Setting, positive: bool) -> GateLevel:
    """The largest voltage between gate and source, of the one sign or the other, as a magnitude."""
    if drive.channels:
        return _array_open(context, drive, setting) if positive else GateLevel(Figure("V_GS", 0.0, "V"), ())
    plus, minus = _rails(context, drive)
    rail = context.analysis.supplied(plus if positive else minus, drive.gate.source, setting)
    bound = rail.volts.high if positive else rail.volts.low
    volts = bound.value if positive else -bound.value
    name = f"largest {'positive' if positive else 'negative'} voltage between gate and source"
    found = Figure("V_GS", max(volts, 0.0), "V", name, at=bound)
    return _clamped(context, drive, setting, GateLevel(found, rail.terms), positive)


def _clamped(context: Context, drive: GateDrive, setting: Setting, level: GateLevel, positive: bool) -> GateLevel:
    """A Zener diode between gate and source takes what is more, where a resistor or a photovoltaic output lets it."""
    gate, circuit = drive.gate, context.circuit
    for element in gate.beside:
        model = circuit.model_parameters(element) if circuit.letter(element) == "D" else {}
        volts = model.get("bv")
        pins = circuit.pins(element)
        other = {gate.source, drive.back}
        way_on = pins[1] == gate.net and pins[0] in other
        if not volts or volts > _ZENER_MOST or not (way_on or (pins[0] == gate.net and pins[1] in other)):
            continue
        if not drive.channels:
            ohms, _ = gates.resistance(context.lookup, context.analysis.solver, gate, setting, True)
            if ohms < 1.0:
                continue
        spread = context.lookup.tolerance(element)
        most = volts * (1.0 + setting.high(spread)) if way_on == positive else 1.0
        if most < level.volts.si:
            name = f"voltage at which {circuit.path(element)} clamps the gate"
            return GateLevel(Figure("V_Z", most, "V", name), (*level.terms, spread))
    return level


def off_level(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The largest voltage between gate and source while it is to be off."""
    if drive.channels:
        return GateLevel(Figure("V_GS", 0.0, "V", "voltage between gate and source in the dark"), ())
    lower, terms = lower_rail(context, drive, setting)
    level = fact_terms.recorded(drive.part, Output.low_level)
    rise = 0.0 if level is None or level.max is None else level.max
    volts = lower + Figure("V_OL", rise, "V", "low level of its output")
    text = "voltage between gate and source while off"
    return GateLevel(volts.called("V_off", "V", text, at=lower.at), terms)


def lower_rail(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The lower rail of a gate driver's output above the source, at its highest."""
    _, minus = _rails(context, drive)
    rail = context.analysis.supplied(minus, drive.gate.source, setting)
    return GateLevel(Figure("V_EE", rail.volts.high, "V", "lower rail above the source"), rail.terms)


# -- photovoltaic outputs ---------------------------------------------------------------------------------------------


def _array_open(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The largest open voltage: cold, of the best part."""
    cold = setting.low(context.lookup.ambient())
    terms: list[Term] = [context.lookup.ambient()]
    total: Figure | None = None
    for channel in drive.channels if drive.series else drive.channels[:1]:
        spec = fact_terms.recorded(channel.part, Output.open_voltage)
        if spec is None:
            raise _missing(context, channel.part, Output.open_voltage)
        source = f"record {fact_terms.named(channel.part)}"
        if spec.max is not None:
            warm = Figure("VOC", spec.max, "V", "open voltage", source=source)
        else:
            usual = Usual(1.0, 1.0, 1.5, 1.0, 1.0, "default 1 to 1.5 times the usual one (from memory)")
            term = fact_terms.defaulted(
                Output.open_voltage, fact_terms.named(channel.part), usual, unit="1",
                title=f"largest open voltage of {channel.part.path} over the one stated",
                example='{ min = "8 V", typ = "9 V", max = "10 V" }',
            )  # fmt: skip
            terms.append(term)
            warm = Figure("VOC", spec.typ or spec.min or 0.0, "V", "open voltage", source=source)
            warm = warm * Figure("k", setting.high(term), name="largest part over the one stated")
        drift = fact_terms.of_record(channel.part, Output.voltage_coefficient)
        terms.append(drift)
        factor = 1.0 + setting.high(drift) * max(_REFERENCE - cold, 0.0)
        volts = warm * Figure("k_cold", factor, name=f"open voltage at {cold:g} degC over that at 25 degC")
        total = volts if total is None else total + volts
    assert total is not None
    found = total.called("V_GS", "V", "largest voltage between gate and source", at=f"{cold:g} degC")
    return _clamped(context, drive, setting, GateLevel(found, tuple(terms)), True)


def _array_on(context: Context, drive: GateDrive, setting: Setting) -> GateLevel:
    """The voltage at which the output gives what the gate's network takes: on the chord of its curve, or between that
    and the rectangle around it."""
    found = [_array_at(context, drive, setting, at) for at in _temperatures(context, setting)]
    return min(found, key=lambda level: level.volts.si)


def _temperatures(context: Context, setting: Setting) -> Sequence[float]:
    return tuple(dict.fromkeys(setting.range(context.lookup.ambient())))


def array_sources(context: Context, drive: GateDrive, setting: Setting, at: float) -> tuple[Figure, Figure, list[Term]]:
    """Open voltage and short-circuit current of all photovoltaic outputs at a gate together, at a temperature."""
    terms: list[Term] = [context.lookup.ambient()]
    opens, shorts = [], []
    for channel in drive.channels:
        volts, amps, used = _source(context, channel, setting, at)
        opens.append(volts)
        shorts.append(amps)
        terms.extend(used)
    if drive.series:
        volts, amps = sum(opens[1:], start=opens[0]), min(shorts, key=lambda one: one.si)
    else:
        volts, amps = min(opens, key=lambda one: one.si), sum(shorts[1:], start=shorts[0])
    volts = volts.called("VOC", "V", "open voltage", end="min", at=f"{at:g} degC")
    amps = amps.called("ISC", "A", "short-circuit current", end="min", at=f"{at:g} degC")
    return volts, amps, terms


def least_array_current(context: Context, drive: GateDrive, setting: Setting) -> tuple[Figure, list[Term]]:
    """The least current that photovoltaic outputs give over the temperatures, into no voltage."""
    found = [array_sources(context, drive, setting, at)[1:] for at in _temperatures(context, setting)]
    return min(found, key=lambda one: one[0].si)


def _array_at(context: Context, drive: GateDrive, setting: Setting, at: float) -> GateLevel:
    volts, amps, terms = array_sources(context, drive, setting, at)
    if volts.si <= 0.0:
        return GateLevel(volts, tuple(terms))
    load, spreads = array_load(context, drive, setting)
    terms.extend(spreads)
    if load is None:
        return GateLevel(
            volts.called("V_GS", "V", "voltage between gate and source", end="min", at=volts.at), tuple(terms)
        )
    ohms = Figure("R", load, "ohm", "what lies between gate and source", end="min")
    curve = fact_terms.recorded(drive.channels[0].part, Output.output_curve)
    if curve is not None and len(drive.channels) == 1:
        low, high = 0.0, volts.si
        for _ in range(50):
            middle = (low + high) / 2.0
            share = curve.at(middle)
            share = 0.0 if share is None and middle > curve.points[-1][0] else 1.0 if share is None else share
            low, high = (middle, high) if amps.si * share * load >= middle else (low, middle)
        where = Figure("V_GS", low, "V", "voltage between gate and source, on the curve", end="min", at=volts.at)
        return GateLevel(where, tuple(terms))
    chord = volts * ohms / (ohms + volts / amps)
    name = fact_terms.named(drive.channels[0].part)
    usual = Usual(0.0, 0.5, 1.0, 1.0, 1.0, "assumption, from the chord of VOC and ISC to the rectangle")
    shape = fact_terms.defaulted(
        Output.output_curve, name, usual, unit="1", title=f"curve of the output of {drive.part.path}"
    )
    terms.append(shape)
    share = setting.low(shape)
    most = min(volts.si, amps.si * load)
    if share <= 0.0:
        found = chord
    elif share >= 1.0:
        found = (amps * ohms) if amps.si * load <= volts.si else volts + 0.0
    else:
        found = Figure("", chord.si + share * (most - chord.si), "V")
    text = "voltage between gate and source"
    return GateLevel(found.called("V_GS", "V", text, end="min", at=f"{at:g} degC"), tuple(terms))


def _source(context: Context, channel: Channel, setting: Setting, at: float) -> tuple[Figure, Figure, tuple[Term, ...]]:
    """Open voltage and short-circuit current of a photovoltaic output at a temperature."""
    part = channel.part
    name, source = fact_terms.named(part), f"record {fact_terms.named(part)}"
    spec, short = (fact_terms.recorded(part, row) for row in (Output.open_voltage, Output.short_current))
    if spec is None or spec.min is None:
        raise _missing(context, part, Output.open_voltage)
    if short is None:
        raise _missing(context, part, Output.short_current)
    drift = fact_terms.of_record(part, Output.voltage_coefficient)
    loss = fact_terms.defaulted(
        Output.versus_temperature, name, CURRENT_LOSS, unit="1/K", title=f"loss of the current of {part.path} a kelvin"
    )
    left = fact_terms.recorded(part, Trigger.remaining)
    title = f"light of {part.path} that remains at the end of life"
    if left is None:
        aged = fact_terms.defaulted(Trigger.remaining, name, Trigger.remaining.counts, title=title)
    else:
        aged = fact_terms.known(Trigger.remaining, name, left, source, title=title)
    above = at - _REFERENCE
    k_v = 1.0 - (setting.high(drift) * above if above > 0.0 else 0.0)
    volts = Figure("VOC_25", spec.min, "V", "open voltage at 25 degC", end="min", source=source)
    volts = volts * Figure("k_V", max(k_v, 0.0), name=f"open voltage at {at:g} degC over that at 25 degC")
    lit = context.analysis.drive(channel, setting)
    current = Figure("IF_min", lit.current.low, "A", "LED current", end="min")
    share = current / Figure("IF_test", short.drive, "A", "LED current of the test", source=source)
    share = share if share.si < 1.0 else Figure("", 1.0)
    amps = Figure("ISC_25", short.min, "A", "short-circuit current", end="min", source=source) * share
    curve = fact_terms.recorded(part, Output.versus_temperature)
    terms = (drift, aged, *lit.terms) if curve is not None else (drift, loss, aged, *lit.terms)
    k_i = None if curve is None else curve.at(at)
    if k_i is None:
        k_i = max(1.0 - (setting.high(loss) * above if above > 0.0 else 0.0), 0.0)
    amps = amps * Figure("k_T", k_i, name=f"current at {at:g} degC over that at 25 degC", end="min")
    amps = amps * Figure("k_t", setting.low(aged), name="light that remains at the end of life", end="min")
    return volts, amps, terms


def array_load(
    context: Context, drive: GateDrive, setting: Setting, largest: bool = False
) -> tuple[float | None, list[Term]]:
    """Ohms between the ends of the output with all resistors at their lowest or largest, None for none at all."""
    top, bottom = drive.gate.start, drive.back
    circuit, lookup = context.circuit, context.lookup
    inner, elements = _hanging(context, top, bottom)
    terms: list[Term] = []
    branches: list[n.Branch] = []
    nodes = {bottom: 0, top: 1}
    for net in inner:
        nodes.setdefault(net, len(nodes))
    for element in elements:
        if circuit.letter(element) != "R":
            continue
        ohms = lookup.ohms(element)
        if ohms is None:
            raise Lacking(f"resistor {circuit.path(element)} has no value", element=element)
        spread = lookup.tolerance(element)
        terms.append(spread)
        a, b = (nodes[net] for net in circuit.pins(element)[:2])
        branches.append(n.Resistor(circuit.path(element), a, b, ohms * (1.0 + setting.range(spread)[largest])))
    for channel in drive.channels:
        inside = fact_terms.recorded(channel.part, Output.discharge)
        if isinstance(inside, float) and not isinstance(inside, bool):
            branches.append(n.Resistor(f"inside {channel.subject}", 1, 0, inside))
    if not branches:
        return None, terms
    branches.append(n.VoltageSource("test", 1, 0, 1.0))
    branches.extend(n.Resistor(f"leak {node}", node, 0, 1e13) for node in nodes.values() if node)
    names = [""] * len(nodes)
    for net, node in nodes.items():
        names[node] = circuit.net_name(net)
    try:
        amps = context.analysis.solver.solve(n.BranchNetwork(tuple(names), tuple(branches)), _REFERENCE).current("test")
    except n.NotSolvable as error:
        raise Lacking(error.text) from None
    return (1.0 / amps if amps > 1e-12 else None), terms


def _hanging(context: Context, top: int, bottom: int) -> tuple[list[int], list[int]]:
    """The nets and elements between the ends of an output: resistors and what joins them, up to nets that are held."""
    circuit = context.circuit
    waiting, seen, elements = [top], {top, bottom}, dict[int, None]()
    for net in waiting:  # grows while it is walked
        for element, _ in circuit.elements_at(net):
            if circuit.letter(element) != "R" or element in elements:
                continue
            elements[element] = None
            for other in circuit.pins(element)[:2]:
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
    return waiting, list(elements)

"""What flows on while a switch is off: its own leakage, and what lies across it or its thyristor.

In: a channel with its switch. Out: currents as figures with the terms that they rest on. Capacitors carry a current on
alternating supplies only; a resistor in series with one counts as none, so that the sum errs to the safe side.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from isolint.checking.context import Context
from isolint.checking.equalised import SwitchRow, equalised, ohms
from isolint.checking.switched import FiredThyristor, Switched, VoltageBetween, across, frequency
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Output, Trigger
from isolint.rows import Usual, Value, most
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure, total
from isolint.worstcase.uncertain import Lacking, Setting, Term

LEAKS_AT = 25.0
"""The temperature at which a leakage holds where nobody says another."""

_MEMORY = "default (from memory)"


class Current(NamedTuple):
    """A current with what it rests on."""

    amps: Figure
    terms: tuple[Term, ...]


class Shunts(NamedTuple):
    """What conducts past an open switch: capacitors and resistors, by element, in the nominal farads and ohms."""

    farads: dict[int, float]
    ohms: dict[int, float]


def leakage(context: Context, channel: Channel, setting: Setting) -> Current:
    """The off current of the output itself at the hottest ambient."""
    part, name = channel.part, fact_terms.named(channel.part)
    hottest = context.lookup.ambient().high
    switch = part.kind.output.switch
    row: Value[Any] = Trigger.leakage if switch.startswith("holds") else Output.leakage
    title = f"off leakage of {part.path}"
    found = fact_terms.recorded(part, row)
    if switch == "complete":
        # The one key holds no temperature: where a value of it would have to rise, the other one settles that.
        with_temperature = fact_terms.recorded(part, Trigger.leakage)
        row = Output.leakage if found is None else Trigger.leakage
        found = found if with_temperature is None else with_temperature
    if found is None:
        term = fact_terms.defaulted(row, name, _usual(switch, hottest), title=title)
        return Current(Figure("I_leak", setting.high(term), "A", title, source=term.origin), (term,))
    amps, at = (found, LEAKS_AT) if isinstance(found, float) else (found.max, found.at)
    stands = Figure("I_leak", amps, "A", f"{title} at {at:g} degC", source=f"record {name}")
    grows = 2.0 ** (max(hottest - at, 0.0) / 10.0)
    if grows <= 1.0:
        return Current(stands, ())
    rise = fact_terms.defaulted(
        row, name, most(1.0, grows, "twice every 10 K, or none (from memory)"), title=f"rise of the {title}", unit="1"
    )
    risen = stands * Figure("F_T", setting.high(rise), "1", f"from {at:g} to {hottest:g} degC")
    return Current(risen.called("I_leak,T", "A", f"{title} at {hottest:g} degC"), (rise,))


def _usual(switch: str, hottest: float) -> Usual:
    """What leaks where the record does not say."""
    if switch == "complete":
        return most(0.0, 10e-3, _MEMORY)
    if switch == "passes":
        return most(0.0, 1e-6 * 2.0 ** ((hottest - LEAKS_AT) / 10.0), _MEMORY)
    return Trigger.leakage.counts


def past(context: Context, channel: Channel, found: Switched, setting: Setting) -> Current:
    """All that flows to the load while the switch is off, rms on alternating supplies."""
    own, volts = leakage(context, channel, setting), across(context, found, setting)
    assert volts is not None
    shunts = beside(context, found)
    more, terms = _through(context, channel, found, shunts, volts, setting)
    if not more:
        return own
    summed = total([own.amps, *more]).called("I_off", "A", "current while it is off")
    return Current(summed, (*own.terms, *volts.terms, *terms))


def _through(
    context: Context, channel: Channel, found: Switched, shunts: Shunts, volts: VoltageBetween, setting: Setting
) -> tuple[list[Figure], tuple[Term, ...]]:
    figures, terms = [], dict[Term, None]()
    peak = Figure("V_pk", volts.high, "V", "peak across the open switch")
    rms = peak / Figure("", math.sqrt(2.0)) if volts.alternating else peak
    row = equalised(context.analysis, channel)
    if isinstance(row, SwitchRow) and set(row.own.resistors) & shunts.ohms.keys():
        # All of them lie in series as long as every switch of the row is off, capacitors that are alike likewise.
        many, capacitors = 1.0 + len(row.others), {e for branch in row.own.across for e in branch.capacitors}
        sums = [ohms(context.analysis, member, setting, False) for member in (row.own, *row.others)]
        terms.update((term, None) for _, spreads in sums for term in spreads)
        whole = Figure("R_row", math.fsum(each for each, _ in sums), "ohm", "the resistors across all switches of it")
        figures.append((rms / whole).called("I_R", "A", "current through the resistors across the switches in series"))
        shunts = Shunts(
            {e: value / many if e in capacitors else value for e, value in shunts.farads.items()},
            {e: value for e, value in shunts.ohms.items() if e not in row.own.resistors},
        )
    for element, nominal in (shunts.farads if volts.alternating else {}).items():
        spread = context.lookup.tolerance(element)
        terms[spread] = None
        hertz = Figure("f", _hertz(context, found), "Hz")
        farads = Figure("C", nominal * (1.0 + setting.high(spread)), "F", context.circuit.path(element))
        flows = 2.0 * Figure("pi", math.pi) * hertz * farads * rms
        figures.append(flows.called("I_C", "A", f"current through {context.circuit.path(element)}"))
    for element, nominal in shunts.ohms.items():
        spread = context.lookup.tolerance(element)
        terms[spread] = None
        resists = Figure("R", nominal * (1.0 + setting.low(spread)), "ohm", context.circuit.path(element))
        figures.append((rms / resists).called("I_R", "A", f"current through {context.circuit.path(element)}"))
    return figures, tuple(terms)


def _hertz(context: Context, found: Switched) -> float:
    hertz = frequency(context, found)
    if hertz is None:
        names = [path.name for side in found.ways for path in side if context.facts.supply(path.name) is not None]
        lacking = [context.lookup.missing(SupplyFacts.frequency, name) for name in names[:1]]
        raise Lacking("the frequency of its supply is not stated", lacking)
    return hertz


def beside(context: Context, found: Switched) -> Shunts:
    """What lies past the switch or its thyristor: from the nets before it to those behind it, never over the load."""
    one, other = around(context, found, 0), around(context, found, 1)
    farads, ohms = dict[int, float](), dict[int, float]()
    for net in one:
        for element, far in _two_ended(context, net):
            letter, value = context.circuit.letter(element), context.circuit.value(element)
            if value is None or value <= 0.0 or far in one:
                continue
            if far in other:
                (farads if letter == "C" else ohms)[element] = value
                continue
            behind = [e for e, end in _two_ended(context, far) if end in other and e != element]
            if len(list(context.circuit.elements_at(far))) != 2 or len(behind) != 1:
                continue
            second = context.circuit.value(behind[0])
            if second is None or second <= 0.0:
                continue
            pair = {letter: (element, value), context.circuit.letter(behind[0]): (behind[0], second)}
            if "C" in pair:
                farads[pair["C"][0]] = pair["C"][1]
            else:
                ohms[element] = value + second
    return Shunts(farads, ohms)


def around(context: Context, found: Switched, side: int) -> set[int]:
    """The nets at one end of the switch, of a thyristor with those of its gate path up to its main terminal there."""
    nets, thyristor = {found.ends[side]}, found.thyristor
    if thyristor is None:
        return nets
    main = thyristor.near if thyristor.gate in found.reached[side] and not _to_far(found, side) else thyristor.far
    way = found.reached[side].get(main)
    if way is None:
        return nets
    before = {net for net, other in found.reached[side].items() if way[: len(other)] == other}
    return nets | {main} | {net for net in before if context.lookup.walker.held(net) is None}


def _to_far(found: Switched, side: int) -> bool:
    """Whether the way to the far main terminal is the shorter one from an end, so that the gate is at the other."""
    thyristor = found.thyristor
    assert thyristor is not None
    reached = found.reached[side]
    far, gate = reached.get(thyristor.far), reached.get(thyristor.gate)
    return far is not None and (gate is None or len(far) < len(gate))


def _two_ended(context: Context, net: int) -> list[tuple[int, int]]:
    """Resistors and capacitors at a net, with the net behind each."""
    circuit = context.circuit
    return [
        (element, circuit.pins(element)[1 - pin])
        for element, pin in circuit.elements_at(net)
        if circuit.letter(element) in "RC" and len(circuit.pins(element)) == 2
    ]


def into_gate(context: Context, channel: Channel, found: Switched, setting: Setting) -> Current:
    """What flows into the gate of the thyristor while its coupler is off: leakage, and what capacitors pass."""
    thyristor, volts = found.thyristor, across(context, found, setting)
    assert thyristor is not None and volts is not None
    own = leakage(context, channel, setting)
    shunts = beside(context, found)
    mains = {thyristor.near, thyristor.far}

    def reaches(element: int) -> bool:
        # What ends at the main terminal beside the gate passes the gate by.
        return thyristor.near not in _far_ends(context, element, mains)

    kept = Shunts(*({e: value for e, value in each.items() if reaches(e)} for each in shunts))
    more, terms = _through(context, channel, found, kept, volts, setting)
    if not more:
        return own
    root = Figure("", math.sqrt(2.0)) if volts.alternating else Figure("", 1.0)
    peaks = [(root * flows).called("I_C,pk", "A", flows.name) for flows in more]
    summed = total([own.amps, *peaks]).called("I_g", "A", "current into the gate while it is off")
    return Current(summed, (*own.terms, *volts.terms, *terms))


def _far_ends(context: Context, element: int, mains: set[int]) -> set[int]:
    """The main terminals at which an element ends, itself or behind the one in series with it."""
    found = set(context.circuit.pins(element)) & mains
    for net in context.circuit.pins(element):
        others = [e for e, _ in context.circuit.elements_at(net) if e != element]
        if net not in mains and len(others) == 1:
            found |= set(context.circuit.pins(others[0])) & mains
    return found


class GateShunt(NamedTuple):
    """The resistors from the gate of a thyristor to its main terminal: nominal ohms, and how far they may be off."""

    ohms: float
    spread: Term


def gate_shunt(context: Context, thyristor: FiredThyristor) -> GateShunt | None:
    """What lies from gate to main terminal, None where nothing does."""
    return between(context, thyristor.gate, thyristor.near)


def between(context: Context, one: int, other: int) -> GateShunt | None:
    """The resistors on two nets, all of them together; None where there are none."""
    found = [e for e, far in _two_ended(context, one) if far == other and context.circuit.letter(e) == "R"]
    known = [(e, value) for e in found if (value := context.lookup.ohms(e))]
    if not known:
        return None
    widest = max((context.lookup.tolerance(e) for e, _ in known), key=lambda term: term.high)
    return GateShunt(1.0 / sum(1.0 / value for _, value in known), widest)

"""How fast a channel follows: the times of both edges, what they leave of a pulse, and the largest rate.

In: an analysis, a channel, a setting. Out: a `Speed` in seconds. Transistor outputs by charge control (`edges`), logic
outputs by their delays and what the load adds. What is electrical counts at worst, or all of it at the kindest: facts
about time are what a result on time asks for.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.cascade import by_output
from isolint.checking.coil_speed import released
from isolint.checking.led_side import NO_LAG, lag
from isolint.checking.once import once
from isolint.facts import InputFacts
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Spec, Timing, generic
from isolint.rows import Usual, Value, most
from isolint.units import Interval
from isolint.worstcase import edges, fact_terms, limits
from isolint.worstcase.base import is_open, photo_gain
from isolint.worstcase.chains import capacitors, chain
from isolint.worstcase.demands import logic_level
from isolint.worstcase.drive import vector_of
from isolint.worstcase.figures import Figure
from isolint.worstcase.off import OffCrossing
from isolint.worstcase.receiver_goals import goal_of
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, unique

TEST_OHMS = 100.0
"""The load at which rise and fall times are told where a record does not say (common practice, no source)."""

LEAST_OVERDRIVE = 2.0
"""By how much a saturated test drives an output at least."""

_LEAST = Usual(0.0, 0.0, 1.0, 1.0, 1.0, "assumption, from no time at all to the least that the same figures give")


class Speed(NamedTuple):
    """Seconds. settle: after which a level is surely there. distortion: by how much a pulse may grow or shrink.

    figures: what they were found from. behind: capacitors that were stepped, and couplers in the row.
    """

    on: float
    off: float
    settle: float
    distortion: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]

    def rate(self, share: float) -> float:
        """The largest rate at which both edges settle and a pulse keeps its share, in pulses a second."""
        needed = max(self.settle, self.distortion / share)
        return 1.0 / needed if needed > 0.0 else math.inf


@once
def speed(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> Speed:
    """The speed of a channel with what drives its LED, if that is a coupler; raises `Lacking`."""
    own = _own(analysis, channel, setting)
    before = [by_output(analysis)[pair] for pair in channel.drive.pairs if pair in by_output(analysis)]
    for other in before if not channel.loop else ():
        found = speed(analysis, other, setting)
        own = own._replace(
            settle=own.settle + found.settle,
            distortion=own.distortion + found.distortion,
            figures=(
                *own.figures,
                Figure("settle_before", found.settle, "s", f"time of {other.subject} before it"),
                Figure("D_before", found.distortion, "s", f"distortion of {other.subject} before it"),
            ),
            terms=unique([*own.terms, *found.terms]),
        )
    return own


def _own(analysis: Analysis, channel: Channel, setting: Setting) -> Speed:
    found = _transistor if channel.part.kind.output.conducts == "transistor" else _logic
    own = found(analysis, channel, setting)
    source = analysis.periodic_source(channel)
    if source is not None and source.shape == "sine":
        return own
    late = lag(analysis, channel, KINDEST if setting.is_kindest else WORST)
    if late is NO_LAG:
        return own
    on, off = own.on + late.on, own.off + late.off
    more = -abs(late.on - late.off) if setting.is_kindest else max(late.on, late.off)
    return own._replace(
        on=on,
        off=off,
        settle=max(on, own.settle + late.off),
        distortion=max(own.distortion + more, 0.0),
        figures=(*own.figures, *late.figures),
        terms=unique([*own.terms, *late.terms]),
    )


# -- transistor outputs -----------------------------------------------------------------------------------------------


def _transistor(analysis: Analysis, channel: Channel, setting: Setting) -> Speed:
    found, known, figures = _edges(analysis, channel, setting)
    terms = list(known)
    kindest, _, _ = _edges(analysis, channel, KINDEST)
    least_on = _least(channel.part, Timing.turn_on, kindest.on, setting, terms)
    least_off = _least(channel.part, Timing.turn_off, kindest.off, setting, terms)
    distortion = max(found.on - least_off, found.off - least_on)
    own = Speed(found.on, found.off, max(found.on, found.off), distortion, tuple(figures), unique(terms))
    return _let_go(analysis, channel, own, found.off, setting)


def _let_go(analysis: Analysis, channel: Channel, own: Speed, off: float, setting: Setting) -> Speed:
    """A pulse is gone only when the coil in the load has let go. off: seconds after which the output has."""
    held_on = released(analysis, channel, setting)
    if held_on is None:
        return own
    return own._replace(
        settle=max(own.settle, off + held_on.seconds),
        figures=(*own.figures, *held_on.figures),
        terms=unique([*own.terms, *held_on.terms]),
    )


def _least(part: Part, row: Value[Spec], kindest: float, setting: Setting, terms: list[Term]) -> float:
    """The least that a time may be, seconds: as its record states it, else up to what the kindest end gives."""
    spec = fact_terms.recorded(part, row)
    if spec is not None and spec.min is not None:
        return float(spec.min)
    title = f"least {row.title.format(part.path)}, as a share of what the same figures give at their least"
    term = fact_terms.defaulted(row, fact_terms.named(part), _LEAST, title=title, example='{ min = "4 us" }', unit="1")
    terms.append(term)
    return setting.low(term) * kindest


@once
def _edges(analysis: Analysis, channel: Channel, setting: Setting) -> tuple[edges.Times, list[Term], list[Figure]]:
    """Both edges in a setting of the times of the part, with the figures behind them."""
    kind = setting.is_kindest
    electrical = KINDEST if kind else WORST
    device, terms = _device(channel.part, setting)
    load, crossing, light, figures = _currents(analysis, channel, electrical)
    loads = analysis.loads(electrical)
    held = capacitors(loads, channel)
    terms.extend(held.terms)
    across = held.across + _input_farads(analysis, channel, setting, terms, stated_only=True)
    load = load._replace(farads=across)
    charge = edges.LEAST_CHARGE if kind else edges.CHARGE
    guard = (
        1.0 if kind else edges.GUARD if light.base <= 0.0 and is_open(analysis.loads(), channel) else edges.BASE_GUARD
    )
    if held.behind:
        on, off = _behind(analysis, channel, electrical, (device, load, light), crossing, charge)
    else:
        on = edges.turn_on(device, load, light, charge)
        off = edges.turn_off(device, load, light)
    figures += [
        Figure("R_o", load.ohms, "ohm", "open voltage over closed current"),
        Figure("C_o", load.farads, "F", "capacitance across the output"),
        Figure("t_f", max(device.rise, device.fall), "s", f"edge at a load of {device.ohms:g} ohm"),
        Figure("R_t", device.ohms, "ohm", "load at which that edge is told"),
        Figure("guard", guard, "1", "measured against a simulator"),
        Figure("C_e", device.farads, "F", "effective base capacitance"),
        Figure("tau_s", device.storage, "s", "time constant of the storage"),
        Figure(
            "tau_A", edges.time_constant(device, load, max(device.rise, device.fall)), "s", "time constant of the edge"
        ),
        Figure("t_on", guard * on, "s", f"time to {crossing.words.rsplit(' ', 1)[0]} at its on level, x {guard:g}"),
        Figure("t_off", guard * off, "s", f"time to {crossing.words}, x {guard:g} (measured against a simulator)"),
    ]
    return edges.Times(guard * on, guard * off), terms, figures


def _currents(
    analysis: Analysis, channel: Channel, electrical: Setting
) -> tuple[edges.Load, OffCrossing, edges.Light, list[Figure]]:
    """The four currents that decide over the edges."""
    worst = analysis.transfer(channel, electrical).worst
    if worst.available.current <= worst.required:
        raise Lacking("its output does not surely reach the level at all", blocked_by="carrying")
    closed = analysis.closed_current(channel, electrical)
    given = analysis.asked_current(channel, electrical)
    if given.strongest is None:
        raise Lacking("how much current its output gives at most is not known")
    if closed.high <= 0.0:
        raise Lacking("its output has no load", blocked_by="load")
    crossing = analysis.offs(electrical).crossing(channel, closed.high)
    if crossing.closed <= 0.0:
        raise Lacking("its output has no load", blocked_by="load")
    load = edges.Load(crossing.closed, worst.required, crossing.amps, crossing.open / crossing.closed, 0.0)
    light = edges.Light(worst.available.current, given.strongest, _base_current(analysis, channel, electrical))
    figures = [
        Figure("I_k", load.closed, "A", "current of the closed output"),
        Figure("I_1", load.on, "A", "current at the receiver's on level", at=worst.required_corner),
        Figure("I_2", load.off, "A", f"current that just leaves {crossing.words}"),
        Figure("I_a", light.least, "A", "available current", end="min", at=worst.led_corner),
        Figure("I_A", light.most, "A", "most that the LED makes the output give"),
    ]
    return load, crossing, light, figures


def _base_current(analysis: Analysis, channel: Channel, electrical: Setting) -> float:
    """What a resistor at the base takes while turning off, counted at the output; 0 where the gain is not known."""
    theft, record = analysis.base_theft(channel, electrical), channel.part.record
    if theft is None or record is None or record.transfer.photo_gain is None or record.transfer.ratio is None:
        return 0.0
    ratio = record.transfer.ratio.min
    least = min((row.taken.value for row in theft.rows), default=0.0)
    return 0.0 if ratio is None else ratio / electrical.high(photo_gain(channel)) * least


def _device(part: Part, setting: Setting) -> tuple[edges.SwitchingPart, list[Term]]:
    """The times of a part in a setting, and the terms behind them."""
    family = generic.family(part.type)
    if family.edge is None or family.base_capacitance is None or family.storage is None:
        raise Lacking(f"how fast a {part.type} is is not judged")
    rise, fall = _edge(part, Timing.rise, Timing.fall, family.edge), _edge(part, Timing.fall, Timing.rise, family.edge)
    farads = fact_terms.of_part(part, Timing.capacitance, most, family.base_capacitance)
    ohms = fact_terms.recorded(part, Timing.load) or TEST_OHMS
    device = edges.SwitchingPart(setting.high(rise), setting.high(fall), ohms, setting.high(farads), 0.0)
    stored = _storage(part, device, family.storage)
    return device._replace(storage=setting.high(stored)), [rise, fall, farads, stored]


def _edge(part: Part, row: Value[Spec], other: Value[Spec], usual: Interval) -> Term:
    """Rise or fall time; each stands in for the other, a typical value is the least that a maximum may be."""
    for each in (row, other):
        found = fact_terms.recorded(part, each)
        if found is not None and found.max is not None:
            name = fact_terms.named(part)
            return fact_terms.known(each, name, found.max, f"record {name}", title=each.title.format(part.path))
    typical = fact_terms.recorded(part, row) or fact_terms.recorded(part, other)
    low = usual.low if typical is None or typical.typ is None else typical.typ
    return _default(part, row, Interval(low, max(usual.high, low)))


def _default(part: Part, row: Value[Spec], ends: Interval) -> Term:
    name = fact_terms.named(part)
    usual = most(ends.low, ends.high, generic.origin(part.type))
    return fact_terms.defaulted(row, name, usual, title=row.title.format(part.path))


def _storage(part: Part, device: edges.SwitchingPart, usual: Interval) -> Term:
    """The time constant with which a saturated output gives up its charge, from the data sheet's saturated line."""
    found, name = fact_terms.recorded(part, Timing.saturated), fact_terms.named(part)
    title = f"time constant of the storage of {part.path}"
    if found is None:
        ends = most(usual.low, usual.high, f"{generic.origin(part.type)} (from memory)")
        return fact_terms.defaulted(Timing.saturated, name, ends, title=title)
    ratio = None if part.record is None else part.record.transfer.ratio
    typical = None
    if ratio is not None:
        typical = ratio.typ or (math.sqrt(ratio.min * ratio.max) if ratio.min and ratio.max else ratio.min or ratio.max)
    asked = found.supply / found.load
    overdrive = math.log(max(LEAST_OVERDRIVE, found.drive * (typical or 0.0) / asked))
    if found.storage is not None:
        return fact_terms.known(Timing.saturated, name, found.storage / overdrive, f"record {name}", title=title)
    assert found.turn_off is not None
    tested = edges.time_constant(device, edges.Load(asked, 0.0, 0.0, found.load, 0.0), device.fall)
    least = max(found.turn_off - edges.TEN_TO_NINETY * tested, 0.0)
    ends = most(
        least / overdrive, found.turn_off / overdrive, f"record {name}: its turn-off time, storage not told apart"
    )
    return fact_terms.defaulted(Timing.saturated, name, ends, title=title)


def _behind(
    analysis: Analysis,
    channel: Channel,
    electrical: Setting,
    parts: tuple[edges.SwitchingPart, edges.Load, edges.Light],
    crossing: OffCrossing,
    charge: float,
) -> tuple[float, float]:
    """Both edges where capacitors lie behind the output: its own edge and the load stepped together."""
    device, load, light = parts
    loads, asked = analysis.loads(electrical), analysis.load(channel, electrical)
    behind = capacitors(loads, channel).behind
    farads = device.farads + load.farads
    off = chain(
        loads, crossing.standing, crossing.made, (crossing.vector, crossing.temperature), farads, behind,
        crossing.extra, crossing.excess,
    )  # fmt: skip
    stay = min(load.closed, max(light.most - light.base, 0.0))
    t_off = edges.storage(device, load, light) + edges.decay(off, device.fall / edges.TEN_TO_NINETY, stay)
    need = asked.required.high
    made = loads.assembled(asked.standing)
    currents = loads.input_currents(made, asked.standing, asked.receiver)
    goal = goal_of(loads.lookup, loads.assembler, loads.recognition, made, asked.receiver)
    trimmed = made if not goal.replaces else made.without(goal.replaces)
    vector = vector_of(made, need.at)
    on = chain(
        loads, asked.standing, trimmed, (vector, need.temperature), farads, behind,
        [*currents(vector), *goal.extra], lambda point: goal.excess(point, vector),
    )  # fmt: skip
    start = charge * device.farads * edges.JUNCTION / light.least
    saturated = analysis.ratio(channel, electrical).saturation_voltage()
    return start + edges.pull(on, device.rise / edges.TEN_TO_NINETY, light.least, saturated), t_off


def _input_farads(
    analysis: Analysis, channel: Channel, setting: Setting, terms: list[Term], stated_only: bool
) -> float:
    """The capacitance of the inputs on the output's own net, farads; where `stated_only`, only what somebody stated."""
    ends, total = analysis.loads().ends(channel), 0.0
    for held in channel.load.boundary:
        if held.kind == "input" and held.net in ends:
            term = analysis.lookup.term(InputFacts.capacitance, analysis.lookup.circuit.net_name(held.net))
            if term.stated or not stated_only:
                terms.append(term)
                total += setting.high(term)
    return total


class Slope(NamedTuple):
    """How long an edge stays between both levels of a receiver, seconds."""

    seconds: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]


@once
def slope(analysis: Analysis, channel: Channel, net: int, setting: Setting = WORST) -> Slope:
    """The longer of both edges of a channel at an input, from one of its levels to the other; raises `Lacking`."""
    if channel.part.kind.output.conducts != "transistor":
        return _pulled_slope(analysis, channel, net, setting)
    kind = setting.is_kindest
    electrical = KINDEST if kind else WORST
    device, terms = _device(channel.part, setting)
    load, crossing, light, _ = _currents(analysis, channel, electrical)
    held = capacitors(analysis.loads(electrical), channel)
    load = load._replace(farads=held.across)
    more = 0.0
    if held.behind:
        behind = chain(
            analysis.loads(electrical), crossing.standing, crossing.made, (crossing.vector, crossing.temperature),
            held.across or 1e-12, held.behind, crossing.extra, crossing.excess,
        )  # fmt: skip
        more = edges.sum_of_time_constants(behind)
    rising = edges.time_constant(device, load, device.fall) + more
    falling = edges.time_constant(device, load, device.rise) + more
    off = rising * max(math.log((load.on + light.base) / (load.off + light.base)), 0.0) if load.off > 0.0 else math.inf
    on = falling * math.log((light.least - load.off) / (light.least - load.on))
    figures = (
        Figure("tau_A", max(rising, falling), "s", "time constant of the edge"),
        Figure("I_1", load.on, "A", "current at the receiver's on level"),
        Figure("I_2", load.off, "A", f"current that just leaves {crossing.words}"),
    )
    return Slope(max(on, off), figures, unique([*terms, *held.terms]))


def _pulled_slope(analysis: Analysis, channel: Channel, net: int, setting: Setting) -> Slope:
    """The edge that a pull-up makes, from the low level of an input to its high one."""
    electrical = KINDEST if setting.is_kindest else WORST
    held = capacitors(analysis.loads(electrical), channel)
    if held.behind:
        raise Lacking("capacitors lie behind its output; how long its edges take is not judged")
    terms = list(held.terms)
    farads = held.across + _input_farads(analysis, channel, setting, terms, stated_only=False)
    if limits.output_voltage(channel.part) is None:
        return Slope(_driven(channel, farads), (), tuple(terms))
    closed, open_ = analysis.closed_current(channel, electrical), analysis.off_voltage(channel, electrical)
    if closed.low <= 0.0:
        raise Lacking("its output has no load", blocked_by="load")
    ohms = open_.low / closed.low
    low = logic_level(analysis.lookup, net, True, electrical).level
    crossing = analysis.offs(electrical).crossing(channel, closed.low)
    start = max((open_.low - low) / ohms, crossing.amps)
    seconds = ohms * farads * math.log(start / crossing.amps) if crossing.amps > 0.0 else math.inf
    figures = (Figure("R_o", ohms, "ohm", "open voltage over closed current"), Figure("C", farads, "F", "capacitance"))
    return Slope(seconds, figures, tuple(terms))


def _driven(channel: Channel, farads: float) -> float:
    """The time constant of an output that drives both levels, seconds."""
    level = None if channel.part.record is None else channel.part.record.output.low_level
    return 0.0 if level is None or not level.at or level.max is None else level.max / level.at * farads


# -- logic outputs ----------------------------------------------------------------------------------------------------


def _logic(analysis: Analysis, channel: Channel, setting: Setting) -> Speed:
    """A delay moves both edges alike: only its difference and what the load adds decide over a pulse."""
    longest, figures, terms = delays(analysis, channel.part, setting)
    slow = _pull_up(analysis, channel, setting, terms)
    figures = [Figure("t_RC", slow, "s", "time that the load adds to the slower edge"), *figures]
    skew = figures[-1]
    own = Speed(longest, longest + slow, slow, skew.si + slow, tuple(figures), unique(terms))
    return _let_go(analysis, channel, own, slow, setting)


def delays(analysis: Analysis, part: Part, setting: Setting) -> tuple[float, list[Figure], list[Term]]:
    """The longest delay of a part in seconds, and figures of which the last is by how much a pulse changes; raises
    `Lacking`."""
    name = fact_terms.named(part)
    specs = [fact_terms.recorded(part, row) for row in (Timing.delay_low, Timing.delay_high)]
    known = [spec for spec in specs if spec is not None]
    stated = fact_terms.recorded(part, Timing.distortion)
    if not known and stated is None:
        record = part.record
        file = analysis.lookup.settings_file if record is None else record.file
        raise Lacking(f"the delay of {name} is not known", [fact_terms.missing(file, Timing.delay_low, name)])
    terms: list[Term] = []
    longest = max((setting.high(_delay(part, spec, terms)) for spec in known), default=0.0)
    figures: list[Figure] = []
    if known:
        figures.append(Figure("t_d", longest, "s", "longest delay"))
    if stated is not None:
        term = fact_terms.of_part(part, Timing.distortion, most, Interval(0.0, stated))
        terms.append(term)
        skew = Figure("PWD", setting.high(term), "s", "pulse distortion of the part", source=term.origin)
    else:
        least = _least_delay(part, [spec for spec in known if spec.min is not None], longest, setting, terms)
        skew = Figure("PWD", longest - least, "s", "longest delay less the least")
    figures.append(skew)
    return longest, figures, terms


def _delay(part: Part, spec: Spec, terms: list[Term]) -> Term:
    """The longest delay; a typical one is the least that it may be."""
    name = fact_terms.named(part)
    if spec.max is not None:
        found = fact_terms.known(Timing.delay_low, name, spec.max, f"record {name}")
    else:
        low = spec.typ if spec.typ is not None else spec.min or 0.0
        found = _default(part, Timing.delay_low, Interval(low, 2.0 * low))
    terms.append(found)
    return found


def _least_delay(part: Part, known: list[Spec], longest: float, setting: Setting, terms: list[Term]) -> float:
    """The shortest delay: as the record states it, else from none to the longest."""
    if known:
        return min(spec.min or 0.0 for spec in known)
    usual = Usual(0.0, 0.0, 1.0, 1.0, 1.0, "assumption, from no delay at all to the longest")
    title = f"least delay of {part.path}, as a share of the longest"
    term = fact_terms.defaulted(Timing.distortion, fact_terms.named(part), usual, title=title, unit="1")
    terms.append(term)
    return setting.low(term) * longest


def _pull_up(analysis: Analysis, channel: Channel, setting: Setting, terms: list[Term]) -> float:
    """Seconds that the load's resistance and capacitance add to the edge that the output does not drive."""
    electrical = KINDEST if setting.is_kindest else WORST
    held = capacitors(analysis.loads(electrical), channel)
    if held.behind:
        raise Lacking("capacitors lie behind its output; how long its edges take is not judged")
    terms.extend(held.terms)
    farads = held.across + _input_farads(analysis, channel, setting, terms, stated_only=False)
    if limits.output_voltage(channel.part) is None:
        return _driven(channel, farads)
    closed, open_ = analysis.closed_current(channel, electrical), analysis.off_voltage(channel, electrical)
    if closed.low <= 0.0:
        raise Lacking("its output has no load", blocked_by="load")
    crossing = analysis.offs(electrical).crossing(channel, closed.low)
    if crossing.amps <= 0.0:
        return math.inf
    return open_.low / closed.low * farads * max(math.log(closed.low / crossing.amps), 0.0)

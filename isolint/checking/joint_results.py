"""Results about joined sides and parts that are not understood, shared by the rules of the barrier."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from isolint import types
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.facts import BarrierFacts, Limits, Reading, SideFacts
from isolint.interfaces.entities import Barrier, Bridge, Join, JointKind
from isolint.interfaces.facing_sides import bonded
from isolint.interfaces.pinguess import windings_example
from isolint.interfaces.references import facing_groups, group_label, simulation_ground
from isolint.parts import PartRecord
from isolint.results import Evidence, Hop, Limit, Measure, MissingFact, Related, Result
from isolint.tables import basic_string, dotted
from isolint.units import show
from isolint.worstcase.figures import Figure

TIE_OHMS = 10.0

_SAME = 1.0 - 1e-9

_HAZARDS = ("mains", "hazardous")
"""Kinds of sides of which a common ground is never to be stated as wanted."""

_CLEAR: Mapping[JointKind, str] = {
    "joined-grounds": "nothing below 10 ohm joins the references of sides {0}",
    "joined-supplies": "no supply feeds both sides {0}",
    "joined-nets": "nothing conducts between sides {0}",
}

NODE_0 = '"0"'
"""As the value of a key."""


def join_results(context: Context, rule: Rule, kind: JointKind) -> Iterator[Result]:
    """One result a proven joint of a kind, and one result a barrier that has none."""
    separation = context.interfaces.separation
    for join in separation.joins:
        for one in join.each:
            if speaker_of(context, one) == rule.slug:
                yield _failed(context, rule, one)
    hidden = [barrier for barrier in separation.barriers if _is_hidden(context, barrier)]
    if len(hidden) > 1:
        yield _hidden(context, rule, hidden)
    for barrier in separation.barriers:
        if len(hidden) < 2 or barrier not in hidden:
            yield from _barrier_result(context, rule, kind, barrier)


def speaker_of(context: Context, join: Join) -> str:
    """The rule that gives the result of a joint: one that only a wrong pin order makes has that of pins."""
    if join.unknown:
        return context.speaker("identity")
    misread = {found.element for found in context.interfaces.recognition.contradictions if found.regroups}
    if misread & {*join.cut, *(step.element for step in join.path)}:
        return context.speaker("pins")
    return context.speaker(join.kind)


# -- a joint ------------------------------------------------------------------------------------------------------


def _failed(context: Context, rule: Rule, join: Join) -> Result:
    if join.node_0_only:
        return _node_0(context, rule, join)
    element = join.cut[0] if join.cut else next((step.element for step in join.path if step.element >= 0), None)
    where = context.place(element) if element is not None else Place(context.netlist)
    own = _own(context, join) if _one_net(context, join) else []
    others = ", ".join(coupler for coupler in join.couplers if coupler not in own)
    concerned = f" (concerns {others})" if others else ""
    if join.cut and all(_has_no_value(context, element) for element in join.cut):
        names = ", ".join(context.circuit.path(element) for element in join.cut)
        text = (
            f"sides {' and '.join(join.sides)} are joined unless {names} amounts to {show(_limit(context), 'ohm')} or "
            f"more, and its value can't be told: {path_words(context, join)}{concerned}"
        )
        remedy = f"give {context.named(join.cut[0])} a value that can be read, or remove it"
        return context.result(
            rule,
            "open",
            text,
            where,
            join.subject,
            role=_identity(context, join),
            related=chain_of(context, join),
            remedy=remedy,
            element=element,
        )
    unsure = _unsure_windings(context, join)
    if unsure is not None:
        text = (
            f"{_what(context, join)}{concerned}: unless these are several windings, which the names of the pins of "
            f"{unsure.name} don't tell"
        )
        fact = MissingFact(unsure.file, f"{unsure.key}.groups", windings_example(unsure.name, unsure.groups))
        related, role = chain_of(context, join), _identity(context, join)
        return context.result(
            rule, "open", text, where, join.subject, role=role, related=related, missing=[fact], element=element
        )
    return context.result(
        rule,
        "fail",
        f"{_what(context, join)}{concerned}",
        where,
        join.subject,
        role=_identity(context, join),
        members=_members(context, join),
        level=join.level,
        evidence=_resistance(context, join),
        measure=Measure(join.resistance, larger_is_worse=False),
        related=chain_of(context, join),
        remedy=_cure(context, join) + _apart(context, join),
        element=element,
    )


def _members(context: Context, join: Join) -> list[str]:
    """The elements of a joint; where two sides name one net, that net."""
    if not join.cut and join.shared_net >= 0:
        return [context.net(join.shared_net)]
    return sorted(map(context.circuit.path, join.cut), key=str.casefold)


def _identity(context: Context, join: Join) -> str:
    """What tells a joint from others between the same sides: its elements, where its subject does not hold them."""
    words = ", ".join(_members(context, join))
    return "" if words == join.subject else words


def _has_no_value(context: Context, element: int) -> bool:
    """Whether an element is a resistor of which nobody says how many ohms; it counts as 0 ohm, and proves nothing."""
    circuit = context.circuit
    if circuit.letter(element) != "R" or circuit.value(element) is not None:
        return False
    written = circuit.tail(element)
    return not any(isinstance(written.get(key), float | int) for key in ("r", "resistance"))


def _node_0(context: Context, rule: Rule, join: Join) -> Result:
    parts = [part for part in context.interfaces.recognition.parts.values() if part.path in join.couplers]
    where = min((context.place(part.element) for part in parts), default=Place(context.netlist))
    message = (
        f"both sides of {', '.join(join.couplers)} return to node 0 and meet nowhere else (0 ohm, a ground tie "
        "is below 10 ohm): "
        "node 0 is the simulator's ground only, or the barrier is none"
    )
    remedy = (
        f"write {Reading.simulation_ground.entry(NODE_0)} under [reading] if node 0 is only the simulator's ground; "
        "else give each side a ground of its own"
    )
    missing = [context.lookup.missing_lines(Reading.simulation_ground, "", Reading.simulation_ground.line("", NODE_0))]
    related = context.related([part.element for part in parts])
    return context.result(
        rule,
        "fail",
        message,
        where,
        join.subject,
        level=join.level,
        measure=Measure.number_of(len(join.couplers)),
        missing=missing,
        remedy=remedy,
        related=related,
    )


def _unsure_windings(context: Context, join: Join) -> PartRecord | None:
    """The record of a part with windings that alone is the joint, where nothing but names puts their pins together."""
    part = context.interfaces.recognition.parts.get(join.cut[0]) if len(join.cut) == 1 else None
    if part is None or part.record is None or not part.record.named:
        return None
    several = any(len(group) > 3 and {part.roles[pin] for pin in group} == {"winding"} for group in part.groups)
    return part.record if several else None


def _one_net(context: Context, join: Join) -> bool:
    """Whether couplers themselves are the joint: both of their port groups lie on one net."""
    return join.shared_net >= 0 and all(element in context.interfaces.recognition.parts for element in join.cut)


def _own(context: Context, join: Join) -> list[str]:
    """The couplers that are the joint themselves."""
    return [context.circuit.path(element) for element in join.cut]


def _what(context: Context, join: Join) -> str:
    sides = " and ".join(join.sides)
    ohms = show(join.resistance, "ohm")
    if _has_more_paths(join):
        ohms += f" in all ({show(join.along, 'ohm')} along the path shown)"
    if _one_net(context, join):
        name = context.net(join.shared_net)
        if not join.couplers:
            return f"sides {sides} both name net {name} (0 ohm, a ground tie is below 10 ohm)"
        return (
            f"{', '.join(_own(context, join))}: both sides return to net {name} (0 ohm, a ground tie is below 10 ohm)"
        )
    path = path_words(context, join)
    if join.kind == "joined-grounds":
        return f"the references of sides {sides} are joined by {ohms}, a ground tie is below 10 ohm: {path}"
    limit = f"the insulating limit is {show(_limit(context), 'ohm')}"
    if join.kind == "joined-supplies":
        return f"{_supply(context, join)} feeds both sides {sides}; {ohms} between their references, {limit}: {path}"
    return f"sides {sides} are joined by {ohms}, {limit}: {path}"


def _has_more_paths(join: Join) -> bool:
    """Whether the path that is shown is not all that the joint amounts to."""
    return math.isfinite(join.along) and join.resistance < join.along * _SAME


def _supply(context: Context, join: Join) -> str:
    """The first supply net that the path meets away from its ends, else at one of them."""
    ends = [join.path[0].net_in, join.path[-1].net_out] if join.path else []
    nets = [*(step.net_out for step in join.path[:-1]), *ends]
    for net in nets:
        holder = context.lookup.walker.held(net)
        if holder is not None and holder.kind in ("supply", "output"):
            return f"supply {context.net(net)}"
    return "one supply"


def _resistance(context: Context, join: Join) -> Iterator[Evidence]:
    tie = join.kind == "joined-grounds"
    limit = TIE_OHMS if tie else _limit(context)
    row = Limits.insulating_resistance
    source = (
        "design rule of this check"
        if tie
        else f"{row.path()} ({show(row.counts.low, 'ohm')} by default, common practice, no source)"
    )
    if _has_more_paths(join):
        words = "resistance of the joint over all its paths"
        whole = Figure("R_joint", join.resistance, "ohm", words, end="min", source=source)
        yield whole.evidence(Limit("at_least", limit))
        yield Figure("R_path", join.along, "ohm", "resistance of the path shown", end="min").evidence()
        return
    found = Figure("R_path", join.resistance, "ohm", "resistance of the path", end="min", source=source)
    yield found.evidence(Limit("at_least", limit))


def _limit(context: Context) -> float:
    return context.facts.number(Limits.insulating_resistance)


def _cure(context: Context, join: Join) -> str:
    parts = context.interfaces.recognition.parts
    if not join.cut:
        return "give each side a net of its own, or state [[bonds]] between the sides where one ground is wanted"
    wanted = ", or state [[bonds]] between the sides where the joint is wanted"
    bonds = {frozenset(map(str.casefold, bond.between)) for bond in context.facts.bonds}
    if frozenset(map(str.casefold, join.sides)) in bonds:
        wanted = ": the stated bond does not count, since the barrier between the same sides protects from a voltage"
    if all(element in parts for element in join.cut):
        names = ", ".join(context.named(element) for element in join.cut)
        net = f" on net {context.net(join.shared_net)}" if join.shared_net >= 0 else ""
        stated = _stated_shift(context) if join.shared_net >= 0 and join.level != "note" else ""
        return f"{names}: connect each group of pins to its own side's nets; two groups lie{net} on one side{stated}"
    if len(join.cut) > 1:
        names = ", ".join(context.named(other) for other in join.cut)
        return f"all of these must go to separate the sides: {names}"
    if _joins_all(context, join.cut[0]) and len(context.circuit.pins(join.cut[0])) > 3:
        wanted += f"; {_groups_line(context, join.cut[0])}"
    return f"{context.named(join.cut[0])} joins them: remove it or move it to one side{wanted}"


def _stated_shift(context: Context) -> str:
    """How to say that couplers only shift levels over one ground, where nothing stated asks them for insulation."""
    hazards = [side for side in context.facts.sides.values() if side.kind and side.kind.value in _HAZARDS]
    grades = [barrier.insulation.value for barrier in context.facts.barriers if barrier.insulation]
    if hazards or any(grade != "functional" for grade in grades):
        return ""
    functional = BarrierFacts.insulation.entry(basic_string("functional"))
    return (
        "; where they only shift a level between circuits that may both be touched, and share a ground on purpose, "
        f"state the two as [sides.X] by their nets and [[barriers]] between them with {functional}"
    )


def _joins_all(context: Context, element: int) -> bool:
    """Whether a part is known as ordinary and nobody said that it keeps pins apart."""
    recognition = context.interfaces.recognition
    return element in recognition.ordinary and element not in recognition.kept_apart


def _groups_line(context: Context, element: int) -> str:
    """What to state of a part that keeps some of its pins apart, as a connector does."""
    record, name = context.record_of(element), context.circuit.model_name(element) or context.circuit.path(element)
    if record is not None and not types.of(record.type).isolates:
        pins = ", ".join(map(basic_string, record.pins[:2]))
        where = f"[{dotted('parts', record.name)}] in {record.file}"
        return f"if it keeps pins apart inside, as a connector does, add groups = [[{pins}], ...] to {where}"
    return (
        f"if it keeps pins apart inside, as a connector does, a record [{dotted('parts', name)}] with "
        'type = "ordinary", pins and groups'
    )


def _apart(context: Context, join: Join) -> str:
    """Which call of a block differs, where the card to change stands in a block whose other instances are sound."""
    calls = {context.circuit.call_apart(element) for element in join.cut}
    call = calls.pop() if len(calls) == 1 else None
    if call is None:
        return ""
    instance, _ = context.circuit.locate(join.cut[0])
    return (
        f"; of {len(context.circuit.block(instance).members)} blocks with this card only that in "
        f"{context.named(call)} joins these sides: look first at the nets and parameters that it is given"
    )


def path_words(context: Context, join: Join) -> str:
    """The path as an engineer would draw it: `GND - R9 0 ohm - GNDB`."""
    if not join.path:
        return f"net {context.net(join.shared_net)}" if join.shared_net >= 0 else "they are one net"
    return " - ".join(hop.text for hop in path_hops(context, join))


def path_hops(context: Context, join: Join) -> tuple[Hop, ...]:
    """The path from net to net with the elements between; empty where two sides simply are one net."""
    hops = [Hop("net", context.net(step.net_in)) for step in join.path[:1]]
    for step in join.path:
        words = "(by the stated facts)"
        if step.element >= 0:
            words = _step_words(context, step.element, step.net_in, step.net_out)
        is_cut = step.element in (join.unknown or join.cut)
        hops += [Hop("element", words, is_cut), Hop("net", context.net(step.net_out))]
    return tuple(hops)


def _step_words(context: Context, element: int, net_in: int, net_out: int) -> str:
    """An element of a path: a resistor with its value, a barrier part with the pins that the path takes."""
    name = context.circuit.path(element)
    part = context.interfaces.recognition.parts.get(element)
    if part is not None:
        nets = context.circuit.pins(element)
        roles = [
            next((role for role, net in zip(part.roles, nets, strict=False) if net == end and role), "?")
            for end in (net_in, net_out)
        ]
        return f"{name} ({' to '.join(roles)})"
    ohms = context.circuit.value(element) if context.circuit.letter(element) == "R" else None
    return name if ohms is None else f"{name} {show(ohms, 'ohm')}"


def chain_of(context: Context, join: Join) -> tuple[Related, ...]:
    """The elements of a joint's path and what must go to separate the sides."""
    return context.related([*(step.element for step in join.path if step.element >= 0), *join.cut])


# -- a barrier ----------------------------------------------------------------------------------------------------


def _barrier_result(context: Context, rule: Rule, kind: JointKind, barrier: Barrier) -> Iterator[Result]:
    pair = " and ".join(sorted(barrier.sides))
    subject = barrier_subject(context, barrier)
    where = context.place(min(barrier.parts, key=context.place)) if barrier.parts else Place(context.netlist)
    joins = joins_of(context, barrier)
    if joins:
        speakers = [speaker_of(context, one) for join in joins for one in join.each]
        if rule.slug in speakers:
            return
        blocker = speakers[0]
        text = f"the separation of sides {pair} is not judged while {blocker} stands"
        yield context.result(rule, "notApplicable", text, where, subject, blocked_by=blocker)
    elif barrier.undecidable:
        text = f"the separation of sides {pair} can't be judged from this netlist: {barrier.undecidable}"
        missing, remedy = _undecidable(context, barrier)
        yield context.result(rule, "open", text, where, subject, missing=missing, remedy=remedy)
    else:
        bridges = [
            bridge for bridge in context.interfaces.separation.bridges if set(bridge.sides) == set(barrier.sides)
        ]
        text = _CLEAR[kind].format(pair)
        evidence: list[Evidence] = []
        if kind == "joined-nets" and bridges:
            text += f"; across it lie {'; '.join(_bridge_words(context, bridge) for bridge in bridges)}"
            evidence = [item for bridge in bridges if bridge.kind == "resistance" for item in _across(context, bridge)]
        elements = [element for bridge in bridges for element in bridge.elements]
        yield context.result(
            rule, "pass", text, where, subject, evidence=evidence, related=context.related([*barrier.parts, *elements])
        )


def _is_hidden(context: Context, barrier: Barrier) -> bool:
    """Whether nothing but the simulation's ground keeps a barrier from being judged."""
    return bool(barrier.undecidable and barrier.parts) and not joins_of(context, barrier)


def _hidden(context: Context, rule: Rule, barriers: Sequence[Barrier]) -> Result:
    """Several barriers that return to the simulation's ground are one open result: one cause, one answer."""
    elements = sorted({element for barrier in barriers for element in barrier.parts}, key=context.place)
    off = simulation_ground(context.circuit, context.facts)
    parts = ", ".join(map(context.circuit.path, elements))
    listed = "; ".join(" and ".join(sorted(barrier.sides)) for barrier in barriers)
    text = (
        f"the separation of {len(barriers)} barriers can't be judged from this netlist: both sides of {parts} return "
        f"to {context.net(off)}, which is declared the simulation's ground (sides {listed})"
    )
    missing, remedy = _undecidable(context, barriers[0])
    return context.result(
        rule,
        "open",
        text,
        context.place(elements[0]),
        "node 0",
        missing=missing,
        remedy=remedy,
        related=context.related(elements),
    )


def barrier_subject(context: Context, barrier: Barrier) -> str:
    """Stable identity of a barrier: stated side names, else the coupler pins that face each other, sorted."""
    stated = {side.name for side in context.interfaces.separation.sides if side.stated}
    if barrier.stated >= 0 or set(barrier.sides) <= stated or not barrier.parts:
        return " | ".join(sorted(barrier.sides, key=str.casefold))
    parts = context.interfaces.recognition.parts
    part = min((parts[element] for element in barrier.parts), key=lambda part: part.path.casefold())
    pairs, _ = facing_groups(part)
    return (
        " | ".join(sorted((group_label(part, group) for group in pairs[0]), key=str.casefold)) if pairs else part.path
    )


def joins_of(context: Context, barrier: Barrier) -> list[Join]:
    """The joints that concern a barrier, proven ones first: the same sides, or one of its parts.

    A side that is bonded to one of the barrier's is the same side. A stated side of which no net is left is explained
    by a joint of sides that nobody named: the fault took its nets.
    """
    paths = {context.circuit.path(element) for element in barrier.parts}
    joins = context.interfaces.separation.joins
    alias = bonded(context.facts)

    def stands(sides: Iterable[str]) -> set[str]:
        return {alias.get(side.casefold(), side.casefold()) for side in sides}

    between = stands(barrier.sides)
    own = [join for join in joins if stands(join.sides) == between or paths & set(join.couplers)]
    if not own and barrier.undecidable and not barrier.parts:
        named = {side for other in context.interfaces.separation.barriers for side in other.sides}
        own = [join for join in joins if not set(join.sides) <= named and not join.unknown]
    return sorted(own, key=lambda join: bool(join.unknown))


def _undecidable(context: Context, barrier: Barrier) -> tuple[Sequence[MissingFact], str]:
    known = {side.name.casefold() for side in context.interfaces.separation.sides}
    absent = [name for name in barrier.sides if name.casefold() not in known]
    if absent and not barrier.parts:
        facts = [context.lookup.missing(SideFacts.nets, name, f'["GND_{name.upper()}"]') for name in absent]
        return facts, f"name a net of side {', '.join(absent)} that stands in this netlist"
    return (), "give each side a ground net of its own in the netlist; node 0 can't show whether they are apart"


def _bridge_words(context: Context, bridge: Bridge) -> str:
    names = ", ".join(context.circuit.path(element) for element in bridge.elements)
    unit = "ohm" if bridge.kind == "resistance" else "F"
    return names if bridge.value is None else f"{names} ({show(bridge.value, unit)})"


def _across(context: Context, bridge: Bridge) -> Iterator[Evidence]:
    """The resistance of a bridge, and of a chain what remains with one element shorted."""
    names = ", ".join(context.circuit.path(element) for element in bridge.elements)
    text = f"resistance across the barrier through {names}"
    if bridge.value is not None:
        across = Figure("R_across", bridge.value, "ohm", text, end="min")
        yield across.evidence(Limit("at_least", _limit(context)))
    if bridge.shorted is not None and len(bridge.elements) > 1:
        yield Figure("R_shorted", bridge.shorted, "ohm", f"{text}, one of them shorted", end="min").evidence()

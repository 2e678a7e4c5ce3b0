"""Makes the report of one netlist: plain records of sides, barriers, couplers and coverage beside the results."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.barrier_notes import table_notes, unasked_notes
from isolint.checking.context import Context
from isolint.checking.coverage import claim_notes, told_of_parts
from isolint.checking.judged import answers, tally
from isolint.interfaces.entities import Channel
from isolint.interfaces.facing_sides import bonded, bonded_barriers
from isolint.netlist.cards import Cards
from isolint.results import BarrierRecord, CouplerRecord, Coverage, NetlistReport, Result, SideRecord


def netlist_report(context: Context, cards: Cards, results: Sequence[Result]) -> NetlistReport:
    """Everything a format may show of one netlist."""
    separation = context.interfaces.separation
    names = {index: side.name for index, side in enumerate(separation.sides)}
    alias = bonded(context.facts)

    def stands(sides: tuple[str, str]) -> frozenset[str]:
        return frozenset(alias.get(side.casefold(), side.casefold()) for side in sides)

    joined = {stands(join.sides) for join in separation.joins}
    barriers = tuple(
        BarrierRecord(
            barrier.sides,
            stated_of_barrier(context, barrier.stated),
            tuple(context.circuit.path(element) for element in barrier.parts),
            tuple(
                ", ".join(context.circuit.path(element) for element in bridge.elements)
                for bridge in separation.bridges
                if tuple(sorted(bridge.sides)) == tuple(sorted(barrier.sides))
            ),
            stands(barrier.sides) in joined,
        )
        for barrier in separation.barriers
    )
    couplers = tuple(_coupler(context, channel, names) for channel in context.channels)
    answered = answers(context, results)
    counted = tally(context, results, answered)
    coverage = Coverage(
        cards.total,
        cards.understood,
        dict(cards.reasons),
        len(context.channels),
        *counted,
        **told_of_parts(context, results),
        answers=answered,
    )
    return NetlistReport(
        context.netlist,
        tuple(results),
        coverage,
        (*(file.path for file in cards.files), *context.facts.files, *context.facts.part_files),
        side_records(context),
        barriers,
        couplers,
        tuple(_notes(context)),
    )


def _notes(context: Context) -> Iterable[str]:
    separation = context.interfaces.separation
    yield from separation.notes
    yield from context.lookup.walker.grounds.notes()
    for barrier in bonded_barriers(context.facts):
        sides = " and ".join(barrier.between)
        yield f"{sides} are bonded beside their barrier: what joins them is wanted, nothing is asked between them"
    if context.interfaces.unused:
        yield f"unused, nothing is asked of: {', '.join(context.interfaces.unused)}"
    if separation.ignored:
        names = ", ".join(context.circuit.path(element) for element in separation.ignored)
        yield f"left out as simulation_only: {names}"
    yield from unasked_notes(context)
    yield from table_notes(context)
    yield from claim_notes(context)


def side_records(context: Context) -> tuple[SideRecord, ...]:
    """The sides with their references, supplies, kinds, sizes and what is bonded to them."""
    facts = context.facts
    alias = bonded(facts)

    def partners(name: str) -> tuple[str, ...]:
        stands = alias.get(name.casefold())
        return tuple(other for other in facts.sides if other != name and alias.get(other.casefold()) == stands)

    return tuple(
        SideRecord(
            side.name,
            context.net(side.reference) if side.reference >= 0 else "",
            tuple(context.net(net) for net in side.supplies),
            side.kind,
            len(side.nets),
            side.element_count,
            partners(side.stated) if side.stated else (),
        )
        for side in context.interfaces.separation.sides
    )


def stated_of_barrier(context: Context, index: int) -> dict[str, str]:
    """What is stated of a barrier, as written, by key."""
    if index < 0:
        return {}
    fact = context.facts.barriers[index]
    return {key: value.text or str(value.value) for key, value in fact.items()}


def _coupler(context: Context, channel: Channel, names: dict[int, str]) -> CouplerRecord:
    part = channel.part
    side_of = context.interfaces.separation.side_of_net

    def side(*roles: str) -> str:
        for role in roles:
            net = channel.pins.get(role)
            if net is not None and net in side_of:
                return names[side_of[net]]
        return ""

    return CouplerRecord(
        part.path,
        part.type,
        channel.name,
        part.model_name,
        part.recognised_by,
        tuple(context.circuit.path(element) for element in channel.drive.elements),
        tuple(context.circuit.path(element) for element in channel.load.elements),
        (side("anode", "cathode"), side("emitter", "collector", "ground", "output")),
        context.place(part.element),
    )

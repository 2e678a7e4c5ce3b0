"""Results about what a barrier must hold, shared by the rules that ask for it: one a barrier and part record."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

from isolint.checking.barrier_strength import Amount, Crosser, Wall, margin_words, walls
from isolint.checking.context import Context
from isolint.checking.joint_results import joins_of, speaker_of
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.results import Assumption, Evidence, Kind, Level, Limit, Margin, MissingFact, Result
from isolint.units import rounded_up, show

Amounts = Callable[[Wall, Crosser], Iterable[Amount]]
Beside = Callable[[Context, Rule, Wall], Iterable[Result]]


def question_results(context: Context, rule: Rule, ask: Amounts, *, beside: Beside | None = None) -> Iterator[Result]:
    """For each barrier and record what a question gives. beside: what else a barrier gives that can be judged."""
    for wall in walls(context):
        waits = waiting(context, rule, wall)
        if waits is not None:
            yield waits
            continue
        for crosser in wall.crossers:
            amounts = list(ask(wall, crosser))
            if not amounts:
                continue
            if crosser.ratings.empty and wall.limits.strength is not None:
                text = f"{about(context, wall, crosser)}: not judged while nothing is known of its insulation"
                yield made(
                    context, rule, wall, crosser, "notApplicable", text, blocked_by=context.speaker("insulation")
                )
                continue
            yield judged(context, rule, wall, crosser, amounts)
        if beside is not None:
            yield from beside(context, rule, wall)


def waiting(context: Context, rule: Rule, wall: Wall) -> Result | None:
    """That nothing can be said of a barrier while its sides are joined, or not known to be apart."""
    barrier = wall.pair.barrier
    if barrier is None or not wall.crossers:
        return None
    joins = joins_of(context, barrier)
    blocker = (
        speaker_of(context, joins[0]) if joins else context.speaker("joined-grounds") if barrier.undecidable else ""
    )
    limits = wall.limits
    if not blocker or not (limits.full or limits.hazardous or limits.functional):
        return None
    text = f"what lies between sides {wall.pair.name} is not judged while {blocker} stands"
    where = min(map(context.place, wall.elements), default=Place(context.netlist))
    return context.result(rule, "notApplicable", text, where, wall.pair.subject, blocked_by=blocker)


def board_distances(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """What is stated of the distances on the board."""
    amounts = list(wall.board())
    if amounts:
        yield judged(context, rule, wall, None, amounts)


def judged(context: Context, rule: Rule, wall: Wall, crosser: Crosser | None, amounts: Sequence[Amount]) -> Result:
    """The result of some amounts: the smallest margin decides which one is named first."""
    failed = [amount for amount in amounts if amount.kind == "fail"]
    unsure = [amount for amount in amounts if amount.kind == "open"]
    kind: Kind = "fail" if failed else "open" if unsure else "pass"
    named = sorted(failed or unsure or amounts, key=lambda amount: amount.margin)
    said = "; ".join(margin_words(amount) + (f" ({amount.hint})" if amount.hint else "") for amount in named)
    missing: list[MissingFact] = []
    if kind == "open":
        missing = list(dict.fromkeys(fact for amount in unsure for fact in amount.missing))
        if not missing:
            said += "; the table's row is from memory, or the table ends there: it lets nothing pass"
    least = named[0].margin
    assumed: tuple[Assumption, ...] = tuple(dict.fromkeys(each for amount in amounts for each in amount.assumed))
    result = made(
        context,
        rule,
        wall,
        crosser,
        kind,
        f"{about(context, wall, crosser)}: {said}",
        evidence=[evidence(amount) for amount in amounts],
        margin=Margin(least, 1.0) if math.isfinite(least) and (least > 0.0 or kind == "fail") else None,
        missing=missing,
        remedy=_cure(context, wall, crosser, named[0]) if kind == "fail" else "",
    )
    return result._replace(assumptions=assumed)


def made(
    context: Context,
    rule: Rule,
    wall: Wall,
    crosser: Crosser | None,
    kind: Kind,
    text: str,
    *,
    evidence: Iterable[Evidence] = (),
    margin: Margin | None = None,
    missing: Iterable[MissingFact] = (),
    remedy: str = "",
    blocked_by: str = "",
    role: str = "",
    level: Level | None = None,
) -> Result:
    """A result about a barrier and a part record; all parts of that record are its members."""
    elements = wall.elements if crosser is None else crosser.elements
    first = min(elements, key=context.place, default=None)
    where = Place(context.netlist) if first is None else context.place(first)
    return context.result(
        rule,
        kind,
        text,
        where,
        wall.pair.subject,
        role=role or ("board" if crosser is None else crosser.name),
        level=level or level_of(wall),
        evidence=evidence,
        margin=margin,
        missing=missing,
        remedy=remedy,
        blocked_by=blocked_by,
        related=context.related(elements),
        element=first,
        members=() if crosser is None else sorted(map(context.circuit.path, elements), key=str.casefold),
    )


def level_of(wall: Wall) -> Level | None:
    """A note where functional insulation lies between sides that are not hazardous, else the rule's own level."""
    return "note" if wall.limits.functional and not wall.limits.hazardous else None


def about(context: Context, wall: Wall, crosser: Crosser | None) -> str:
    """`between sides mains and panel lies XU2 (DEMO_PT1)`."""
    if crosser is None:
        return f"between sides {wall.pair.name}, on the board"
    names = [context.circuit.path(element) for element in crosser.elements]
    listed = ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
    known = f" ({crosser.name})" if crosser.name not in names else ""
    between = " with two of its channels" if crosser.outputs else ""
    return f"between sides {wall.pair.name} {'lies' if len(names) == 1 else 'lie'} {listed}{known}{between}"


def evidence(amount: Amount) -> Evidence:
    """One amount for a report: what is offered by which key, what is wanted by which row."""
    wanted, offered = amount.need.worst, amount.offer.worst
    beyond = "" if math.isfinite(wanted) else ", no number to pass by"
    kindest = amount.need.kindest
    milder = f"; at the kindest {show(kindest, amount.unit)}" if math.isfinite(wanted) and kindest < wanted else ""
    return Evidence(
        amount.name,
        amount.symbol,
        amount.unit,
        None,
        offered if offered else None,
        None,
        Limit("at_least", wanted if math.isfinite(wanted) else kindest) if kindest or math.isfinite(wanted) else None,
        {},
        "",
        f"offered: {amount.offer.source}; wanted: {amount.need.source}{beyond}{milder}",
    )


def _cure(context: Context, wall: Wall, crosser: Crosser | None, amount: Amount) -> str:
    """What would do."""
    least = amount.need.worst if math.isfinite(amount.need.worst) else amount.need.kindest
    wanted = show(rounded_up(least), amount.unit)
    if crosser is None:
        return f"{amount.name} of {wanted} or more between sides {wall.pair.name}"
    first = context.named(min(crosser.elements, key=context.place))
    return f"{first}: a part with {amount.name} of {wanted} or more, or a barrier that asks for less"

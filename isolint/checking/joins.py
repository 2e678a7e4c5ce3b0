"""Results about joined sides and parts that are not understood, shared by the rules of the barrier."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking.context import Context
from isolint.checking.evidence import single
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.interfaces.values import Barrier, Join
from isolint.results import Evidence, MissingFact, Related, Result
from isolint.units import show


def join_results(context: Context, rule: Rule) -> Iterator[Result]:
    """One result a proven joint of the rule's kind, and one result a barrier that has none."""
    separation = context.interfaces.separation
    joined: dict[tuple[str, ...], Join] = {}
    for join in separation.joins:
        joined.setdefault(tuple(sorted(join.sides)), join)
        if join.rule == rule.slug and not join.unknown:
            yield _failed(context, rule, join)
    for barrier in separation.barriers:
        pair = tuple(sorted(barrier.sides))
        yield from _barrier_result(context, rule, barrier, joined.get(pair))


def _failed(context: Context, rule: Rule, join: Join) -> Result:
    sides = " and ".join(join.sides)
    element = _card_to_change(context, join)
    where = context.place(element) if element is not None else Place(context.netlist)
    path = path_words(context, join)
    if join.node_0_only:
        couplers = ", ".join(join.couplers)
        message = f"both sides of {couplers} return to node 0 and meet nowhere else: a simulation ground, or a barrier that is none?"
        remedy = 'write simulation_ground = "0" under [reading] if node 0 is only the simulator\'s reference; else give each side a ground of its own'
        missing = [context.lookup.missing("reading.simulation_ground", '[reading]\nsimulation_ground = "0"')]
        return context.result(rule, "fail", message, where, join.subject, level=join.level, missing=missing, remedy=remedy, related=_chain(context, join))
    kinds = {
        "ground-tie": "the references of sides {0} are joined: {1}",
        "supply-shared": "one supply feeds sides {0}: {1}",
        "bridge-conducting": "a conducting path joins sides {0}: {1}",
    }
    message = kinds[join.rule].format(sides, path)
    evidence: list[Evidence] = []
    if join.rule == "ground-tie":
        evidence.append(single("resistance of the path", "R_path", "ohm", join.resistance, "max", source="sum of the path, below 10 ohm"))
    else:
        limit = 1e6 if context.facts.limits.insulating_resistance is None else context.facts.limits.insulating_resistance.value
        evidence.append(single("resistance of the path", "R_path", "ohm", join.resistance, "max", source=f"below the insulating limit of {show(limit, 'ohm')}"))
    if len(join.cut) > 1:
        names = ", ".join(context.named(other) for other in join.cut)
        remedy = f"all of these must go to separate them: {names}"
    elif element is not None:
        remedy = f"{context.named(element)} joins them: remove it or move it to one side, or state the joint with [[bonds]] if it is wanted"
    else:
        remedy = "give each side a net of its own"
    if join.couplers:
        message += f" (concerns {', '.join(join.couplers)})"
    return context.result(rule, "fail", message, where, join.subject, level=join.level, evidence=evidence, related=_chain(context, join), remedy=remedy)


def _card_to_change(context: Context, join: Join) -> int | None:
    """The element of the cut that comes first; for a shared net the first part concerned."""
    if join.cut:
        return min(join.cut, key=context.place)
    on_path = [step.element for step in join.path if step.element >= 0]
    return on_path[0] if on_path else None


def path_words(context: Context, join: Join) -> str:
    """The path as an engineer would draw it: `GND - R9 0 ohm - GNDB`."""
    if not join.path:
        return f"net {context.net(join.shared_net)}" if join.shared_net >= 0 else "they are one net"
    words = [context.net(join.path[0].net_in)]
    for step in join.path:
        if step.element >= 0:
            name = context.circuit.path(step.element)
            ohms = context.circuit.value(step.element) if context.circuit.letter(step.element) == "R" else None
            words.append(name if ohms is None else f"{name} {show(ohms, 'ohm')}")
        else:
            words.append("(stated)")
        words.append(context.net(step.net_out))
    return " - ".join(words)


def _chain(context: Context, join: Join) -> tuple[Related, ...]:
    return context.related([step.element for step in join.path if step.element >= 0])


def _barrier_result(context: Context, rule: Rule, barrier: Barrier, join: Join | None) -> Iterator[Result]:
    subject = " | ".join(sorted(barrier.sides))
    where = context.place(min(barrier.parts, key=context.place)) if barrier.parts else Place(context.netlist)
    if join is not None:
        if join.rule == rule.slug and not join.unknown:
            return
        blocker = "part-unknown" if join.unknown else join.rule
        text = f"separation of {subject} is not judged while {blocker} stands"
        yield context.result(rule, "notApplicable", text, where, subject, blocked_by=blocker)
    elif barrier.undecidable:
        text = f"separation of {subject} can't be judged from this netlist: {barrier.undecidable}"
        missing = [context.lookup.missing("sides", '[sides.field]\nnets = ["GND_FIELD"]')]
        yield context.result(rule, "open", text, where, subject, missing=missing)
    else:
        yield context.result(rule, "pass", f"no {rule.slug} between {subject}", where, subject)


def unknown_results(context: Context, rule: Rule) -> Iterable[Result]:
    """One open result an unknown part that looks like a coupler or through which alone two sides meet."""
    recognition = context.interfaces.recognition
    said: set[int] = set()
    for unknown in recognition.suspects:
        said.add(unknown.element)
        yield _open(context, rule, unknown.element, unknown.path, f"{unknown.path}: {unknown.reason}", unknown.example)
    for join in context.interfaces.separation.joins:
        for element in join.unknown:
            if element in said:
                continue
            said.add(element)
            path = context.circuit.path(element)
            known = recognition.unknown.get(element)
            reason = known.reason if known is not None else "it is controlled from another side than its output"
            example = known.example if known is not None else f'[elements."{path}"]\nordinary = true'
            text = f"{path} touches sides {' and '.join(join.sides)} ({path_words(context, join)}) and is not understood: {reason}"
            yield _open(context, rule, element, path, text, example)


def _open(context: Context, rule: Rule, element: int, path: str, text: str, example: str) -> Result:
    fact = context.lookup.missing(f'elements."{path}".part', example)
    remedy = "state what it is: a part record, a type, or that it is ordinary"
    return context.result(rule, "open", text, context.place(element), path, missing=[fact], remedy=remedy)

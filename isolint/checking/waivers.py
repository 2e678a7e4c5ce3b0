"""Waivers: failures that a named role accepts for a reason until a date.

In: results and the waivers that count for the netlist. Out: the results, accepted ones with their suppression, and a
failure for each waiver that is malformed, is over, whose bound is broken, or that nothing matches any more. None of
these accepts anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.errors import Mistake, Place
from isolint.facts import Waiver
from isolint.facts.matching import compile_pattern
from isolint.results import Measure, Result, Suppression

UNMATCHED = "matches nothing"
FORECAST = timedelta(days=30)
"""How long ahead the end of a waiver is told."""


def apply_waivers(
    context: Context, results: Iterable[Result], rules: Sequence[Rule], today: date | None
) -> list[Result]:
    """Accept what valid waivers match; with `today` None no waiver is over."""
    waivers = context.facts.waivers
    malformed = context.facts.malformed_waivers
    if not waivers and not malformed:
        return list(results)
    valid = [waiver for waiver in waivers if today is None or today <= waiver.until]
    used: set[str] = set()
    done: list[Result] = []
    for result in results:
        waiver = next((w for w in valid if _accepts(context, w, result)), None)
        if waiver is None:
            done.append(result)
            continue
        used.update(_identity(other) for other in valid if _accepts(context, other, result))
        accepted = Suppression("external", "accepted", waiver.reason, waiver.by, waiver.until.isoformat())
        done.append(result._replace(suppression=accepted))
    rule = next((rule for rule in rules if "waivers" in rule.judges), None)
    if rule is not None:
        done.extend(
            _stale(context, rule, waiver, waiver in valid, done) for waiver in waivers if _identity(waiver) not in used
        )
        done.extend(_malformed(context, rule, mistakes) for mistakes in _by_waiver(malformed))
    return done


def forecast(waivers: Iterable[Waiver], today: date) -> Iterator[str]:
    """Waivers that end soon, in words."""
    for waiver in waivers:
        left = waiver.until - today
        if timedelta(0) <= left <= FORECAST:
            when = f"in {left.days} days" if left.days > 1 else "tomorrow" if left.days else "today"
            what = f"the waiver of {waiver.rule} at {waiver.where} by {waiver.by}"
            yield f"{what} ends {when}, on {waiver.until.isoformat()} ({waiver.file})"


def _by_waiver(mistakes: Iterable[Mistake]) -> Iterator[list[Mistake]]:
    """The mistakes of each malformed waiver; `waivers[0].until` belongs to `waivers[0]`."""
    found: dict[tuple[str, str], list[Mistake]] = {}
    for mistake in mistakes:
        found.setdefault((mistake.file, mistake.key.partition(".")[0]), []).append(mistake)
    yield from found.values()


def _malformed(context: Context, rule: Rule, mistakes: Sequence[Mistake]) -> Result:
    first = mistakes[0]
    key = first.key.partition(".")[0]
    told = "; ".join(f"{mistake.key}: {mistake.text}" for mistake in mistakes)
    cure = "; ".join(dict.fromkeys(mistake.cure for mistake in mistakes if mistake.cure))
    message = f"the waiver {key} is malformed and accepts nothing: {told}"
    worst = Measure.number_of(len(mistakes))
    return context.result(rule, "fail", message, Place(first.file), key, role="malformed", remedy=cure, measure=worst)


def _identity(waiver: Waiver) -> str:
    return f"{waiver.file} {waiver.key}"


def _accepts(context: Context, waiver: Waiver, result: Result) -> bool:
    return _concerns(context, waiver, result) and _within(waiver, result)


def _concerns(context: Context, waiver: Waiver, result: Result) -> bool:
    return result.kind == "fail" and result.rule == waiver.rule and matches(context, waiver.where, result)


def _within(waiver: Waiver, result: Result) -> bool:
    """Whether a failure keeps the bound of a waiver; one without a margin keeps none."""
    return waiver.bound is None or (result.margin is not None and result.margin.value >= waiver.bound)


def matches(context: Context, where: str, result: Result) -> bool:
    """Whether `where` names an element, part, net or side in the place, chain or subject of a result.

    Of a joint only its own elements count: another tie of the same sides, or beside the same coupler, is another fault.
    A name without a dot is compared with local names at any depth too; `*` and `?` are wild, case does not matter.
    """
    pattern = compile_pattern(where)
    for name in result.members or _names(context, result):
        folded = name.casefold()
        if pattern.match(folded) or ("." not in where and pattern.match(folded.rsplit(".", 1)[-1])):
            return True
    return False


def _names(context: Context, result: Result) -> Iterator[str]:
    """Names of what a result is about: subject, part, the card to change, the chain's elements, its nets and sides."""
    yield from (result.subject, result.part)
    for word in result.subject.replace(" | ", ", ").split(", "):
        yield word
        yield word.partition(" channel ")[0]
        if "." in word:
            # `XU1.anode+cathode` is a group of pins of XU1.
            yield word.rpartition(".")[0]
    circuit = context.circuit
    prefix = f"{result.instance}." if result.instance else ""
    here = [circuit.path(element) for element in context.elements_at(result.where)]
    spoken_of = {related.text.partition(" ")[0] for related in result.related}
    # The card of a repeated block stands for all its instances: only those that the result speaks of are accepted.
    yield from (path for path in here if len(here) == 1 or path in spoken_of or (prefix and path.startswith(prefix)))
    separation = context.interfaces.separation
    for related in result.related:
        path = related.text.partition(" ")[0]
        yield path
        found = circuit.find(path)
        for net in circuit.pins(found) if found is not None else ():
            yield circuit.net_name(net)
            if net in separation.side_of_net:
                yield separation.sides[separation.side_of_net[net]].name


def _stale(context: Context, rule: Rule, waiver: Waiver, valid: bool, results: Sequence[Result]) -> Result:
    what = f"the waiver of {waiver.rule} at {waiver.where} by {waiver.by}"
    concerned = [result for result in results if _concerns(context, waiver, result)]
    if not valid:
        role = "over"
        now = "what it accepted still fails" if concerned else "nothing fails there now"
        message = f"{what} ended on {waiver.until.isoformat()}; {now}"
        remedy = "cure the failure, or have the waiver renewed" if concerned else "remove the waiver"
    elif concerned:
        role = "bound"
        margins = [result.margin.value for result in concerned if result.margin is not None]
        found = f"the margin is {min(margins):.3g}" if margins else "the failure has no margin"
        message = f"{what} holds while margin >= {waiver.bound:g}, but {found}: it accepts nothing"
        remedy = "cure the failure, or have the waiver judged anew"
    else:
        role = UNMATCHED
        message = f"{what} until {waiver.until.isoformat()} matches no failure of this netlist"
        remedy = "remove the waiver, or correct its rule and where; only failures can be waived, not open results"
        joints = [result.members for result in results if result.rule == waiver.rule and result.kind == "fail"]
        if any(joints):
            named = "; ".join(dict.fromkeys(", ".join(members) for members in joints if members))
            remedy = f"name what joins the sides in where ({named}), or remove the waiver"
    subject = f"{waiver.rule} at {waiver.where}"
    place, once = Place(waiver.file), Measure.number_of(1)
    return context.result(rule, "fail", message, place, subject, role=role, remedy=remedy, measure=once)

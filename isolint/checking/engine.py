"""Runs the rules and makes one fault one result.

In: a context and the rules in the order in which they carry open results. Out: results in order of file, line and
rule. A rule whose precondition failed is notApplicable and names the rule that blocks it; one missing fact gives one
open result, carried by the first rule that waits for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import cast

from isolint.checking.context import Context
from isolint.checking.equal_channels import Template, Twin, find_twins
from isolint.checking.joint_results import speaker_of
from isolint.checking.judged import judged_channels, unjudged
from isolint.checking.opens import merge_opens
from isolint.checking.provisional import with_provisional
from isolint.checking.record_lines import RecordLines
from isolint.checking.rule import Rule
from isolint.checking.shared_faults import said_once
from isolint.checking.too_much import too_much
from isolint.checking.unexplained import sheet_results
from isolint.checking.unplaced import unplaced_results
from isolint.checking.waivers import apply_waivers
from isolint.errors import FAULTS, IsolintError, Place, SettingsError, raise_end
from isolint.interfaces.entities import Channel
from isolint.results import INTERNAL, Level, Result, in_order
from isolint.worstcase.budget import NETLIST, OverBudget
from isolint.worstcase.uncertain import Aspect, Lacking

FAILURES = (*FAULTS, IsolintError)
"""What a rule may raise without stopping the others (a rule that has no answer raises `Lacking`)."""

_DRIVE: tuple[Aspect, ...] = ("drive", "led-current")
_LOAD: tuple[Aspect, ...] = ("load", "level")
_OUTPUT: tuple[Aspect, ...] = ("load", "level", "carrying")
_BEHIND: tuple[Aspect, ...] = ("drive", "led-current", "transfer")

PAIRS = 3
"""How many pairs of neighbours among twins are tried: the first of those that share something may speak for all."""

Blocked = dict[tuple[str, Aspect], str]


def run(context: Context, rules: Sequence[Rule], strict: bool = False, today: date | None = None) -> tuple[Result, ...]:
    """All results of one netlist, in order of file, line and rule.

    Waivers are judged as of `today`, none where it is None.
    """
    results = merge_opens([*RecordLines(context).placed(judged(context, rules, strict))], context.circuit)
    if any(rule.judge is not None for rule in rules):
        # No fact settles it, so that it stops nobody who does not insist.
        results += [result._replace(counts_as="error" if strict else "note") for result in unjudged(context)]
    results = with_provisional(context, rules, results, judged)
    return in_order(apply_waivers(context, results, rules, today))


def judged(context: Context, rules: Sequence[Rule], strict: bool = False) -> list[Result]:
    """What all rules say, in the order of the rules; open results that wait for one fact are still several."""
    found: dict[str, list[Result]] = {}
    blocked = _blocked_by_joints(context)
    if any("clamp" in rule.judges for rule in rules):
        _block_by_clamps(context, blocked)
    twins = _twins(context, blocked)
    for rule in running_order(tuple(rules)):
        if rule.survey is not None:
            found[rule.slug] = _guarded(rule, context, rule.survey, Place(context.netlist), context.netlist)
        elif rule.judge is not None:
            found[rule.slug] = _for_channels(rule, context, blocked, twins)
        if rule.beside is not None:
            beside = _guarded(rule, context, rule.beside, Place(context.netlist), context.netlist)
            found.setdefault(rule.slug, []).extend(beside)
    results = [result for rule in rules for result in found.get(rule.slug, ())]
    results = said_once(context, results)
    reasons = _Reasons(results, context.analysis.row())
    results = [_blocked_for_a_reason(result, reasons) for result in results]
    levels = {rule.slug: rule.opens_at for rule in rules}
    return _insisting(context, rules, [_counted(result, context, levels, strict) for result in results], strict)


def _insisting(context: Context, rules: Sequence[Rule], results: list[Result], strict: bool) -> list[Result]:
    """Where no channel is judged, what may isolate counts whatever the settings say, and so does a netlist in which
    position can't tell."""
    rule = next((rule for rule in rules if "identity" in rule.judges), None)
    if rule is None or (context.channels and not any(each.measures for each in rules)):
        return results
    judged = judged_channels(context, results)
    if any((channel.part.path, channel.name) in judged for channel in context.channels):
        return results
    insisted = [
        result._replace(counts_as="error") if result.rule == rule.slug and result.kind == "open" else result
        for result in results
    ]
    return [*insisted, *unplaced_results(context, rule), *sheet_results(context, rule, strict)]


def verdicts(context: Context, channels: Iterable[Channel]) -> dict[tuple[str, str, str], tuple[str, float]]:
    """Kind and margin of all that is asked of some channels singly, by subject, rule and role."""
    blocked = _blocked_by_joints(context)
    _block_by_clamps(context, blocked)
    found: dict[tuple[str, str, str], tuple[str, float]] = {}
    for rule in running_order(tuple(rule for rule in context.rulebook.rules if rule.judge is not None)):
        for channel in channels:
            for result in _for_channel(rule, context, channel, blocked):
                margin = math.inf if result.margin is None else result.margin.value
                found[result.subject, result.rule, result.role] = result.kind, margin
    return found


def fails_alone(rule: Rule, context: Context, channels: Iterable[Channel]) -> bool:
    """Whether a rule fails in one of some channels, whatever else fails there."""
    return any(result.kind == "fail" for channel in channels for result in _for_channel(rule, context, channel, {}))


@lru_cache(maxsize=16)
def running_order(rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules with each one behind those that can block it, else in their own order.

    Of two that block each other the first runs first.
    """
    left = list(rules)
    ordered: list[Rule] = []

    def waits(rule: Rule, other: Rule) -> bool:
        if other is rule or not set(rule.needs) & set(other.blocks):
            return False
        return not set(other.needs) & set(rule.blocks) or left.index(other) < left.index(rule)

    while left:
        free = next((rule for rule in left if not any(waits(rule, other) for other in left)), left[0])
        left.remove(free)
        ordered.append(free)
    return tuple(ordered)


def _blocked_by_joints(context: Context) -> Blocked:
    """Channels whose drive or load network holds an element that joins sides, or that are the joint themselves.

    What is solved there is not the wanted circuit.
    """
    blocked: Blocked = {}
    neighbours = context.analysis.neighbours()
    for join in context.interfaces.separation.joins:
        if join.unknown or join.level == "note":
            continue
        for element in join.cut:
            own = () if join.shared_net >= 0 else neighbours.of_part(element)
            for found, aspects in ((neighbours.driven_through, _DRIVE), (neighbours.loaded_with, _LOAD)):
                for channel in (*own, *found(element)):
                    for aspect in aspects:
                        blocked.setdefault((channel.subject, aspect), speaker_of(context, join))
    return blocked


def _block_by_clamps(context: Context, blocked: Blocked) -> None:
    """Channels in whose networks a diode lies the wrong way round at a coil: it shorts what they switch."""
    wrong = {found.wrong for _, found in context.analysis.coils() if found.wrong >= 0}
    for channel in context.channels if wrong else ():
        for network, aspects in ((channel.drive, _DRIVE), (channel.load, _LOAD)):
            if not wrong.isdisjoint(network.elements):
                for aspect in aspects:
                    blocked.setdefault((channel.subject, aspect), context.speaker("clamp"))


def _twins(context: Context, blocked: Blocked) -> list[list[Twin]]:
    known: dict[str, dict[Aspect, str]] = {}
    for (subject, aspect), rule in blocked.items():
        known.setdefault(subject, {})[aspect] = rule
    return find_twins(context, {subject: tuple(sorted(found.items())) for subject, found in known.items()})


def _for_channels(rule: Rule, context: Context, blocked: Blocked, twins: Sequence[Sequence[Twin]]) -> list[Result]:
    """What a rule says of all channels, in their order; of each group of twins two are judged."""
    said: dict[str, list[Result]] = {}
    for group in twins:
        for start in range(min(PAIRS, len(group) - 1)):
            pair = group[start : start + 2]
            first, second = (_judged_once(rule, context, twin.channel, blocked, said) for twin in pair)
            template = Template(*pair).of(first)
            if template(pair[1]) == second:
                for twin in group[start + 2 :]:
                    found = said[twin.channel.subject] = template(twin)
                    _block(rule, found, twin.channel, blocked)
                break
    results: list[Result] = []
    for channel in context.channels:
        known = said.get(channel.subject)
        results += _for_channel(rule, context, channel, blocked) if known is None else known
    return results


def _judged_once(
    rule: Rule, context: Context, channel: Channel, blocked: Blocked, said: dict[str, list[Result]]
) -> list[Result]:
    if channel.subject not in said:
        said[channel.subject] = _for_channel(rule, context, channel, blocked)
    return said[channel.subject]


def _for_channel(rule: Rule, context: Context, channel: Channel, blocked: Blocked) -> list[Result]:
    kind = channel.part.kind
    if not kind.output.conducts and not rule.asks_channels(kind):
        if rule.asks(kind):
            # It is said of the part.
            return []
        text = f"{channel.subject}: it is not asked of a {channel.part.type}"
        return [context.channel_result(rule, channel, "notApplicable", text)]
    if rule.concerns is not None and not rule.concerns(context, channel):
        return []
    for aspect in rule.needs:
        blocker = blocked.get((channel.subject, aspect))
        if blocker is not None:
            text = f"{channel.subject}: not applicable while {blocker} fails"
            return [context.channel_result(rule, channel, "notApplicable", text, blocked_by=blocker)]
    judge = rule.judge
    assert judge is not None
    found = _guarded(
        rule, context, lambda seen: judge(seen, channel), context.place(channel.part.element), channel.subject, channel
    )
    _block(rule, found, channel, blocked)
    _block_behind(rule, found, channel, context, blocked)
    return found


def _block_behind(rule: Rule, found: Iterable[Result], channel: Channel, context: Context, blocked: Blocked) -> None:
    """Where an output moves nothing or too little, the LED that it drives is no matter of its own."""
    if set(rule.blocks).isdisjoint(_OUTPUT) or not any(result.kind == "fail" for result in found):
        return
    for other in context.analysis.driven_by(channel):
        for aspect in _BEHIND:
            blocked.setdefault((other.subject, aspect), rule.slug)


def _block(rule: Rule, found: Iterable[Result], channel: Channel, blocked: Blocked) -> None:
    if any(result.kind == "fail" or result.blocked_by == rule.slug for result in found):
        # A fault that several channels share is said once; the others name it and are blocked as well.
        for aspect in rule.blocks:
            blocked.setdefault((channel.subject, aspect), rule.slug)


def _guarded(
    rule: Rule,
    context: Context,
    judge: Callable[[Context], Iterable[Result]],
    where: Place,
    subject: str,
    channel: Channel | None = None,
) -> list[Result]:
    """What a rule says; what it said before a fact was lacking or before it failed itself is kept."""
    found: list[Result] = []
    try:
        with context.analysis.meter.charged_to(NETLIST if channel is None else channel.subject):
            for result in judge(context):
                found.append(result)  # noqa: PERF402
    except OverBudget as spent:
        if channel is not None:
            found.append(too_much(context, rule, channel, spent))
        else:
            found.append(context.result(rule, "open", f"{subject}: not judged: {spent.reason}", where, subject))
    except Lacking as reason:
        if channel is not None:
            found.append(context.lacking(rule, channel, reason))
        else:
            found.append(
                context.result(
                    rule, "open", f"{subject}: not judged: {reason.reason}", where, subject, missing=reason.missing
                )
            )
    except SettingsError:
        # Two patterns that match one name equally well show only when it is asked for: a mistake of the reader's.
        raise
    except FAILURES as error:
        raise_end(error)
        text = (
            f"{subject}: {rule.slug} could not be judged, isolint itself failed ({type(error).__name__}: {error}); "
            "please report it"
        )
        found.append(context.result(rule, "open", text, where, subject, channel=channel, role=INTERNAL))
    return found


class _Reasons:
    """Results in the order of the rules, by rule and subject; those about no channel stand for every subject."""

    def __init__(self, results: Iterable[Result], row: Mapping[str, Sequence[str]]) -> None:
        self._row = row
        self._about: dict[tuple[str, str], list[Result]] = {}
        self.failed: set[str] = set()
        for result in results:
            self._about.setdefault((result.rule, result.subject if result.part else ""), []).append(result)
            if result.kind == "fail":
                self.failed.add(result.rule)

    def about(self, rule: str, subject: str) -> Iterator[Result]:
        """What a rule says of a subject, of the channels before and behind it in a row, or of no channel at all."""
        yield from self._about.get((rule, subject), ())
        for other in self._row.get(subject, ()):
            yield from self._about.get((rule, other), ())
        if subject:
            yield from self._about.get((rule, ""), ())


def _blocked_for_a_reason(result: Result, reasons: _Reasons) -> Result:
    """Nothing is hidden behind a rule that does not stand: then the result is open, for the reason that it gave."""
    if result.kind != "notApplicable" or not result.blocked_by:
        return result
    if _stands(result.blocked_by, result, reasons, frozenset()):
        return result
    return result._replace(kind="open", blocked_by="")


def _stands(rule: str, result: Result, reasons: _Reasons, seen: frozenset[str]) -> bool:
    """Whether a rule fails or is open on the same subject or on no channel at all, or is blocked by one that does.

    What is said of no channel may wait for what fails on any: a wrong pin order hides whether sides are joined.
    """
    if not result.part and rule in reasons.failed:
        return True
    for other in reasons.about(rule, result.subject):
        if other.kind in ("fail", "open"):
            return True
        if other.blocked_by == rule and rule in reasons.failed:
            return True
        if (
            other.blocked_by
            and other.blocked_by not in seen
            and _stands(other.blocked_by, result, reasons, seen | {rule})
        ):
            return True
    return False


def _counted(result: Result, context: Context, levels: Mapping[str, Level], strict: bool) -> Result:
    """Open results count for the exit status at the level that the settings say, as do cards that may be lost."""
    if result.kind == "fail" and strict and context.counts_in_strict(result):
        return result._replace(level="error")
    if result.kind != "open" or result.counts_as != "none":
        return result
    if strict:
        return result._replace(counts_as="error")
    of_rule = context.facts.levels.get(result.rule) if context.notes_decide(result.rule) else None
    stated = of_rule or context.facts.open
    if stated is not None:
        return result._replace(counts_as=cast(Level, stated.value))
    return result._replace(counts_as=levels[result.rule])

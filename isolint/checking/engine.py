"""Runs the rules in their order and makes one fault one result.

In: a context and the rules. Out: results in order. A rule whose precondition failed is notApplicable and names the rule that
blocks it; one missing fact gives one open result, carried by the first rule that waits for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import cast

from isolint.checking.context import Context
from isolint.checking.rule import Aspect, Rule
from isolint.errors import Place
from isolint.interfaces.values import Channel
from isolint.results import Level, Result, in_order
from isolint.worstcase.terms import Lacking

OPEN_BY_DEFAULT: Level = "note"
BARRIER_OPEN: Level = "error"


def run(context: Context, rules: Sequence[Rule], strict: bool = False) -> tuple[Result, ...]:
    """All results of one netlist, in order of file, line and rule."""
    results: list[Result] = []
    blocked: dict[tuple[str, Aspect], str] = {}
    for rule in rules:
        if rule.survey is not None:
            found = _guarded_survey(rule, context)
        elif rule.judge is not None:
            found = [result for channel in context.channels for result in _for_channel(rule, context, channel, blocked)]
        else:
            continue
        results.extend(found)
    results = merge_opens(results)
    return in_order([_counted(result, context, rules, strict) for result in results])


def _for_channel(rule: Rule, context: Context, channel: Channel, blocked: dict[tuple[str, Aspect], str]) -> list[Result]:
    for aspect in rule.needs:
        blocker = blocked.get((channel.subject, aspect))
        if blocker is not None:
            text = f"{channel.subject}: not applicable while {blocker} fails"
            return [context.channel_result(rule, channel, "notApplicable", text, blocked_by=blocker)]
    assert rule.judge is not None
    try:
        found = list(rule.judge(context, channel))
    except Lacking as reason:
        found = [context.lacking(rule, channel, reason)]
    except (ArithmeticError, ValueError, LookupError, TypeError, AssertionError) as error:
        found = [_broken(rule, context, error, context.place(channel.part.element), channel.subject)]
    if any(result.kind == "fail" for result in found):
        for aspect in rule.blocks:
            blocked.setdefault((channel.subject, aspect), rule.slug)
    return found


def _guarded_survey(rule: Rule, context: Context) -> list[Result]:
    assert rule.survey is not None
    try:
        return list(rule.survey(context))
    except (ArithmeticError, ValueError, LookupError, TypeError, AssertionError) as error:
        return [_broken(rule, context, error, Place(context.netlist), context.netlist)]


def _broken(rule: Rule, context: Context, error: Exception, where: Place, subject: str) -> Result:
    """A rule that raises becomes an open result; the others go on."""
    text = f"{subject}: {rule.slug} could not be judged, isolint itself failed ({type(error).__name__}: {error}); please report it"
    return context.result(rule, "open", text, where, subject, role="internal")


def merge_opens(results: Sequence[Result]) -> list[Result]:
    """One missing fact gives one open result: the first in the order of the rules; the others name it."""
    carriers: dict[str, int] = {}
    waiting: dict[int, list[str]] = {}
    merged: list[Result] = []
    for result in results:
        keys = [_fact_key(fact.file, fact.key) for fact in result.missing]
        if result.kind != "open" or result.role == "internal":
            merged.append(result)
            continue
        if not keys:
            # Nothing to state: the same reason on the same subject is said once.
            keys = [f"reason {result.subject} {result.message.partition(': not judged: ')[2] or result.message}"]
        carrier = next((carriers[key] for key in keys if key in carriers), None)
        if carrier is None:
            for key in keys:
                carriers[key] = len(merged)
            merged.append(result)
            continue
        first = merged[carrier]
        text = f"{result.subject}: waits for the fact that {first.rule} on {first.subject} asks for"
        merged.append(replace(result, kind="notApplicable", message=text, blocked_by=first.rule, missing=(), remedy=""))
        waiting.setdefault(carrier, []).append(f"{result.rule} ({result.subject})")
    for carrier, others in waiting.items():
        listed = ", ".join(dict.fromkeys(others))
        merged[carrier] = replace(merged[carrier], message=f"{merged[carrier].message}; waiting for the same fact: {listed}")
    return merged


def _fact_key(file: str, key: str) -> str:
    return f"{file} {key}".casefold()


def _counted(result: Result, context: Context, rules: Iterable[Rule], strict: bool) -> Result:
    """Open results count for the exit status at the level that the settings say."""
    if result.kind != "open":
        return result
    if strict:
        return replace(result, counts_as="error")
    stated = context.facts.open
    if stated is not None:
        return replace(result, counts_as=cast(Level, stated.value))
    group = next((rule.group for rule in rules if rule.slug == result.rule), "reading")
    serious = group == "barrier" or result.rule == "part-unknown"
    return replace(result, counts_as=BARRIER_OPEN if serious else OPEN_BY_DEFAULT)

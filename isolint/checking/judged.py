"""Which channels are judged, and what is said of each in all: held, failed, open."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.results import Result


class Tally(NamedTuple):
    """Channels by what is said of them. judged: those of which some rule says whether they work."""

    judged: int
    held: int
    failed: int
    open: int


def tally(context: Context, results: Sequence[Result]) -> Tally:
    """Count the channels of a netlist: failed where one question failed, else open where one is open.

    A question that waits for the open one of another channel, or that something blocks, is open too: nobody has
    answered it.
    """
    judged = judged_channels(context, results)
    kinds: dict[tuple[str, str], set[str]] = {}
    for result in results:
        if result.part:
            unanswered = result.kind == "notApplicable" and result.blocked_by
            kinds.setdefault((result.part, result.channel), set()).add("open" if unanswered else result.kind)
    own = [(channel.part.path, channel.name) for channel in context.channels]
    counted = {"held": 0, "failed": 0, "open": 0}
    for key in own:
        found = kinds.get(key, set())
        for kind, name in (("fail", "failed"), ("open", "open"), ("pass", "held")):
            if kind in found:
                counted[name] += 1
                break
    return Tally(sum(key in judged for key in own), counted["held"], counted["failed"], counted["open"])


def judged_channels(context: Context, results: Iterable[Result]) -> set[tuple[str, str]]:
    """The channels of which a rule that measures, or a structural one that fails, has said something."""
    measuring = {rule.slug for rule in context.rulebook.rules if rule.measures}
    structural = {rule.slug for rule in context.rulebook.rules if rule.structural}
    return {
        (result.part, result.channel)
        for result in results
        if (result.rule in measuring and result.kind in ("pass", "fail"))
        or (result.rule in structural and result.kind == "fail")
    }

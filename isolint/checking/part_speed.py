"""Whether parts of which no output is solved follow what is stated: gate drivers, isolators for logic.

In: a rule and a context. Out: one result a part at whose pins a rate or a pulse is stated.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, bare
from isolint.checking.context import Context
from isolint.checking.demanded_speed import Demand, demand_at
from isolint.checking.rule import Rule
from isolint.checking.speed import Speed, delays
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Part
from isolint.results import Result
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting, unique

_NO_SECONDS = 1e-15


def outlasts(found: Speed, asked: Demand, setting: Setting) -> Claim:
    """That the shortest pulse outlasts both edges, and that enough of it is left."""
    pulse = Figure("t_p", asked.pulse(setting), "s", "shortest pulse")
    settle = Figure("settle", max(found.settle, _NO_SECONDS), "s", "time after which a level is there")
    lost = Figure("D", max(found.distortion, _NO_SECONDS), "s", "by which a pulse grows or shrinks")
    whole = pulse / settle
    kept = asked.share * pulse / lost
    margin = (whole if whole.si <= kept.si else kept).called("margin", "1", "margin", end="min")
    terms = found.terms if asked.held_on is None else (*found.terms, asked.held_on)
    return bare(margin, terms)


def parts_follow(rule: Rule, context: Context) -> Iterator[Result]:
    """Of each such part: what its delays leave of the shortest pulse."""
    for part in context.interfaces.recognition.parts.values():
        if {"driver", "levels"}.isdisjoint(part.kind.owns) or part.path in context.interfaces.unused:
            continue
        asked = demand_at(context, part)
        if asked is not None:
            yield _follows(rule, context, part, asked)


def _follows(rule: Rule, context: Context, part: Part, asked: Demand) -> Result:
    def claim(setting: Setting) -> Claim:
        return outlasts(_speed(context, part, setting), asked, setting)

    try:
        verdict, found = decide(claim), _speed(context, part, WORST)
    except Lacking as reason:
        return part_results.lacking(context, rule, part, reason)
    return part_results.judged(
        context,
        rule,
        part,
        verdict,
        f"{asked.words}; at worst a pulse changes by {show(found.distortion, 's')} "
        f"(delay up to {show(found.on, 's')}): {verdict.worst.words}",
        evidence=[
            *(figure.evidence() for figure in found.figures),
            Figure("t_p", asked.seconds, "s", "shortest pulse").evidence(),
            Figure("q", asked.share, "1", "share of a pulse that may be lost").evidence(),
            verdict.worst.margin.evidence(verdict.worst.wanted),
        ],
        remedy="a faster part, or one whose delays differ less",
    )


def _speed(context: Context, part: Part, setting: Setting) -> Speed:
    """Both edges come late; only by how much they differ changes a pulse."""
    longest, figures, terms = delays(context.analysis, part, setting)
    return Speed(longest, longest, 0.0, figures[-1].si, tuple(figures), unique(terms))

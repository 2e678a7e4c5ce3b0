"""Verdicts on the touch current that all capacitors between two sides let through."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.checking.barrier_demands import Pair
from isolint.checking.capacitors import Drive, Leg, drive, legs, touch_current
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.networks import names
from isolint.checking.result_builder import rests_on
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.facts import BarrierFacts
from isolint.interfaces.entities import Bridge
from isolint.results import Assumption, Evidence, Kind, MissingFact, Result
from isolint.standards import touch
from isolint.units import show
from isolint.worstcase.figures import Figure, pi
from isolint.worstcase.uncertain import WORST, Setting, Term


class Touch(NamedTuple):
    """The leg that lets most through, what drives it, its limit in amperes, and the verdict where both are known."""

    leg: Leg
    source: Drive | None
    limit: float | None
    verdict: Verdict | None
    evidence: tuple[Evidence, ...]

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """What the verdict rests on and nobody stated."""
        return () if self.verdict is None else self.verdict.assumptions


def touch_of(context: Context, pair: Pair, bridges: Sequence[Bridge]) -> Touch:
    """The touch current between two sides as far as it can be told."""
    leg = max(legs(context, pair, bridges), key=lambda leg: leg.farads({}))
    source, limit = drive(pair), pair.number(BarrierFacts.touch_current)
    if source is None:
        return Touch(leg, source, limit, None, ())
    if limit is None:
        return Touch(leg, source, limit, None, (_current(context, leg, source, WORST)[0].evidence(),))

    def claim(setting: Setting) -> Claim:
        amperes, terms = _current(context, leg, source, setting)
        return at_most(amperes, Figure("I_limit", limit, "A"), terms)

    verdict = decide(claim)
    return Touch(leg, source, limit, verdict, (verdict.worst.found.evidence(verdict.worst.bound),))


def touch_result(context: Context, rule: Rule, pair: Pair, bridges: Sequence[Bridge]) -> Result | None:
    """A failure or open result about the touch current, None where it is known and small enough."""
    found = touch_of(context, pair, bridges)
    elements = [element for bridge in bridges for element in bridge.elements]
    largest = max(elements, key=lambda element: (context.circuit.value(element) or 0.0, -element))
    verdict, source, limit = found.verdict, found.source, found.limit
    kind: Kind
    missing: Sequence[MissingFact] = ()
    margin = None
    if verdict is None or source is None or limit is None:
        kind, text, remedy, missing = _unknown(pair, found)
    elif verdict.kind == "pass":
        return None
    else:
        kind = verdict.kind
        most = limit / touch.current(1.0, source.volts, source.hertz.kind_high)
        text = (
            f"touch current {found.leg.name}: {verdict.worst.found} through "
            f"{names(context, found.leg.elements)} ({source.words}), the limit is {show(limit, 'A')}"
        )
        if kind == "open":
            text += f"; {rests_on(verdict)}"
            missing = context.missing(verdict.settling.terms)
        remedy = f"at most {show(most, 'F')} in all, tolerance included; {context.named(largest)} is the largest"
        margin = verdict.worst.shown
    made = context.result(
        rule,
        kind,
        text,
        context.place(largest),
        pair.subject,
        role="touch-current",
        missing=missing,
        evidence=found.evidence,
        margin=margin,
        remedy=remedy,
        related=context.related(elements),
    )
    return made._replace(assumptions=found.assumptions)


def _unknown(pair: Pair, found: Touch) -> tuple[Kind, str, str, list[MissingFact]]:
    """Kind, text, remedy and facts where the mains or the limit is not stated."""
    missing: list[MissingFact] = []
    what: list[str] = []
    if found.source is None:
        what.append("the mains")
        missing.append(pair.missing(BarrierFacts.mains, "", BarrierFacts.mains_frequency))
    if found.limit is None:
        what.append("the limit of touch current")
        missing.append(pair.missing(BarrierFacts.touch_current, '"0.25 mA"'))
    text = f"touch current {found.leg.name} can't be judged: nobody stated {' and '.join(what)}"
    if found.source is not None:
        worst = show(found.evidence[0].max or 0.0, "A")
        text += f"; it is {worst} at worst ({found.source.words}) and passes at a limit of that or more"
    rows = (touch.limit("iec-60335-1", "class II"), touch.limit("iec-62368-1", "ES1"))
    usual = ", ".join(f"{show(r.rms or 0.0, 'A')} {r.case} (key `{r.standard}`, {r.confidence})" for r in rows)
    remedy = (
        f"state what the standard of the equipment allows (published limits are for example {usual}); where functional "
        "insulation is enough, state the kind of both sides"
    )
    return "open", text, remedy, missing


def _current(context: Context, leg: Leg, source: Drive, setting: Setting) -> tuple[Figure, Sequence[Term]]:
    """The rms current through a leg, 2 pi f C U, and the terms that it rests on."""
    _, terms, farads = touch_current(context, leg, source, setting)
    hertz = Figure("f", setting.high(source.hertz), "Hz")
    amperes = 2.0 * pi() * hertz * Figure("C", farads, "F") * Figure("U", source.volts, "V")
    corner = f"{source.words}, {hertz}, {show(farads, 'F')}"
    return amperes.called("I_touch", "A", f"touch current {leg.name}", at=corner), terms

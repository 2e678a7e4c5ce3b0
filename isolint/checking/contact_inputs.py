"""What logic inputs read of the contacts of relays: both levels, and the most that they see.

In: a rule and a context. Out: results about relays, one a contact and input that reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, bare
from isolint.checking.contacts import Pole, read_poles
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched_inputs import LEVEL_CURE, both_levels, highest, level_words, most_cure, most_words
from isolint.checking.switched_levels import floats, read_inputs
from isolint.checking.verdict import Verdict, decide
from isolint.results import Evidence, Result
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking

Asked = Callable[[Context, Pole, int], Iterator[tuple[str, Verdict, str, str]]]
"""Role, verdict, words and cure of what is asked of a contact and an input."""


def contacts_read_no_more(rule: Rule, context: Context) -> Iterator[Result]:
    """The highest voltage at each input that reads a contact and that something holds, closed and open."""
    yield from _each(rule, context, _most)


def contacts_read_levels(rule: Rule, context: Context) -> Iterator[Result]:
    """The level at each input that reads a contact, closed and open."""
    yield from _each(rule, context, _levels)


def _each(rule: Rule, context: Context, asked: Asked) -> Iterator[Result]:
    for pole in read_poles(context):
        for net in read_inputs(context, pole.found):
            try:
                for role, verdict, text, cure in asked(context, pole, net):
                    yield part_results.judged(
                        context,
                        rule,
                        pole.part,
                        verdict,
                        f"at contact {pole.name} {text}",
                        evidence=_evidence(verdict.worst),
                        remedy=cure,
                        chain=pole.found.elements,
                        role=f"{pole.name} {role}",
                    )
            except Lacking as reason:
                yield part_results.lacking(context, rule, pole.part, reason, f"{pole.name} {context.net(net)}")


def _evidence(told: Claim) -> Iterable[Evidence]:
    """The levels behind a verdict; of an input that nothing holds there is none."""
    return told.evidence() if told.limit.symbol else ()


def _most(context: Context, pole: Pole, net: int) -> Iterator[tuple[str, Verdict, str, str]]:
    if floats(context, pole.channel, pole.found, net):
        return
    verdict = highest(context, pole.channel, pole.found, net)
    yield context.net(net), verdict, most_words(context, net, verdict), most_cure(context, net)


def _levels(context: Context, pole: Pole, net: int) -> Iterator[tuple[str, Verdict, str, str]]:
    name = context.net(net)
    if floats(context, pole.channel, pole.found, net):
        nothing = decide(lambda _: bare(Figure("", 0.0, name="ways that hold it"), (), 1.0))
        cure = f"a pull-up or pull-down at {name}, or state the receiver's own"
        yield f"open {name}", nothing, f"nothing holds input {name} while it is open", cure
        return
    for state, verdict in both_levels(context, pole.channel, pole.found, net):
        yield f"{state} {name}", verdict, level_words(context, net, state, verdict), LEVEL_CURE

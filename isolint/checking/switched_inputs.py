"""What a logic input reads of an output that switches: both its levels, and the most that it sees.

In: a rule, a channel whose output is a switch. Out: its results; that there is none where no stated input reads it.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.claims import Claim, at_least, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import Switched, powered, switched
from isolint.checking.switched_levels import level, read_inputs
from isolint.checking.verdict import Verdict, decide
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.demands import logic_level
from isolint.worstcase.figures import Figure
from isolint.worstcase.pin_nets import input_voltage
from isolint.worstcase.uncertain import WORST, Lacking, Setting, unique

_NO_VOLTS = 1e-9


def _found(context: Context, channel: Channel) -> tuple[Switched, tuple[int, ...]]:
    found = switched(context, channel)
    return found, read_inputs(context, found)


def _none(rule: Rule, context: Context, channel: Channel) -> Result:
    text = f"{channel.subject}: no stated logic input reads its output"
    return context.channel_result(rule, channel, "notApplicable", text)


def _refused(channel: Channel) -> None:
    if channel.part.kind.output.switch != "passes":
        raise Lacking("a logic input reads what a thyristor output switches; that is not judged")


def reads_no_more(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """The highest voltage at each input, with the output closed and open."""
    found, nets = _found(context, channel)
    if not nets:
        yield _none(rule, context, channel)
        return
    powered(context, found)
    _refused(channel)
    for net in nets:
        verdict = highest(context, channel, found, net)
        yield context.judged(
            rule,
            channel,
            verdict,
            most_words(context, net, verdict),
            role=f"input {context.net(net)}",
            evidence=verdict.worst.evidence(),
            remedy=most_cure(context, net),
            chain=found.elements,
        )


def highest(context: Context, channel: Channel, found: Switched, net: int) -> Verdict:
    """Whether an input stands what it sees with the output closed and open."""
    rating = input_voltage(context.lookup, net)

    def claim(setting: Setting) -> Claim:
        both = [level(context, channel, found, net, closed, setting) for closed in (False, True)]
        volts = Figure("V_in", max(one.high for one in both), "V", f"highest voltage at input {context.net(net)}")
        limit = Figure("V_in_max", setting.low(rating), "V", source=rating.origin)
        terms = unique([rating, *both[0].terms, *both[1].terms])
        return at_most(volts, limit, terms, least=_NO_VOLTS).shown_above(_NO_VOLTS)

    return decide(claim)


def most_words(context: Context, net: int, verdict: Verdict) -> str:
    """What an input sees and stands."""
    sees, stands = verdict.worst.beside
    return f"input {context.net(net)} stands {stands} and sees up to {sees}"


def most_cure(context: Context, net: int) -> str:
    """What lowers the voltage at an input."""
    return f"pull up to the supply of input {context.net(net)}, or divide the voltage"


def reads_levels(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """The level at each input with the output closed, and with it open."""
    found, nets = _found(context, channel)
    if not nets:
        yield _none(rule, context, channel)
        return
    powered(context, found)
    _refused(channel)
    for net in nets:
        for state, verdict in both_levels(context, channel, found, net):
            yield context.judged(
                rule,
                channel,
                verdict,
                level_words(context, net, state, verdict),
                role=f"{state} {context.net(net)}",
                evidence=verdict.worst.evidence(),
                remedy=LEVEL_CURE,
                chain=found.elements,
            )


LEVEL_CURE = "another pull-up or pull-down, or another receiver"


def both_levels(context: Context, channel: Channel, found: Switched, net: int) -> Iterator[tuple[str, Verdict]]:
    """Whether an input reads one level with the output closed, and the other with it open."""
    closed, open_ = (level(context, channel, found, net, each, WORST) for each in (True, False))
    pulls_down = closed.low + closed.high < open_.low + open_.high
    for each in (True, False):
        yield ("closed" if each else "open"), _level(context, channel, found, net, each, pulls_down is each)


def _level(context: Context, channel: Channel, found: Switched, net: int, closed: bool, low: bool) -> Verdict:
    name = context.net(net)
    state = "closed" if closed else "open"

    def claim(setting: Setting) -> Claim:
        at = level(context, channel, found, net, closed, setting)
        needed = logic_level(context.lookup, net, low, setting)
        terms = unique([*at.terms, *needed.terms])
        if low:
            volts = Figure("V_low", at.high, "V", f"level of {name} with the output {state}")
            return at_most(volts, Figure("V_low_max", needed.level, "V"), terms, least=_NO_VOLTS)
        volts = Figure("V_high", at.low, "V", f"level of {name} with the output {state}", end="min")
        return at_least(volts, Figure("V_high_min", needed.level, "V"), terms)

    return decide(claim)


def level_words(context: Context, net: int, state: str, verdict: Verdict) -> str:
    """What an input sees in a state and what its level wants."""
    stands, wanted = verdict.worst.beside
    low = verdict.worst.found.symbol == "V_low"
    want = f"{wanted} at most are" if low else f"{wanted} are"
    return f"with its output {state} input {context.net(net)} sees {stands}, {want} a {'low' if low else 'high'} level"

"""What is said where judging a channel takes more work than its budget: open, and which fact or card makes it less."""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import OutputFacts
from isolint.interfaces.entities import Channel
from isolint.results import MissingFact, Result
from isolint.worstcase.budget import OverBudget

FEWER = "join parts that lie in series or in parallel into one, or state their values more closely"


def too_much(context: Context, rule: Rule, channel: Channel, reason: OverBudget) -> Result:
    """The open result of a rule on a channel whose budget is spent."""
    missing = _exclusive(context, channel)
    text = f"{channel.subject}: not judged: {reason.reason}"
    if missing:
        text += f"; its drive network has {len(missing)} outputs that may be active together as far as anybody says"
    return context.channel_result(rule, channel, "open", text, missing=missing, remedy="" if missing else FEWER)


def _exclusive(context: Context, channel: Channel) -> tuple[MissingFact, ...]:
    """The facts that would leave out most states: outputs of which at most one is active; none for a single one."""
    nets = [held.net for held in channel.drive.boundary if held.kind == "output" and held.element < 0]
    names = [context.circuit.net_name(net) for net in nets]
    stated = [context.facts.output(name) for name in names]
    open_ones = [name for name, fact in zip(names, stated, strict=True) if fact is None or fact.exclusive is None]
    if len(open_ones) < 2:
        return ()
    return tuple(context.lookup.missing(OutputFacts.exclusive, name, '"rows"') for name in open_ones)

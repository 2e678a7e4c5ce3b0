"""What is said where judging a channel takes more work than its budget: open, and which fact or card makes it less."""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.drive import exclusive_facts

FEWER = "join parts that lie in series or in parallel into one, or state their values more closely"


def too_much(context: Context, rule: Rule, channel: Channel, reason: OverBudget) -> Result:
    """The open result of a rule on a channel whose budget is spent."""
    missing = exclusive_facts(context.lookup, channel.drive.boundary)
    text = f"{channel.subject}: not judged: {reason.reason}"
    if missing:
        text += f"; its drive network has {len(missing)} outputs that may be active together as far as anybody says"
    return context.channel_result(rule, channel, "open", text, missing=missing, remedy="" if missing else FEWER)

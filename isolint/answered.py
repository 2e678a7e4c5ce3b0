"""What was asked of a channel, and what of it is answered."""

from __future__ import annotations

from typing import Literal, NamedTuple

State = Literal["held", "failed", "open", "unused"]


class Answers(NamedTuple):
    """What was asked of one channel, by the slugs of the rules that answer; of a part where no channel is made of it.

    state: held where all is answered and nothing failed, failed where something failed that is more than a note, else
    open; of unused ones nothing is asked. unanswered: open, blocked, or without a rule. lacking: those without a rule.
    not_asked: what is asked only where its facts are stated.
    """

    subject: str
    part: str
    channel: str
    type: str
    state: State
    answered: tuple[str, ...] = ()
    unanswered: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    not_asked: tuple[str, ...] = ()

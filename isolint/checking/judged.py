"""Which channels are judged, and what is said of each in all: held, failed, open, and by which questions.

In: a context and its results. Out: the answers to the questions that the type of a channel lists. A question without a
rule is unanswered, so that no channel is held of which something was never asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from isolint.answered import Answers, State
from isolint.checking.context import Context
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rulebook
from isolint.errors import Place
from isolint.interfaces.entities import Channel, Part
from isolint.interfaces.pinsets import pin_sets
from isolint.results import UNJUDGED, Result
from isolint.types import PartType
from isolint.types.form.questions import FEEDBACK, IF_STATED, LED, LEVELS, SUPPLIES

_SAID = 4
"""How many questions without a rule are named in a result."""

_PINS = ((LED, ("anode", "coil")), (LEVELS, ("input", "enable")), (SUPPLIES, ("supply",)))
"""Questions that are asked only of parts with such pins."""


class Tally(NamedTuple):
    """Channels by what is said of them. measured: those of which some rule says whether they work."""

    measured: int
    held: int
    failed: int
    open: int


def tally(context: Context, results: Sequence[Result], answers: Iterable[Answers]) -> Tally:
    """Count the channels of a netlist."""
    measured = judged_channels(context, results)
    own = {(channel.part.path, channel.name) for channel in context.channels}
    states = [each.state for each in answers if (each.part, each.channel) in own]
    return Tally(len(own & measured), states.count("held"), states.count("failed"), states.count("open"))


def answers(context: Context, results: Sequence[Result]) -> tuple[Answers, ...]:
    """What is said of each channel, and of each part that has none but is asked something, in the order of the cards.

    A question that waits for the open one of another channel, or that something blocks, is unanswered.
    """
    said = _SaidOf(context, results)
    channels: dict[int, list[Channel]] = {}
    for channel in context.channels:
        channels.setdefault(channel.part.element, []).append(channel)
    unused = set(context.interfaces.unused)
    found: list[Answers] = []
    for part in context.interfaces.recognition.parts.values():
        own = channels.get(part.element, ())
        found += [_of_channel(context, channel, said) for channel in own]
        names = [name for name, _ in pin_sets(part)]
        idle = [name for name in names if (f"{part.path} channel {name}" if name else part.path) in unused]
        for name in idle:
            subject = f"{part.path} channel {name}" if name else part.path
            found.append(Answers(subject, part.path, name, part.type, "unused"))
        if not own and not idle and part.kind.questions:
            asked = questions(part, "")
            nets = context.circuit.pins(part.element)
            found.append(_answers(part, part.path, "", asked, _lacking(context, part, nets, asked), said))
    return tuple(found)


def questions(part: Part, use: str) -> tuple[str, ...]:
    """What is asked of a part or channel: those of its type for which it has the pins."""
    none = {slug for slugs, roles in _PINS for slug in slugs if not set(roles) & set(part.roles)}
    more = FEEDBACK if use == "feedback" else ()
    return tuple(slug for slug in dict.fromkeys((*part.kind.questions, *more)) if slug not in none)


def unjudged(context: Context) -> Iterator[Result]:
    """One open result for each type of couplers whose output no solver holds and of which a question has no rule.

    What else has no rule is told in the coverage.
    """
    lacking: dict[str, dict[str, None]] = {}
    parts: dict[str, list[Part]] = {}

    def tell(part: Part, slugs: tuple[str, ...]) -> None:
        if slugs:
            lacking.setdefault(part.type, {}).update(dict.fromkeys(slugs))
            if part not in parts.setdefault(part.type, []):
                parts[part.type].append(part)

    for channel in context.channels:
        if channel.part.kind.output.conducts:
            continue
        asked = questions(channel.part, use_of(context, channel))
        tell(channel.part, _lacking(context, channel.part, channel.pins.values(), asked))
    with_channels = {channel.part.element for channel in context.channels}
    for part in context.interfaces.recognition.parts.values():
        # A coupler of which no channel is made would be a clean run, whatever is wrong with it.
        if (
            "led" in part.kind.inputs
            and not part.kind.output.conducts
            and part.element not in with_channels
            and part.path not in context.interfaces.unused
        ):
            tell(part, _lacking(context, part, context.circuit.pins(part.element), questions(part, "")))
    for name, found in lacking.items():
        names, concerned = list(found), parts[name]
        more = f" and {len(names) - _SAID} more questions" if len(names) > _SAID else ""
        number = "1 part" if len(concerned) == 1 else f"{len(concerned)} parts"
        yield Result(
            netlist=context.netlist,
            rule=names[0],
            kind="open",
            level="none",
            message=f"nothing judges {', '.join(names[:_SAID])}{more} of a {name.replace('-', ' ')} yet ({number})",
            where=_first(context, concerned),
            subject=name,
            role=UNJUDGED,
        )


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


def _first(context: Context, parts: Iterable[Part]) -> Place:
    return min(context.place(part.element) for part in parts)


def has_rule(rulebook: Rulebook, kind: PartType, slug: str) -> bool:
    """Whether a rule answers a question of a type."""
    rule = rulebook.named(slug)
    return rule is not None and rule.asks(kind)


def _lacking(context: Context, part: Part, nets: Iterable[int], asked: Iterable[str]) -> tuple[str, ...]:
    """The questions without a rule; one that waits for a stated fact is none where nobody stated that."""
    stated = any(context.facts.signal(context.net(net)) is not None for net in nets)
    return tuple(
        slug
        for slug in asked
        if not has_rule(context.rulebook, part.kind, slug)
        and (slug not in IF_STATED or (IF_STATED[slug] == "signals" and stated))
    )


class _SaidOf:
    """What the rules say, by what they say it of."""

    def __init__(self, context: Context, results: Iterable[Result]) -> None:
        barrier = {rule.slug for rule in context.rulebook.rules if rule.group == "barrier"}
        self._of: dict[tuple[str, str], dict[str, set[str]]] = {}
        for result in results:
            key = (result.part, result.channel) if result.part else (result.subject, "")
            kinds = self._of.setdefault(key, {}).setdefault(result.rule, set())
            kinds.add(_kind(result))
        self._barrier = barrier

    def of(self, part: Part, channel: str, asked: Sequence[str]) -> Mapping[str, set[str]]:
        """What was said of a channel by rule: what is said of its part as a whole counts for each of them.

        What a barrier must hold is no matter of a channel, unless its type asks.
        """
        found: dict[str, set[str]] = {}
        for key in dict.fromkeys(((part.path, channel), (part.path, ""))):
            for rule, kinds in self._of.get(key, {}).items():
                if rule in asked or rule not in self._barrier:
                    found.setdefault(rule, set()).update(kinds)
        return found


def _kind(result: Result) -> str:
    if result.kind == "notApplicable":
        return "open" if result.blocked_by else "moot"
    return "remark" if result.kind == "fail" and result.level == "note" else result.kind


def _of_channel(context: Context, channel: Channel, said: _SaidOf) -> Answers:
    asked = questions(channel.part, use_of(context, channel))
    lacking = _lacking(context, channel.part, channel.pins.values(), asked)
    return _answers(channel.part, channel.subject, channel.name, asked, lacking, said)


def _answers(
    part: Part, subject: str, channel: str, asked: Sequence[str], lacking: tuple[str, ...], said: _SaidOf
) -> Answers:
    found = said.of(part, channel, asked)
    not_asked = tuple(
        slug for slug in asked if slug in IF_STATED and slug not in lacking and found.get(slug, {"moot"}) == {"moot"}
    )
    opens = [slug for slug in (*asked, *found) if "open" in found.get(slug, ())]
    unanswered = tuple(dict.fromkeys((*opens, *lacking)))
    spoken = (slug for slug in found if found[slug] != {"moot"})
    answered = tuple(
        slug for slug in dict.fromkeys((*asked, *spoken)) if slug not in unanswered and slug not in not_asked
    )
    failed = any("fail" in kinds for kinds in found.values())
    state: State = "failed" if failed else "open" if unanswered else "held"
    return Answers(subject, part.path, channel, part.type, state, answered, unanswered, lacking, not_asked)

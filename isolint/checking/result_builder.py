"""The builder of results: identity, level, place and instance follow from the rule and from what it speaks of.

In: a rule, its verdict and its words. Out: results. Asks the circuit for names only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, cast

from isolint.checking.naming import Naming
from isolint.checking.rule import Rule, Rulebook
from isolint.checking.verdict import Verdict
from isolint.circuit import Circuit
from isolint.errors import Place
from isolint.facts import Facts
from isolint.interfaces.entities import Channel, Interfaces
from isolint.netlist.cards import NOTE_KINDS, Note
from isolint.results import LEVELS, Evidence, Kind, Level, Margin, Measure, MissingFact, Related, Result
from isolint.tables import dotted
from isolint.units import show
from isolint.worstcase.uncertain import Lacking, Term

if TYPE_CHECKING:
    from typing import TypedDict, Unpack

    from isolint.checking.rule import Matter

    class More(TypedDict, total=False):
        """What a result may say beside its message.

        element: what stands at its place. measure: how bad it is, where there is no margin.
        """

        level: Level | None
        role: str
        missing: Iterable[MissingFact]
        evidence: Iterable[Evidence]
        related: Iterable[Related]
        margin: Margin | None
        remedy: str
        blocked_by: str
        element: int | None
        measure: Measure | None


_CARD = re.compile(r"\([^()\s]+:\d+\)")
"""How a card is named in a cure."""


class ResultBuilder(Naming):
    """Makes the results of one netlist; rules that others rest on are found by what they judge."""

    def __init__(
        self,
        netlist: str,
        circuit: Circuit,
        facts: Facts,
        interfaces: Interfaces,
        settings_file: str,
        notes: Sequence[Note],
        rules: Sequence[Rule],
    ) -> None:
        super().__init__(circuit)
        self.netlist = netlist
        self.facts = facts
        self.interfaces = interfaces
        self.settings_file = settings_file
        self.notes = tuple(notes)
        self._losses = frozenset((note.place, note.message) for note in notes if note.strict)
        self.rulebook = Rulebook(rules)
        self.is_trial = False

    def speaker(self, matter: Matter) -> str:
        """The slug of the rule that judges a matter, which results name that rest on it."""
        return self.rulebook.judge_of(matter).slug

    def result(
        self,
        rule: Rule,
        kind: Kind,
        message: str,
        where: Place,
        subject: str,
        *,
        channel: Channel | None = None,
        level: Level | None = None,
        role: str = "",
        missing: Iterable[MissingFact] = (),
        evidence: Iterable[Evidence] = (),
        related: Iterable[Related] = (),
        margin: Margin | None = None,
        remedy: str = "",
        blocked_by: str = "",
        element: int | None = None,
        measure: Measure | None = None,
        members: Iterable[str] = (),
    ) -> Result:
        """A result of `rule`; its level is the rule's own or the settings', `none` unless kind is fail.

        element: what stands at `where`; the card of a repeated block does not tell in which instance. measure: how bad
        a failure is, where there is no margin. members: the elements of a joint.
        """
        chosen: Level = self._level(rule, level) if kind == "fail" else "none"
        if (kind == "fail") == (chosen == "none"):
            raise ValueError(f"{rule.slug}: kind {kind} with level {chosen}")
        if margin is not None and not math.isnan(margin.value):
            measure = Measure(margin.value, larger_is_worse=False)
        if kind == "fail" and measure is None:
            raise ValueError(f"{rule.slug}: a failure that does not say how bad it is")
        made = Result(
            netlist=self.netlist,
            rule=rule.slug,
            kind=kind,
            level=chosen,
            message=message,
            where=where,
            subject=subject,
            role=role,
            evidence=tuple(evidence),
            related=tuple(related),
            missing=tuple(missing),
            margin=margin,
            remedy=self._where_it_is_drawn(remedy) if kind == "fail" else remedy,
            blocked_by=blocked_by,
            instance="" if element is None else self.circuit.instance_path(element),
            acceptable=rule.acceptable,
            measure=measure if kind == "fail" else None,
            members=tuple(members),
        )
        if channel is not None:
            part = channel.part
            return made._replace(
                instance=self.circuit.instance_path(part.element), part=part.path, channel=channel.name
            )
        return made

    def _level(self, rule: Rule, own: Level | None) -> Level:
        """The settings' level of a rule, else its default; a result that is milder by itself (`own`) stays so."""
        stated = self.facts.levels.get(rule.slug)
        level = rule.level if stated is None else cast(Level, stated.value)
        if own is None:
            return level
        return own if stated is None else min(own, level, key=LEVELS.index)

    def channel_result(
        self, rule: Rule, channel: Channel, kind: Kind, message: str, where: Place | None = None, **more: Unpack[More]
    ) -> Result:
        """A result about a channel; `where` is the coupler's card unless given."""
        place = self.place(channel.part.element) if where is None else where
        return self.result(rule, kind, message, place, channel.subject, channel=channel, **more)

    def lacking(self, rule: Rule, channel: Channel, reason: Lacking, role: str = "") -> Result:
        """What a rule says when a quantity could not be computed."""
        if reason.blocked_by is not None:
            return self.channel_result(
                rule,
                channel,
                "notApplicable",
                f"{channel.subject}: {reason.reason}",
                blocked_by=self.speaker(reason.blocked_by),
                role=role,
            )
        message = f"{channel.subject}: not judged: {reason.reason}"
        where = None if reason.element is None else self.place(reason.element)
        return self.channel_result(
            rule, channel, "open", message, where, missing=reason.missing, remedy=reason.remedy, role=role
        )

    def judged(
        self,
        rule: Rule,
        channel: Channel,
        verdict: Verdict,
        text: str,
        element: int | None = None,
        *,
        evidence: Iterable[Evidence],
        margin: Margin | None = None,
        remedy: str | Callable[[], str] = "",
        chain: Iterable[int],
        role: str = "",
    ) -> Result:
        """The result of a verdict: `element` is the card to change first, the coupler's where it is None.

        margin: where the verdict's claim shows none. remedy: what cures a failure, asked for where it is one.
        """
        missing: tuple[MissingFact, ...] = ()
        said = f"{channel.subject}: {text}"
        cure = "" if verdict.kind != "fail" or self.is_trial else remedy if isinstance(remedy, str) else remedy()
        if verdict.kind == "open" and not self.is_trial:
            missing = self.missing(verdict.settling.terms)
            said = f"{channel.subject}: {text}; {rests_on(verdict)}"
        made = self.channel_result(
            rule,
            channel,
            verdict.kind,
            said,
            None if element is None else self.place(element),
            evidence=evidence,
            margin=verdict.worst.shown or margin,
            measure=verdict.worst.measure,
            remedy=cure,
            related=self.related([channel.part.element, *chain]),
            missing=missing,
            role=role,
        )
        return made if self.is_trial else made._replace(assumptions=verdict.assumptions)

    def missing(self, terms: Iterable[Term]) -> tuple[MissingFact, ...]:
        """The lines to write that would state some defaulted terms."""
        files = {
            f"{dotted('parts', part.record.name)}.": part.record.file
            for part in self.interfaces.recognition.parts.values()
            if part.record is not None
        }
        facts: list[MissingFact] = []
        for term in terms:
            own = term.key.startswith("parts.")
            file = next((files[start] for start in files if own and term.key.startswith(start)), self.settings_file)
            facts.append(MissingFact(file, term.key, term.example.replace("\\", "\\\\")))
        return tuple(facts)

    def noted(self, rule: Rule) -> Iterable[Result]:
        """What the reader noted for a rule."""
        for note in self.notes_of(rule):
            yield self.note_result(rule, note)

    def notes_of(self, rule: Rule) -> Iterable[Note]:
        """The notes of the reader that a rule judges."""
        return (note for note in self.notes if note.kind in rule.judges)

    def note_result(
        self, rule: Rule, note: Note, kind: Kind = "fail", level: Level | None = None, more: str = ""
    ) -> Result:
        """The result of a note of the reader, at its own level unless one is given or stated; `more` is said behind it.

        A remark on something that is not lost stays one whatever the settings say.
        """
        # What kind of remark it is, without the values and line numbers in it.
        role = " ".join(re.findall(r"(?<![\w.])[a-z-]{2,}(?![\w.])", note.message))
        own = level or note.level
        stated = self.facts.levels.get(rule.slug)
        if stated is not None and (own != "note" or note.strict):
            own = cast("Level", stated.value)
        made = self.result(
            rule,
            kind,
            note.message + more,
            note.place,
            note.subject,
            level="note" if own == "none" else own,
            role=role,
            remedy=note.remedy,
            measure=Measure.number_of(1),
        )
        return made._replace(level=own) if kind == "fail" else made

    def _where_it_is_drawn(self, remedy: str) -> str:
        """A cure that names a card, for a netlist that a schematic tool writes: there the next export would undo it."""
        exported = self.facts.reading.exported
        if exported is None or not exported.value or not _CARD.search(remedy):
            return remedy
        return f"in the schematic: {remedy}"

    def notes_decide(self, slug: str) -> bool:
        """Whether the results of a rule come from notes of the reader."""
        rule = self.rulebook.named(slug)
        return rule is not None and not NOTE_KINDS.isdisjoint(rule.judges)

    def counts_in_strict(self, result: Result) -> bool:
        """Whether a failure tells that something of the circuit may be lost."""
        return (result.where, result.message) in self._losses


def rests_on(verdict: Verdict) -> str:
    """Which values nobody stated an open verdict rests on, and where it flips."""
    terms, flips, together = verdict.settling
    names = [
        f"{term.name} (flips at {shown(flips[term.key], term)})" if term.key in flips else term.name for term in terms
    ]
    joint = " and " if together else " or "
    return f"nobody stated {joint.join(names)}, and that decides"


def shown(value: float, term: Term) -> str:
    """A term's value with its unit; tolerances in percent."""
    return show(value, "%" if term.key.endswith(".tolerance") and term.unit == "1" else term.unit)

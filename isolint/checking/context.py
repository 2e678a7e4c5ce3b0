"""What rules may ask for: facts about the netlist, computed quantities, and the builder of results."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, cast

from isolint.checking.analysis import Analysis
from isolint.checking.rule import Rule, Rulebook
from isolint.checking.verdict import Verdict
from isolint.circuit import Circuit
from isolint.errors import Place
from isolint.facts import Facts
from isolint.interfaces.entities import Channel, Interfaces
from isolint.interfaces.walk import Walker
from isolint.netlist.cards import Note
from isolint.parts import PartRecord
from isolint.results import LEVELS, Evidence, Kind, Level, Margin, MissingFact, Related, Result
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase.drive import Drive
from isolint.worstcase.load import Load
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import WORST, Lacking, Term

if TYPE_CHECKING:
    from isolint.checking.rule import Matter

__all__ = ["LEAST_OHMS", "NO_CURRENT", "Analysis", "Context"]

NO_CURRENT = 1e-9
"""Amperes; less is none."""

LEAST_OHMS = 1.0
"""A resistor below this is a link; the search for a value that cures starts here."""

_SEARCH_SPAN = 1e3
_STRIDE = 4


class Context:
    """One netlist as rules see it."""

    def __init__(
        self,
        netlist: str,
        circuit: Circuit,
        facts: Facts,
        interfaces: Interfaces,
        walker: Walker,
        settings_file: str,
        notes: Sequence[Note],
        record_for: Callable[[str, str | None], PartRecord | None],
        rules: Sequence[Rule],
    ) -> None:
        self.rulebook = Rulebook(rules)
        self.netlist = netlist
        self.circuit = circuit
        self.facts = facts
        self.interfaces = interfaces
        self.settings_file = settings_file
        self.notes = tuple(notes)
        self._record_for = record_for
        self.lookup = Lookup(circuit, facts, walker, settings_file)
        self.analysis = Analysis(self.lookup, interfaces)
        self._by_place: Mapping[Place, Sequence[int]] | None = None
        self._couplings: Mapping[int, frozenset[int]] | None = None

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels in the order of the cards."""
        return self.interfaces.channels

    # -- words ------------------------------------------------------------------------------------------------

    def place(self, element: int) -> Place:
        """Where an element's card stands."""
        return self.circuit.place(element)

    def named(self, element: int) -> str:
        """An element with its place: `R4 (board.cir:12)`."""
        place = self.place(element)
        return f"{self.circuit.path(element)} ({place.file.rsplit('/', 1)[-1]}:{place.line})"

    def net(self, net: int) -> str:
        """The name of a net."""
        return self.circuit.net_name(net)

    def related(self, elements: Iterable[int]) -> tuple[Related, ...]:
        """The chain through some elements, each with its value where it has one."""
        chain: list[Related] = []
        for element in dict.fromkeys(elements):
            value = self.circuit.value(element)
            unit = {"R": "ohm", "L": "H", "C": "F", "V": "V", "I": "A"}.get(self.circuit.letter(element), "")
            shown = f" {show(value, unit)}" if value is not None and unit else ""
            nets = " ".join(self.net(net) for net in self.circuit.pins(element))
            chain.append(Related(self.place(element), f"{self.circuit.path(element)}{shown} ({nets})"))
        return tuple(chain)

    def elements_at(self, place: Place) -> Sequence[int]:
        """The elements whose card stands at a place; several for a card in a sheet that is used several times."""
        if self._by_place is None:
            by_place: dict[Place, list[int]] = {}
            for element in self.circuit.elements():
                by_place.setdefault(self.circuit.place(element), []).append(element)
            self._by_place = by_place
        return self._by_place.get(place, ())

    def record_of(self, element: int) -> PartRecord | None:
        """The part record that a part is known by, ordinary ones too; None where there is none."""
        return self._record_for(self.circuit.path(element), self.circuit.model_name(element))

    def coupled_to(self, inductor: int) -> frozenset[int]:
        """The inductors to which K cards couple an inductor; empty for one that stands alone."""
        if self._couplings is None:
            couplings: dict[int, frozenset[int]] = {}
            for element in self.circuit.elements_of("K"):
                prefix = self.circuit.instance_path(element)
                names = self.circuit.control_names(element)
                found = (self.circuit.find(f"{prefix}.{name}" if prefix else name) for name in names)
                windings = frozenset(winding for winding in found if winding is not None)
                for winding in windings:
                    couplings[winding] = couplings.get(winding, frozenset()) | windings - {winding}
            self._couplings = couplings
        return self._couplings.get(inductor, frozenset())

    def speaker(self, matter: Matter) -> str:
        """The slug of the rule that judges a matter, which results name that rest on it."""
        return self.rulebook.judge_of(matter).slug

    # -- results ----------------------------------------------------------------------------------------------

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
    ) -> Result:
        """A result of `rule`; its level is the rule's own or the settings', `none` unless kind is fail.

        element: what stands at `where`; the card of a repeated block does not tell in which instance.
        """
        chosen: Level = self._level(rule, level) if kind == "fail" else "none"
        if (kind == "fail") == (chosen == "none"):
            raise ValueError(f"{rule.slug}: kind {kind} with level {chosen}")
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
            remedy=remedy,
            blocked_by=blocked_by,
            instance="" if element is None else self.circuit.instance_path(element),
            acceptable=rule.acceptable,
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
        self, rule: Rule, channel: Channel, kind: Kind, message: str, where: Place | None = None, **more: object
    ) -> Result:
        """A result about a channel; `where` is the coupler's card unless given."""
        place = self.place(channel.part.element) if where is None else where
        return self.result(rule, kind, message, place, channel.subject, channel=channel, **more)  # type: ignore[arg-type]

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
        element: int | None,
        *,
        evidence: Iterable[Evidence],
        margin: Margin | None,
        remedy: str,
        chain: Iterable[int],
        role: str = "",
    ) -> Result:
        """The result of a verdict: `element` is the card to change first, the coupler's where it is None."""
        missing: tuple[MissingFact, ...] = ()
        said = f"{channel.subject}: {text}"
        if verdict.kind == "open":
            missing = self.missing(verdict.settled_by)
            said = f"{channel.subject}: {text}; {rests_on(verdict)}"
        made = self.channel_result(
            rule,
            channel,
            verdict.kind,
            said,
            None if element is None else self.place(element),
            evidence=evidence,
            margin=margin,
            remedy=remedy,
            related=self.related([channel.part.element, *chain]),
            missing=missing,
            role=role,
        )
        return made._replace(assumptions=verdict.assumptions)

    def level_holds(self, channel: Channel) -> Drive:
        """The drive of a channel whose sources hold what they promise.

        `Lacking` where a port's level or a switch's drop is not known.
        """
        drive = self.analysis.drive(channel)
        for port in drive.ports:
            limit = port.model.limit
            if limit is not None and port.current.low.value > limit:
                text = (
                    f"output {port.name} gives at least {show(port.current.low.value, 'A')}, its level is "
                    f"guaranteed up to {show(limit, 'A')}"
                )
                raise Lacking(text, blocked_by="port")
        for switch in drive.switches:
            if switch.available < switch.required:
                raise Lacking(f"transistor {self.circuit.path(switch.element)} is not fully on", blocked_by="port")
        return drive

    def bears(self, channel: Channel, analysis: Analysis) -> bool:
        """Whether LED and sources bear the largest LED current, with the headroom that is wanted."""
        drive = analysis.drive(channel)
        led = analysis.led(channel.part)
        within = all(
            row.high.value <= led.limit(row.temperature, WORST.low(led.forward_current_max))
            for row in drive.by_temperature
        )
        wanted = self.lookup.drive_headroom()
        ports = all(
            port.model.limit is None or port.current.high.value * wanted <= port.model.limit for port in drive.ports
        )
        return within and ports

    def suffices(self, channel: Channel, analysis: Analysis) -> bool:
        """Whether the LED current is enough for the load, or for what the record asks, as far as that is known."""
        record = channel.part.record
        wanted = (None if record is None else record.switching_current) or 0.0
        if analysis.drive(channel).current.low.value < wanted:
            return False
        try:
            return analysis.transfer(channel).worst.margin >= self.lookup.transfer_margin()
        except Lacking as reason:
            return channel.part.type not in ("phototransistor", "photodarlington") or "curve" not in reason.reason

    def driven(self, channel: Channel) -> float:
        """Largest nominal LED current over all states, amperes.

        `Lacking` where it is none and a net of the drive leads nowhere.
        """
        drives = self.analysis.drives()
        forward = max(drives.led_current(channel, state) for state in drives.states(channel))
        loose = [held for held in channel.drive.boundary if held.kind == "loose"]
        if forward <= NO_CURRENT and loose:
            names = ", ".join(self.net(held.net) for held in loose)
            example = '[lines."{0}"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]'
            facts = [
                self.lookup.missing(f'lines."{name}".on', example.format(name))
                for name in map(self.net, (held.net for held in loose))
            ]
            raise Lacking(f"nothing in this netlist drives net {names}", facts)
        return forward

    def use_of(self, channel: Channel) -> str:
        """What the output is stated to be used for where it is no switch: `linear` or `feedback`, else empty."""
        for role in ("collector", "emitter", "output"):
            facts = self.facts.signal(self.net(channel.pins[role])) if role in channel.pins else None
            if facts is not None and facts.use is not None and facts.use.value in ("linear", "feedback"):
                return facts.use.value
        return ""

    def output_resistor(self, channel: Channel) -> int | None:
        """The smallest resistor at an output's collector or emitter, None without one."""
        ends = {channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins}
        found = [
            (self.lookup.ohms(element) or 0.0, element)
            for element in channel.load.elements
            if self.circuit.letter(element) == "R"
        ]
        near = [(ohms, element) for ohms, element in found if ohms > 0.0 and ends & set(self.circuit.pins(element))]
        return min(near)[1] if near else None

    def pull_resistor(self, channel: Channel, net: int) -> int | None:
        """The smallest resistor between a net and a supply, None without one."""
        found: list[tuple[float, int]] = []
        for element in channel.load.elements:
            nets = self.circuit.pins(element)
            if self.circuit.letter(element) == "R" and net in nets:
                held = [self.lookup.walker.held(other) for other in nets if other != net]
                if any(item is not None and item.kind in ("supply", "line") for item in held):
                    found.append((self.lookup.ohms(element) or 0.0, element))
        return min(found)[1] if found else None

    def load_resistor(self, channel: Channel, load: Load) -> int | None:
        """The resistor of the load network that takes most of the output current, None without one."""
        best: tuple[float, int] | None = None
        for element in channel.load.elements:
            ohms = self.lookup.ohms(element) if self.circuit.letter(element) == "R" else None
            if ohms is None or ohms <= 0.0:
                continue
            near = sum(
                net in (channel.pins.get("collector"), channel.pins.get("emitter"), load.receiver.net)
                for net in self.circuit.pins(element)
            )
            key = near / ohms
            if near and (best is None or key > best[0]):
                best = (key, element)
        return None if best is None else best[1]

    def missing(self, terms: Iterable[Term]) -> tuple[MissingFact, ...]:
        """The lines to write that would state some defaulted terms."""
        files = {
            part.record.name: part.record.file
            for part in self.interfaces.recognition.parts.values()
            if part.record is not None
        }
        facts: list[MissingFact] = []
        for term in terms:
            name = term.key.split(".")[1] if term.key.startswith("parts.") else ""
            facts.append(MissingFact(files.get(name, self.settings_file), term.key, term.example.replace("\\", "\\\\")))
        return tuple(facts)

    def noted(self, rule: Rule) -> Iterable[Result]:
        """What the reader noted for a rule."""
        for note in self.notes:
            if note.kind in rule.judges:
                # What kind of remark it is, without the values and line numbers in it.
                role = " ".join(re.findall(r"(?<![\w.])[a-z-]{2,}(?![\w.])", note.message))
                yield self.result(
                    rule,
                    "fail",
                    note.message,
                    note.place,
                    note.subject,
                    level=note.level,
                    role=role,
                    remedy=note.remedy,
                )

    # -- cures ------------------------------------------------------------------------------------------------

    def limiting_resistor(self, channel: Channel, drive: Drive) -> int | None:
        """The resistor of the drive network that drops most voltage in series with the LED, None without one."""
        _, point = drive.point(drive.current.high)
        current = max(abs(point.current(drive.led)), 1e-12)
        best: tuple[float, int] | None = None
        for element in channel.drive.elements:
            if self.circuit.letter(element) != "R":
                continue
            name = self.circuit.path(element)
            through = abs(point.current(name))
            drop = through * (self.lookup.ohms(element) or 0.0)
            if through > 0.5 * current and drop > 0.0 and (best is None or drop > best[0]):
                best = (drop, element)
        return None if best is None else best[1]

    def change(self, element: int, ohms: float) -> float:
        """By which factor a resistor would have to change, 1 or more."""
        own = max(self.lookup.ohms(element) or 0.0, LEAST_OHMS)
        return max(ohms / own, own / ohms)

    def resistor_that_cures(self, element: int, holds: Callable[[Analysis], bool], larger: bool) -> float | None:
        """The preferred value (E24) nearest to a resistor's own at which `holds` is true; None when there is none.

        larger: whether it must grow. Every other value stays, worst case included.
        """
        own = self.lookup.ohms(element)
        if own is None or (own <= 0.0 and not larger):
            return None
        own = max(own, LEAST_OHMS)

        def good(ohms: float) -> bool:
            try:
                other = Analysis(self.lookup.resized({element: ohms}), self.interfaces, self.analysis, element)
                return holds(other)
            except Lacking:
                return False

        ends = (own * 1.001, own * _SEARCH_SPAN) if larger else (own / _SEARCH_SPAN, own / 1.001)
        values = preferred.series(*ends)
        if not larger:
            values.reverse()
        # What holds may be a window (a source or LED bears no more): short strides first, then back by halves.
        bad, fine = -1, 0
        while fine < len(values) and not good(values[fine]):
            stride = _STRIDE if fine < 4 * _STRIDE else 2 * _STRIDE
            bad, fine = fine, fine + stride
        if fine >= len(values):
            return None
        while fine - bad > 1:
            middle = (bad + fine) // 2
            if good(values[middle]):
                fine = middle
            else:
                bad = middle
        return values[fine]


def rests_on(verdict: Verdict) -> str:
    """Which values nobody stated an open verdict rests on, and where it flips."""
    flips = verdict.flips or {}
    names = [
        f"{term.name} (flips at {shown(flips[term.key], term)})" if term.key in flips else term.name
        for term in verdict.settled_by
    ]
    joint = " and " if verdict.together else " or "
    return f"nobody stated {joint.join(names)}, and that decides"


def shown(value: float, term: Term) -> str:
    """A term's value with its unit; tolerances in percent."""
    return show(value, "%" if term.key.endswith(".tolerance") and term.unit == "1" else term.unit)

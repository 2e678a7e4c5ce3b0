"""What rules may ask for: facts about the netlist, computed quantities, and the builder of results."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TypeVar, cast

from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict
from isolint.circuit import Circuit
from isolint.errors import Place
from isolint.facts import Facts
from isolint.interfaces.values import Channel, Interfaces, Part
from isolint.interfaces.walk import Walker
from isolint.netlist.cards import Note
from isolint.results import Evidence, Kind, Level, Margin, MissingFact, Related, Result
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase.assembly import Assembler
from isolint.worstcase.drive import Drive, DriveAnalyser
from isolint.worstcase.leds import LedTerms, led_terms
from isolint.worstcase.load import Load, LoadAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.margin import Transfer, transfer
from isolint.worstcase.terms import WORST, Lacking, Setting, Term
from isolint.worstcase.transfer import TransferAnalyser

T = TypeVar("T")

_SEARCH_STEPS = 24
_SEARCH_SPAN = 1e4


class Analysis:
    """Drive, load and transfer of the channels of one netlist, each computed once per setting."""

    def __init__(self, lookup: Lookup, interfaces: Interfaces) -> None:
        self.lookup = lookup
        self.interfaces = interfaces
        self._leds: dict[int, LedTerms] = {}
        self._analysers: dict[Setting, tuple[DriveAnalyser, LoadAnalyser]] = {}
        self._known: dict[tuple[str, str, Setting], object] = {}

    def led(self, part: Part) -> LedTerms:
        """Terms of a part's LED."""
        if part.element not in self._leds:
            self._leds[part.element] = led_terms(part)
        return self._leds[part.element]

    def drives(self, setting: Setting = WORST) -> DriveAnalyser:
        """The analyser of drive networks in a setting."""
        return self._pair(setting)[0]

    def loads(self, setting: Setting = WORST) -> LoadAnalyser:
        """The analyser of load networks in a setting."""
        return self._pair(setting)[1]

    def _pair(self, setting: Setting) -> tuple[DriveAnalyser, LoadAnalyser]:
        if setting not in self._analysers:
            recognition = self.interfaces.recognition
            assembler = Assembler(self.lookup, self.led, recognition.parts, setting)
            drives = DriveAnalyser(self.lookup, assembler, setting)
            loads = LoadAnalyser(self.lookup, assembler, recognition, setting, drives.temperatures())
            self._analysers[setting] = (drives, loads)
        return self._analysers[setting]

    def drive(self, channel: Channel, setting: Setting = WORST) -> Drive:
        """The drive of a channel; raises `Lacking`."""
        return self._once("drive", channel, setting, lambda: self.drives(setting).analyse(channel))

    def load(self, channel: Channel, setting: Setting = WORST) -> Load:
        """The load of a channel; raises `Lacking`."""
        return self._once("load", channel, setting, lambda: self.loads(setting).analyse(channel))

    def ratio(self, channel: Channel, setting: Setting = WORST) -> TransferAnalyser:
        """The ratio factors of a channel's part."""
        return TransferAnalyser(self.lookup, channel.part, setting)

    def transfer(self, channel: Channel, setting: Setting = WORST) -> Transfer:
        """The transfer margin of a channel; raises `Lacking`."""

        def compute() -> Transfer:
            return transfer(channel, self.drive(channel, setting), self.load(channel, setting), self.ratio(channel, setting))

        return self._once("transfer", channel, setting, compute)

    def _once(self, what: str, channel: Channel, setting: Setting, compute: Callable[[], T]) -> T:
        key = (what, channel.subject, setting)
        if key not in self._known:
            try:
                self._known[key] = compute()
            except Lacking as lacking:
                self._known[key] = lacking
        found = self._known[key]
        if isinstance(found, Lacking):
            raise found
        return found  # type: ignore[return-value]


class Context:
    """One netlist as rules see it."""

    def __init__(
        self, netlist: str, circuit: Circuit, facts: Facts, interfaces: Interfaces, walker: Walker, settings_file: str, notes: Sequence[Note]
    ) -> None:
        self.netlist = netlist
        self.circuit = circuit
        self.facts = facts
        self.interfaces = interfaces
        self.settings_file = settings_file
        self.notes = tuple(notes)
        self.lookup = Lookup(circuit, facts, walker, settings_file)
        self.analysis = Analysis(self.lookup, interfaces)

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
    ) -> Result:
        """A result of `rule`; its level is the rule's own or the settings', `none` unless kind is fail."""
        if kind == "fail":
            stated = self.facts.levels.get(rule.slug)
            chosen: Level = cast(Level, stated.value) if stated is not None else (level or rule.level)
        else:
            chosen = "none"
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
        )
        if channel is not None:
            part = channel.part
            return replace(made, instance=self.circuit.instance_path(part.element), part=part.path, channel=channel.name)
        return made

    def channel_result(self, rule: Rule, channel: Channel, kind: Kind, message: str, where: Place | None = None, **more: object) -> Result:
        """A result about a channel; `where` is the coupler's card unless given."""
        place = self.place(channel.part.element) if where is None else where
        return self.result(rule, kind, message, place, channel.subject, channel=channel, **more)  # type: ignore[arg-type]

    def lacking(self, rule: Rule, channel: Channel, reason: Lacking, role: str = "") -> Result:
        """What a rule says when a quantity could not be computed."""
        if reason.blocked_by:
            return self.channel_result(rule, channel, "notApplicable", f"{channel.subject}: {reason.reason}", blocked_by=reason.blocked_by, role=role)
        message = f"{channel.subject}: not judged: {reason.reason}"
        return self.channel_result(rule, channel, "open", message, missing=reason.missing, role=role)

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
            said = f"{channel.subject}: not judged: {text}; this rests on values that nobody stated"
        made = self.channel_result(
            rule, channel, verdict.kind, said, None if element is None else self.place(element), evidence=evidence, margin=margin,
            remedy=remedy, related=self.related([channel.part.element, *chain]), missing=missing, role=role,
        )  # fmt: skip
        return replace(made, assumptions=verdict.assumptions)

    def use_of(self, channel: Channel) -> str:
        """What the output is stated to be used for where it is no switch: `linear` or `feedback`, else empty."""
        for role in ("collector", "emitter", "output"):
            facts = self.facts.signal(self.net(channel.pins[role])) if role in channel.pins else None
            if facts is not None and facts.use is not None and facts.use.value in ("linear", "feedback"):
                return facts.use.value
        return ""

    def load_resistor(self, channel: Channel, load: Load) -> int | None:
        """The resistor of the load network that takes most of the output current, None without one."""
        best: tuple[float, int] | None = None
        for element in channel.load.elements:
            ohms = self.lookup.ohms(element) if self.circuit.letter(element) == "R" else None
            if ohms is None or ohms <= 0.0:
                continue
            near = sum(net in (channel.pins.get("collector"), channel.pins.get("emitter"), load.receiver.net) for net in self.circuit.pins(element))
            key = near / ohms
            if near and (best is None or key > best[0]):
                best = (key, element)
        return None if best is None else best[1]

    def missing(self, terms: Iterable[Term]) -> tuple[MissingFact, ...]:
        """The lines to write that would state some defaulted terms."""
        files = {part.record.name: part.record.file for part in self.interfaces.recognition.parts.values() if part.record is not None}
        facts: list[MissingFact] = []
        for term in terms:
            name = term.key.split(".")[1] if term.key.startswith("parts.") else ""
            facts.append(MissingFact(files.get(name, self.settings_file), term.key, term.example))
        return tuple(facts)

    def noted(self, rule: Rule) -> Iterable[Result]:
        """What the reader noted for a rule."""
        for note in self.notes:
            if note.rule == rule.slug:
                yield self.result(rule, "fail", note.message, note.place, note.subject, level=note.level, role=note.message, remedy=note.remedy)

    # -- cures ------------------------------------------------------------------------------------------------

    def limiting_resistor(self, channel: Channel, drive: Drive) -> int | None:
        """The resistor of the drive network that drops most voltage in series with the LED, None without one."""
        network, point = drive.point(drive.current.high)
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

    def resistor_that_cures(self, element: int, holds: Callable[[Analysis], bool], larger: bool) -> float | None:
        """The preferred value (E24) nearest to a resistor's own at which `holds` is true; None when there is none.

        larger: whether it must grow. Every other value stays, worst case included.
        """
        own = self.lookup.ohms(element)
        if own is None or own <= 0.0:
            return None

        def good(ohms: float) -> bool:
            try:
                return holds(Analysis(self.lookup.resized({element: ohms}), self.interfaces))
            except Lacking:
                return False

        bad, fine = own, own * (_SEARCH_SPAN if larger else 1.0 / _SEARCH_SPAN)
        step = 1.5 if larger else 1.0 / 1.5
        probe = own * step
        while not good(probe):
            bad = probe
            probe *= step
            if (probe > fine) if larger else (probe < fine):
                return None
        fine = probe
        for _ in range(_SEARCH_STEPS):
            middle = (bad * fine) ** 0.5
            if abs(fine / bad - 1.0) < 0.002:
                break
            if good(middle):
                fine = middle
            else:
                bad = middle
        value = preferred.at_least(fine) if larger else preferred.at_most(fine)
        return value if good(value) else None

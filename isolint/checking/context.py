"""What rules may ask for: facts about the netlist, computed quantities, and the builder of results."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
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
from isolint.parts.types import TRANSISTOR_TYPES
from isolint.results import LEVELS, Evidence, Kind, Level, Margin, MissingFact, Related, Result
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase import heat
from isolint.worstcase.assembly import Assembler
from isolint.worstcase.base import BaseTheft, base_theft, is_open
from isolint.worstcase.clamps import Clamping, clamping
from isolint.worstcase.coils import Coil, find_coils
from isolint.worstcase.drive import Drive, DriveAnalyser
from isolint.worstcase.heat import Heat, led_power
from isolint.worstcase.leds import LedTerms, led_terms
from isolint.worstcase.load import Load, LoadAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.margin import Transfer, transfer
from isolint.worstcase.off import OffAnalyser, OffLevel
from isolint.worstcase.output import OutputAnalyser, Stress
from isolint.worstcase.ports import PortAnalyser, PortUse
from isolint.worstcase.pulsed import Pulsed, pulsed
from isolint.worstcase.resistors import ResistorAnalyser
from isolint.worstcase.resistors import Stress as ResistorStress
from isolint.worstcase.reverse import Reverse, ReverseAnalyser
from isolint.worstcase.states import StateAnalyser, StateRun
from isolint.worstcase.strongest import Asked, strongest
from isolint.worstcase.terms import WORST, Lacking, Setting, Term, unique
from isolint.worstcase.transfer import TransferAnalyser

T = TypeVar("T")

NO_CURRENT = 1e-9
"""Amperes; less is none."""

LEAST_OHMS = 1.0
"""A resistor below this is a link; the search for a value that cures starts here."""

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
        self._outputs: dict[Setting, OutputAnalyser] = {}
        self._coils: tuple[tuple[Coil, Clamping], ...] | None = None

    def coils(self) -> tuple[tuple[Coil, Clamping], ...]:
        """All coils of the netlist with what takes their current; found once."""
        if self._coils is None:
            self._coils = tuple(
                (coil, clamping(self.lookup, self.interfaces, coil))
                for coil in find_coils(self.lookup, self.interfaces)
            )
        return self._coils

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

    def outputs(self, setting: Setting = WORST) -> OutputAnalyser:
        """The analyser of what outputs stand, in a setting."""
        if setting not in self._outputs:
            self._outputs[setting] = OutputAnalyser(self.loads(setting), self.coils())
        return self._outputs[setting]

    def off_voltage(self, channel: Channel, setting: Setting = WORST) -> Stress:
        """Volts across the output of a channel while it is off; raises `Lacking`."""
        return self._once("off voltage", channel, setting, lambda: self.outputs(setting).off_voltage(channel))

    def closed_current(self, channel: Channel, setting: Setting = WORST) -> Stress:
        """Amperes through the output of a channel with no voltage across it; raises `Lacking`."""
        return self._once("closed current", channel, setting, lambda: self.outputs(setting).closed_current(channel))

    def asked_current(self, channel: Channel, setting: Setting = WORST) -> Asked:
        """The current that the output of a channel may be asked to carry: by its load, and no more than its LED makes it give."""
        return self._once("asked current", channel, setting, lambda: self._asked(channel, setting))

    def _asked(self, channel: Channel, setting: Setting) -> Asked:
        closed = self.closed_current(channel, setting)
        plain = Asked(closed.high, closed.high_corner, 0.0, 0.0, None, "", closed.terms)
        if channel.part.type not in TRANSISTOR_TYPES:
            return plain
        drive = self.drive(channel, setting)
        led = drive.current.high.value
        best = strongest(self.lookup, channel.part, setting, led, [row.temperature for row in drive.by_temperature])
        if best is None:
            return plain
        terms = unique([*closed.terms, *drive.terms, *best.terms])
        given = led * best.ratio
        corner = closed.high_corner if closed.high <= given else drive.current.high.corner
        return Asked(min(closed.high, given), corner, led, best.ratio, given, best.origin, terms)

    def heat(self, channel: Channel, linear: bool, setting: Setting = WORST) -> Heat:
        """What a channel turns into heat, with its ratings; linear: its output may stand anywhere; raises `Lacking`."""
        return self._once(f"heat {linear}", channel, setting, lambda: self._heat(channel, linear, setting))

    def _heat(self, channel: Channel, linear: bool, setting: Setting) -> Heat:
        part = channel.part
        drive, closed = self.drive(channel, setting), self.closed_current(channel, setting)
        off, asked = self.off_voltage(channel, setting), self.asked_current(channel, setting)
        led = led_power(drive, setting)
        terms = [*drive.terms, *closed.terms, *off.terms, *asked.terms]
        supply = 0.0
        if linear:
            output = heat.linear(max(closed.high, 0.0), asked.strongest, max(off.high, 0.0))
        elif part.type in TRANSISTOR_TYPES:
            ratio = self.ratio(channel, setting)
            output = heat.switched(
                ratio.saturation_voltage(), max(closed.high, 0.0), asked.strongest, max(off.high, 0.0)
            )
            terms.extend(ratio.terms)
        else:
            level = None if part.record is None else part.record.output.low_level
            volts = heat.LOW_LEVEL if level is None or level.max is None else level.max
            output = heat.switched(volts, max(closed.high, 0.0), None, max(off.high, 0.0))
            supply = heat.supply_power(channel, self._supply_volts(channel, setting, terms))
        hot = setting.high(self.lookup.ambient())
        rated, more = heat.ratings(part, led.value, output.watts, supply, hot, setting)
        return Heat(led, output, hot, rated, unique([*terms, *more, self.lookup.ambient()]))

    def _supply_volts(self, channel: Channel, setting: Setting, terms: list[Term]) -> float | None:
        """The highest voltage at a part's supply pin, None where the netlist does not tell."""
        net = channel.pins.get("supply")
        held = None if net is None else self.lookup.walker.held(net)
        if net is None or held is None or held.kind != "supply":
            return None
        try:
            supply = self.lookup.supply(net, held)
        except Lacking:
            return None
        terms.append(supply)
        return setting.high(supply)

    def base_theft(self, channel: Channel, setting: Setting = WORST) -> BaseTheft | None:
        """What a circuit at the base pin takes from the photocurrent; None where the pin is open; raises `Lacking`."""
        if is_open(self.loads(setting), channel):
            return None
        return self._once(
            "base", channel, setting, lambda: base_theft(self.loads(setting), channel, self.drive(channel, setting))
        )

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
            base = self.base_theft(channel, setting)
            return transfer(
                channel, self.drive(channel, setting), self.load(channel, setting), self.ratio(channel, setting), base
            )

        return self._once("transfer", channel, setting, compute)

    def state_analyser(self, setting: Setting = WORST) -> StateAnalyser:
        """The analyser of all states of drive networks in a setting."""
        return StateAnalyser(self.lookup, self.drives(setting), setting)

    def states(self, channel: Channel, setting: Setting = WORST) -> tuple[StateRun, ...]:
        """Every state of a channel's drive network, the on state first; raises `Lacking`."""
        return self._once("states", channel, setting, lambda: self.state_analyser(setting).runs(channel))

    def port_uses(self, channel: Channel, setting: Setting = WORST) -> list[PortUse]:
        """What the logic outputs of a channel's drive carry and see beside the on state; raises `Lacking`."""

        def compute() -> list[PortUse]:
            ports = PortAnalyser(self.lookup, self.state_analyser(setting), setting)
            return ports.uses(channel, self.states(channel, setting))

        return self._once("port uses", channel, setting, compute)

    def pulsed(self, channel: Channel, setting: Setting = WORST) -> Pulsed | None:
        """Peak and average LED current of alternating or pulsed drive, None for direct current; raises `Lacking`."""
        drives = self.drives(setting)
        return self._once("pulsed", channel, setting, lambda: pulsed(channel, self.drive(channel, setting), drives, self.led(channel.part)))

    def resistors(self, channel: Channel, setting: Setting = WORST) -> dict[int, ResistorStress]:
        """Power and voltage of the resistors around a channel, by element; raises `Lacking`."""

        def compute() -> dict[int, ResistorStress]:
            return ResistorAnalyser(self.lookup, self.drives(setting), self.loads(setting), setting).stresses(channel)

        return self._once("resistors", channel, setting, compute)

    def reverse(self, channel: Channel, setting: Setting = WORST) -> Reverse:
        """The largest reverse voltage of a channel's LED; raises `Lacking`."""

        def compute() -> Reverse:
            analyser = ReverseAnalyser(self.lookup, self.drives(setting), setting)
            return analyser.analyse(channel, self.drive(channel, setting), self.states(channel, setting))

        return self._once("reverse", channel, setting, compute)

    def offs(self, setting: Setting = WORST) -> OffAnalyser:
        """The analyser of outputs in the off state, in a setting."""
        return OffAnalyser(self.lookup, self.loads(setting), self.interfaces.channels, setting)

    def dark_levels(self, channel: Channel, setting: Setting = WORST) -> tuple[OffLevel, ...]:
        """What reads a channel's output while its LED gets nothing; raises `Lacking`."""
        return self._once("dark levels", channel, setting, lambda: self.offs(setting).levels(channel))

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
        self,
        netlist: str,
        circuit: Circuit,
        facts: Facts,
        interfaces: Interfaces,
        walker: Walker,
        settings_file: str,
        notes: Sequence[Note],
    ) -> None:
        self.netlist = netlist
        self.circuit = circuit
        self.facts = facts
        self.interfaces = interfaces
        self.settings_file = settings_file
        self.notes = tuple(notes)
        self.lookup = Lookup(circuit, facts, walker, settings_file)
        self.analysis = Analysis(self.lookup, interfaces)
        self._by_place: Mapping[Place, Sequence[int]] | None = None

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
        chosen: Level = self._level(rule, level) if kind == "fail" else "none"
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
            return replace(
                made, instance=self.circuit.instance_path(part.element), part=part.path, channel=channel.name
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
        if reason.blocked_by:
            return self.channel_result(
                rule,
                channel,
                "notApplicable",
                f"{channel.subject}: {reason.reason}",
                blocked_by=reason.blocked_by,
                role=role,
            )
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
            said = f"{channel.subject}: {text}; {_rests_on(verdict)}"
        made = self.channel_result(
            rule, channel, verdict.kind, said, None if element is None else self.place(element), evidence=evidence, margin=margin,
            remedy=remedy, related=self.related([channel.part.element, *chain]), missing=missing, role=role,
        )  # fmt: skip
        return replace(made, assumptions=verdict.assumptions)

    def level_holds(self, channel: Channel) -> Drive:
        """The drive of a channel whose sources hold what they promise; `Lacking` where a port's level or a switch's drop is not known."""
        drive = self.analysis.drive(channel)
        for port in drive.ports:
            limit = port.model.limit
            if limit is not None and port.current.low.value > limit:
                text = f"output {port.name} gives at least {show(port.current.low.value, 'A')}, its level is guaranteed up to {show(limit, 'A')}"
                raise Lacking(text, blocked_by="drive-headroom-low")
        for switch in drive.switches:
            if switch.available < switch.required:
                raise Lacking(
                    f"transistor {self.circuit.path(switch.element)} is not fully on", blocked_by="drive-headroom-low"
                )
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
        """Whether the LED current is enough for the output's load, or for what the record asks, as far as that is known."""
        led = None if channel.part.record is None else channel.part.record.led
        wanted = (
            max(
                (value for value in (led.recommended_current_min, led.threshold_current) if value is not None),
                default=0.0,
            )
            if led is not None
            else 0.0
        )
        if analysis.drive(channel).current.low.value < wanted:
            return False
        try:
            return analysis.transfer(channel).worst.margin >= self.lookup.transfer_margin()
        except Lacking as reason:
            return channel.part.type not in ("phototransistor", "photodarlington") or "curve" not in reason.reason

    def driven(self, channel: Channel) -> float:
        """Largest nominal LED current over all states, amperes; `Lacking` where it is none and a net of the drive leads nowhere."""
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
            facts.append(MissingFact(files.get(name, self.settings_file), term.key, term.example))
        return tuple(facts)

    def noted(self, rule: Rule) -> Iterable[Result]:
        """What the reader noted for a rule."""
        for note in self.notes:
            if note.rule == rule.slug:
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


def _rests_on(verdict: Verdict) -> str:
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

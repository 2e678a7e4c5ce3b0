"""Computed quantities of the channels of one netlist, each once a setting.

In: a lookup and the interfaces. Out: drives, loads, transfers, states, stresses; `Lacking` where a fact is missing.
Rules ask through a context; a lookup with other resistor values gives another analysis, to find the value that cures.
A quantity is a function of the analysis, of a channel or part, and of a setting; `once` keeps what it gave.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from isolint.checking.cascade import across_alike, always_on, asked_of_led, by_output, followers, next_channel
from isolint.checking.equalised import pairs_in_series, pairs_off_with
from isolint.checking.once import Key, KnownValue, apart, once
from isolint.interfaces.beside import BesideChannels
from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel, Interfaces, Network, Part
from isolint.worstcase import heat
from isolint.worstcase.base import BaseTheft, base_theft, is_open
from isolint.worstcase.budget import Meter
from isolint.worstcase.clamps import Clamping, clamping
from isolint.worstcase.coils import FoundCoil, find_coils
from isolint.worstcase.drive import Drive, DriveAnalyser
from isolint.worstcase.heat import Heat
from isolint.worstcase.leds import LedTerms, led_terms
from isolint.worstcase.load import Beside, Load, LoadAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.margin import TransferRows, transfer
from isolint.worstcase.network_build import Assembler, Variant
from isolint.worstcase.off import OffAnalyser, OffLevel
from isolint.worstcase.output import OutputAnalyser, Stress
from isolint.worstcase.periodic import HeldLevel, PeriodicAnalyser, ageing_stress
from isolint.worstcase.plain_switches import Plain, plain
from isolint.worstcase.ports import PortAnalyser, PortUse
from isolint.worstcase.pulsed import Pulsed, pulsed
from isolint.worstcase.quantities import Bound
from isolint.worstcase.rails import Rail, RailAnalyser
from isolint.worstcase.resistors import ResistorAnalyser, Surge
from isolint.worstcase.resistors import Stress as ResistorStress
from isolint.worstcase.reverse import Reverse, ReverseAnalyser
from isolint.worstcase.smoothed import with_capacitors
from isolint.worstcase.solve import Solver
from isolint.worstcase.states import StateAnalyser, StateRun
from isolint.worstcase.strongest import AskedCurrent, strongest
from isolint.worstcase.supply_pins import supplied
from isolint.worstcase.transfer import TransferAnalyser
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique
from isolint.worstcase.waves import HIGH_GUARD, Source, Wave, dark_share, source_of, wave

T = TypeVar("T")
P = ParamSpec("P")
Quantity = Callable[Concatenate["Analysis", Channel, P], T]


def _taken_over(network: Callable[[Channel], Network]) -> Callable[[Quantity[P, T]], Quantity[P, T]]:
    """Take a quantity from the analysis that this one was made from, where the changed element plays no part in it."""

    def decorate(compute: Quantity[P, T]) -> Quantity[P, T]:
        @wraps(compute)
        def found(analysis: Analysis, channel: Channel, /, *more: P.args, **named: P.kwargs) -> T:
            if analysis.base is not None and analysis.changed not in network(channel).elements:
                return found(analysis.base, channel, *more, **named)
            return compute(analysis, channel, *more, **named)

        return found

    return decorate


class Analysis:
    """Drive, load and transfer of the channels of one netlist, each computed once per setting.

    base, changed: another analysis that differs in the value of element `changed` alone, whose results are taken over
    where that element plays no part. solver: one with an allowance of its own.
    """

    def __init__(
        self,
        lookup: Lookup,
        interfaces: Interfaces,
        base: Analysis | None = None,
        changed: int | None = None,
        solver: Solver | None = None,
    ) -> None:
        self.base = base
        self.changed = changed
        self.lookup = lookup
        self.interfaces = interfaces
        self.watch = lookup.watch
        self.memo: dict[Key, list[KnownValue]] = {}
        self._solver: Solver = solver or (Solver() if base is None else base._solver)

    @property
    def solver(self) -> Solver:
        """What solves its networks."""
        return self._solver

    @property
    def meter(self) -> Meter:
        """What counts the work; the same one for all analyses of a netlist."""
        return self._solver.meter

    @once
    def neighbours(self) -> BesideChannels:
        """The channels of the netlist by where they stand."""
        return BesideChannels(self.interfaces.channels) if self.base is None else self.base.neighbours()

    # -- analysers ----------------------------------------------------------------------------------------------------

    @once
    def coils(self) -> tuple[tuple[FoundCoil, Clamping], ...]:
        """All coils of the netlist with what takes their current."""
        if self.base is not None:
            return self.base.coils()
        found = find_coils(self.lookup, self.interfaces)
        return tuple((coil, clamping(self.lookup, self.interfaces, coil)) for coil in found)

    @once
    def releasing_coils(self) -> tuple[tuple[FoundCoil, Clamping], ...]:
        """The coils whose voltage at switch-off others see: of those that no coupler switches the clamped ones."""
        known = self.coils()
        switched = {coil.element for coil, _ in known}
        others = [coil for coil in find_coils(self.lookup, self.interfaces, True) if coil.element not in switched]
        more = ((coil, clamping(self.lookup, self.interfaces, coil)) for coil in others)
        return (*known, *(pair for pair in more if pair[1].clamp is not None))

    @once
    def led(self, part: Part) -> LedTerms:
        """Terms of a part's LED."""
        return led_terms(part)

    @apart
    def _assembler(self, setting: Setting) -> Assembler:
        return Assembler(self.lookup, self.led, self.interfaces.recognition.parts, setting, self._solver)

    @apart
    def drives(self, setting: Setting = WORST) -> DriveAnalyser:
        """The analyser of drive networks in a setting."""
        return DriveAnalyser(self.lookup, self._assembler(setting), setting)

    @apart
    def loads(self, setting: Setting = WORST) -> LoadAnalyser:
        """The analyser of load networks in a setting."""
        temperatures = self.drives(setting).temperatures()
        beside = Beside(
            lambda channel, pair: always_on(self, channel, pair),
            lambda channel, part, off: asked_of_led(self, channel, part, off, setting),
            lambda channel, part: next_channel(self, channel, part) is not None,
            lambda channel: pairs_in_series(self, channel),
            lambda channel: pairs_off_with(self, channel),
        )
        recognition = self.interfaces.recognition
        return LoadAnalyser(self.lookup, self._assembler(setting), recognition, setting, temperatures, beside)

    @apart
    def outputs(self, setting: Setting = WORST) -> OutputAnalyser:
        """The analyser of what outputs stand, in a setting."""
        return OutputAnalyser(self.loads(setting), self.coils(), self.releasing_coils())

    def driven_by(self, channel: Channel) -> list[Channel]:
        """The channels in whose drive the output of a channel lies."""
        behind = followers(self)
        return [other for pair in own_pairs(channel) for other in behind.get(pair, ())] if behind else []

    @once
    def row(self) -> dict[str, list[str]]:
        """The channels before and behind each channel in a row in which one drives the next, by their subjects."""
        own = by_output(self)
        found: dict[str, list[str]] = {}
        for pair, behind in followers(self).items():
            for other in behind if pair in own else ():
                found.setdefault(other.subject, []).append(own[pair].subject)
                found.setdefault(own[pair].subject, []).append(other.subject)
        return found

    def state_analyser(self, setting: Setting = WORST) -> StateAnalyser:
        """The analyser of all states of drive networks in a setting."""
        return StateAnalyser(self.lookup, self.drives(setting), setting)

    @apart
    def rails(self, setting: Setting = WORST) -> RailAnalyser:
        """The analyser of voltages between nets that stand still, in a setting."""
        return RailAnalyser(self.lookup, self._assembler(setting), setting)

    @once
    def supplied(self, plus: int, minus: int, setting: Setting = WORST) -> Rail:
        """Volts that a supply pin on net `plus` gets against net `minus`; raises `Lacking`."""
        return supplied(self.rails(setting), self.interfaces.recognition.parts, plus, minus)

    @apart
    def offs(self, setting: Setting = WORST) -> OffAnalyser:
        """The analyser of outputs in the off state, in a setting."""
        return OffAnalyser(self.lookup, self.loads(setting), self.interfaces.channels, setting)

    def ratio(self, channel: Channel, setting: Setting = WORST) -> TransferAnalyser:
        """The ratio factors of a channel's part."""
        return TransferAnalyser(self.lookup, channel.part, setting, self._warmer(channel, setting))

    @once
    def _warmer(self, channel: Channel, setting: Setting) -> float:
        """Kelvins by which its own heat warms an LED on average, of records with the resistance and a life test."""
        record = channel.part.record
        ohms = None if record is None or record.thermal is None else record.thermal.led_to_ambient
        if ohms is None or record is None or record.transfer.ageing is None:
            return 0.0
        try:
            return ohms * self.mean_power(channel, self.drive(channel, setting), setting).value
        except Lacking:
            return 0.0

    @once
    def stress(self, channel: Channel, setting: Setting = WORST) -> float:
        """The LED current that ages it in the on state, amperes: of a periodic drive by its mean square."""
        drive = self.drive(channel, setting)
        try:
            source = self.periodic_source(channel, setting)
            if source is not None:
                return ageing_stress(self.drives(setting), channel, drive, source)
        except Lacking:
            # What is not known of the period can only be less.
            pass
        return drive.current.high.value

    # -- the input ----------------------------------------------------------------------------------------------------

    @_taken_over(lambda channel: channel.drive)
    @once
    def drive(self, channel: Channel, setting: Setting = WORST) -> Drive:
        """The drive of a channel; raises `Lacking`."""
        drives = self.drives(setting)
        return with_capacitors(drives, channel, drives.analyse(channel))

    @_taken_over(lambda channel: channel.drive)
    @once
    def plain_drive(self, channel: Channel, setting: Setting = WORST) -> tuple[Plain, Drive] | None:
        """The drive of a channel bounded without the models of its transistors, None where it has no such bound."""
        found = plain(self.lookup, channel, self.led(channel.part).forward_current_max.kind_high)
        if found is None:
            return None
        variant = Variant(closed=found.closed, across=found.across)
        return found, self.drives(setting).analyse(found.channel, variant)

    @_taken_over(lambda channel: channel.drive)
    @once
    def states(self, channel: Channel, setting: Setting = WORST) -> tuple[StateRun, ...]:
        """Every state of a channel's drive network, the on state first; raises `Lacking`."""
        return self.state_analyser(setting).runs(channel)

    @_taken_over(lambda channel: channel.drive)
    @once
    def lit(self, channel: Channel, setting: Setting = WORST) -> tuple[StateRun, ...]:
        """The states of a channel's drive for what its LED does; what ports carry may not be in them."""
        return self.states(channel) if setting == WORST else self.state_analyser(setting).runs(channel, led_alone=True)

    @_taken_over(lambda channel: channel.drive)
    @once
    def port_uses(self, channel: Channel, setting: Setting = WORST) -> list[PortUse]:
        """What the logic outputs of a channel's drive carry and see beside the on state; raises `Lacking`."""
        ports = PortAnalyser(self.lookup, self.state_analyser(setting), setting)
        return ports.uses(channel, self.states(channel, setting))

    @_taken_over(lambda channel: channel.drive)
    @once
    def pulsed(self, channel: Channel, setting: Setting = WORST) -> Pulsed | None:
        """Peak and average LED current of alternating or pulsed drive, None for direct current; raises `Lacking`."""
        return pulsed(channel, self.drive(channel, setting), self.drives(setting), self.led(channel.part))

    @_taken_over(lambda channel: channel.drive)
    @once
    def reverse(self, channel: Channel, setting: Setting = WORST) -> Reverse:
        """The largest reverse voltage of a channel's LED; raises `Lacking`."""
        analyser = ReverseAnalyser(self.lookup, self.drives(setting), setting, self.releasing_coils())
        return analyser.analyse(channel, self.drive(channel, setting), self.lit(channel, setting))

    @once
    def resistors(self, channel: Channel, setting: Setting = WORST) -> dict[int, ResistorStress]:
        """Power and voltage of the resistors around a channel, by element; raises `Lacking`."""
        around = self.releasing_coils()
        analyser = ResistorAnalyser(self.lookup, self.drives(setting), self.loads(setting), setting, around)
        return analyser.stresses(channel, self.drive(channel, setting))

    @once
    def surges(self, channel: Channel, setting: Setting = WORST) -> dict[int, Surge]:
        """What resistors take when a dropping capacitor is switched on at the crest, by element; raises `Lacking`."""
        analyser = ResistorAnalyser(self.lookup, self.drives(setting), self.loads(setting), setting)
        return analyser.surges(channel, self.drive(channel, setting))

    # -- the output ---------------------------------------------------------------------------------------------------

    @_taken_over(lambda channel: channel.load)
    @once
    def load(self, channel: Channel, setting: Setting = WORST) -> Load:
        """The load of a channel; raises `Lacking`."""
        return self.loads(setting).analyse(channel)

    @_taken_over(lambda channel: channel.load)
    @once
    def sink(self, channel: Channel, volts: float, setting: Setting = WORST) -> Load:
        """What a logic output takes that holds its net at `volts`; raises `Lacking`."""
        return self.loads(setting).sink(channel, volts)

    @once
    def transfer(self, channel: Channel, setting: Setting = WORST) -> TransferRows:
        """The transfer margin of a channel; raises `Lacking`."""
        base = self.base_theft(channel, setting)
        drive, load, stress = self.drive(channel, setting), self.load(channel, setting), self.stress(channel, setting)
        return transfer(drive, load, self.ratio(channel, setting), base, stress)

    @once
    def periodic_source(self, channel: Channel, setting: Setting = WORST) -> Source | None:
        """What makes the drive of a channel periodic, None for direct current with or without ripple.

        Raises `Lacking`.
        """
        drive = self.drive(channel, setting)
        return None if drive.stored is not None else source_of(self.lookup, channel, drive)

    @_taken_over(lambda channel: channel.drive)
    @once
    def led_wave(self, channel: Channel, corner: Bound, setting: Setting = WORST) -> Wave:
        """The LED current over a period at a corner, low, of a channel whose drive is periodic; raises `Lacking`."""
        source = self.periodic_source(channel, setting)
        assert source is not None
        return wave(self.drives(setting), channel, self.drive(channel, setting), source, corner, high=False)

    @once
    def held(self, channel: Channel, setting: Setting = WORST) -> HeldLevel:
        """Whether the level is held through the period of a periodic drive; raises `Lacking`.

        With what other outputs across the same nets give in the same phases.
        """
        found = [self._alone(other, setting) for other in across_alike(self, channel, setting)]
        # Of each temperature what the others give, phase by phase.
        rows = zip(*(each.rows for each in found), strict=True) if found else ()
        more = tuple(tuple(map(sum, zip(*(row.amps for row in same), strict=True))) for same in rows)
        return self._alone(channel, setting, more)

    @once
    def _alone(self, channel: Channel, setting: Setting, more: tuple[tuple[float, ...], ...] = ()) -> HeldLevel:
        source = self.periodic_source(channel, setting)
        assert source is not None
        analyser = PeriodicAnalyser(self.drives(setting), self.loads(setting))
        drive, load, base = self.drive(channel, setting), self.load(channel, setting), self.base_theft(channel, setting)
        stress = self.stress(channel, setting)
        return analyser.held(channel, source, drive, load, self.ratio(channel, setting), base, stress, more)

    @once
    def time_off(self, channel: Channel, setting: Setting = WORST) -> float:
        """Seconds of a period in which the LED of a periodic drive gives less than its load requires, at worst.

        Raises `Lacking`.
        """
        source, held = self.periodic_source(channel, setting), self.held(channel, setting)
        assert source is not None
        drive, drives, worst = self.drive(channel, setting), self.drives(setting), held.worst
        corner = next(row.low for row in drive.by_temperature if row.temperature == worst.temperature)
        found = wave(drives, channel, drive, source, corner, high=False)
        if source.shape != "sine":
            return worst.off * source.period
        analyser, stress = PeriodicAnalyser(drives, self.loads(setting)), self.stress(channel, setting)
        known = self.ratio(channel, setting), self.base_theft(channel, setting), stress
        amps = analyser.needed(*known, worst, max(found.points))
        return dark_share(drives, channel, drive, source, found, corner, amps) * source.period

    @once
    def smallest_capacitor(self, channel: Channel, wanted: float) -> float | None:
        """The smallest E12 capacitor across the output that holds its level through the period; raises `Lacking`."""
        source = self.periodic_source(channel)
        assert source is not None
        analyser = PeriodicAnalyser(self.drives(), self.loads())
        known = self.drive(channel), self.load(channel), self.ratio(channel), self.base_theft(channel)
        return analyser.smallest_capacitor(channel, source, *known, self.stress(channel), wanted)

    @once
    def base_theft(self, channel: Channel, setting: Setting = WORST) -> BaseTheft | None:
        """What a circuit at the base pin takes from the photocurrent; None where the pin is open; raises `Lacking`."""
        if is_open(self.loads(setting), channel):
            return None
        return base_theft(self.loads(setting), channel, self.drive(channel, setting))

    @_taken_over(lambda channel: channel.load)
    @once
    def off_voltage(self, channel: Channel, setting: Setting = WORST, off: tuple[int, ...] = ()) -> Stress:
        """Volts across the output of a channel while it is off, and the outputs of the keys `off`; raises `Lacking`."""
        return self.outputs(setting).off_voltage(channel, off)

    @_taken_over(lambda channel: channel.load)
    @once
    def released(self, channel: Channel, net: int | None = None, setting: Setting = WORST) -> list[Stress]:
        """Volts across an output, or at a net, when a coil beside it has been switched off; raises `Lacking`."""
        return self.outputs(setting).released(channel, net)

    @_taken_over(lambda channel: channel.load)
    @once
    def dark_levels(self, channel: Channel, setting: Setting = WORST) -> tuple[OffLevel, ...]:
        """What reads a channel's output while its LED gets nothing; raises `Lacking`."""
        return self.offs(setting).levels(channel)

    @_taken_over(lambda channel: channel.load)
    @once
    def idle_levels(self, channel: Channel, setting: Setting = WORST) -> tuple[OffLevel, ...]:
        """What reads a channel's output as if nothing at all flowed through it; raises `Lacking`."""
        return self.offs(setting).levels(channel, passes=False)

    @_taken_over(lambda channel: channel.load)
    @once
    def closed_current(self, channel: Channel, setting: Setting = WORST) -> Stress:
        """Amperes through the output of a channel with no voltage across it; raises `Lacking`."""
        return self.outputs(setting).closed_current(channel)

    @_taken_over(lambda channel: channel.load)
    @once
    def input_level(self, channel: Channel, net: int, setting: Setting = WORST) -> Stress:
        """Volts of a net that reads a channel's output, over its states; raises `Lacking`."""
        return self.outputs(setting).level(channel, net)

    @_taken_over(lambda channel: channel.load)
    @once
    def gate_level(self, channel: Channel, element: int, setting: Setting = WORST) -> tuple[Stress, Stress]:
        """Volts from gate to source of a transistor in a channel's load, output off and on; raises `Lacking`."""
        _, gate, source = self.lookup.circuit.pins(element)[:3]
        return self.outputs(setting).between(channel, gate, source)

    @once
    def asked_current(self, channel: Channel, setting: Setting = WORST) -> AskedCurrent:
        """The current that its load may ask an output to carry, no more than its LED makes it give."""
        closed = self.closed_current(channel, setting)
        plain = AskedCurrent(closed.high, closed.high_corner, 0.0, 0.0, None, "", closed.terms)
        if channel.part.kind.output.conducts != "transistor":
            return plain
        drive = self.drive(channel, setting)
        led = drive.current.high.value
        best = strongest(channel.part, setting, led, [row.temperature for row in drive.by_temperature])
        if best is None:
            return plain
        terms = unique([*closed.terms, *drive.terms, *best.terms])
        given = led * best.ratio
        corner = closed.high_corner if closed.high <= given else drive.current.high.corner
        return AskedCurrent(min(closed.high, given), corner, led, best.ratio, given, best.origin, terms)

    @once
    def heat(self, channel: Channel, linear: bool, setting: Setting = WORST) -> Heat:
        """What a channel turns into heat, with its ratings; linear: its output may stand anywhere; raises `Lacking`."""
        part = channel.part
        drive, closed = self.drive(channel, setting), self.closed_current(channel, setting)
        off, asked = self.off_voltage(channel, setting), self.asked_current(channel, setting)
        led = self.mean_power(channel, drive, setting)

        def left(amps: float) -> float:
            return self.outputs(setting).left_at(channel, amps).high

        terms = [*drive.terms, *closed.terms, *off.terms, *asked.terms]
        supply = 0.0
        if linear:
            output = heat.linear(
                asked.strongest, max(off.high, 0.0), lambda volts: self.outputs(setting).carried_at(channel, volts).high
            )
        elif part.kind.output.conducts == "transistor":
            ratio = self.ratio(channel, setting)
            output = heat.switched(ratio.saturation_voltage(), max(closed.high, 0.0), asked.strongest, left)
            terms.extend(ratio.terms)
        else:
            level = None if part.record is None else part.record.output.low_level
            usual = part.kind.generic.low_level.high
            volts = usual if level is None or level.max is None else level.max
            output = heat.switched(volts, max(closed.high, 0.0), None, left)
            supply = heat.supply_power(channel, self._supply_volts(channel, setting, terms))
        hot = setting.high(self.lookup.ambient())
        rated, more = heat.ratings(part, led.value, output.watts, supply, hot, setting)
        return Heat(led, output, hot, rated, unique([*terms, *more, self.lookup.ambient()]))

    def mean_power(self, channel: Channel, drive: Drive, setting: Setting) -> Bound:
        """The watts in an LED, of a periodic drive their mean: its voltage at the crest times the mean current."""
        try:
            source = self.periodic_source(channel, setting)
            if source is None:
                return drive.power
            found = wave(self.drives(setting), channel, drive, source, drive.current.high, high=True)
        except Lacking:
            return drive.power
        top = drive.current.high.value
        share = min(found.mean * HIGH_GUARD / top, 1.0) if top > 0.0 else 1.0
        return drive.power._replace(value=drive.power.value * share)

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

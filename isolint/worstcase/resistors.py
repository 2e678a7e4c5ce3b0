"""What the resistors around a coupler stand: dissipated power and voltage, over all states, at worst case.

In: a channel, terms, a setting. Out: one `Stress` a resistor, watts and volts. Alternating drive counts with the mean
of a sine's square: half of each half wave's peak power for half of the time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from isolint.facts import ElementFacts
from isolint.interfaces.entities import Channel
from isolint.worstcase import network as n
from isolint.worstcase.alternating import alternates, dropping_capacitors, reactance
from isolint.worstcase.clamps import Clamping
from isolint.worstcase.coils import FoundCoil
from isolint.worstcase.drive import Drive, DriveAnalyser
from isolint.worstcase.each_temperature import extremes_at_each
from isolint.worstcase.load import OUTPUT, LoadAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.mean_square import Pulses, mean_squares
from isolint.worstcase.output import closed_ohms
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, steady
from isolint.worstcase.release import open_outputs, releases, releasing
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique
from isolint.worstcase.waves import Source, both_halves, level_shares, source_of

LEAST_OHMS = 1e-3


class Stress(NamedTuple):
    """One resistor: power in watts at its corner and state, voltage across it in volts there.

    amps and ohms make the power, share is that of time. bounded: not solved, since even all of the sources' voltage
    across it stays within its rating. kick: a higher voltage when a coil has just been switched off, "" for none.
    """

    element: int
    power: Bound
    volts: float
    amps: float
    ohms: float
    share: float
    words: str
    terms: tuple[Term, ...]
    bounded: bool = False
    kick: str = ""
    kick_volts: float = 0.0


def power_rating(lookup: Lookup, element: int) -> Term:
    """The rated power of a resistor, watts."""
    return lookup.term(ElementFacts.power, lookup.circuit.path(element))


def voltage_rating(lookup: Lookup, element: int) -> Term:
    """The rated voltage of a resistor, volts."""
    return lookup.term(ElementFacts.voltage, lookup.circuit.path(element))


def energy_rating(lookup: Lookup, element: int) -> Term:
    """What a resistor takes in one pulse, joules; unstated so many seconds of its rated power."""
    path, row = lookup.circuit.path(element), ElementFacts.pulse_energy
    term = lookup.term(row, path)
    if term.stated:
        return term
    watts = power_rating(lookup, element)
    return term._replace(
        low=term.low * watts.low, nominal=term.nominal * watts.nominal, high=term.high * watts.high,
        kind_low=term.kind_low * watts.kind_low, kind_high=term.kind_high * watts.kind_high,
    )  # fmt: skip


class Surge(NamedTuple):
    """What a resistor takes when a dropping capacitor is charged at the crest: joules, with the numbers behind it.

    share: of the energy, that of several resistors by what each takes of the first current.
    """

    element: int
    capacitor: str
    farads: float
    volts: float
    share: float
    terms: tuple[Term, ...]
    corner: Bound

    @property
    def joules(self) -> float:
        """All that the capacitor takes up, once more in what charges it."""
        return self.share * self.farads * self.volts * self.volts / 2.0


class ResistorAnalyser:
    """Stress of the resistors of one netlist in one setting."""

    def __init__(
        self,
        lookup: Lookup,
        drives: DriveAnalyser,
        loads: LoadAnalyser,
        setting: Setting,
        coils: Sequence[tuple[FoundCoil, Clamping]] = (),
    ) -> None:
        """coils: all whose voltage at switch-off others see."""
        self.coils = coils
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.drives = drives
        self.loads = loads
        self.setting = setting

    def stresses(self, channel: Channel, drive: Drive) -> dict[int, Stress]:
        """Every resistor of the drive and load networks of a channel, by element. drive: the channel's."""
        found: dict[int, Stress] = {}
        for stress in (*self._alternating(channel, drive, self._drive(channel)), *self._load(channel)):
            known = found.get(stress.element)
            if known is None or stress.power.value > known.power.value:
                found[stress.element] = stress
        for stress in self._released(channel):
            known = found.get(stress.element)
            if known is not None and not stress.bounded and stress.volts > max(known.volts, known.kick_volts):
                terms = unique([*known.terms, *stress.terms])
                found[stress.element] = known._replace(kick=stress.words, kick_volts=stress.volts, terms=terms)
        return found

    def _released(self, channel: Channel) -> list[Stress]:
        """What resistors beside a coil see when it has just been switched off; only the volts mean anything."""
        found: list[Stress] = []
        for walked in (channel.drive, channel.load):
            elements = self._resistors(walked.elements)
            if not elements:
                continue
            try:
                for release in releases(self.lookup, self.coils, walked):
                    if walked is channel.drive:
                        state = open_outputs(release, self.drives.on_state(channel))
                        made, extra = self.drives.assemble(channel, state), []
                    else:
                        made = self.loads.assembled(channel, open_outputs(release, {}))
                        extra = self.loads.leaks(made, channel)
                    made = releasing(self.lookup, made, release)
                    # What is drawn as a coil's own carries what it carried before.
                    left = [element for element in elements if element not in release.drawn]
                    found.extend(self._powers(made, left, release.words, 1.0, extra))
            except Lacking:
                # A coil without a clamp, and a clamp that is not known, are said by the rules of coils and outputs.
                continue
        return found

    def _resistors(self, elements: Sequence[int]) -> list[int]:
        return [
            element
            for element in elements
            if self.circuit.letter(element) == "R" and (self.lookup.ohms(element) or 0.0) > LEAST_OHMS
        ]

    def _drive(self, channel: Channel) -> list[Stress]:
        elements = self._resistors(channel.drive.elements)
        if not elements:
            return []
        waves: dict[tuple[tuple[int, str], ...], list[Stress]] = {}
        pulses = level_shares(self.lookup, channel, self.setting)
        shared: dict[tuple[tuple[int, str], ...], list[tuple[float, Stress]]] = {}
        sines = [held.net for held in channel.drive.boundary if alternates(self.lookup, held)]
        for state in self.drives.states(channel):
            moving = [net for net in state if net in sines]
            share = 0.5 ** len(moving[:1]) * (self._turned(channel) if moving else 1.0)
            made = self.drives.assemble(channel, state)
            own = self._powers(made, elements, self.drives.state_words(state), share)
            if pulses and not moving:
                weight = math.prod(shares.get(state.get(place, "low"), 1.0) for place, shares in pulses.items())
                still = tuple(sorted((net, level) for net, level in state.items() if net not in pulses))
                shared.setdefault(still, []).extend((weight, stress) for stress in own)
                continue
            key = tuple(sorted((net, level) for net, level in state.items() if net not in moving))
            # Without anything that alternates each state stands for itself.
            waves.setdefault(key if moving else (*key, (-1, str(len(waves)))), []).extend(own)
        merged: list[Stress] = []
        for stresses in waves.values():
            merged.extend(_both_halves(stresses))
        for weighed in shared.values():
            merged.extend(_weighed(weighed))
        return merged

    def surges(self, channel: Channel, drive: Drive) -> dict[int, Surge]:
        """What the resistors of a drive take when its empty dropping capacitor is switched on at the crest."""
        dropping = dropping_capacitors(self.lookup, channel.drive)
        source = self._sine(channel, drive)
        elements = self._resistors(channel.drive.elements)
        if len(dropping) != 1 or source is None or not elements:
            return {}
        (capacitor,) = dropping
        path, corner = self.circuit.path(capacitor), drive.current.high
        found = both_halves(self.drives, channel, drive, source, corner)
        branch = found.branch(path)
        assert isinstance(branch, n.Resistor)
        point = found.solved(found.upper, found.crest, branch._replace(ohms=LEAST_OHMS))
        ohms = {b.name: b.ohms for b in found.upper.branches if isinstance(b, n.Resistor)}
        names = {element: self.circuit.path(element) for element in elements}
        watts = {element: point.current(name) ** 2 * ohms[name] for element, name in names.items()}
        whole = sum(watts.values())
        spread = self.lookup.tolerance(capacitor)
        farads = (self.circuit.value(capacitor) or 0.0) * (1.0 + self.setting.high(spread))
        terms = unique([*drive.terms, spread])
        return {
            element: Surge(element, path, farads, found.crest, each / whole, terms, corner)
            for element, each in watts.items()
            if whole > 0.0
        }

    def _alternating(self, channel: Channel, drive: Drive, found: list[Stress]) -> list[Stress]:
        """The same with the mean square over the period of an alternating drive where that tells more than its crest.

        What a storage capacitor lets through is not seen at a crest without it; elsewhere the crest alone is more.
        """
        source = self._sine(channel, drive)
        if source is None or drive.unsure:
            return found
        asked = [stress for stress in found if drive.stored is not None or self._too_much(stress)]
        told: dict[int, Stress] = {}
        for stress in asked:
            corner = drive.current.high if drive.stored is not None else stress.power
            if stress.element in told:
                continue
            same = [each.element for each in asked if drive.stored is not None or each.power.at == stress.power.at]
            pulses = mean_squares(self.drives, channel, drive, source, corner, same)
            known = {each.element: each for each in asked}
            for element, each in pulses.items():
                told[element] = _over_period(known[element], drive, each, corner)
        return [told.get(stress.element, stress) for stress in found]

    def _sine(self, channel: Channel, drive: Drive) -> Source | None:
        try:
            source = source_of(self.lookup, channel, drive)
        except Lacking:
            return None
        return source if source is not None and source.shape == "sine" else None

    def _too_much(self, stress: Stress) -> bool:
        return not stress.bounded and stress.power.value > allowed(
            self.setting.low(power_rating(self.lookup, stress.element))
        )

    def _turned(self, channel: Channel) -> float:
        """How much more power flows than with a dropping capacitor's reactance added straight to the resistance.

        They add at a right angle; no more than twice, where both are alike.
        """
        dropping = dropping_capacitors(self.lookup, channel.drive)
        if not dropping:
            return 1.0
        if len(dropping) > 1:
            return 2.0
        ((element, hertz),) = dropping.items()
        farads = (self.circuit.value(element) or 0.0) * (1.0 + self.setting.high(self.lookup.tolerance(element)))
        ohms = reactance(hertz, farads)
        rest = min(sum(self.lookup.ohms(each) or 0.0 for each in self._resistors(channel.drive.elements)), ohms)
        return float(((rest + ohms) / math.hypot(rest, ohms)) ** 2.0)

    def _load(self, channel: Channel) -> list[Stress]:
        elements = self._resistors(channel.load.elements)
        if not elements:
            return []
        try:
            ends = self.loads.ends(channel)
            made = self.loads.assembled(channel)
            a, b = (made.node(net, self.circuit.net_name(net)) for net in ends)
            states: list[tuple[str, list[n.Branch]]] = [
                ("its output conducting", [n.Resistor(OUTPUT, a, b, closed_ohms(channel))]),
                ("its output off", []),
            ]
            found: list[Stress] = []
            for words, extra in states:
                found.extend(self._powers(made, elements, words, 1.0, [*extra, *self.loads.leaks(made, channel)]))
        except Lacking:
            # What can't be solved there is said by the rules of the load.
            return []
        return found

    def _powers(
        self, made: Assembly, elements: Sequence[int], words: str, share: float, extra: Sequence[n.Branch] = ()
    ) -> list[Stress]:
        by_span, elements = self._by_span(made, elements, words, extra)
        if not elements:
            return by_span
        names = [self.circuit.path(element) for element in elements]

        def evaluate(vector: Sequence[float], temperature: float) -> list[float]:
            return [amps * amps * ohms for amps, ohms in self._currents(made, names, vector, temperature, extra)]

        over = self.drives.temperatures()
        try:
            each = extremes_at_each(self.drives.solver, made, self.setting, over, evaluate, 1e-9, "high")
        except n.Unlimited as error:
            raise Lacking(error.text, blocked_by="drive") from None
        except n.NotSolvable as error:
            raise Lacking(error.text) from None
        best: list[tuple[float, Bound]] = []
        for temperature, ends in each:
            bounds = [(end.high, Bound(end.high, end.high_corner, temperature)) for end in ends]
            pairs = zip(best or bounds, bounds, strict=True)
            best = [max(pair, key=lambda item: steady(item[0])) for pair in pairs]
        terms = unique([*made.terms, self.lookup.ambient(), *(model.best for _, model in made.outputs.values())])
        found = by_span
        for element, name, (_, bound) in zip(elements, names, best, strict=True):
            named = dict(bound.at)
            vector = [named.get(term.name, term.nominal) for term in made.terms]
            ((amps, ohms),) = self._currents(made, [name], vector, bound.temperature, extra)
            scaled = Bound(bound.value * share, bound.at, bound.temperature)
            found.append(Stress(element, scaled, abs(amps) * ohms, abs(amps), ohms, share, words, terms))
        return found

    def _by_span(
        self, made: Assembly, elements: Sequence[int], words: str, extra: Sequence[n.Branch]
    ) -> tuple[list[Stress], list[int]]:
        """Resistors that stand all the voltage that there is, and those that must be solved."""
        span, at = self._span(made, extra)
        bounded: list[Stress] = []
        left: list[int] = []
        for element in elements:
            nominal = self.lookup.ohms(element) or LEAST_OHMS
            ohms = (
                nominal
                * (1.0 + min(self.setting.low(self.lookup.tolerance(element)), 0.0))
                * self._least_drift(element)
            )
            watts = span * span / ohms
            most = allowed(self.setting.low(power_rating(self.lookup, element)))
            if watts <= most and span <= self.setting.low(voltage_rating(self.lookup, element)):
                bound = Bound(watts, (), at)
                bounded.append(
                    Stress(
                        element,
                        bound,
                        span,
                        span / ohms,
                        ohms,
                        1.0,
                        words,
                        unique([*made.terms, self.lookup.ambient()]),
                        True,
                    )
                )
            else:
                left.append(element)
        return bounded, left

    def _least_drift(self, element: int) -> float:
        """The smallest factor that a resistor's temperature coefficient gives over the ambient."""
        tempco = self.lookup.tempco(element)
        if tempco is None:
            return 1.0
        ends = self.setting.range(tempco)
        return min(1.0 + end * (t - 25.0) for end in ends for t in self.drives.temperatures())

    def _span(self, made: Assembly, extra: Sequence[n.Branch]) -> tuple[float, float]:
        """The largest difference between any two sources of a network, volts, and a temperature.

        Infinite with a current source.
        """
        ranges = [self.setting.range(term) for term in made.terms]
        low, high = 0.0, 0.0
        hot = self.drives.temperatures()[-1]
        total = 0.0
        for vector in ([ends[0] for ends in ranges], [ends[1] for ends in ranges]):
            floating = 0.0
            for branch in made.network(vector, hot, extra).branches:
                if isinstance(branch, n.CurrentSource):
                    return float("inf"), hot
                if isinstance(branch, n.VoltageSource) and branch.b == 0:
                    low, high = min(low, branch.volts), max(high, branch.volts)
                elif isinstance(branch, n.VoltageSource):
                    floating += abs(branch.volts)
                elif isinstance(branch, n.Port):
                    volts = [point[1] for point in branch.table]
                    low, high = min(low, *volts), max(high, *volts)
            total = max(total, floating)
        return high - low + total, hot

    def _currents(
        self,
        made: Assembly,
        names: Sequence[str],
        vector: Sequence[float],
        temperature: float,
        extra: Sequence[n.Branch],
    ) -> list[tuple[float, float]]:
        network = made.network(vector, temperature, extra)
        ohms: Mapping[str, float] = {
            branch.name: branch.ohms for branch in network.branches if isinstance(branch, n.Resistor)
        }
        point = self.drives.solver.solve(network, temperature)
        return [(point.current(name), ohms[name]) for name in names]


def _over_period(stress: Stress, drive: Drive, pulses: Pulses, corner: Bound) -> Stress:
    """A resistor with its mean square over the period."""
    watts, peak = pulses.square * pulses.ohms, pulses.peak
    share = pulses.square / (peak * peak) if peak > 0.0 else 1.0
    words = "the mean square over the period"
    if drive.stored is not None:
        words = f"the mean square over the period while {drive.stored.path} is charged"
    # What a stimulus does between its crests is no fact.
    power = Bound(watts, corner.at, corner.temperature)
    return stress._replace(
        power=power, volts=peak * pulses.ohms, amps=peak, ohms=pulses.ohms, share=share, words=words, bounded=False,
        terms=unique([*stress.terms, *drive.terms]),
    )  # fmt: skip


def _both_halves(stresses: Sequence[Stress]) -> list[Stress]:
    """Of alternating drive the half waves together: each lasts for half of the time.

    So that the mean of their powers counts.
    """
    by_element: dict[int, list[Stress]] = {}
    for stress in stresses:
        by_element.setdefault(stress.element, []).append(stress)
    merged = []
    for same in by_element.values():
        most = max(same, key=lambda item: steady(item.power.value))
        if len(same) == 1 or most.share == 1.0:
            merged.append(most)
            continue
        mean = sum(item.power.value for item in same) / len(same)
        share = mean / (most.amps * most.amps * most.ohms) if most.amps > 0.0 else most.share
        merged.append(
            Stress(
                most.element,
                Bound(mean, most.power.at, most.power.temperature),
                most.volts,
                most.amps,
                most.ohms,
                share,
                most.words,
                most.terms,
            )
        )
    return merged


def _weighed(stresses: Sequence[tuple[float, Stress]]) -> list[Stress]:
    """Of levels that last for shares of a period the mean of their powers, told of the one with the most."""
    by_element: dict[int, list[tuple[float, Stress]]] = {}
    for weight, stress in stresses:
        by_element.setdefault(stress.element, []).append((weight, stress))
    merged = []
    for same in by_element.values():
        _, most = max(same, key=lambda pair: steady(pair[1].power.value))
        mean = sum(weight * stress.power.value for weight, stress in same)
        if most.bounded or mean >= most.power.value:
            merged.append(most)
            continue
        merged.append(
            most._replace(power=most.power._replace(value=mean), share=mean / (most.amps * most.amps * most.ohms))
        )
    return merged


def allowed(rating: float) -> float:
    """What a rating leaves: half of the power, as is usual at the hot end."""
    return 0.5 * rating

"""What the circuit at a coupler's base pin takes from the photocurrent.

In: the load network of a channel, its LED current per temperature, a setting. Out: a `BaseTheft`. The transistor turns
on once the photocurrent at its base exceeds what a resistor from base to emitter takes at VBE; only the rest is
amplified.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.interfaces.entities import Channel
from isolint.parts import Transfer
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.drive import Bound, Drive
from isolint.worstcase.factors import Factor
from isolint.worstcase.load import LoadAnalyser
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import NO_CURRENT, steady
from isolint.worstcase.solve import solve
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.transfer import Available
from isolint.worstcase.uncertain import Lacking, Term, unique

JUNCTION_VOLTS = 0.6
JUNCTION_DRIFT = -0.002
"""VBE at 25 degC and its change in V/K; a darlington has two junctions (from memory)."""

BASE_DRIVE = "base at VBE"


class TheftRow(NamedTuple):
    """One temperature: amperes taken at `volts` = VBE, the corner, and the photocurrent of the smallest LED current."""

    temperature: float
    taken: Bound
    volts: float
    photocurrent: float
    led_current: float
    led_corner: str

    @property
    def margin(self) -> float:
        """Photocurrent over what is taken."""
        return self.photocurrent / self.taken.value if self.taken.value > 0.0 else 1e9


class BaseTheft(NamedTuple):
    """What is taken from the base, worst over corners, per temperature."""

    rows: tuple[TheftRow, ...]
    photo_gain: float
    terms: tuple[Term, ...]

    @property
    def worst(self) -> TheftRow:
        """The temperature with the least left."""
        return min(self.rows, key=lambda row: steady(row.margin))

    def reduced(self, available: Available) -> Available:
        """The available output current with the share that the base keeps; `Lacking` where nothing is left."""
        row = next((row for row in self.rows if row.temperature == available.temperature), None)
        if row is None or row.taken.value <= NO_CURRENT:
            return available._replace(terms=(*available.terms, *self.terms))
        left = 1.0 - row.taken.value / row.photocurrent if row.photocurrent > 0.0 else 0.0
        if left <= 0.0:
            raise Lacking("its base resistor takes all of the photocurrent", blocked_by="base")
        numbers = f"1 - {row.taken.value:.7g} / ({self.photo_gain:.7g} * {available.led_current:.7g})"
        factor = Factor(
            "D_RBE",
            "share of the photocurrent that the base keeps",
            left,
            "base circuit in the netlist",
            "1 - I_RBE / (photo_gain * IF_min)",
            numbers,
        )
        return available._replace(
            current=available.current * left,
            factors=(*available.factors, factor),
            terms=(*available.terms, *self.terms),
        )


def photo_gain(channel: Channel) -> Term:
    """The smallest current of the photodiode at the base over the LED current; 0.1 to 0.2 % by default."""
    usual = Transfer.photo_gain.counts
    return fact_terms.of_part(channel.part, Transfer.photo_gain, lambda *_: usual, Interval(usual.low, usual.high))


def is_open(loads: LoadAnalyser, channel: Channel) -> bool:
    """Whether the part has no base pin or nothing conducting is on it."""
    base = channel.pins.get("base")
    if base is None or base == channel.pins.get("collector"):
        return True
    touching = [element for element, _ in loads.circuit.elements_at(base) if element != channel.part.element]
    held = loads.lookup.walker.held(base) is not None or base == channel.pins.get("emitter")
    return not held and not any(loads.circuit.letter(element) not in "CK" for element in touching)


def base_theft(loads: LoadAnalyser, channel: Channel, drive: Drive) -> BaseTheft | None:
    """What is taken from the base at each temperature of the drive; None where the base pin is open."""
    if is_open(loads, channel) or "emitter" not in channel.pins:
        return None
    gain = photo_gain(channel)
    share = loads.setting.low(gain)
    base, emitter = channel.pins["base"], channel.pins["emitter"]
    if base == emitter:
        raise Lacking("its base and emitter are one net: the transistor can't conduct", blocked_by="base")
    junctions = float(channel.part.kind.output.junctions)
    made = loads.assembled(channel)
    rows: list[TheftRow] = []
    for at in drive.by_temperature:
        volts = junctions * (JUNCTION_VOLTS + JUNCTION_DRIFT * (at.temperature - 25.0))

        def evaluate(vector: Sequence[float], t: float = at.temperature, v: float = volts) -> list[float]:
            return [_taken(loads, made, channel, vector, t, v)]

        try:
            (extreme,) = solved_extremes(
                loads.solver, made.ranges(loads.setting, at.temperature), evaluate, sought="high"
            )
        except n.NotSolvable as error:
            raise Lacking(f"the circuit at its base pin: {error.text}", blocked_by="base") from None
        taken = Bound(extreme.high, extreme.high_corner, at.temperature)
        rows.append(TheftRow(at.temperature, taken, volts, share * max(at.low.value, 0.0), at.low.value, at.low.corner))
    return BaseTheft(tuple(rows), share, unique([gain, *made.terms, *drive.terms]))


def _taken(
    loads: LoadAnalyser, made: Assembly, channel: Channel, vector: Sequence[float], temperature: float, volts: float
) -> float:
    """Amperes that the network takes out of the base at VBE with the output off."""
    b, e = (made.node(channel.pins[role], role) for role in ("base", "emitter"))
    source = n.VoltageSource(BASE_DRIVE, b, e, volts)
    network = made.network(vector, temperature, [source, *loads.leaks(made, channel)])
    return solve(network, temperature).current(BASE_DRIVE)

"""What logic outputs are asked to carry and to see, beyond the on state that the drive's headroom judges.

In: a channel with its states, a setting. Out: `PortUse`s: current against what an output gives, voltage of a free pin
against what it takes, currents of a group of outputs together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from isolint.facts import OutputFacts
from isolint.interfaces.entities import Channel
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase.drive import Drive
from isolint.worstcase.lookup import Lookup, OutputModel
from isolint.worstcase.quantities import NO_CURRENT, Bound
from isolint.worstcase.states import StateAnalyser, StateRun
from isolint.worstcase.uncertain import Lacking, Setting, Term

BACK_AMPS = 10e-6
"""A current pushed back into an output below this is leakage."""

ABOVE_SUPPLY = 0.3
"""Volts above its supply that every logic output takes (from memory)."""

TOLERANT = 5.5
OPEN_DRAIN_TOLERANT = 60.0
# The most that a usual pin is rated for where nobody states it.

Kind = Literal["source_max", "sink_max", "voltage_max"]


class PortUse(NamedTuple):
    """One output in one state: `value` (amperes or volts) against `limit`, with the margin limit / value."""

    net: int
    name: str
    kind: Kind
    words: str
    value: Bound
    limit: float
    source: str
    terms: tuple[Term, ...]

    @property
    def margin(self) -> float:
        """1.00 is just allowed."""
        return self.limit / max(self.value.value, 1e-9)


def pin_limit(lookup: Lookup, net: int, unpowered: bool) -> Term:
    """The voltage that an output's pin may see while it does not drive, volts.

    By default its supply and 0.3 V at worst.
    """
    name = lookup.circuit.net_name(net)
    row, fact = OutputFacts.voltage_max, lookup.facts.output(name)
    if fact is not None and fact.voltage_max is not None:
        return lookup.term(row, name)
    if fact is None or fact.supply is None:
        raise Lacking(f"nobody says what the pin of output {name} may see", [lookup.missing(row, name)])
    supply = 0.0 if unpowered else lookup.supply_named(fact.supply.value).high
    drive = "push-pull" if fact.drive is None else fact.drive.value
    low = supply + ABOVE_SUPPLY
    high = max(OPEN_DRAIN_TOLERANT if drive == "open-drain" else TOLERANT, low)
    text = "default, its supply and 0.3 V up to what tolerant pins take (from memory)"
    return fact_terms.defaulted(row, name, least(low, high, text))


class PortAnalyser:
    """Judges the outputs of drive networks of one netlist in one setting."""

    def __init__(self, lookup: Lookup, states: StateAnalyser, setting: Setting) -> None:
        self.lookup = lookup
        self.states = states
        self.setting = setting

    def uses(self, channel: Channel, runs: Sequence[StateRun]) -> list[PortUse]:
        """Every output in every state that asks something of it.

        Currents of the on state in its own direction are left out.
        """
        found: list[PortUse] = []
        for run in runs:
            for name, high in run.high.items():
                found.extend(self._current(channel, run, name, high))
            found.extend(self._pin(run, net, self._is_unpowered(net)) for net in run.rows[0].pins)
        return found

    def _is_unpowered(self, net: int) -> bool:
        fact = self.lookup.facts.output(self.lookup.circuit.net_name(net))
        return fact is not None and fact.unpowered is not None and fact.unpowered.value

    def _current(self, channel: Channel, run: StateRun, name: str, high: bool) -> Iterable[PortUse]:
        least, most = run.port(name)
        forwards, back = (most, negated(least)) if high else (negated(least), most)
        net = run.nets[name]
        name = self.lookup.circuit.net_name(net)
        if not run.is_on and forwards.value > NO_CURRENT:
            model = self.lookup.output(net, high)
            assert model is not None
            kind: Kind = "source_max" if high else "sink_max"
            yield PortUse(
                net, name, kind, run.words, forwards, self._limit(name, kind, model, forwards), "stated", run.terms
            )
        if back.value > BACK_AMPS:
            freed = self.states.run(channel, {**run.state, net: "hi-z"})
            yield self._pin(freed, net, False, f"{run.words}, against what is pushed back into it")

    def _limit(self, name: str, kind: Kind, model: OutputModel, current: Bound) -> float:
        if model.limit is not None:
            return model.limit
        if current.value <= model.guaranteed_at:
            return model.guaranteed_at
        raise Lacking(
            f"the guaranteed operating current of output {name} is not stated",
            [self.lookup.missing(OutputFacts.sink_max if kind == "sink_max" else OutputFacts.source_max, name)],
        )

    def _pin(self, run: StateRun, net: int, unpowered: bool, words: str = "") -> PortUse:
        limit = pin_limit(self.lookup, net, unpowered)
        name = self.lookup.circuit.net_name(net)
        return PortUse(
            net,
            name,
            "voltage_max",
            words or run.words,
            run.pin(net),
            self.setting.low(limit),
            limit.origin,
            (*run.terms, limit),
        )


def negated(bound: Bound) -> Bound:
    """The same end of the quantity counted the other way."""
    return Bound(-bound.value, bound.at, bound.temperature)


def group_of(lookup: Lookup, net: int) -> str:
    """The group of a stated output, as `groups` spells it; empty for none."""
    fact = lookup.facts.output(lookup.circuit.net_name(net))
    if fact is None or fact.group is None:
        return ""
    known = lookup.facts.group(fact.group.value)
    return fact.group.value.casefold() if known is None else known.name


Member = tuple[Channel, Drive, Sequence[StateRun]]
"""A channel with its drive and its states."""


class Together(NamedTuple):
    """All that one output gives (high) or takes (low).

    Drive network by drive network: (channel, amperes at its worst).
    """

    net: int
    high: bool
    shares: tuple[tuple[str, float], ...]

    @property
    def amps(self) -> float:
        """The sum."""
        return sum(value for _, value in self.shares)


def together(members: Iterable[Member]) -> dict[int, Together]:
    """The larger of what each output gives and takes, over all states and all drive networks that hang on it."""
    found: dict[tuple[int, bool], dict[object, tuple[str, float]]] = {}

    def offer(channel: Channel, net: int, high: bool, amps: float) -> None:
        # Channels whose LEDs hang in one network have the same inner nets; that network counts once.
        key: object = min(channel.drive.inner) if channel.drive.inner else channel.subject
        known = found.setdefault((net, high), {}).get(key)
        if amps > 0.0 and (known is None or amps > known[1]):
            found[(net, high)][key] = (channel.subject, amps)

    for channel, drive, runs in members:
        for load in drive.ports:
            offer(channel, load.net, load.high, load.current.high.value)
        for run in runs:
            for name, net in run.nets.items():
                least, most = run.port(name)
                offer(channel, net, run.high[name], most.value if run.high[name] else -least.value)
    best: dict[int, Together] = {}
    for (net, high), shares in found.items():
        entry = Together(net, high, tuple(shares.values()))
        if net not in best or entry.amps > best[net].amps:
            best[net] = entry
    return best


def group_currents(lookup: Lookup, group: str, members: Iterable[Member]) -> Mapping[int, float]:
    """The largest current of each output of a group over all its states, amperes.

    Outputs that exclude each other give one entry.
    """
    found = {net: entry.amps for net, entry in together(members).items() if group_of(lookup, net) == group}
    best: dict[str, int] = {}
    for net in list(found):
        fact = lookup.facts.output(lookup.circuit.net_name(net))
        if fact is None or fact.exclusive is None:
            continue
        name = fact.exclusive.value.casefold()
        other = best.get(name)
        if other is None:
            best[name] = net
            continue
        loser = net if found[net] <= found[other] else other
        best[name] = other if loser == net else net
        del found[loser]
    return found

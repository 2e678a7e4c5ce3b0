"""Facts, records, models and defaults turned into terms, in the order of trust that the design fixes.

In: circuit, facts, the walker (it knows what holds a net). Out: `Term`s, or `Lacking` with the line to write. Knows
nothing of networks or rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from isolint.circuit import Circuit
from isolint.facts import (
    ElementFacts,
    Environment,
    Fact,
    Facts,
    InputFacts,
    Interval,
    Limits,
    LineFacts,
    OutputFacts,
    Stated,
    SupplyFacts,
)
from isolint.interfaces.entities import Boundary
from isolint.interfaces.walk import Walker, voltage_of_name
from isolint.results import MissingFact
from isolint.rows import Usual, either
from isolint.worstcase import fact_terms
from isolint.worstcase.fact_terms import origin
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term
from isolint.worstcase.watch import Watch

NOMINAL_TEMPERATURE = 25.0
HOUR = 3600.0
PUSHED_BACK_AMPS = 1e-9
# From this current into a high output (out of a low one) on its unloaded level holds; at 0 A the guaranteed one does.


def supply_lines(name: str, volts: float, more: str) -> str:
    """The lines that state a supply of some volts."""
    return SupplyFacts.voltage.line(name, f'"{volts:g} V"') + "\n" + more


def _said(source: str, spread_only: bool) -> str:
    return f"5 % by default around {source}" if spread_only else f"{source}, 5 % by default"


class OutputModel(NamedTuple):
    """A logic output in one state: its level against the current it delivers (negative when it sinks).

    worst: guaranteed breakpoints (amps, volts); best: the level without any resistance, a term because it is the
    supply's maximum unless `high_max` is stated. guaranteed_at: current of the guaranteed level. limit: guaranteed
    operating current in amperes, None when it is not stated. unloaded: volts when current is pushed back into the
    output: the supply's minimum or 0. A high impedance output has no model. supply: the term that the line above
    `guaranteed_at` starts from.
    """

    worst: tuple[tuple[float, float], ...]
    best: Term
    guaranteed_at: float
    limit: float | None
    unloaded: float | None = None
    supply: Term | None = None


def table_of(model: OutputModel, high: bool) -> tuple[tuple[float, float], ...]:
    """The breakpoints of an output at its guaranteed level, with what it does against a current that is pushed back.

    Such a current can't lower a high level below the unloaded one, nor lift a low level above 0 V.
    """
    if model.unloaded is None:
        return model.worst
    if high:
        return ((-1.0, model.unloaded), (-PUSHED_BACK_AMPS, model.unloaded), *model.worst)
    return (*model.worst, (PUSHED_BACK_AMPS, model.unloaded), (1.0, model.unloaded))


class Lookup:
    """Terms of one netlist."""

    def __init__(
        self,
        circuit: Circuit,
        facts: Facts,
        walker: Walker,
        settings_file: str,
        resized: Mapping[int, float] | None = None,
        watch: Watch | None = None,
    ) -> None:
        """watch: notes the elements whose values are asked for."""
        self.circuit = circuit
        self.facts = facts
        self.walker = walker
        self.settings_file = settings_file
        self.watch = watch or Watch()
        self._resized = dict(resized or {})
        self._controlled: tuple[int, ...] | None = None

    def resized(self, resistances: Mapping[int, float]) -> Lookup:
        """The same terms with other resistor values (ohms by element), to find the value that cures a fault."""
        other = Lookup(self.circuit, self.facts, self.walker, self.settings_file, resistances, self.watch)
        other._controlled = self.controlled
        return other

    @property
    def controlled(self) -> tuple[int, ...]:
        """The voltage-controlled switches of the netlist, searched once."""
        if self._controlled is None:
            self._controlled = tuple(self.circuit.elements_of("S"))
        return self._controlled

    def ohms(self, element: int) -> float | None:
        """The nominal resistance of a resistor."""
        self.watch.note(element)
        return self._resized.get(element, self.circuit.value(element))

    def missing(self, fact: Fact[Any], name: str = "", example: str = "", *more: Fact[Any]) -> MissingFact:
        """The fact to write in the settings file nearest to the netlist, its lines with a placeholder each."""
        return fact_terms.missing(self.settings_file, fact, name, example, *more)

    def term(self, fact: Fact[Any], name: str = "") -> Term:
        """A fact that counts by itself: as stated, else as usual."""
        return fact_terms.of(self.facts, fact, name)

    # -- environment ------------------------------------------------------------------------------------------

    def ambient(self) -> Term:
        """Ambient temperature at the part."""
        return self.term(Environment.ambient)

    def life_hours(self) -> Term:
        """Operating life in hours."""
        life = self.term(Environment.life)
        low, nominal, high = life.low / HOUR, life.nominal / HOUR, life.high / HOUR
        kind_low, kind_high = life.kind_low / HOUR, life.kind_high / HOUR
        return life._replace(unit="h", low=low, nominal=nominal, high=high, kind_low=kind_low, kind_high=kind_high)

    def duty(self) -> Term:
        """Share of life with the LED on."""
        return self.term(Environment.duty)

    def drive_headroom(self) -> float:
        """Required drive headroom, a point."""
        return self.facts.number(Limits.drive_headroom)

    def transfer_margin(self) -> float:
        """Required transfer margin, a point."""
        return self.facts.number(Limits.transfer_margin)

    # -- elements ---------------------------------------------------------------------------------------------

    def tolerance(self, element: int) -> Term:
        """Relative deviation of an element from its nominal value."""
        path, fact = self.circuit.path(element), ElementFacts.tolerance
        term = fact_terms.of(self.facts, fact, path, fact.cases.get(self.circuit.letter(element)))
        return term if term.stated else term._replace(example=fact.line(self._pattern(path)))

    def tempco(self, element: int) -> Term | None:
        """Temperature coefficient of a resistor in 1/K, None when nobody stated one."""
        path = self.circuit.path(element)
        return None if self.facts.element(path).tempco is None else self.term(ElementFacts.tempco, path)

    def _pattern(self, path: str) -> str:
        return "R*" if path.rsplit(".", 1)[-1].upper().startswith("R") else path

    # -- held nets --------------------------------------------------------------------------------------------

    def supply(self, net: int, boundary: Boundary | None = None) -> Term:
        """Voltage of a supply net against its ground: fact, netlist source, name; `Lacking` when nobody tells it."""
        return self.supply_named(self.circuit.net_name(net), net, boundary)

    def supply_named(self, name: str, net: int | None = None, boundary: Boundary | None = None) -> Term:
        """As `supply`, for a name that a fact gives; the net need not be on any card."""
        net = self.circuit.find_net(name) if net is None else net
        fact = self.facts.supply(name)
        tolerance = None if fact is None else fact.tolerance
        if fact is not None and fact.alternates:
            raise Lacking(f"supply {name} is stated AC; only what an AC supply drives through an LED is judged")
        if fact is not None and fact.voltage is not None:
            both = fact.stated_range
            voltage = fact.voltage.value
            nominal = voltage.low if voltage.is_point else (voltage.low + voltage.high) / 2
            if both is not None:
                return fact_terms.known(SupplyFacts.voltage, name, both, origin(fact.voltage))._replace(nominal=nominal)
            return self._widened(name, nominal, None, origin(fact.voltage), spread_only=True)
        element = -1 if boundary is None else boundary.element
        if element < 0 and net is not None:
            held = self.walker.held(net)
            element = -1 if held is None else held.element
        if element >= 0:
            value = self.circuit.value(element)
            if value is not None and net is not None:
                sign = 1.0 if self.circuit.pins(element)[0] == net else -1.0
                return self._widened(
                    name, sign * value, tolerance, f"source {self.circuit.path(element)} in the netlist"
                )
        value = voltage_of_name(name)
        if value is None:
            text = f"the voltage of supply {name} is not known"
            raise Lacking(text, [self.missing(SupplyFacts.voltage, name)])
        return self._widened(name, value, tolerance, "name of the net")

    def _widened(
        self, name: str, nominal: float, tolerance: Stated[Interval] | None, source: str, spread_only: bool = False
    ) -> Term:
        if tolerance is None:
            usual = SupplyFacts.tolerance.counts
            ends = sorted((nominal * (1.0 + usual.low), nominal * (1.0 + usual.high)))
            counts = either(ends[0], nominal, ends[1], _said(source, spread_only))
        else:
            ends = sorted((nominal * (1.0 + tolerance.value.low), nominal * (1.0 + tolerance.value.high)))
            counts = Usual(ends[0], nominal, ends[1], ends[0], ends[1], source)
        row = SupplyFacts.tolerance if spread_only else SupplyFacts.voltage
        term = fact_terms.defaulted(row, name, counts, title=SupplyFacts.voltage.title.format(name), unit="V")
        return term._replace(example=supply_lines(name, nominal, SupplyFacts.tolerance.entry()))

    def source_name(self, net: int) -> str:
        """The solver's name of what holds a net: the net's own, or another one where an element is called the same."""
        name = self.circuit.net_name(net)
        element = self.circuit.find(name)
        return name if element is None or self.circuit.path(element) != name else f"net {name}"

    def output(self, net: int, high: bool, setting: Setting = WORST) -> OutputModel | None:
        """The model of a stated output in its high or low state; None when it is off (high impedance) there.

        Above its test current the guaranteed level depends on the supply minimum, and so on the setting.
        """
        name = self.circuit.net_name(net)
        fact = self.facts.output(name)
        if fact is None:
            raise Lacking(f"output {name} is not stated", [self.missing_output(name)])
        drive = "push-pull" if fact.drive is None else fact.drive.value
        if (high and drive == "open-drain") or (not high and drive == "high-side"):
            return None
        return self._high(name, fact, setting) if high else self._low(name, fact)

    def missing_lines(self, fact: Fact[Any], name: str, *lines: str) -> MissingFact:
        """As `missing`, with lines whose values follow from the circuit; the first holds the head of the table."""
        return MissingFact(self.settings_file, fact.path(name), "\n".join(lines).replace("\\", "\\\\"))

    def missing_line(self, net: int) -> MissingFact:
        """Both states of a field line, for a net that nobody says what drives."""
        return self.missing(LineFacts.on, self.circuit.net_name(net), "", LineFacts.off)

    def missing_output(self, name: str) -> MissingFact:
        """All lines of an output of which nothing is stated."""
        rows = (OutputFacts.high, OutputFacts.low, OutputFacts.source_max, OutputFacts.sink_max)
        return self.missing(OutputFacts.supply, name, "", *rows)

    def _high(self, name: str, fact: OutputFacts, setting: Setting) -> OutputModel:
        if fact.supply is None:
            text = f"output {name} has no stated supply"
            raise Lacking(text, [self.missing(OutputFacts.supply, name)])
        level = None if fact.high is None else fact.high.value
        if level is None or level.min is None or not level.at:
            text = f"the guaranteed high level of output {name} is not stated"
            raise Lacking(text, [self.missing(OutputFacts.high, name)])
        supply = self.supply_named(fact.supply.value)
        best = supply
        if fact.high_max is not None:
            best = self.term(OutputFacts.high_max, name)
        limit = None if fact.source_max is None else fact.source_max.value
        start = setting.low(supply)
        slope = (start - level.min) / level.at
        points = [(0.0, level.min), (level.at, level.min)]
        far = max(limit or 0.0, 4 * level.at)
        if slope > 0.0 and far > level.at:
            points.append((far, start - slope * far))
        return OutputModel(tuple(points), best, level.at, limit, max(start, level.min), supply)

    def _low(self, name: str, fact: OutputFacts) -> OutputModel:
        level = None if fact.low is None else fact.low.value
        if level is None or level.max is None or not level.at:
            text = f"the guaranteed low level of output {name} is not stated"
            raise Lacking(text, [self.missing(OutputFacts.low, name)])
        limit = None if fact.sink_max is None else fact.sink_max.value
        far = max(limit or 0.0, 4 * level.at)
        points = [(-far, level.max / level.at * far), (-level.at, level.max), (0.0, level.max)]
        zero = fact_terms.known(OutputFacts.low, name, 0.0, "0 V: no port resistance")
        return OutputModel(tuple(points), zero, level.at, limit, 0.0)

    def line(self, net: int, on: bool) -> Term:
        """Voltage of a field line in its on or off state; a stated interval, or `Lacking`."""
        name = self.circuit.net_name(net)
        fact = self.facts.line(name)
        row = LineFacts.on if on else LineFacts.off
        if fact is None or (fact.on if on else fact.off) is None:
            # What is stated already is not asked for again: a table with one key twice is no TOML.
            first, *more = [end for end in (LineFacts.on, LineFacts.off) if self.facts.of(end, name) is None]
            lacking = self.missing(first, name, "", *more)._replace(key=row.path(name))
            raise Lacking(f"the voltage of line {name} in its {row.key} state is not stated", [lacking])
        return self.term(row, name)

    def reversed_line(self, net: int) -> Term:
        """Voltage of a field line that is connected the wrong way round; a point below 0."""
        name = self.circuit.net_name(net)
        fact = self.facts.line(name)
        assert fact is not None and fact.reverse is not None
        volts = -fact.reverse.value
        return fact_terms.known(LineFacts.reverse, name, volts, origin(fact.reverse))

    def is_alternating(self, net: int) -> bool:
        """Whether a net is a stated AC supply or line."""
        name = self.circuit.net_name(net)
        fact = self.facts.supply(name) or self.facts.line(name)
        return fact is not None and fact.alternates

    def line_crest(self, net: int, on: bool) -> Term:
        """Crest of a field line that alternates, on or off, volts: the square root of 2 times its rms value."""
        rms, root = self.line(net, on), 2.0**0.5
        ends = {"low": root * rms.low, "nominal": root * rms.nominal, "high": root * rms.high}
        kind = {"kind_low": root * rms.kind_low, "kind_high": root * rms.kind_high}
        title = f"crest of line {self.circuit.net_name(net)} {'on' if on else 'off'}"
        return rms._replace(name=title, **ends, **kind)

    def peak(self, net: int) -> Term:
        """Peak of a stated AC supply or line, volts: the square root of 2 times its rms value."""
        name = self.circuit.net_name(net)
        return self.line_crest(net, True) if self.facts.supply(name) is None else self.peak_of(name)

    def peak_of(self, name: str) -> Term:
        """Peak of a stated AC supply by its name, whose net need not be on any card."""
        fact = self.facts.supply(name)
        if fact is None or fact.voltage is None:
            lacking = self.missing(SupplyFacts.voltage, name, '"230 V"', SupplyFacts.kind, SupplyFacts.frequency)
            raise Lacking(f"the voltage of AC supply {name} is not stated", [lacking])
        rms, both, root = fact.voltage.value, fact.stated_range, 2.0**0.5
        nominal = root * (rms.low + rms.high) / 2
        title = f"peak of supply {name}"
        if both is not None:
            ends = Interval(root * both.low, root * both.high)
            peak = fact_terms.known(SupplyFacts.voltage, name, ends, origin(fact.voltage), title=title)
            return peak._replace(nominal=nominal)
        usual = SupplyFacts.tolerance.counts
        low, high = nominal * (1.0 + usual.low), nominal * (1.0 + usual.high)
        counts = either(low, nominal, high, f"5 % by default around {origin(fact.voltage)}")
        term = fact_terms.defaulted(SupplyFacts.tolerance, name, counts, title=title, unit="V")
        lines = SupplyFacts.kind.entry('"ac"') + "\n" + SupplyFacts.tolerance.entry(example='"10 %"')
        return term._replace(example=supply_lines(name, rms.low, lines))

    def off_leakage(self, net: int) -> Term:
        """Current of a stated output in high impedance, amperes: 0 up to its stated or usual leakage."""
        name = self.circuit.net_name(net)
        term = self.term(OutputFacts.off_leakage, name)
        return term._replace(low=0.0, nominal=0.0, kind_low=0.0)

    def input(self, net: int) -> InputFacts | None:
        """What is stated of the logic input that reads a net."""
        return self.facts.input(self.circuit.net_name(net))

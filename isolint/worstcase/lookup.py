"""Facts, records, models and defaults turned into terms, in the order of trust that the design fixes.

In: circuit, facts, the walker (it knows what holds a net). Out: `Term`s, or `Lacking` with the line to write. Knows
nothing of networks or rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from isolint.circuit import Circuit
from isolint.facts import Facts, InputFacts, Interval, OutputFacts, Stated
from isolint.interfaces.entities import Boundary
from isolint.interfaces.walk import Walker, voltage_of_name
from isolint.results import MissingFact
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, stated

NOMINAL_TEMPERATURE = 25.0
DEFAULT_AMBIENT = (0.0, 70.0)
DEFAULT_SUPPLY_TOLERANCE = 0.05
DEFAULT_RESISTOR_TOLERANCE = 0.05
DEFAULT_CAPACITOR_TOLERANCE = 0.2
DEFAULT_OFF_LEAKAGE = 10e-6
DEFAULT_LIFE_HOURS = 10 * 8766.0
DEFAULT_DUTY = 1.0
DEFAULT_DRIVE_HEADROOM = 1.3
DEFAULT_TRANSFER_MARGIN = 1.2
PUSHED_BACK_AMPS = 1e-9
# From this current into a high output (out of a low one) on its unloaded level holds; at 0 A the guaranteed one does.
COMMON_PRACTICE = "default (common practice, no source)"


def origin(fact: Stated[Any]) -> str:
    """Where a stated value stands, for a report."""
    return f"{fact.file}: {fact.key}"


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
    ) -> None:
        self.circuit = circuit
        self.facts = facts
        self.walker = walker
        self.settings_file = settings_file
        self._resized = dict(resized or {})
        self._controlled: tuple[int, ...] | None = None

    def resized(self, resistances: Mapping[int, float]) -> Lookup:
        """The same terms with other resistor values (ohms by element), to find the value that cures a fault."""
        other = Lookup(self.circuit, self.facts, self.walker, self.settings_file, resistances)
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
        return self._resized.get(element, self.circuit.value(element))

    def missing(self, key: str, example: str) -> MissingFact:
        """The fact to write in the settings file nearest to the netlist; a backslash in a name as TOML writes it."""
        return MissingFact(self.settings_file, key, example.replace("\\", "\\\\"))

    # -- environment ------------------------------------------------------------------------------------------

    def ambient(self) -> Term:
        """Ambient temperature at the part; 0 to 70 degC by default, 25 degC at the kindest."""
        fact = self.facts.environment.ambient
        if fact is not None:
            low, high = fact.value.low, fact.value.high
            return stated(
                "environment.ambient", "ambient temperature", "degC", low, min(max(25.0, low), high), high, origin(fact)
            )
        low, high = DEFAULT_AMBIENT
        return Term(
            "environment.ambient", "ambient temperature", "degC", low, 25.0, high, 25.0, 25.0, False, COMMON_PRACTICE,
            '[environment]\nambient = ["0 degC", "70 degC"]',
        )  # fmt: skip

    def life_hours(self) -> Term:
        """Operating life in hours; 10 years of 8,766 h by default, 0 at the kindest."""
        fact = self.facts.environment.life
        if fact is not None:
            hours = fact.value / 3600.0
            return stated("environment.life", "life", "h", hours, hours, hours, origin(fact))
        hours = DEFAULT_LIFE_HOURS
        return Term(
            "environment.life",
            "life",
            "h",
            hours,
            hours,
            hours,
            0.0,
            0.0,
            False,
            COMMON_PRACTICE,
            '[environment]\nlife = "10 year"',
        )

    def duty(self) -> Term:
        """Share of life with the LED on; 1 by default, 0 at the kindest."""
        fact = self.facts.environment.duty
        if fact is not None:
            return stated("environment.duty", "duty", "1", fact.value, fact.value, fact.value, origin(fact))
        return Term(
            "environment.duty",
            "duty",
            "1",
            DEFAULT_DUTY,
            DEFAULT_DUTY,
            DEFAULT_DUTY,
            0.0,
            0.0,
            False,
            COMMON_PRACTICE,
            "[environment]\nduty = 1.0",
        )

    def drive_headroom(self) -> float:
        """Required drive headroom, a point; 1.3 by default (common practice, no source)."""
        fact = self.facts.limits.drive_headroom
        return DEFAULT_DRIVE_HEADROOM if fact is None else fact.value

    def transfer_margin(self) -> float:
        """Required transfer margin, a point; 1.2 by default (common practice, no source)."""
        fact = self.facts.limits.transfer_margin
        return DEFAULT_TRANSFER_MARGIN if fact is None else fact.value

    # -- elements ---------------------------------------------------------------------------------------------

    def tolerance(self, element: int) -> Term:
        """Relative deviation of a resistor or source from its nominal value; 5 % by default."""
        path = self.circuit.path(element)
        key = f'elements."{path}".tolerance'
        fact = self.facts.element(path).tolerance
        if fact is not None:
            return stated(key, f"tolerance of {path}", "1", fact.value.low, 0.0, fact.value.high, origin(fact))
        usual = {"R": DEFAULT_RESISTOR_TOLERANCE, "C": DEFAULT_CAPACITOR_TOLERANCE}
        spread = usual.get(self.circuit.letter(element), DEFAULT_SUPPLY_TOLERANCE)
        example = f'[elements."{self._pattern(path)}"]\ntolerance = "1 %"'
        return Term(key, f"tolerance of {path}", "1", -spread, 0.0, spread, 0.0, 0.0, False, COMMON_PRACTICE, example)

    def tempco(self, element: int) -> Term | None:
        """Temperature coefficient of a resistor in 1/K, None when nobody stated one."""
        path = self.circuit.path(element)
        fact = self.facts.element(path).tempco
        if fact is None:
            return None
        return stated(
            f'elements."{path}".tempco', f"tempco of {path}", "1/K", fact.value.low, 0.0, fact.value.high, origin(fact)
        )

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
        key = f'supplies."{name}".voltage'
        tolerance = None if fact is None else fact.tolerance
        if fact is not None and fact.kind is not None and fact.kind.value == "ac":
            raise Lacking(f"supply {name} is stated AC; only what an AC supply drives through an LED is judged")
        if fact is not None and fact.voltage is not None:
            both = fact.stated_range
            voltage = fact.voltage.value
            nominal = voltage.low if voltage.is_point else (voltage.low + voltage.high) / 2
            if both is not None:
                return stated(key, f"supply {name}", "V", both.low, nominal, both.high, origin(fact.voltage))
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
            raise Lacking(text, [self.missing(key, f'[supplies."{name}"]\nvoltage = "5 V"')])
        return self._widened(name, value, tolerance, "name of the net")

    def _widened(
        self, name: str, nominal: float, tolerance: Stated[Interval] | None, source: str, spread_only: bool = False
    ) -> Term:
        spread = (-DEFAULT_SUPPLY_TOLERANCE, DEFAULT_SUPPLY_TOLERANCE)
        if tolerance is not None:
            spread = (tolerance.value.low, tolerance.value.high)
        ends = sorted(nominal * (1.0 + end) for end in spread)
        kind = (ends[0], ends[1]) if tolerance is not None else (nominal, nominal)
        text = source if spread_only or tolerance is not None else f"{source}, 5 % by default"
        if spread_only:
            text = f"5 % by default around {source}"
        key = f'supplies."{name}".tolerance' if spread_only else f'supplies."{name}".voltage'
        example = f'[supplies."{name}"]\nvoltage = "{nominal:g} V"\ntolerance = "5 %"'
        return Term(key, f"supply {name}", "V", ends[0], nominal, ends[1], kind[0], kind[1], False, text, example)

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
            raise Lacking(
                f"output {name} is not stated", [self.missing(f'outputs."{name}".supply', self._output_example(name))]
            )
        drive = "push-pull" if fact.drive is None else fact.drive.value
        if (high and drive == "open-drain") or (not high and drive == "high-side"):
            return None
        return self._high(name, fact, setting) if high else self._low(name, fact)

    def _output_example(self, name: str) -> str:
        return (
            f'[outputs."{name}"]\nsupply = "V3V3"\nhigh = {{ min = "2.9 V", at = "4 mA" }}\n'
            'low = { max = "0.4 V", at = "4 mA" }\nsource_max = "8 mA"\nsink_max = "8 mA"'
        )

    def _high(self, name: str, fact: OutputFacts, setting: Setting) -> OutputModel:
        if fact.supply is None:
            text = f"output {name} has no stated supply"
            raise Lacking(text, [self.missing(f'outputs."{name}".supply', f'[outputs."{name}"]\nsupply = "V3V3"')])
        level = None if fact.high is None else fact.high.value
        if level is None or level.min is None or not level.at:
            example = f'[outputs."{name}"]\nhigh = {{ min = "2.9 V", at = "4 mA" }}'
            raise Lacking(
                f"the guaranteed high level of output {name} is not stated",
                [self.missing(f'outputs."{name}".high', example)],
            )
        supply = self.supply_named(fact.supply.value)
        best = supply
        if fact.high_max is not None:
            top = fact.high_max.value
            best = stated(
                f'outputs."{name}".high_max',
                f"highest level of output {name}",
                "V",
                top,
                top,
                top,
                origin(fact.high_max),
            )
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
            example = f'[outputs."{name}"]\nlow = {{ max = "0.4 V", at = "4 mA" }}'
            raise Lacking(
                f"the guaranteed low level of output {name} is not stated",
                [self.missing(f'outputs."{name}".low', example)],
            )
        limit = None if fact.sink_max is None else fact.sink_max.value
        far = max(limit or 0.0, 4 * level.at)
        points = [(-far, level.max / level.at * far), (-level.at, level.max), (0.0, level.max)]
        zero = stated(
            f'outputs."{name}".low', f"lowest level of output {name}", "V", 0.0, 0.0, 0.0, "0 V: no port resistance"
        )
        return OutputModel(tuple(points), zero, level.at, limit, 0.0)

    def line(self, net: int, on: bool) -> Term:
        """Voltage of a field line in its on or off state; a stated interval, or `Lacking`."""
        name = self.circuit.net_name(net)
        fact = self.facts.line(name)
        state = "on" if on else "off"
        value = None if fact is None else (fact.on if on else fact.off)
        key = f'lines."{name}".{state}'
        if value is None:
            # What is stated already is not asked for again: a table with one key twice is no TOML.
            usual = {"on": '["15 V", "30 V"]', "off": '["-3 V", "5 V"]'}
            wanted = [end for end in usual if fact is None or getattr(fact, end) is None]
            example = f'[lines."{name}"]\n' + "\n".join(f"{end} = {usual[end]}" for end in wanted)
            raise Lacking(
                f"the voltage of line {name} in its {state} state is not stated", [self.missing(key, example)]
            )
        low, high = value.value.low, value.value.high
        return stated(key, f"line {name} {state}", "V", low, (low + high) / 2, high, origin(value))

    def reversed_line(self, net: int) -> Term:
        """Voltage of a field line that is connected the wrong way round; a point below 0."""
        name = self.circuit.net_name(net)
        fact = self.facts.line(name)
        assert fact is not None and fact.reverse is not None
        volts = -fact.reverse.value
        return stated(
            f'lines."{name}".reverse', f"line {name} reversed", "V", volts, volts, volts, origin(fact.reverse)
        )

    def is_alternating(self, net: int) -> bool:
        """Whether a net is a stated AC supply."""
        fact = self.facts.supply(self.circuit.net_name(net))
        return fact is not None and fact.kind is not None and fact.kind.value == "ac"

    def peak(self, net: int) -> Term:
        """Peak of a stated AC supply, volts: the square root of 2 times its rms value."""
        name = self.circuit.net_name(net)
        fact = self.facts.supply(name)
        if fact is None or fact.voltage is None:
            example = f'[supplies."{name}"]\nvoltage = "230 V"\nkind = "ac"\nfrequency = "50 Hz"'
            raise Lacking(
                f"the voltage of AC supply {name} is not stated", [self.missing(f'supplies."{name}".voltage', example)]
            )
        rms, both, root = fact.voltage.value, fact.stated_range, 2.0**0.5
        nominal = root * (rms.low + rms.high) / 2
        key, title = f'supplies."{name}".voltage', f"peak of supply {name}"
        if both is not None:
            return stated(key, title, "V", root * both.low, nominal, root * both.high, origin(fact.voltage))
        low, high = nominal * (1.0 - DEFAULT_SUPPLY_TOLERANCE), nominal * (1.0 + DEFAULT_SUPPLY_TOLERANCE)
        example = f'[supplies."{name}"]\nvoltage = "{rms.low:g} V"\nkind = "ac"\ntolerance = "10 %"'
        text = f"5 % by default around {origin(fact.voltage)}"
        return Term(
            f'supplies."{name}".tolerance', title, "V", low, nominal, high, nominal, nominal, False, text, example
        )

    def off_leakage(self, net: int) -> Term:
        """Current of a stated output in high impedance, amperes: 0 up to its stated or usual leakage."""
        name = self.circuit.net_name(net)
        fact = self.facts.output(name)
        key, title = f'outputs."{name}".off_leakage', f"off leakage of output {name}"
        if fact is not None and fact.off_leakage is not None:
            return stated(key, title, "A", 0.0, 0.0, fact.off_leakage.value, origin(fact.off_leakage))
        example = f'[outputs."{name}"]\noff_leakage = "1 uA"'
        return Term(
            key, title, "A", 0.0, 0.0, DEFAULT_OFF_LEAKAGE, 0.0, 0.0, False, "default 0 to 10 uA (from memory)", example
        )

    def input(self, net: int) -> InputFacts | None:
        """What is stated of the logic input that reads a net."""
        return self.facts.input(self.circuit.net_name(net))

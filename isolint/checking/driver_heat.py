"""What a gate driver turns into heat: the supply of its output, the charge of the gates, its LED.

In: a rule and a context. Out: one result a driver that reaches a gate.

    P = I_CC V_CC + E_SW f + I_F V_F duty     E_SW = Q_g V_CC (r_on / (r_on + R_on) + r_off / (r_off + R_off)) / 2

r is the resistance of the output, R what lies between it and the gate (key `isolated-driver-data`).
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.driver_outputs import DriverOutput, driver_outputs, largest_supply, rail_of
from isolint.checking.gate_levels import GateDrive
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import ElementFacts, SignalFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output, Supply
from isolint.results import Evidence, Result
from isolint.rows import Usual, most
from isolint.worstcase import fact_terms, gates, heat, waves
from isolint.worstcase.figures import Figure
from isolint.worstcase.heat import NO_POWER
from isolint.worstcase.supply_pins import SupplyPin
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique

_SHARE = Usual(1.0, 0.3, 1.0, 0.3, 0.3, "default 0.3 to 1 of the energy of a gate (from memory)")
_QUIESCENT = most(1e-3, 10e-3, "default 1 to 10 mA (from memory)")


def drivers_stay_cool(rule: Rule, context: Context) -> Iterator[Result]:
    """The power of each gate driver against its ratings at the hottest ambient."""
    found: dict[int, list[DriverOutput]] = {}
    for output in driver_outputs(context, "driver"):
        if output.drives:
            found.setdefault(output.part.element, []).append(output)
    for outputs in found.values():
        part = outputs[0].part
        try:
            verdict = decide(lambda setting, outputs=outputs: _claim(context, outputs, setting)[0])  # type: ignore[misc]
            told, (_, evidence) = verdict.worst, _claim(context, outputs, WORST)
        except Lacking as reason:
            yield part_results.lacking(context, rule, part, reason)
            continue
        yield part_results.judged(
            context,
            rule,
            part,
            verdict,
            f"{told.found.name} is up to {told.found}, {told.limit} are allowed",
            evidence=[*evidence, *told.evidence()],
            remedy="a larger gate resistor, a lower frequency or supply, or a part with a larger power rating",
            chain=[drive.gate.element for output in outputs for drive in output.drives],
        )


def _claim(context: Context, outputs: list[DriverOutput], setting: Setting) -> tuple[Claim, list[Evidence]]:
    part = outputs[0].part
    terms: list[Term] = []
    supply = _supplies(context, outputs, setting, terms)
    hertz = _hertz(context, outputs)
    energy = _energy(context, outputs, setting, terms)
    switching = (energy * Figure("f", hertz, "Hz", "switching frequency")).called("P_SW", "W", "loss of charging gates")
    led = _led(context, part, setting, terms)
    hot = setting.high(context.lookup.ambient())
    terms.append(context.lookup.ambient())
    ratings, more = heat.ratings(part, led, switching.si, supply.si, hot, setting)
    terms.extend(more)
    claims = []
    for rating in ratings:
        found = Figure("P", rating.actual, "W", rating.name, source=rating.origin)
        claims.append(at_most(found, Figure("P_allowed", rating.allowed, "W"), unique(terms), least=NO_POWER))
    said = [supply.evidence(), energy.evidence(), switching.evidence()]
    return tightest(claims), said if led == 0.0 else [*said, Figure("P_LED", led, "W", "power in the LED").evidence()]


def _supplies(context: Context, outputs: list[DriverOutput], setting: Setting, terms: list[Term]) -> Figure:
    """What the supplies of the outputs bring in: those of a driver with several outputs each for itself."""
    watts = Figure("P_CC", 0.0, "W")
    for rail, volts in _rails(context, outputs, setting, terms):
        stated = rail.stated.current
        name = fact_terms.named(rail.part)
        title = Supply.current.title.format(rail.part.path)
        current = (
            fact_terms.defaulted(Supply.current, name, _QUIESCENT, title=title)
            if stated is None
            else fact_terms.known(Supply.current, name, stated, f"record {name}", title=title)
        )
        terms.append(current)
        watts = watts + Figure("I_CC", setting.high(current), "A", current.name, source=current.origin) * volts
    return watts.called("P_CC", "W", "power from the supply of the output")


def _rails(
    context: Context, outputs: list[DriverOutput], setting: Setting, terms: list[Term]
) -> Iterator[tuple[SupplyPin, Figure]]:
    seen = set[int]()
    for output in outputs:
        rail = rail_of(context, output)
        if rail.pin not in seen:
            seen.add(rail.pin)
            volts, used = largest_supply(context, output, setting)
            terms.extend(used)
            yield rail, volts


def _energy(context: Context, outputs: list[DriverOutput], setting: Setting, terms: list[Term]) -> Figure:
    """Joules a period that stay in the driver: as its record states, else by the charge of each gate."""
    part = outputs[0].part
    stated = fact_terms.recorded(part, Output.switching_energy)
    if stated is not None:
        source = f"record {fact_terms.named(part)}"
        return Figure("E_SW", float(stated), "J", "energy that its output loses a period", source=source)
    total = Figure("E_SW", 0.0, "J")
    gates_of: dict[int, list[tuple[GateDrive, DriverOutput]]] = {}
    for output in outputs:
        for drive in output.drives:
            gates_of.setdefault(drive.gate.element, []).append((drive, output))
    for element, drives in gates_of.items():
        path = context.circuit.path(element)
        charge = context.facts.element(path).gate_charge
        if charge is None:
            raise Lacking(
                f"the gate charge of {path} is not stated", [context.lookup.missing(ElementFacts.gate_charge, path)]
            )
        volts, used = largest_supply(context, drives[0][1], setting)
        terms.extend(used)
        share = sum(_share(context, part, [drive for drive, _ in drives], on, setting, terms) for on in (True, False))
        energy = Figure("Q_g", charge.value, "C", f"gate charge of {path}") * volts * Figure("share", share / 2.0)
        total = total + energy
    return total.called("E_SW", "J", "energy that its output loses a period")


def _share(
    context: Context, part: Part, drives: list[GateDrive], on: bool, setting: Setting, terms: list[Term]
) -> float:
    """The share of the energy of an edge that the resistance of the output takes."""
    sinks = None if on else fact_terms.recorded(part, Output.sink_resistance)
    own = fact_terms.recorded(part, Output.on_resistance) if sinks is None else sinks
    if own is None:
        name = fact_terms.named(part)
        title = f"share of the energy of a gate that {part.path} takes"
        term = fact_terms.defaulted(Output.on_resistance, name, _SHARE, title=title, unit="1")
        terms.append(term)
        return setting.high(term)
    ohms = float("inf")
    for drive in drives:
        if drive.on if on else drive.off:
            outside, used = gates.resistance(context.lookup, context.analysis.solver, drive.gate, setting, on)
            inside = context.facts.of(ElementFacts.gate_resistance, context.circuit.path(drive.gate.element))
            terms.extend(used)
            ohms = min(ohms, outside + (0.0 if inside is None else inside.value))
    return loss_share(float(own), ohms)


def loss_share(own: float, outside: float) -> float:
    """What an output's resistance takes of the energy of an edge; outside: ohms between it and the gate."""
    return own / (own + outside)


def _hertz(context: Context, outputs: list[DriverOutput]) -> float:
    """The largest frequency that is stated of what drives it: half of a rate in baud."""
    part = outputs[0].part
    nets = dict.fromkeys(context.circuit.pins(part.element))
    for channel in context.analysis.neighbours().of_part(part.element):
        nets |= dict.fromkeys((*channel.drive.inner, *(held.net for held in channel.drive.boundary)))
    nets |= dict.fromkeys(drive.gate.net for output in outputs for drive in output.drives)
    found = []
    for net in nets:
        name = context.net(net)
        signal = context.facts.signal(name)
        if signal is not None and signal.rate is not None:
            repeats = waves.stated_hertz(context.lookup, name)
            found.append(signal.rate.value / 2.0 if repeats is None else repeats)
    if not found:
        at = context.net(outputs[0].net)
        raise Lacking(
            f"how often {part.path} switches nobody says", [context.lookup.missing(SignalFacts.rate, at, '"20 kHz"')]
        )
    return max(found)


def _led(context: Context, part: Part, setting: Setting, terms: list[Term]) -> float:
    watts = 0.0
    for channel in context.analysis.neighbours().of_part(part.element):
        drive = context.analysis.drive(channel, setting)
        terms.extend(drive.terms)
        watts += context.analysis.mean_power(channel, drive, setting).value
    return watts

"""The outputs of gate drivers and photovoltaic couplers: whether they drive a gate, the right way round, what they
bear and what reads them.

In: a rule and a context. Out: its results, one an output. Gates themselves are judged by the rules about gates.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from isolint.checking import gate_levels, part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.gate_levels import GateDrive
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import InputFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output
from isolint.results import Kind, Measure, Result
from isolint.worstcase import fact_terms, gates
from isolint.worstcase.figures import Figure
from isolint.worstcase.pin_nets import input_voltage
from isolint.worstcase.resistors import LEAST_OHMS
from isolint.worstcase.supply_pins import SupplyPin, supply_pins
from isolint.worstcase.uncertain import Lacking, Setting, Term

_LOADS = frozenset("RLQJ")


class DriverOutput(NamedTuple):
    """An output with its net, its return where it has one of its own (else -1), and the gates that it reaches."""

    part: Part
    name: str
    net: int
    back: int
    drives: tuple[GateDrive, ...]


def driver_outputs(context: Context, *kinds: str) -> Iterator[DriverOutput]:
    """Every output of the used parts that drive gates: of those that own `driver`, of photovoltaic ones (`array`)."""
    for part in context.interfaces.recognition.parts.values():
        if part.path in context.interfaces.unused:
            continue
        if "driver" in part.kind.owns and "driver" in kinds:
            yield from _of_driver(context, part)
        elif "array" in part.kind.owns and "array" in kinds:
            yield from _of_array(context, part)


def _of_driver(context: Context, part: Part) -> Iterator[DriverOutput]:
    drives = list(gate_levels.drives(context, [part]))
    names = () if part.record is None else part.record.pins
    for output in gates.outputs(context.lookup, part):
        name = names[output.pin] if output.pin < len(names) else f"pin {output.pin + 1}"
        own = tuple(drive for drive in drives if drive.gate.start == output.net)
        yield DriverOutput(part, name, output.net, -1, own)


def _of_array(context: Context, part: Part) -> Iterator[DriverOutput]:
    """Outputs in series or side by side are one, said of the first of them."""
    recognition = context.interfaces.recognition
    for channel in context.analysis.neighbours().of_part(part.element):
        try:
            row = gate_levels.joined_arrays(context, channel)
            plus, minus = gate_levels.ends(context, row[-1])[0], gate_levels.ends(context, row[0])[1]
        except Lacking:
            # The rules about gates ask for it.
            continue
        if row[0].subject == channel.subject:
            found = gates.driven(context.lookup, recognition, part, plus, minus)
            yield DriverOutput(part, channel.name, plus, minus, tuple(GateDrive(part, gate, minus) for gate in found))


# -- something to drive -----------------------------------------------------------------------------------------------


def drive_something(rule: Rule, context: Context) -> Iterator[Result]:
    """Whether each output reaches a gate, or at least something that takes its level."""
    for output in driver_outputs(context, "driver", "array"):
        yield _said(rule, context, output, *_driven(context, output))


def _driven(context: Context, output: DriverOutput) -> tuple[Kind, str, str]:
    circuit, net = context.circuit, context.net(output.net)
    if output.drives:
        names = ", ".join(dict.fromkeys(circuit.path(drive.gate.element) for drive in output.drives))
        return "pass", f"its output {output.name} reaches the gate of {names}".replace("  ", " "), ""
    near = {element for element, _ in circuit.elements_at(output.net) if element != output.part.element}
    if not near and context.lookup.input(output.net) is None:
        return "fail", f"nothing lies on net {net} of its output: it drives no gate", f"connect net {net} to a gate"
    unknown = _unknown(context, output)
    if unknown is not None:
        # The rules about gates ask for it.
        return "notApplicable", f"whether {circuit.path(unknown)}, which it drives, is a transistor nobody says", ""
    if output.back < 0 and (
        context.lookup.input(output.net) is not None
        or any(circuit.letter(element) in _LOADS or element in context.interfaces.recognition.parts for element in near)
    ):
        return "pass", f"something takes the level of its output {output.name}", ""
    wanted = "no gate and no resistor" if output.back < 0 else "no gate"
    return "fail", f"its output reaches {wanted} from net {net}", f"connect net {net} to a gate"


def _unknown(context: Context, output: DriverOutput) -> int | None:
    """A part that an output reaches and that may be a transistor."""
    found = gates.undeclared(context.lookup, context.interfaces.recognition, output.part, output.net)
    return next((element for element in found if context.circuit.letter(element) in "XU"), None)


def point_at_gates(rule: Rule, context: Context) -> Iterator[Result]:
    """Whether the plus of each photovoltaic output lies at the gate and its minus at the source."""
    for output in driver_outputs(context, "array"):
        recognition = context.interfaces.recognition
        turned = gates.driven(context.lookup, recognition, output.part, output.back, output.net)
        own = {drive.gate.element for drive in output.drives}
        backwards = [gate.element for gate in turned if gate.element not in own and _is_n(context, gate.element)]
        if not backwards or own:
            yield _said(rule, context, output, "pass", "the plus of its output does not lie at a source", "")
            continue
        path = context.circuit.path(backwards[0])
        plus, minus = context.net(output.net), context.net(output.back)
        text = (
            f"its output lies the wrong way round: minus ({minus}) at the gate of {path}, plus ({plus}) at its source"
        )
        yield _said(rule, context, output, "fail", text, f"exchange nets {plus} and {minus} on {output.part.path}")


def _is_n(context: Context, element: int) -> bool:
    threshold = gates.threshold_of(context.lookup, element)
    return threshold is None or threshold >= 0.0


def _said(rule: Rule, context: Context, output: DriverOutput, kind: Kind, text: str, remedy: str) -> Result:
    part = output.part
    made = context.result(
        rule,
        kind,
        f"{part.path}: {text}",
        context.place(part.element),
        part.path,
        role=output.name,
        measure=Measure(0.0, larger_is_worse=False) if kind == "fail" else None,
        remedy=remedy,
        related=context.related([part.element, *(drive.gate.element for drive in output.drives)]),
        element=part.element,
    )
    return made._replace(part=part.path)


# -- what it bears and what reads it ----------------------------------------------------------------------------------


def rail_of(context: Context, output: DriverOutput) -> SupplyPin:
    """The supply pin of an output; raises `Lacking`."""
    nets = context.circuit.pins(output.part.element)
    pin = next(at for at, net in enumerate(nets) if net == output.net and output.part.roles[at] == "output")
    group = next((group for group in output.part.groups if pin in group), ())
    for rail in supply_pins(output.part):
        if rail.pin in group:
            return rail
    raise Lacking(f"which pin supplies output {output.name} of {output.part.path} is not known", blocked_by="feed")


def largest_supply(context: Context, output: DriverOutput, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
    """The largest supply of an output, from rail to rail, with what it rests on; raises `Lacking`."""
    rail, nets = rail_of(context, output), context.circuit.pins(output.part.element)
    found = context.analysis.supplied(nets[rail.pin], nets[rail.back], setting)
    name = "largest supply of the output"
    return Figure("V_CC", found.volts.high.value, "V", name, at=found.volts.high), found.terms


def bear_supply(rule: Rule, context: Context) -> Iterator[Result]:
    """The largest supply of each output against what the record says that the output stands."""
    for output in driver_outputs(context, "driver"):
        rating = fact_terms.recorded(output.part, Output.voltage_max)
        if rating is None:
            yield _said(rule, context, output, "notApplicable", "its record states no more than its supply's range", "")
            continue

        def claim(setting: Setting, output: DriverOutput = output, rating: float = float(rating)) -> Claim:
            volts, terms = largest_supply(context, output, setting)
            limit = Figure("V_O_max", rating, "V", source=f"record {fact_terms.named(output.part)}")
            return at_most(volts, limit, terms)

        yield _decided(
            rule, context, output, claim, "its output sees up to {} and stands {}", "a lower supply, or another part"
        )


def carry_bleeds(rule: Rule, context: Context) -> Iterator[Result]:
    """The steady current through the resistors between gate and source; the peak is a matter of the gate resistor."""
    for output in driver_outputs(context, "driver"):
        rating = fact_terms.recorded(output.part, Output.current_max)
        if rating is None or not output.drives:
            text = "its record states no steady current of its output"
            yield _said(rule, context, output, "notApplicable", text, "")
            continue

        def claim(setting: Setting, output: DriverOutput = output, rating: float = float(rating)) -> Claim:
            volts, terms = largest_supply(context, output, setting)
            siemens, used = 0.0, list(terms)
            for drive in output.drives:
                for element in drive.gate.beside:
                    ohms = context.lookup.ohms(element) if context.circuit.letter(element) == "R" else None
                    if ohms is not None:
                        spread = context.lookup.tolerance(element)
                        used.append(spread)
                        siemens += 1.0 / max(ohms * (1.0 + setting.low(spread)), LEAST_OHMS)
            amps = (volts * Figure("1/R", siemens, "S")).called("I_O", "A", "steady current of the output")
            limit = Figure("I_O_max", rating, "A", source=f"record {fact_terms.named(output.part)}")
            return at_most(amps, limit, used, least=1e-9)

        yield _decided(
            rule,
            context,
            output,
            claim,
            "its output carries up to {} steadily and stands {}",
            "a larger resistor from gate to source",
        )


def read_by_inputs(rule: Rule, context: Context) -> Iterator[Result]:
    """The highest level of a gate driver's output against what stated logic inputs on its net stand."""
    for output in driver_outputs(context, "driver"):
        if output.drives or context.lookup.input(output.net) is None or _unknown(context, output) is not None:
            continue

        def claim(setting: Setting, output: DriverOutput = output) -> Claim:
            volts, terms = largest_supply(context, output, setting)
            rating = input_voltage(context.lookup, output.net)
            limit = Figure("V_in_max", setting.low(rating), "V", source=rating.origin)
            return at_most(volts, limit, (rating, *terms))

        name = context.net(output.net)
        words = f"its output gives up to {{}}, input {name} stands {{}}"
        key = InputFacts.voltage_max.key
        yield _decided(rule, context, output, claim, words, f"divide the level, or state {key} of {name}")


def _decided(
    rule: Rule, context: Context, output: DriverOutput, claim: Callable[[Setting], Claim], words: str, remedy: str
) -> Result:
    try:
        verdict = decide(claim)
    except Lacking as reason:
        return part_results.lacking(context, rule, output.part, reason, output.name)
    told = verdict.worst
    return part_results.judged(
        context,
        rule,
        output.part,
        verdict,
        words.format(*told.beside),
        evidence=told.evidence(),
        remedy=remedy,
        chain=[drive.gate.element for drive in output.drives],
        role=output.name,
    )

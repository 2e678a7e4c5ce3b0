"""What rules about levels say of the outputs of isolators for logic: too little, too much, nothing to pull them up.

In: a rule and a context. Out: its results, one an output and stated input that reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.isolator_outputs import LogicOutput, levels, logic_outputs, pulled, readers, within_range
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import InputFacts
from isolint.results import Measure, Result
from isolint.worstcase.figures import Figure
from isolint.worstcase.pin_nets import input_voltage
from isolint.worstcase.uncertain import Lacking, Setting


def reach_levels(rule: Rule, context: Context) -> Iterator[Result]:
    """The levels of each push-pull output against what the inputs at it need."""
    for output, net in _read(context):
        facts = context.lookup.input(net)
        if facts is None or facts.high_min is None or facts.low_max is None:
            continue

        def claim(setting: Setting, output: LogicOutput = output, net: int = net) -> Claim:
            found, name = levels(context, output, setting), context.net(net)
            high_min, low_max = (context.lookup.term(row, name) for row in (InputFacts.high_min, InputFacts.low_max))
            high = Figure("V_high", found.high, "V", "lowest high level", end="min")
            need = Figure("V_IH", setting.high(high_min), "V", f"high level of input {name}", source=high_min.origin)
            low = Figure("V_low", found.low, "V", "highest low level")
            most = Figure("V_IL", setting.low(low_max), "V", f"low level of input {name}", source=low_max.origin)
            terms = (*found.terms, high_min, low_max)
            return tightest([at_least(high, need, terms), at_most(low, most, terms, least=1e-3)])

        yield _decided(
            rule,
            context,
            output,
            net,
            claim,
            lambda told: f"gives {told.beside[0]} ({told.found.name}), input {{}} needs {told.beside[1]}",
            "feed both sides of the net from one supply, or shift the level",
        )


def bear_levels(rule: Rule, context: Context) -> Iterator[Result]:
    """The highest level of each push-pull output against what the inputs at it stand."""
    for output, net in _read(context):
        facts = context.lookup.input(net)
        supply = None if facts is None or facts.supply is None else facts.supply.value.casefold()
        if facts is None:
            continue
        if facts.voltage_max is None and (supply is None or supply == context.net(output.supply).casefold()):
            continue

        def claim(setting: Setting, output: LogicOutput = output, net: int = net) -> Claim:
            rail = context.analysis.supplied(output.supply, output.ground, setting)
            rating = input_voltage(context.lookup, net)
            volts = Figure("V_in", rail.volts.high, "V", "highest level", source=context.net(output.supply))
            limit = Figure("V_in_max", setting.low(rating), "V", source=rating.origin)
            return at_most(volts, limit, (rating, *rail.terms))

        yield _decided(
            rule,
            context,
            output,
            net,
            claim,
            lambda told: f"gives up to {told.beside[0]}, input {{}} stands {told.beside[1]}",
            "feed both sides of the net from one supply, or divide the level",
        )


def need_pulling(rule: Rule, context: Context) -> Iterator[Result]:
    """Whether something pulls up the outputs that only pull down."""
    for output in logic_outputs(context):
        if not output.pulls or (len(context.circuit.elements_at(output.net)) < 2 and not readers(context, output)):
            continue
        up, _ = pulled(context, output)
        net = context.net(output.net)
        text = f"{output.part.path}: output {output.name} only pulls down, " + (
            f"and something pulls net {net} up" if up else f"and nothing pulls net {net} up"
        )
        element = output.part.element
        made = context.result(
            rule,
            "pass" if up else "fail",
            text,
            context.place(element),
            output.part.path,
            role=output.name,
            measure=Measure.number_of(1),
            remedy="" if up else f"fit a pull-up from net {net} to the supply of what reads it",
            related=context.related([element]),
            element=element,
        )
        yield made._replace(part=output.part.path)


def _read(context: Context) -> Iterator[tuple[LogicOutput, int]]:
    """The push-pull outputs whose supply is in range, each with the nets of the inputs that read it."""
    for output in logic_outputs(context):
        nets = [] if output.pulls else readers(context, output)
        try:
            known = bool(nets) and within_range(context, output)
        except Lacking:
            # The rule about supplies asks for it.
            continue
        yield from ((output, net) for net in nets if known)


def _decided(
    rule: Rule,
    context: Context,
    output: LogicOutput,
    net: int,
    claim: Callable[[Setting], Claim],
    words: Callable[[Claim], str],
    remedy: str,
) -> Result:
    name = context.net(net)
    role = f"{output.name} at {name}"
    try:
        verdict = decide(claim)
    except Lacking as reason:
        return part_results.lacking(context, rule, output.part, reason, role)
    text = f"output {output.name} {words(verdict.worst)}".format(name)
    return part_results.judged(
        context,
        rule,
        output.part,
        verdict,
        text,
        evidence=verdict.worst.evidence(),
        remedy=remedy,
        role=role,
    )

"""Verdicts on one network of capacitors between two sides: classes, number in series, rated voltage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Literal, NamedTuple

from isolint.checking.barrier_demands import SidePair, WantedInsulation
from isolint.checking.capacitors import class_of, rating_of, strength
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import BarrierFacts, ElementFacts, Fact
from isolint.interfaces.entities import Bridge
from isolint.results import Evidence, Limit, Margin, Measure, MissingFact, Result
from isolint.standards import bridging
from isolint.units import show
from isolint.worstcase.figures import Figure

_SAME = 0.01
"""How far the nominal values of two capacitors in series may differ and still be called the same."""


class Fault(NamedTuple):
    """What is wrong with a network: the card to change first, why, the cure and the number.

    share: what it is worth of what is wanted, where that is no margin.
    """

    element: int
    text: str
    remedy: str
    evidence: tuple[Evidence, ...] = ()
    margin: Margin | None = None
    share: float = 0.0


def network_result(
    context: Context, rule: Rule, pair: SidePair, wanted: WantedInsulation, bridge: Bridge
) -> Result | None:
    """A failure or open result about one network of capacitors, None where it is fit."""
    fault = _class_fault(context, pair, wanted, bridge) if wanted.grade else None
    fault = fault or _rating_fault(context, pair, bridge)
    if fault is not None:
        return _about(context, rule, bridge, "fail", fault)
    return _open(context, rule, pair, wanted, bridge) if wanted.grade else None


def _class_fault(context: Context, pair: SidePair, wanted: WantedInsulation, bridge: Bridge) -> Fault | None:
    """Classes that may not bridge the barrier."""
    allowed = bridging.allowed(wanted.grade)
    impulses = tuple(impulse_evidence(context, bridge))

    def fault(element: int, text: str, share: float, cure: str = f"{allowed}, or none") -> Fault:
        said = f"between sides {pair.name} lies {text}"
        return Fault(element, said, f"{context.named(element)}: {cure}", impulses, share=share)

    for element in bridge.elements:
        if class_of(context, element).startswith("X"):
            why = f"an X class never bridges insulation, {wanted.why} bears {allowed}"
            return fault(element, f"{described(context, element)}: {why}", 0.0)
    found = strength(context, bridge, wanted.grade, mains_of(pair))
    classes = {element: class_of(context, element) for element in found.way}
    chain = ", ".join(described(context, element) for element in found.way)
    if found.high < 1.0:
        weakest = min(found.way, key=lambda element: bridging.CLASSES[classes[element] or "Y1"].rank)
        return fault(weakest, f"{chain}: {wanted.why} bears {allowed}", found.high)
    shares = [bridging.share(wanted.grade, name, mains_of(pair)).high for name in classes.values() if name]
    values = [context.circuit.value(element) or 0.0 for element in found.way]
    if all(classes.values()) and max(shares) < 1.0 and max(values) > min(values) * (1.0 + _SAME):
        text = f"{chain}: two in series must have the same nominal value"
        share = min(values) / max(values)
        return fault(max(found.way, key=context.place), text, share, "the value of the others in the chain")
    return None


def _rating_fault(context: Context, pair: SidePair, bridge: Bridge) -> Fault | None:
    """A capacitor that is not rated for the voltage between the sides."""
    volts = voltage_of(pair)
    for element in bridge.elements:
        rated = rating_of(context, element)
        if rated is not None and volts is not None and rated < volts:
            wants = show(volts, "V")
            text = (
                f"between sides {pair.name} lies {described(context, element)}: rated {show(rated, 'V')}, the voltage "
                f"between the sides is {wants}"
            )
            cure = f"{context.named(element)}: rated {wants} or more"
            evidence = (rating_evidence(context, element, rated, volts),)
            return Fault(element, text, cure, evidence, Margin(rated / volts, 1.0))
    return None


def _open(context: Context, rule: Rule, pair: SidePair, wanted: WantedInsulation, bridge: Bridge) -> Result | None:
    """An open result where a class, a rated voltage, a value or the voltage between the sides is not known."""
    missing: list[MissingFact] = []
    why: list[str] = []
    found = strength(context, bridge, wanted.grade, mains_of(pair))
    unknown = [element for element in found.way if not class_of(context, element)] if found.low < 1.0 else []
    unrated = [element for element in bridge.elements if rating_of(context, element) is None]
    if unknown:
        why.append(f"nobody stated the class of {names(context, unknown)}")
    elif found.low < 1.0 and mains_of(pair) is None:
        missing.append(pair.missing(BarrierFacts.mains))
        why.append("nobody stated the mains, on which the class depends")
    elif found.low < 1.0:
        why.append(f"the table of what bridges {wanted.why} ends below {show(mains_of(pair) or 0.0, 'V')}")
    if unrated:
        why.append(f"nobody stated the rated voltage of {names(context, unrated)}")
    for element in bridge.elements:
        wanting: list[Fact[Any]] = []
        if element in unknown:
            wanting.append(ElementFacts.class_)
        if element in unrated:
            wanting.append(ElementFacts.voltage)
        if wanting:
            path = context.circuit.path(element)
            first, *rest = wanting
            missing.append(context.lookup.missing(first, path, "", *rest))
    if voltage_of(pair) is None:
        why.append(f"nobody stated the voltage between sides {pair.name}")
        missing.append(pair.missing(BarrierFacts.working_voltage, '"250 V"'))
    if bridge.value is None:
        why.append(f"the value of {names(context, bridge.elements)} can't be told")
    if not why:
        return None
    chain = ", ".join(described(context, element) for element in bridge.elements)
    remedy = f"{wanted.why} bears {bridging.allowed(wanted.grade)}, each rated for the voltage between the sides"
    fault = Fault(bridge.elements[0], f"between sides {pair.name} lies {chain}: {'; '.join(why)}", remedy)
    return _about(context, rule, bridge, "open", fault, missing)


def _about(
    context: Context,
    rule: Rule,
    bridge: Bridge,
    kind: Literal["fail", "open"],
    fault: Fault,
    missing: Iterable[MissingFact] = (),
) -> Result:
    """A result on one network: its subject is its elements."""
    subject = ", ".join(sorted(map(context.circuit.path, bridge.elements), key=str.casefold))
    return context.result(
        rule,
        kind,
        fault.text,
        context.place(fault.element),
        subject,
        evidence=fault.evidence,
        margin=fault.margin,
        measure=Measure(fault.share, larger_is_worse=False),
        missing=missing,
        remedy=fault.remedy,
        related=context.related(bridge.elements),
        element=fault.element,
    )


# -- words and numbers ---------------------------------------------------------------------------------------------


def described(context: Context, element: int) -> str:
    """`C9 (4.7 nF, Y2, 300 V)`."""
    value, rated = context.circuit.value(element), rating_of(context, element)
    words = ["no value" if value is None else show(value, "F"), class_of(context, element) or "no class stated"]
    if rated is not None:
        words.append(show(rated, "V"))
    return f"{context.circuit.path(element)} ({', '.join(words)})"


def names(context: Context, elements: Iterable[int]) -> str:
    """The paths of some elements."""
    return ", ".join(map(context.circuit.path, elements))


def mains_of(pair: SidePair) -> float | None:
    """The voltage that decides which row of the table holds: the mains, else the working voltage, rms."""
    mains = pair.number(BarrierFacts.mains)
    return pair.number(BarrierFacts.working_voltage) if mains is None else mains


def voltage_of(pair: SidePair) -> float | None:
    """What each capacitor must be rated for, volts rms; None where nobody stated it."""
    stated = (pair.number(BarrierFacts.working_voltage), pair.number(BarrierFacts.mains))
    return max((volts for volts in stated if volts is not None), default=None)


def rating_evidence(context: Context, element: int, rated: float, volts: float) -> Evidence:
    """A rated voltage against the voltage between the sides."""
    found = Figure("U_R", rated, "V", f"rated voltage of {context.circuit.path(element)}", end="min")
    return found.evidence(Limit("at_least", volts))


def impulse_evidence(context: Context, bridge: Bridge) -> Iterator[Evidence]:
    """The impulse that each capacitor withstands by its class."""
    for element in bridge.elements:
        name, farads = class_of(context, element), context.circuit.value(element)
        volts = bridging.impulse(name, farads) if name and farads is not None else None
        if volts is not None:
            row = bridging.CLASSES[name]
            source = f"class {name} of key `iec-60384-14`, {row.confidence}: {', '.join(row.sources)}"
            what = f"impulse that {context.circuit.path(element)} withstands"
            yield Figure("U_p", volts, "V", what, end="min", source=source).evidence()


def fitness_evidence(context: Context, pair: SidePair, bridges: Sequence[Bridge]) -> list[Evidence]:
    """What a pass rests on: rated voltages and impulses."""
    volts = voltage_of(pair)
    found: list[Evidence] = []
    for bridge in bridges:
        for element in bridge.elements:
            rated = rating_of(context, element)
            if rated is not None and volts is not None:
                found.append(rating_evidence(context, element, rated, volts))
        found += impulse_evidence(context, bridge)
    return found

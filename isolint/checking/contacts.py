"""What the contacts of relays bear: the voltage across them while open, the current of their load, and its least.

In: a context, or a rule with it. Out: the poles across which a voltage of this netlist lies, each with what lies behind
its two ends, and the results about them. Of a pole that nothing here feeds nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switch_stress import INRUSH
from isolint.checking.switched import Switched, across, between, current, load_kind, stated_load
from isolint.checking.switched_load import load_name
from isolint.checking.verdict import Verdict, decide
from isolint.facts import LoadFacts
from isolint.interfaces.entities import Channel, Network, Part
from isolint.parts import Contact
from isolint.results import Level, Result
from isolint.rows import Usual, Value, least, most
from isolint.types.form.pin_names import folded
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

_COMMON = frozenset(("com", "common", "co", "c"))
_ROOT = 2.0**0.5
_GOLD = "a contact for small loads, with gold on it"
_DC_EASY = 30.0
"""Volts of direct current up to which a contact carries what it does on AC (from memory)."""

SHARES: dict[str, tuple[Value[float], float]] = {
    "inductive": (Contact.inductive_current_max, 0.2),
    "transformer": (Contact.inductive_current_max, 0.2),
    "motor": (Contact.motor_current_max, 0.15),
    "lamp": (Contact.lamp_current_max, 0.1),
}
"""The rating for a kind of load, and what share of the resistive one it is at least where nobody states it (from
memory). At the kindest it is all of it, so that only stated ratings fail."""


class Pole(NamedTuple):
    """A contact: its relay, its two pins by name, what lies behind them. channel: it as the output of a channel."""

    part: Part
    name: str
    found: Switched
    channel: Channel


def poles(context: Context) -> Iterator[Pole]:
    """Every contact of a relay across which a voltage of this netlist lies while it is open."""
    yield from (pole for pole in read_poles(context) if across(context, pole.found, WORST) is not None)


def read_poles(context: Context) -> Iterator[Pole]:
    """Every contact of a relay whose two pins lie on two nets."""
    for part in context.interfaces.recognition.parts.values():
        if "contact" not in part.kind.owns:
            continue
        nets = context.circuit.pins(part.element)
        for group in part.groups:
            for com, throw in _pairs(part, group):
                if nets[com] == nets[throw]:
                    continue
                name = f"{_name(part, com)}-{_name(part, throw)}"
                nothing = Network((), (), ())
                pole = Channel(part, name, {}, nothing, nothing)
                found = between(context, pole, (nets[com], nets[throw]))
                yield Pole(part, name, found, pole)


def _name(part: Part, pin: int) -> str:
    names = () if part.record is None else part.record.pins
    return names[pin] if pin < len(names) else f"pin {pin + 1}"


def _pairs(part: Part, group: tuple[int, ...]) -> Iterator[tuple[int, int]]:
    """The common pin of a pole with each of its throws; nothing where names do not tell which is common."""
    if any(part.roles[pin] != "contact" for pin in group):
        return
    if len(group) == 2:
        yield group[0], group[1]
        return
    common = [pin for pin in group if _is_common(part, pin)]
    if len(common) == 1:
        yield from ((common[0], pin) for pin in group if pin != common[0])


def _is_common(part: Part, pin: int) -> bool:
    name = folded(_name(part, pin))
    if name.isdigit():
        return name.endswith("1")
    return part.kind.pin(name).stem in _COMMON


# -- voltage ----------------------------------------------------------------------------------------------------------


def stand_voltage(rule: Rule, context: Context) -> Iterator[Result]:
    """The voltage across each open contact against its rating."""
    for pole in poles(context):
        try:
            verdict = decide(lambda setting, pole=pole: _voltage(context, pole, setting))  # type: ignore[misc]
        except Lacking as reason:
            yield part_results.lacking(context, rule, pole.part, reason, pole.name)
            continue
        sees, stands = verdict.worst.beside
        yield _told(
            rule, context, pole, verdict, f"contact {pole.name} stands {stands} and sees {sees} while it is open"
        )


def _voltage(context: Context, pole: Pole, setting: Setting) -> Claim:
    volts = across(context, pole.found, setting)
    assert volts is not None
    where = " and ".join(volts.names)
    rating = fact_terms.of_record(pole.part, Contact.voltage_max)
    if volts.alternating:
        # Contacts are rated for nominal voltages: 250 V is meant for mains of 230 V with all that they may rise by.
        term = next((term for term in volts.terms if term.high > 0.0), None)
        share = 1.0 if term is None else term.nominal / setting.high(term)
        found = Figure("V_nom", volts.high * share / _ROOT, "V", "nominal, rms, across the open contact", source=where)
        limit = Figure("V_max", setting.low(rating), "V", "AC rating of the contact", source=rating.origin)
        return at_most(found, limit, (rating, *volts.terms))
    direct = _direct_voltage(pole, rating)
    found = Figure("V_off", volts.high, "V", "across the open contact", source=where)
    limit = Figure("V_max", setting.low(direct), "V", "DC rating of the contact", source=direct.origin)
    return at_most(found, limit, (direct, *volts.terms))


def _direct_voltage(pole: Pole, rating: Term) -> Term:
    low, high = min(_DC_EASY, rating.low), rating.kind_high
    usual = least(low, high, "default 30 V up to the AC rating (from memory)")
    return fact_terms.of_record(pole.part, Contact.voltage_max_dc, usual)


# -- current ----------------------------------------------------------------------------------------------------------


def carry_current(rule: Rule, context: Context) -> Iterator[Result]:
    """The current of each contact's load against its rating for loads of that kind."""
    for pole in poles(context):
        try:
            verdict = decide(lambda setting, pole=pole: _current(context, pole, setting))  # type: ignore[misc]
        except Lacking as reason:
            # What hangs there is asked for where somebody states a load, or where a coil shows that it is one.
            if stated_load(context, pole.found) is not None or pole.found.coils:
                yield part_results.lacking(context, rule, pole.part, reason, pole.name)
            continue
        takes, bears = verdict.worst.beside
        what = verdict.worst.limit.name
        text = f"the load at contact {pole.name} takes up to {takes}, the contact carries {bears} ({what})"
        yield _told(rule, context, pole, verdict, text)
        yield from _inrush(rule, context, pole)


def _current(context: Context, pole: Pole, setting: Setting) -> Claim:
    _, largest, terms = current(context, pole.found, setting)
    found = Figure("I", largest, "A", "largest current of the load")
    limit, rests = _rating(context, pole, setting)
    return at_most(found, limit, (*terms, *rests))


def _rating(context: Context, pole: Pole, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
    """What a contact carries of its load's kind."""
    kind, part = load_kind(context, pole.found), pole.part
    row = SHARES[kind][0] if kind in SHARES else None
    own = None if row is None else fact_terms.recorded(part, row)
    if row is not None and own is not None:
        name = fact_terms.named(part)
        return Figure("I_max", float(own), "A", f"{kind} rating", source=f"record {name}"), ()
    rated = fact_terms.of_record(part, Contact.current_max)
    figure = Figure("I_rated", setting.low(rated), "A", "resistive rating", source=rated.origin)
    terms: list[Term] = [rated]
    words = ["resistive rating"]
    volts = across(context, pole.found, setting)
    if volts is not None and not volts.alternating:
        direct = fact_terms.recorded(part, Contact.current_max_dc)
        if direct is not None:
            name = fact_terms.named(part)
            figure, terms = Figure("I_DC", float(direct), "A", "DC rating", source=f"record {name}"), []
            words = ["DC rating"]
        elif volts.high > _DC_EASY:
            share = _share(part, Contact.current_max_dc, 0.1, "on DC above 30 V")
            figure, words = figure * Figure("k_DC", setting.low(share)), [*words, "less on DC above 30 V"]
            terms.append(share)
    if row is not None:
        share = _share(part, row, SHARES[kind or ""][1], f"for loads of kind {kind}")
        figure, words = figure * Figure("k_load", setting.low(share)), [*words, f"less for kind {kind}"]
        terms.append(share)
    elif kind is None:
        usual = Usual(0.1, 0.1, 1.0, 1.0, 1.0, "a share of 0.1 (lamp) to 1 (resistive) by kind of load (from memory)")
        share = fact_terms.defaulted(LoadFacts.kind, load_name(context, pole.found), usual, unit="1")
        figure, words = figure * Figure("k_load", setting.low(share)), [*words, "less by kind of load"]
        terms.append(share)
    return figure.called("I_max", "A", ", ".join(words)), tuple(terms)


def _share(part: Part, row: Value[float], low: float, words: str) -> Term:
    text = f"{low:g} to 1 of the resistive rating {words} (from memory)"
    title = f"what is left of the rating of the contact of {part.path} {words}"
    usual = Usual(low, low, 1.0, 1.0, 1.0, text)
    return fact_terms.defaulted(row, fact_terms.named(part), usual, title=title, unit="1")


def _inrush(rule: Rule, context: Context, pole: Pole) -> Iterator[Result]:
    """The first current of a load, where it or what the contact makes is stated, or its kind has no rating."""
    kind, load = load_kind(context, pole.found), stated_load(context, pole.found)
    stated = load is not None and load[1].inrush is not None
    makes = fact_terms.recorded(pole.part, Contact.inrush_max)
    unrated = kind in ("capacitive", "electronic")
    if not stated and not (kind in INRUSH and (makes is not None or unrated)):
        return
    verdict = decide(lambda setting: _first_current(context, pole, setting, stated))
    told = verdict.worst
    text = f"the first current of the load at contact {pole.name} is up to {told.found}, the contact makes {told.limit}"
    yield _told(rule, context, pole, verdict, text, role=f"inrush {pole.name}")


def _first_current(context: Context, pole: Pole, setting: Setting, stated: bool) -> Claim:
    name = load_name(context, pole.found)
    terms: tuple[Term, ...]
    if stated:
        term = context.lookup.term(LoadFacts.inrush, name)
        found, terms = Figure("I_in", term.high, "A", "stated inrush", source=term.origin), (term,)
    else:
        worst = INRUSH[load_kind(context, pole.found) or ""][1]
        usual = most(1.0, worst, f"1 to {worst:g} times its steady current (from memory)")
        times = fact_terms.defaulted(LoadFacts.inrush, name, usual, unit="1")
        _, largest, rests = current(context, pole.found, setting)
        product = Figure("I", largest, "A") * Figure("k_in", setting.high(times))
        found, terms = product.called("I_in", "A", "first current of the load"), (times, *rests)
    part = pole.part
    makes = fact_terms.recorded(part, Contact.inrush_max)
    if makes is not None:
        limit = Figure("I_make", float(makes), "A", "inrush rating", source=f"record {fact_terms.named(part)}")
        return at_most(found, limit, terms)
    rated = fact_terms.of_record(part, Contact.current_max)
    usual = Usual(1.0, 1.0, 10.0, 10.0, 10.0, "1 to 10 times the rated current (from memory)")
    title = f"inrush over the rated current of the contact of {part.path}"
    makes_times = fact_terms.defaulted(Contact.inrush_max, fact_terms.named(part), usual, title=title, unit="1")
    product = Figure("I_rated", setting.low(rated), "A") * Figure("k", setting.low(makes_times))
    return at_most(found, product.called("I_make", "A", "inrush that it makes"), (*terms, rated, makes_times))


# -- least load -------------------------------------------------------------------------------------------------------


def clean_themselves(rule: Rule, context: Context) -> Iterator[Result]:
    """The least current and voltage of each contact's load against what the contact needs."""
    for pole in poles(context):
        try:
            smallest, _, _ = current(context, pole.found, WORST)
            if smallest <= 0.0:
                continue
            verdict = decide(lambda setting, pole=pole: _least(context, pole, setting))  # type: ignore[misc]
        except Lacking:
            # The rule about the largest current asks for it.
            continue
        takes, needs = verdict.worst.beside
        text = f"the load at contact {pole.name} gives it {takes} at least, the contact needs {needs}"
        yield _told(rule, context, pole, verdict, text, remedy=_GOLD, level="warning")


def _least(context: Context, pole: Pole, setting: Setting) -> Claim:
    smallest, _, terms = current(context, pole.found, setting)
    volts = across(context, pole.found, setting)
    assert volts is not None
    amps_min, volts_min = (fact_terms.of_record(pole.part, row) for row in (Contact.current_min, Contact.voltage_min))
    amps = Figure("I_min", smallest, "A", "least current of the load", end="min")
    root = _ROOT if volts.alternating else 1.0
    least_volts = Figure("V_min", volts.low / root, "V", "least voltage of the load", end="min")
    return tightest(
        [
            at_least(
                amps,
                Figure("I_need", setting.high(amps_min), "A", source=amps_min.origin),
                (amps_min, *terms),
            ),
            at_least(
                least_volts,
                Figure("V_need", setting.high(volts_min), "V", source=volts_min.origin),
                (volts_min, *volts.terms),
            ),
        ]
    )


def _told(
    rule: Rule,
    context: Context,
    pole: Pole,
    verdict: Verdict,
    text: str,
    *,
    role: str = "",
    level: Level | None = None,
    remedy: str = "a relay whose contact is rated for this load, or a contactor behind it",
) -> Result:
    return part_results.judged(
        context,
        rule,
        pole.part,
        verdict,
        text,
        evidence=verdict.worst.evidence(),
        remedy=remedy,
        chain=pole.found.elements,
        role=role or pole.name,
        level=level,
    )

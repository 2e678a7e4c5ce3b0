"""The supplies of barrier parts: each supply pin with its return, and the voltage that it gets.

In: a part, a lookup. Out: `SupplyPin`s, and volts between them as a `Rail`. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output, Supply
from isolint.rows import Usual, most
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.links import linked
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, Quantity
from isolint.worstcase.rails import Extra, Rail, RailAnalyser
from isolint.worstcase.uncertain import Lacking, Term

BOOTSTRAP_DROP = (0.5, 3.2)
"""Volts that a bootstrap supply stays below what charges it: its diode, and the moving net above its reference while it
is charged (from memory)."""

_RETURNS = ("vee", "vss", "gnd", "com")
_CHARGING = 10e-9
_TRIMS = ("trim", "adj", "sense", "fb")


class SupplyPin(NamedTuple):
    """A supply pin of a part and the pin that it is measured against, by number. stated: what the record says of it."""

    part: Part
    pin: int
    back: int
    stated: Supply

    def name(self, pin: int) -> str:
        """A pin in words."""
        record = self.part.record
        return record.pins[pin] if record is not None and pin < len(record.pins) else f"pin {pin + 1}"


def supply_pins(part: Part) -> Iterator[SupplyPin]:
    """Every supply pin of a part with its return, as the record says or as the pins of its group tell."""
    record = part.record
    for pin, role in enumerate(part.roles):
        if role != "supply":
            continue
        group = next((group for group in part.groups if pin in group), ())
        own = record.supply_of(record.pins[pin]) if record is not None else None
        first = own.pins[0] if own is not None else ""
        if record is not None and first and first.casefold() != record.pins[pin].casefold():
            # It is the return of another supply pin.
            continue
        back = -1
        if own is not None and record is not None and len(own.pins) > 1:
            back = record.position(own.pins[1])
        if back < 0:
            back = _return_of(part, pin, group)
        if back >= 0:
            known = own is not None and not _is_of_outputs_only(part, group)
            yield SupplyPin(part, pin, back, own.supply if known and own is not None else Supply())


def _is_of_outputs_only(part: Part, group: Sequence[int]) -> bool:
    """Whether what a record says of the supply is not of a group: a driver's gate supply feeds no logic input."""
    record = part.record
    if record is None or record.supplies or record.supply.side is not None or "driver" not in part.kind.owns:
        return False
    return not any(part.roles[pin] == "output" for pin in group)


def _return_of(part: Part, pin: int, group: Sequence[int]) -> int:
    """The ground of a supply pin: of several the one of the same number or letter, then the lowest rail."""
    grounds = [other for other in group if part.roles[other] == "ground"]
    if not grounds:
        others = [other for other in group if part.roles[other] == "supply" and other != pin]
        return others[0] if others and pin < others[0] else -1
    names = [] if part.record is None else [part.record.pins[other].casefold() for other in grounds]
    own = "" if part.record is None else part.record.pins[pin].casefold()
    for other, name in zip(grounds, names, strict=False):
        if name[-1:] == own[-1:] and len(grounds) > 1 and name[-1:] in "0123456789ab":
            return other
    for word in _RETURNS:
        for other, name in zip(grounds, names, strict=False):
            if name.startswith(word):
                return other
    return grounds[0]


def converter_output(part: Part) -> tuple[int, int] | None:
    """The pins of the one output and of its return; None where there are several, or none is told from the other."""
    names = part.record.pins if part.record is not None else ()
    gives = [
        pin
        for pin, role in enumerate(part.roles)
        if role == "output" and not (pin < len(names) and names[pin].casefold() in _TRIMS)
    ]
    returns = [pin for pin in gives if pin < len(names) and "-" in names[pin]]
    plus = [pin for pin in gives if pin not in returns]
    if len(plus) != 1:
        return None
    group = next((group for group in part.groups if plus[0] in group), ())
    returns += [pin for pin in group if part.roles[pin] == "ground"]
    return (plus[0], returns[0]) if len(returns) == 1 else None


def drawn_by(part: Part) -> Term:
    """What a part takes at a supply pin, amperes: nothing up to its supply current."""
    title = Supply.current.title.format(part.path)
    record = part.record
    name = fact_terms.named(part)
    own = None
    if record is not None:
        stated = (one.supply.current for one in record.supplies)
        own = record.supply.current if not record.supplies else max((amps or 0.0 for amps in stated), default=None)
    if own is not None:
        known = fact_terms.known(Supply.current, name, own, f"record {name}", title=title)
        return known._replace(low=0.0, kind_low=0.0)
    return fact_terms.defaulted(Supply.current, name, most(0.0, 10e-3, "default 0 to 10 mA (from memory)"), title=title)


def drawing(circuit: Circuit, parts: Mapping[int, Part], plus: int, minus: int) -> Extra:
    """What all barrier parts with a supply pin at a net draw from it."""
    takers = dict.fromkeys(
        parts[element]
        for element, pin in circuit.elements_at(plus)
        if element in parts and pin < len(parts[element].roles) and parts[element].roles[pin] == "supply"
    )

    def extra(made: Assembly) -> Callable[[Sequence[float], float], list[n.Branch]]:
        places = [(part.path, made.term(drawn_by(part))) for part in takers]
        a, b = made.nets[plus], made.nets[minus]
        return lambda vector, temperature: [
            n.CurrentSource(f"supply current of {path}", a, b, vector[index]) for path, index in places
        ]

    return extra


def supplied(rails: RailAnalyser, parts: Mapping[int, Part], plus: int, minus: int) -> Rail:
    """Volts that a supply pin on net `plus` gets against net `minus`; `Lacking` where nobody says."""
    circuit, lookup = rails.circuit, rails.lookup
    if plus == minus:
        return Rail(Quantity(0.0, *(Bound(0.0, (), lookup.ambient().nominal),) * 2), (), ())
    converted = _converted(rails, parts, plus, minus)
    if converted is not None:
        return converted
    for net in (plus, minus):
        mains = _mains(rails, net)
        if mains is not None:
            return _rms(rails, mains)
    if rails.holds(plus) and not rails.holds(minus):
        # The facts of a supply that stands on a net of its own are measured against that net.
        fact = lookup.facts.supply(circuit.net_name(plus))
        ground = None if fact is None or fact.ground is None else circuit.find_net(fact.ground.value)
        if ground is not None and ground in linked(lookup, minus):
            return _of_term(lookup.supply(plus), rails)
        name = circuit.net_name(plus)
        if ground is not None:
            returned, other = circuit.net_name(ground), circuit.net_name(minus)
            text = f"supply {name} returns to {returned}, and nothing joins {other} to it"
            raise Lacking(text, remedy=f"connect net {other} to {returned}")
        text = f"nobody says what supply {name} is measured against, and {circuit.net_name(minus)} is no reference"
        raise Lacking(text, [lookup.missing(SupplyFacts.ground, name)])
    if not rails.holds(plus) and not rails.holds(minus):
        found = _bootstrap(rails, plus, minus)
        if found is not None:
            return found
    _one_reference(rails, plus, minus)
    extra = drawing(circuit, parts, plus, minus) if not rails.holds(plus) else None
    return rails.between(plus, minus, extra=extra)


def _moves(rails: RailAnalyser, net: int) -> bool:
    """Whether a transistor pulls a net down: the drain or collector of one that conducts from there lies on it."""
    circuit = rails.circuit
    for element, pin in circuit.elements_at(net):
        if circuit.letter(element) in "MQ" and pin == 0:
            model = circuit.model(element)
            if model is not None and model.type.casefold() in ("nmos", "vdmos", "npn"):
                return True
    return False


def _one_reference(rails: RailAnalyser, plus: int, minus: int) -> None:
    """Refuse two supplies of which one stands on a net that moves against the other's."""
    circuit, facts = rails.circuit, rails.lookup.facts
    stated = [facts.supply(circuit.net_name(net)) for net in (plus, minus)]
    names = [None if fact is None or fact.ground is None else fact.ground.value for fact in stated]
    grounds = [None if name is None else circuit.find_net(name) for name in names]
    first, second = grounds
    if first is None or second is None or first == second or not (_moves(rails, first) or _moves(rails, second)):
        return
    ends = " and ".join(
        f"{circuit.net_name(net)} against {name}" for net, name in zip((plus, minus), names, strict=True)
    )
    moves = next(name for name, net in zip(names, grounds, strict=True) if net is not None and _moves(rails, net))
    lacks = [rails.lookup.missing(SupplyFacts.ground, circuit.net_name(net)) for net in (plus, minus)]
    raise Lacking(f"{ends} are stated, and {moves} moves: what lies between both is not known", lacks[:1])


def _of_term(term: Term, rails: RailAnalyser, elements: tuple[int, ...] = ()) -> Rail:
    low, high = rails.setting.range(term)
    at = rails.lookup.ambient().nominal
    ends = (Bound(end, ((term.name, end),) if low < high else (), at) for end in (low, high))
    return Rail(Quantity(term.nominal, *ends), (term,), elements)


def _mains(rails: RailAnalyser, net: int) -> int | None:
    """The AC supply that a net is, or leads to through a fuse, a choke or a small resistor."""
    lookup = rails.lookup
    if rails.holds(net):
        return net if lookup.is_alternating(net) else None
    around = lookup.walker.around(net)
    return next((held.net for held in around.boundary if lookup.is_alternating(held.net)), None)


def _rms(rails: RailAnalyser, net: int) -> Rail:
    """What an AC supply gives against the other conductor, rms."""
    peak, root = rails.lookup.peak(net), 2.0**0.5
    term = peak._replace(
        low=peak.low / root,
        nominal=peak.nominal / root,
        high=peak.high / root,
        kind_low=peak.kind_low / root,
        kind_high=peak.kind_high / root,
    )
    return _of_term(term, rails)


def _converted(rails: RailAnalyser, parts: Mapping[int, Part], plus: int, minus: int) -> Rail | None:
    """What an isolated supply gives whose output lies on both nets, where nobody states that supply."""
    circuit, facts = rails.circuit, rails.lookup.facts
    stated = facts.supply(circuit.net_name(plus))
    if stated is not None and stated.voltage is not None:
        return None
    for element, pin in circuit.elements_at(plus):
        part = parts.get(element)
        if part is None or part.kind.output.feeds != "outputs" or part.roles[pin] != "output" or part.record is None:
            continue
        group = next((group for group in part.groups if pin in group), ())
        if not any(circuit.pins(element)[other] == minus for other in group):
            continue
        volts = part.record.output.voltage
        if volts is None and rails.holds(plus):
            # The net's name or a source tells it.
            return None
        if volts is None:
            missing = fact_terms.missing(part.record.file, Output.voltage, part.record.name)
            raise Lacking(f"the output voltage of {part.path} is not known", [missing])
        source = f"record {part.record.name}"
        return _of_term(
            fact_terms.known(Output.voltage, part.record.name, volts, source, title=f"output of {part.path}"), rails
        )
    return None


def _bootstrap(rails: RailAnalyser, plus: int, minus: int) -> Rail | None:
    """A supply that a capacitor holds between a moving net and a diode from another supply; None where it is none."""
    circuit, walker = rails.circuit, rails.lookup.walker
    holds = any(
        circuit.letter(element) == "C"
        and set(circuit.pins(element)) == {plus, minus}
        and (circuit.value(element) or 0.0) >= _CHARGING
        for element, _ in circuit.elements_at(plus)
    )
    if not holds:
        return None
    path: list[int] = []
    net, passed = plus, False
    while walker.held(net) is None:
        onward = [
            (element, circuit.pins(element))
            for element, pin in circuit.elements_at(net)
            if element not in path
            and ((circuit.letter(element) == "D" and pin == 1) or circuit.letter(element) == "R")
            and minus not in circuit.pins(element)
        ]
        if len(onward) != 1 or len(path) > 4:
            return None
        element, pins = onward[0]
        passed = passed or circuit.letter(element) == "D"
        path.append(element)
        net = pins[0] if circuit.letter(element) == "D" else next(other for other in pins if other != net)
    held = walker.held(net)
    if not passed or held is None or held.kind != "supply":
        return None
    source = rails.lookup.supply(net, held)
    low, high = rails.setting.range(source)
    name, diode = circuit.net_name(plus), ", ".join(circuit.path(element) for element in path)
    text = f"bootstrap from {circuit.net_name(net)} by {diode}: 0.5 to 3.2 V below it (from memory)"
    least, top = BOOTSTRAP_DROP
    usual = Usual(low - top, source.nominal - 1.0, high, low - least, high, text)
    lines = "\n".join((SupplyFacts.tolerance.entry(), SupplyFacts.ground.entry(f'"{circuit.net_name(minus)}"')))
    term = fact_terms.defaulted(SupplyFacts.voltage, name, usual)
    term = term._replace(example=f"{term.example}\n{lines}")
    made = _of_term(term, rails, tuple(path))
    return made._replace(terms=(term, source))

"""Whether what lies across each barrier holds what the barrier must hold: amounts wanted against amounts offered.

In: a context. Out: by barrier and part record, the `Amount`s of each question. A question passes if each of its amounts
holds at the worst of what is stated and assumed, fails if one misses even at the kindest, and is open between.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import combinations
from typing import Any, Literal, NamedTuple

from isolint.checking.barrier_demands import SidePair, pairs, shown_names
from isolint.checking.barrier_limits import BarrierLimits, Wanted
from isolint.checking.context import Context
from isolint.checking.part_ratings import GROUP, Offer, PartRatings
from isolint.checking.side_kinds import SideKind, side_kinds
from isolint.facts import BarrierFacts
from isolint.interfaces.entities import Bridge, Part
from isolint.interfaces.references import edges_of
from isolint.parts import PartRecord
from isolint.results import Assumption, Kind, MissingFact
from isolint.rows import Row
from isolint.standards.insulation_demands import Need, Strength
from isolint.standards.insulation_tables import MATERIAL_GROUPS
from isolint.units import show
from isolint.worstcase import fact_terms

Question = Literal["grade", "working", "transient", "distance"]
_SLACK = 1e-9


class Amount(NamedTuple):
    """One number wanted against one offered, in SI units.

    missing: what would settle it while it is open. hint: more words about it.
    """

    name: str
    symbol: str
    unit: str
    need: Need
    offer: Offer
    missing: tuple[MissingFact, ...] = ()
    assumed: tuple[Assumption, ...] = ()
    hint: str = ""

    @property
    def kind(self) -> Kind:
        """pass, fail or open."""
        if self.offer.worst >= self.need.worst * (1.0 - _SLACK):
            return "pass"
        return "fail" if self.offer.kindest < self.need.kindest * (1.0 - _SLACK) else "open"

    @property
    def margin(self) -> float:
        """Offered over wanted: of a failure at the kindest of both, else at the worst."""
        failed = self.kind == "fail"
        offered, wanted = (self.offer.kindest, self.need.kindest) if failed else (self.offer.worst, self.need.worst)
        return offered / wanted if wanted else math.inf


class Crosser(NamedTuple):
    """Elements across a barrier that one record, or none, describes. outputs: between two outputs of a package, or two
    inputs."""

    elements: tuple[int, ...]
    part: Part | None
    record: PartRecord | None
    name: str
    outputs: bool = False

    @property
    def ratings(self) -> PartRatings:
        """What it offers."""
        return PartRatings(self.record, self.part, outputs=self.outputs)


class Wall:
    """One barrier with its sides' kinds, its demands and what lies across it."""

    def __init__(self, context: Context, pair: SidePair, kinds: tuple[SideKind, SideKind]) -> None:
        self.context, self.pair, self.kinds = context, pair, kinds
        self.crossers = tuple(_crossers(context, pair))
        self._windings = any(crosser.part is None or _has_windings(crosser.part) for crosser in self.crossers)
        self.limits = BarrierLimits(context, pair, kinds, self._windings)

    def limits_of(self, elements: Iterable[int]) -> BarrierLimits:
        """What some elements across must hold: by the table of those two stated sides on whose own nets they lie."""
        pins = (net for element in elements for net in self.context.circuit.pins(element))
        own = self.pair.exactly(pins)
        return self.limits if own is self.pair else BarrierLimits(self.context, own, self.kinds, self._windings)

    @cached_property
    def words(self) -> str:
        """Both sides with their kinds, for a message."""
        return " and ".join(f"{name} ({kind.words})" for name, kind in zip(self.pair.sides, self.kinds, strict=True))

    @cached_property
    def elements(self) -> tuple[int, ...]:
        """The elements of all parts across."""
        return tuple(element for crosser in self.crossers for element in crosser.elements)

    @cached_property
    def bridges(self) -> tuple[Bridge, ...]:
        """Capacitors and resistances between its sides."""
        bridges = self.context.interfaces.separation.bridges
        return tuple(bridge for bridge in bridges if set(bridge.sides) == set(self.pair.sides))

    def strengths_of(self, crosser: Crosser) -> tuple[Strength, Strength] | None:
        """The grade at which a part's numbers are judged: at its own where it misses the wanted one, basic at least."""
        wanted = self.limits.strength
        if wanted is None or wanted == "basic":
            return None if wanted is None else (wanted, wanted)
        grade = crosser.ratings.grade(self.limits.insulation, 2)
        if grade.kindest < 2:
            return "basic", "basic"
        return ("reinforced", "reinforced") if grade.worst == 2 else ("reinforced", "basic")

    # -- amounts ----------------------------------------------------------------------------------------------------

    def working(self, crosser: Crosser) -> Iterator[Amount]:
        """Working voltage and recurring peak."""
        limits, ratings = self.limits, crosser.ratings
        if not (
            limits.strength or limits.bound or limits.states(BarrierFacts.working_voltage, BarrierFacts.working_peak)
        ):
            return
        # Where a level is unstated, what is missing is asked for with it.
        if limits.states(BarrierFacts.working_voltage) or limits.strength or limits.bound:
            yield self._amount("working voltage", "V_IOWM", "V", limits.working, ratings.working(), crosser)
        strengths = self.strengths_of(crosser)
        certified = (
            strengths is not None and strengths[0] == "reinforced" and 700.0 < limits.peak.need.kindest < math.inf
        )
        yield self._amount("recurring peak", "V_IORM", "V", limits.peak, ratings.peak(certified), crosser)

    def transient(self, crosser: Crosser) -> Iterator[Amount]:
        """Impulse, temporary overvoltage, one-minute test."""
        limits, ratings, strengths = self.limits, crosser.ratings, self.strengths_of(crosser)
        if limits.functional or strengths is None:
            for name, symbol, wanted, offer in self._stated_only(ratings):
                yield self._amount(name, symbol, "V", wanted, offer, crosser)
            return
        if limits.uncarried is not None and (limits.hazardous or limits.mains):
            yield self._amount("impulse", "V_IMP", "V", limits.uncarried, ratings.impulse(), crosser)
        touchable = all(kind.danger == "S" for kind in self.kinds)
        expected = limits.states(BarrierFacts.mains, BarrierFacts.overvoltage_category, BarrierFacts.impulse)
        if expected or not touchable:
            impulse = _between(limits.impulse_for, strengths)
            if impulse is not None:
                amount = self._amount("impulse", "V_IMP", "V", impulse, ratings.impulse(), crosser)
                holds = limits.holds_up_to(strengths[0], amount.offer.worst) if amount.kind == "open" else ""
                yield amount._replace(hint=", ".join(filter(None, (amount.hint, holds))))
            elif limits.unknown_impulse is not None:
                yield self._amount("impulse", "V_IMP", "V", limits.unknown_impulse, ratings.impulse(), crosser)
            overvoltage = _between(limits.overvoltage, strengths)
            if overvoltage is not None:
                yield self._amount("temporary overvoltage", "V_IOTM", "V", overvoltage, ratings.transient(), crosser)
        test = _between(limits.test, strengths)
        if test is not None:
            yield self._amount("one-minute test", "V_test", "V", test, ratings.transient(), crosser)

    def _stated_only(self, ratings: PartRatings) -> Iterator[tuple[str, str, Wanted, Offer]]:
        impulse = self.pair.stated(BarrierFacts.impulse)
        if impulse is not None:
            need = Need(impulse.value, impulse.value, fact_terms.origin(impulse), "F2")
            yield "impulse", "V_IMP", Wanted(need), ratings.impulse()
        test = self.limits.test(None)
        if test is not None:
            yield "one-minute test", "V_test", test, ratings.transient()

    def distance(self, crosser: Crosser) -> Iterator[Amount]:
        """Clearance and creepage of the package."""
        strengths, ratings = self.strengths_of(crosser), crosser.ratings
        if strengths is None:
            return
        clearance = _between(self.limits.clearance, strengths) or self.limits.uncarried
        if clearance is not None:
            yield self._amount("clearance", "CLR", "m", clearance, ratings.distance("clearance"), crosser)
        worst, kindest = ratings.groups
        creepage = _between(lambda strength: self.limits.creepage(strength, worst, kindest), strengths)
        if creepage is not None:
            amount = self._amount("creepage", "CPG", "m", creepage, ratings.distance("creepage"), crosser)
            if worst != kindest:
                amount = self._group_open(amount, strengths[0], crosser)
            yield amount

    def _group_open(self, amount: Amount, strength: Strength, crosser: Crosser) -> Amount:
        """A creepage whose material group nobody stated."""
        needs = {group: self.limits.creepage(strength, group, group) for group in MATERIAL_GROUPS}
        fits = [
            group for group, wanted in needs.items() if wanted is not None and amount.offer.worst >= wanted.need.worst
        ]
        assumed = Assumption("material group", "I to III", "", "nobody stated it")
        missing = amount.missing
        if amount.kind == "open" and fits and fits[-1] != "III":
            missing = (*missing, self._line(crosser, GROUP))
            return amount._replace(
                missing=missing, assumed=(*amount.assumed, assumed), hint=f"the verdict flips at group {fits[-1]}"
            )
        return amount._replace(assumed=(*amount.assumed, assumed))

    def board(self) -> Iterator[Amount]:
        """The distances measured on the board."""
        strength = self.limits.strength
        if strength is None:
            return
        for name, symbol, row in (
            ("board clearance", "CLR_board", BarrierFacts.board_clearance),
            ("board creepage", "CPG_board", BarrierFacts.board_creepage),
        ):
            stated = self.pair.stated(row)
            if stated is None:
                continue
            if row is BarrierFacts.board_clearance:
                wanted = self.limits.clearance(strength)
            else:
                wanted = self.limits.creepage(strength, *self._board_groups())
            if wanted is not None:
                offer = Offer(stated.value, stated.value, fact_terms.origin(stated))
                yield Amount(name, symbol, "m", wanted.need, offer, wanted.missing, wanted.assumed, wanted.hint)

    def _board_groups(self) -> tuple[str, str]:
        """The columns for the board at the worst and at the kindest."""
        group, printed = self.pair.stated(BarrierFacts.board_group), self.pair.stated(BarrierFacts.printed)
        working = self.pair.number(BarrierFacts.working_voltage) or 0.0
        wiring = printed is not None and printed.value and (group is None or group.value != "IIIb")
        if wiring and self.limits.place[0].degree <= 2 and working <= 1000.0 and self.limits.profile == "iec-60664-1":
            return "printed", "printed"
        if group is not None:
            return (group.value.rstrip("ab"),) * 2
        return "III", "III"

    def _amount(self, name: str, symbol: str, unit: str, wanted: Wanted, offer: Offer, crosser: Crosser) -> Amount:
        # Where nothing is known of the part, what is wanted of it decides nothing.
        unsure = math.isinf(wanted.need.worst) or (wanted.need.worst > wanted.need.kindest and offer.worst > 0.0)
        missing = [*wanted.missing] if unsure else []
        if offer.worst < offer.kindest or not offer.worst:
            missing += [self._line(crosser, row) for row in offer.rows]
        hint = "; ".join(filter(None, (wanted.hint, offer.hint)))
        assumed = (*wanted.assumed, *offer.assumed)
        return Amount(name, symbol, unit, wanted.need, offer, tuple(missing), assumed, hint)

    def _line(self, crosser: Crosser, row: Row[Any]) -> MissingFact:
        return record_line(self.context, crosser, row)


def record_line(context: Context, crosser: Crosser, first: Row[Any], *more: Row[Any]) -> MissingFact:
    """The lines to write into a part's record."""
    record, part = crosser.record, crosser.part
    name = record.name if record is not None else crosser.name if part is None else fact_terms.named(part)
    file = record.file if record is not None else context.facts.record_file(context.settings_file)
    return fact_terms.missing(file, first, name, "", *more)


def _between(table: Callable[[Strength], Wanted | None], strengths: tuple[Strength, Strength]) -> Wanted | None:
    """What a table wants where the grade lies between two."""
    worst = table(strengths[0])
    if worst is None or strengths[0] == strengths[1]:
        return worst
    kindest = table(strengths[1])
    return None if kindest is None else worst._replace(need=worst.need._replace(kindest=kindest.need.kindest))


# -- what lies across ----------------------------------------------------------------------------------------------


def walls(context: Context) -> tuple[Wall, ...]:
    """All barriers with what is wanted of them, worked out once."""
    return context.kept(_walls)


def _walls(context: Context) -> tuple[Wall, ...]:
    kinds = context.kept(side_kinds)
    separation = context.interfaces.separation
    # Two outputs of one package face each other as well, where one of them hurts or somebody states what they are.
    shown = context.kept(shown_names)
    stated = [{shown.get(side.casefold(), side) for side in fact.between} for fact in context.facts.barriers]
    facing = (tuple(sorted(sides, key=str.casefold)) for sides in context.kept(_packages))
    mixed = [
        (one, other) for one, other in facing if one in kinds and other in kinds
        and (kinds[one].hazardous != kinds[other].hazardous or {one, other} in stated)
    ]  # fmt: skip
    found = pairs(context, [*(bridge.sides for bridge in separation.bridges), *_coupled_sides(context), *mixed])
    _share_voltages(found, {side for side, kind in kinds.items() if kind.danger == "I" and not kind.earthed})
    made = []
    for pair in found:
        one, other = (kinds.get(side, SideKind("U", "")) for side in pair.sides)
        made.append(Wall(context, pair, (one, other)))
    return tuple(made)


def _share_voltages(found: Sequence[SidePair], middles: set[str]) -> None:
    """What floats between two layers shares no voltage between them: each may have to bear what the other does, and
    what both together do."""
    around: dict[str, set[str]] = {}
    for pair in found:
        for middle, end in (pair.sides, pair.sides[::-1]):
            if middle in middles:
                around.setdefault(middle, set()).add(end)
    for pair in found:
        beyond: dict[str, BarrierFacts] = {}
        for middle, end in (pair.sides, pair.sides[::-1]):
            if middle in middles:
                for other in found:
                    if other is not pair and (
                        middle in other.sides or (end in other.sides and around[middle].issuperset(other.sides))
                    ):
                        beyond.update({fact.key + fact.file: fact for fact in other.facts})
        pair.beyond = tuple(beyond.values())


def _has_windings(part: Part) -> bool:
    """Whether a part is nothing but windings."""
    return not part.kind.inputs and part.kind.output.feeds == "every pin"


def _crossers(context: Context, pair: SidePair) -> Iterator[Crosser]:
    """What lies between two sides, by its record or name."""
    barrier, parts = pair.barrier, context.interfaces.recognition.parts
    across = [] if barrier is None else [parts[element] for element in barrier.parts]
    known = {part.element for part in across}
    across += [part for part in context.kept(_packages).get(frozenset(pair.sides), ()) if part.element not in known]
    groups: dict[tuple[str, bool], list[Part]] = {}
    for part in across:
        name = part.record.name if part.record is not None else part.model_name or part.path
        groups.setdefault((name, _between_outputs(context, part, pair)), []).append(part)
    for (name, outputs), same in groups.items():
        first = same[0]
        yield Crosser(tuple(part.element for part in same), first, first.record, name, outputs)
    for element, record in _windings(context, pair.sides):
        name = context.circuit.path(element) if record is None else record.name
        yield Crosser((element,), None, record, name)


def _sides_of(context: Context, nets: Iterable[int]) -> set[str]:
    separation = context.interfaces.separation
    found = (separation.side_of_net.get(net) for net in nets)
    return {separation.sides[index].name for index in found if index is not None}


def _packages(context: Context) -> dict[frozenset[str], list[Part]]:
    """The parts of three or more sides, by each two of their sides."""
    found: dict[frozenset[str], list[Part]] = {}
    for part in context.interfaces.recognition.parts.values():
        touched = sorted(_sides_of(context, context.circuit.pins(part.element)), key=str.casefold)
        if len(touched) > 2:
            for both in combinations(touched, 2):
                found.setdefault(frozenset(both), []).append(part)
    return found


def _between_outputs(context: Context, part: Part, pair: SidePair) -> bool:
    """Whether both sides lie at one edge of the part: two outputs of it, or two inputs, face each other there."""
    pins = context.circuit.pins(part.element)
    if len(_sides_of(context, pins)) < 3:
        return False
    both, edges = set(pair.sides), edges_of(part)
    if edges is not None:
        near, far = (
            _sides_of(context, (pins[pin] for group in edge for pin in part.groups[group] if pin < len(pins)))
            for edge in edges
        )
        return both <= near or both <= far
    inputs = _sides_of(context, (net for role, net in zip(part.roles, pins, strict=False) if role in _INPUTS))
    return bool(inputs) and (both <= inputs or inputs.isdisjoint(both))


_INPUTS = frozenset(("anode", "cathode", "coil", "input"))


def _coupled_sides(context: Context) -> Iterator[tuple[str, str]]:
    """Each two sides that coupled windings face."""
    for element in context.circuit.elements_of("K"):
        sides = sorted(_coupled(context, element), key=str.casefold)
        yield from ((one, other) for place, one in enumerate(sides) for other in sides[place + 1 :])


def winding_nets(context: Context, element: int) -> tuple[int, ...]:
    """The nets of the windings that a K card couples."""
    prefix = context.circuit.instance_path(element)
    names = context.circuit.control_names(element)
    found = (context.circuit.find(f"{prefix}.{name}" if prefix else name) for name in names)
    return tuple(net for each in found if each is not None for net in context.circuit.pins(each))


def _coupled(context: Context, element: int) -> set[str]:
    """The sides on which the windings of a K card lie."""
    return _sides_of(context, winding_nets(context, element))


def _windings(context: Context, sides: Sequence[str]) -> Iterator[tuple[int, PartRecord | None]]:
    for element in context.circuit.elements_of("K"):
        if set(sides) <= _coupled(context, element):
            yield element, context.record_of(element)


def margin_words(amount: Amount) -> str:
    """`working voltage 600 V, 1000 V are wanted`."""
    offered = amount.offer.kindest if amount.kind == "fail" else amount.offer.worst
    wanted = amount.need.kindest if amount.kind == "fail" else amount.need.worst
    has = show(offered, amount.unit) if offered and math.isfinite(offered) else "not known"
    asks = show(wanted, amount.unit) if math.isfinite(wanted) else "what is wanted is not known"
    return f"{amount.name} {has}, {asks}{' wanted' if math.isfinite(wanted) else ''}"

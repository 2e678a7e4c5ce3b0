"""What separates the sides of a netlist and what lies across: the records that `isolint barrier` shows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from isolint.amount_held import Held
from isolint.checking.barrier_limits import NOT_CARRIED
from isolint.checking.barrier_notes import unasked_notes
from isolint.checking.barrier_strength import Wall, walls, winding_nets
from isolint.checking.capacitors import class_of, rating_of
from isolint.checking.context import Context
from isolint.checking.coverage import listed_words
from isolint.checking.joint_results import barrier_subject, joins_of, path_hops, path_words, speaker_of
from isolint.checking.part_ratings import test_words
from isolint.checking.report import side_records
from isolint.checking.strength_table import assumed, held
from isolint.checking.unexplained import subject_of
from isolint.errors import Place
from isolint.interfaces.entities import Barrier, Bridge, Join, Part
from isolint.parts import PartRecord
from isolint.results import BarrierSheet, Crossing, CrossingKind, Inventory, Remark, Result, told_of_crashes
from isolint.units import show, show_share

_RATINGS = (
    ("standard", ""),
    ("grade", ""),
    ("withstand", "V"),
    ("working_voltage", "V"),
    ("repetitive_peak", "V"),
    ("transient", "V"),
    ("creepage", "m"),
    ("clearance", "m"),
    ("slew_immunity", "V/s"),
)


def inventory(context: Context, results: Sequence[Result], version: str) -> Inventory:
    """The inventory of a netlist; `results` are those of the rules that speak of barriers."""
    writer = _Writer(context, [result for result in results if result.kind in ("fail", "open")])
    separation = context.interfaces.separation
    # Two sides with nothing but a bridge, a winding or the outputs of a package between them are shown as well.
    barriers = tuple(writer.sheet(wall, results) for wall in walls(context))
    others = tuple(writer.joint(join) for join in separation.joins if join.subject not in writer.shown)
    suspects = tuple(writer.suspects())
    # What is left when everything else has taken its own.
    remarks = tuple(_remark(result) for result in writer.left)
    notes = (*separation.notes, *context.lookup.walker.grounds.notes())
    if separation.ignored:
        names = ", ".join(context.circuit.path(element) for element in separation.ignored)
        notes += (f"left out as simulation_only: {names}",)
    notes += tuple(unasked_notes(context))
    notes += tuple(f"listed, not asked about: {line}" for line in listed_words(context))
    crashed = told_of_crashes(results)
    return Inventory(
        version, context.netlist, side_records(context), barriers, (*others, *suspects), remarks, notes, crashed
    )


class _Writer:
    """Turns what was found into records; no result is left out."""

    def __init__(self, context: Context, results: list[Result]) -> None:
        self.context = context
        self.all = self.left = results
        self.shown: set[str] = set()

    def sheet(self, wall: Wall, results: Sequence[Result]) -> BarrierSheet:
        """One barrier with everything that crosses it."""
        barrier = wall.pair.barrier or Barrier(wall.pair.sides, (), -1)
        subject = barrier_subject(self.context, barrier)
        rows = held(results, subject)
        parts = self.context.interfaces.recognition.parts
        crossings = []
        for crosser in wall.crossers:
            for element in crosser.elements:
                part = parts[element] if crosser.part is not None else None
                crossings.append(self._part(barrier, element, part, crosser.record))
        across = (b for b in self.context.interfaces.separation.bridges if set(b.sides) == set(barrier.sides))
        crossings += [self._bridge(barrier, bridge) for bridge in across]
        crossings += [self.joint(join, barrier.sides) for join in joins_of(self.context, barrier)]
        notes: list[str] = []
        if rows and wall.limits.strength is not None:
            notes = [f"assumed: {line}" for line in assumed(results, subject)]
            notes.append(f"{wall.limits.profile}, not carried here: {NOT_CARRIED[wall.limits.profile]}")
        return BarrierSheet(
            barrier.sides,
            tuple((key, text.strip('"')) for key, text in wall.pair.written()),
            tuple(_weakest_marked(crossings, rows)),
            barrier.undecidable,
            self._take({subject}),
            rows,
            tuple(notes),
        )

    def _part(self, barrier: Barrier, element: int, part: Part | None, record: PartRecord | None) -> Crossing:
        """A part that isolates, or windings that a K card couples."""
        insulation = None if record is None else record.insulation
        details: list[str] = []
        for key, unit in _RATINGS:
            value = getattr(insulation, key) if insulation is not None else None
            if value is not None:
                details.append(f"{key.replace('_', ' ')} {show(value, unit) if unit else value}")
        context = self.context
        if part is None:
            what, nets = "coupled windings", winding_nets(context, element)
        else:
            what = " ".join(word for word in (part.type, part.model_name) if word)
            nets = context.circuit.pins(element)
        ends = self._ends(barrier.sides, nets)
        details += test_words(insulation)
        known = tuple(details) or ("no ratings in its record" if record else "no record, no ratings",)
        path = context.circuit.path(element)
        return Crossing("part", path, what, known, ends, context.place(element), self._take({path}))

    def _bridge(self, barrier: Barrier, bridge: Bridge) -> Crossing:
        context, circuit = self.context, self.context.circuit
        unit = "ohm" if bridge.kind == "resistance" else "F"
        what = "value not known" if bridge.value is None else show(bridge.value, unit)
        details: list[str] = []
        for element in bridge.elements:
            value = circuit.value(element)
            many = len(bridge.elements) > 1
            words = [f"{circuit.path(element)} {'?' if value is None else show(value, unit)}"] if many else []
            if bridge.kind == "capacitance":
                words.append(class_of(context, element) or "no class stated")
            rated = rating_of(context, element)
            if rated is not None:
                words.append(f"rated {show(rated, 'V')}")
            if words:
                details.append(", ".join(words))
        if bridge.shorted is not None and len(bridge.elements) > 1:
            shorted = "a dead short" if bridge.shorted in (0.0, math.inf) else show(bridge.shorted, unit)
            details.append(f"with one of them shorted: {shorted}")
        subject = ", ".join(sorted(map(circuit.path, bridge.elements), key=str.casefold))
        nets = [net for element in bridge.elements for net in circuit.pins(element)]
        return Crossing(
            bridge.kind,
            ", ".join(map(circuit.path, bridge.elements)),
            what,
            tuple(details),
            self._ends(barrier.sides, nets),
            min(map(context.place, bridge.elements)),
            self._take({subject}),
        )

    def joint(self, join: Join, sides: tuple[str, str] | None = None) -> Crossing:
        """A joint, or an unknown part through which two sides meet."""
        context, circuit = self.context, self.context.circuit
        self.shown.add(join.subject)
        elements = join.unknown or join.cut or tuple(step.element for step in join.path if step.element >= 0)
        name = ", ".join(map(circuit.path, elements)) or (
            f"net {context.net(join.shared_net)}" if join.shared_net >= 0 else "stated facts"
        )
        rules: set[str]
        if join.unknown:
            subjects, rules = set(map(self._asked_as, join.unknown)), {context.speaker("identity")}
            what = "nobody explained what it is"
        else:
            subjects, rules = {join.subject}, {speaker_of(context, join)}
            what = f"{context.speaker(join.kind)}, {show(join.resistance, 'ohm')}"
        ends: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
        hops = path_hops(context, join)
        if join.shared_net >= 0:
            ends = ((context.net(join.shared_net),),) * 2
        elif sides is not None and set(sides) != set(join.sides):
            what = f"{what}, between {' and '.join(join.sides)}"
            if join.path:
                outer = join.path[0].net_in, join.path[-1].net_out
                ends = self._ends(sides, outer)
                hops = hops[::-1] if context.net(outer[0]) in ends[1] else hops
            # A joint of other sides that bypasses this barrier is told, not drawn across it.
            hops = hops if all(ends) else ()
        elif join.path:
            ends = (context.net(join.path[0].net_in),), (context.net(join.path[-1].net_out),)
            if sides is not None and join.sides == sides[::-1]:
                ends, hops = ends[::-1], hops[::-1]
        where = min(map(context.place, elements), default=Place(context.netlist))
        concerned = (f"concerns {', '.join(join.couplers)}",) if join.couplers else ()
        details = (f"path: {path_words(context, join)}", *concerned)
        kind: CrossingKind = "unknown" if join.unknown else "joint"
        remarks = self._take(subjects, rules)
        return Crossing(kind, name, what, details, ends, where, remarks, hops)

    def suspects(self) -> Iterator[Crossing]:
        """Parts that look like couplers and lie at no barrier, since nobody explained them."""
        for unknown in self.context.interfaces.recognition.suspects:
            nets = tuple(map(self.context.net, self.context.circuit.pins(unknown.element)))
            what = f"perhaps a {unknown.suspected_type}" if unknown.suspected_type else "nobody explained what it is"
            remarks = self._take({self._asked_as(unknown.element)})
            if remarks:
                place = self.context.place(unknown.element)
                yield Crossing("unknown", unknown.path, what, (unknown.reason,), (nets, ()), place, remarks)

    def _asked_as(self, element: int) -> str:
        """The subject of the question about a part: its name, the same for all its instances."""
        return subject_of(self.context, element)

    def _ends(self, sides: tuple[str, str], nets: Iterable[int]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The names of the nets on each of two sides."""
        separation = self.context.interfaces.separation
        found: list[dict[str, None]] = [{}, {}]
        for net in nets:
            index = separation.side_of_net.get(net)
            if index is not None and separation.sides[index].name in sides:
                found[sides.index(separation.sides[index].name)][self.context.net(net)] = None
        return tuple(found[0]), tuple(found[1])

    def _take(self, subjects: set[str], rules: set[str] | None = None) -> tuple[Remark, ...]:
        """The results about some subjects; where rules are named, theirs, even if they stand elsewhere already."""
        if rules is None:
            own = [result for result in self.left if result.subject in subjects]
        else:
            own = [result for result in self.all if result.subject in subjects and result.rule in rules]
        self.left = [result for result in self.left if result not in own]
        return tuple(map(_remark, own))


def _weakest_marked(crossings: Iterable[Crossing], rows: Sequence[Held]) -> Iterator[Crossing]:
    """The crossings; the one that offers least of all carries the number."""
    first = next(iter(rows), None)
    for crossing in crossings:
        own = first is not None and set(crossing.name.split(", ")) & set(first.by.partition(" (")[0].split(", "))
        if first is not None and own:
            number = "not known" if first.margin is None else show_share(first.margin)
            yield crossing._replace(weakest=f"weakest: {first.name} {number}")
        else:
            yield crossing


def _remark(result: Result) -> Remark:
    mark = "waived" if result.suppression is not None else "open" if result.kind == "open" else result.level
    return Remark(mark, result.rule, result.message)

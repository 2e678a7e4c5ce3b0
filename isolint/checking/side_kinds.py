"""How dangerous each side is, and whether it is joined to protective earth: by what is stated, never by a name.

In: a context. Out: a `SideKind` a side. A low voltage of its own proves nothing, since a side may swing with what it is
tied to: only a stated kind makes a side touchable.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from isolint.checking.barrier_demands import shown_names
from isolint.checking.context import Context
from isolint.checking.joint_results import TIE_OHMS
from isolint.interfaces.entities import Side
from isolint.interfaces.references import nets_named
from isolint.standards.insulation_tables import ES1, ES2, Touchable
from isolint.units import show

Danger = Literal["H3", "H2", "H", "S", "I", "U"]
"""H3, H2: hazardous as mains is, or less; H: hazardous, nobody says how much. S: may be touched. I: internal, can't be
touched and has no hazard of its own. U: nobody says."""

TOUCHED = frozenset(("selv", "earth", "chassis"))
_ORDER = ("mains", "hazardous", "chassis", "selv", "earth", "internal")
"""Of several kinds that are stated of what is one side the first one counts."""


class SideKind(NamedTuple):
    """What a side is.

    assumed: only sources in the netlist say so, so that it may ask and never fail. earthed: whether it is joined to
    protective earth by what conducts. contradiction: what is stated that can't both be, "" for nothing.
    """

    danger: Danger
    kind: str
    assumed: bool = False
    earthed: bool = False
    contradiction: str = ""

    @property
    def hazardous(self) -> bool:
        """Whether it must not be touched."""
        return self.danger.startswith("H")

    @property
    def words(self) -> str:
        """The kind as stated, or that nobody stated it."""
        return self.kind or "no kind stated"


def side_kinds(context: Context) -> dict[str, SideKind]:
    """The kind of each side by its name."""
    separation = context.interfaces.separation
    found = {side.name: _of(context, index, side) for index, side in enumerate(separation.sides)}
    shown = context.kept(shown_names)
    for fact in context.facts.barriers:
        if fact.mains is None:
            continue
        ends = [name for name in (shown.get(side.casefold(), side) for side in fact.between) if name in found]
        if len(ends) < 2:
            continue
        for name, other in (ends, ends[::-1]):
            # Mains reaches a barrier from the side that may not be touched.
            if found[other].danger == "S" and found[name].danger in ("U", "H", "H2"):
                found[name] = found[name]._replace(danger="H3")
        if all(found[name].danger == "S" for name in ends) and "mains" not in (found[name].kind for name in ends):
            both = " and ".join(f"{name} ({found[name].kind})" for name in ends)
            text = f"{fact.key} states mains between {both}"
            for name in ends:
                found[name] = found[name]._replace(contradiction=found[name].contradiction or text)
    return found


def _of(context: Context, index: int, side: Side) -> SideKind:
    names = _names(context, index)
    earth = [name for name in names if _kind(context, name) == "earth"]
    others = [name for name in names if name not in earth]
    earthed = any(_flag(context, name) for name in names) or (
        bool(earth) and (not others or _conducts(context, earth, others))
    )
    # What leads to earth over ten ohms is not earth.
    counting = names if earthed or not others else others
    kinds = [kind for kind in (_kind(context, name) for name in counting) if kind]
    kind = min(kinds, key=_ORDER.index, default="" if counting != names else side.kind)
    volts = _highest(context, index)
    above1 = next((text for text, limits in volts if _above(limits, ES1)), "")
    above2 = any(_above(limits, ES2) for _, limits in volts)
    if kind == "mains" or (above2 and kind not in TOUCHED):
        return SideKind("H3", kind, earthed=earthed)
    if kind == "hazardous":
        return SideKind("H" if not volts else "H2" if above1 else "H", kind, earthed=earthed)
    if kind in TOUCHED:
        text = f"side {side.name} is stated {kind} and holds {above1}" if above1 and kind == "selv" else ""
        return SideKind("S", kind, earthed=earthed, contradiction=text)
    if kind == "internal":
        return SideKind("H2" if above1 else "I", kind, earthed=earthed)
    if above1:
        return SideKind("H2", kind, earthed=earthed)
    if any(_above(limits, ES1) for limits in _of_sources(context, index)):
        return SideKind("H", kind, assumed=True, earthed=earthed)
    return SideKind("U", kind, earthed=earthed)


def _names(context: Context, index: int) -> list[str]:
    """The stated names of a side: one, or those of all that are bonded into it."""
    return [name for name in context.facts.sides if any(net >= 0 for net in _nets(context, name, index))]


def _nets(context: Context, name: str, index: int) -> list[int]:
    """The nets of a stated side that lie on a side."""
    stated = context.facts.sides[name].nets
    side_of = context.interfaces.separation.side_of_net
    found = [net for written in (stated.value if stated else ()) for net in nets_named(context.circuit, written)]
    return [net for net in found if side_of.get(net) == index]


def _kind(context: Context, name: str) -> str:
    stated = context.facts.sides[name].kind
    return "" if stated is None else stated.value


def _flag(context: Context, name: str) -> bool:
    stated = context.facts.sides[name].earthed
    return stated is not None and stated.value


def _conducts(context: Context, earth: list[str], others: list[str]) -> bool:
    """Whether less than 10 ohm leads from earth to each of the other names of a side."""
    circuit = context.circuit

    def nets(name: str) -> list[int]:
        stated = context.facts.sides[name].nets
        return [net for written in (stated.value if stated else ()) for net in nets_named(circuit, written)]

    reached = {net for name in earth for net in nets(name)}
    waiting = list(reached)
    while waiting:
        for element, _ in circuit.elements_at(waiting.pop()):
            if _leads(context, element):
                for other in circuit.pins(element):
                    if other not in reached:
                        reached.add(other)
                        waiting.append(other)
    return all(not reached.isdisjoint(nets(name)) for name in others)


def _leads(context: Context, element: int) -> bool:
    """Whether an element is a conductor: below 10 ohm, an inductor, a source of 0 V."""
    letter, value = context.circuit.letter(element), context.circuit.value(element)
    if letter == "R":
        return value is not None and value < TIE_OHMS
    return letter == "L" or (letter == "V" and value == 0.0)


class _Volts(NamedTuple):
    """The largest direct and alternating voltage, peak."""

    direct: float
    peak: float


def _above(volts: _Volts, limit: Touchable) -> bool:
    return volts.direct > limit.direct or volts.peak > limit.peak


def _highest(context: Context, index: int) -> list[tuple[str, _Volts]]:
    """What is stated of the supplies and lines of a side, with its words; tolerances that nobody stated are 0."""
    facts, separation = context.facts, context.interfaces.separation
    found: list[tuple[str, _Volts]] = []
    for row, lines in ((facts.supplies, False), (facts.lines, True)):
        for net in _named_in(context, tuple(row.rows), index):
            name = context.circuit.net_name(net)
            if lines:
                line = facts.line(name)
                reaches = [] if line is None else [stated.value for stated in (line.on, line.off) if stated is not None]
                most = max((abs(volt) for reach in reaches for volt in (reach.low, reach.high)), default=0.0)
                found.append((f"line {name} at {show(most, 'V')}", _Volts(most, 0.0)))
                continue
            supply = facts.supply(name)
            if supply is None or supply.voltage is None:
                continue
            reach = supply.stated_range or supply.voltage.value
            most = max(abs(reach.low), abs(reach.high))
            if supply.alternates:
                found.append((f"supply {name} at {show(most, 'V')} rms", _Volts(0.0, most * math.sqrt(2.0))))
            else:
                found.append((f"supply {name} at {show(most, 'V')}", _Volts(most, 0.0)))
    assert index < len(separation.sides)
    return found


def _named_in(context: Context, patterns: tuple[str, ...], index: int) -> Iterator[int]:
    """The nets of a side that some patterns name."""
    side_of = context.interfaces.separation.side_of_net
    seen: set[int] = set()
    for pattern in patterns:
        for net in nets_named(context.circuit, pattern):
            if net not in seen and side_of.get(net) == index:
                seen.add(net)
                yield net


def _of_sources(context: Context, index: int) -> Iterator[_Volts]:
    """The voltages of the source cards of a side."""
    side_of = context.interfaces.separation.side_of_net
    for element in context.circuit.elements_of("V"):
        if all(side_of.get(net) == index for net in context.circuit.pins(element)):
            value = context.circuit.value(element)
            shape = context.circuit.stimulus(element)
            if shape is not None and shape[1]:
                swing = [abs(number) for number in shape[1][:2]]
                peak = sum(swing) if shape[0].upper() == "SIN" else max(swing)
                yield _Volts(0.0, peak)
            elif value is not None:
                yield _Volts(abs(value), 0.0)

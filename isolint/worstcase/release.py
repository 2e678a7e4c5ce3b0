"""The moment when a clamped coil has been switched off, for all that lies in parallel with it.

In: a network in which a coil lies, with what takes its current. Out: the same network with the switches that interrupt
the coil open and the coil a source of the clamp's voltage, of the polarity that keeps its current going. Nothing but
voltages mean anything in it: it lasts for milliseconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from isolint.interfaces.entities import Network
from isolint.parts import records
from isolint.worstcase import network as n
from isolint.worstcase.clamps import DIODE_VOLTS, Clamp, Clamping
from isolint.worstcase.coils import FoundCoil, device_of, rail_voltage
from isolint.worstcase.devices import Diode
from isolint.worstcase.drive import hold_floating
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, stated, unique

KICK = "voltage of coil"
MOST_DIODE_VOLTS = 1.0
"""A rectifier that carries a coil's current: 0.6 V to 1.0 V (from memory)."""


class Release(NamedTuple):
    """A coil with its clamp, and the volts that it gives while its current dies away.

    ends: of the coil with the resistors that are drawn as its own, `drawn`; plus first.
    """

    coil: FoundCoil
    clamp: Clamp
    volts: Term
    ends: tuple[int, int]
    drawn: tuple[int, ...]

    @property
    def words(self) -> str:
        """The state, for messages."""
        return f"coil {self.coil.path} just switched off"


def releases(lookup: Lookup, coils: Sequence[tuple[FoundCoil, Clamping]], walked: Network) -> list[Release]:
    """The coils of a network that something interrupts; `Lacking` where nothing takes the current of one."""
    members = {*walked.elements, *(element for element, _ in walked.branches)}
    found = []
    for coil, clamping in coils:
        if coil.element not in members or not coil.directed:
            continue
        if clamping.clamp is None:
            raise Lacking(f"coil {coil.path} has no clamp", blocked_by="clamp")
        clamp = clamping.clamp
        (plus, first), (minus, last) = (_outer(lookup, coil, net) for net in (coil.plus, coil.minus))
        drawn = tuple(element for element in (first, last) if element >= 0)
        own = sum(lookup.ohms(element) or 0.0 for element in drawn if element in clamp.elements)
        whole = coil._replace(plus=plus, minus=minus)
        volts = _volts(lookup, whole, clamp._replace(ohms=max(clamp.ohms - own, 0.0)))
        found.append(Release(coil, clamp, volts, (plus, minus), drawn))
    return found


def outer(lookup: Lookup, coil: FoundCoil) -> FoundCoil:
    """A coil with the ends of the resistors that are drawn as its own."""
    (plus, _), (minus, _) = (_outer(lookup, coil, net) for net in (coil.plus, coil.minus))
    return coil._replace(plus=plus, minus=minus)


def _outer(lookup: Lookup, coil: FoundCoil, net: int) -> tuple[int, int]:
    """The end of a coil behind a resistor that a net of their own joins to it, with that resistor; else -1."""
    circuit = lookup.circuit
    others = [element for element, _ in circuit.elements_at(net) if element != coil.element]
    if len(others) != 1 or circuit.letter(others[0]) != "R" or lookup.walker.held(net) is not None:
        return net, -1
    first, second = circuit.pins(others[0])[:2]
    return (second if first == net else first), others[0]


def _volts(lookup: Lookup, coil: FoundCoil, clamp: Clamp) -> Term:
    """What a clamp lets a coil rise to, volts: the most of it hurts."""
    title = f"voltage of coil {coil.path} when it is switched off"
    names = ", ".join(map(lookup.circuit.path, clamp.elements))
    low, _ = knee(lookup, coil, clamp, WORST)
    if clamp.kind == "internal":
        return Term(f"coil {coil.path}", title, "V", low, low, low, low, low, False, _inside(coil))
    ends = [_most(lookup, coil, clamp, setting) for setting in (WORST, KINDEST)]
    text = f"{names} at 0.6 V to 1 V a junction (from memory)"
    if clamp.kind == "rc":
        low = ends[1]
        text = f"I R + I sqrt(L / C) of {names}"
    return Term(f"coil {coil.path}", title, "V", low, ends[0], ends[0], low, ends[1], False, text)


def _inside(coil: FoundCoil) -> str:
    return f"clamp inside {coil.path}, as its record says"


def knee(lookup: Lookup, coil: FoundCoil, clamp: Clamp, setting: Setting) -> tuple[float, str]:
    """The least volts at which a clamp without a capacitor takes a coil's current, with where they are from."""
    if clamp.kind == "internal":
        if coil.clamp_volts is None:
            missing = coil.missing(records.Coil.clamp_voltage)
            raise Lacking(f"at which voltage the clamp inside {coil.path} conducts is not known", missing)
        return coil.clamp_volts, _inside(coil)
    volts = sum(volts * (1.0 + setting.low(tolerance)) - volts for volts, tolerance in _zeners(lookup, clamp))
    names = ", ".join(map(lookup.circuit.path, clamp.elements))
    return volts + (clamp.knee or 0.0), f"{names} at 0.6 V a junction"


def _zeners(lookup: Lookup, clamp: Clamp) -> list[tuple[float, Term]]:
    """The breakdown voltages in a clamp with their tolerances."""
    devices = ((each, device_of(lookup.circuit, each)) for each in clamp.elements if lookup.circuit.letter(each) == "D")
    return [
        (device.BV, lookup.tolerance(element))
        for element, device in devices
        if clamp.kind == "zener" and _breaks(device, clamp) and isinstance(device, Diode) and device.BV is not None
    ]


def _breaks(device: object, clamp: Clamp) -> bool:
    """Whether a diode in a clamp conducts backwards there."""
    return isinstance(device, Diode) and device.BV is not None and clamp.knee is not None and clamp.knee >= device.BV


def _most(lookup: Lookup, coil: FoundCoil, clamp: Clamp, setting: Setting) -> float:
    """The volts to which a clamp lets a coil rise at most, in a setting."""
    if clamp.kind == "rc":
        if coil.henries is None:
            text = f"how high the RC network lets {coil.path} rise depends on its inductance, which is not known"
            raise Lacking(text, coil.missing(records.Coil.inductance))
        amps = most_amps(lookup, coil, setting).amps
        least = min(farads(lookup, clamp, setting))
        return amps * clamp.ohms + amps * math.sqrt(coil.henries / least)
    if clamp.knee is None:
        raise Lacking(f"how high the clamp of coil {coil.path} lets its voltage rise is not known")
    volts = clamp.knee + sum(own * setting.high(tolerance) for own, tolerance in _zeners(lookup, clamp))
    if clamp.ohms > 0.0:
        volts += most_amps(lookup, coil, setting).amps * clamp.ohms
    if setting.is_kindest:
        return volts
    circuit = lookup.circuit
    junctions = [device_of(circuit, each) for each in clamp.elements if circuit.letter(each) == "D"]
    forwards = [device for device in junctions if isinstance(device, Diode) and not _backwards(device, clamp)]
    return volts + len(forwards) * (MOST_DIODE_VOLTS - DIODE_VOLTS)


def _backwards(device: Diode, clamp: Clamp) -> bool:
    return clamp.kind == "zener" and _breaks(device, clamp)


def farads(lookup: Lookup, clamp: Clamp, setting: Setting) -> tuple[float, float]:
    """The ends of the capacitance in a clamp."""
    circuit, value = lookup.circuit, clamp.farads or 1.0
    spread = [lookup.tolerance(each) for each in clamp.elements if circuit.letter(each) == "C"]
    return (
        value * (1.0 + min((setting.low(each) for each in spread), default=0.0)),
        value * (1.0 + max((setting.high(each) for each in spread), default=0.0)),
    )


class Energised(NamedTuple):
    """What a coil carries at most, amperes, with the volts of its rails and its least resistance behind it.

    nominal: volts of the rails as they are meant to be.
    """

    amps: float
    volts: float
    nominal: float
    ohms: float
    terms: tuple[Term, ...]


def most_amps(lookup: Lookup, coil: FoundCoil, setting: Setting, more: Sequence[int] = ()) -> Energised:
    """The rails as far apart as they may be, over the coil's cold copper. more: further nets that may be its rails."""
    nets = (coil.plus, coil.minus, *(item.far for item in coil.interrupters if item.far >= 0), *more)
    rails = [term for term in (_rail(lookup, net) for net in nets) if term is not None]
    if not coil.ohms or len(rails) < 2:
        raise Lacking(f"the current that coil {coil.path} carries when it is switched off is not known")
    ambient, volts = lookup.ambient(), max(map(setting.high, rails)) - min(map(setting.low, rails))
    terms = [*rails, ambient]
    spread = coil.tolerance
    if coil.drawn >= 0:
        terms.append(lookup.tolerance(coil.drawn))
        spread = setting.low(terms[-1])
    ohms = coil.ohms * (1.0 + spread) * (1.0 + coil.drift * (setting.low(ambient) - coil.at))
    meant = [term.nominal for term in rails]
    return Energised(volts / ohms, volts, max(meant) - min(meant), ohms, unique(terms))


def _rail(lookup: Lookup, net: int) -> Term | None:
    """The voltage of a supply or reference net; None of others and where nobody tells it."""
    held = lookup.walker.held(net)
    if held is None or rail_voltage(lookup, net) is None:
        return None
    if held.kind == "ground":
        return stated(f"ground {net}", "reference", "V", 0.0, 0.0, 0.0, "reference")
    return lookup.supply(net, held)


def open_outputs(release: Release, state: State) -> State:
    """The state with the stated outputs that drive the coil themselves let go of it."""
    opened: dict[int, Level] = dict(state)
    opened.update({net: "hi-z" for net, element in release.coil.drivers if element < 0 and net in state})
    return opened


def releasing(lookup: Lookup, made: Assembly, release: Release) -> Assembly:
    """A network at the moment when its coil has been switched off."""
    circuit, coil = lookup.circuit, release.coil
    gone = [coil.element, *release.drawn, *(item.element for item in coil.interrupters)]
    others = [element for element in release.clamp.elements if element not in release.drawn]
    limited = any(circuit.letter(element) == "R" and (lookup.ohms(element) or 0.0) > 0.0 for element in others)
    if not limited:
        # Beside the voltage that stands for it a clamp without a resistor would carry any current. One with a resistor
        # bears it, and may be the way of a channel.
        gone += [element for element in release.clamp.elements if circuit.letter(element) != "X"]
    names = {circuit.path(element) for element in gone}
    # A coupler that interrupts it stands in the network with its output, by the name of that.
    outputs = tuple(f"output of {circuit.path(item.element)}" for item in coil.interrupters)
    names |= {maker.name for maker in made.makers if maker.name.startswith(tuple(f"{each} pins " for each in outputs))}
    names |= set(outputs)
    index = made.term(release.volts)
    plus, minus = (made.node(net, circuit.net_name(net)) for net in release.ends)
    opened = made
    for name in names:
        opened = opened.without(name)
    for net in {net for element in gone for net in circuit.pins(element)} & made.nets.keys():
        # What hung on the clamp or the switch alone hangs on nothing now.
        hold_floating(opened, f"float of {circuit.net_name(net)} beside {coil.path}", made.nets[net])
    title = f"{KICK} {coil.path}"
    opened.add(title, lambda vector, temperature: n.VoltageSource(title, minus, plus, vector[index]), index)
    return opened

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
from isolint.worstcase.coils import Coil, device_of, rail_voltage
from isolint.worstcase.devices import Diode
from isolint.worstcase.drive import hold_floating
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.uncertain import Lacking, Term

KICK = "voltage of coil"
MOST_DIODE_VOLTS = 1.0
"""A rectifier that carries a coil's current: 0.6 V to 1.0 V (from memory)."""


class Release(NamedTuple):
    """A coil with its clamp, and the volts that it gives while its current dies away.

    ends: of the coil with the resistors that are drawn as its own, `drawn`; plus first.
    """

    coil: Coil
    clamp: Clamp
    volts: Term
    ends: tuple[int, int]
    drawn: tuple[int, ...]

    @property
    def words(self) -> str:
        """The state, for messages."""
        return f"coil {self.coil.path} just switched off"


def releases(lookup: Lookup, coils: Sequence[tuple[Coil, Clamping]], walked: Network) -> list[Release]:
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
        outer = coil._replace(plus=plus, minus=minus)
        volts = _volts(lookup, outer, clamp._replace(ohms=max(clamp.ohms - own, 0.0)))
        found.append(Release(coil, clamp, volts, (plus, minus), drawn))
    return found


def _outer(lookup: Lookup, coil: Coil, net: int) -> tuple[int, int]:
    """The end of a coil behind a resistor that a net of their own joins to it, with that resistor; else -1."""
    circuit = lookup.circuit
    others = [element for element, _ in circuit.elements_at(net) if element != coil.element]
    if len(others) != 1 or circuit.letter(others[0]) != "R" or lookup.walker.held(net) is not None:
        return net, -1
    first, second = circuit.pins(others[0])[:2]
    return (second if first == net else first), others[0]


def _volts(lookup: Lookup, coil: Coil, clamp: Clamp) -> Term:
    """What a clamp lets a coil rise to, volts: the most of it hurts."""
    title = f"voltage of coil {coil.path} when it is switched off"
    if clamp.kind == "internal":
        if coil.clamp_volts is None:
            missing = coil.missing(records.Coil.clamp_voltage)
            raise Lacking(f"at which voltage the clamp inside {coil.path} conducts is not known", missing)
        low = kind = high = coil.clamp_volts
        text = f"clamp inside {coil.path}, as its record says"
    elif clamp.kind == "rc":
        low = kind = high = _of_network(lookup, coil, clamp)
        text = f"I R + I sqrt(L / C) of {', '.join(map(lookup.circuit.path, clamp.elements))}"
    else:
        if clamp.knee is None:
            raise Lacking(f"how high the clamp of coil {coil.path} lets its voltage rise is not known")
        low = kind = high = clamp.knee + _rise(lookup, coil, clamp)
        for element in clamp.elements:
            device = device_of(lookup.circuit, element) if lookup.circuit.letter(element) == "D" else None
            if isinstance(device, Diode):
                if clamp.kind == "zener" and device.BV is not None and clamp.knee >= device.BV:
                    # What is stated of its spread hurts even at the kindest end.
                    tolerance = lookup.tolerance(element)
                    high += device.BV * tolerance.high
                    kind += device.BV * tolerance.kind_high
                else:
                    high += MOST_DIODE_VOLTS - DIODE_VOLTS
        text = f"{', '.join(map(lookup.circuit.path, clamp.elements))} at 0.6 V to 1 V a junction (from memory)"
    return Term(f"coil {coil.path}", title, "V", low, high, high, low, kind, False, text)


def _rise(lookup: Lookup, coil: Coil, clamp: Clamp) -> float:
    """What a resistor in the clamp adds at the current that the coil had, volts."""
    return 0.0 if clamp.ohms <= 0.0 else _amps(lookup, coil) * clamp.ohms


def _of_network(lookup: Lookup, coil: Coil, clamp: Clamp) -> float:
    if coil.henries is None:
        text = f"how high the RC network lets {coil.path} rise depends on its inductance, which is not known"
        raise Lacking(text, coil.missing(records.Coil.inductance))
    amps = _amps(lookup, coil)
    return amps * clamp.ohms + amps * math.sqrt(coil.henries / (clamp.farads or 1.0))


def _amps(lookup: Lookup, coil: Coil) -> float:
    """The most that a coil carries: all of the rails' voltage across its resistance."""
    nets = (coil.plus, coil.minus, *(item.far for item in coil.interrupters if item.far >= 0))
    known = [volts for volts in (rail_voltage(lookup, net) for net in nets) if volts is not None]
    if not coil.ohms or len(known) < 2:
        raise Lacking(f"the current that coil {coil.path} carries when it is switched off is not known")
    return (max(known) - min(known)) / coil.ohms


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

"""Outputs of two ports that a bare current of the light makes: transistors by their law, resistances, photovoltaic
stacks.

In: a port group without transistors. Out: a `GroupOutput`, or None. What such a current is, its dependence on its own
voltage and its share of the LED's current say.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.measure.body import ZERO, Device
from isolint.recognition.led_groups import LED_LIKE, drop_of, ends, is_diode, law_value
from isolint.recognition.port_group import Group, GroupOutput
from isolint.recognition.typical import CURRENTS, flow, lit

_STACK_VOLTS = (1.5, 40.0)
_PUMP_CURRENT = 10e-6
TRANSISTOR_RATIO = (0.1, 8.0)
"""Of the LED's current: no photodiode gives the lower end, and above the upper one it may be two transistors."""

_STEADY = 4.0
"""How much the ratio of a transistor may change over the currents at which it is looked at."""

_OPEN_VOLTS, _SATURATED_VOLTS = 5.0, 1.0
_COLLECTORS = frozenset((
    "c", "col", "coll", "collector", "c1", "c2", "c3", "c4", "oc", "vc",
))  # fmt: skip
_EMITTERS = frozenset((
    "e", "em", "emi", "emit", "emitter", "e1", "e2", "e3", "e4", "oe", "ve",
))  # fmt: skip


def resistance(group: Group) -> GroupOutput | None:
    """A current or a resistor whose law has its own voltage and a signal of the light."""
    if group.letters() & frozenset("QMSWJX") or len(group.ports) != 2:
        return None
    for device in group.devices:
        law = device.law
        if law is None or not group.lit(device) or len(device.nets) != 2:
            continue
        names = {device.nets[0]: "r1", device.nets[1]: "r2"}
        pins = {group.at(net): name for net, name in names.items() if group.at(net) >= 0}
        if len(pins) < 2:
            pins = dict(zip(group.ports, ("r1", "r2"), strict=True))
        if device.letter == "R" or law.kind == "r":
            return GroupOutput("resistance", pins)
        own = [pair for pair in device.pairs if all(group.graph.component(net) == group.component for net in pair)]
        if device.is_current_source and own:
            shape = _shape(group, device)
            if shape == "straight":
                return GroupOutput("resistance", pins)
            named = collector_emitter(group)
            why = "its output is a current that depends on its own voltage"
            if named and shape == "saturating":
                return GroupOutput("current from collector to emitter", named)
            if _saturates_as_a_transistor(group, device, own):
                collector, emitter = (group.at(net) for net in own[0])
                return GroupOutput("current of a transistor's ratio", {collector: "collector", emitter: "emitter"})
            if shape != "saturating":
                return GroupOutput("bent resistance", named or pins, why=why)
            turned = dict(zip(pins, ("collector", "emitter"), strict=True))
            return GroupOutput("saturating current", turned, why=why)
    return None


def _shape(group: Group, device: Device) -> str:
    """How a current follows its own voltage: "straight", "saturating", "" where it can't be told."""
    one, other = device.nets
    named = {net for pair in device.pairs for net in pair} - {one, other, ZERO}
    found: list[float] = []
    for volts in (0.1, 10.0, -10.0):
        values = {**dict.fromkeys(named, 1.0), ZERO: 0.0, one: volts, other: 0.0}
        value = law_value(group.graph, device, values, 5e-3)
        if value is None:
            return ""
        found.append(value)
    small, large, reverse = found
    if not small or not large:
        return ""
    straight = abs(large / small / 100 - 1) < 0.05 and abs(reverse + large) < 0.05 * abs(large)
    return "straight" if straight else "saturating" if abs(large / small) < 50 else ""


def _saturates_as_a_transistor(group: Group, device: Device, own: Sequence[tuple[int, int]]) -> bool:
    """Whether a current is full from a volt on, and a transistor's share of the LED's current, from its first net on.

    The voltage that its law names, first against second net, is that of collector against emitter.
    """
    one, other = own[0]
    if len({frozenset(pair) for pair in own}) > 1 or {one, other} != set(device.nets):
        return False
    if -1 in (group.at(one), group.at(other)) or group.at(one) == group.at(other) or not group.led.like:
        return False
    sign = 1.0 if device.nets[0] == one else -1.0

    def current(amps: float, volts: float) -> float | None:
        value = lit(group.graph, group.led, device, amps, {one: volts, other: 0.0})
        return None if value is None else sign * value

    full = [current(amps, _OPEN_VOLTS) for amps in CURRENTS]
    early = [current(amps, _SATURATED_VOLTS) for amps in CURRENTS]
    known = [value for value in (*full, *early) if value is not None]
    if len(known) < len(full) + len(early) or min(known) <= 0.0:
        return False
    saturated = all(low >= 0.8 * high for low, high in zip(known[len(full) :], known[: len(full)], strict=True))
    return saturated and is_of_a_transistor([value / amps for value, amps in zip(known, CURRENTS, strict=False)])


def is_of_a_transistor(ratios: Sequence[float]) -> bool:
    """Whether a current is that share of an LED's current which a phototransistor gives."""
    low, high = TRANSISTOR_RATIO
    return bool(ratios) and all(low <= ratio <= high for ratio in ratios) and max(ratios) <= _STEADY * min(ratios)


def collector_emitter(group: Group) -> dict[int, str]:
    """Collector and emitter by the names of two ports; {} where they don't say."""
    if len(group.ports) != 2:
        return {}
    found = {}
    for port in group.ports:
        if group.name(port) in _COLLECTORS:
            found[port] = "collector"
        elif group.name(port) in _EMITTERS:
            found[port] = "emitter"
    return found if sorted(found.values()) == ["collector", "emitter"] else {}


def bare_current(group: Group) -> GroupOutput | None:
    """Nothing but a current of the light between two ports, perhaps through diodes that it passes."""
    if len(group.ports) != 2 or group.letters() & frozenset("QMSWJXA"):
        return None
    for source in group.devices:
        if source.is_current_source and group.lit(source) and len(source.nets) == 2:
            found = _between(group, source)
            if found is not None:
                return found
    return None


def _between(group: Group, source: Device) -> GroupOutput | None:
    graph = group.graph
    first, second = flow(graph, group.led, source)
    upper = group.through(first, lambda diode: ends(diode)[::-1])
    lower = group.through(second, ends)
    if -1 in (upper, lower) or upper == lower:
        return None
    enters, leaves = graph.wire(first), graph.wire(second)
    for diode in (device for device in group.devices if is_diode(device)):
        anode, cathode = map(graph.wire, ends(diode))
        drop = drop_of(diode, _PUMP_CURRENT)
        pumped = _chain_drop(group, leaves, enters) if (anode, cathode) != (leaves, enters) else drop
        if pumped is not None and _STACK_VOLTS[0] <= pumped <= _STACK_VOLTS[1]:
            return GroupOutput("pumped stack", {lower: "pv+", upper: "pv-"}, light=(source,))
    named = collector_emitter(group)
    if named:
        return GroupOutput("current from collector to emitter", named, light=(source,))
    pins = {upper: "collector", lower: "emitter"}
    return GroupOutput("bare current", pins, (), (source,), "its output is a current")


def with_ratio(group: Group, output: GroupOutput, ratios: Sequence[float]) -> GroupOutput:
    """An output whose make its share of the LED's current tells: a bare current beside an LED's forward voltage."""
    drop = group.led.drop
    if output.make != "bare current" or drop is None or not LED_LIKE[0] <= drop <= LED_LIKE[1]:
        return output
    if group.led.sensing != "weak" and is_of_a_transistor(ratios):
        return output._replace(make="current of a transistor's ratio", why="")
    if ratios and min(ratios) > TRANSISTOR_RATIO[1]:
        return output._replace(make="strong lit transistor", why=f"a ratio of {max(ratios) * 100:.0f} %")
    return output


def _chain_drop(group: Group, start: int, end: int) -> float | None:
    """The forward voltage of a chain of diodes between two wires at 10 uA; None where there is none."""
    graph = group.graph
    ways: dict[int, list[tuple[int, float]]] = {}
    for device in group.devices:
        if is_diode(device):
            drop = drop_of(device, _PUMP_CURRENT)
            if drop is not None:
                anode, cathode = map(graph.wire, ends(device))
                ways.setdefault(anode, []).append((cathode, drop))
    total = {start: 0.0}
    waiting = [start]
    for wire in waiting:  # grows while it is walked
        for following, drop in ways.get(wire, ()):
            if following not in total:
                total[following] = total[wire] + drop
                waiting.append(following)
    return total.get(end) if start != end else None

"""Several LEDs on one output group: open outputs that have their supply and ground in common.

In: the groups that each LED reaches. Out: the output of each LED, or None where light can't be followed to one
transistor.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.measure.body import Device
from isolint.recognition.port_group import Group, GroupOutput
from isolint.recognition.signals import Graph


class Share(NamedTuple):
    """One output a LED, with the ports of each channel."""

    outputs: tuple[GroupOutput, ...]
    ports: tuple[tuple[int, ...], ...]


def share_of(graph: Graph, found: list[list[Group]]) -> Share | None:
    """Follow each LED to the transistor that it moves; all lie in one group with one ground and one supply."""
    if any(len(groups) != 1 for groups in found) or len({groups[0].component for groups in found}) != 1:
        return None
    ends: list[tuple[int, int]] = []
    for groups in found:
        end = _end(groups[0], _moved(graph, groups[0]))
        if end is None:
            return None
        ends.append(end)
    uppers, lowers = [upper for upper, _ in ends], {lower for _, lower in ends}
    every = found[0][0].ports
    left = [port for port in every if port not in uppers and port not in lowers]
    if len(set(uppers)) < len(uppers) or len(lowers) != 1 or len(left) != 1 or lowers & set(uppers):
        return None
    ground, supply = lowers.pop(), left[0]
    outputs = tuple(GroupOutput("pull-down", {upper: "out", ground: "gnd", supply: "vcc"}) for upper in uppers)
    # What channels have in common stands with none of them.
    return Share(outputs, tuple((upper,) for upper in uppers))


def _moved(graph: Graph, group: Group) -> list[Device]:
    """The transistors that the light of one LED moves: from what it drives on, through what lies between ports."""
    rails = {graph.wire(graph.body.ports[port]) for port in group.ports}
    ways = graph.neighbours(device for device in group.devices if device.letter not in "QMJ")
    seen: dict[int, None] = {}
    for device in group.devices:
        if group.lit(device):
            seen.update(dict.fromkeys(net for net in device.nets if graph.wire(net) not in rails))
    waiting = list(seen)
    for net in waiting:  # grows while it is walked
        for other, _ in ways.get(net, ()):
            if other not in seen and graph.wire(other) not in rails:
                seen[other] = None
                waiting.append(other)
    transistors = [device for device in group.devices if device.letter in "QM" and len(device.pins) >= 3]
    return [device for device in transistors if device.pins[1] in seen]


def _end(group: Group, moved: list[Device]) -> tuple[int, int] | None:
    if len(moved) != 1 or moved[0].kind.startswith("p"):
        return None
    upper, lower = group.at(moved[0].pins[0]), group.at(moved[0].pins[2])
    return None if -1 in (upper, lower) or upper == lower else (upper, lower)

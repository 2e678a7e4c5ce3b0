"""A readable model laid beside the pin order of a part record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from isolint import types
from isolint.interfaces.entities import Part
from isolint.interfaces.subcircuit_body import PortStructure
from isolint.parts import role_of
from isolint.recognition import StructureVerdict

_ENDS = {"scra": "thyristor's anode", "scrk": "thyristor's cathode", "pv+": "positive end", "pv-": "negative end"}


def misplaced(part: Part, ports: Sequence[str], verdict: StructureVerdict) -> str:
    """The first pin that a model tells with certainty and that the record has elsewhere; "" where they agree."""
    record = part.record
    if record is None or not verdict.is_answered or len(ports) != len(record.pins) or verdict.bidirectional:
        return ""
    conducts = {types.of(verdict.type).output.conducts, types.of(record.type).output.conducts}
    if verdict.type != record.type and (len(conducts) > 1 or not conducts - {""}):
        return ""
    for index, (pin, told) in enumerate(zip(record.pins, verdict.pins, strict=True)):
        mine, other = _said(pin, record.type), _said(told, record.type)
        if mine != other and "" not in (mine, other) and "none" not in (mine, other):
            order = f"record {record.name} ({' '.join(record.pins)})"
            return f"pin {index + 1} is the {mine} in {order}, but in its subcircuit port {ports[index]} is the {other}"
    return ""


def _said(pin: str, kind: str) -> str:
    folded = pin.casefold()
    return _ENDS.get(folded) or role_of(pin, kind)


def contradiction(part: Part, ports: Sequence[str], body: PortStructure) -> str:
    """The first thing in which a subcircuit contradicts the record of a coupler; "" when they agree.

    Telling port names, the LED's direction, collector and emitter, and ports that the model joins though the record
    keeps them apart.
    """
    record = part.record
    if record is None or len(ports) != len(part.roles):
        return ""
    order = f"record {record.name} ({' '.join(record.pins)})"
    checks = (_names, _leds, _transistors, _groups) if part.kind.output.conducts else (_leds,)
    for check in checks:
        for text in check(part, ports, body, order):
            return text
    return ""


def regroups(part: Part, body: PortStructure) -> bool:
    """Whether the record joins pins that a subcircuit keeps apart."""
    of_pin = {pin: number for number, group in enumerate(body.groups) for pin in group}
    return len(body.groups) > 1 and any(len({of_pin.get(pin) for pin in group}) > 1 for group in part.groups)


def _lit(part: Part) -> list[tuple[int, ...]]:
    return [group for group in part.groups if any(part.roles[pin] in ("anode", "cathode") for pin in group)]


def _names(part: Part, ports: Sequence[str], body: PortStructure, order: str) -> Iterator[str]:
    both = {pin for group in body.groups if body.is_bidirectional(group) for pin in group}
    for index, port in enumerate(ports):
        named, role = role_of(port, part.type), part.roles[index]
        if port.isdigit() or named not in part.kind.signs.telling or named == role or role in ("", "none"):
            continue
        if index in both and {named, role} == {"anode", "cathode"}:
            # A diode each way: either end may bear either name.
            continue
        yield f"pin {index + 1} is the {role} in {order}, but port {port} of its subcircuit is the {named}"


def _leds(part: Part, ports: Sequence[str], body: PortStructure, order: str) -> Iterator[str]:
    for group in _lit(part):
        roles = [part.roles[pin] for pin in group]
        if sorted(roles) != ["anode", "cathode"]:
            continue
        pair = (group[roles.index("anode")], group[roles.index("cathode")])
        if pair in body.leds:
            continue
        if pair[::-1] in body.leds:
            yield f"{order} has anode and cathode the other way round than the diode in its subcircuit"
        elif len(body.led_groups) >= len(_lit(part)):
            found = ", ".join(f"{ports[a]} {ports[k]}" for a, k in body.leds)
            yield f"{order} puts the LED on ports {ports[pair[0]]} {ports[pair[1]]}, its subcircuit on {found}"


def _transistors(part: Part, ports: Sequence[str], body: PortStructure, order: str) -> Iterator[str]:
    collectors = {collector for collector, _, _ in body.transistors}
    emitters = {emitter for _, _, emitter in body.transistors}
    for group in part.groups:
        at = {part.roles[pin]: pin for pin in group}
        if "collector" not in at or "emitter" not in at:
            continue
        collector, emitter = at["collector"], at["emitter"]
        if collector in emitters - collectors and emitter in collectors - emitters:
            yield f"{order} has collector and emitter the other way round than its subcircuit"


def _groups(part: Part, ports: Sequence[str], body: PortStructure, order: str) -> Iterator[str]:
    if len(body.groups) < 2:
        # A model with all pins joined (isolation resistance, shared node) says nothing of the pin order.
        return
    of_pin = {pin: number for number, group in enumerate(part.groups) for pin in group if part.roles[pin] != "none"}
    for group in body.groups:
        known = [pin for pin in group if pin in of_pin]
        apart = next((pin for pin in known if of_pin[pin] != of_pin[known[0]]), None)
        if apart is not None:
            one, other = ports[known[0]], ports[apart]
            roles = f"{part.roles[known[0]]} and {part.roles[apart]}"
            yield f"its subcircuit joins ports {one} and {other}, which {order} keeps apart as {roles}"

"""The whole part: its LEDs, their outputs, and what is sure of them.

In: a subcircuit. Out: a `StructureVerdict`. The name of the part is no argument; a series row only confirms what the
structure can't decide alone, or contradicts what it says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from isolint.measure.body import ZERO, Body, flatten
from isolint.netlist.cards import Cards
from isolint.recognition.answer import ORDINARY, Channel, StructureVerdict, none
from isolint.recognition.currents import TRANSISTOR_RATIO, with_ratio
from isolint.recognition.led_groups import LedPorts, find_leds, is_diode
from isolint.recognition.left_apart import MOST_CARDS, left_apart, may_be_apart
from isolint.recognition.makes import may_be_called, types_of
from isolint.recognition.output_types import type_of
from isolint.recognition.pinning import groups_of, pins_of
from isolint.recognition.port_group import Group, GroupOutput
from isolint.recognition.series import Hint
from isolint.recognition.shared import share_of
from isolint.recognition.signals import Graph
from isolint.recognition.typical import flow, shares, typical
from isolint.recognition.typical_values import Typical
from isolint.recognition.without_led import without_led

LEAST_PORTS = 4
_CROSSING = frozenset("EGFHBSWKTOAU")
UNDEFINED = "?"
"""Stands for a call of what nothing defines."""

STRONG_RATIO = 8.0
"""A ratio above which a single transistor is asked about: darlingtons are modelled as one."""


def judge_body(cards: Cards, scope: int, ask: Callable[[], Hint | None]) -> StructureVerdict:
    """What the structure of one subcircuit says it is, held against the hint that `ask` gives."""
    ports = cards.scopes[scope].ports
    if len({port.lower() for port in ports}) < LEAST_PORTS:
        return none("it has fewer than four ports")
    letters = _letters_inside(cards, scope)
    crosses = not _CROSSING.isdisjoint(letters)
    if not crosses and (len(cards.scopes[scope]) > MOST_CARDS or not may_be_apart(letters, ask)):
        return none("nothing in it carries a signal from one side to another")
    body = flatten(cards, scope)
    if body is None:
        return none("its body can't be read, or holds too much")
    graph = Graph(body)
    if not crosses:
        return left_apart(graph, ask)
    verdict = _judge(graph, ask)
    return none("its signals go too many ways") if graph.exhausted else _against(verdict, ask)


def _letters_inside(cards: Cards, scope: int) -> frozenset[str]:
    """The letters of a body's cards and of those of what it calls; of what can't be read that of an unknown part."""
    seen = {scope}
    waiting = [scope]
    found: set[str] = set()
    for at in waiting:  # grows while it is walked
        body = cards.scopes[at]
        found.update(body.letters)
        if body.unreadable:
            found.add("U")
        if not _CROSSING.isdisjoint(found):
            break
        for letter, name in zip(body.letters, body.models, strict=True):
            if letter != "X":
                continue
            called = cards.find_subcircuit(name, at) if name is not None else None
            if called is None:
                found.add(UNDEFINED)
            elif called not in seen:
                seen.add(called)
                waiting.append(called)
    return frozenset(found)


def draw_signals(cards: Cards, scope: int) -> str:
    """The signal graph of a subcircuit as text."""
    body = flatten(cards, scope)
    return "(unreadable)" if body is None else dump_graph(Graph(body))


def dump_graph(graph: Graph) -> str:
    """One line a component, in the order of its first device: ports, devices, the components that it drives."""
    number = {component: at for at, component in enumerate(graph.members, start=1)}
    for component in graph.group_components:
        number.setdefault(component, len(number) + 1)
    lines = []
    for component, at in number.items():
        ports = " ".join(graph.body.names[port] for port in graph.ports(component))
        devices = " ".join(device.name for device in graph.devices(component))
        driven = dict.fromkeys(
            other
            for following in graph.edges.get(component, ())
            for other in (graph.edges.get(following, ()) if following < 0 else (following,))
        )
        signals = " ".join(str(number[other]) for other in driven if other != component and other in number)
        what = f"group {at} ({ports})" if ports else f"inner {at}"
        lines.append(f"{what}: {devices}" + (f" -> {signals}" if signals else ""))
    return "\n".join(lines)


def _judge(graph: Graph, ask: Callable[[], Hint | None]) -> StructureVerdict:
    if len(graph.groups) < 2:
        return none("it joins all its ports")
    leds = find_leds(graph)
    taken = {led.component for led in leds}
    found: list[tuple[LedPorts, list[Group]]] = []
    alone = _lone_ports(graph, taken)
    for led in leds:
        reached = [component for component in led.reach.groups if component not in taken]
        groups = [_group(graph, led, component, alone) for component in _merged(graph, reached)]
        if groups:
            found.append((led, groups))
    if not found:
        broken = None if leds else _broken(graph)
        return broken or without_led(graph, ask)
    return _several(graph, found) if len(found) > 1 else _one(graph, *found[0])


def _lone_ports(graph: Graph, taken: set[int]) -> dict[int, list[int]]:
    """Ports that join nothing else and only control a group, by the group's component."""
    found: dict[int, list[int]] = {}
    for component in graph.group_components:
        if len(graph.ports(component)) == 1 and component not in taken and component in graph.edges:
            for group in graph.reach(component).groups:
                if group not in taken:
                    found.setdefault(group, []).append(component)
    return found


def _merged(graph: Graph, reached: Sequence[int]) -> list[int]:
    """The groups reached, without single ports that only listen beside a group that they control."""
    large = [component for component in reached if len(graph.ports(component)) > 1]
    return large or list(reached[:1])


def _group(graph: Graph, led: LedPorts, component: int, alone: dict[int, list[int]]) -> Group:
    ports = [*graph.ports(component)]
    for lone in alone.get(component, ()):
        ports += graph.ports(lone)
    return Group(graph, led, component, tuple(sorted(set(ports))), graph.devices(component))


# -- one LED ---------------------------------------------------------------------------------------------------------


def _one(graph: Graph, led: LedPorts, groups: list[Group]) -> StructureVerdict:
    outputs = [type_of(group) for group in groups]
    if len(groups) == 2 and all(output.light and len(output.light) == 1 for output in outputs):
        return _linear(graph, led, groups, outputs)
    if len(groups) > 1:
        kinds = tuple(dict.fromkeys(kind for output in outputs for kind in (output.choices or (output.type,))))
        kinds = tuple(dict.fromkeys((*kinds, *types_of("two currents"))))
        pins = pins_of(graph, [led], [{}])
        return _asked(
            graph, led, kinds, pins, [group.ports for group in groups], "its LED drives several outputs"
        )._replace(doubtful=tuple(port for group in groups for port in group.ports))
    group, output = groups[0], outputs[0]
    pins = pins_of(graph, [led], [output.pins])
    known, share = _measured(graph, led, output)
    channels = ((_sorted(led), group.ports),)
    if not output.known and not _may_be_unknown(led, group):
        return none("what its diode drives is no output of a coupler")
    output = with_ratio(group, output, share)
    why = output.why
    if output.make == "lit transistor" and len(output.light) == 2 and max(share, default=0.0) > STRONG_RATIO:
        output = output._replace(make="strong lit transistor")
        why = f"one transistor, and a ratio of {max(share) * 100:.0f} %"
    choices = output.choices
    if not output.known:
        choices = tuple(dict.fromkeys((*_likeliest(group), *choices)))
    doubtful = tuple(port for port in output.doubtful if pins[port] != "nc")
    if not led.is_sure:
        choices = (*(choices or (output.type,)), ORDINARY)
        why = why or _doubt(led)
    verdict = StructureVerdict(
        "asked" if choices or doubtful else "answered",
        output.type if output.known or not choices else choices[0],
        choices or ((output.type,) if doubtful else ()),
        pins,
        groups_of(graph, [led], [group.ports], pins),
        channels,
        doubtful,
        led.sensing,
        led.both_ways,
        known,
        why or ("pins can't be told" if doubtful else ""),
        output.make,
    )
    return _complete(verdict)


def _likeliest(group: Group) -> tuple[str, ...]:
    """The types that an output of no known make is first of all: with supply and ground beside it a stage, with diodes
    that the light pumps in a row a photovoltaic one."""
    if len(group.ports) > 2:
        return types_of("controlled voltage")
    pumped = [device for device in group.devices if device.is_current_source and group.lit(device)]
    diodes = [set(device.nets) for device in group.devices if is_diode(device)]
    return types_of("pumped stack") if sum(set(device.nets) in diodes for device in pumped) > 1 else ()


def _may_be_unknown(led: LedPorts, group: Group) -> bool:
    """Whether an output of no known make is asked about: a diode like an LED, and light that is a current, or that
    reaches a stage of its own with supply, ground and output, or makes a current there."""
    if not led.like or _is_held(group):
        return False
    lit = len(group.ports) > 2 or any(device.is_current_source and group.lit(device) for device in group.devices)
    return led.sensing == "current" or (led.sensing == "voltage" and lit)


def _is_held(group: Group) -> bool:
    """Whether node 0 holds the output's potential, as where a voltage stands for brightness or heat; a stage with
    supply and ground of its own has a potential of its own, whatever node its inner source is written against."""
    return len(group.ports) < 3 and any(
        ZERO in device.pins[:2] and (device.letter in "RVL" or device.is_voltage_source) for device in group.devices
    )


def _measured(graph: Graph, led: LedPorts, output: GroupOutput) -> tuple[Typical, tuple[float, ...]]:
    """Typical values, and the light's shares; nothing of an LED with two directions, or one that may be none."""
    if led.both_ways or led.sensing == "weak":
        return Typical(), ()
    return typical(graph, led, output.light, output.pins), shares(graph, led, output.light)


def _doubt(led: LedPorts) -> str:
    """Why an LED may be none."""
    return "transistors stand before its diode" if led.regulated else "only the voltage of its input is sensed"


def _sorted(led: LedPorts) -> tuple[int, ...]:
    return tuple(sorted(led.ports))


def _complete(verdict: StructureVerdict) -> StructureVerdict:
    """Answered only if every pin is named."""
    missing = tuple(port for port, pin in enumerate(verdict.pins) if not pin)
    if missing and verdict.answer == "answered":
        return verdict._replace(
            answer="asked", choices=(verdict.type,), doubtful=missing, why="some pins can't be told from the structure"
        )
    if missing and verdict.answer == "asked":
        return verdict._replace(doubtful=tuple(sorted({*verdict.doubtful, *missing})))
    return verdict


def _asked(
    graph: Graph,
    led: LedPorts,
    kinds: tuple[str, ...],
    pins: tuple[str, ...],
    outputs: Sequence[tuple[int, ...]],
    why: str,
) -> StructureVerdict:
    return StructureVerdict(
        "asked",
        kinds[0],
        kinds,
        pins,
        groups_of(graph, [led], outputs, pins),
        tuple((_sorted(led), ports) for ports in outputs),
        sensing=led.sensing,
        bidirectional=led.both_ways,
        why=why,
    )


def _linear(graph: Graph, led: LedPorts, groups: list[Group], outputs: list[GroupOutput]) -> StructureVerdict:
    """Two photodiodes on one LED; the first is that of the lower port."""
    named: dict[int, str] = {}
    order = sorted(zip(groups, outputs, strict=True), key=lambda item: item[0].ports)
    for number, (group, output) in enumerate(order, start=1):
        enters, leaves = flow(graph, led, output.light[0])
        ends = {group.at(enters): f"pdk{number}", group.at(leaves): f"pda{number}"}
        if -1 not in ends:
            named |= ends
    pins = pins_of(graph, [led], [named])
    ports = [group.ports for group, _ in order]
    known = typical(graph, led, (), {})
    verdict = _asked(graph, led, types_of("two currents"), pins, ports, "")
    if any(max(shares(graph, led, output.light), default=0.0) >= TRANSISTOR_RATIO[0] for output in outputs):
        kinds = (*types_of("current of a transistor's ratio"), *verdict.choices)
        return _complete(verdict._replace(type=kinds[0], choices=kinds, why="its LED drives two currents like its own"))
    verdict = verdict._replace(answer="answered", choices=(), typical=known)
    if not led.is_sure:
        verdict = verdict._replace(answer="asked", choices=(verdict.type, ORDINARY), why=_doubt(led))
    return _complete(verdict)


# -- several LEDs ----------------------------------------------------------------------------------------------------


def _several(graph: Graph, found: list[tuple[LedPorts, list[Group]]]) -> StructureVerdict:
    """Each LED with its own output of one type is a dual or quad part; anything else is asked about."""
    leds = [led for led, _ in found]
    outputs = [[type_of(group) for group in groups] for _, groups in found]
    firsts = [
        with_ratio(groups[0], each[0], shares(graph, led, each[0].light))
        for (led, groups), each in zip(found, outputs, strict=True)
    ]
    strong = [led.sensing == "current" and led.like for led in leds]
    kinds = tuple(dict.fromkeys(kind for output in firsts for kind in (output.choices or (output.type,)) if kind))
    ports = [groups[0].ports for _, groups in found]
    paired = all(len(groups) == 1 for _, groups in found) and len(set(ports)) == len(ports)
    if not all(output.known for output in firsts) and not all(strong):
        return none("what its diodes drive is no output of a coupler")
    shared = None if paired else share_of(graph, [groups for _, groups in found])
    if shared is not None:
        firsts, ports, paired, kinds = list(shared.outputs), list(shared.ports), True, (shared.outputs[0].type,)
    pins = pins_of(graph, leds, [output.pins if paired else {} for output in firsts], numbered=True)
    known, share = _measured(graph, leds[0], firsts[0])
    channels: tuple[Channel, ...] = tuple((_sorted(led), output) for led, output in zip(leds, ports, strict=True))
    doubtful = tuple(port for output in firsts for port in output.doubtful)
    weak = any(not led.is_sure for led in leds)
    sure = paired and not weak and len(kinds) == 1 and not doubtful and not any(o.choices for o in firsts)
    make = firsts[0].make if len(kinds) == 1 else None
    if make == "lit transistor" and max(share, default=0.0) > STRONG_RATIO and len(firsts[0].light) == 2:
        make, sure = "strong lit transistor", False
        kinds = types_of(make)
    why = "" if sure else "its LEDs share an output" if not paired else firsts[0].why or "its channels differ"
    if not paired:
        doubtful = tuple(sorted({port for each in ports for port in each}))
    verdict = StructureVerdict(
        "answered" if sure else "asked",
        kinds[0] if kinds else "",
        () if sure else (*kinds, ORDINARY) if weak else kinds,
        pins,
        groups_of(graph, leds, [groups[0].ports for _, groups in found], pins),
        channels if paired else (),
        doubtful,
        "weak" if weak else "current" if all(led.sensing == "current" for led in leds) else "voltage",
        any(led.both_ways for led in leds),
        known,
        why,
        make,
    )
    return _complete(verdict)


# -- broken models and series ----------------------------------------------------------------------------------------


def _broken(graph: Graph) -> StructureVerdict | None:
    """A diode of one port whose current is sensed, and a port that no element touches."""
    body: Body = graph.body
    free = [port for port in range(len(body.ports)) if not _touched(graph, port)]
    if not free:
        return None
    for component in graph.group_components:
        ports = graph.ports(component)
        if len(ports) != 1 or not any(map(is_diode, graph.devices(component))):
            continue
        own = {device.number for device in graph.devices(component)}
        heard = [
            body.devices[index]
            for index in graph.listeners.get(component, ())
            if component not in graph.outputs(body.devices[index])
        ]
        if not any(sensed in own for device in heard for sensed in device.senses):
            continue
        reached = [at for at in graph.reach(component).groups if len(graph.ports(at)) > 1]
        if not reached:
            continue
        lone = free[0]
        led = LedPorts((ports[0], lone), component, False, True, "current", graph.reach(component), None, (), False)
        group = _group(graph, led, reached[0], {})
        output = type_of(group)
        pins = pins_of(graph, [led], [output.pins])
        name = body.names[lone]
        why = f"the model leaves port {name} unjoined, where the LED's other end would be"
        kinds = output.choices or ((output.type,) if output.type else ())
        verdict = _asked(graph, led, kinds, pins, [group.ports], why)
        return verdict._replace(doubtful=tuple(sorted({lone, *output.doubtful})))
    return None


def _touched(graph: Graph, port: int) -> bool:
    net = graph.body.ports[port]
    return bool(graph.touching(net)) or any(net in device.pins for device in graph.body.devices)


def _against(verdict: StructureVerdict, ask: Callable[[], Hint | None]) -> StructureVerdict:
    """A series row that names another type than the structure: both are asked about."""
    hint = None if verdict.answer == "none" else ask()
    if hint is None:
        return verdict
    if verdict.choices == (verdict.type, ORDINARY) and not verdict.doubtful and hint.type in ("", verdict.type):
        # The one doubt that is left, whether it is such a part at all, a name may settle.
        return verdict._replace(answer="answered", choices=(), why="")
    if not hint.type:
        return verdict
    if hint.type != verdict.type and verdict.make is not None and may_be_called(verdict.make, hint.type):
        return verdict._replace(type=hint.type)
    if verdict.is_answered and hint.type != verdict.type:
        why = f"its structure is that of a {verdict.type}, its type number that of a {hint.type}"
        return verdict._replace(answer="asked", choices=(verdict.type, hint.type), why=why)
    if verdict.is_answered and hint.bidirectional and not verdict.bidirectional:
        why = "its model has one diode, its type number is one for alternating current"
        led = tuple(sorted(port for inputs, _ in verdict.channels for port in inputs))
        return verdict._replace(answer="asked", choices=(verdict.type,), doubtful=led, why=why)
    if verdict.is_asked and hint.type in verdict.choices:
        rest = tuple(kind for kind in verdict.choices if kind != hint.type)
        return verdict._replace(type=hint.type, choices=(hint.type, *rest))
    return verdict

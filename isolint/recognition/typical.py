"""What a model gives at a few LED currents: forward voltage, transfer ratio, and the share that its light has.

In: a signal graph, an LED and what the output is made of. Out: typical values of the model at its operating point,
never limits; none where that can't be computed or is no value of a coupler.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.measure.bench import Heard
from isolint.measure.body import ZERO, Device
from isolint.measure.make import Unmeasurable
from isolint.measure.sheet_values import ChannelNets, forward_voltages, ratios
from isolint.recognition.led_groups import LED_LIKE, LedPorts
from isolint.recognition.signals import Graph
from isolint.recognition.typical_values import VOLTAGE_CURRENT, Typical

CURRENTS = (1e-3, 5e-3, 10e-3)
_GAIN = 100.0
"""Current gain of a transistor whose model states none."""

_MAX_INNER_OHMS = 50.0
_FLOW_CURRENT = 5e-3


def typical(graph: Graph, led: LedPorts, light: Sequence[Device], output: Mapping[int, str]) -> Typical:
    """Forward voltage and ratios of an LED whose light `light[0]` turns into a current. output: pins by port."""
    ports = graph.body.ports
    anode, cathode = (ports[port] for port in led.ports)
    nets = {pin: ports[port] for port, pin in output.items()}
    pins = ChannelNets(
        anode,
        cathode,
        nets.get("collector"),
        nets.get("emitter"),
        tuple(net for pin, net in nets.items() if pin == "vcc"),
    )
    forward = None
    if _is_bare(led):
        try:
            ((_, forward),) = forward_voltages(graph.body, pins, (VOLTAGE_CURRENT,))
        except Unmeasurable:
            forward = None
        if forward is not None and not LED_LIKE[0] <= forward <= LED_LIKE[1]:
            forward = (
                None  # what lies across the diode takes the current: a mistake of the model's, not an LED's voltage
            )
    if not light or pins.collector is None or pins.emitter is None:
        return Typical(forward)
    try:
        found = ratios(graph.body, pins, CURRENTS)
    except Unmeasurable:
        return Typical(forward)
    return Typical(forward, found if all(1e-6 < ratio < 1e4 for _, ratio in found) else ())


def _is_bare(led: LedPorts) -> bool:
    """Whether no resistor of a size that is no LED's own lies in its way."""
    if led.drop is None:
        return False
    inner = sum(device.value or 0.0 for device, _ in led.way if device.letter == "R")
    inner += sum(device.series * device.parameters.get("rs", 0.0) for device, _ in led.way if device.letter == "D")
    return inner <= _MAX_INNER_OHMS


def shares(graph: Graph, led: LedPorts, light: Sequence[Device]) -> tuple[float, ...]:
    """The light's current over the LED's, times the gains behind it, at the usual currents; () where it has no value.

    Unlike the ratio it leaves out what lessens the gain of this one model: it tells one transistor from two.
    """
    if not light:
        return ()
    gain = 1.0
    for transistor in light[1:]:
        gain *= transistor.parameters.get("bf", _GAIN) + 1.0
    found: list[float] = []
    for current in CURRENTS:
        value = lit(graph, led, light[0], current)
        if value is None:
            return ()
        found.append(abs(value) / current * gain)
    return tuple(found)


def flow(graph: Graph, led: LedPorts, source: Device) -> tuple[int, int]:
    """(the net where a lit current enters a source, where it leaves), by its sign where that can be computed."""
    value = lit(graph, led, source, _FLOW_CURRENT)
    first, second = source.pins[:2]
    return (second, first) if value is not None and value < 0.0 else (first, second)


def lit(
    graph: Graph, led: LedPorts, source: Device, current: float, held: Mapping[int, float] | None = None
) -> float | None:
    """What a source gives while the LED carries a current, without its effect; None where it has no value.

    held: voltages of nets of the output. A source that listens to an output that is not held has no value.
    """
    known = held or {}
    for net in (net for pair in source.pairs for net in pair if net not in known and net != ZERO):
        component = graph.component(net)
        if component != led.component and graph.ports(component):
            return None
    anode, cathode = (graph.body.ports[port] for port in led.ports)
    try:
        return Heard(graph.body, source, {cathode: 0.0}, {anode: current}, known).value()
    except Unmeasurable:
        return None

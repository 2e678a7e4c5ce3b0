"""The resistor to change, and the preferred value at which a fault is cured.

In: a context, a channel, and what must hold. Out: elements and ohms, None where no single resistor is the cure.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim
from isolint.checking.context import Context
from isolint.interfaces.entities import Channel
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.drive import Drive
from isolint.worstcase.load import Load
from isolint.worstcase.uncertain import WORST, Lacking, Setting

LEAST_OHMS: Final = 1.0
"""A resistor below this is a link; the search for a value that cures starts here."""

_SEARCH_SPAN = 1e3
_STRIDE = 4


def limiting_resistor(context: Context, channel: Channel, drive: Drive) -> int | None:
    """The resistor of the drive network that drops most voltage in series with the LED, None without one."""
    _, point = drive.point(drive.current.high)
    current = max(abs(point.current(drive.led)), 1e-12)
    best: tuple[float, int] | None = None
    for element in channel.drive.elements:
        if context.circuit.letter(element) != "R":
            continue
        name = context.circuit.path(element)
        through = abs(point.current(name))
        drop = through * (context.lookup.ohms(element) or 0.0)
        if through > 0.5 * current and drop > 0.0 and (best is None or drop > best[0]):
            best = (drop, element)
    return None if best is None else best[1]


def change(context: Context, element: int, ohms: float) -> float:
    """By which factor a resistor would have to change, 1 or more."""
    own = max(context.lookup.ohms(element) or 0.0, LEAST_OHMS)
    return max(ohms / own, own / ohms)


def resistor_that_cures(
    context: Context, element: int, holds: Callable[[Analysis], bool], larger: bool
) -> float | None:
    """The preferred value (E24) nearest to a resistor's own at which `holds` is true; None when there is none.

    larger: whether it must grow. Every other value stays, worst case included.
    """
    own = context.lookup.ohms(element)
    if own is None or (own <= 0.0 and not larger):
        return None
    own = max(own, LEAST_OHMS)

    def good(ohms: float) -> bool:
        try:
            other = Analysis(context.lookup.resized({element: ohms}), context.interfaces, context.analysis, element)
            return holds(other)
        except (Lacking, OverBudget):
            # Where it is too much work the fault is told without the value that cures it.
            return False

    ends = (own * 1.001, own * _SEARCH_SPAN) if larger else (own / _SEARCH_SPAN, own / 1.001)
    values = preferred.series(*ends)
    if not larger:
        values.reverse()
    # What holds may be a window (a source or LED bears no more): short strides first, then back by halves.
    bad, fine = -1, 0
    while fine < len(values) and not good(values[fine]):
        stride = _STRIDE if fine < 4 * _STRIDE else 2 * _STRIDE
        bad, fine = fine, fine + stride
    if fine >= len(values):
        return None
    while fine - bad > 1:
        middle = (bad + fine) // 2
        if good(values[middle]):
            fine = middle
        else:
            bad = middle
    return values[fine]


def resistor_cure(
    context: Context,
    element: int | None,
    claim: Callable[[Setting, Analysis], Claim],
    larger: bool,
    otherwise: str = "",
) -> str:
    """The resistor with the value from which on a claim holds; `otherwise` where there is no such value."""
    if element is None:
        return otherwise
    ohms = resistor_that_cures(context, element, lambda other: claim(WORST, other).holds, larger)
    if ohms is None:
        return otherwise
    return f"{context.named(element)}: {show(ohms, 'ohm')} or {'more' if larger else 'less'}"


def output_resistor(context: Context, channel: Channel) -> int | None:
    """The smallest resistor at an output's collector or emitter, None without one."""
    ends = {channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins}
    found = [
        (context.lookup.ohms(element) or 0.0, element)
        for element in channel.load.elements
        if context.circuit.letter(element) == "R"
    ]
    near = [(ohms, element) for ohms, element in found if ohms > 0.0 and ends & set(context.circuit.pins(element))]
    return min(near)[1] if near else None


def pull_resistor(context: Context, channel: Channel, net: int) -> int | None:
    """The smallest resistor between a net and a supply, None without one."""
    found: list[tuple[float, int]] = []
    for element in channel.load.elements:
        nets = context.circuit.pins(element)
        if context.circuit.letter(element) == "R" and net in nets:
            held = [context.lookup.walker.held(other) for other in nets if other != net]
            if any(item is not None and item.kind in ("supply", "line") for item in held):
                found.append((context.lookup.ohms(element) or 0.0, element))
    return min(found)[1] if found else None


def load_resistor(context: Context, channel: Channel, load: Load) -> int | None:
    """The resistor of the load network that takes most of the output current, None without one."""
    best: tuple[float, int] | None = None
    for element in channel.load.elements:
        ohms = context.lookup.ohms(element) if context.circuit.letter(element) == "R" else None
        if ohms is None or ohms <= 0.0:
            continue
        near = sum(
            net in (channel.pins.get("collector"), channel.pins.get("emitter"), load.receiver.net)
            for net in context.circuit.pins(element)
        )
        key = near / ohms
        if near and (best is None or key > best[0]):
            best = (key, element)
    return None if best is None else best[1]


def bears(context: Context, channel: Channel, analysis: Analysis) -> bool:
    """Whether LED and sources bear the largest LED current, with the headroom that is wanted."""
    drive = analysis.drive(channel)
    led = analysis.led(channel.part)
    within = all(
        row.high.value <= led.limit(row.temperature, WORST.low(led.forward_current_max)) for row in drive.by_temperature
    )
    wanted = context.lookup.drive_headroom()
    ports = all(
        port.model.limit is None or port.current.high.value * wanted <= port.model.limit for port in drive.ports
    )
    return within and ports


def suffices(context: Context, channel: Channel, analysis: Analysis) -> bool:
    """Whether the LED current is enough for the load, or for what the record asks, as far as that is known."""
    record = channel.part.record
    wanted = (None if record is None else record.switching_current) or 0.0
    if analysis.drive(channel).current.low.value < wanted:
        return False
    try:
        return analysis.transfer(channel).worst.margin >= context.lookup.transfer_margin()
    except Lacking as reason:
        return channel.part.kind.output.conducts != "transistor" or "curve" not in reason.reason

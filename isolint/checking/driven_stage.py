"""The transistor that an output drives as a switch: what lies behind its two ends, and whether it lies the right way.

In: a context, a channel. Out: its stages. Only direct current tells which end of a transistor is the higher one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.switched import Switched, across, alternates, between, path_voltage
from isolint.checking.switched_walk import Path
from isolint.interfaces.entities import Channel
from isolint.worstcase.coils import device_of
from isolint.worstcase.devices import Bipolar, Mos
from isolint.worstcase.uncertain import WORST

LEAST_VOLTS = 0.5
"""The wrong end lies that much higher at least: more than what a current drops over a return."""
DIODE_OHMS = 1e9
_ENDS = {"Q": ("collector", "emitter"), "M": ("drain", "source")}


class Stage(NamedTuple):
    """A transistor with what lies behind its collector or drain, and behind its emitter or source.

    names: what these two ends are called.
    """

    element: int
    names: tuple[str, str]
    found: Switched


def stages(context: Context, channel: Channel) -> Iterator[Stage]:
    """The transistors at whose base or gate an output lies, each with its two ends on two nets."""
    for element in driven_transistors(context, channel):
        found = between(context, channel, _ends(context.circuit.pins(element)), element)
        yield Stage(element, _ENDS[context.circuit.letter(element)], found)


def driven_transistors(context: Context, channel: Channel) -> list[int]:
    """The cards of these transistors."""
    circuit, inner = context.circuit, set(channel.load.inner)
    return [
        element
        for element in channel.load.elements
        if circuit.letter(element) in _ENDS and circuit.pins(element)[1] in inner and _has_ends(circuit.pins(element))
    ]


def lighting_transistors(context: Context, channel: Channel) -> list[Stage]:
    """The bipolar transistors in the drive of an LED: what a field-effect one conducts is solved, either way round."""
    circuit = context.circuit
    found = [e for e in channel.drive.elements if circuit.letter(e) == "Q" and _has_ends(circuit.pins(e))]
    return [Stage(e, _ENDS["Q"], between(context, channel, _ends(circuit.pins(e)), e)) for e in found]


def _has_ends(pins: Sequence[int]) -> bool:
    """Whether the ends of a transistor lie on two nets, and the base of neither: it is no diode then."""
    return len({*pins[:3]}) == 3


def _ends(pins: Sequence[int]) -> tuple[int, int]:
    return pins[0], pins[2]


def lonely_end(context: Context, stage: Stage) -> int | None:
    """Which end, 0 or 1, leads nowhere: no other card is on its net, and nobody states what is there."""
    for end, net in enumerate(stage.found.ends):
        alone = all(element == stage.element for element, _ in context.circuit.elements_at(net))
        stated = context.lookup.walker.held(net) is not None or context.lookup.input(net) is not None
        if alone and not stated and net not in stage.found.loads:
            return end
    return None


def is_unfed(context: Context, stage: Stage) -> bool:
    """Whether everything behind both ends is known and no voltage lies between them."""
    found = stage.found
    if found.unknown or found.loads or not all(found.ways) or across(context, found, WORST) is not None:
        return False
    return not any(_is_loose(context, found, net) for reached in found.reached for net in reached)


def _is_loose(context: Context, found: Switched, net: int) -> bool:
    """Whether a net behind an end may well be fed from off this netlist: nothing else lies on it."""
    if net in found.ends or context.lookup.walker.held(net) is not None:
        return False
    return len({element for element, _ in context.circuit.elements_at(net)}) < 2


def volts_backwards(context: Context, stage: Stage) -> float | None:
    """By how many volts the end that must be the lower one lies higher at rest; None where it does not, or none tells.

    An end rests between the voltages behind it, each weighed by its conductance. Of two transistors back to back one
    lies backwards on purpose: what is reached over another one tells nothing.
    """
    device = device_of(context.circuit, stage.element)
    if not isinstance(device, (Bipolar, Mos)) or not all(stage.found.ways):
        return None
    if context.circuit.model(stage.element) is None:
        # Whether it is n or p nobody says.
        return None
    if any(_tells_nothing(context, way) for side in stage.found.ways for way in side):
        return None
    first, second = (_rests_at(context, side) for side in stage.found.ways)
    apart = (second - first) * device.polarity
    return apart if apart > LEAST_VOLTS else None


def _tells_nothing(context: Context, way: Path) -> bool:
    held = None if way.net < 0 else context.lookup.walker.held(way.net)
    moves = held is not None and held.kind not in ("supply", "ground")
    return moves or alternates(context, way) or any(context.circuit.letter(e) in "QMJ" for e in way.elements)


def _rests_at(context: Context, side: Sequence[Path]) -> float:
    weights = [1.0 / (1.0 + sum(_ohms(context, element) for element in way.elements)) for way in side]
    volts = [path_voltage(context, way)[0].nominal for way in side]
    return sum(weight * volt for weight, volt in zip(weights, volts, strict=True)) / sum(weights)


def _ohms(context: Context, element: int) -> float:
    """A diode carries nothing where anything else leads on: which way it conducts is not asked."""
    letter = context.circuit.letter(element)
    return DIODE_OHMS if letter == "D" else (context.lookup.ohms(element) or 0.0) if letter == "R" else 0.0

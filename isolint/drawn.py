"""A channel as it is drawn: its networks with what each net and element carries, as frozen values. SI numbers."""

from __future__ import annotations

from typing import NamedTuple

from isolint.errors import Place


class NetLevel(NamedTuple):
    """A net of a drawn network with its voltage, None where it was not solved."""

    name: str
    volts: float | None


class DrawnElement(NamedTuple):
    """An element of a drawn network: its letter (`led` and `output` for the ends of a coupler), value or model, the
    nets at its pins, and its current, None where it was not solved."""

    name: str
    letter: str
    what: str
    nets: tuple[str, ...]
    amps: float | None = None


class NetworkSheet(NamedTuple):
    """A drive or load network to be drawn. corner: at which its voltages and currents were solved. why: it was not."""

    nets: tuple[NetLevel, ...]
    elements: tuple[DrawnElement, ...]
    corner: str = ""
    why: str = ""


class ChannelSheet(NamedTuple):
    """One channel to be drawn. currents: of its LED, least, nominal, most, empty where they are not known."""

    subject: str
    type: str
    model: str
    place: Place
    drive: NetworkSheet
    load: NetworkSheet
    currents: tuple[float, ...] = ()

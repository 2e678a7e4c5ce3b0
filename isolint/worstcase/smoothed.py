"""What the capacitors of an alternating drive do to its LED's current.

In: the drive of a channel analysed at the crest, and the source that makes it alternate. Out: the drive with the ends
of the LED current as they are: held up by a storage capacitor behind a rectifier, fed by a capacitor that drops the
voltage, or with what is not judged named. A capacitor whose time constant is below a fiftieth of the period does
nothing.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Literal, NamedTuple

from isolint.interfaces.entities import Channel
from isolint.worstcase import dropper, storage
from isolint.worstcase import network as n
from isolint.worstcase.alternating import Stored, dropping_capacitors
from isolint.worstcase.devices import Diode, from_model
from isolint.worstcase.drive import AtTemperature, Drive, DriveAnalyser
from isolint.worstcase.halves import Halves
from isolint.worstcase.network_build import MOST_ZENER_VOLTS
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, Quantity, highest, lowest
from isolint.worstcase.uncertain import Lacking, Term, stated, unique
from isolint.worstcase.waves import SMOOTHING, Source, both_halves, source_of

_NO_MIDDLE = 1e-3
_ENOUGH = 50.0
# Times the load: a source that gives so much at the crest charges the capacitor to there.

_RIGHT_ANGLE = 2.0**0.5
_TEST_OHMS = 1e6
_FED_HALVINGS = 24
_FED_RISE = 1.3
_FED_RISES = 24
"""From 1/500 of the crest in steps in which no diode's current overflows."""
_RIPPLE = 0.2
# Of its volts; with more than that the mean current of a load is not that at its mean volts.

_NO_VOLTS = 1e-9

Place = Literal["stores", "shunts"]


class _Corner(NamedTuple):
    """One end of the LED current with the volts of the storage capacitor there, `flows`: what charges and leaves it."""

    bound: Bound
    volts: float
    halves: bool
    plates: tuple[int, int]
    flows: tuple[float, float, float]


def with_capacitors(drives: DriveAnalyser, channel: Channel, drive: Drive) -> Drive:
    """The drive with what its capacitors do; direct current stays as it is."""
    circuit = drives.circuit
    if not any(circuit.letter(element) == "C" for element in channel.drive.elements):
        return drive
    try:
        source = source_of(drives.lookup, channel, drive)
        if source is None:
            return drive
        dropping = dropping_capacitors(drives.lookup, channel.drive)
        places = _places(drives, channel, source, dropping)
    except Lacking:
        # Several sources, or a frequency that nobody states: whoever asks for the period says so.
        return drive
    if not dropping and not places:
        return drive
    try:
        if dropping:
            return _fed(drives, channel, drive, source, dropping, places)
        return _stored(drives, channel, drive, source, places)
    except Lacking as reason:
        names = ", ".join(circuit.path(element) for element in (*dropping, *places))
        text = reason.reason if any(circuit.path(each) in reason.reason for each in (*dropping, *places)) else (
            f"capacitor {names} of its drive: {reason.reason}"
        )  # fmt: skip
        if dropping:
            # Its reactance counts straight; at a right angle to the resistance it lets through more.
            most = tuple(
                row._replace(high=row.high._replace(value=_RIGHT_ANGLE * row.high.value))
                for row in drive.by_temperature
            )
            drive = _renewed(drive, most)
        return drive._replace(unsure=text)


def _places(drives: DriveAnalyser, channel: Channel, source: Source, dropping: Mapping[int, float]) -> dict[int, Place]:
    """The capacitors that matter and drop nothing: whether each lies behind what rectifies, or across the drive."""
    circuit, lookup, walked = drives.circuit, drives.lookup, channel.drive
    ohms = sum(lookup.ohms(element) or 0.0 for element in walked.elements if circuit.letter(element) == "R")
    smooth = _alternating(drives, channel, source, dropping)
    found: dict[int, Place] = {}
    for element in walked.elements:
        plates = circuit.pins(element)[:2]
        if circuit.letter(element) != "C" or element in dropping:
            continue
        if all(lookup.walker.held(net) is not None for net in plates):
            continue
        farads = circuit.value(element)
        if farads is not None and source.hertz is not None and farads * ohms * source.hertz < SMOOTHING:
            continue
        found[element] = "shunts" if source.shape != "sine" or smooth & set(plates) else "stores"
    return found


def _alternating(
    drives: DriveAnalyser, channel: Channel, source: Source, dropping: Mapping[int, float]
) -> frozenset[int]:
    """The nets that the source reaches through what is linear."""
    circuit, members = drives.circuit, frozenset(channel.drive.elements)
    held = {each.net for each in channel.drive.boundary if each.kind != "loose"}
    start = [source.place] if source.place >= 0 else list(circuit.pins(-1 - source.place))
    waiting, seen = deque(net for net in start if net == source.place or net not in held), set(start)
    while waiting:
        for element, _ in circuit.elements_at(waiting.popleft()):
            if element in members and (circuit.letter(element) in "RLVS" or element in dropping):
                for net in circuit.pins(element)[:2]:
                    if net not in seen and net not in held:
                        seen.add(net)
                        waiting.append(net)
    return frozenset(seen)


def _refuse(drives: DriveAnalyser, channel: Channel, places: Mapping[int, Place], clamped: bool = False) -> None:
    """What makes the volts of a storage capacitor unknown; `clamped`: a Zener diode does not."""
    circuit = drives.circuit
    for element, place in places.items():
        if place == "shunts":
            raise Lacking(
                f"capacitor {circuit.path(element)} lies across its drive; how much of the LED current that leaves is "
                "not judged"
            )
    if len(places) > 1:
        names = " and ".join(circuit.path(element) for element in places)
        raise Lacking(f"capacitors {names} both hold the LED current up between crests; how far is not judged")
    path = circuit.path(next(iter(places)))
    for element in channel.drive.elements:
        letter, model = circuit.letter(element), circuit.model(element)
        device = None if model is None else from_model(letter, model.type, circuit.model_parameters(element), {})
        clamps = isinstance(device, Diode) and device.BV is not None and device.BV <= MOST_ZENER_VOLTS and not clamped
        if letter in "QMJI" or clamps:
            raise Lacking(
                f"capacitor {path} holds the LED current up between crests, and {circuit.path(element)} bends what it "
                "gives; how far is not judged"
            )


# -- behind a rectifier -----------------------------------------------------------------------------------------------


def _stored(
    drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, places: Mapping[int, Place]
) -> Drive:
    _refuse(drives, channel, places)
    ((element, _),) = places.items()
    circuit, lookup, setting = drives.circuit, drives.lookup, drives.setting
    path, farads = circuit.path(element), circuit.value(element)
    if source.hertz is None or not farads:
        raise Lacking(f"capacitor {path} of its drive may hold the LED current up between crests")
    spread = lookup.tolerance(element)
    # A smaller one falls further and rises higher.
    least = farads * (1.0 + setting.low(spread))
    known: list[tuple[_Corner, _Corner]] = []
    kept = 0.0 if source.held_on is None else setting.low(source.held_on)
    for row in drive.by_temperature:
        low = _at_end(drives, channel, drive, source, element, row.low, least, True)
        high = _at_end(drives, channel, drive, source, element, row.high, least, False)
        if kept > 0.0:
            low = low._replace(bound=low.bound._replace(value=max(low.bound.value, kept * row.low.value)))
        known.append((low, high))
    return _with_volts(drives, channel, drive, source, element, known, spread)


def _with_volts(
    drives: DriveAnalyser,
    channel: Channel,
    drive: Drive,
    source: Source,
    element: int,
    known: list[tuple[_Corner, _Corner]],
    spread: Term,
) -> Drive:
    """The drive with its storage capacitor held at the volts that were found, temperature by temperature."""
    assert source.hertz is not None
    circuit, lookup = drives.circuit, drives.lookup
    rows = tuple(
        AtTemperature(row.temperature, low.bound, high.bound)
        for row, (low, high) in zip(drive.by_temperature, known, strict=True)
    )
    ohms = sum(lookup.ohms(each) or 0.0 for each in channel.drive.elements if circuit.letter(each) == "R")
    volts = (min(low.volts for low, _ in known), max(high.volts for _, high in known))
    repeats = 0.5 / source.hertz if all(low.halves for low, _ in known) else 1.0 / source.hertz
    top = max((high for _, high in known), key=lambda each: each.bound.value)
    made = _held(drive.assembly, circuit.path(element), volts, known[0][0].plates)
    terms = unique([*drive.terms, spread, *source.terms, made.terms[-1]])
    found = _renewed(drive, rows)._replace(
        assembly=made,
        terms=terms,
        stored=Stored(
            element,
            circuit.path(element),
            volts,
            *top.flows,
            repeats,
            ohms * (circuit.value(element) or 0.0),
        ),
    )
    most = found.current.high
    network, point = found.point(most)
    anode, cathode = next(
        (b.anode, b.cathode) for b in network.branches if isinstance(b, n.LedBranch) and b.name == drive.led
    )
    watts = most.value * (point.voltage(anode) - point.voltage(cathode))
    return found._replace(power=most._replace(value=watts))


def _at_end(
    drives: DriveAnalyser,
    channel: Channel,
    drive: Drive,
    source: Source,
    element: int,
    bound: Bound,
    farads: float,
    low: bool,
) -> _Corner:
    """The LED current at one end with the capacitor at its lowest, or at its highest volts."""
    assert source.hertz is not None
    found = both_halves(drives, channel, drive, source, bound)
    path, period = drives.circuit.path(element), 1.0 / source.hertz
    if abs(found.middle) > _NO_MIDDLE * found.crest:
        raise Lacking(f"the source of its drive does not swing around 0 V, and {path} holds the current up")
    plates, sign = _plates(found, path)

    def held(volts: float) -> n.VoltageSource:
        return n.VoltageSource(path, *plates, volts)

    known: dict[float, float] = {}

    def taken(volts: float) -> float:
        if volts not in known:
            known[volts] = max(found.point(found.middle, held(volts)).current(path), 0.0)
        return known[volts]

    def at_crest(volts: float, way: float) -> float:
        return taken(volts) - found.solved(
            found.upper if way > 0.0 else found.lower, way * found.crest, held(volts)
        ).current(path)

    def charging(volts: float) -> float:
        return at_crest(volts, sign)

    least = _strong(found, n.CurrentSource(path, *plates, _ENOUGH * taken(0.9 * found.crest)), sign)
    start = max(0.3 * found.crest, least)
    both = storage.repeats_after(charging(start), at_crest(start, -sign), period) < period
    ends = storage.bounds(found.crest, charging, taken, farads, source.hertz, both, least)
    volts = ends.low if low else ends.high
    amps = found.point(found.middle, held(volts)).current(drive.led)
    at = (*bound.at, (_name(path), volts))
    return _Corner(bound._replace(value=max(amps, 0.0), at=at), volts, both, plates, ends[2:])


def _plates(found: Halves, path: str) -> tuple[tuple[int, int], float]:
    """The nodes of a capacitor, the positive one first, and the sign of the crest that charges it more."""
    branch = found.branch(path)
    if isinstance(branch, n.Blocked):
        a, b = branch.nodes[:2]
    elif isinstance(branch, n.Resistor):
        a, b = branch.a, branch.b
    else:
        raise Lacking(f"capacitor {path} can't be held")
    volts: list[tuple[float, float]] = []
    for sign in (1.0, -1.0):
        # A load that takes more than leaks, so that only what charges it shows.
        test = n.Resistor(path, a, b, _TEST_OHMS)
        point = found.solved(found.upper if sign > 0.0 else found.lower, sign * found.crest, test)
        volts.append((point.voltage(a) - point.voltage(b), sign))
    most, sign = max(volts, key=lambda pair: abs(pair[0]))
    return ((a, b) if most >= 0.0 else (b, a)), sign


def _strong(found: Halves, sink: n.CurrentSource, sign: float) -> float:
    """Volts of the capacitor at the crest with a current taken from it; 0 where the source can't give that much."""
    try:
        point = found.solved(found.upper if sign > 0.0 else found.lower, sign * found.crest, sink)
    except Lacking:
        return 0.0
    return max(point.voltage(sink.a) - point.voltage(sink.b), 0.0)


def _name(path: str) -> str:
    return f"volts of {path}"


def _held(made: Assembly, path: str, volts: tuple[float, float], plates: tuple[int, int]) -> Assembly:
    """The network with the capacitor as a source of the volts that it holds."""
    low, high = volts
    term = stated(f'elements."{path}".volts', _name(path), "V", low, (low + high) / 2.0, high, "its ripple")
    index = len(made.terms)
    found = replace(made.without(path), terms=[*made.terms, term])
    found.add(path, lambda vector, temperature: n.VoltageSource(path, *plates, vector[index]), index)
    return found


# -- in series --------------------------------------------------------------------------------------------------------


def _fed(
    drives: DriveAnalyser,
    channel: Channel,
    drive: Drive,
    source: Source,
    dropping: Mapping[int, float],
    places: Mapping[int, Place],
) -> Drive:
    circuit = drives.circuit
    if len(dropping) > 1:
        names = ", ".join(circuit.path(element) for element in dropping)
        raise Lacking(f"several capacitors drop its voltage ({names}); what they feed is not judged")
    (element,) = dropping
    path = circuit.path(element)
    if places:
        return _fed_stored(drives, channel, drive, source, element, places)
    fed, rows = [], []
    for row in drive.by_temperature:
        lower = both_halves(drives, channel, drive, source, row.low)
        upper = both_halves(drives, channel, drive, source, row.high)
        if abs(upper.middle) > _NO_MIDDLE * upper.crest:
            raise Lacking(f"the source of its drive does not swing around 0 V, and {path} drops its voltage")
        mean, peak = dropper.low(lower, dropper.branch_of(lower, path), drive.led)
        most = dropper.high(upper, dropper.branch_of(upper, path), drive.led, row.temperature)
        fed.append(most._replace(mean_low=mean))
        rows.append(
            AtTemperature(row.temperature, row.low._replace(value=peak), row.high._replace(value=most.peak_high))
        )
    top = max(row.high.value for row in rows) / max(drive.current.high.value, _NO_VOLTS)
    return _renewed(drive, tuple(rows))._replace(
        fed=tuple(fed), power=drive.power._replace(value=drive.power.value * max(top, 1.0))
    )


def _fed_stored(
    drives: DriveAnalyser,
    channel: Channel,
    drive: Drive,
    source: Source,
    dropping: int,
    places: Mapping[int, Place],
) -> Drive:
    """A capacitor that drops the voltage feeds one that holds the LED current up: its volts are where both are alike.

    A Zener diode across it is a part of what it feeds.
    """
    _refuse(drives, channel, places, clamped=True)
    ((element, _),) = places.items()
    circuit, lookup, setting = drives.circuit, drives.lookup, drives.setting
    feeds, path, farads = circuit.path(dropping), circuit.path(element), circuit.value(element)
    if not farads:
        raise Lacking(f"capacitor {path} has no value")
    spread = lookup.tolerance(element)
    least = farads * (1.0 + setting.low(spread))
    known: list[tuple[_Corner, _Corner]] = []
    for row in drive.by_temperature:
        low, high = (
            _fed_end(drives, channel, drive, source, (feeds, path), bound, least, lowest_end)
            for bound, lowest_end in ((row.low, True), (row.high, False))
        )
        known.append((low, high))
    assert source.hertz is not None
    return _with_volts(drives, channel, drive, source, element, known, spread)


def _meeting(given: Callable[[float], float], taken: Callable[[float], float], most: float) -> float:
    """The volts up to `most` at which a capacitor takes what it is given, from below."""
    width = most * 2.0**-_FED_HALVINGS
    bottom, top = 0.0, most / _FED_RISE**_FED_RISES
    # From below: far above the volts of a Zener diode there is no point to be found, which takes long to tell.
    while top < most and given(top) > taken(top):
        bottom, top = top, min(top * _FED_RISE, most)
    while top - bottom > width:
        middle = (bottom + top) / 2.0
        if given(middle) > taken(middle):
            bottom = middle
        else:
            top = middle
    return bottom


def _fed_end(
    drives: DriveAnalyser,
    channel: Channel,
    drive: Drive,
    source: Source,
    names: tuple[str, str],
    bound: Bound,
    farads: float,
    low: bool,
) -> _Corner:
    assert source.hertz is not None
    feeds, path = names
    found = both_halves(drives, channel, drive, source, bound)
    if abs(found.middle) > _NO_MIDDLE * found.crest:
        raise Lacking(f"the source of its drive does not swing around 0 V, and {feeds} drops its voltage")
    plates, _ = _plates(found, path)
    capacitor = dropper.branch_of(found, feeds)

    def held(volts: float) -> n.VoltageSource:
        return n.VoltageSource(path, *plates, volts)

    def taken(volts: float) -> float:
        try:
            return max(found.point(found.middle, held(volts)).current(path), 0.0)
        except Lacking:
            # A Zener diode across it limits its volts, and nothing the current then.
            return math.inf

    still = found.holding(held(0.0))
    swing, _ = dropper.swing(still, capacitor, drive.led, low)
    # Each volt that it holds is a volt less each way, where that way leads through it.
    charged = [way for way in (True, False) if dropper.through(still, capacitor, path, way) > 0.5]
    share = 1.0 / (2.0 * math.pi * capacitor.ohms)

    def given(volts: float) -> float:
        return max(swing - volts * len(charged), 0.0) * share * len(charged)

    if not charged:
        raise Lacking(f"nothing that {feeds} lets through reaches {path}")
    rests = _meeting(given, taken, found.crest)
    ripple = given(rests) / (source.hertz * len(charged)) / farads
    if ripple > _RIPPLE * rests:
        raise Lacking(f"capacitor {feeds} feeds capacitor {path}, which is too small to hold the LED current up")
    # It is charged by no more than the peak, which ends where that is taken.
    most = found.crest / capacitor.ohms
    volts = rests - 2.0 * ripple if low else min(rests + ripple, _meeting(lambda _: most, taken, found.crest))
    amps = found.point(found.middle, held(volts)).current(drive.led)
    at = (*bound.at, (_name(path), volts))
    return _Corner(
        bound._replace(value=max(amps, 0.0), at=at),
        volts,
        len(charged) > 1,
        plates,
        (0.0, 0.0, 0.0),
    )


def _renewed(drive: Drive, rows: tuple[AtTemperature, ...]) -> Drive:
    """The drive with other ends of its LED's current."""
    low, high = lowest(row.low for row in rows), highest(row.high for row in rows)
    nominal = min(max(drive.current.nominal, low.value), high.value)
    return drive._replace(by_temperature=rows, current=Quantity(nominal, low, high))

"""Couplers that lie in each other's networks: which of them is always on, and what the LED of the next one asks for.

In: an analysis, a channel, an output or LED beside it. Out: whether that output always conducts; LED currents in
amperes. Each is worked out from the other channel's own drive and load.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from isolint.checking.once import once
from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel, Pair, Part
from isolint.worstcase.demands import next_led
from isolint.worstcase.load import Load
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import Lacking, Setting

if TYPE_CHECKING:
    from isolint.checking.analysis import Analysis

LONGEST = 12
"""Couplers in a row, each driving the next, that are followed."""

MOST_LED = 10e-3
LEAST_LED = 1e-9
FIRST_LED, MOST_ON = 10e-6, 1.0
STEPS = 24
"""Halvings of the logarithm of a current between both."""

JUST_BELOW = 1.0 - 1e-3
# What the circuit of an LED lets through is asked for up to what rounding leaves.


@once
def by_output(analysis: Analysis) -> dict[Pair, Channel]:
    """The channel of each output."""
    return {pair: channel for channel in analysis.interfaces.channels for pair in own_pairs(channel)}


@once
def followers(analysis: Analysis) -> dict[Pair, list[Channel]]:
    """The channels in whose drive each output lies."""
    found: dict[Pair, list[Channel]] = {}
    for channel in analysis.interfaces.channels:
        for pair in channel.drive.pairs:
            found.setdefault(pair, []).append(channel)
    return found


def next_channel(analysis: Analysis, channel: Channel, part: Part) -> Channel | None:
    """The channel of `part` whose LED the output of `channel` moves."""
    for pair in own_pairs(channel):
        for other in followers(analysis).get(pair, ()):
            if other.part.element == part.element:
                return other
    return None


def always_on(analysis: Analysis, channel: Channel, pair: Pair) -> bool:
    """Whether an output beside that of a channel conducts in every state in which the channel's own LED is driven.

    Its LED is lit by supplies of the same side and nothing switches it, while something does switch the channel's. An
    LED that is lit from another side, or by alternating current, tells whether that is there.
    """
    other = by_output(analysis).get(pair)
    return other is not None and lit_always(analysis, channel, other)


def lit_always(analysis: Analysis, channel: Channel, other: Channel) -> bool:
    """Whether the LED of another channel is lit in every state in which a channel's own LED is driven."""
    side_of = analysis.interfaces.separation.side_of_net
    if any("anode" not in each.pins for each in (channel, other)):
        return False
    if side_of.get(other.pins["anode"]) != side_of.get(channel.pins["anode"]):
        return False
    try:
        return _lit_alone(analysis, other) and _is_switched(analysis, channel)
    except Lacking:
        return False


@once
def _lit_alone(analysis: Analysis, channel: Channel) -> bool:
    """Whether nothing switches an LED, and it is lit."""
    drives = analysis.drives()
    return not drives.inputs(channel) and drives.led_current(channel, drives.on_state(channel)) > NO_CURRENT


@once
def _is_switched(analysis: Analysis, channel: Channel) -> bool:
    return bool(analysis.drives().inputs(channel))


def asked_of_led(analysis: Analysis, channel: Channel, part: Part, off: bool, setting: Setting) -> tuple[float, bool]:
    """What the LED of another coupler asks for, as `next_led`; where no record says it, what its own load asks for.

    Never more than the circuit around the LED lets through: whether that is enough is the question of the other one.
    """
    other = next_channel(analysis, channel, part)
    if other is None:
        return next_led(part, off)
    if off:
        try:
            return next_led(part, off)
        except Lacking:
            if part.kind.output.conducts != "transistor":
                raise
            return _most_off(analysis, other, setting), False
    most = analysis.drive(other, setting).current.low.value * JUST_BELOW
    try:
        needed, _ = next_led(part, off)
    except Lacking:
        if part.kind.output.conducts != "transistor":
            raise
        needed = _least_on(analysis, other, setting)
    return min(needed, most), False


@once
def _least_on(analysis: Analysis, channel: Channel, setting: Setting) -> float:
    """The least LED current at which the transfer margin of a channel is 1.00; infinite where none is enough."""
    load = _load(analysis, channel, setting)
    ratio, stress = analysis.ratio(channel, setting), analysis.drive(channel, setting).current.high.value

    def enough(amps: float) -> bool:
        for row in load.rows:
            try:
                given = ratio.available(amps, max(stress, amps), row.temperature, row.voltage.value).current
            except Lacking as lacking:
                if any(fact.key.endswith(".versus_current") for fact in lacking.missing):
                    return False
                raise
            if given < row.required.value:
                return False
        return True

    low, high = LEAST_LED, FIRST_LED
    while not enough(high):
        # Beyond a record's curve nothing is known, so that the way goes up and not down from the most.
        low, high = high, 2.0 * high
        if high > MOST_ON:
            return float("inf")
    for _ in range(STEPS):
        middle = (low * high) ** 0.5
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


@once
def _most_off(analysis: Analysis, channel: Channel, setting: Setting) -> float:
    """The largest LED current with which all that reads a channel still sees it off; 0 where none is small enough."""
    if channel.loop:
        raise Lacking(f"{channel.subject} feeds itself: what a latch of couplers does is not judged")

    def is_off(amps: float) -> bool:
        levels = analysis.offs(setting).levels(channel, lambda temperature: amps)
        return all(level.margin >= 1.0 for level in levels)

    if not is_off(LEAST_LED):
        return 0.0
    if is_off(MOST_LED):
        return MOST_LED
    low, high = LEAST_LED, MOST_LED
    for _ in range(STEPS):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if is_off(middle) else (low, middle)
    return low


def _load(analysis: Analysis, channel: Channel, setting: Setting) -> Load:
    if channel.loop:
        raise Lacking(f"{channel.subject} feeds itself: what a latch of couplers does is not judged")
    if _row(analysis, channel) > LONGEST:
        raise Lacking(f"more than {LONGEST} couplers drive each other in a row, more are not followed")
    return analysis.load(channel, setting)


def _row(analysis: Analysis, channel: Channel) -> int:
    """How many couplers follow a channel in a row, at most one more than are followed."""
    here, count = [channel], 0
    while here and count <= LONGEST:
        count += 1
        behind = [other for one in here for pair in own_pairs(one) for other in followers(analysis).get(pair, ())]
        here = list({other.subject: other for other in behind}.values())
    return count


def across_alike(analysis: Analysis, channel: Channel, setting: Setting) -> list[Channel]:
    """The other channels with outputs across the same nets that the same sine drives; raises `Lacking`."""
    source, ends = analysis.periodic_source(channel, setting), analysis.loads(setting).ends(channel)
    if source is None or source.shape != "sine":
        return []
    parts = {element for net in ends for element, _ in analysis.lookup.circuit.elements_at(net)}
    found = []
    for other in analysis.neighbours().of_parts(sorted(parts)):
        if other.subject == channel.subject or analysis.loads(setting).ends(other) != ends:
            continue
        same = analysis.periodic_source(other, setting)
        if same is not None and same.place == source.place:
            found.append(other)
    return found

"""Couplers that feed back to a controller: which they are, and what rules about them compare.

In: an analysis or a context, a channel, a setting. Out: `FeedbackPin`, the drive with the shunt reference fully on,
what the output gives then, what the reference gets. `Lacking` where a fact is missing.
"""

from __future__ import annotations

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.once import once
from isolint.checking.preconditions import use_of
from isolint.interfaces.entities import Channel, Shunt
from isolint.worstcase import feedback
from isolint.worstcase.drive import Drive
from isolint.worstcase.feedback import Biased, FeedbackPin
from isolint.worstcase.margin import TransferRows, transfer
from isolint.worstcase.network_build import Variant
from isolint.worstcase.quantities import Bound
from isolint.worstcase.shunts import shunt_of, unclear_shunt
from isolint.worstcase.uncertain import WORST, Setting, Term

RANGE_END = Variant(range_end=True)


def feeds_back(context: Context, channel: Channel) -> bool:
    """Whether the output of a channel feeds back to a controller."""
    return use_of(context, channel) == "feedback"


def reference(context: Context, channel: Channel) -> Shunt | None:
    """The shunt reference in the loop of a channel's LED, None without.

    `Lacking` where a part of three pins stands there of which nobody says what it is, or which pin is which.
    """
    found = shunt_of(context.lookup, channel)
    if found is not None:
        return found
    for held in channel.drive.boundary:
        lacking = unclear_shunt(context.lookup, channel, held.element) if held.kind == "part" else None
        if lacking is not None:
            raise lacking
    return None


@once
def pin(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> FeedbackPin:
    """Both ends of the range of the controller's pin; raises `Lacking`."""
    return feedback.pin_of(analysis.lookup, analysis.loads(setting), channel)


@once
def full_drive(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> Drive:
    """The drive with the reference fully on where it leaves the LED least; raises `Lacking`."""
    return analysis.drives(setting).analyse(channel, RANGE_END)


@once
def given(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> TransferRows:
    """What the output gives at most against what the far end of the range asks for; raises `Lacking`."""
    drive = full_drive(analysis, channel, setting)
    base, stress = analysis.base_theft(channel, setting), analysis.stress(channel, setting)
    far = pin(analysis, channel, setting).most
    return transfer(drive, far, analysis.ratio(channel, setting), base, stress)


@once
def dark(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> tuple[Bound, tuple[Term, ...]]:
    """Where the pin stands at worst with the LED dark; raises `Lacking`."""
    found = pin(analysis, channel, setting)
    return feedback.dark_levels(analysis.lookup, analysis.loads(setting), channel, found, setting)


@once
def biased(analysis: Analysis, channel: Channel, shunt: Shunt, ranged: bool, setting: Setting = WORST) -> Biased:
    """The least current of the reference. ranged: whether the range of the pin is known; raises `Lacking`."""
    found = pin(analysis, channel, setting) if ranged else None
    terms = analysis.led(channel.part)
    return feedback.biased(analysis.drives(setting), channel, shunt, found, terms, setting)


@once
def idle(
    analysis: Analysis, channel: Channel, shunt: Shunt, setting: Setting = WORST
) -> tuple[Bound, tuple[Term, ...]]:
    """The highest voltage across a reference that takes nothing; raises `Lacking`."""
    return feedback.idle_voltage(analysis.drives(setting), channel, shunt, setting)

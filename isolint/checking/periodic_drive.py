"""What a periodic drive does to an output: held through the period, meant to be, or on and off with it.

In: a context and a channel. Out: a `PeriodicDrive`, None for direct current. Two rules share it: one judges the level
where it is held or meant to be, the other asks what the pulses are for where it is not.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, bare
from isolint.checking.context import Context
from isolint.checking.verdict import Verdict, decide
from isolint.facts import SignalFacts
from isolint.interfaces.entities import Channel
from isolint.results import Evidence
from isolint.units import show
from isolint.worstcase.drive import Drive
from isolint.worstcase.figures import Figure
from isolint.worstcase.periodic import HeldLevel
from isolint.worstcase.uncertain import WORST, Lacking, Setting


class PeriodicDrive(NamedTuple):
    """A drive that repeats. verdict: on the level through the period. use: what its output is stated to be used for.

    smoothed: the level is held, or was meant to be: a capacitor is there that could, or it is stated as steady.
    """

    held: HeldLevel
    verdict: Verdict
    use: str
    smoothed: bool


def stated_use(context: Context, channel: Channel) -> str:
    """What the signal at an output is stated to be used for, empty where nobody states it."""
    for role in ("collector", "emitter", "output"):
        facts = context.facts.signal(context.net(channel.pins[role])) if role in channel.pins else None
        if facts is not None and facts.use is not None:
            return facts.use.value
    return ""


def held_claim(channel: Channel, required: float, setting: Setting, analysis: Analysis) -> Claim:
    """That a level is held through the whole period, with the margin that is wanted of the output current."""
    found = analysis.held(channel, setting)
    margin = Figure("m", found.worst.margin, "1", "margin", end="min", at=found.worst.led_corner)
    return bare(margin, found.terms, required)


def periodic_drive(context: Context, channel: Channel) -> PeriodicDrive | None:
    """How the periodic drive of a channel reaches its load, None for direct current; raises `Lacking`."""
    if context.analysis.periodic_source(channel) is None:
        return None
    required = context.lookup.transfer_margin()
    use, found = stated_use(context, channel), context.analysis.held(channel)
    # Where nothing is to hold the level it matters only whether it is held.
    meant = found.smooths or use == "steady"
    verdict = decide(lambda setting: held_claim(channel, required, setting if meant else WORST, context.analysis))
    smoothed = verdict.kind == "pass" or meant
    return PeriodicDrive(found, verdict, use, smoothed)


def meant_to_hold(context: Context, channel: Channel, drive: Drive) -> None:
    """Whether a storage capacitor that does not hold the LED current up was to: one of a small part of the period is
    there against noise, and then only who reads the signal knows what to expect; raises `Lacking`.
    """
    stored, use = drive.stored, stated_use(context, channel)
    if stored is None or stored.tau >= stored.repeats or use == "steady":
        return
    text = (
        f"capacitor {stored.path} holds the LED current up for {show(stored.tau, 's')} of {show(stored.repeats, 's')}"
    )
    if use == "pulses":
        raise Lacking(f"{text}; what pulses are left is not judged")
    roles = [role for role in ("collector", "emitter", "output") if role in channel.pins]
    nets = [channel.pins[role] for role in roles]
    moving = [net for net in nets if context.lookup.walker.held(net) is None]
    name = context.net((moving or nets)[0])
    raise Lacking(
        f"{text}; nobody says whether its level is to be steady",
        [context.lookup.missing(SignalFacts.use, name, '"steady"')],
    )


def rippled(drive: Drive) -> list[Evidence]:
    """The volts between which a storage capacitor moves."""
    if drive.stored is None:
        return []
    path = drive.stored.path
    low, high = drive.stored.volts
    return [
        Figure("V_low", low, "V", f"volts of {path} before it is charged again", end="min").evidence(),
        Figure("V_high", high, "V", f"volts of {path} when it is charged").evidence(),
    ]


def told(context: Context, drive: PeriodicDrive) -> str:
    """Crest, mean and what is wanted, so that the margin can be worked out again."""
    worst, source = drive.held.worst, drive.held.source
    text = (
        f"driven by {source.name} it gives {show(worst.crest, 'A')} at the crest and {show(worst.mean, 'A')} on "
        f"average over {show(source.period, 's')} ({worst.led_corner}) of the {show(worst.required, 'A')} that must "
        f"flow ({worst.required_corner})"
    )
    smoothing = drive.held.smoothing
    if smoothing is None:
        return text
    text += f"; {context.circuit.path(smoothing.element)} smooths with {show(smoothing.tau, 's')}"
    if smoothing.left_out:
        text += f", left out: {', '.join(map(context.circuit.path, smoothing.left_out))}"
    return text


def evidence(drive: PeriodicDrive) -> list[Evidence]:
    """What the margin of a periodic drive was found from."""
    worst, held = drive.held.worst, drive.held
    figures = [
        Figure("I_crest", worst.crest, "A", "output current at the crest", end="min", at=worst.led_corner),
        Figure("I_mean", worst.mean, "A", "output current, mean of the period", end="min", at=worst.led_corner),
        Figure("I_required", worst.required, "A", "output current that must flow", at=worst.required_corner),
        Figure("T_r", held.repeats, "s", "time after which the output current repeats"),
    ]
    if held.smoothing is not None:
        figures.append(Figure("tau", held.smoothing.tau, "s", "time constant of the capacitor"))
    return [figure.evidence() for figure in figures]

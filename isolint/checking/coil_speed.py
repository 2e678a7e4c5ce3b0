"""How long a relay stays pulled in after its coil has been switched off, with the clamp that takes its current.

In: an analysis, a channel, a setting. Out: seconds of the slowest relay in the channel's load, with what they are from;
None where its load holds no relay that something lets go. `Lacking` where a fact is missing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.once import once
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Coil
from isolint.results import MissingFact
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase.coils import rail_voltage
from isolint.worstcase.figures import Figure
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import COIL_TEMPERATURE, COPPER
from isolint.worstcase.release import Release, releases
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated, unique


class Released(NamedTuple):
    """seconds: from the moment when nothing drives the coil any more until the relay lets go."""

    seconds: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]


@once
def released(analysis: Analysis, channel: Channel, setting: Setting) -> Released | None:
    """The slowest relay of a channel's load."""
    parts = analysis.interfaces.recognition.parts
    relays = [pair for pair in analysis.coils() if pair[0].element in parts]
    found = [
        _released(analysis, parts[each.coil.element], each, setting)
        for each in releases(analysis.lookup, relays, channel.load)
    ]
    return max(found, key=lambda each: each.seconds, default=None)


def seconds(henries: float, ohms: float, volts: float, held: float, left: float) -> float:
    """(L / R) ln((I_0 + V_K / R) / (I_do + V_K / R)): volts of the clamp, amperes at first and where it lets go."""
    return henries / ohms * max(math.log((held + volts / ohms) / (left + volts / ohms)), 0.0)


def _released(analysis: Analysis, part: Part, release: Release, setting: Setting) -> Released:
    coil, lookup = release.coil, analysis.lookup
    own = None if part.record is None else part.record.coil
    if own is None or not coil.ohms:
        raise Lacking(f"nothing is known of the coil of {coil.path}")
    if coil.henries is None:
        text = f"how long {coil.path} takes to release depends on its inductance, which is not known"
        raise Lacking(text, coil.missing(Coil.inductance))
    drop_out = _drop_out(part, own.voltage, coil.missing(Coil.drop_out))
    nets = (coil.plus, coil.minus, *(item.far for item in coil.interrupters if item.far >= 0))
    rails = [term for term in (_rail(lookup, net) for net in nets) if term is not None]
    if len(rails) < 2:
        raise Lacking(f"the current that coil {coil.path} carries when it is switched off is not known")
    drift = COPPER if own.temperature_coefficient is None else own.temperature_coefficient
    at = COIL_TEMPERATURE if own.temperature is None else own.temperature
    spread = 0.0 if own.tolerance is None else own.tolerance.low
    # Cold copper holds more current, and for longer.
    ohms = coil.ohms * (1.0 + spread) * (1.0 + drift * (setting.low(lookup.ambient()) - at))
    ends = [(setting.low(term), setting.high(term)) for term in rails]
    held = (max(high for _, high in ends) - min(low for low, _ in ends)) / ohms
    left = setting.low(drop_out) / coil.ohms
    volts = setting.rest * release.volts.high + (1.0 - setting.rest) * release.volts.low
    took = seconds(coil.henries, ohms, volts, held, left)
    figures = (
        Figure("I_0", held, "A", f"current of {coil.path} when it is switched off"),
        Figure("I_do", left, "A", "current below which it releases", end="min", source=drop_out.origin),
        Figure("V_K", volts, "V", "voltage of its clamp", end="min", source=release.volts.origin),
        Figure("t_release", took, "s", f"(L / R) ln((I_0 + V_K / R) / (I_do + V_K / R)) of {coil.path}"),
    )
    return Released(took, figures, unique([drop_out, lookup.ambient(), *rails]))


def _rail(lookup: Lookup, net: int) -> Term | None:
    """The voltage of a supply or reference net; None of others and where nobody tells it."""
    held = lookup.walker.held(net)
    if held is None or rail_voltage(lookup, net) is None:
        return None
    if held.kind == "ground":
        return stated(f"ground {net}", "reference", "V", 0.0, 0.0, 0.0, "reference")
    return lookup.supply(net, held)


def _drop_out(part: Part, nominal: float | None, missing: list[MissingFact]) -> Term:
    """The voltage below which a relay releases: as stated, else what is usual at its nominal voltage."""
    if fact_terms.recorded(part, Coil.drop_out) is not None:
        return fact_terms.of_record(part, Coil.drop_out)
    if nominal is None:
        raise Lacking(f"the voltage at which {part.path} releases is not known", missing)
    text = "default 5 to 10 % of the nominal voltage (from memory)"
    return fact_terms.of_record(part, Coil.drop_out, least(0.05 * nominal, 0.10 * nominal, text))

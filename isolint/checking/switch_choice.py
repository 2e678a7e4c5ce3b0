"""What a relay, a solid-state relay and a phototriac with a triac would have to bear in the place of a switch.

In: a context. Out: a section of four lines for each stated load of a coupler or contact: the load, then each kind of
switch with what rules it out. It judges nothing: what a part is chosen for stands in its own rules. Numbers that no
record states are usual ones, from memory.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from typing import NamedTuple

from isolint.checking.contacts import SHARES, poles
from isolint.checking.context import Context
from isolint.checking.evidence import line
from isolint.checking.loop import exact
from isolint.checking.switched import (
    Switched,
    VoltageBetween,
    across,
    current,
    frequency,
    load_kind,
    looked_at,
    stated_load,
    switches,
)
from isolint.facts import Limits
from isolint.results import WorksheetLine, WorksheetSection
from isolint.units import show
from isolint.worstcase.uncertain import WORST, Lacking

MEMORY = "usual values, from memory"
LASTS_LOADED = 1e5
LASTS_IDLE = 1e7
"""Operations of contacts with their full load, and with none to speak of (from memory)."""

FASTEST_CONTACT = 10.0
"""Operations a second that no power relay follows for long (from memory)."""

LEAKS_LEAST = {"relay": 0.1e-3, "triac": 10e-6}
"""Amperes that any AC solid-state relay, and any triac, lets through while it is off (from memory)."""

LEAST_LOAD = (1e-3, 100e-3)
"""Between these solid-state relays ask for a load current (from memory)."""

LATCHES = (5e-3, 100e-3)
"""Between these triacs latch (from memory)."""

ON_VOLTS = 1.6
"""Volts across an AC solid-state relay while it conducts (from memory)."""

_SECONDS_OF_AN_HOUR = 3600.0


class SwitchedLoad(NamedTuple):
    """A load and how it is switched. rate: hertz, None where nobody states it. off: amperes at which it is surely off,
    None likewise. life: seconds of operation."""

    volts: VoltageBetween
    least: float
    most: float
    kind: str | None
    inrush: float | None
    off: float | None
    hertz: float | None
    rate: float | None
    uses: Container[str]
    life: float


def choice_sections(context: Context, parts: Container[str] = ()) -> Iterator[WorksheetSection]:
    """One section a switch whose load is stated with its current; with `parts` those of these only, in lower case."""
    for part, subject, found, nets in _switches(context):
        if parts and part.casefold() not in parts and subject.casefold() not in parts:
            continue
        try:
            load = _load(context, found, nets)
        except Lacking:
            continue
        if load is not None:
            stated = stated_load(context, found)
            name = "" if stated is None else stated[0]
            lines = (_told(load), _relay(load), _solid_state(context, load), _triac(context, load))
            yield WorksheetSection(f"{subject} load {name}, relay or coupler: what each would have to bear", lines)


def _switches(context: Context) -> Iterator[tuple[str, str, Switched, tuple[int, ...]]]:
    """Part, subject, what lies behind its two ends, and the nets on which its signal may be stated."""
    for channel in context.channels:
        if switches(context, channel):
            try:
                found = looked_at(context, channel)
            except Lacking:
                continue
            nets = (*channel.drive.inner, *(held.net for held in channel.drive.boundary), *channel.pins.values())
            yield channel.part.path, channel.subject, found, nets
    for pole in poles(context):
        coil = tuple(context.circuit.pins(pole.part.element))
        yield pole.part.path, f"{pole.part.path} {pole.name}", pole.found, coil


def _load(context: Context, found: Switched, nets: tuple[int, ...]) -> SwitchedLoad | None:
    stated, volts = stated_load(context, found), across(context, found, WORST)
    if stated is None or stated[1].current is None or volts is None:
        return None
    least, most, _ = current(context, found, WORST)
    load = stated[1]
    signals = [fact for net in nets if (fact := context.facts.signal(context.net(net))) is not None]
    rates = [fact.rate.value for fact in signals if fact.rate is not None]
    return SwitchedLoad(
        volts,
        least,
        most,
        load_kind(context, found),
        None if load.inrush is None else load.inrush.value,
        None if load.off_current_max is None else load.off_current_max.value,
        frequency(context, found),
        max(rates, default=None),
        {fact.use.value for fact in signals if fact.use is not None},
        context.lookup.life_hours().high * _SECONDS_OF_AN_HOUR,
    )


def _told(load: SwitchedLoad) -> WorksheetLine:
    kind = load.kind or "kind not stated"
    inrush = "" if load.inrush is None else f", {show(load.inrush, 'A')} at first"
    off = "" if load.off is None else f", surely off below {show(load.off, 'A')}"
    rate = "how often it is switched is not stated" if load.rate is None else f"switched at {show(load.rate, 'Hz')}"
    shape = "alternating" if load.volts.alternating else "direct current"
    amps = f"{show(load.least, 'A')} to {show(load.most, 'A')}"
    return WorksheetLine(f"the load: {show(load.volts.high, 'V')} {shape} at most, {amps}, {kind}{inrush}{off}; {rate}")


def _relay(load: SwitchedLoad) -> WorksheetLine:
    share = SHARES[load.kind][1] if load.kind in SHARES else 1.0
    rating = line("I_rated", "I / share", f"{exact(load.most)} / {exact(share)}", load.most / share, "A")
    words = [f"contact with {rating} resistive at most" if share < 1.0 else f"contact for {show(load.most, 'A')}"]
    words.append(f"{show(load.volts.high, 'V')} across it, no leakage, some 10 ms to move")
    out = ["contacts don't follow phase control"] if "phase-control" in load.uses else []
    if load.rate is not None:
        count = load.rate * load.life
        words.append(line("N", "rate * life", f"{exact(load.rate)} * {exact(load.life)}", count, "1") + " operations")
        words.append(f"contacts last {LASTS_LOADED:,.0f} under full load")
        if load.rate > FASTEST_CONTACT:
            out.append(f"{show(load.rate, 'Hz')} are too fast")
        if count > LASTS_IDLE:
            out.append(f"no contact lasts more than {LASTS_IDLE:,.0f} operations")
    return _line("a relay", words, out)


def _solid_state(context: Context, load: SwitchedLoad) -> WorksheetLine:
    blocks = _blocking(context, load)
    if not load.volts.alternating:
        heat = "I^2 times its on-resistance of heat"
        return _line("a solid-state relay", [f"MOSFETs for {show(load.most, 'A')}", blocks, heat], [])
    words = [f"{show(load.most, 'A')} rms", blocks]
    words.append(line("P", "V_on * I", f"{ON_VOLTS:g} * {exact(load.most)}", ON_VOLTS * load.most, "W") + " of heat")
    low, high = (show(ends, "A") for ends in LEAST_LOAD)
    words.append(f"a load of more than its least one ({low} to {high}), {show(load.least, 'A')} are there")
    words += _turned_off(load)
    out = _leaking(load, LEAKS_LEAST["relay"])
    if load.least < LEAST_LOAD[0]:
        out.append("the load is less than any asks for")
    return _line("a solid-state relay", words, out)


def _triac(context: Context, load: SwitchedLoad) -> WorksheetLine:
    if not load.volts.alternating:
        return _line("a phototriac with a triac", ["nothing"], ["on direct current it never opens again"])
    words = [f"{show(load.most, 'A')} rms", _blocking(context, load)]
    peak = line("I_pk", "sqrt2 * I_min", f"1.414214 * {exact(load.least)}", 2.0**0.5 * load.least, "A")
    words.append(f"{peak} to latch with, triacs ask for {show(LATCHES[0], 'A')} to {show(LATCHES[1], 'A')}")
    words += _turned_off(load)
    out = _leaking(load, LEAKS_LEAST["triac"])
    if 2.0**0.5 * load.least < LATCHES[0]:
        out.append("the load is less than any latches with")
    return _line("a phototriac with a triac", words, out)


def _blocking(context: Context, load: SwitchedLoad) -> str:
    margin, volts = context.facts.number(Limits.blocking_margin), load.volts.high
    return line("V_blocks", "margin * V_pk", f"{exact(margin)} * {exact(volts)}", margin * volts, "V")


def _turned_off(load: SwitchedLoad) -> Iterator[str]:
    if load.hertz is not None:
        yield f"it opens up to {show(0.5 / load.hertz, 's')} late, at the end of a half wave"
    if load.kind in ("inductive", "motor", "transformer"):
        yield "a snubber, or a part that commutates without"


def _leaking(load: SwitchedLoad, least: float) -> list[str]:
    """What any such part leaks, where the load is surely off only below it."""
    if load.off is None or load.off >= least:
        return []
    return [f"it leaks {show(least, 'A')} and more, the load is off below {show(load.off, 'A')}"]


def _line(what: str, words: list[str], out: list[str]) -> WorksheetLine:
    told = f"; ruled out: {', '.join(out)}" if out else "; nothing known rules it out"
    return WorksheetLine(f"{what}: {', '.join(words)}{told}", MEMORY)

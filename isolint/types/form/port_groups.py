"""Which port group each pin of a part belongs to, by its names: a word a pin, None where names leave it open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from functools import partial
from itertools import pairwise

from isolint.types.form.pin_names import Pin, halves

Keys = list[str | None]
_LED = ("anode", "cathode")
_DOMAINS = {"a": frozenset({"vdda", "vcca"}), "b": frozenset({"vddb", "vccb"})}
"""Supplies of output domains that each have their own, by the letter that their pins end on."""
_RAILS = frozenset(("supply", "ground"))
_INPUT_RAILS = frozenset(("vcci", "vddi", "gndi", "vssi"))
_CONTROLS = frozenset(("dis", "disable", "dt", "reset", "rst"))
"""Enables that stand on the side of the input."""


def leds(parts: Sequence[Pin]) -> Mapping[str, str]:
    """The groups of the LEDs by the number of their pins."""
    return halves(parts, _LED, "led")


def given(parts: Sequence[Pin]) -> list[str]:
    """The groups of LEDs, and one for each pin that is not connected inside; "" for the others."""
    lit = leds(parts)
    return [
        f"none{index}" if part.role == "none" else lit[part.number] if part.role in _LED else ""
        for index, part in enumerate(parts)
    ]


def transistor_groups(parts: Sequence[Pin]) -> Keys:
    """Collector, emitter and base of one number are one output."""
    outputs = halves(parts, ("collector", "emitter"), "out")
    return [known or outputs.get(part.number, "out-joined") for known, part in zip(given(parts), parts, strict=True)]


def switch_groups(parts: Sequence[Pin]) -> Keys:
    """All output pins; with two LEDs names don't tell whether their outputs are one port or two."""
    output = "out" if len(set(leds(parts).values())) == 1 else None
    return [known or output for known in given(parts)]


def sided_groups(parts: Sequence[Pin]) -> Keys:
    """The domains of an isolator, amplifier, driver or logic coupler: "in", "out", or output domains a and b.

    Without an LED they must stand apart on the card, in two runs, else all are in doubt: an output among the pins of
    the input side, or at their end, is a reverse channel, and names don't tell whose supply it has.
    """
    own = _own_domains(parts)
    numbered = {part.stem for part in parts if part.number and part.role in _RAILS}
    place = partial(_beside_led, numbered=numbered) if leds(parts) else _sided
    keys: Keys = []
    for known, part in zip(given(parts), parts, strict=True):
        domain = part.stem[-1:] if part.stem[-1:] in own and len(part.stem) > 2 else ""
        keys.append(known or place(part, domain))
    return keys if leds(parts) or _in_two_runs(keys) else [None] * len(keys)


def _beside_led(part: Pin, domain: str, numbered: Set[str]) -> str | None:
    """The output's pins; None for what a logic interface on the side of the LED may have too: names don't tell whether
    it is there, nor what its ground is joined to.

    numbered: the names of rails that stand there with a number too, so that one without may be another.
    """
    of_input = (
        part.role in ("status", "input")
        or part.stem in _CONTROLS
        or (part.role in _RAILS and (part.number == "1" or part.stem in _INPUT_RAILS))
        or (part.stem in numbered and not part.number)
        or (part.role == "enable" and part.number == "1")
    )
    return None if of_input else "out" + domain


def _sided(part: Pin, domain: str) -> str | None:
    stem = part.stem
    if part.role == "input":
        return "in"
    if part.role in ("output", "sense", "clamp"):
        return "out" + domain
    if part.role == "status" or stem in ("reset", "rst"):
        return None
    if part.role == "enable" and stem in ("dis", "disable", "dt"):
        return "in"
    if part.role == "enable":
        return {"1": "in", "2": "out"}.get(part.number)
    if stem[-1:] in "io" and len(stem) > 3:
        return "in" if stem.endswith("i") else "out"
    if part.number:
        return {"1": "in", "2": "out"}.get(part.number)
    return f"out{domain}" if domain else None


def _own_domains(parts: Sequence[Pin]) -> frozenset[str]:
    """The letters a and b where each has a supply of its own."""
    supplies = {other.stem for other in parts if other.role == "supply"}
    whole = all(supplies & names for names in _DOMAINS.values())
    return frozenset(_DOMAINS) if whole else frozenset()


def _in_two_runs(keys: Sequence[str | None]) -> bool:
    sides = [key == "in" for key in keys if key is not None and not key.startswith("none")]
    return sum(here != there for here, there in pairwise(sides)) <= 1

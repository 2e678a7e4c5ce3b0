"""How pin names are taken apart, and the names that mean the same on most types."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

COMMON: Mapping[str, str] = {
    "anode": "anode", "an": "anode", "a": "anode", "led+": "anode", "leda": "anode", "da": "anode", "anod": "anode",
    "cathode": "cathode", "cath": "cathode", "k": "cathode", "led-": "cathode", "ledk": "cathode", "ledc": "cathode",
    "dk": "cathode", "ca": "cathode",
    "supply": "supply", "ground": "ground",
    "vdd": "supply", "vcc": "supply", "vdda": "supply", "vddb": "supply", "vcca": "supply", "vccb": "supply",
    "vs": "supply", "vb": "supply", "vcci": "supply", "vddi": "supply", "vcco": "supply", "vddo": "supply",
    "v+": "supply",
    "gnd": "ground", "vss": "ground", "vee": "ground", "com": "ground", "gnda": "ground", "gndb": "ground",
    "vssa": "ground", "vssb": "ground", "vssi": "ground", "gndi": "ground", "gndo": "ground", "sgnd": "ground",
    "v-": "ground",
    "out": "output", "vo": "output", "output": "output", "vout": "output", "o": "output", "q": "output", "y": "output",
    "outa": "output", "outb": "output", "outc": "output", "outd": "output", "voa": "output", "vob": "output",
    "voc": "output", "vod": "output", "outp": "output", "outn": "output", "vop": "output", "von": "output",
    "out+": "output", "out-": "output", "vo+": "output", "vo-": "output", "vout+": "output", "vout-": "output",
    "in": "input", "vi": "input", "input": "input", "vin": "input", "ina": "input", "inb": "input", "inc": "input",
    "ind": "input", "via": "input", "vib": "input", "vic": "input", "vid": "input", "inp": "input", "inn": "input",
    "vinp": "input", "vinn": "input", "voutp": "output", "voutn": "output",
    "in+": "input", "in-": "input", "vi+": "input", "vi-": "input", "vin+": "input", "vin-": "input", "vip": "input",
    "dis": "enable", "disable": "enable", "dt": "enable",
    "en": "enable", "enable": "enable", "ve": "enable", "oe": "enable", "strobe": "enable",
    "nc": "none", "n/c": "none", "dnc": "none",
}  # fmt: skip
"""Role by pin name, where a type says nothing else."""

TRANSISTOR: Mapping[str, str] = {
    "collector": "collector", "coll": "collector", "c": "collector",
    "emitter": "emitter", "emit": "emitter", "e": "emitter", "base": "base", "b": "base",
}  # fmt: skip
SWITCH: Mapping[str, str] = {
    "c": "cathode", "mt": "output", "t": "output", "main": "output", "terminal": "output", "term": "output",
    "d": "output", "drain": "output", "s": "output", "source": "output", "load": "output", "load+": "output",
    "load-": "output", "gate": "output", "g": "output", "pv+": "output", "pv-": "output", "scra": "output",
    "scrk": "output", "scranode": "output", "scrcathode": "output", "sub": "output", "zc": "output",
}  # fmt: skip
"""Outputs for power, whose pins are one port."""

SIDED: Mapping[str, str] = {
    "c": "cathode", "desat": "sense", "clamp": "clamp",
    "fault": "status", "flt": "status", "rdy": "status", "ready": "status", "reset": "enable", "rst": "enable",
}  # fmt: skip
"""Parts with a supply on a side or on both. What they report belongs to the input, what they sense to the output."""


class Pin(NamedTuple):
    """A pin name taken apart: its words without separators, the trailing number, and the role."""

    stem: str
    number: str
    role: str


def folded(pin: str) -> str:
    """A pin name without separators, in small letters."""
    text = re.sub(r"[\s_.]+", "", pin.casefold())
    return re.sub(r"-(?=.)(?<!^-)", "", text)


def looked_up(text: str, own: Mapping[str, str], shared: Mapping[str, str] = COMMON) -> Pin:
    """Read a folded name by tables of names; role "" when none knows it."""
    numbered = re.fullmatch(r"(.*?)(\d*)([+-]?)", text)
    stem, number, sign = numbered.groups() if numbered else (text, "", "")
    for candidate, digits in ((text, ""), (stem + sign, number), (re.sub(r"(\d+)", "", text), _digits(text))):
        role = own.get(candidate) or shared.get(candidate)
        if role is not None:
            return Pin(candidate, digits, role)
    return Pin(text, "", "")


def common_role(pin: str) -> str:
    """The role that a pin's name has on most types, "" for none."""
    return looked_up(folded(pin), {}).role


def _digits(text: str) -> str:
    found = re.search(r"\d+", text)
    return found[0] if found else ""


def halves(parts: Sequence[Pin], roles: tuple[str, str], word: str) -> dict[str, str]:
    """Trailing number -> group, of pairs such as anode and cathode.

    Halves without their other half are one group: two anti-parallel LED pins, a common cathode, a common emitter.
    """
    found: dict[str, set[str]] = {}
    for part in parts:
        if part.role in roles:
            found.setdefault(part.number, set()).add(part.role)
    return {number: f"{word}{number}" if len(both) == 2 else f"{word}-joined" for number, both in found.items()}

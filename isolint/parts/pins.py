"""What a pin is by its name, and which pins are joined inside a part.

In: pin names and a type. Out: canonical roles and port groups. Names are read by a table of aliases; what no rule
places has role "" and no group, and the record has to say. Position on the card is never used to place a pin.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

__all__ = ["Pin", "derive_groups", "role_of", "take_apart"]

_TRANSISTORS = frozenset(("phototransistor", "photodarlington"))
_SWITCHES = frozenset(("phototriac", "photo-scr", "photovoltaic", "mosfet-output"))
_SIDED = frozenset(("digital-isolator", "isolated-amplifier", "gate-driver", "logic-output"))

_COMMON: Mapping[str, str] = {
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

_BY_TYPE: Mapping[str, Mapping[str, str]] = {
    "transistor": {
        "collector": "collector", "coll": "collector", "c": "collector",
        "emitter": "emitter", "emit": "emitter", "e": "emitter", "base": "base", "b": "base",
    },
    "switch": {
        "c": "cathode", "mt": "output", "t": "output", "main": "output", "terminal": "output", "term": "output",
        "d": "output", "drain": "output", "s": "output", "source": "output", "load": "output", "load+": "output",
        "load-": "output", "gate": "output", "g": "output", "pv+": "output", "pv-": "output", "scra": "output",
        "scrk": "output", "scranode": "output", "scrcathode": "output", "sub": "output", "zc": "output",
    },
    "linear": {
        "c": "cathode", "pd+": "photodiode", "pd-": "photodiode", "pda": "photodiode", "pdk": "photodiode",
        "pdc": "photodiode", "pdanode": "photodiode", "pdcathode": "photodiode", "pd": "photodiode",
    },
    "sided": {"c": "cathode", "desat": "output", "fault": "output", "clamp": "output", "rdy": "output"},
    "relay": {
        "coil": "coil", "coil+": "coil", "coil-": "coil", "coila": "coil", "coilb": "coil", "a": "coil",
        "com": "contact", "common": "contact", "no": "contact", "nc": "contact", "co": "contact", "contact": "contact",
        "sw": "contact", "c": "contact", "normallyopen": "contact", "normallyclosed": "contact", "pole": "contact",
    },
    "transformer": {
        word + sign: "winding"
        for word in ("primary", "pri", "prim", "p", "secondary", "sec", "s", "aux", "auxiliary", "tertiary", "ter", "t")
        for sign in ("", "+", "-", "a", "b", "start", "end", "ct", "tap")
    },
    "isolated-supply": {
        "+in": "supply", "-in": "ground", "in+": "supply", "in-": "ground", "vin": "supply", "vin+": "supply",
        "vin-": "ground", "+vin": "supply", "-vin": "ground", "in": "supply", "vcc": "supply", "gndin": "ground",
        "gndi": "ground", "vi": "supply", "vi+": "supply", "vi-": "ground", "ctrl": "enable", "remote": "enable",
        "+out": "output", "-out": "output", "out+": "output", "out-": "output", "vout": "output", "vout+": "output",
        "vout-": "output", "+vout": "output", "-vout": "output", "out": "output", "vo": "output", "vo+": "output",
        "vo-": "output", "+vo": "output", "-vo": "output", "0v": "ground", "v": "ground", "com": "ground",
        "gndout": "ground", "gndo": "ground", "trim": "output", "gnd": "ground",
    },
}  # fmt: skip

_OUT_WORDS = frozenset(("0v", "com", "gndout", "gndo", "trim", "v"))


class Pin(NamedTuple):
    """A pin name taken apart: its words without separators, the trailing number, and the role."""

    stem: str
    number: str
    role: str


def role_of(pin: str, type_: str) -> str:
    """The canonical role of a pin by its name, "" when no rule knows it.

    One of anode, cathode, collector, emitter, base, supply, ground, output, input, enable, coil, contact, winding,
    photodiode; "none" for a pin that is not connected inside; "pin" for any pin of an ordinary part.
    """
    return "pin" if type_ == "ordinary" else take_apart(pin, type_).role


def _family(type_: str) -> str:
    if type_ in _TRANSISTORS:
        return "transistor"
    if type_ in _SWITCHES:
        return "switch"
    return "sided" if type_ in _SIDED else type_


def take_apart(pin: str, type_: str) -> Pin:
    """Read the name of a pin; role "" when no rule knows it."""
    family = _family(type_)
    own = _BY_TYPE.get(family, {})
    shared: Mapping[str, str] = {} if family in ("relay", "transformer") else _COMMON
    text = re.sub(r"[\s_.]+", "", pin.casefold())
    text = re.sub(r"-(?=.)(?<!^-)", "", text)
    if family == "relay" and re.fullmatch(r"[1-9][1248]", text):
        # Terminal numbers of relays: 11, 12, 14 are the first pole.
        return Pin("pole", text[0], "contact")
    if family == "linear" and re.fullmatch(r"(a|c|k|an|anode|cathode)[12]", text):
        return Pin("pd", text[-1], "photodiode")
    if family == "switch" and type_ == "photo-scr" and re.fullmatch(r"(a|k|anode|cathode)2", text):
        return Pin("scr", "", "output")
    numbered = re.fullmatch(r"(.*?)(\d*)([+-]?)", text)
    stem, number, sign = numbered.groups() if numbered else (text, "", "")
    for candidate, digits in ((text, ""), (stem + sign, number), (re.sub(r"(\d+)", "", text), _digits(text))):
        role = own.get(candidate) or shared.get(candidate)
        if role is not None:
            return Pin(candidate, digits, role)
    return Pin(text, "", "")


def _digits(text: str) -> str:
    found = re.search(r"\d+", text)
    return found[0] if found else ""


def derive_groups(pins: Sequence[str], type_: str) -> tuple[tuple[tuple[int, ...], ...], tuple[str, ...]]:
    """The port groups by names, as pin positions, and the pins that no rule places.

    Groups are sorted by their first pin. A pin that is not connected inside has a group of its own. Where names
    leave a choice, all pins in doubt are returned as not placed.
    """
    if type_ == "ordinary":
        return (tuple(range(len(pins))),), ()
    parts = [take_apart(pin, type_) for pin in pins]
    unknown = tuple(pin for pin, part in zip(pins, parts, strict=True) if not part.role)
    if unknown:
        return (), unknown
    keys = _keys(parts, type_)
    doubtful = tuple(pin for pin, key in zip(pins, keys, strict=True) if key is None)
    if doubtful:
        return (), doubtful
    groups: dict[str, list[int]] = {}
    for index, key in enumerate(keys):
        groups.setdefault(key or "", []).append(index)
    return tuple(sorted(tuple(group) for group in groups.values())), ()


def _keys(parts: Sequence[Pin], type_: str) -> list[str | None]:
    """The group of each pin as a word; None where names leave it open."""
    family = _family(type_)
    leds = _halves(parts, ("anode", "cathode"), "led")
    outputs = _halves(parts, ("collector", "emitter"), "out")
    keys: list[str | None] = []
    for index, part in enumerate(parts):
        if part.role == "none":
            keys.append(f"none{index}")
        elif part.role in ("anode", "cathode"):
            keys.append(leds[part.number])
        elif family == "transistor":
            keys.append(outputs.get(part.number, "out-joined"))
        elif family == "switch":
            # Two LEDs: whether their outputs are one port or two can't be told from the names.
            keys.append("out" if len(set(leds.values())) == 1 else None)
        elif family == "linear":
            keys.append(f"pd{part.number}" if part.number else None)
        elif family == "relay":
            keys.append("coil" if part.role == "coil" else _contact_key(part))
        elif family == "transformer":
            keys.append("primary" if part.stem.startswith("p") else "aux" if part.stem[0] in "at" else "secondary")
        elif family == "isolated-supply":
            keys.append(_converter_key(part, parts))
        else:
            keys.append(_sided_key(part, parts, bool(leds)))
    return keys if family != "sided" or leds or _in_two_runs(keys) else [None] * len(keys)


def _halves(parts: Sequence[Pin], roles: tuple[str, str], word: str) -> dict[str, str]:
    """Trailing number -> group, of pairs such as anode and cathode.

    Halves without their other half are one group: two anti-parallel LED pins, a common cathode, a common emitter.
    """
    halves: dict[str, set[str]] = {}
    for part in parts:
        if part.role in roles:
            halves.setdefault(part.number, set()).add(part.role)
    return {number: f"{word}{number}" if len(found) == 2 else f"{word}-joined" for number, found in halves.items()}


def _contact_key(part: Pin) -> str:
    # "contact1" and "contact2" are the two ends of one contact; "com1" and "no1" belong to the first pole.
    return "contact" if part.stem in ("contact", "sw") and part.number in ("", "1", "2") else f"pole{part.number}"


def _converter_key(part: Pin, parts: Sequence[Pin]) -> str | None:
    if part.number and part.stem in ("gnd", "vcc", "com"):
        return {"1": "in", "2": "out"}.get(part.number)
    if part.stem == "gnd":
        # A plain ground is the input's where the output has a return of its own, and can't be placed otherwise.
        others = {other.stem for other in parts if other is not part}
        returns = {"0v", "-out", "out-", "vout-", "-vout", "vo-", "-vo", "com", "gndout", "gndo"}
        return "in" if others & returns and not others & {"-in", "in-", "vin-", "-vin", "gndin", "gndi"} else None
    return "out" if part.role == "output" or part.stem in _OUT_WORDS else "in"


def _sided_key(part: Pin, parts: Sequence[Pin], has_led: bool) -> str | None:
    """The domain of a pin of an isolator, amplifier, driver or logic coupler: "in", "out", or an output domain a, b."""
    stem = part.stem
    if has_led:
        return "out" + _domain(stem, parts)
    if part.role == "input":
        return "in"
    if part.role == "output":
        return "out" + _domain(stem, parts)
    if part.role == "enable":
        if stem in ("dis", "disable", "dt"):
            return "in"
        return {"1": "in", "2": "out"}.get(part.number)
    if stem[-1:] in "io" and len(stem) > 3:
        return "in" if stem.endswith("i") else "out"
    if part.number:
        return {"1": "in", "2": "out"}.get(part.number)
    domain = _domain(stem, parts)
    return f"out{domain}" if domain else None


def _domain(stem: str, parts: Sequence[Pin]) -> str:
    """The output domain by a final a or b, where each has a supply of its own; else ""."""
    supplies = {other.stem for other in parts if other.role == "supply"}
    own = {"a": {"vdda", "vcca"}, "b": {"vddb", "vccb"}}
    letter = stem[-1:]
    plain = letter in own and len(stem) > 2
    return letter if plain and all(supplies & names for names in own.values()) else ""


def _in_two_runs(keys: Sequence[str | None]) -> bool:
    """Whether the domains stand apart on the card: an output among the pins of the input side is a reverse channel."""
    sides = [key == "in" for key in keys if key is not None and not key.startswith("none")]
    changes = sum(here != there for here, there in zip(sides, sides[1:] + sides[:1], strict=True))
    return changes <= 2

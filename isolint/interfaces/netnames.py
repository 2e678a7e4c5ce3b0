"""What the name of a net says: a reference, a supply, its voltage. The least trusted source of all.

In: a name, with or without a path. Out: a guess, or none. A name that only speaks of a supply or a ground (`V_SENSE`,
`VCC_OK`, `EN_5V`, `GND_FAULT`) is a signal; where a name leaves a doubt it says nothing.
"""

from __future__ import annotations

import re

LOWEST_VOLTS, HIGHEST_VOLTS = 0.6, 60.0
"""Below, `0V1` may as well number a reference; above, a name may mean mains or a bus of any kind."""

_INSTANCE = re.compile(r"x[^./]*\.(?=.)")
_AUTOMATIC = re.compile(r"(?:net|unconnected)[-(]|net[a-z]+\d+_")
_WORDS = re.compile(r"[_\-\s:~#|()\[\]]+")

_SIGNAL = frozenset((
    "sense", "sens", "sns", "fb", "feedback", "mon", "monitor", "meas", "measure", "det", "detect", "detected",
    "ok", "good", "pg", "pgood", "pwrgood", "pwrok", "valid", "fail", "fault", "flt", "err", "error", "alarm",
    "alm", "trip", "lost", "loss", "low", "uv", "ov", "oc", "ovp", "uvp", "uvlo", "en", "ena", "enable", "enb",
    "dis", "disable", "shdn", "on", "off", "ctrl", "control", "ctl", "cmd", "req", "ack", "sel", "select", "adj",
    "adjust", "trim", "set", "comp", "cmp", "adc", "dac", "ref", "vref", "div", "divider", "irq", "nirq", "reset",
    "rst", "nrst", "por", "status", "stat", "state", "flag", "test", "tst", "tp", "present", "pres", "sw",
    "switch", "switched", "pwm", "tx", "rx", "txd", "rxd", "sda", "scl", "cs", "oe", "wr", "rd", "dir", "out",
    "rtn", "ret", "return", "com", "common", "gnd", "neg", "minus", "tol", "ac", "vac", "mains", "phase",
    "neutral", "open",
))  # fmt: skip
"""Words that make a signal of what the rest of the name calls a supply."""

_LEADING = frozenset((
    "in", "di", "do", "out", "relay", "rel", "valve", "motor", "mot", "coil", "lamp", "led", "heater", "fan",
    "solenoid", "sol", "siren", "buzzer", "line", "sig", "signal", "bit", "data", "clk", "clock", "gate", "drive",
    "int", "q", "k", "y", "l", "n",
))  # fmt: skip
"""Words that do so only in front: `IN_24V` is an input, `24V_IN` may be a supply."""

_NO_GROUND = frozenset((
    "sense", "sens", "sns", "fb", "feedback", "mon", "monitor", "meas", "measure", "det", "detect", "detected",
    "ok", "good", "fail", "fault", "flt", "err", "error", "alarm", "alm", "trip", "lost", "loss", "open", "lift",
    "test", "tst", "adc", "ctrl", "control", "ctl", "en", "enable", "sw", "switch", "switched", "virtual", "virt",
    "v", "net", "to",
))  # fmt: skip
_GROUND = re.compile(r"(?P<before>[a-z0-9]*?)gnd(?P<behind>[a-z0-9]*)|vss[a-z]{0,3}\d*|0v[a-z]{0,4}|earth|ground")
GROUND_HINTS = ("gnd", "vss", "0v", "earth", "ground", "com", "rtn", "ret")
"""Whatever `is_ground_name` calls a reference, node 0 apart, holds one of these in lower case."""

_EARTH = frozenset(("pe", "fe", "earth", "chassis", "chas", "shield", "shld", "frame", "chgnd", "egnd", "fgnd"))
_RETURN = frozenset(("com", "common", "rtn", "ret", "return"))

_RKM = re.compile(r"(?:[adp]?v(?:cc|dd)?|p)?(\d{1,2})v(\d{1,2})([a-z]{0,4})")
_PLAIN = re.compile(r"(?:v|p)?(\d{1,3}(?:\.\d{1,2})?)v([a-z]{0,5})")
_NUMBERED = re.compile(r"(v|vcc|vdd)(\d{1,2}(?:\.\d{1,2})?)")
_RAILS = {
    "v": frozenset((5.0, 9.0, 12.0, 15.0, 24.0, 28.0, 36.0, 48.0)),
    "vcc": frozenset((5.0, 12.0, 15.0, 24.0)),
    "vdd": frozenset((5.0,)),
}
"""Numbers that tell a voltage; others (V1, VCC2, VDD18) may count supplies or tenths of a volt."""

_NAMED = re.compile(r"(?:[adp]?v(?:cc|dd)|[adp]vcc|vee|vbus|vbat|vbatt|vaux|vsup|vsys|vio)([a-z0-9]*)")


def own_name(name: str) -> str:
    """The name without the instances and sheets that lead to it, in lower case: `Xch1.n3` and `/MCU/n3` are `n3`."""
    last = name.rsplit("/", 1)[-1].lower()
    found = _INSTANCE.match(last)
    while found:
        last = last[found.end() :]
        found = _INSTANCE.match(last)
    return last


def _words(name: str) -> list[str]:
    """The words of a net's own name without signs and exclamation mark; none for a name that a tool made up."""
    last = own_name(name)
    return [] if _AUTOMATIC.match(last) else [word for word in _WORDS.split(last.strip("+-!")) if word]


def is_ground_name(name: str) -> bool:
    """Whether a net's own name says that it is a reference: `0`, GND, DGND, GND_ISO, VSS, COM, 0V, 24V_RTN ..."""
    if name == "0":
        return True
    words = _words(name)
    if any(_without_digits(word) in _NO_GROUND for word in words):
        return False
    if words in (["com"], ["rtn"]):
        return True
    if len(words) > 1 and _RETURN.intersection(words) and any(_volts(word) is not None for word in words):
        return True
    return any(_is_ground_word(word) for word in words)


def is_earth_name(name: str) -> bool:
    """Whether a net's own name says that it is protective or functional earth, a chassis or a shield."""
    words = _words(name)
    return bool(_EARTH.intersection(words)) and not any(_without_digits(word) in _NO_GROUND for word in words)


def _is_ground_word(word: str) -> bool:
    found = _GROUND.fullmatch(word.rstrip("!"))
    if found is None:
        return False
    behind = found["behind"] or ""
    return found["before"] not in _NO_GROUND and _without_digits(behind) not in _NO_GROUND and behind[:4] != "sens"


def voltage_of_name(name: str) -> float | None:
    """The voltage that a net's name tells, in volts: `+5V`, `3V3`, `V24_FIELD`, `VCC_3V3`, `12V`; None for none."""
    words = _words(name)
    if not words or is_ground_name(name) or _is_signal(words):
        return None
    last = own_name(name)
    if last.endswith("-"):
        return None
    told = {volts for word in words if (volts := _volts(word)) is not None}
    if len(told) != 1:
        return None
    volts = told.pop()
    if not LOWEST_VOLTS <= volts <= HIGHEST_VOLTS:
        return None
    return -volts if last[0] == "-" else volts


def is_supply_name(name: str) -> bool:
    """Whether a net's own name says that it is a supply, with or without its voltage."""
    if voltage_of_name(name) is not None:
        return True
    words = _words(name)
    if is_ground_name(name) or _is_signal(words):
        return False
    return any(
        found is not None and _without_digits(found[1]) not in _SIGNAL
        for found in (_NAMED.fullmatch(word) for word in words)
    )


def _is_signal(words: list[str]) -> bool:
    plain = [_without_digits(word) for word in words]
    first = plain[0] if plain else ""
    return bool(_SIGNAL.intersection(plain)) or (len(words) > 1 and first in _LEADING)


def _without_digits(word: str) -> str:
    return word.rstrip("0123456789")


def _volts(word: str) -> float | None:
    found = _RKM.fullmatch(word)
    if found is not None:
        return None if found[3] in _SIGNAL else float(f"{found[1]}.{found[2]}")
    found = _PLAIN.fullmatch(word)
    if found is not None:
        return None if found[2] in _SIGNAL else float(found[1])
    found = _NUMBERED.fullmatch(word)
    if found is None:
        return None
    if found[1] != "v" and found[2] == "33":
        return 3.3
    volts = float(found[2])
    return volts if volts in _RAILS[found[1]] or "." in found[2] else None

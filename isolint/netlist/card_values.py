"""Numbers as they stand on cards: SPICE suffixes, trailing units, and the RKM code of IEC 60062 (key `iec-60062`).

Case does not matter in SPICE: `1M` is one milli, `1MEG` one mega. Two exceptions that writers mean: a capital `A`
right after the digits is the unit ampere (a lower-case `a` is atto), and in an RKM code, where the letter stands
for the decimal point, a capital `M` is mega (`4M7`), as the standard has it.
"""

from __future__ import annotations

import math
import re

MAX_TOKEN = 100
"""Longest number token that is read; a longer one is no number."""

_EXPONENTS = {
    "t": 12,
    "g": 9,
    "x": 6,
    "k": 3,
    "m": -3,
    "u": -6,
    "µ": -6,
    "μ": -6,
    "n": -9,
    "p": -12,
    "f": -15,
    "a": -18,
}
_POINTS = {"r": 0, "v": 0, "l": -3, "k": 3, "meg": 6, "g": 9, "t": 12}
_POINTS |= {"m": -3, "u": -6, "µ": -6, "μ": -6, "n": -9, "p": -12, "f": -15}
_MIL = 25.4e-6

_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)([^\W\d_]*)\Z")
_FORTRAN = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+))[dD]([+-]?\d+)([^\W\d_]*)\Z")
_RKM = re.compile(r"([+-]?\d+)(meg|[rvlkmgtunpfµμ])(\d+)([^\W\d_]*)\Z", re.IGNORECASE)
_LEADING = re.compile(r"([rlkm])(\d+)\Z", re.IGNORECASE)
_MOJIBAKE = (("Âµ", "u"), ("Î¼", "u"), ("â„¦", ""), ("Ω", ""), ("Ω", ""))


def read_value(text: str) -> float | None:
    """Read a plain number with its suffix and unit as an SI float; None where it is none, or is not finite."""
    if len(text) > MAX_TOKEN or not text:
        return None
    match = _NUMBER.match(text)
    if match is not None:
        digits, letters = match.groups()
        value = _scaled(digits, letters) if letters else float(digits)
        return value if math.isfinite(value) else None
    return _odd_value(text)


def _odd_value(text: str) -> float | None:
    match = _RKM.match(text)
    if match is not None:
        whole, letter, fraction, _unit = match.groups()
        value = float(f"{whole}.{fraction}e{_point(letter)}")
    elif (match := _FORTRAN.match(text)) is not None:
        digits, exponent, letters = match.groups()
        value = _scaled(f"{digits}e{exponent}", letters)
    else:
        for wrong, right in _MOJIBAKE:
            if wrong in text:
                return read_value(text.replace(wrong, right))
        return None
    return value if math.isfinite(value) else None


def _scaled(digits: str, letters: str) -> float:
    """The number times the multiplier that the letters begin with; letters that are only a unit give 1."""
    if not letters.isascii():
        letters = letters.replace("Âµ", "u")
    low = letters.lower()
    if low.startswith("mil"):
        return float(digits) * _MIL
    exponent = 6 if low.startswith("meg") else _EXPONENTS.get(low[:1], 0)
    if letters[:1] == "A" or low.startswith("amp"):
        exponent = 0
    if "e" in digits or "E" in digits:
        return float(digits) * 10.0**exponent
    # One conversion: 10u is the float nearest to 1e-5, which 10 * 1e-6 is not.
    return float(f"{digits}e{exponent}")


def _point(letter: str) -> int:
    """The power of ten of an RKM code's letter."""
    if letter == "M":
        return 6
    if letter == "F":
        return 0
    return _POINTS[letter.lower()]


def leading_code(text: str) -> float | None:
    """Read the RKM code of a resistor below one of its unit, `R47` = 0.47 ohm, which elsewhere would be a name."""
    match = _LEADING.match(text)
    return float(f"0.{match[2]}e{_point(match[1])}") if match and len(text) < MAX_TOKEN else None


_CAPITAL_MILLI = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)M(?:[oO]hms?|OHMS?|Ω)?\Z")
_CAPITAL_POINT = re.compile(r"\d+M\d+\Z")
_CAPITAL_FEMTO = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)F\Z")


def doubt(letter: str, text: str) -> tuple[str, str] | None:
    """What may be meant otherwise by the value `text` of an element of that letter: (message, cure), or None."""
    if len(text) > MAX_TOKEN:
        return None
    if letter == "R" and _CAPITAL_MILLI.match(text):
        number = text.rstrip("OHMSohmsΩ")
        return (
            f"the value {text} is read as milliohm, because case does not matter in SPICE",
            f"write {number}MEG for megohm",
        )
    if letter == "R" and _CAPITAL_POINT.match(text):
        plain = text.replace("M", ".")
        return (
            f"the value {text} is read as {plain} megohm, after IEC 60062",
            f"write {plain}MEG, or {plain}m for milliohm",
        )
    if letter == "C" and _CAPITAL_FEMTO.match(text):
        return (
            f"the value {text} is read as femtofarad, because `f` is a suffix in SPICE",
            f"write {text[:-1]} for farad",
        )
    return None

"""Quantities as people write them, and as reports show them.

In: text such as "4.7 kohm", "-20 degC", "100 ppm/K" and the unit that is wanted. Out: SI floats, temperatures in
degrees Celsius, ratios as plain numbers. Plain forms are read from a small table; pint is asked for the rest, and
only with names that match our own pattern. Knows nothing of the files that the text comes from.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from isolint.errors import UnitError

if TYPE_CHECKING:
    import pint

__all__ = ["Interval", "expected", "read_quantity", "show", "show_number"]

MAX_TEXT = 80
ABSOLUTE_ZERO = -273.15
HOTTEST = 1000.0
"""Degrees Celsius; beyond it a figure is a slip of the pen, and what doubles each 8 K overflows."""

_PREFIXES = {"f": -15, "p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9, "T": 12}
_DISPLAY = {exponent: prefix for prefix, exponent in reversed(_PREFIXES.items()) if prefix not in "µμ" or not prefix}


class Interval(NamedTuple):
    """A closed interval in SI units; a point when both ends are equal."""

    low: float
    high: float

    @property
    def is_point(self) -> bool:
        """Whether both ends are equal."""
        return self.low == self.high


class _Dimension(NamedTuple):
    """How a dimension is named in messages, and its plain spellings.

    prefixed: spellings that take any prefix. plain: other spellings as (power of ten, factor).
    """

    words: str
    example: str
    prefixed: tuple[str, ...] = ()
    plain: tuple[tuple[str, int, float], ...] = ()


_K = ("K", "degC", "°C")
_DIMENSIONS: Mapping[str, _Dimension] = {
    "V": _Dimension("a voltage", "24 V", ("V",)),
    "A": _Dimension("a current", "5 mA", ("A",)),
    "ohm": _Dimension("a resistance", "4.7 kohm", ("ohm", "Ohm", "\N{GREEK CAPITAL LETTER OMEGA}", "\N{OHM SIGN}")),
    "F": _Dimension("a capacitance", "100 nF", ("F",)),
    "H": _Dimension("an inductance", "10 uH", ("H",)),
    "W": _Dimension("a power", "0.25 W", ("W",)),
    "C": _Dimension("a charge", "20 nC", ("C",)),
    "J": _Dimension("an energy", "5 uJ", ("J",)),
    "s": _Dimension(
        "a time",
        "50 us",
        ("s",),
        # A year is 365.25 days: 8,766 h.
        tuple((word, 0, 60.0) for word in ("min", "minute", "minutes"))
        + tuple((word, 0, 3600.0) for word in ("h", "hour", "hours"))
        + tuple((word, 0, 86400.0) for word in ("d", "day", "days"))
        + tuple((word, 0, 8766 * 3600.0) for word in ("year", "years")),
    ),
    "Hz": _Dimension("a frequency or rate", "9600 baud", ("Hz", "Bd", "baud", "bit/s", "bps")),
    "m": _Dimension(
        "a length", "8 mm", ("m",), (("cm", -2, 1.0), ("in", 0, 0.0254), ("inch", 0, 0.0254), ("mil", -6, 25.4))
    ),
    "degC": _Dimension("a temperature", "-20 degC", (), (("degC", 0, 1.0), ("°C", 0, 1.0))),
    "K": _Dimension("a temperature difference", "10 K", (), tuple((word, 0, 1.0) for word in _K)),
    "1": _Dimension("a ratio", "80 %", (), (("", 0, 1.0), ("%", -2, 1.0), ("ppm", -6, 1.0))),
    "1/K": _Dimension(
        "a temperature coefficient",
        "100 ppm/K",
        (),
        tuple((f"{top}/{word}", power, 1.0) for word in _K for top, power in (("1", 0), ("%", -2), ("ppm", -6))),
    ),
    "V/s": _Dimension(
        "a slew rate", "5 kV/us", tuple(f"V/{p}s" for p in ("", "m", "u", "µ", "μ", "n")), ()
    ),
    "A/s": _Dimension(
        "a slope of current", "8 A/ms", tuple(f"A/{p}s" for p in ("", "m", "u", "µ", "μ", "n")), ()
    ),
    "V/K": _Dimension("a voltage per kelvin", "-1.5 mV/K", tuple(f"V/{word}" for word in _K)),
    "A/K": _Dimension("a current per kelvin", "0.7 mA/K", tuple(f"A/{word}" for word in _K)),
    "W/K": _Dimension("a power per kelvin", "2 mW/K", tuple(f"W/{word}" for word in _K)),
    "K/W": _Dimension("a thermal resistance", "40 K/W", (), tuple((f"{word}/W", 0, 1.0) for word in _K)),
}  # fmt: skip

_NUMBER = re.compile(r"([+-]?)(\d+\.?\d*|\.\d+)(?:[eE]([+-]?\d{1,4}))?")
# IEC 60062 (key `iec-60062`): the letter stands for the decimal point and the multiplier.
_CODE = re.compile(r"([+-]?\d*)([RrLKkMGTpnuµμm])(\d*)")
_CODE_LETTERS = {
    "ohm": {"R": 0, "r": 0, "L": -3, "m": -3, "K": 3, "k": 3, "M": 6, "G": 9, "T": 12},
    "F": {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
    "H": {"n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
}
# What pint may see: up to six names joined by `*` or `/`, each with a small power at most.
_PINT_UNIT = re.compile(r"(?:1|[A-Za-zµμΩ\u2126°%]{1,24})(?:\s?[*/·]\s?[A-Za-zµμΩ\u2126°%]{1,24}(?:\^-?[1-4])?){0,5}")
_PINT_WORDS = re.compile(r"[A-Za-zµμΩ\u2126°%]+")
# Names that pint takes for pure numbers but that nobody means as a ratio or a rate.
_NOT_MEANT = frozenset(
    ("radian", "degree", "turn", "revolution", "revolutions_per_minute", "arcminute", "arcsecond", "steradian")
) | frozenset(("count", "cycle", "gradian", "decibel", "neper", "bel", "octave", "decade", "byte", "angular_degree"))


def expected(unit: str) -> str:
    """Say in words what a quantity of `unit` looks like: 'a voltage such as "24 V"'."""
    dimension = _DIMENSIONS[unit]
    return f'{dimension.words} such as "{dimension.example}"'


def read_quantity(text: str, unit: str) -> float:
    """Read `text` as a quantity of dimension `unit` (a key of the table above) and give it in SI units.

    Temperatures come in degrees Celsius, ratios as plain numbers ("80 %" is 0.8), rates in hertz. Raises `UnitError`
    with what was expected for anything else: another dimension, a missing unit, an unknown one, no finite number.
    """
    cleaned = text.strip().replace("−", "-")
    if not cleaned or len(cleaned) > MAX_TEXT:
        raise _wrong(text, "is no quantity", unit)
    coded = _read_code(cleaned, unit)
    if coded is not None:
        return coded
    number = _NUMBER.match(cleaned)
    if number is None:
        raise _wrong(text, "does not start with a number", unit)
    name = cleaned[number.end() :].strip()
    if re.match(r",\s?\d", name):
        raise _wrong(text, "holds a comma; write a decimal point and no separators", unit)
    if name.startswith("/"):
        name = "1" + name
    scale = _table(unit).get(name)
    value = _scaled(number, *scale) if scale else _ask_pint(text, _scaled(number, 0, 1.0), name, unit)
    if not math.isfinite(value):
        raise _wrong(text, "is no finite number", unit)
    if unit == "degC" and value < ABSOLUTE_ZERO:
        raise _wrong(text, "lies below absolute zero", unit)
    if unit == "degC" and value > HOTTEST:
        raise _wrong(text, "is hotter than any part stands", unit)
    return value


def spellings(unit: str) -> Iterator[tuple[str, float]]:
    """Every plain spelling of a dimension with its factor, so that a test can hold the table against pint."""
    for name, (power, factor) in _table(unit).items():
        yield name, float(f"1e{power}") * factor


def units() -> tuple[str, ...]:
    """The dimensions that can be asked for, as unit strings."""
    return tuple(_DIMENSIONS)


@cache
def _table(unit: str) -> Mapping[str, tuple[int, float]]:
    """Spelling -> (power of ten, factor). The powers stay apart so that "0.82 mA" is exactly 0.00082."""
    dimension = _DIMENSIONS[unit]
    table = {name: (power, factor) for name, power, factor in dimension.plain}
    for name in dimension.prefixed:
        divisor = -_PREFIXES[name[2:-1]] if unit in ("V/s", "A/s") else 0
        for prefix, power in _PREFIXES.items():
            table[prefix + name] = (power + divisor, 1.0)
    return table


def _scaled(number: re.Match[str], power: int, factor: float) -> float:
    sign, digits, exponent = number.groups()
    return float(f"{sign}{digits}e{int(exponent or 0) + power}") * factor


def _read_code(text: str, unit: str) -> float | None:
    """An IEC 60062 code such as 4k7, R47, 100n; None when `text` is none."""
    letters = _CODE_LETTERS.get(unit)
    found = _CODE.fullmatch(text) if letters else None
    if letters is None or found is None:
        return None
    whole, letter, fraction = found.groups()
    if letter not in letters or not (whole.strip("+-") or fraction):
        return None
    return float(f"{whole}.{fraction or '0'}e{letters[letter]}")


def _wrong(text: str, why: str, unit: str) -> UnitError:
    shown = text if len(text) <= MAX_TEXT else text[:MAX_TEXT] + "..."
    return UnitError(f'"{shown}" {why}: expected {expected(unit)}')


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False, cache_folder=None)


def _ask_pint(text: str, value: float, name: str, unit: str) -> float:
    """Convert what the table does not know; the name is matched before pint sees it."""
    if not name:
        raise _wrong(text, "has no unit", unit)
    for other in _DIMENSIONS:
        if name in _table(other) and (other, unit) != ("K", "degC"):
            raise _wrong(text, f"is {_DIMENSIONS[other].words}", unit)
    if not _PINT_UNIT.fullmatch(name):
        raise _wrong(text, f"has a unit that can't be read{_nearest(name, unit)}", unit)
    import pint

    registry = _registry()
    compound = any(mark in name for mark in "*/·^") or unit == "K"
    plain = _PINT_WORDS.sub(lambda found: _pint_name(found[0], compound), name.replace("·", "*").replace("^", "**"))
    try:
        parsed = registry.parse_units(plain)
        if any(part in _NOT_MEANT for part in parsed._units):
            raise _wrong(text, f'has the unit "{name}", which is not meant here', unit)
        return float(registry.Quantity(value, parsed).to(_pint_unit(unit)).magnitude)
    except pint.DimensionalityError as error:
        raise _wrong(text, f"is of another dimension, {str(error.dim1).strip() or 'a plain number'}", unit) from None
    except (pint.PintError, AttributeError, ValueError, TypeError, KeyError, OverflowError, ZeroDivisionError):
        raise _wrong(text, f'has the unknown unit "{name}"{_nearest(name, unit)}', unit) from None


def _pint_name(word: str, compound: bool) -> str:
    if word in ("%", "°C", "Ω", "\N{OHM SIGN}", "Bd"):
        word = {"%": "percent", "°C": "degC", "Bd": "baud"}.get(word, "ohm")
    return {"degC": "delta_degC", "celsius": "delta_degC", "degF": "delta_degF"}.get(word, word) if compound else word


def _pint_unit(unit: str) -> str:
    return {"1": "dimensionless", "K": "delta_degC"}.get(unit, unit)


def _nearest(name: str, unit: str) -> str:
    from difflib import get_close_matches

    known = [spelling for spelling in _table(unit) if spelling]
    near = [spelling for spelling in known if spelling.lower() == name.lower()] or get_close_matches(
        name, known, 1, 0.5
    )
    return f' (did you mean "{near[0]}"?)' if near else ""


# From which magnitude a unit is shown without going down to the next prefix: "0.3 V", not "300 mV"; for currents the
# milliampere is the trade's unit, "0.82 mA".
_LOWEST = {("V", 0): 0.1, ("W", 0): 0.1, ("ohm", 0): 0.1, ("A", -3): 0.1, ("A/K", -3): 0.1}
_UNPREFIXED = frozenset({"degC", "K", "K/W"})
_HOUR = 3600.0
_YEAR = 8766 * _HOUR


def show(value: float | None, unit: str, digits: int = 3) -> str:
    """Show an SI value in engineering notation with `digits` significant digits: 0.00082, "A" -> "0.82 mA".

    "1" gives the plain number, "%" a ratio in percent; None and NaN give "-". What is shown can be read back.
    """
    if value is None or math.isnan(value):
        return "-"
    if math.isinf(value):
        return "unlimited" if value > 0 else "-unlimited"
    if unit in ("1", ""):
        return show_number(value, digits)
    if unit == "%":
        return f"{show_number(value * 100, digits)} %"
    if unit == "1/K":
        return f"{show_number(value * 1e6, digits)} ppm/K"
    if unit == "s" and abs(value) >= _HOUR:
        name, size = ("year", _YEAR) if abs(value) >= _YEAR else ("h", _HOUR)
        return f"{show_number(value / size, digits)} {name}"
    if unit in _UNPREFIXED:
        return f"{show_number(value, digits)} {unit}"
    rounded = Decimal(f"{value:.{max(digits, 1) - 1}e}")
    if unit == "V/s":
        rounded, unit = rounded.scaleb(-6), "V/us"
    amount = abs(rounded)
    for lowest, exponent in _scales(unit):
        if amount >= lowest:
            scaled = rounded.scaleb(-exponent)
            if abs(scaled) >= 100000:
                break
            return f"{_fixed(scaled)} {_DISPLAY[exponent]}{unit}"
    return f"{show_number(float(rounded), digits)} {unit}"


@cache
def _scales(unit: str) -> tuple[tuple[Decimal, int], ...]:
    """From which size on a unit is shown with the prefix of which exponent, largest first."""
    return tuple(
        (Decimal(str(_LOWEST.get((unit, exponent), 1.0))).scaleb(exponent), exponent)
        for exponent in sorted(_DISPLAY, reverse=True)
    )


def rounded_up(value: float, digits: int = 3) -> float:
    """The next number of so many significant digits that is no less: what is to be reached must not be rounded down."""
    if not math.isfinite(value) or value == 0.0:
        return value
    place = math.floor(math.log10(abs(value))) - digits + 1
    # What lies above by rounding of the sum alone is not more.
    return float(Decimal(f"{value * (1.0 - 1e-9):.12g}").quantize(Decimal(1).scaleb(place), rounding=ROUND_CEILING))


def rounded_down(value: float, digits: int = 3) -> float:
    """The last number of so many significant digits that is no more: what is offered must not be rounded up."""
    if not math.isfinite(value) or value == 0.0:
        return value
    place = math.floor(math.log10(abs(value) * (1.0 + 1e-9))) - digits + 1
    return float(Decimal(f"{value * (1.0 + 1e-9):.12g}").quantize(Decimal(1).scaleb(place), rounding=ROUND_FLOOR))


def show_beside(value: float, limit: float, unit: str) -> tuple[str, str]:
    """Show a value and its limit, with as many more digits as tell them apart: 4.997 mA beside 5 mA."""
    for digits in (3, 4, 5, 6):
        pair = show(value, unit, digits), show(limit, unit, digits)
        if pair[0] != pair[1]:
            return pair
    return show(value, unit), show(limit, unit)


def show_share(value: float) -> str:
    """Show what is available over what is required with two decimals, or with as many as tell it from 1: 0.998."""
    for decimals in (2, 3, 4, 5, 6):
        text = f"{value:.{decimals}f}"
        if float(text) != 1.0 or value == 1.0:
            return text
    return f"{value:.2f}"


def show_number(value: float | None, digits: int = 6) -> str:
    """Show a plain number with `digits` significant digits, without a unit, as formulas need it."""
    if value is None or math.isnan(value):
        return "-"
    if math.isinf(value):
        return "unlimited" if value > 0 else "-unlimited"
    rounded = Decimal(f"{value:.{max(digits, 1) - 1}e}")
    if rounded == 0:
        return "0"
    if -5 <= rounded.adjusted() < 7:
        return _fixed(rounded)
    mantissa = rounded.scaleb(-rounded.adjusted())
    return f"{_fixed(mantissa)}e{rounded.adjusted()}"


def _fixed(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

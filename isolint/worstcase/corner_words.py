"""Corners in circuit words: `V5 at 5.25 V, R1 -1 %, VF of XU1 1.05 V, 60 degC`.

In: the (term name, value) pairs of a corner and its temperature. Out: text for messages and reports. Values are SI.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from isolint.units import show

Say = Callable[[re.Match[str], float], str]


def _percent(found: re.Match[str], value: float) -> str:
    return f"{found[1]} {value * 100:+.3g} %"


def _share(found: re.Match[str], value: float) -> str:
    """A port between its guaranteed level (0) and the level of an ideal port (1)."""
    name, level = found[1], found[2]
    if value <= 0.0:
        return f"output {name} at its guaranteed {level} level"
    if value >= 1.0:
        return f"output {name} at its {'highest' if level == 'high' else 'lowest'} level"
    return (
        f"output {name} {value * 100:.3g} % of the way from its guaranteed {level} level to its "
        f"{'highest' if level == 'high' else 'lowest'}"
    )


def _named(text: str, unit: str, digits: int = 4) -> Say:
    """text: with the whole match as {0} and its groups as {1} and {2}."""
    return lambda found, value: f"{text.format(found[0], *found.groups())} {show(value, unit, digits)}"


_WORDS: tuple[tuple[re.Pattern[str], Say], ...] = tuple(
    (re.compile(pattern), say)
    for pattern, say in (
        (r"tolerance of (.+)$", _percent),
        (r"tempco of (.+)$", lambda found, value: f"{found[1]} {value * 1e6:+.3g} ppm/K"),
        (r"output (.+) (high|low): guaranteed \(0\) to ideal \(1\)$", _share),
        (r"(?:highest|lowest) level of output .+$", _named("{0}", "V")),
        (r"(?:peak of supply|crest of line) .+$", _named("{0}", "V")),
        (r"volts of (.+)$", _named("{1} at", "V")),
        (r"(?:off leakage|leakage) of (?:output|line) .+$", _named("{0}", "A")),
        (r"voltage of coil (.+) when it is switched off$", _named("{0}", "V")),
        (r"input current of .+$", _named("{0}", "A")),
        (r"supply current of .+$", _named("{0}", "A")),
        (r"supply (.+)$", _named("supply {1} at", "V")),
        (r"line (.+) (on|off|reversed)$", _named("line {1} {2} at", "V")),
        (r"forward voltage of (.+)$", _named("VF of {1}", "V")),
        (
            r"temperature coefficient of VF of (.+)$",
            lambda found, value: f"VF of {found[1]} drifting {value * 1e3:.3g} mV/K",
        ),
        (r"(?:internal resistor|pull-up) of .+$", _named("{0}", "ohm")),
        (r"(?:low|high|saturation) current of .+$", _named("{0}", "A")),
        (r"pinch-off voltage of .+$", _named("{0}", "V")),
        (r"gain of (.+) over BF$", lambda found, value: f"gain of {found[1]} {value:.3g} BF"),
    )
)


def words(corner: Sequence[tuple[str, float]], temperature: float) -> str:
    """A corner in words, temperature last."""
    return ", ".join([*(_said(name, value) for name, value in corner), f"{temperature:g} degC"])


def _said(name: str, value: float) -> str:
    for pattern, say in _WORDS:
        found = pattern.match(name)
        if found is not None:
            return say(found, value)
    return f"{name} {show(value, '1', 4)}"

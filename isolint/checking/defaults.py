"""What counts where nobody stated anything, as text for people; tests compare it with what is computed with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

_PRACTICE = "default (common practice, no source)"

DEFAULTS: Final[Mapping[str, tuple[str, str]]] = {
    "open": ('"error" for the barrier group and unknown parts, else "note"', "default"),
    "fail_on": ('"error"', "default"),
    "environment.ambient": ('["0 degC", "70 degC"]', _PRACTICE),
    "environment.life": ('"10 year"', _PRACTICE),
    "environment.duty": ("1.0", _PRACTICE),
    "environment.altitude": ('"2000 m"', _PRACTICE),
    "environment.pollution_degree": ("2", _PRACTICE),
    "limits.drive_headroom": ("1.3", _PRACTICE),
    "limits.transfer_margin": ("1.2", _PRACTICE),
    "limits.insulating_resistance": ('"1 Mohm"', _PRACTICE),
    'supplies."*".tolerance': ('"5 %"', _PRACTICE),
    'elements."R*".tolerance': ('"5 %"', _PRACTICE),
}
"""Value and origin by key."""

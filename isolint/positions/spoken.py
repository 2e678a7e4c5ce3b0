"""What names tell about position: references and their families, mains poles, reference letters of parts.

In: names of nets and cards. Out: words. The least trusted source; where a name leaves a doubt it says nothing.
"""

from __future__ import annotations

import re
from functools import lru_cache

from isolint.interfaces.netnames import is_earth_name, is_ground_name, own_name

_RETURNS = frozenset(("com", "common", "rtn", "ret", "return"))
_SIDES = frozenset((
    "iso", "isol", "isolated", "field", "fld", "sec", "pri", "prim", "bus", "ext", "hv", "mot", "motor", "line",
    "b", "c", "d", "e", "24v", "loop", "rem", "remote", "plc",
))  # fmt: skip
"""Words that tell a side, beside a word for a return."""

_ISOLATING = frozenset((
    "iso", "isol", "isolated", "field", "fld", "sec", "pri", "prim", "bus", "ext", "hv", "mot", "motor", "line",
    "loop", "rem", "remote", "plc", "can", "rs485",
))  # fmt: skip
"""Words in the name of a ground that speak of isolation."""

_GROUND_WORD = re.compile(r"[adps]?(?:gnd|vss)[ad]?|gnd!|analog|digital|quiet|0")
_PRE = re.compile(r"[adps]?(?:gnd|vss)(.*)")
_SPLIT = re.compile(r"[_\-\s:~#|()\[\]]+")
_NEUTRAL = re.compile(r"n|ac_?n|neutral|mains_?n|n_?mains|n_?in|ac2|ac_neutral|n_?230v?|neutral_\w+")
SHORT_POLES = ("l", "n", "l1", "l2", "l3")
POLE_HINTS = ("ac", "neutral", "mains", "phase", "live", "line", "hot", "l_", "n_", "_l", "_n", "/l", "/n")
"""Whatever `mains_pole` knows is one of the names or holds one of the hints."""

_POLE = re.compile(
    r"l|l[123]|ac_?l|ac1|line|phase|live|mains|mains_?l|l_?mains|l_?in|hot|l_?fused|l_?230v?|ac_line|ac_live"
)


def is_reference_name(name: str) -> bool:
    """Whether a net's own name says that it is the reference of a side; earth is none."""
    if is_earth_name(name) and "fgnd" not in own_name(name):
        return False
    if is_ground_name(name):
        return True
    words = _words(name)
    return len(words) == 2 and bool(_RETURNS.intersection(words)) and bool(_SIDES.intersection(words))


def is_earth(name: str) -> bool:
    """Whether a net's own name says that it is earth, chassis or shield: one domain that is no side."""
    return is_earth_name(name) and "fgnd" not in own_name(name)


def _words(name: str) -> list[str]:
    return [word for word in _SPLIT.split(own_name(name).strip("+-!")) if word]


@lru_cache(maxsize=1024)
def family(name: str) -> str:
    """The family of a ground: GND, AGND, DGND are one, GND_ISO and AGND_ISO another, GNDS its own."""
    left = [word for word in _words(name) if not _GROUND_WORD.fullmatch(word)]
    return "_".join(left)


@lru_cache(maxsize=1024)
def speaks_of_isolation(name: str) -> bool:
    """Whether the name of a ground holds a word that means isolation: GND_ISO, GNDISO, COM_FIELD."""
    for word in _words(name):
        found = _PRE.fullmatch(word)
        if word in _ISOLATING or (found and found[1] in _ISOLATING):
            return True
    return False


def mains_pole(name: str) -> str:
    """ "neutral" or "line" for the name of a mains pole, "" for any other."""
    own = own_name(name)
    if _NEUTRAL.fullmatch(own):
        return "neutral"
    return "line" if _POLE.fullmatch(own) else ""


_CONNECTORS = frozenset((
    "j", "p", "cn", "con", "conn", "tb", "term", "kl", "x", "tp", "mp", "h", "jp", "st", "bt", "xs", "xp", "xt",
    "sk", "jk", "mh", "pl", "hdr",
))  # fmt: skip
_PASSIVES = frozenset((
    "rn", "y", "d", "q", "m", "sw", "f", "fb", "l", "r", "led", "rv", "fl", "c", "cn", "ra", "rp", "xtal", "s", "bz",
    "ls", "ant", "dn", "dz", "br", "fd",
))  # fmt: skip
_TELLS = {
    **dict.fromkeys(("k", "rl", "rly", "rel", "re", "relay"), "relay"),
    **dict.fromkeys(("t", "tr", "tx"), "transformer"),
    **dict.fromkeys(("ok", "oc", "pc", "opto", "iso"), "coupler"),
    **dict.fromkeys(("ps", "dc"), "isolated-supply"),
}


@lru_cache(maxsize=65536)
def reference_letters(name: str, letter: str) -> str:
    """The letters of a reference designator in lower case: XU3 and U3 give `u`, XRLY2 `rly`, X1 nothing."""
    own = name.rpartition(".")[2].lower()
    if letter == "X" and own[:1] == "x":
        own = own[1:]
    end = 0
    while end < len(own) and own[end].isalpha():
        end += 1
    # `Xpower` is a word and no designator.
    return own[:end] if end < len(own) or end <= 2 else ""


def is_connector(letters: str) -> bool:
    """Whether reference letters are those of connectors, terminals and test points."""
    return letters in _CONNECTORS


def is_passive(letters: str) -> bool:
    """Whether reference letters are those of parts that seldom isolate."""
    return letters in _PASSIVES


def told_by_letters(letters: str) -> str:
    """What reference letters tell: relay, transformer, coupler, isolated-supply; "" for nothing."""
    return _TELLS.get(letters, "")

"""The first words of dot cards."""

from __future__ import annotations

from collections.abc import Mapping

ALIASES: Mapping[str, str] = {
    "macro": "subckt",
    "eom": "ends",
    "params": "param",
    "parameter": "param",
    "parameters": "param",
    "csparam": "param",
    "global_param": "param",
    "inc": "include",
    "incl": "include",
    "option": "options",
    "opt": "options",
    "opts": "options",
    "temperature": "temp",
    "elif": "elseif",
    "function": "func",
}

STRUCTURE = ("subckt", "ends", "model", "param", "include", "lib", "global", "func", "end")
"""Words that change the circuit: a misspelt one is read as the nearest of them."""

_ANALYSES = """
ac dc tran op noise disto tf sens pz pss sp four fft print plot probe probe64 save measure meas step
ic nodeset width backanno title endl enddata wave machine loadbias savebias distribution mc wcase
stimulus ferret loadstate savestate net graph view view_analysis info message protect unprotect prot
unprot pinorder lin hb env trannoise acmatch dcmatch dcvolt store dout check vec watch autostop
biaschk ibis connectivity endalias endaliases endcontrol endc text simulation cmrr
"""

SKIPPED: Mapping[str, str] = dict.fromkeys(_ANALYSES.split(), "") | {"data": "enddata", "aliases": "endaliases"}
"""Cards that say nothing of the circuit, with the word that closes the block they open."""

JOINTS = frozenset({"connect", "equiv"})
"""Cards that join nets."""

KNOWN = (
    frozenset(SKIPPED)
    | frozenset(STRUCTURE)
    | JOINTS
    | {"alter"}
    | {"temp", "options", "control", "if", "elseif", "else", "endif"}
)

"""Names of nets that a tool makes up, and numbers anew with every export."""

from __future__ import annotations

import re

ANONYMOUS = re.compile(r"(n|net|node)?[-_$]*\d+|n\$\d+|\$\w*\d+|net-?[(_].*|unconnected-.*", re.IGNORECASE)


def is_anonymous(name: str) -> bool:
    """Whether a tool made up the name of a net; of a net inside a block its local name decides.

    `0` is the ground of every simulator and no such name.
    """
    local = name.rpartition(".")[2]
    return local != "0" and ANONYMOUS.fullmatch(local) is not None

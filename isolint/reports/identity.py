"""One identity for each result of a report, for services that keep results apart by it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from isolint.results import Result


def identities(results: Iterable[Result]) -> list[str]:
    """Hash netlist and fingerprint; the same fault found twice in one netlist gets two numbers behind the hash."""
    seen: dict[str, int] = {}
    found = []
    for result in results:
        text = "\x1f".join((result.netlist, result.fingerprint))
        base = hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:32]
        seen[base] = seen.get(base, 0) + 1
        found.append(f"{base}:{seen[base]}")
    return found

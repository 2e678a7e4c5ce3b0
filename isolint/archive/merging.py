"""Stores of the parts of one archive, put together into one."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from isolint.archive.auditing import Sum
from isolint.archive.store import STATES, Store, reading, writing
from isolint.errors import IsolintError, Place

_EQUAL = ("format", "version", "tool", "strict", "day", "roots", "command")


def merge(stores: Sequence[str], output: str) -> tuple[Sum, tuple[int, ...]]:
    """Put the stores of shards into a new one; second, the shards that are missing.

    Raise `IsolintError` where they are no parts of one audit, or where equal work came to different findings.
    """
    with contextlib.ExitStack() as held:
        parts = [held.enter_context(reading(path)) for path in stores]
        metas = [part.meta() for part in parts]
        number, missing = _shards(stores, metas)
        with writing(output) as whole:
            if whole.meta():
                raise IsolintError("there is an audit in it already", Place(output), "name a new --store")
            with whole.transaction():
                for path, part in zip(stores, parts, strict=True):
                    _add(whole, part, path)
                files = sum(int(meta["files"]) for meta in metas)
                here = [one for one in range(1, number + 1) if one not in missing]
                shard = f"{'+'.join(map(str, here))}/{number}" if missing else "1/1"
                whole.state({**metas[0], "files": str(files), "shard": shard})
            states = whole.states()
            told = tuple((state, states[state]) for state in STATES if state in states)
            return Sum(told, whole.verdicts(), 0, ()), missing


def _shards(stores: Sequence[str], metas: Sequence[dict[str, str]]) -> tuple[int, tuple[int, ...]]:
    """How many shards there are, and those that are missing."""
    held: dict[int, str] = {}
    numbers = set()
    for path, meta in zip(stores, metas, strict=True):
        different = [name for name in _EQUAL if meta.get(name) != metas[0].get(name)]
        if different:
            text = f"{different[0]} is another than in {stores[0]}"
            raise IsolintError(text, Place(path), "audit all shards with one version, the same folders and options")
        which, _, of = meta["shard"].partition("/")
        numbers.add(int(of))
        for one in map(int, which.split("+")):
            if one in held:
                raise IsolintError(f"shard {one} is in {held[one]} too", Place(path), "name each shard once")
            held[one] = path
    if len(numbers) > 1:
        raise IsolintError("the stores are shards of different numbers", Place(stores[0]), "audit with the same N")
    (number,) = numbers
    return number, tuple(one for one in range(1, number + 1) if one not in held)


def _add(whole: Store, part: Store, path: str) -> None:
    for trace, doc in part.raw_docs():
        other = whole.trace(trace.key)
        if other is not None and other.doc != trace.doc:
            text = f"not reproducible: equal work on netlist {trace.netlist[:12]} came to different findings"
            raise IsolintError(text, Place(path), "report it")
        whole.keep(trace, doc)
    whole.put(part.units())
    whole.remember((root, name, found) for (root, name), found in part.files().items())

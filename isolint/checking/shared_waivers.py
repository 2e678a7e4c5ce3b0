"""Waivers in settings that several netlists share: what is wrong with one is said once, and not by a netlist alone.

In: the reports of one run over one tree. Out: the same without results that another report holds too, or that only all
netlists together could state: a waiver for one board matches nothing on the others, and is none the worse for it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from isolint.checking.waivers import UNMATCHED
from isolint.results import NetlistReport, Result

Key = tuple[str, str, str, str]


def said_once(
    reports: Sequence[NetlistReport], governed: Callable[[str], Collection[str]], whole: bool
) -> list[NetlistReport]:
    """Reports with each result about a waiver at the first netlist that has it, if it is one at all.

    governed: the netlists that a settings file counts for, asked only where a waiver matched nothing. whole: whether
    the run means to cover them all; else nothing is said of a waiver that others share, so that no partition matters.
    """
    holders: dict[Key, list[str]] = {}
    for report in reports:
        for result in report.results:
            if not result.acceptable:
                holders.setdefault(_key(result), []).append(report.netlist)
    if not holders:
        return list(reports)
    dropped: set[tuple[str, Key]] = set()
    for key, netlists in holders.items():
        kept = netlists[:1]
        if key[2] == UNMATCHED:
            concerned = set(governed(key[0]))
            alone = concerned <= {netlists[0]}
            kept = kept if alone or (whole and concerned <= set(netlists)) else []
        dropped.update((netlist, key) for netlist in netlists if netlist not in kept)
    return [
        report._replace(results=tuple(r for r in report.results if (report.netlist, _key(r)) not in dropped))
        for report in reports
    ]


def _key(result: Result) -> Key:
    """What makes two results about a waiver the same: its file, which waiver, what is wrong and how it is said."""
    return (result.where.file, result.subject, result.role, "" if result.role == UNMATCHED else result.message)

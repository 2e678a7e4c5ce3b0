"""The baselines that count for a netlist, read from a tree and held against its report."""

from __future__ import annotations

import posixpath
from collections import Counter
from collections.abc import Iterator, Set
from typing import TYPE_CHECKING

from isolint.errors import Refused
from isolint.facts.paths import settings_paths
from isolint.project import is_netlist
from isolint.results import NetlistReport, in_order
from isolint.source import Tree

if TYPE_CHECKING:
    from isolint.checking.baselines import Baseline

BASELINE = "isolint-baseline.toml"


def against_baselines(tree: Tree, root: str, report: NetlistReport, untracked: Set[str] = frozenset()) -> NetlistReport:
    """The report with the baselines that count for its netlist: those in its folder and above, up to the root.

    untracked: files that nobody else has; a baseline among them accepts nothing.
    """
    found = baselines(tree, report.netlist, root)
    notes = report.notes
    for alone in [baseline.file for baseline in found if baseline.file in untracked]:
        notes = (*notes, f"{alone} accepts nothing: git does not track it (git add it)")
    found = tuple(baseline for baseline in found if baseline.file not in untracked)
    if not found:
        return report._replace(notes=notes)
    from isolint.checking.baselines import absent, match

    matched = match(report.results, found, report.netlist, tree.exists, lambda: alike(tree, report.netlist))
    gone = [absent(report.netlist, baseline, entry) for baseline, entry in matched.stale]
    if matched.rivals:
        others = ", ".join(matched.rivals)
        cure = "isolint baseline write accepts what fails"
        notes = (*notes, f"takes no entries of {matched.moved}, which is gone: {others} may be that board too ({cure})")
    elif matched.moved:
        cure = "isolint baseline prune renames it"
        notes = (*notes, f"taken for {matched.moved} of the baseline, which is gone ({cure})")
    files = (*report.files, *(baseline.file for baseline in found))
    return report._replace(results=in_order([*matched.results, *gone]), notes=notes, files=files)


def alike(tree: Tree, netlist: str) -> Iterator[str]:
    """Other netlists of which at least half of the lines stand in this one: what may be a copy of it."""
    own = _lines(tree, netlist)
    for path in tree.walk():
        if path != netlist and is_netlist(path):
            other = _lines(tree, path)
            if own and 2 * (own & other).total() >= max(own.total(), other.total()):
                yield path


def _lines(tree: Tree, path: str) -> Counter[bytes]:
    try:
        data = tree.read(path)
    except Refused:
        return Counter()
    return Counter(line for line in map(bytes.strip, data.lower().split(b"\n")) if line and line[:1] != b"*")


def baselines(tree: Tree, netlist: str, root: str) -> tuple[Baseline, ...]:
    """All baselines for a netlist, nearest first; raise `SettingsError` for one that can't be read."""
    folders = [folder for folder in _folders(netlist, root) if tree.exists(posixpath.join(folder, BASELINE))]
    if not folders:
        return ()
    from isolint.checking.baselines import read

    return tuple(read(tree.read(file), file) for file in (posixpath.join(folder, BASELINE) for folder in folders))


def _folders(netlist: str, root: str) -> list[str]:
    return [posixpath.dirname(path) for path in settings_paths(netlist, root)]

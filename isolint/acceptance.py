"""The baselines that count for a netlist, read from a tree and held against its report."""

from __future__ import annotations

import posixpath
from typing import TYPE_CHECKING

from isolint.facts.paths import settings_paths
from isolint.results import NetlistReport, in_order
from isolint.source import Tree

if TYPE_CHECKING:
    from isolint.checking.baselines import Baseline

BASELINE = "isolint-baseline.toml"


def against_baselines(tree: Tree, root: str, report: NetlistReport) -> NetlistReport:
    """The report with the baselines that count for its netlist: those in its folder and above, up to the root."""
    found = baselines(tree, report.netlist, root)
    if not found:
        return report
    from isolint.checking.baselines import absent, match

    matched = match(report.results, found, report.netlist, tree.exists)
    gone = [absent(report.netlist, baseline, entry) for baseline, entry in matched.stale]
    notes = report.notes
    if matched.moved:
        cure = "isolint baseline prune renames it"
        notes = (*notes, f"taken for {matched.moved} of the baseline, which is gone ({cure})")
    files = (*report.files, *(baseline.file for baseline in found))
    return report._replace(results=in_order([*matched.results, *gone]), notes=notes, files=files)


def baselines(tree: Tree, netlist: str, root: str) -> tuple[Baseline, ...]:
    """All baselines for a netlist, nearest first; raise `SettingsError` for one that can't be read."""
    folders = [folder for folder in _folders(netlist, root) if tree.exists(posixpath.join(folder, BASELINE))]
    if not folders:
        return ()
    from isolint.checking.baselines import read

    return tuple(read(tree.read(file), file) for file in (posixpath.join(folder, BASELINE) for folder in folders))


def _folders(netlist: str, root: str) -> list[str]:
    return [posixpath.dirname(path) for path in settings_paths(netlist, root)]

"""The use cases: wires the stages and makes the `Tree`. Options, streams and exit status are the command line's business."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from isolint import __version__
from isolint.errors import IsolintError, Place, SettingsError
from isolint.results import NetlistReport, Report, RuleRecord, WorksheetSection, renamed
from isolint.source import FolderTree, Tree


@dataclass(frozen=True, slots=True)
class Options:
    """What the command line may ask of a use case."""

    strict: bool = False
    today: date | None = None
    root: str | None = None
    include_root: str | None = None


def check(paths: Sequence[str], options: Options) -> Report:
    """Judge netlists on disk; what can't be done stands in the report's `errors`, the rest is still judged."""
    reports: list[NetlistReport] = []
    errors: list[str] = []
    fail_on = "error"
    for path in dict.fromkeys(paths):
        try:
            tree, inner, root = locate(path, options.root)
            report, level = check_in(tree, inner, root, options)
        except SettingsError as error:
            errors.extend(str(replace(mistake, file=shown(tree, mistake.file))) for mistake in error.mistakes)
            continue
        except IsolintError as error:
            errors.append(f"{path}: {error.text}" + (f" ({error.cure})" if error.cure else ""))
            continue
        reports.append(renamed(report, lambda inner, tree=tree: shown(tree, inner)))  # type: ignore[misc]
        fail_on = level
    return Report(__version__, tuple(reports), rules(), fail_on, tuple(dict.fromkeys(errors)))  # type: ignore[arg-type]


def check_in(tree: Tree, path: str, root: str, options: Options) -> tuple[NetlistReport, str]:
    """Judge one netlist of a tree; gives its report and the level that makes the exit status 1."""
    from isolint.checking.engine import run
    from isolint.checking.report import netlist_report
    from isolint.rules import RULES

    context, cards = prepare(tree, path, root)
    results = run(context, RULES, options.strict)
    fail_on = "error" if context.facts.fail_on is None else context.facts.fail_on.value
    return netlist_report(context, cards, results), fail_on


def prepare(tree: Tree, path: str, root: str):  # type: ignore[no-untyped-def]
    """Read, build and find everything that rules may ask for."""
    from isolint import facts, netlist, parts
    from isolint.checking.context import Context
    from isolint.circuit import build
    from isolint.interfaces import Classifier, Interfaces, Walker, find_channels, recognise
    from isolint.interfaces.sides import find_sides

    stated = facts.load(tree, path, root)
    records = parts.load(tree, stated.part_files)
    include_root = root if stated.reading.include_root is None else stated.reading.include_root.value
    cards = netlist.read(tree, path, root=include_root)
    classifier = Classifier(cards, stated, records)
    circuit = build(cards, classifier.is_sheet)
    recognition = recognise(circuit, classifier)
    separation = find_sides(circuit, stated, recognition)
    walker = Walker(circuit, stated, recognition, frozenset(separation.ignored))
    channels = find_channels(circuit, recognition, walker)
    interfaces = Interfaces(recognition, channels, separation)
    context = Context(path, circuit, stated, interfaces, walker, stated.nearest_file(path, root), (*cards.notes, *circuit.notes))
    return context, cards


def locate(path: str, root: str | None) -> tuple[FolderTree, str, str]:
    """The tree, the path inside it and the folder up to which settings count: the given root, the repository, or the netlist's folder."""
    full = Path(os.path.abspath(path))
    if full.is_dir():
        raise IsolintError("this is a folder, not a netlist", Place(path), "name the netlists in it")
    if not full.exists():
        raise IsolintError("there is no such file", Place(path), "check the name")
    top = Path(os.path.abspath(root)) if root is not None else _repository(full.parent)
    if top not in full.parents:
        raise IsolintError(f"the netlist lies outside the root folder {root}", Place(path), "give a wider --root")
    return FolderTree(top), full.relative_to(top).as_posix(), ""


def shown(tree: FolderTree, path: str) -> str:
    """A path of the tree as the reader should see it: relative to the working folder, with `/`."""
    if path.startswith("isolint:"):
        return path
    return Path(os.path.relpath(tree.root / path)).as_posix()


def _repository(folder: Path) -> Path:
    """The nearest folder upwards that holds `.git`, else the folder itself."""
    for candidate in (folder, *folder.parents):
        if (candidate / ".git").exists():
            return candidate
    return folder


def worksheet(path: str, couplers: Sequence[str], options: Options) -> tuple[tuple[WorksheetSection, ...], tuple[str, ...]]:
    """The calculation sheet of each channel, or of the couplers named; second, what could not be done."""
    from isolint.checking.worksheet import sheet

    tree, inner, root = locate(path, options.root)
    context, _ = prepare(tree, inner, root)
    wanted = {name.lower() for name in couplers}
    channels = [
        channel for channel in context.channels if not wanted or wanted & {channel.part.path.lower(), channel.subject.lower()}
    ]
    found = {name for channel in channels for name in (channel.part.path.lower(), channel.subject.lower())}
    known = ", ".join(dict.fromkeys(channel.part.path for channel in context.channels)) or "none"
    errors = tuple(f"{path}: there is no coupler {name} (couplers here: {known})" for name in couplers if name.lower() not in found)
    return tuple(section for channel in channels for section in sheet(context, channel)), errors


def rules() -> tuple[RuleRecord, ...]:
    """All rules in their order."""
    from isolint.rules import RULES

    return tuple(rule.record for rule in RULES)


def facts(path: str, options: Options) -> list[tuple[str, str, str]]:
    """The effective facts of a netlist as (key, value, file)."""
    from isolint import facts as stated

    tree, inner, root = locate(path, options.root)
    return stated.load(tree, inner, root).statements()

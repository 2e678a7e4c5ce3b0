"""The use cases: what is judged, listed and told. Options, streams and exit status belong to the command line."""

from __future__ import annotations

import gc
import posixpath
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, cast

from isolint import __version__
from isolint.errors import FAULTS, IsolintError, NotANetlist, Place, SettingsError, itself_failed
from isolint.preparing import Instead, locate, prepare, shown
from isolint.results import (
    LEVELS,
    Inventory,
    Level,
    Measure,
    NetlistReport,
    Report,
    Result,
    RuleRecord,
    TypeRecord,
    WorksheetSection,
    in_order,
    renamed,
    told_of_crashes,
)
from isolint.source import FolderTree, Tree

if TYPE_CHECKING:
    from collections.abc import Callable

    from isolint.checking.context import Context
    from isolint.checking.idle_facts import Unused
    from isolint.netlist.cards import Cards
    from isolint.project import Project
    from isolint.worstcase.budget import Allowance


class Options(NamedTuple):
    """What the command line may ask of a use case.

    baseline: whether baselines count. untracked: files of the tree that nobody else has; to depend on one is a failure.
    tell: called with the name of each netlist before it is judged. passes: whether reports of several netlists hold
    what passes and what does not apply with all that is said of it, or rule and kind alone.
    """

    strict: bool = False
    today: date | None = None
    root: str | None = None
    include_root: str | None = None
    baseline: bool = True
    untracked: frozenset[str] = frozenset()
    tell: Callable[[str], None] | None = None
    passes: bool = True

    @property
    def day(self) -> date:
        """The day as of which waivers are judged."""
        return self.today or date.today()


def check(paths: Sequence[str], options: Options) -> Report:
    """Judge netlists on disk; what can't be done stands in the report's `errors`, the rest is still judged."""
    run = Run(options)
    for path in dict.fromkeys(paths):
        try:
            tree, inner, root = locate(path, options.root)
        except IsolintError as error:
            run.errors.append(told(path, error))
            continue
        run.add(tree, inner, root, path)
    return run.report()


@dataclass(slots=True, eq=False, repr=False)
class Run:
    """One run over several netlists: what was judged, what could not be done, what there is to say beside it.

    whole: whether the run covers what it is about, and not only what changed. allowance: what is left for the netlists
    to come. told: folders with what was said of their settings.
    """

    options: Options
    whole: bool = True
    judged: list[tuple[FolderTree, NetlistReport]] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    allowance: Allowance | None = None
    told: set[tuple[str, str]] = field(default_factory=set)

    def add(self, tree: FolderTree, inner: str, root: str, path: str, doubtful: bool = False) -> None:
        """Judge one netlist of a tree; `path` is its name for the reader of an error, `doubtful` if it may be none."""
        if self.judged and not gc.isenabled():
            # What the netlist before was judged by holds itself in cycles. Only what is new since then is looked at.
            gc.collect(0)
        if self.options.tell is not None:
            self.options.tell(path)
        if self.allowance is None:
            from isolint.worstcase.budget import Allowance

            self.allowance = Allowance()
        try:
            report = check_in(tree, inner, root, self.options, self.allowance)[0]
        except SettingsError as error:
            self.errors.extend(str(mistake._replace(file=shown(tree, mistake.file))) for mistake in error.mistakes)
        except NotANetlist as error:
            if doubtful:
                self.notes.append(f"{path}: left out, it is no SPICE netlist")
            else:
                self.errors.append(told(path, error))
        except IsolintError as error:
            self.errors.append(told(path, error))
        except FAULTS as error:
            self.errors.append(f"{path}: {itself_failed(error)}")
        else:
            report = self._told_once(tree, inner, report)
            if not self.options.passes:
                from isolint.checking.shortened import shortened

                report = shortened(report)
            self.judged.append((tree, report))

    def _told_once(self, tree: FolderTree, inner: str, report: NetlistReport) -> NetlistReport:
        """A report without what was said of the settings in its folder before."""
        from isolint.checking.idle_facts import NOTHING_HERE

        folder = str(tree.root / posixpath.dirname(inner))
        notes = tuple(note for note in report.notes if (folder, note) not in self.told)
        self.told.update((folder, note) for note in notes if NOTHING_HERE in note)
        return report._replace(notes=notes)

    def report(self) -> Report:
        """The report of all netlists in their order."""
        levels = [report.fail_on or "error" for _, report in self.judged] or ["error"]
        strictest = min(levels, key=LEVELS.index)
        if self.options.passes:
            change = renamed
        else:
            from isolint.checking.shortened import renamed_too as change
        reports = tuple(change(report, partial(shown, tree)) for tree, report in self._said_once())
        return Report(__version__, reports, rules(), strictest, tuple(dict.fromkeys(self.errors)))

    def _said_once(self) -> list[tuple[FolderTree, NetlistReport]]:
        if all(result.acceptable for _, report in self.judged for result in report.results):
            return self.judged
        from isolint.checking.shared_waivers import said_once
        from isolint.project import Project

        done: dict[int, NetlistReport] = {}
        for root in {tree.root for tree, _ in self.judged}:
            places = [index for index, (tree, _) in enumerate(self.judged) if tree.root == root]
            governed = partial(_governed, Project(FolderTree(root)))
            found = said_once([self.judged[index][1] for index in places], governed, self.whole)
            done.update(zip(places, found, strict=True))
        return [(tree, done[index]) for index, (tree, _) in enumerate(self.judged)]


def _governed(project: Project, file: str) -> tuple[str, ...]:
    """The netlists that a settings file counts for."""
    return project.concerned([file])[file]


def told(path: str, error: IsolintError) -> str:
    """An error about a path as one line."""
    where = f"{path}: " if path.strip() else ""
    return f"{where}{error.text}" + (f" ({error.cure})" if error.cure else "")


class Judged(NamedTuple):
    """One netlist judged, with all that its report was made from. asked: file and key of each fact that was read."""

    report: NetlistReport
    context: Context
    cards: Cards
    asked: frozenset[tuple[str, str]] = frozenset()


def check_in(
    tree: Tree, path: str, root: str, options: Options, allowance: Allowance | None = None
) -> tuple[NetlistReport, str]:
    """Judge one netlist of a tree; gives its report and the level that makes the exit status 1.

    allowance: what is left for the netlists of the run that it is part of; all that one may take where it is alone.
    """
    report = judge(tree, path, root, options, allowance=allowance).report
    return report, report.fail_on or "error"


def judge(
    tree: Tree,
    path: str,
    root: str,
    options: Options,
    watch: bool = False,
    instead: Instead | None = None,
    allowance: Allowance | None = None,
) -> Judged:
    """Judge one netlist of a tree. watch: note which facts are asked for. allowance: as in `check_in`."""
    from isolint.checking.engine import run
    from isolint.checking.fingerprints import identified
    from isolint.checking.idle_facts import note
    from isolint.checking.report import netlist_report
    from isolint.rules import LISTED, RULES
    from isolint.worstcase.budget import Allowance

    asked: set[tuple[str, str]] = set()
    seen = (lambda file, key: asked.add((file, key))) if watch else None
    context, cards = prepare(tree, path, root, seen, instead)
    with (allowance or Allowance()).lent_to(context.analysis.meter):
        results = identified(context, run(context, RULES, options.strict, options.day))
    fail_on = "error" if context.facts.fail_on is None else context.facts.fail_on.value
    report = netlist_report(context, cards, results)._replace(fail_on=cast(Level, fail_on))
    report = report._replace(notes=(*report.notes, *note(context, LISTED, partial(_beside, tree, path))))
    if options.untracked:
        alone = [_alone(context, file) for file in report.files if file in options.untracked]
        report = report._replace(results=in_order([*report.results, *alone]))
    if context.facts.waivers:
        from isolint.checking.waivers import forecast

        report = report._replace(notes=(*report.notes, *forecast(context.facts.waivers, options.day)))
    if options.baseline:
        from isolint.acceptance import against_baselines

        report = against_baselines(tree, root, report, options.untracked)
    return Judged(report, context, cards, frozenset(asked))


_MOST_BESIDE = 100
"""So many netlists of one folder are looked at for names that the one in hand does not have."""


def _beside(tree: Tree, path: str) -> Iterator[str]:
    """The texts of the other netlists in a netlist's folder."""
    from isolint.netlist.decoding import decode
    from isolint.project import is_netlist

    folder = posixpath.dirname(path)
    found = [each for each in tree.match(posixpath.join(folder, "*")) if is_netlist(each) and each != path]
    for each in found[:_MOST_BESIDE]:
        with suppress(IsolintError):
            yield decode(tree.read(each)).text


def _alone(context: Context, file: str) -> Result:
    """A file that the netlist depends on and that git does not know: the check passes here and nowhere else."""
    rule = context.speaker("missing-file")
    stated = context.facts.levels.get(rule)
    return Result(
        netlist=context.netlist,
        rule=rule,
        kind="fail",
        level="error" if stated is None else cast(Level, stated.value),
        message=f"{file} is read here but git does not track it: for everyone else it is missing",
        where=Place(context.netlist),
        subject=file,
        role="untracked",
        measure=Measure.number_of(1),
        remedy=f"git add {file}, or put what it holds into a file that is tracked",
    )


def worksheet(
    path: str, couplers: Sequence[str], options: Options
) -> tuple[tuple[WorksheetSection, ...], tuple[str, ...]]:
    """The calculation sheet of each channel, or of the couplers named; second, what could not be done."""
    from isolint.checking.barrier_sheet import barrier_sections
    from isolint.checking.calculation import sheet
    from isolint.checking.engine import run
    from isolint.checking.judged import answers
    from isolint.checking.question_sheet import question_sheet
    from isolint.checking.switch_choice import choice_sections
    from isolint.rules import RULES

    tree, inner, root = locate(path, options.root)
    context, _ = prepare(tree, inner, root)
    wanted = {name.lower() for name in couplers}
    channels = [
        channel
        for channel in context.channels
        if not wanted or wanted & {channel.part.path.lower(), channel.subject.lower()}
    ]
    found = {name for channel in channels for name in (channel.part.path.lower(), channel.subject.lower())}
    known = ", ".join(dict.fromkeys(channel.part.path for channel in context.channels)) or "none"
    errors = tuple(
        f"{path}: there is no coupler {name} (couplers here: {known})" for name in couplers if name.lower() not in found
    )
    results = run(context, RULES, options.strict, options.day)
    asked = [
        each for each in answers(context, results) if not wanted or wanted & {each.part.lower(), each.subject.lower()}
    ]
    sections = (
        *(section for channel in channels for section in sheet(context, channel)),
        *choice_sections(context, wanted),
        *(question_sheet(each) for each in asked),
        *(() if wanted else barrier_sections(context)),
    )
    failed = dict.fromkeys(f"{path}: {section.crashed}" for section in sections if section.crashed)
    return sections, (*errors, *failed)


def barrier(path: str, options: Options) -> tuple[Inventory, tuple[str, ...]]:
    """The sides of a netlist and what lies across each barrier, with what the rules of the barrier say of it.

    Second, the files that were read.
    """
    from isolint.checking.engine import run
    from isolint.checking.inventory import inventory
    from isolint.rules import RULES

    tree, inner, root = locate(path, options.root)
    context, cards = prepare(tree, inner, root)
    spoken = [rule for rule in RULES if rule.group == "barrier" or "identity" in rule.judges]
    found = inventory(context, run(context, spoken, options.strict, options.day), __version__)
    read = (*(file.path for file in cards.files), *context.facts.files, *context.facts.part_files)
    return found._replace(netlist=shown(tree, found.netlist)), tuple(shown(tree, file) for file in read)


def rules() -> tuple[RuleRecord, ...]:
    """All rules in their order."""
    from isolint.rules import RULES

    return tuple(rule.record for rule in RULES)


def types() -> tuple[TypeRecord, ...]:
    """All types of parts that isolate, with what nothing judges of them yet."""
    from isolint.checking.judged import has_rule
    from isolint.checking.rule import Rulebook
    from isolint.rules import RULES
    from isolint.types import BY_NAME
    from isolint.types.form.part_type import ALWAYS_BLIND

    book = Rulebook(RULES)
    return tuple(
        TypeRecord(
            kind.name,
            tuple(sorted(kind.traits)),
            tuple(slug for slug in kind.questions if not has_rule(book, kind, slug)),
            (*kind.blind, *ALWAYS_BLIND),
        )
        for kind in BY_NAME.values()
        if kind.isolates
    )


def facts(path: str, options: Options) -> tuple[list[tuple[str, str, str]], str]:
    """The effective facts of a netlist as (key, value, origin); what nobody stated stands with its default.

    Second, that isolint itself failed while it found out what is asked for, "" if it did not.

    What counts for nothing is marked: a misspelt name, a fact for another board, what no rule reads or none needs here.
    """
    from isolint import facts as stated
    from isolint.facts.unstated import defaults

    tree, inner, root = locate(path, options.root)
    found = stated.load(tree, inner, root)
    unused, crashed = _idle(tree, inner, root, options)
    idle = {(row.file, row.key): row for row in unused}
    rows = []
    for key, text, file in found.statements():
        told = idle.pop((file, key), None)
        rows.append((key, text, shown(tree, file) + ("" if told is None else f", {told.why}")))
    rows += [(row.key, row.text or "...", f"{shown(tree, row.file)}, {row.why}") for row in idle.values()]
    keys = {key for key, _, _ in rows}
    return [*rows, *(row for row in defaults() if row[0] not in keys)], crashed and f"{path}: {crashed}"


def _idle(tree: FolderTree, inner: str, root: str, options: Options) -> tuple[list[Unused], str]:
    """What is stated and counts for nothing; nothing where the netlist can't be read. It is judged to find out."""
    from isolint.checking.engine import run
    from isolint.checking.idle_facts import unasked, unknown, unused
    from isolint.rules import LISTED, RULES

    seen: set[tuple[str, str]] = set()
    try:
        context, _ = prepare(tree, inner, root, lambda file, key: seen.add((file, key)))
    except NotANetlist:
        return [], ""
    crashed = told_of_crashes(run(context, RULES, options.strict, options.day))
    found = [*unknown(context.facts), *unused(context, LISTED)]
    known = {(row.file, row.key) for row in found}
    return [*found, *(row for row in unasked(context, seen) if (row.file, row.key) not in known)], crashed


def facts_schema() -> dict[str, object]:
    """The JSON Schema of isolint.toml."""
    from isolint.facts.settings_form import json_schema
    from isolint.rules import RULES

    return json_schema([rule.slug for rule in RULES])


def parts_schema() -> dict[str, object]:
    """The JSON Schema of part records."""
    from isolint.parts.record_form import json_schema

    return json_schema()

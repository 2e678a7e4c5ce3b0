"""The use case: two revisions of a repository, or one and the work tree, judged and compared."""

from __future__ import annotations

import gc
import posixpath
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, NamedTuple

from isolint import __version__
from isolint.app import Judged, Options, judge, rules
from isolint.errors import IsolintError, NotANetlist, SettingsError
from isolint.facts.paths import settings_paths
from isolint.project import BASELINE, Project, is_doubtful
from isolint.reports.safety import caution
from isolint.results import LEVELS, Level, NetlistReport, Report, told_of_crashes
from isolint.review.atoms import atoms_of
from isolint.review.causes import Hybrids
from isolint.review.classing import Classes
from isolint.review.committree import CommitTree, PolicyTree
from isolint.review.correspondence import correspond
from isolint.review.difference import electrical
from isolint.review.findings import Names, Revision
from isolint.review.items import Compared, items_of, merged, standing_of
from isolint.review.keys import KeyChange, is_policy, key_changes, order
from isolint.review.moves import moves
from isolint.review.newcomers import all_new
from isolint.review.parameter_lines import with_lines
from isolint.review.repository import Repository, TreeEntry
from isolint.review.suggestions import Suggestions
from isolint.review.values import Item, NetlistReview, Review, ValueChange, counts_at
from isolint.review.workfolder import changed_behind, changed_in_folder, read_behind, unseen
from isolint.source import FolderTree, Tree

Policy = Literal["head", "base"]


class ReviewOrder(NamedTuple):
    """What is compared. head: a revision, None for the work tree. exact: with `base` itself, not the merge base.

    policy: whose settings, records and baselines judge head.
    """

    base: str
    head: str | None = "HEAD"
    exact: bool = False
    policy: Policy = "head"


class _One(NamedTuple):
    """A netlist of one revision: judged, or why not; `none` where it is no netlist."""

    revision: Revision | None
    why: tuple[str, ...] = ()
    none: bool = False


def review(folder: Path, asked: ReviewOrder, options: Options) -> Review:
    """Compare two revisions of the repository that a folder belongs to; raise `IsolintError` where there is none."""
    repository = Repository.at(folder)
    lost: list[str] = []
    try:
        tip = repository.commit("HEAD" if asked.head is None else asked.head)
        given = repository.commit(asked.base)
        base = repository.base(given, tip, asked.exact)
        old = CommitTree(repository, base.id)
        target = old if given == base.id else CommitTree(repository, given)
        if asked.head is None:
            new: Tree = FolderTree(repository.root)
            changed, ids = changed_in_folder(repository, base.id)
            behind = old.through(), read_behind(repository, new, old.through())
            both: Mapping[str, TreeEntry] = old.files
        else:
            new = CommitTree(repository, tip)
            changed = repository.changed(base.id, tip)
            behind = old.through(), new.through()
            both = {**old.files, **new.files}
            lost = unseen(Project(new), *behind, both)
            ids = {path: held.id for path, held in repository.files(tip).items()}
        try:
            before = {path: held.id for path, held in repository.files(base.id).items()}
            own = frozenset(behind[0].keys() | behind[1].keys())
            changed = changed_behind(changed, *behind, both)
            found = compare(Revisions(old, new, before, ids, target, own), changed, asked.policy, options)
        finally:
            for tree in (old, new, target):
                if isinstance(tree, CommitTree):
                    tree.close()
    finally:
        repository.close()
    head = "" if asked.head is None else tip
    notes = (*([base.note] if base.note else []), *found.notes)
    why = "the submodule is at another commit now and is not here: what changed in it is not known"
    errors = (*found.errors, *(f"{path}: {why} (git submodule update --init)" for path in lost))
    return found._replace(base=base.id, head=head, notes=notes, errors=errors)


class Revisions(NamedTuple):
    """Two trees, with the ids of what their files hold.

    target: what head is to go into, whose policy may count; the old tree where it is None. behind: names behind links
    and in submodules: what is read there is no netlist of its own.
    """

    old: Tree
    new: Tree
    old_ids: Mapping[str, str]
    new_ids: Mapping[str, str]
    target: Tree | None = None
    behind: frozenset[str] = frozenset()


def compare(revisions: Revisions, changed: Iterable[str], policy: Policy, options: Options) -> Review:
    """Compare two trees that differ in some files; base and head of the review are left empty."""
    target = revisions.old if revisions.target is None else revisions.target
    run = _Run(revisions.old, revisions.new, target, policy, options, revisions.behind)
    return run.review(changed, revisions.old_ids, revisions.new_ids)


@dataclass(slots=True, eq=False, repr=False)
class _Run:
    """One review while it is made."""

    old: Tree
    new: Tree
    target: Tree
    policy: Policy
    options: Options
    behind: frozenset[str]
    netlists: list[NetlistReview] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    keys: list[KeyChange] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    reports: list[NetlistReport] = field(default_factory=list)
    _judged: dict[tuple[bool, str], _One] = field(default_factory=dict)

    def _policy(self) -> tuple[ValueChange, ...]:
        """What changed in settings, in one order."""
        return tuple(
            ValueChange("policy", change.name, _short(change.before), _short(change.after), change.file, change.line)
            for change in sorted(set(self.keys), key=order)
        )

    def review(self, changed: Iterable[str], old_ids: Mapping[str, str], new_ids: Mapping[str, str]) -> Review:
        """Judge and compare everything that depends on a changed file."""
        names = list(changed)
        before, after = self._concerned(names)
        gone, added = sorted(before.keys() - after.keys()), sorted(after.keys() - before.keys())
        found = moves(gone, added, old_ids, new_ids, self._share)
        moved = dict(found.moved)
        for path in sorted(path for path in before.keys() & after.keys() if before[path] or after[path]):
            self._pair(path, path)
        for path, there in found.moved:
            note = f"{path} is {there} now"
            if path in new_ids:
                note = f"{path} is judged as a part of {there} now"
            self._pair(path, there, "moved", note)
        for path in gone:
            if path not in moved:
                self._gone(path, path in new_ids)
        for path in added:
            if path not in moved.values():
                self._added(path, found.copied.get(path, ""))
        self._state_policy(names)
        items = merged(self.items)
        levels: list[Level] = [report.fail_on or "error" for report in self.reports] or ["error"]
        report = Report(__version__, tuple(self.reports), rules())
        return Review(
            __version__,
            "",
            "",
            tuple(self.netlists),
            items,
            self._policy(),
            tuple(dict.fromkeys(self.notes)),
            tuple(dict.fromkeys(self.errors)),
            caution(report),
            min(levels, key=LEVELS.index),
        )  # fmt: skip

    # -- which ------------------------------------------------------------------------------------------------

    def _concerned(self, changed: list[str]) -> tuple[dict[str, bool], dict[str, bool]]:
        """The top-level netlists of both trees that are of interest, each with whether a changed file concerns it."""
        projects = Project(self.old), Project(self.new)
        concerned = [
            {netlist for netlists in project.concerned(changed).values() for netlist in netlists}
            - self.behind.difference(project.tree.walk())
            for project in projects
        ]
        tops = [set(project.netlists()) | own for project, own in zip(projects, concerned, strict=True)]
        either = concerned[0] | concerned[1]
        before = {path: path in concerned[0] for path in tops[0] & either}
        after = {path: path in concerned[1] for path in tops[1] & either}
        return before, after

    # -- one netlist ----------------------------------------------------------------------------------------------

    def _one(self, head: bool, path: str, former: str = "") -> _One:
        """A netlist of one revision, judged once."""
        known = self._judged.get((head, path))
        if known is None:
            tree = self._policed(path, former) if head else self._policed_base()
            known = self._judged[head, path] = self._judge(tree, path)
        return known

    def _policed_base(self) -> Tree:
        """The base under the policy that counts: its own, or that of what head is to go into."""
        return self.old if self.policy == "head" or self.target is self.old else PolicyTree(self.old, self.target)

    def _policed(self, path: str, former: str) -> Tree:
        if self.policy == "head":
            return self.new
        moved = {posixpath.dirname(path): posixpath.dirname(former)} if former and former != path else {}
        return PolicyTree(self.new, self.target, moved)

    def _judge(self, tree: Tree, path: str) -> _One:
        if not gc.isenabled():
            gc.collect(0)
        if self.options.tell is not None:
            self.options.tell(path)
        try:
            return _One(Revision(judge(tree, path, "", self.options, watch=True)))
        except SettingsError as error:
            return _One(None, tuple(map(str, error.mistakes)))
        except NotANetlist as error:
            return _One(None, (f"{path}: {error.text}",), none=is_doubtful(path))
        except IsolintError as error:
            cure = f" ({error.cure})" if error.cure else ""
            return _One(None, (f"{path}: {error.text}{cure}",))

    def _share(self, old: str, new: str) -> float:
        one, two = self._one(False, old).revision, self._one(True, new, old).revision
        return 0.0 if one is None or two is None else correspond(one.netlist, two.netlist).share

    def _pair(self, old: str, new: str, fate: str = "", note: str = "") -> None:
        one, two = self._one(False, old), self._one(True, new, old)
        notes = (note,) if note else ()
        if two.revision is None:
            if two.none and one.none:
                return
            self.errors.extend(two.why)
            self.netlists.append(NetlistReview(old, new, fate, notes, judged=False))
            return
        self._report(two.revision)
        if one.revision is None:
            why = "" if one.none or not one.why else f": {one.why[0]}"
            told = f"not comparable, the base could not be judged{why}"
            self._all_new(two.revision, NetlistReview(old, new, fate, (*notes, told)))
            return
        self._tell_crash(one.revision, f"{old} of the base")
        self._compare(one.revision, two.revision, NetlistReview(old, new, fate, notes))

    def _report(self, new: Revision) -> None:
        """Take the report of a netlist as it is after the change; what isolint itself failed at is no answer."""
        self.reports.append(new.judged.report)
        self._tell_crash(new, new.judged.report.netlist)

    def _tell_crash(self, of: Revision, name: str) -> None:
        crashed = told_of_crashes(of.judged.report.results)
        if crashed:
            self.errors.append(f"{name}: {crashed}")

    def _compare(self, old: Revision, new: Revision, made: NetlistReview) -> None:
        compared = self._compared(old, new)
        classes = Classes(old, new, compared.names).all()
        items = items_of(compared, classes)
        if self.policy == "base":
            items = self._after_merge(compared, items)
        told = electrical(old, new, compared.found, compared.names, compared.atoms)
        self.items.extend(items)
        self.keys.extend(change for change, _ in self._changes(old, new) if change not in self.keys)
        self.netlists.append(
            made._replace(differences=told.changes, more=told.more, standing=standing_of(compared, items))
        )

    def _compared(self, old: Revision, new: Revision) -> Compared:
        found = correspond(old.netlist, new.netlist)
        names, back = Names(found), Names(found.reversed())
        atoms = with_lines(atoms_of(found), (self.old, old.netlist), (self.new, new.netlist))
        trees = self._policed_base(), self._policed(new.path, old.path)
        stated = [] if self.policy == "base" else self._changes(old, new)
        keys = tuple((change, former) for change, former in stated if not is_policy(change))
        trials = Hybrids(old, new, found, atoms, keys, trees, self.options)
        suggestions = Suggestions(new, trees[1], self.options)
        return Compared(old, new, found, names, back, atoms, keys, trials, suggestions)

    def _changes(self, old: Revision, new: Revision) -> list[tuple[KeyChange, str]]:
        """The keys that count for a netlist and are stated differently, with the path of the file before."""
        files = [_stated_files(each) for each in (old, new)]
        if self.policy == "base":
            files[1] = [path for path in _policy_paths(new.path) if self.new.exists(path)]
            files[1] += [path for path in old.judged.context.facts.part_files if self.new.exists(path)]
        moved = {_moved(path, old.path, new.path): path for path in files[0]}
        pairs = [(moved.pop(path, path if self.old.exists(path) else ""), path) for path in files[1]]
        pairs += [(path, "") for path in moved.values()]
        former = {after or before: before for before, after in pairs}
        return [(change, former[change.file]) for change in key_changes(self.old, self.new, pairs)]

    def _after_merge(self, compared: Compared, items: list[Item]) -> list[Item]:
        """Judge head by its own policy as well, where that differs, and say of each item that would go."""
        changes = self._changes(compared.old, compared.new)
        if not changes:
            return items
        own = self._judge(self.new, compared.new.path).revision
        if own is None:
            return items
        fail_on = own.judged.report.fail_on or "error"
        still = {
            (f.result.rule, f.result.subject, f.result.role): counts_at(f.counted, fail_on)
            for f in own.findings
            if f.kind in ("fail", "open") and not f.accepted
        }
        keys = f"{len(changes)} key{'s' if len(changes) > 1 else ''}"

        def told(item: Item) -> str:
            counts = still.get((item.rule, item.subject, item.role))
            if not item.counts or counts:
                return ""
            would = "pass" if counts is None else "not count"
            return f"would {would} with this request's settings ({keys}): counts after merge"

        return [item._replace(after_merge=told(item)) for item in items]

    # -- what is there once only --------------------------------------------------------------------------------------

    def _gone(self, path: str, there: bool) -> None:
        one = self._one(False, path)
        if one.none or one.revision is None:
            return
        failures = sum(finding.kind == "fail" and not finding.accepted for finding in one.revision.findings)
        word = f"{failures} failure{'s' if failures != 1 else ''}"
        if there:
            note = f"{path} was judged ({word}); now it is read as a part of another file, or holds no netlist"
            self.items.append(_unread(one.revision, note))
            self.netlists.append(NetlistReview(path, path, "gone", (note,)))
            return
        note = f"{path} is gone" + (f"; {word} went with it" if failures else "")
        self.netlists.append(NetlistReview(path, "", "gone", (note,)))

    def _added(self, path: str, source: str) -> None:
        two = self._one(True, path)
        if two.revision is None:
            if not two.none:
                self.errors.extend(two.why)
                self.netlists.append(NetlistReview("", path, "added", judged=False))
            return
        self._report(two.revision)
        notes: tuple[str, ...] = ()
        if source:
            failures = sum(finding.kind == "fail" for finding in two.revision.findings)
            notes = (f"copied from {source}: {failures} failure{'s' if failures != 1 else ''}",)
        self._all_new(two.revision, NetlistReview("", path, "copied" if source else "added", notes))

    def _all_new(self, new: Revision, made: NetlistReview) -> None:
        self.items.extend(all_new(new))
        self.netlists.append(made)

    # -- policy ---------------------------------------------------------------------------------------------------

    def _state_policy(self, changed: list[str]) -> None:
        """Say of settings that went as a whole that they did, rather than key by key."""
        for path in changed:
            if not path.lower().endswith(".toml") or not self.old.exists(path) or self.new.exists(path):
                continue
            own = [change for change in self.keys if change.file == path]
            if own:
                self.keys = [change for change in self.keys if change.file != path]
                self.keys.append(KeyChange(path, ("",), f"{len(own)} keys", ""))
                self.notes.append(f"{path} is gone, and the {len(own)} keys that it stated")


def _unread(old: Revision, note: str) -> Item:
    made = all_new(old, empty=True)[0]
    return made._replace(notes=(note,), after=made.after._replace(message=note))


def _stated_files(revision: Revision) -> list[str]:
    """Settings, records and baselines that were read for a netlist."""
    judged: Judged = revision.judged
    facts = judged.context.facts
    baselines = [path for path in judged.report.files if posixpath.basename(path) == BASELINE]
    return [*facts.files, *facts.part_files, *baselines]


def _policy_paths(netlist: str) -> list[str]:
    paths = list(settings_paths(netlist, ""))
    return [*paths, *(posixpath.join(posixpath.dirname(path), BASELINE) for path in paths)]


def _moved(path: str, old: str, new: str) -> str:
    """Where a file beside an old netlist lies beside the new one."""
    before, after = posixpath.dirname(old), posixpath.dirname(new)
    if before == after or not (path.startswith(f"{before}/") or not before):
        return path
    return posixpath.join(after, path.removeprefix(f"{before}/"))


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 120 else text[:117] + "..."

"""The baseline: old failures that nobody has looked at yet and that don't stop anyone.

In: the bytes of `isolint-baseline.toml`, and results. Out: results with their baseline state, and the file's text. An
entry holds only identity, level and margin, one entry a line, sorted, without dates, so that two branches merge and an
unchanged board gives unchanged bytes. A baseline accepts what it holds and nothing that got worse. It holds failures
only: an open result is a question, and what nobody answered nobody can have accepted.
"""

from __future__ import annotations

import math
import posixpath
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from isolint.errors import Mistake, Place, SettingsError
from isolint.kinds import TEXT, choice
from isolint.results import INTERNAL, Measure, Result
from isolint.tables import Kind, Site, Table, basic_string, parse, read_table, shortened

FILE_NAME = "isolint-baseline.toml"
FORMAT = "isolint-baseline/1"
MOST_BYTES = 8 * 1024 * 1024
"""What a baseline may take: some thirty thousand entries."""
WORSE = 0.02
"""A margin that fell by more than this share is worse."""

OPEN = "open"
_LEVELS = (OPEN, "note", "warning", "error")
_FINGERPRINT = re.compile(r"[0-9a-f]{32}")
_HEAD = f'''# Old failures, accepted unseen; new and worse ones count. `isolint baseline prune` removes what is cured.
format = "{FORMAT}"
results = [
'''


class KnownFailure(NamedTuple):
    """One known failure. netlist: path relative to the folder of the baseline. level: that of the failure; "open", as
    files of old have it, accepts nothing.

    margin, or measure with what is worse of it ("more", "less"): how bad it was. Without either it accepts nothing.
    group: the fingerprint of the fault itself, whoever carries it; "" in files that do not hold it.
    """

    netlist: str
    rule: str
    subject: str
    fingerprint: str
    level: str
    margin: float | None = None
    measure: float | None = None
    worse: str = ""
    line: int = 0
    group: str = ""

    @property
    def key(self) -> tuple[str, str, str, str, float, float]:
        """The order of entries in the file."""
        return (
            self.netlist,
            self.rule,
            self.subject,
            self.fingerprint,
            -math.inf if self.margin is None else self.margin,
            0.0 if self.measure is None else self.measure * (-1 if self.worse == "more" else 1),
        )


class Baseline(NamedTuple):
    """The entries of one file; `file` is its path in the tree."""

    file: str
    entries: tuple[KnownFailure, ...]

    @property
    def folder(self) -> str:
        """The folder that paths in it start from."""
        return posixpath.dirname(self.file)


def _fingerprint(raw: object, site: Site) -> str | None:
    if isinstance(raw, str) and _FINGERPRINT.fullmatch(raw):
        return raw
    site.wrong(f"{shortened(raw)} is not a fingerprint", "let `isolint baseline write` write the entry")
    return None


def _any_text(raw: object, site: Site) -> str | None:
    if isinstance(raw, str):
        return raw
    site.wrong(f"{shortened(raw)} is not a text", "write it in quotes")
    return None


def _number(raw: object, site: Site) -> float | None:
    """A number, infinite ones too: 0 ohm joins without limit."""
    if isinstance(raw, int | float) and not isinstance(raw, bool) and not math.isnan(raw):
        return float(raw)
    site.wrong(f"{shortened(raw)} is not a number", "let `isolint baseline write` write the entry")
    return None


ENTRY = Table(
    {
        "netlist": TEXT,
        "rule": TEXT,
        "subject": Kind("a text", '"XU1"', _any_text, {"type": "string"}),
        "fingerprint": Kind("a fingerprint", f'"{"0" * 32}"', _fingerprint, {"pattern": "^[0-9a-f]{32}$"}),
        "level": choice(*reversed(_LEVELS)),
        "margin": Kind("a number", "1.2", _number, {"type": "number"}),
        "measure": Kind("a number", "1.2", _number, {"type": "number"}),
        "worse": choice("more", "less"),
        "group": Kind("a fingerprint", f'"{"0" * 32}"', _fingerprint, {"pattern": "^[0-9a-f]{32}$"}),
    },
    required=("netlist", "rule", "subject", "fingerprint", "level"),
)


def read(data: bytes, file: str) -> Baseline:
    """Read a baseline; raise `SettingsError` with every mistake, since a baseline half read would accept at random."""
    mistakes: list[Mistake] = []
    document = parse(data, file, mistakes, MOST_BYTES)
    top = Site(file, "", mistakes)
    if not mistakes and document.get("format") != FORMAT:
        top.inner("format").wrong(f"{shortened(document.get('format'))} is not {FORMAT}", "write the file anew")
    for name in document:
        if name not in ("format", "results"):
            top.inner(name).wrong("unknown key", "known here: format, results")
    rows = document.get("results", [])
    if not isinstance(rows, list):
        top.inner("results").wrong(f"{shortened(rows)} is not a list", "write the file anew")
        rows = []
    lines = [n for n, line in enumerate(data.split(b"\n"), 1) if line.lstrip().startswith(b"{")]
    if len(lines) != len(rows):
        lines = [1] * len(rows)
    entries = []
    for index, (row, line) in enumerate(zip(rows, lines, strict=True)):
        found = read_table(row, ENTRY, top.inner("results").inner(index))
        if all(name in found for name in ENTRY.required):
            entries.append(KnownFailure(**{name: entry.value for name, entry in found.items()}, line=line))
    if mistakes:
        raise SettingsError(mistakes)
    return Baseline(file, tuple(entries))


def text(entries: Iterable[KnownFailure]) -> str:
    """Write a baseline file; the same entries in any order give the same bytes."""
    lines = []
    for entry in sorted(entries, key=lambda entry: entry.key):
        named = [
            (name, basic_string(getattr(entry, name)))
            for name in ("netlist", "rule", "subject", "level", "fingerprint")
        ]
        if entry.margin is not None:
            named.append(("margin", repr(entry.margin)))
        elif entry.measure is not None:
            named += [("measure", repr(entry.measure)), ("worse", basic_string(entry.worse))]
        if entry.group:
            named.append(("group", basic_string(entry.group)))
        lines.append("  { " + ", ".join(f"{name} = {value}" for name, value in named) + " },\n")
    return f"{_HEAD}{''.join(lines)}]\n"


def entry(result: Result, netlist: str) -> KnownFailure | None:
    """The entry that accepts a result, with `netlist` as its path; None where nothing is to accept."""
    if result.suppression is not None or not result.acceptable or result.role == INTERNAL:
        return None
    if result.kind != "fail":
        return None
    made = KnownFailure(
        netlist, result.rule, _stored(result.subject), result.fingerprint, result.level, *_how_bad(result)
    )
    return made._replace(group=result.group_fingerprint if result.group else "")


def _stored(name: str) -> str:
    """A name as the file can hold it."""
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


def _measure(result: Result) -> Measure:
    """How bad a failure is: its margin where it has one."""
    if result.margin is not None and _has_margin(result):
        return Measure(result.margin.value, larger_is_worse=False)
    return Measure.number_of(1) if result.measure is None else result.measure


def _how_bad(result: Result) -> tuple[float | None, float | None, str]:
    """Margin, or measure with what is worse of it, to three digits."""
    found = _measure(result)
    rounded = float(f"{found.value:.3g}")
    if _has_margin(result):
        return rounded, None, ""
    return None, rounded, "more" if found.larger_is_worse else "less"


def _has_margin(result: Result) -> bool:
    return result.kind == "fail" and result.margin is not None and not math.isnan(result.margin.value)


class Matched(NamedTuple):
    """Results with their state, entries of this netlist that nothing matches, and notes for the reader.

    moved: the path, in the baseline, of the file that this netlist was when the baseline was written; else "".
    rivals: other netlists that it may have been as well; then this one takes none of its entries.
    """

    results: tuple[Result, ...]
    stale: tuple[tuple[Baseline, KnownFailure], ...]
    moved: str = ""
    rivals: tuple[str, ...] = ()


def match(
    results: Sequence[Result],
    baselines: Sequence[Baseline],
    netlist: str,
    exists: Callable[[str], bool],
    alike: Callable[[], Iterable[str]] = tuple,
) -> Matched:
    """Give each failure its state; `netlist`, `exists` and `alike` use paths of the tree.

    alike: gives other netlists much like this one; asked for only where this one may have been moved.
    """
    own: list[tuple[Baseline, KnownFailure]] = []
    for baseline in baselines:
        name = _stored(relative(netlist, baseline.folder))
        own.extend((baseline, entry) for entry in baseline.entries if entry.netlist == name)
    moved = ""
    rivals: tuple[str, ...] = ()
    if not own:
        moved, own = _moved(results, baselines, netlist, exists)
    if moved:
        known = {
            posixpath.normpath(posixpath.join(each.folder, held.netlist)) for each in baselines for held in each.entries
        }
        rivals = tuple(sorted({path for path in alike() if _stored(path) not in known}))
        own = [] if rivals else own
    by_print: dict[str, list[tuple[Baseline, KnownFailure]]] = {}
    for baseline, held in own:
        by_print.setdefault(held.fingerprint, []).append((baseline, held))
    for pairs in by_print.values():
        pairs.sort(key=lambda pair: pair[1].key, reverse=True)
    states: dict[int, Result] = {}
    unknown: list[int] = []
    # The worst meets the worst that is held.
    for index in sorted(range(len(results)), key=lambda index: -_measure(results[index]).harm):
        result = results[index]
        if entry(result._replace(suppression=None), "") is None:
            continue
        pairs = by_print.get(result.fingerprint, [])
        at = next((place for place in reversed(range(len(pairs))) if pairs[place][1].level != OPEN), None)
        if at is None:
            unknown.append(index)
        else:
            states[index] = _judged(result, pairs.pop(at)[1])
    by_group: dict[str, list[tuple[Baseline, KnownFailure]]] = {}
    rest = [pair for pairs in by_print.values() for pair in pairs if pair[1].level != OPEN]
    for pair in sorted(rest, key=lambda pair: pair[1].key, reverse=True):
        by_group.setdefault(pair[1].group, []).append(pair)
    for index in unknown:
        # The same fault, which another channel carries now or whose nets a tool numbered anew.
        alike_ones = by_group.get(results[index].group_fingerprint, []) if results[index].group else []
        held_now = alike_ones.pop() if alike_ones else None
        if held_now is not None:
            by_print[held_now[1].fingerprint].remove(held_now)
        states[index] = _judged(results[index], None if held_now is None else held_now[1])
    done = tuple(states.get(index, result) for index, result in enumerate(results))
    hidden = {(result.rule, _stored(result.subject).casefold()) for result in results if _hides(result)}
    left = [pair for pairs in by_print.values() for pair in pairs]
    stale = [pair for pair in left if pair[1].level == OPEN or (pair[1].rule, pair[1].subject.casefold()) not in hidden]
    return Matched(done, tuple(sorted(stale, key=lambda pair: (pair[0].file, pair[1].key))), moved, rivals)


def _hides(result: Result) -> bool:
    """Whether a result says that its rule could not judge: then an entry of that rule is not known to be cured."""
    return result.kind == "open" or (result.kind == "notApplicable" and bool(result.blocked_by))


def _judged(result: Result, held: KnownFailure | None) -> Result:
    if held is None:
        return result._replace(baseline_state="new")
    if _LEVELS.index(result.level) > _LEVELS.index(held.level):
        return _worse(result, f"{result.level}, was {held.level}")
    name, now, before, falls = _compared(result, held)
    if before is None:
        return result._replace(
            baseline_state="updated",
            message=f"{result.message}; the baseline's entry does not say how bad it was and accepts nothing "
            "(isolint baseline write renews it)",
        )
    fell = now < before if falls else now > before
    if fell and (math.isinf(before) or abs(now - before) > WORSE * abs(before)):
        return _worse(result, f"{name} {now:.3g}, was {before:.3g}")
    return result._replace(baseline_state="unchanged")


def _compared(result: Result, held: KnownFailure) -> tuple[str, float, float | None, bool]:
    """What is compared: its name, its value now and in the entry (None without), and whether less is worse."""
    found = _measure(result)
    if _has_margin(result):
        return "margin", found.value, held.margin, True
    word = "more" if found.larger_is_worse else "less"
    known = held.measure if held.worse == word else None
    return "measure", found.value, known, not found.larger_is_worse


def _worse(result: Result, how: str) -> Result:
    return result._replace(baseline_state="updated", message=f"{result.message}; worse than in the baseline: {how}")


def _moved(
    results: Sequence[Result], baselines: Sequence[Baseline], netlist: str, exists: Callable[[str], bool]
) -> tuple[str, list[tuple[Baseline, KnownFailure]]]:
    """The entries of a file that is gone and that this netlist, which has none of its own, most probably was.

    Decided from this netlist alone, so that the answer does not depend on which others are checked with it.
    """
    faults = [result for result in results if result.kind == "fail"]
    wanted = Counter(result.fingerprint for result in faults)
    groups = Counter(result.group_fingerprint for result in faults if result.group)
    best: tuple[tuple[int, int, int, str], str, list[tuple[Baseline, KnownFailure]]] | None = None
    for baseline in baselines:
        by_netlist: dict[str, list[KnownFailure]] = {}
        for held in baseline.entries:
            by_netlist.setdefault(held.netlist, []).append(held)
        for name, entries in by_netlist.items():
            failing = [held for held in entries if held.level != OPEN]
            common = max(
                (Counter(held.fingerprint for held in failing) & wanted).total(),
                (Counter(held.group for held in failing if held.group) & groups).total(),
            )
            # Half of what it held must be there: one fault in common is no sign that a board was moved.
            if 2 * common < max(1, len(failing)) or exists(posixpath.normpath(posixpath.join(baseline.folder, name))):
                continue
            rank = (int(posixpath.basename(name) == posixpath.basename(netlist)), common, _suffix(name, netlist), name)
            if best is None or rank > best[0]:
                best = (rank, name, [(baseline, held) for held in entries])
    return ("", []) if best is None else best[1:]


def _suffix(one: str, other: str) -> int:
    """How many characters two paths have in common from the end."""
    return len(posixpath.commonprefix([one[::-1], other[::-1]]))


def absent(netlist: str, baseline: Baseline, held: KnownFailure) -> Result:
    """What stands in a report for an entry that nothing matches any more; it counts for nothing."""
    return Result(
        netlist=netlist,
        rule=held.rule,
        kind="notApplicable",
        level="none",
        message=f"{held.subject}: "
        + ("an open result is nothing to accept" if held.level == OPEN else "is in the baseline and no longer found"),
        where=Place(baseline.file, max(1, held.line)),
        subject=held.subject,
        remedy="isolint baseline prune removes the entry",
        baseline_state="absent",
    )


def relative(path: str, folder: str) -> str:
    """A path of the tree below `folder` as it stands in a baseline there."""
    return path.removeprefix(f"{folder}/") if folder else path

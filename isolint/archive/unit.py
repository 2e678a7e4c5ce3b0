"""One netlist of an archive, judged: what goes into the store, made in a process of its own.

In: a request of plain values. Out: an answer of bytes and words. Nothing but what the netlist and what it asks for
hold comes into a document: no path above its folder, no clock, no machine.
"""

from __future__ import annotations

import json
import posixpath
from collections.abc import Callable
from contextlib import suppress
from datetime import date
from functools import cache, partial
from pathlib import Path
from typing import NamedTuple, TypeVar

from isolint import __version__, app
from isolint.acceptance import against_baselines
from isolint.archive.asks import Ask, AskedTree, PlacedPaths, digest_of, told
from isolint.archive.codec import BadRecord, canonical, packed, plain, read
from isolint.checking.waivers import UNMATCHED
from isolint.drawn import ChannelSheet
from isolint.errors import FAULTS, IsolintError, NotANetlist, Refused, SettingsError, itself_failed
from isolint.reports import summary
from isolint.results import Inventory, NetlistReport, Report, WorksheetSection, renamed
from isolint.source import Tree

T = TypeVar("T")

FORMAT = "isolint-unit/1"
MOST_TOLD = 20
"""Mistakes of settings that a failed unit tells."""


class InstanceBlock(NamedTuple):
    """An instance of a definition. digest: of what the definition holds, ports by their order, other names left out."""

    instance: str
    name: str
    digest: str


class Doc(NamedTuple):
    """What is kept of one netlist. Paths are relative to its folder; it calls itself "".

    blocks: the definitions that failures and questions lie in.
    """

    report: NetlistReport
    inventory: Inventory
    channels: tuple[ChannelSheet, ...]
    calculation: tuple[WorksheetSection, ...]
    blocks: tuple[InstanceBlock, ...] = ()


class Rules(NamedTuple):
    """How a run judges. day: as of which waivers count, as 2027-06-30. tool: the digest of the tool."""

    strict: bool
    day: str
    tool: str


class UnitAnswer(NamedTuple):
    """What became of a netlist.

    outcome: done, failed or unreadable; reason: why it is not done. digest: of the netlist's content as it was read.
    key: of the judgement. memory: the most that the process has needed so far, in bytes.
    """

    outcome: str
    reason: str
    digest: str
    key: str
    asks: tuple[Ask, ...]
    doc: bytes
    doc_digest: str
    dated: bool
    status: int
    opens: int
    memory: int


@cache
def tool_digest() -> str:
    """The digest of every file of the package and of the grammars: of the tool and its rules."""
    import isolint
    from isolint.netlist.grammar import grammar_text

    package = Path(isolint.__file__).parent
    files = [path for path in package.rglob("*") if path.suffix in (".py", ".toml", ".json")]
    found = {path.relative_to(package).as_posix(): path.read_bytes() for path in files}
    found |= {f"grammars/{name}": grammar_text(name).encode() for name in ("cards", "dots", "expression")}
    lines = [f"{name}\x1f{digest_of(found[name])}" for name in sorted(found)]
    return digest_of("\n".join(lines).encode())


def written(answer: UnitAnswer) -> bytes:
    """An answer as bytes, to travel from the process that gave it."""
    head = {name: plain(value) for name, value in answer._asdict().items() if name != "doc"}
    return canonical(head) + b"\n" + answer.doc


def answered(data: bytes) -> UnitAnswer:
    """The answer that bytes hold; raise `BadRecord`."""
    head, _, doc = data.partition(b"\n")
    try:
        raw = json.loads(head)
    except ValueError:
        raise BadRecord("an answer is no JSON") from None
    if not isinstance(raw, dict):
        raise BadRecord("an answer is no object")
    return read(UnitAnswer, {**raw, "doc": b""})._replace(doc=doc)


def key_of(rules: Rules, netlist: str, asks: tuple[Ask, ...], dated: bool) -> str:
    """The key of a judgement: equal keys are equal work. dated: whether a waiver was looked at."""
    words = [FORMAT, rules.tool, str(rules.strict), rules.day if dated else "", netlist]
    return digest_of(canonical([*words, plain(asks)]))


def judge(tree: Tree, path: str, rules: Rules) -> UnitAnswer:
    """Judge one netlist of a tree; whatever goes wrong is an answer."""
    placed = PlacedPaths(path)
    asked = AskedTree(tree, placed)
    outcome, reason = "done", ""
    doc: Doc | None = None
    dated = False
    try:
        doc, dated = _judged(asked, placed, rules)
    except SettingsError as error:
        told_of = [told(str(mistake)) for mistake in error.mistakes[:MOST_TOLD]]
        outcome, reason = "failed", "\n".join(told_of)
    except NotANetlist as error:
        outcome, reason = "unreadable", told(error.text)
    except IsolintError as error:
        outcome, reason = "failed", told(error.text + (f" ({error.cure})" if error.cure else ""))
    except (RecursionError, MemoryError):
        outcome, reason = "failed", "it is nested too deeply or too large for this machine (check its parts one by one)"
    except FAULTS as error:
        outcome, reason = "failed", itself_failed(error)
    if not asked.netlist_digest:
        # Its settings can't be read, so that nobody came to read the netlist.
        with suppress(Refused):
            asked.read(placed.named)
    asks = asked.asks()
    data = b"" if doc is None else packed(_told_of(plain(doc)))
    key = key_of(rules, asked.netlist_digest, asks, dated)
    return UnitAnswer(
        outcome,
        reason,
        asked.netlist_digest,
        key,
        asks,
        data,
        digest_of(data) if data else "",
        dated,
        *_counted(doc),
        _memory(),
    )


def _counted(doc: Doc | None) -> tuple[int, int]:
    """The exit status and the number of open questions; a waiver that other netlists share may match one of those."""
    if doc is None:
        return 2, 0
    report = doc.report._replace(results=tuple(each for each in doc.report.results if each.role != UNMATCHED))
    return Report(__version__, (report,), (), report.fail_on or "error").exit_status, summary.counts(
        report.results
    ).opens


def _judged(asked: AskedTree, placed: PlacedPaths, rules: Rules) -> tuple[Doc, bool]:
    from isolint.archive.shared_blocks import blocks_of
    from isolint.checking.barrier_sheet import barrier_sections
    from isolint.checking.calculation import sheet
    from isolint.checking.channel_drawing import channel_sheet
    from isolint.checking.inventory import inventory

    options = app.Options(strict=rules.strict, today=date.fromisoformat(rules.day), baseline=False)
    judged = app.judge(asked, placed.named, placed.root, options)
    context, report = judged.context, judged.report
    spoken = {rule.slug for rule in context.rulebook.rules if rule.group == "barrier" or "identity" in rule.judges}
    crossings = inventory(context, [result for result in report.results if result.rule in spoken], __version__)
    drawn = tuple(channel_sheet(context, channel) for channel in context.channels)
    sheets = (
        *(section for channel in context.channels for section in sheet(context, channel)),
        *barrier_sections(context),
    )
    dated = bool(context.facts.waivers)
    if asked.has_baseline():
        report = renamed(report, lambda name: placed.real(name) or name)
        report = against_baselines(asked.with_real_names(), "", report)
        report = renamed(report, lambda name: name if name.startswith("isolint:") else placed.own(name))
        report = renamed(report, lambda name: placed.named if name == placed.own(placed.netlist) else name)
    kept = tuple(each for each in report.results if each.kind != "notApplicable" or each.blocked_by or each.message)
    wrong = dict.fromkeys(each.instance for each in kept if each.kind in ("fail", "open") and each.instance)
    blocks = tuple(blocks_of(judged.cards, context.circuit, wrong))
    return Doc(report._replace(results=kept), crossings, drawn, sheets, blocks), dated


def _told_of(raw: object) -> object:
    """Plain values with all paths relative to the netlist's folder."""
    if isinstance(raw, str):
        return told(raw)
    if isinstance(raw, list):
        return [_told_of(each) for each in raw]
    if isinstance(raw, dict):
        return {told(key): _told_of(each) for key, each in raw.items()}
    return raw


def _memory() -> int:
    """The most that this process has needed so far, 0 where the system does not say."""
    try:
        import resource
        import sys
    except ImportError:
        return 0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024


def placed_at(path: str, doc: Doc) -> Doc:
    """A document with its paths as those of the tree that a netlist lies in, for whoever reads several of them."""
    rename: Callable[[str], str] = partial(_at, path)
    drawn = tuple(each._replace(place=each.place._replace(file=rename(each.place.file))) for each in doc.channels)
    inventory = doc.inventory._replace(netlist=path)
    return doc._replace(report=renamed(doc.report, rename), inventory=inventory, channels=drawn)


def _at(path: str, name: str) -> str:
    if name == "":
        return path
    if name.startswith("isolint:"):
        return name
    return posixpath.normpath(posixpath.join(posixpath.dirname(path), name))

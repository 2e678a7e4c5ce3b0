"""The index of a record: what the archive came to, what its boards have in common, which facts would settle most."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from isolint.archive import pieces
from isolint.archive.board_page import run_table
from isolint.archive.gathering import GROUPS, IndexRow, page_of
from isolint.archive.pieces import beside, code, table
from isolint.archive.root_causes import SharedCause, WantedFact
from isolint.reports.escape import html
from isolint.reports.summary import plural

A_PAGE = 500
"""Boards of one page."""
MOST_CAUSES = 100
MOST_NAMED = 12

_GROUPS = {
    "failing": "with failures",
    "open": "with open questions only",
    "unreadable": "that could not be read or judged",
    "sound": "without either",
}


class Whole(NamedTuple):
    """What the index is made of. states: files by state in words; others: files that are no boards, with why."""

    run: Mapping[str, str]
    incomplete: str
    states: Sequence[tuple[str, int]]
    rows: Sequence[IndexRow]
    causes: Sequence[SharedCause]
    wanted: Sequence[WantedFact]


def name_of(at: int) -> str:
    """The name of a page of the index, from 0."""
    return "index.html" if at == 0 else f"index-{at + 1}.html"


def render(whole: Whole) -> Iterator[tuple[str, str]]:
    """Write all pages of the index: names and texts."""
    rows = sorted(whole.rows, key=lambda row: row.order)
    pages = [rows[at : at + A_PAGE] for at in range(0, len(rows), A_PAGE)] or [[]]
    for at, part in enumerate(pages):
        body = [*_head(whole)] if at == 0 else [f"<h1>Boards, page {at + 1} of {len(pages)}</h1>"]
        body += [*_boards(part, at, len(pages))]
        if at == 0:
            body += [*_tail(whole)]
        yield name_of(at), pieces.page(f"isolint record of {_roots(whole.run)}", body, script=True)


def _roots(run: Mapping[str, str]) -> str:
    return ", ".join(run["roots"].split("\n"))


def _head(whole: Whole) -> Iterator[str]:
    if whole.incomplete:
        yield f'<p class="incomplete">incomplete: {html(whole.incomplete)}</p>'
    yield f"<h1>Record of the netlists of {html(_roots(whole.run))}</h1>"
    yield pieces.caution()
    files = sum(count for _, count in whole.states)
    yield table(
        f"{plural(files, 'file')}, each once",
        ("what", "number"),
        [*((html(state), str(count)) for state, count in whole.states), ("all", str(files))],
        (1,),
    )
    if whole.run.get("left_out"):
        yield f"<p>Left out of it: {html(', '.join(whole.run['left_out'].split(chr(10))))}.</p>"
    groups = [(_GROUPS[group], str(sum(row.group == group for row in whole.rows))) for group in GROUPS]
    yield table(f"{plural(len(whole.rows), 'board')}", ("boards", "number"), groups, (1,))
    cards, understood = sum(row.cards for row in whole.rows), sum(row.understood for row in whole.rows)
    channels, judged = sum(row.channels for row in whole.rows), sum(row.judged for row in whole.rows)
    yield (
        f"<p>Coverage: {understood} of {plural(cards, 'card')} read, {judged} of {plural(channels, 'channel')} judged. "
        "What was not is no pass.</p>"
    )
    yield from _causes(whole.causes)
    yield from _wanted(whole.wanted)


def _causes(causes: Sequence[SharedCause]) -> Iterator[str]:
    if not causes:
        return
    yield "<h2>What several boards have in common</h2>"
    rows = []
    for cause in causes[:MOST_CAUSES]:
        named = [_link(*title.split("/", 1)) for title in cause.boards[:MOST_NAMED]]
        more = len(cause.boards) - len(named)
        where = ", ".join(named) + (f" and {more} more" if more else "")
        numbers = (str(len(cause.boards)), str(cause.fails), str(cause.opens))
        told = "the same rule, nothing nearer" if cause.kind == "rule" else f"{cause.kind}: {cause.what}"
        rows.append((html(told), f'<span class="w">{html(cause.rule)}</span>', *numbers, where))
    yield table("One line a cause", ("cause", "rule", "boards", "failures", "open", "where"), rows, (2, 3, 4))
    if len(causes) > MOST_CAUSES:
        yield f"<p>{len(causes) - MOST_CAUSES} more stand in csv/causes.csv.</p>"


def _link(root: str, path: str) -> str:
    return f'<a href="boards/{page_of(root, path)}">{html(f"{root}/{path}")}</a>'


def _wanted(wanted: Sequence[WantedFact]) -> Iterator[str]:
    if not wanted:
        return
    yield "<h2>The facts that would settle most</h2>"
    yield "<p>Each line counts only what the lines before it leave open; a question may need several facts.</p>"
    rows = [(html(each.key), code(each.example), str(each.boards), str(each.results)) for each in wanted]
    yield table("Ask for these first", ("fact", "write", "boards", "questions"), rows, (2, 3))


def _boards(rows: Sequence[IndexRow], at: int, pages: int) -> Iterator[str]:
    yield "<h2>Boards</h2>"
    links = [
        f'<a href="{name_of(other)}">{other + 1}</a>' if other != at else f"<strong>{other + 1}</strong>"
        for other in range(pages)
    ]
    nav = f'<nav aria-label="pages of the index">Page {" ".join(links)}</nav>' if pages > 1 else ""
    yield nav
    heads = ("board", "verdict", "failures", "open", "waived", "channels", "judged", "smallest margin", "of", "remark")
    yield table(
        "Failing first, then open, unreadable, sound; a margin is over what is required, 1.00 is just enough",
        heads,
        (
            (
                _link(row.root, row.path),
                f'<span class="w">{row.group}</span>',
                *map(str, (row.fails, row.opens, row.waived, row.channels, row.judged)),
                beside(row.worst, 1.0, "1")[0],
                f'<span class="w">{html(row.worst_rule) or "-"}</span>',
                html(_remark(row)),
            )
            for row in rows
        ),
        (2, 3, 4, 5, 6, 7),
        sorts=True,
    )
    yield nav


def _remark(row: IndexRow) -> str:
    """Why it could not be judged, what fails, and of which board it is a copy."""
    fails = f"fails {', '.join(row.failing)}" if row.failing else ""
    same = f"equal to {row.same_as}" if row.same_as else ""
    return "; ".join(each for each in (row.reason.split("\n")[0], fails, same) if each)


def _tail(whole: Whole) -> Iterator[str]:
    yield "<h2>Run record</h2>"
    yield run_table(whole.run)
    yield "<p>Tables for spreadsheets stand in the folder csv, all files of the archive in csv/files.csv.</p>"
    yield pieces.sign_off()

"""The tables of a record as CSV (RFC 4180): what the pages show, for spreadsheets. No cell is taken for a formula."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from isolint.archive.gathering import Board, IndexRow
from isolint.archive.root_causes import SharedCause
from isolint.archive.store import Unit
from isolint.archive.worst_case import corner_of, deciding, quantities
from isolint.reports.escape import csv_cell
from isolint.reports.wording import accepted
from isolint.results import Result

Cell = str | int | float | None

HEADS: Final = {
    "boards": "root,path,state,reason,same_as,channels,judged,fails,opens,waived,worst_rule,worst_margin,digest",
    "results": "root,path,rule,kind,level,subject,role,file,line,margin,required,measure,unit,corner,fingerprint,"
    "suppression",
    "worst_case": "root,path,subject,item,parameter,unit,min,nominal,max,limit_kind,limit,margin,corner,method,source",
    "opens": "root,path,rule,subject,role,file,key,example,message",
    "waivers": "root,path,rule,subject,role,by,until,justification,message",
    "causes": "kind,what,rule,boards,fails,opens,where",
    "files": "root,path,state,reason,size,digest",
}
"""The columns of each table."""


def line(cells: Iterable[Cell]) -> str:
    """One line of a table: texts quoted, numbers as they are, nothing for what is unknown."""
    return ",".join(map(_cell, cells)) + "\r\n"


def _cell(cell: Cell) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    return csv_cell(cell) if isinstance(cell, str) else repr(cell)


def board_line(row: IndexRow) -> str:
    """A board."""
    about = (row.root, row.path, row.state, row.reason, row.same_as, row.channels, row.judged, row.fails, row.opens)
    return line((*about, row.waived, row.worst_rule, row.worst, row.digest))


def file_line(unit: Unit) -> str:
    """A file."""
    return line((unit.root, unit.path, unit.state, unit.reason, unit.size, unit.digest))


def cause_line(cause: SharedCause) -> str:
    """What several boards share."""
    number = len(cause.boards)
    return line((cause.kind, cause.what, cause.rule, number, cause.fails, cause.opens, "; ".join(cause.boards)))


def lines_of(board: Board) -> dict[str, str]:
    """What a board adds to the tables that go through all results."""
    found = {"results": "", "worst_case": "", "opens": "", "waivers": ""}
    if board.doc is None:
        return found
    about = (board.unit.root, board.unit.path)
    for result in board.doc.report.results:
        found["results"] += line((*about, *_result(result)))
        if result.kind == "open":
            for fact in result.missing or (None,):
                missing = ("", "", "") if fact is None else (fact.file, fact.key, fact.example)
                found["opens"] += line((*about, result.rule, result.subject, result.role, *missing, result.message))
        if result.suppression is not None:
            waiver = result.suppression
            said = (waiver.by, waiver.until, waiver.justification, result.message)
            found["waivers"] += line((*about, result.rule, result.subject, result.role, *said))
    for each in quantities(board.doc.report.results):
        found["worst_case"] += line((*about, *each[:10], each.corner, each.method, each.source))
    return found


def _result(result: Result) -> Iterator[Cell]:
    yield from (result.rule, result.kind, result.level, result.subject, result.role)
    yield from (result.where.file, result.where.line)
    yield from (None, None) if result.margin is None else (result.margin.value, result.margin.required)
    found = deciding(result)
    yield None if result.measure is None else result.measure.value
    yield "" if found is None else found.unit
    yield "" if found is None else corner_of(result, found)
    yield result.fingerprint
    yield accepted(result)

"""The page of one board: what crosses, each channel with its numbers, what failed, what is open, how it was got."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from isolint.archive import pieces
from isolint.archive.gathering import Board
from isolint.archive.pieces import beside, code, number, table, words
from isolint.archive.unit import Doc
from isolint.archive.worst_case import corner_of, deciding, quantities
from isolint.drawn import ChannelSheet
from isolint.reports import summary
from isolint.reports.barrier_page import barrier_parts
from isolint.reports.escape import html
from isolint.reports.schematic import schematic
from isolint.reports.wording import accepted, details, label
from isolint.results import Result
from isolint.units import show

SEEN_ONLY = (
    "A netlist says nothing of layout: creepage and clearance on the board, slots, pads, heat of neighbours, the part "
    "that was really fitted. They can't be known from here."
)

NO_CORNER = "worst ends of all that is stated and assumed"
"""Said of a number that no corner of tolerances was solved for."""


def render(board: Board, run: Mapping[str, str]) -> str:
    """Write the page. run: what is stated of the whole run."""
    return pieces.page(f"{board.title}: isolint record", _body(board, run))


def _body(board: Board, run: Mapping[str, str]) -> Iterator[str]:
    yield '<nav><a href="../index.html">All boards</a></nav>'
    yield f"<h1>{html(board.title)}</h1>"
    if board.same_as:
        yield f"<p>Equal in content and findings to {html(board.same_as)}.</p>"
    doc = board.doc
    if doc is None:
        yield f'<p class="fails"><span class="mark">{_STATES[board.unit.state]}:</span> {words(board.unit.reason)}</p>'
        yield "<p>Nothing is known of this board. That is no pass.</p>"
        yield from _end(board, run)
        return
    yield f"<p>{html(summary.line(doc.report.results, [doc.report]))}.</p>"
    told = summary.not_judged(doc.report)
    if told:
        yield f'<p class="fails">{html(told)}</p>'
    yield from _results(doc)
    yield "<h2>Barriers</h2>"
    yield from barrier_parts(doc.inventory)
    yield f"<p>{html(SEEN_ONLY)}</p>"
    yield from _channels(doc)
    yield from _worst_case(doc)
    yield from _assumptions(doc)
    yield from _coverage(doc)
    if doc.calculation:
        yield "<h2>Calculation, to be redone by hand</h2>"
        for section in doc.calculation:
            lines = [f"{line.text}{f'  # {line.origin}' if line.origin else ''}" for line in section.lines]
            yield f"<h3>{html(section.title)}</h3>"
            if lines:
                yield f"<pre>{chr(10).join(map(html, lines))}</pre>"
    yield from _end(board, run)


_STATES = {"failed": "could not be judged", "unreadable": "unreadable"}


# -- what was found ---------------------------------------------------------------------------------------------


def _results(doc: Doc) -> Iterator[str]:
    results = doc.report.results
    fails = [result for result in results if summary.is_active(result)]
    opens = [
        result
        for result in results
        if result.kind == "open" and not summary.is_waived(result) and not summary.is_known(result)
    ]
    held = [result for result in results if accepted(result)]
    stale = [result for result in results if summary.is_stale(result)]
    yield f"<h2>Failures: {len(fails)}</h2>"
    yield from map(_result, fails)
    yield f"<h2>Open questions: {len(opens)}</h2>"
    if opens:
        yield "<p>Not a pass: each waits for the fact that settles it.</p>"
    yield from map(_result, opens)
    if held:
        yield f"<h2>Accepted: {len(held)}</h2>"
        yield from map(_result, held)
    if stale:
        yield f"<h2>Entries of a baseline that nothing matches: {len(stale)}</h2>"
        yield from map(_result, stale)


def _result(result: Result) -> str:
    said = accepted(result)
    head = f"{label(result)}: {result.message} [{result.rule}]"
    lines = "\n".join(html(line) for line in details(result))
    return (
        f'<div class="fails"><p><span class="mark">{html(head)}</span><br>{html(str(result.where))}'
        f"{f'<br>{html(said)}' if said else ''}</p>{f'<pre>{lines}</pre>' if lines else ''}</div>"
    )


# -- channels ---------------------------------------------------------------------------------------------------


def _channels(doc: Doc) -> Iterator[str]:
    if doc.channels:
        yield f"<h2>Channels: {len(doc.channels)}</h2>"
    by_subject: dict[str, list[Result]] = {}
    for result in doc.report.results:
        if result.margin is not None and result.kind in ("pass", "fail", "open"):
            by_subject.setdefault(result.subject, []).append(result)
    for sheet in doc.channels:
        yield f"<h3>{html(f'{sheet.subject}: {sheet.type} {sheet.model}')} ({html(str(sheet.place))})</h3>"
        yield f"<p>{html(_current(sheet))}</p>"
        yield schematic(sheet)
        yield from _bars(sheet.subject, by_subject.pop(sheet.subject, []))
    rest = [result for results in by_subject.values() for result in results]
    if rest:
        yield "<h3>Margins that belong to no single channel</h3>"
        yield from _bars("others", rest)


def _current(sheet: ChannelSheet) -> str:
    if len(sheet.currents) != 3:
        return f"LED current: not solved: {sheet.drive.why or 'nothing drives it'}"
    least, nominal, most = (show(value, "A") for value in sheet.currents)
    return f"LED current in the on state: {least} at least, {nominal} nominal, {most} at most."


def _bars(subject: str, results: Sequence[Result]) -> Iterator[str]:
    rows = []
    for result in results:
        assert result.margin is not None
        found = deciding(result)
        name = f"{result.rule}{f' {result.role}' if result.role else ''}"
        corner = "" if found is None else corner_of(result, found)
        rows.append((name, result.margin.value, result.margin.required, corner or NO_CORNER))
    if rows:
        yield pieces.bars(rows, f"margins of {subject} against what is required")


def _worst_case(doc: Doc) -> Iterator[str]:
    heads = ("item", "parameter", "min", "nominal", "max", "limit", "margin", "verdict", "corner", "method", "source")
    rows = []
    for each in quantities(doc.report.results):
        unit = each.unit
        held, limit = beside(each.held, each.limit, unit)
        ends = (held if end is each.held else number(end, unit) for end in (each.least, each.nominal, each.most))
        margin, _ = beside(each.margin, each.required or 1.0, "1")
        parameter = html(f"{each.item} {each.parameter}".strip())
        told = f'<span class="w">{html(each.limit_kind)} {limit}</span>'
        corner = each.corner or ("nominal values" if "nominal" in each.item else NO_CORNER)
        about = (html(each.verdict), html(corner), html(each.method), html(each.source) or "-")
        rows.append((html(each.subject), parameter, *ends, told, margin, *about))
    yield "<h2>Worst-case table</h2>"
    if rows:
        yield table("Every number that was held against a limit", heads, rows, (2, 3, 4, 6))
    else:
        yield "<p>No number was held against a limit.</p>"


def _assumptions(doc: Doc) -> Iterator[str]:
    found: dict[tuple[str, str, str], list[str]] = {}
    for result in doc.report.results:
        for each in result.assumptions:
            value = (
                each.value if each.unit in ("", "1") or each.value.endswith(each.unit) else f"{each.value} {each.unit}"
            )
            users = found.setdefault((each.name, value, each.origin), [])
            users.append(f"{result.subject} {result.rule}")
    yield "<h2>Assumptions</h2>"
    if not found:
        yield "<p>Nothing was assumed that nobody stated.</p>"
        return
    rows = [(*map(html, key), html(", ".join(dict.fromkeys(users)))) for key, users in found.items()]
    yield table("Values that nobody stated and that verdicts use", ("what", "value", "origin", "used by"), rows)


def _coverage(doc: Doc) -> Iterator[str]:
    coverage = doc.report.coverage
    yield "<h2>Coverage</h2>"
    rows = [
        ("cards read", f"{coverage.understood} of {coverage.cards}"),
        ("channels", html(summary.channels([coverage]))),
        ("parts of four pins and more explained", f"{coverage.explained} of {coverage.parts}"),
        *((html(reason), str(count)) for reason, count in sorted(coverage.reasons.items())),
    ]
    yield table("What was understood", ("what", "how much"), rows)
    listed = summary.listed(doc.report)
    notes = [*((listed,) if listed else ()), *doc.report.notes, *coverage.notes]
    yield from (f"<p>{html(note)}</p>" for note in dict.fromkeys(notes))


# -- how it was got -----------------------------------------------------------------------------------------------


def _end(board: Board, run: Mapping[str, str]) -> Iterator[str]:
    yield "<h2>Run record</h2>"
    yield run_table(run, [("netlist, sha-256", board.unit.digest or "-"), ("judgement", board.unit.key or "-")])
    read = (
        []
        if board.trace is None
        else [ask for ask in board.trace.asks if ask.what in ("read", "settings", "baselines")]
    )
    rows: list[tuple[str, ...]] = []
    for ask in read:
        if ask.what == "read":
            rows.append((html(ask.name), code(ask.answer[0])))
        else:
            rows += [(html(name), code(digest)) for name, _, digest in (each.partition("\x1f") for each in ask.answer)]
    if rows:
        yield table("Files that it was judged by, from its folder", ("file", "sha-256"), rows)
    yield pieces.caution()
    yield pieces.sign_off()


def run_table(run: Mapping[str, str], more: Sequence[tuple[str, str]] = ()) -> str:
    """What the run was."""
    rows: list[tuple[str, str]] = [
        ("tool", f"isolint {run['version']}"),
        ("tool and rule set, sha-256", run["tool"]),
        ("command", run["command"]),
        ("waivers judged as of", run["day"]),
        ("strict", "yes" if run["strict"] == "True" else "no"),
        *more,
    ]
    return table("How it was judged", ("what", "value"), [(html(name), html(value)) for name, value in rows])

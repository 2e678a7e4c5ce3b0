"""What a run comes to, counted once for every format: a clean run must say why it is silent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from isolint.results import Coverage, NetlistReport, Report, Result

SHEET = "sheet"
"""The role of the one question about all unexplained parts of a netlist."""

NOTHING = "NOTHING WAS JUDGED: "

MOST_UNANSWERED = 5

MOST_LISTED = 6

MOST_WITHOUT_RULES = 3


class Counts(NamedTuple):
    """How many results there are of each sort; `errors`, `warnings`, `notes` add up to `failures`.

    A failure that is waived or accepted by a baseline is counted there only. `stale` are entries of a baseline that
    nothing matches any more.
    """

    errors: int
    warnings: int
    notes: int
    opens: int
    waived: int
    known: int
    passes: int
    not_applicable: int
    stale: int = 0

    @property
    def failures(self) -> int:
        """All failures that nobody accepted."""
        return self.errors + self.warnings + self.notes


def is_waived(result: Result) -> bool:
    """Whether a named role accepted this result."""
    return result.suppression is not None


def is_known(result: Result) -> bool:
    """Whether a baseline holds this result."""
    return result.suppression is None and result.baseline_state == "unchanged"


def is_stale(result: Result) -> bool:
    """Whether this stands for an entry of a baseline that nothing matches any more."""
    return result.baseline_state == "absent"


def is_active(result: Result) -> bool:
    """Whether this is a failure that nobody accepted."""
    return result.kind == "fail" and not (is_waived(result) or is_known(result) or is_stale(result))


def is_crash(result: Result) -> bool:
    """Whether a rule raised instead of judging."""
    return result.is_crash


def counts(results: Iterable[Result]) -> Counts:
    """Count results by sort."""
    number = dict.fromkeys(("error", "warning", "note", "open", "waived", "known", "stale", "pass", "notApplicable"), 0)
    for result in results:
        if is_stale(result):
            number["stale"] += 1
        elif result.kind in ("pass", "notApplicable"):
            number[result.kind] += 1
        elif is_waived(result):
            number["waived"] += 1
        elif is_known(result):
            number["known"] += 1
        elif result.kind == "open":
            number["open"] += 1
        else:
            number[result.level] += 1
    return Counts(
        errors=number["error"],
        warnings=number["warning"],
        notes=number["note"],
        opens=number["open"],
        waived=number["waived"],
        known=number["known"],
        passes=number["pass"],
        not_applicable=number["notApplicable"],
        stale=number["stale"],
    )


def percent_understood(coverage: Coverage) -> int:
    """Whole percent of cards understood, rounded down: 100 only if every card was understood."""
    return coverage.understood * 100 // coverage.cards if coverage.cards else 100


def coupler_count(netlist: NetlistReport) -> int:
    """Number of coupler parts (a part with several channels counts once)."""
    return len({coupler.part for coupler in netlist.couplers})


def not_judged(netlist: NetlistReport) -> str:
    """Say why nothing was judged, or give an empty string where at least one channel was."""
    coverage = netlist.coverage
    if coverage.measured:
        return ""
    silence = coverage.silence
    if coverage.channels:
        told = (
            f"no channel could be judged: {plural(coverage.channels, 'channel')} found, each lacks facts or is blocked"
        )
    else:
        parts = {part for barrier in netlist.barriers for part in barrier.parts}
        if not parts:
            return (
                silence
                or f"no channel could be judged: no coupler was recognised among {plural(coverage.cards, 'card')}"
            )
        told = f"no channel could be judged: of {plural(len(parts), 'barrier part')} none has a channel with an output"
    return f"{told}; {silence.removeprefix(NOTHING)}" if silence.startswith(NOTHING) else told


def line(results: Iterable[Result], netlists: Iterable[NetlistReport]) -> str:
    """One line: `3 failures, 1 open, 0 waived; 5 channels: 3 held, 1 failed, 1 open; 41 of 53 parts explained; 97 % of
    cards read`.

    Questions that isolint itself failed at come first: what it says of the others is no whole answer.
    """
    results = tuple(results)
    count = counts(results)
    crashed = [result.rule for result in results if is_crash(result)]
    total = [netlist.coverage for netlist in netlists]
    parts = [plural(count.failures, "failure") + _levels(count), f"{count.opens} open", f"{count.waived} waived"]
    if count.known or count.stale:
        parts.append(f"{count.known} in the baseline")
    if count.stale:
        parts.append(f"{count.stale} stale there")
    failed = ""
    if crashed:
        failed = f"isolint itself failed at {plural(len(crashed), 'question')} ({', '.join(dict.fromkeys(crashed))}); "
    cards = Coverage(sum(each.cards for each in total), sum(each.understood for each in total))
    explained, known = sum(each.explained for each in total), sum(each.parts for each in total)
    return (
        f"{failed}{', '.join(parts)}; {channels(total)}; {explained} of {plural(known, 'part')} explained; "
        f"{percent_understood(cards)} % of cards read"
    )


def channels(coverages: Iterable[Coverage]) -> str:
    """`5 channels: 3 held, 1 failed, 1 open`; channels of which nothing is asked are not judged."""
    total = list(coverages)
    number = sum(each.channels for each in total)
    held, failed, opens = (sum(getattr(each, name) for each in total) for name in ("held", "failed", "open"))
    if not number:
        return "; ".join(["0 channels", *_without_rules(total)])
    told = f"{plural(number, 'channel')}: {held} held, {failed} failed, {opens} open"
    rest = number - held - failed - opens
    told = f"{told}, {rest} not judged" if rest else told
    return "; ".join([told, *_without_rules(total)])


def _without_rules(coverages: Iterable[Coverage]) -> Iterator[str]:
    """`not judged: XU3 RULE and 4 more`: channels of which something is asked that has no rule."""
    named = [answers for each in coverages for answers in each.answers if answers.lacking and answers.state != "unused"]
    words = [
        f"{each.subject} {each.lacking[0]}{f' and {len(each.lacking) - 1} more' if len(each.lacking) > 1 else ''}"
        for each in named[:MOST_WITHOUT_RULES]
    ]
    left = len(named) - len(words)
    if words:
        yield f"not judged: {', '.join(words)}{f' and {left} more channels' if left else ''}"


def unanswered(coverage: Coverage) -> list[str]:
    """What open results lack, by type of table and key, in at most five lines."""
    asked = coverage.unanswered
    shown = asked if len(asked) <= MOST_UNANSWERED else asked[: MOST_UNANSWERED - 1]
    lines = [
        f"unanswered: {f'{each.about} {each.key}'.strip()}{f' of {each.number} names' if each.number > 1 else ''}"
        for each in shown
    ]
    left = len(asked) - len(shown)
    return [*lines, f"unanswered: {left} more kinds of facts"] if left else lines


def listed(netlist: NetlistReport) -> str:
    """The unexplained parts that nothing is asked about in one line, "" where there are none, or all are asked about
    in one question."""
    groups = () if any(result.role == SHEET for result in netlist.results) else netlist.coverage.unexplained
    words = [f"{each.name} ({len(each.elements)})" if len(each.elements) > 1 else each.name for each in groups]
    more = f" and {len(words) - MOST_LISTED} more names" if len(words) > MOST_LISTED else ""
    number = sum(len(each.elements) for each in groups)
    return (
        f"listed, not asked about: {plural(number, 'part')}: {', '.join(words[:MOST_LISTED])}{more}" if groups else ""
    )


def why_opens_count(report: Report, netlist: NetlistReport) -> Iterator[str]:
    """Say why the exit status is 1 although nothing failed: open results count as failures."""
    if counts(netlist.results).failures:
        return
    deciding = [result for result in netlist.results if result.kind == "open" and report.decides(netlist, result)]
    if deciding:
        count = "1 open counts as a failure" if len(deciding) == 1 else f"{len(deciding)} open count as failures"
        why = "`open` in isolint.toml, --strict, or the question itself"
        yield f"exit status 1 although nothing failed: {count} ({why})"


def total_line(report: Report) -> str:
    """The summary line over all netlists of a run."""
    return line(report.results, report.netlists)


def plural(number: int, noun: str) -> str:
    """`1 card`, `2 cards`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _levels(count: Counts) -> str:
    """How the failures divide, said only where some are no errors."""
    if count.failures == count.errors:
        return ""
    named = ((count.errors, "error"), (count.warnings, "warning"), (count.notes, "note"))
    return f" ({', '.join(plural(number, noun) for number, noun in named if number)})"

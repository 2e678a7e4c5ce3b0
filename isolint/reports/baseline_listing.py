"""What a baseline holds, and what was done to it, as text."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.reports.escape import log_lines, terminal
from isolint.reports.summary import plural


def listing(rows: Iterable[tuple[str, str, str, str, float | None]]) -> str:
    """One line an entry, under its netlist: level, rule, subject, margin; the number of all at the end."""
    lines: list[str] = []
    count = 0
    last = ""
    for netlist, level, rule, subject, margin in rows:
        if netlist != last:
            lines.append(terminal(netlist))
            last = netlist
        told = "" if margin is None else f", margin {margin:g}"
        lines.append(f"  {level:<7}  {terminal(rule)}  {terminal(subject)}{told}")
        count += 1
    lines.append(f"{plural(count, 'known result')}, not looked at yet")
    return log_lines("\n".join(lines) + "\n")


def change(file: str, new: bool, held: int, added: Iterable[str], removed: Iterable[str]) -> str:
    """One block a file: what it holds now, and each entry that came or went."""
    came, went = list(added), list(removed)
    what = "written" if new else "changed" if came or went else "unchanged"
    lines = [f"{terminal(file)}: {what}, holds {plural(held, 'known result')} ({len(came)} added, {len(went)} removed)"]
    lines += [f"  + {terminal(each)}" for each in came] + [f"  - {terminal(each)}" for each in went]
    return log_lines("\n".join(lines) + "\n")

"""How it is measured: both commands of a row by turns, the median of the ratios of neighbours."""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.rows import FOLDER, RatioRow
from tests.conftest import REPOSITORY, environment

Clock = Callable[[Sequence[str]], float]
Printer = Callable[[Sequence[str]], str]


@dataclass(frozen=True, slots=True)
class Measured:
    """One row with its measured ratio and the median of both numbers, in the row's unit."""

    row: RatioRow
    ratio: float
    subject: float
    reference: float

    @property
    def within(self) -> bool:
        """Whether the ratio keeps its limit."""
        return self.ratio <= self.row.limit


def wall_time(command: Sequence[str]) -> float:
    """Run a command cold from the checkout, byte code cached, and give its wall time in seconds; it must succeed."""
    variables = {name: value for name, value in environment().items() if name != "PYTHONDONTWRITEBYTECODE"}
    begin = time.perf_counter()
    subprocess.run(
        command, cwd=REPOSITORY, env=variables, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=True
    )
    return time.perf_counter() - begin


def printed(command: Sequence[str]) -> str:
    """Run a command that measures by itself and give what it prints; it must succeed."""
    done = subprocess.run(
        command, cwd=REPOSITORY, env=environment(), stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True
    )
    return done.stdout


def measure(row: RatioRow, rounds: int = 15, clock: Clock = wall_time, printer: Printer = printed) -> Measured:
    """Measure one row. Of two commands the first round fills the caches of byte code and disk and does not count."""
    with TemporaryDirectory() as folder:
        if row.make is not None:
            row.make(Path(folder))
        subject, reference = (
            [part.replace(FOLDER, folder) for part in command] for command in (row.subject, row.reference)
        )
        if reference:
            clock(subject)
            clock(reference)
            pairs = [(clock(subject), clock(reference)) for _ in range(rounds)]
        else:
            pairs = [(float(one), float(other)) for one, other in map(str.split, printer(subject).splitlines())]
    return Measured(
        row=row,
        ratio=statistics.median(subject / reference for subject, reference in pairs),
        subject=statistics.median(subject for subject, _ in pairs),
        reference=statistics.median(reference for _, reference in pairs),
    )


def table(measured: Iterable[Measured], today: date) -> str:
    """Write machine, date and one line a row."""
    lines = [f"{machine()}, {today.isoformat()}"]
    for each in measured:
        verdict = "ok" if each.within else "OVER"
        lines.append(
            f"{verdict:<4}  {each.ratio:5.2f} of at most {each.row.limit:5.2f}  {each.row.name}  ({_shown(each)})"
        )
    return "\n".join(lines) + "\n"


def _shown(each: Measured) -> str:
    if each.row.unit == "MB":
        return f"{each.subject:.1f} MB"
    return f"{each.subject * 1000:.0f} ms / {each.reference * 1000:.0f} ms"


def machine() -> str:
    """Name the processor, its number of cores and the interpreter."""
    load = f"load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "load unknown"
    return f"{_processor()}, {os.cpu_count()} cores, {load}, {platform.system()}, Python {platform.python_version()}"


def _processor() -> str:
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8", errors="replace")
    except OSError:
        text = ""
    for line in text.splitlines():
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()

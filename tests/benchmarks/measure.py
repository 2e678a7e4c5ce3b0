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

from tests.benchmarks.rows import FOLDER, Row
from tests.conftest import REPOSITORY, environment

Clock = Callable[[Sequence[str]], float]


@dataclass(frozen=True, slots=True)
class Measured:
    """One row with its measured ratio and the median times in seconds."""

    row: Row
    ratio: float
    subject: float
    reference: float

    @property
    def within(self) -> bool:
        """Whether the ratio keeps its limit."""
        return self.ratio <= self.row.limit


def wall_time(command: Sequence[str]) -> float:
    """Run a command cold from the checkout and give its wall time in seconds; it must succeed."""
    begin = time.perf_counter()
    subprocess.run(
        command, cwd=REPOSITORY, env=environment(), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=True
    )
    return time.perf_counter() - begin


def measure(row: Row, rounds: int = 15, clock: Clock = wall_time) -> Measured:
    """Measure one row. The first round fills the caches of byte code and disk and does not count."""
    with TemporaryDirectory() as folder:
        if row.make is not None:
            row.make(Path(folder))
        subject, reference = (
            [part.replace(FOLDER, folder) for part in command] for command in (row.subject, row.reference)
        )
        clock(subject)
        clock(reference)
        pairs = [(clock(subject), clock(reference)) for _ in range(rounds)]
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
            f"{verdict:<4}  {each.ratio:5.2f} of at most {each.row.limit:5.2f}  {each.row.name}"
            f"  ({each.subject * 1000:.0f} ms / {each.reference * 1000:.0f} ms)"
        )
    return "\n".join(lines) + "\n"


def machine() -> str:
    """Name the processor, its number of cores and the interpreter."""
    return f"{_processor()}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"


def _processor() -> str:
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8", errors="replace")
    except OSError:
        text = ""
    for line in text.splitlines():
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()

"""`python -m tests.benchmarks`: print the table; leave with 1 if a ratio is over its limit."""

from __future__ import annotations

import subprocess
import sys
from datetime import date

from tests.benchmarks.measure import measure, table
from tests.benchmarks.rows import ROWS


def main() -> int:
    try:
        measured = [measure(row) for row in ROWS]
    except subprocess.CalledProcessError as error:
        print(f"nothing was measured: {' '.join(error.cmd)} left with {error.returncode}")
        return 1
    print(table(measured, date.today()), end="")
    return 0 if all(each.within for each in measured) else 1


if __name__ == "__main__":
    sys.exit(main())

"""`python -m tests.benchmarks [--quick] [WORD...]`: print the table; leave with 1 if a ratio is over its limit.

With words only rows whose name holds one of them, with `--quick` only those that take a few seconds.
"""

from __future__ import annotations

import subprocess
import sys
from datetime import date

from tests.benchmarks.measure import measure, table
from tests.benchmarks.rows import ROWS


def main(arguments: list[str]) -> int:
    words = [word for word in arguments if word != "--quick"]
    rows = [row for row in ROWS if not words or any(word in row.name for word in words)]
    if "--quick" in arguments:
        rows = [row for row in rows if not row.slow]
    if not rows:
        print("no row has such a name")
        return 1
    try:
        measured = [measure(row) for row in rows]
    except subprocess.CalledProcessError as error:
        print(f"nothing was measured: {' '.join(error.cmd)} left with {error.returncode}")
        return 1
    print(table(measured, date.today()), end="")
    return 0 if all(each.within for each in measured) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

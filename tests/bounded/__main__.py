"""`python -m tests.bounded NAME` judges one board as the command line would, without a report.

`python -m tests.bounded` prints what each takes: seconds of the processor, solved points, work and the largest share.
"""

from __future__ import annotations

import gc
import sys
import time

from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.rules import RULES
from tests.bounded.boards import BOARDS, PATH, board


def main(names: list[str]) -> None:
    gc.disable()
    for name in names or BOARDS:
        begin = time.process_time()
        context, _ = prepare(board(name), PATH, "")
        run(context, RULES)
        meter = context.analysis.meter
        work = meter.spent.values()
        seconds = time.process_time() - begin
        told = f"{seconds:6.2f} s {meter.points:6} points {sum(work):6} work {max(work, default=0):6} most  {name}\n"
        sys.stdout.write(told)


if __name__ == "__main__":
    main(sys.argv[1:])

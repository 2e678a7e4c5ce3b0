"""One channel with one switching input, nominal and all corners, over and over; and `python -c pass` as often.

`python -m tests.benchmarks.channel analyse 50` counts its own start against itself.
"""

from __future__ import annotations

import subprocess
import sys

from isolint.checking.analysis import Analysis
from isolint.preparing import prepare
from isolint.source import MemoryTree

BOARD = "* one channel\nR1 DRV A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
FACTS = """
top = true
[supplies."V5"]
voltage = "5 V"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
ground = "GNDB"
[outputs."DRV"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
"""


def analyse(times: int) -> None:
    """Drive, load and transfer of the channel with nothing kept from one time to the next."""
    context, _ = prepare(MemoryTree({"board.cir": BOARD, "isolint.toml": FACTS}), "board.cir", "")
    (channel,) = context.channels
    for _ in range(times):
        assert Analysis(context.lookup, context.interfaces).transfer(channel).worst.margin > 1.0


def passes(times: int) -> None:
    """Start Python as often and do nothing."""
    for _ in range(times):
        subprocess.run([sys.executable, "-c", "pass"], check=True)


if __name__ == "__main__":
    {"analyse": analyse, "passes": passes}[sys.argv[1]](int(sys.argv[2]))

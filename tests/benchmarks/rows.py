"""What is measured: each row is a command, the command it is compared with, and the limit of the ratio."""

from __future__ import annotations

import sys
from dataclasses import dataclass

BOARD = "fixtures/boards/sluice-gate/sound/board.cir"


@dataclass(frozen=True, slots=True)
class Row:
    """One ratio: wall time of `subject` over that of `reference`, both run cold, at most `limit`."""

    name: str
    subject: tuple[str, ...]
    reference: tuple[str, ...]
    limit: float


ROWS = (
    Row(
        name="cold check of the sound board / import of click, lark, networkx",
        subject=(sys.executable, "-m", "isolint", "check", BOARD),
        reference=(sys.executable, "-c", "import click, lark, networkx"),
        limit=0.8,
    ),
)

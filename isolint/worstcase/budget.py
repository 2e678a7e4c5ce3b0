"""How much may be solved for one channel, one netlist and one run: counted, not timed, so that it is the same anywhere.

A point of a small network counts one; a larger one counts by its size, and so do the equations by which a point is
followed to others. Every channel has an allowance of its own, which no neighbour can use up; what goes beyond it is
taken from a store that the netlist has once, and no channel gets more than `CHANNEL`. What all netlists of a run take
from their stores is limited too. `OverBudget` is no `Lacking`: nothing that goes on without a quantity may go on
without this one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

OWN: Final = 600
"""What every channel may always spend. A plain one takes about a hundred."""

CHANNEL: Final = 20_000
"""What one channel may spend at most."""

STORE: Final = 30_000
"""What the channels of a netlist may spend together beyond `OWN` each."""

RUN: Final = 300_000
"""What the netlists of a run may spend together beyond `OWN` for each channel."""

NETLIST: Final = ""
"""The subject of what is solved for no channel."""


class OverBudget(Exception):
    """Work was refused; the reason in circuit words. What rests on it is open."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class Allowance:
    """What is left for the netlists of a run beyond what every channel may always spend."""

    def __init__(self, left: int = RUN) -> None:
        self.left = left

    @contextmanager
    def lent_to(self, meter: Meter) -> Iterator[None]:
        """What a netlist spends inside is taken from what is left; it can't spend more."""
        lent = min(meter.store, self.left)
        if lent < meter.store:
            meter.store = lent
            meter.used_up = "the netlists before it in this run have used up what they may take together beside"
        try:
            yield
        finally:
            self.left -= lent - meter.store


class Meter:
    """Counts the work of one netlist. points: solved networks; spent: their work, by subject."""

    def __init__(self, own: int = OWN, channel: int = CHANNEL, store: int = STORE) -> None:
        self.own = own
        self.channel = channel
        self.store = store
        self.points = 0
        self.used_up = "the channels before it have used up what a netlist may take beside"
        self.spent: dict[str, int] = {}
        self.subject = NETLIST
        self._closed: dict[str, str] = {}

    @contextmanager
    def charged_to(self, subject: str) -> Iterator[None]:
        """What is spent inside is spent for this channel, or for `NETLIST`."""
        before, self.subject = self.subject, subject
        try:
            yield
        finally:
            self.subject = before

    @property
    def is_spent(self) -> bool:
        """Whether some budget is spent."""
        return bool(self._closed)

    def check(self) -> None:
        """Raise `OverBudget` where the channel has spent its budget already."""
        if self.subject in self._closed:
            raise OverBudget(self._closed[self.subject])

    def charge(self, work: int, points: int = 1) -> None:
        """Count work before it is done; refuse it, and all that follows for the same channel, beyond the budget."""
        self.check()
        subject = self.subject
        before = self.spent.get(subject, 0)
        after = before + work
        beyond = max(after - self.own, 0) - max(before - self.own, 0)
        if after > self.channel:
            self._close(f"it takes more than {self.channel} solved points, as many as one channel may take")
        if beyond > self.store:
            self._close(f"it takes more than {self.own} solved points, and {self.used_up}")
        self.store -= beyond
        self.spent[subject] = after
        self.points += points

    def _close(self, reason: str) -> None:
        self._closed[self.subject] = reason
        raise OverBudget(reason)


def work_of(unknowns: int, kept: int) -> int:
    """What a point counts: the linear equations that are eliminated, and those left for the iteration."""
    return 1 + unknowns * unknowns // 400 + kept // 4 + kept**3 // 1000

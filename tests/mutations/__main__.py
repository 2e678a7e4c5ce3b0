"""`python -m tests.mutations [--seeded N] [--seed S] [--seconds T] [WORD...]`: how many small changes are noticed.

Without `--seeded` the changes of the list: all must be caught. With it N drawn ones: nine of ten must be caught. With
words only changes whose line holds one of them. Leaves with 1 otherwise, and with 2 where the list does not fit the
tree, or the tests fail without any change.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.mutations.drawn import drawn
from tests.mutations.listed import LISTED
from tests.mutations.running import MutationOutcome, children_seconds, judged, unsound

CAUGHT = 0.9
"""The share of drawn changes that is to be caught."""


def main(arguments: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations")
    parser.add_argument("--seeded", type=int, default=0, metavar="N", help="draw N changes instead of the list")
    parser.add_argument("--seed", default="1")
    parser.add_argument("--seconds", type=float, default=900.0, help="CPU seconds after which no change is begun")
    parser.add_argument("words", nargs="*")
    options = parser.parse_args(arguments)
    found = drawn(options.seeded, options.seed) if options.seeded else LISTED
    changes = [change for change in found if not options.words or any(word in change.words for word in options.words)]
    wrong = [text for text in (change.missing() for change in changes) if text]
    if wrong or not changes:
        print("\n".join(wrong) or "no change has such words")
        return 2
    rows = []
    for row in judged(changes, options.seconds):
        print(line(row), flush=True)
        rows.append(row)
    with tempfile.TemporaryDirectory() as folder:
        said = unsound(noticing(rows), Path(folder) / "tree")
    if said:
        print(f"a test that noticed fails without any change:\n{said[-3000:]}")
        return 2
    print(f"{summary(rows)} in {children_seconds():.0f} s of CPU")
    return status(rows, CAUGHT if options.seeded else 1.0)


def noticing(rows: Iterable[MutationOutcome]) -> list[str]:
    """The tests that noticed a change, each once: what fails anyway notices everything."""
    return list(dict.fromkeys(row.test for row in rows if row.test))


def line(row: MutationOutcome) -> str:
    """One change with what became of it."""
    return f"{row.outcome:9} {row.seconds:5.1f} s  {row.change.words}\n{'':19}{row.told}"


def summary(rows: Sequence[MutationOutcome]) -> str:
    """How many of which outcome."""
    return ", ".join(f"{count} {outcome}" for outcome, count in sorted(Counter(row.outcome for row in rows).items()))


def status(rows: Sequence[MutationOutcome], share: float) -> int:
    """0 if of those that were begun this share was caught."""
    begun = [row for row in rows if row.outcome != "not begun"]
    if any(row.outcome == "broken" for row in begun):
        return 2
    caught = sum(row.outcome == "caught" for row in begun)
    return 0 if begun and caught >= share * len(begun) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

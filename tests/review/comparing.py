"""Two sets of files in memory, compared as two revisions are."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import date
from unittest.mock import patch

from isolint.app import Judged, Options, judge
from isolint.checking import cures as checking_cures
from isolint.preparing import Instead
from isolint.review import reviewing
from isolint.review.reviewing import Policy, Revisions, compare
from isolint.review.values import Item, Review
from isolint.source import MemoryTree, Tree
from tests.checking.boards import FACTS

TODAY = date(2027, 6, 30)
SETTINGS = f"top = true\n{FACTS}"
"""Stated sides, supplies, ports and working voltage of the boards of this folder: nothing of them is open."""

BOARD = """\
* A channel and its neighbours, invented for the tests
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
"""


def files(board: str = BOARD, settings: str = SETTINGS, **more: str) -> dict[str, str]:
    """A board with its settings; further files by name, `__` for a dot and `_0_` for a slash."""
    named = {name.replace("_0_", "/").replace("__", "."): text for name, text in more.items()}
    return {"board.cir": board, "isolint.toml": settings, **named}


def reviewed(
    old: Mapping[str, str],
    new: Mapping[str, str],
    policy: Policy = "head",
    today: date = TODAY,
    cures: bool = False,
) -> Review:
    """The review of two sets of files. cures: whether values that cure are sought, which takes most of the time."""
    old_ids, new_ids = (
        {path: hashlib.sha256(text.encode()).hexdigest() for path, text in each.items()} for each in (old, new)
    )
    changed = sorted(path for path in {*old, *new} if old.get(path) != new.get(path))
    revisions = Revisions(MemoryTree(old), MemoryTree(new), old_ids, new_ids)
    with ExitStack() as stack:
        stack.enter_context(patch.object(reviewing, "judge", judged_once))
        if not cures:
            stack.enter_context(without_cures())
        return compare(revisions, changed, policy, Options(today=today))


@contextmanager
def without_cures() -> Iterator[None]:
    """Seek no values that cure: where a test looks at none, to seek them is most of its time."""
    with patch.object(checking_cures, "_first", lambda count, lack: None):
        yield


_KNOWN: OrderedDict[object, Judged] = OrderedDict()
"""Netlists that were judged: many tests begin at one board. What is judged depends on the files alone."""


def judged_once(
    tree: Tree, path: str, root: str, options: Options, watch: bool = False, instead: Instead | None = None
) -> Judged:
    """Judge a netlist, or give back what was judged of the same files."""
    if instead is not None or not isinstance(tree, MemoryTree):
        return judge(tree, path, root, options, watch, instead)
    held = tuple((name, tree.read(name)) for name in tree.walk())
    key = (held, path, root, options, watch, checking_cures._first.__name__)
    if key not in _KNOWN:
        _KNOWN[key] = judge(tree, path, root, options, watch)
        while len(_KNOWN) > 40:
            _KNOWN.popitem(last=False)
    return _KNOWN[key]


def changed(before: str, after: str, board: str = BOARD, settings: str = SETTINGS, cures: bool = False) -> Review:
    """The review of one change in the text of a board."""
    assert before in board
    return reviewed(files(board, settings), files(board.replace(before, after), settings), cures=cures)


def states(review: Review) -> list[tuple[str, str, str]]:
    """Class, rule and subject of all items."""
    return [(item.state, item.rule, item.subject) for item in review.items]


def only(review: Review) -> Item:
    """The one item of a review."""
    assert len(review.items) == 1, states(review)
    return review.items[0]

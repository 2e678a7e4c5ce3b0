"""Random histories of a request: pushes, people, strangers, faults; after one whole run everything stands once."""

from __future__ import annotations

import random
from collections import Counter
from contextlib import suppress

import pytest

from isolint.posting.client import NotDone
from isolint.posting.markers import keys_of, read_mark
from isolint.review.values import Item, Review
from tests.posting.fakes import ME, FakeNote, Killed
from tests.posting.posts import FAKES, FILE, item, posted, review, world

EVENTS = ("push", "push", "push", "person", "person", "stranger", "fault", "fault", "twice", "incomplete", "rename")


class History:
    """A request while things happen to it."""

    def __init__(self, kind: str, seed: int) -> None:
        self.dice = random.Random(seed)
        self.kind = kind
        self.world = world(*range(1, 15))
        self.fake = FAKES[kind](self.world)
        self.names = {n: f"XU{n}" for n in range(1, 14)}
        self.items: dict[int, Item] = {}
        self.foreign: dict[int, str] = {}
        self.people: dict[int, str] = {}
        self.deleted: set[str] = set()
        self.pushes = 0

    def review(self, complete: bool = True) -> Review:
        return review(*self.items.values(), head=self.world.head, complete=complete)

    def push(self) -> None:
        """Another head: some items break, some are fixed or change, lines move in and out of the difference."""
        self.pushes += 1
        self.world.head = f"{self.pushes:040x}"
        dice = self.dice
        for n in range(1, 14):
            chance = dice.random()
            if chance < 0.25:
                self.items[n] = self._made(n, "new", dice.choice((0.9, 0.68, 0.4)))
            elif chance < 0.4 and n in self.items:
                self.items[n] = self._made(n, "fixed", 1.45)
            elif chance < 0.45:
                self.items.pop(n, None)
        self.world.files[FILE] = set(dice.sample(range(1, 15), dice.randrange(6, 14)))

    def _made(self, n: int, state: str, margin: float) -> Item:
        line = self.items[n].where.line if n in self.items else self.dice.randrange(1, 15)
        named = item(self.names[n], line, state, margin)  # type: ignore[arg-type]
        return named._replace(identity=item(f"XU{n}").identity)

    def rename(self) -> None:
        n = self.dice.randrange(1, 14)
        self.names[n] = f"XR{n}"
        if n in self.items:
            self.items[n] = self._made(n, self.items[n].state, self.items[n].after.margin or 1.0)

    def person(self) -> None:
        if not self.world.mine():
            return
        note = self.dice.choice(self.world.mine())
        mark = read_mark(note.body)
        if mark is None:
            return
        how = self.dice.choice(("answer", "resolve", "edit", "delete"))
        if how == "delete":
            self.world.notes.remove(note)
            self.people.pop(note.id, None)
            if mark.life == "live":
                self.deleted.add(mark.key)
            return
        if how == "answer":
            note.replies.append("engineer")
        elif how == "resolve":
            note.resolved_by = "engineer"
        else:
            note.body += "\nseen by an engineer"
        self.people[note.id] = note.body

    def stranger(self) -> None:
        bodies = [note.body for note in self.world.notes] or ["hello"]
        body = self.dice.choice(bodies)
        made = self.world.add("stranger", body, *((FILE, 20) if self.dice.random() < 0.5 else ()))
        self.foreign[made.id] = body

    def run(self, complete: bool = True) -> None:
        posted(self.fake, self.review(complete), self.kind)

    def fault(self) -> None:
        faults = ("kill-before", "kill-after", "lost", "500-after", "500", "429", "409", "")
        self.world.faults = [self.dice.choice(faults) for _ in range(self.dice.randrange(1, 6))]
        with suppress(Killed, NotDone):
            self.run()
        self.world.faults = []

    def twice(self) -> None:
        def another() -> None:
            self.world.before = None
            self.run()

        self.world.before = another
        with suppress(NotDone):
            self.run()
        self.world.before = None

    def step(self) -> None:
        event = self.dice.choice(EVENTS)
        if event == "incomplete":
            self.run(complete=False)
        else:
            getattr(self, event)()
        if event in ("push", "rename"):
            self.world.writes.clear()
            with suppress(NotDone):
                self.run()

    def check(self) -> None:
        """After one whole run nothing is lost, doubled or overwritten, and the next run writes nothing."""
        self.run()
        writes = len(self.world.writes)
        self.run()
        assert self.world.writes[writes:] == []
        notes = {note.id: note for note in self.world.notes}
        for id, body in {**self.foreign, **self.people}.items():
            assert id in notes and notes[id].body == body, "somebody else's words were touched"
        live = {keys_of(each)[0]: each for each in self.items.values() if each.state == "new"}
        standing = Counter(mark.key for note in self.world.mine() if (mark := read_mark(note.body)) and self._own(note))
        assert all(number == 1 for number in standing.values()), standing
        assert len(self.world.summaries()) <= 1
        if live:
            (summary,) = self.world.summaries()
            assert all(f"`{each.subject}`" in summary.body for each in live.values())
        for note in self.world.mine():
            mark = read_mark(note.body)
            if mark is not None and mark.life == "live" and self._own(note):
                assert mark.key in live, "what does not live is still told as if it did"

    def _own(self, note: FakeNote) -> bool:
        if note.id in self.people or note.author != ME:
            return False
        # There an answer is one more comment on the line: it silences all that stand on it.
        beside = [
            each for each in self.world.mine() if each.replies and (each.path, each.line) == (note.path, note.line)
        ]
        return not (self.kind == "gitea" and beside)


def _history(kind: str, seed: int) -> None:
    history = History(kind, seed)
    for _ in range(history.dice.randrange(4, 14)):
        history.step()
    history.check()


@pytest.mark.parametrize("kind", FAKES)
@pytest.mark.parametrize("seed", range(20))
def test_after_any_history_everything_stands_once(kind: str, seed: int) -> None:
    _history(kind, seed)


@pytest.mark.long
@pytest.mark.parametrize("kind", FAKES)
def test_after_three_hundred_histories_everything_stands_once(kind: str) -> None:
    for seed in range(1000, 1300):
        _history(kind, seed)

"""Reviews made by hand and posted on a fake."""

from __future__ import annotations

from isolint.errors import Place
from isolint.posting.client import Client
from isolint.posting.forges import FORGES
from isolint.posting.markers import Signer
from isolint.posting.posting import Outcome, post
from isolint.review.values import (
    Anchor,
    Class,
    Identity,
    Item,
    NetlistReview,
    Number,
    Review,
    State,
)
from tests.posting.fakes import Fake, FakeGitea, FakeGitHub, FakeGitLab, World

FAKES = {"github": FakeGitHub, "gitlab": FakeGitLab, "gitea": FakeGitea}
BASES = {"github": "http://127.0.0.1", "gitlab": "http://127.0.0.1/api/v4", "gitea": "http://127.0.0.1/api/v1"}
FILE = "boards/a.cir"


def item(name: str, line: int = 3, state: Class = "new", margin: float = 0.68, file: str = FILE) -> Item:
    """An item of one coupler."""
    known = Identity(file, "", name.casefold(), name.casefold())
    live = state in ("new", "worse", "uncovered", "opened", "unjudged")
    before = State("pass", margin=1.45, required=1.0, number=Number("LED current", 0.0344, "A", 0.05, "at_most"))
    after = State("fail" if live else "pass", "error" if live else "none", f"{name} gets too much", Place(file, line))
    now = Number("LED current", 0.05 / margin, "A", 0.05, "at_most", "VCC +5 %")
    return Item(
        state, "led-overdriven", "", name, file, "error" if live else "none", live, known, known, before,
        after._replace(margin=margin, required=1.0, number=now), Place(file, line), harm=1.0 / margin,
        anchors=(Anchor("new", file, line),),
    )  # fmt: skip


def review(*items: Item, head: str = "a" * 40, complete: bool = True) -> Review:
    """A review of some items."""
    errors = () if complete else ("boards/b.cir: can't be read",)
    return Review("1", "b" * 40, head, (NetlistReview(FILE, FILE),), items, errors=errors)


def posted(fake: Fake, found: Review, kind: str, untrusted: bool = False, failed: bool = False) -> Outcome:
    """Post a review on a fake, without waiting."""
    client = Client(BASES[kind], {"authorization": "secret"}, fake, lambda seconds: None)
    signer = Signer(client.base, "owner/name", "7")
    return post(FORGES[kind].make(client, "owner/name", "7"), found, signer, untrusted, failed)


def world(*lines: int) -> World:
    """A request that changes some lines of one file."""
    return World(files={FILE: set(lines or (3, 4, 5, 6))})

"""A request from its first push to its last, from git to the comments of a forge."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint.app import Options
from isolint.review.review_json import load, render
from isolint.review.reviewing import Asked, review
from isolint.review.values import Review
from tests.posting.fakes import World
from tests.posting.posts import FAKES, posted
from tests.review.comparing import BOARD, SETTINGS, TODAY, without_cures
from tests.review.repositories import begin, commit, git

WAIVER = '[[waivers]]\nrule = "bridge-conducting"\nwhere = "R9*"\nreason = "x"\nby = "x"\nuntil = 2027-12-31\n'


@pytest.fixture(autouse=True)
def _no_cures() -> Iterator[None]:
    with without_cures():
        yield


def pushed(repo: Path, made: World) -> Review:
    """The review of what was pushed, read back from its file, with what the forge knows of the request."""
    head = git(repo, "rev-parse", "HEAD")
    found = review(repo, Asked("main", head, policy="base"), Options(today=TODAY))
    made.head = head
    changed = git(repo, "diff", "--name-only", "main...HEAD").splitlines()
    before = {name: git(repo, "show", f"main:{name}").splitlines() if name != "x.cir" else [] for name in changed}
    made.files = {
        name: {n for n, line in enumerate((repo / name).read_text().splitlines(), 1) if line not in before[name]}
        for name in changed
    }
    return load(render(found).encode())


@pytest.mark.parametrize("kind", FAKES)
def test_a_request_gets_one_comment_that_becomes_fixed_and_then_stays_silent(kind: str, tmp_path: Path) -> None:
    repo = begin(tmp_path / "r")
    commit(repo, {"board.cir": BOARD, "isolint.toml": SETTINGS, "README.md": "x\n"})
    git(repo, "switch", "--quiet", "--create", "work")
    made = World()
    fake = FAKES[kind](made)

    commit(repo, {"board.cir": BOARD.replace("OUT 10k", "OUT 1k")})
    posted(fake, pushed(repo, made), kind)
    (note,) = made.mine()
    assert (note.path, note.line) == ("board.cir", 4)
    for word in ("transfer margin of XU1", "wanted 1.20", "because R2 went from 10 kohm to 1 kohm"):
        assert word in note.body
    assert len(made.summaries()) == 1

    commit(repo, {"board.cir": BOARD})
    posted(fake, pushed(repo, made), kind)
    (note,) = made.mine()
    assert f"fixed in `{made.head[:12]}`" in note.body and note.resolved_by

    writes = len(made.writes)
    commit(repo, {"README.md": "y\n"})
    assert posted(fake, pushed(repo, made), kind).writes == 0 and len(made.writes) == writes

    hostile = BOARD.replace("XU1", "X-->`@team") + "R9/close GND GNDB 1k\n"
    commit(repo, {"board.cir": hostile, "isolint.toml": SETTINGS + WAIVER})
    found = pushed(repo, made)
    posted(fake, found, kind)
    assert found.exit_status == 1 and any(item.after_merge for item in found.items)
    for each in made.notes:
        lines = each.body.split("\n")
        assert not any(line.startswith("/") for line in lines)
        assert "-->" not in "\n".join(lines[1 : -1 if each.is_summary else None])
    assert any("counts after merge" in each.body for each in made.notes)
    assert "changes how results are judged" in made.summaries()[0].body

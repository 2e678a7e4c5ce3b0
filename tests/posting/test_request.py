"""A request from its first push to its last: git, `isolint review`, its file, `isolint post`, a server of a forge."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from isolint import cli
from isolint.review.review_json import json_schema
from tests.posting.fakes import FakeNote, World, serve
from tests.posting.posts import FAKES
from tests.review.comparing import BOARD, SETTINGS, TODAY, without_cures
from tests.review.repositories import begin, commit, git

WAIVER = '[[waivers]]\nrule = "bridge-conducting"\nwhere = "R9*"\nreason = "x"\nby = "x"\nuntil = 2027-12-31\n'
WHERE = {"github": "", "gitlab": "/api/v4", "gitea": "/api/v1"}
HOSTILE = "-->`@team"
SPEAKING = re.compile(
    r"/(pulls/\d+/(comments|reviews)(/\d+)?|issues/(\d+/)?comments(/\d+)?|graphql|discussions(/d\d+(/notes/\d+)?)?"
    r"|notes(/\d+)?|pulls/comments/\d+(/replies)?|comments/\d+/(un)?resolve)$"
)
"""What may be written to: comments and their threads, nothing that merges, approves or changes a repository."""

pytest.importorskip("httpx", reason="`pip install -e '.[test]'` brings it")


@pytest.fixture(autouse=True)
def _no_cures(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr("time.sleep", lambda seconds: None)
    monkeypatch.setenv("ISOLINT_TOKEN", "t0ken")
    with without_cures():
        yield


class ForgeRequest:
    """A request of a repository on a forge, spoken to by the commands alone."""

    def __init__(self, kind: str, folder: Path) -> None:
        self.kind, self.url = kind, ""
        self.repo = begin(folder / "r")
        self.file = folder / "review.json"
        self.world = World()
        self.fake = FAKES[kind](self.world)
        commit(self.repo, {"board.cir": BOARD, "isolint.toml": SETTINGS, "README.md": "x\n"})
        git(self.repo, "switch", "--quiet", "--create", "work")

    def push(self, files: dict[str, str | bytes | None]) -> int:
        """Commit and push, let the forge know what changed, and review; give the exit status of the review."""
        head = self.world.head = commit(self.repo, files)
        changed = git(self.repo, "diff", "--name-only", "main...HEAD").splitlines()
        before = {name: git(self.repo, "show", f"main:{name}").splitlines() for name in changed}
        self.world.files = {
            name: {n for n, text in enumerate(self.text(name), 1) if text not in before[name]} for name in changed
        }
        words = ["review", str(self.repo), "--base", "main", "--head", head, "--policy", "base", "--today", str(TODAY)]
        status = cli.run([*words, "--format", "json", "--output", str(self.file)])
        jsonschema.Draft202012Validator(json_schema()).validate(self.document)
        assert self.document["exit_status"] == status
        return status

    def text(self, name: str) -> list[str]:
        """The lines of a file as it was pushed."""
        return (self.repo / name).read_text().splitlines()

    @property
    def document(self) -> Any:
        return json.loads(self.file.read_text())

    def post(self) -> int:
        """Post the file; give the number of writes. The command never tells the findings by its exit status."""
        before = len(self.world.writes)
        assert self.post_status() == 0
        return len(self.world.writes) - before

    def post_status(self) -> int:
        words = ["post", str(self.file), "--forge", self.kind, "--url", self.url, "--repository", "owner/name"]
        return cli.run([*words, "--request", "7", "--head", self.world.head])


def outside_of_code(body: str) -> str:
    """A comment without its hidden lines, code blocks and code spans: what a forge would act upon."""
    lines = [line for line in body.split("\n") if not re.fullmatch(r"<!-- isolint-\S+ .*-->", line)]
    text = re.sub(r"(?ms)^(`{3,})[^`\n]*\n.*?^\1`*[ ]*$", "", "\n".join(lines))
    return re.sub(r"(?s)(?<!`)(`+)(?!`)(.+?)(?<!`)\1(?!`)", "", text)


def is_harmless(note: FakeNote) -> bool:
    """Whether nothing in a comment gives an order, calls anybody or hides anything."""
    acted = outside_of_code(note.body)
    orders = any(line.startswith("/") for line in note.body.split("\n"))
    hidden = "<!--" in acted or "-->" in acted or "<script" in acted or "](" in acted
    return not orders and not hidden and "@" not in acted and "`" not in acted


@pytest.mark.parametrize("kind", FAKES)
def test_a_request_gets_one_comment_that_becomes_fixed_then_silence_and_a_hostile_push_gains_nothing(
    kind: str, tmp_path: Path
) -> None:
    request = ForgeRequest(kind, tmp_path)
    with serve(request.fake, WHERE[kind]) as request.url:
        _four_pushes(request)


def _four_pushes(request: ForgeRequest) -> None:
    world = request.world

    # A resistor is swapped: one comment on its line, with before, after and cause.
    assert request.push({"board.cir": BOARD.replace("OUT 10k", "OUT 1k")}) == 1
    request.post()
    (note,) = world.mine()
    assert (note.path, note.line) == ("board.cir", 4) and is_harmless(note)
    for word in ("transfer margin of XU1 3.38 -> 0.34", "wanted 1.20", "because R2 went from 10 kohm to 1 kohm"):
        assert word in note.body
    assert len(world.summaries()) == 1

    # It is put right: the same comment says so.
    assert request.push({"board.cir": BOARD}) == 0
    request.post()
    (fixed,) = world.mine()
    assert fixed is note and f"fixed in `{world.head[:12]}`" in note.body and note.resolved_by

    # Nothing of an interface changes: nothing is written.
    assert request.push({"README.md": "y\n"}) == 0
    assert request.post() == 0

    # Names, settings and the file itself are hostile.
    board = BOARD.replace("XU1", f"X{HOSTILE}") + "R9/close GND GNDB 1k\n"
    levels = '[levels]\nbridge-conducting = "note"\n'
    assert request.push({"board.cir": board, "isolint.toml": f"{SETTINGS}{WAIVER}{levels}"}) == 1
    assert any("counts after merge" in item["after_merge"] for item in request.document["review"]["items"])
    request.post()
    assert any("counts after merge" in each.body for each in world.notes)
    assert "changes how results are judged" in world.summaries()[0].body
    genuine = request.file.read_text()
    for change in (("@team ![x](http://x)", "cure"), ("\n/merge\n<!-- isolint-ledger/1 e30= -->", "subject")):
        forged = json.loads(genuine)
        for item in forged["review"]["items"]:
            item[change[1]] = change[0]
            item["where"]["file"] = "etc/passwd"
            item["after"]["message"] = f"</details><script>{HOSTILE}"
        request.file.write_text(json.dumps(forged))
        request.post()
    assert len(world.notes) > 2 and all(map(is_harmless, world.notes))
    assert {each.path for each in world.mine()} == {"board.cir"}

    # A file that is not what it should be posts nothing at all.
    writes = len(world.writes)
    other = genuine.replace('"isolint-review/1"', '"isolint-review/2"')
    out = genuine.replace('"file": "board.cir"', '"file": "../board.cir"', 1)
    for bad in (genuine.replace('"items"', '"itens"', 1), other, out, genuine[:-9], "[]"):
        assert bad != genuine
        request.file.write_text(bad)
        assert request.post_status() == 2 and len(world.writes) == writes
    assert all(SPEAKING.search(path) for path in (each.split(" ", 1)[1] for each in world.writes))
    assert not any("approve" in str(body).lower() for method, _, body in world.bodies if method != "GET")


def test_names_inside_of_code_are_no_longer_seen_by_who_asks_whether_a_comment_is_harmless() -> None:
    shown = "``a ` @team``\n\n```text\n@team -->\n```\nplain"
    assert is_harmless(FakeNote(1, "x", shown)) and "plain" in outside_of_code(shown)
    for bad in ("@team", "`a` @team `b`", "/merge", "x <!-- y", "[a](b)", "``` a\nb"):
        assert not is_harmless(FakeNote(1, "x", bad)), bad

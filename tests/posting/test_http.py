"""Posting over HTTP on this machine: pages, waiting, redirects, and what is printed where nothing is sent."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from isolint import cli
from isolint.posting.client import Answer, Client, NotDone, Sender, checked_origin
from isolint.review.review_json import render
from tests.posting.fakes import Fake, serve
from tests.posting.posts import FAKES, item, review, world

WHERE = {"github": "", "gitlab": "/api/v4", "gitea": "/api/v1"}
Captured = pytest.CaptureFixture[str]

pytest.importorskip("httpx", reason="`pip install -e '.[test]'` brings it")


@pytest.fixture
def file(tmp_path: Path) -> str:
    made = tmp_path / "review.json"
    made.write_text(render(review(item("XU1", 4), item("XU2", 5))))
    return str(made)


@pytest.mark.parametrize("kind", FAKES)
def test_a_review_goes_to_a_server_and_the_second_run_writes_nothing(
    kind: str, file: str, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ISOLINT_TOKEN", "t0ken")
    monkeypatch.setattr("time.sleep", lambda seconds: None)
    made = world()
    fake = FAKES[kind](made)
    for number in range(5):
        made.add("engineer", f"remark {number}")
    with serve(fake, WHERE[kind]) as url:
        words = ["post", file, "--forge", kind, "--url", url, "--repository", "owner/name", "--request", "7"]
        assert cli.run([*words, "--head", "a" * 40]) == 0
        writes = len(made.writes)
        assert len(made.mine()) == 2 and len(made.summaries()) == 1
        assert cli.run(words) == 0 and len(made.writes) == writes
    told = capsys.readouterr()
    assert told.out.endswith("0 writes\n") and "t0ken" not in told.out + told.err
    assert all("t0ken" in token for token in fake.tokens)


@pytest.mark.parametrize("kind", FAKES)
def test_a_dry_run_prints_the_requests_and_needs_no_token(kind: str, file: str, capsys: Captured) -> None:
    url = ["--url", "https://forge.example/api/v1"] if kind == "gitea" else []
    words = ["post", file, "--forge", kind, *url, "--repository", "owner/name", "--request", "7", "--dry-run"]
    assert cli.run(words) == 0
    text = capsys.readouterr().out
    first, _, rest = text.partition("\n")
    assert first.startswith("POST https://") and ("/reviews" in first or "/discussions" in first)
    document, _ = json.JSONDecoder().raw_decode(rest)
    assert "led" in json.dumps(document) and text.count("POST ") >= 2
    assert cli.run(words) == 0 and capsys.readouterr().out == text


def test_what_is_missing_is_said(file: str, tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("ISOLINT_TOKEN", "GITHUB_TOKEN", "GITHUB_REPOSITORY"):
        monkeypatch.delenv(name, raising=False)
    words = ["post", file, "--forge", "github", "--repository", "owner/name", "--request", "7"]
    assert cli.run(words) == 2 and "no token" in capsys.readouterr().err
    assert cli.run(words[:4]) == 2 and "which request" in capsys.readouterr().err
    monkeypatch.setenv("ISOLINT_TOKEN", "t0ken")
    assert cli.run([*words, "--head", "c" * 40]) == 0 and "not of cccccccccccc" in capsys.readouterr().out
    assert cli.run([*words, "--url", "http://forge.example"]) == 2
    assert "https only" in capsys.readouterr().err
    (tmp_path / "bad.json").write_text('{"format": "x"}')
    assert cli.run(["post", str(tmp_path / "bad.json"), *words[2:]]) == 2
    assert cli.run([*words, "--failed"]) == 2
    monkeypatch.setitem(sys.modules, "httpx", None)
    assert cli.run(words) == 2 and "pip install 'isolint[post]'" in capsys.readouterr().err


@pytest.mark.parametrize(
    "url", ["http://example.org", "ftp://127.0.0.1", "https://user:pw@example.org", "example.org", ""]
)
def test_an_address_to_which_no_token_may_go_is_refused(url: str) -> None:
    with pytest.raises(NotDone):
        checked_origin(url)


def test_this_machine_may_be_reached_without_encryption() -> None:
    for url in ("http://127.0.0.1:80/api", "http://localhost", "http://[::1]:3000/", "https://forge.example/api/"):
        assert checked_origin(url) == url.rstrip("/")


class Scripted(Fake):
    """Gives answers one after the other and keeps what was asked."""

    def __init__(self, *answers: Answer) -> None:
        super().__init__(world())
        self.answers = list(answers)
        self.asked: list[str] = []

    def send(self, method: str, url: str, headers: dict[str, str], body: object) -> Answer:
        self.asked.append(url)
        return self.answers.pop(0)


def scripted(*answers: Answer) -> tuple[Client, Scripted, list[float]]:
    waits: list[float] = []
    sender = Scripted(*answers)
    return Client("http://127.0.0.1/api", {}, sender, waits.append), sender, waits


def test_a_redirect_to_another_host_is_not_followed() -> None:
    client, sender, _ = scripted(Answer(302, {"location": "https://elsewhere.example/x"}, None, ""))
    with pytest.raises(NotDone, match="another host"):
        client.get("/x")
    assert len(sender.asked) == 1
    client, sender, _ = scripted(Answer(307, {"location": "/api/y"}, None, ""), Answer(200, {}, {"fine": True}, ""))
    assert client.get("/x").document == {"fine": True} and sender.asked[1] == "http://127.0.0.1/api/y"


def test_a_list_that_leads_to_another_host_is_not_followed() -> None:
    client, _, _ = scripted(Answer(200, {"link": '<https://elsewhere.example/x>; rel="next"'}, [1], ""))
    with pytest.raises(NotDone, match="another host"):
        list(client.pages("/x"))


def test_limits_are_waited_for_as_told_and_not_longer_than_ten_minutes() -> None:
    fine = Answer(200, {}, {}, "")
    client, _, waits = scripted(
        Answer(429, {"retry-after": "7"}, None, ""), Answer(403, {"retry-after": "2"}, None, ""), fine
    )
    client.get("/x")
    assert waits == [7.0, 2.0]
    client, _, waits = scripted(Answer(429, {}, None, ""), fine)
    client.write("POST", "/x", {})
    assert waits == [60.0]
    client, _, _ = scripted(*[Answer(429, {"retry-after": "400"}, None, "")] * 3)
    with pytest.raises(NotDone, match="patience"):
        client.get("/x")


def test_writes_are_a_second_apart() -> None:
    client, _, waits = scripted(*[Answer(200, {}, {}, "")] * 3)
    for _ in range(3):
        client.write("POST", "/x", {})
    assert waits == [1.0, 1.0]


def test_a_page_that_fails_stops_before_anything_is_written() -> None:
    client, sender, _ = scripted(
        Answer(200, {"x-next-page": "2"}, [1], ""), *[Answer(500, {}, {"message": "no"}, "")] * 3
    )
    with pytest.raises(Exception, match="500"):
        list(client.pages("/x"))
    assert len(sender.asked) == 4


def test_a_server_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    client = Client("http://127.0.0.1:9", {}, Sender(), lambda seconds: None)
    with pytest.raises(NotDone, match="no answer"):
        client.get("/x")

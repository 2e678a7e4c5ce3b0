"""Forges that a test holds in its hand: the calls that posting makes, with paging, faults and other people.

`send` stands for a connection; `serve` puts one behind a real server on this machine.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

from isolint.posting.client import Answer, Unsure

ME = "isolint-bot"
PAGE = 3
"""Elements on a page, whatever is asked for."""


class Killed(BaseException):
    """The run is killed in the middle of a write."""


@dataclass
class FakeNote:
    """One comment."""

    id: int
    author: str
    body: str
    path: str = ""
    line: int = 0
    side: str = "new"
    resolved_by: str = ""
    replies: list[str] = field(default_factory=list)
    pending: bool = False

    @property
    def is_summary(self) -> bool:
        return not self.path


@dataclass
class World:
    """A request with its comments. faults: what happens at the next writes, one a write. before: called before each."""

    head: str = "a" * 40
    open: bool = True
    files: dict[str, set[int]] = field(default_factory=dict)
    notes: list[FakeNote] = field(default_factory=list)
    writes: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    before: Callable[[], None] | None = None
    number: int = 100
    bodies: list[tuple[str, str, object]] = field(default_factory=list)

    def add(self, author: str, body: str, path: str = "", line: int = 0, side: str = "new") -> FakeNote:
        self.number += 1
        self.notes.append(FakeNote(self.number, author, body, path, line, side))
        return self.notes[-1]

    def note(self, id: int | str) -> FakeNote | None:
        return next((note for note in self.notes if note.id == int(id)), None)

    def mine(self) -> list[FakeNote]:
        return [note for note in self.notes if note.author == ME and not note.is_summary]

    def summaries(self) -> list[FakeNote]:
        return [note for note in self.notes if note.author == ME and note.is_summary]

    def patch(self, path: str) -> str:
        return "\n".join(f"@@ -{line},0 +{line},1 @@\n+x" for line in sorted(self.files[path]))


def answer(status: int, document: Any = None, **headers: str) -> Answer:
    """An answer; `_` in the name of a header stands for `-`."""
    return Answer(status, {key.replace("_", "-"): value for key, value in headers.items()}, document, "")


class Fake:
    """What all three have in common: pages, faults, and what counts as a write."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.tokens: set[str] = set()

    def send(self, method: str, url: str, headers: dict[str, str], body: Any) -> Answer:
        parts = urlsplit(url)
        query = {key: values[0] for key, values in parse_qs(parts.query).items()}
        self.tokens.add(headers.get("authorization") or headers.get("private-token", ""))
        self.world.bodies.append((method, parts.path, body))
        if not self.is_write(method, parts.path, body):
            return self.read(parts.path, query, body)
        return self._faulty(method, parts.path, body)

    def close(self) -> None:
        pass

    def _faulty(self, method: str, path: str, body: Any) -> Answer:
        world = self.world
        if world.before is not None:
            world.before()
        fault = world.faults.pop(0) if world.faults else ""
        if fault == "kill-before":
            raise Killed
        if fault == "429":
            return answer(429, {"message": "slow down"}, retry_after="7")
        if fault.isdigit():
            return answer(int(fault), {"message": f"made up {fault}"})
        found = self.write(method, path, body)
        if found.status < 300:
            world.writes.append(f"{method} {path}")
        if fault == "kill-after":
            raise Killed
        if fault == "lost":
            raise Unsure("the connection was reset")
        if fault == "500-after":
            return answer(502, {"message": "bad gateway"})
        return found

    def is_write(self, method: str, path: str, body: Any) -> bool:
        return method != "GET"

    def read(self, path: str, query: dict[str, str], body: Any) -> Answer:
        raise NotImplementedError

    def write(self, method: str, path: str, body: Any) -> Answer:
        raise NotImplementedError


class FakeGitHub(Fake):
    """GitHub: Link headers; threads by GraphQL unless `graphql` is off."""

    graphql = True

    def is_write(self, method: str, path: str, body: Any) -> bool:
        return method != "GET" and not (path.endswith("/graphql") and "mutation" not in body["query"])

    def read(self, path: str, query: dict[str, str], body: Any) -> Answer:
        world = self.world
        if path == "/user":
            return answer(200, {"login": ME})
        if path == "/graphql":
            return self._threads(body) if self.graphql else answer(200, {"errors": ["not accessible by integration"]})
        if path.endswith("/files"):
            return self._page(
                path, query, [{"filename": name, "patch": world.patch(name)} for name in sorted(world.files)]
            )
        if re.search(r"/pulls/\d+/comments$", path):
            return self._page(
                path, query, [each for note in world.notes if not note.is_summary for each in self._shown(note)]
            )
        if re.search(r"/issues/\d+/comments$", path):
            return self._page(path, query, [self._shown(note)[0] for note in world.notes if note.is_summary])
        if re.search(r"/(pulls|issues)/comments/\d+$", path):
            note = world.note(path.rsplit("/", 1)[1])
            return answer(404) if note is None else answer(200, self._shown(note)[0])
        assert re.search(r"/repos/[^/]+/[^/]+/pulls/\d+$", path), path
        return answer(200, {"state": "open" if world.open else "closed", "head": {"sha": world.head}})

    def _page(self, path: str, query: dict[str, str], items: list[Any]) -> Answer:
        page = int(query.get("page", "1"))
        shown = items[(page - 1) * PAGE : page * PAGE]
        more = len(items) > page * PAGE
        link = f'<{path}?per_page={PAGE}&page={page + 1}>; rel="next"' if more else ""
        return answer(200, shown, link=link)

    def _shown(self, note: FakeNote) -> list[dict[str, Any]]:
        in_diff = note.line in self.world.files.get(note.path, ())
        first = {
            "id": note.id, "user": {"login": note.author}, "body": note.body, "path": note.path,
            "line": note.line if in_diff else None, "side": "RIGHT",
        }  # fmt: skip
        replies = [
            {"id": note.id * 1000 + n, "user": {"login": each}, "body": "x", "in_reply_to_id": note.id}
            for n, each in enumerate(note.replies)
        ]
        return [first, *replies]

    def _threads(self, body: Any) -> Answer:
        notes = [note for note in self.world.notes if not note.is_summary]
        start = int(body["variables"]["after"] or 0)
        shown = notes[start : start + PAGE]
        nodes = [
            {
                "id": f"T{note.id}", "isResolved": bool(note.resolved_by), "resolvedBy": {"login": note.resolved_by},
                "comments": {"nodes": [{"databaseId": note.id}]},
            }
            for note in shown
        ]  # fmt: skip
        info = {"hasNextPage": start + PAGE < len(notes), "endCursor": str(start + PAGE)}
        threads = {"reviewThreads": {"nodes": nodes, "pageInfo": info}}
        return answer(200, {"data": {"repository": {"pullRequest": threads}}})

    def write(self, method: str, path: str, body: Any) -> Answer:
        world = self.world
        if path == "/graphql":
            note = world.note(body["variables"]["id"].removeprefix("T")) if self.graphql else None
            if note is None:
                return answer(200, {"errors": ["not accessible by integration"]})
            note.resolved_by = "" if "unresolve" in body["query"] else ME
            return answer(200, {"data": {}})
        if path.endswith("/reviews"):
            if body["commit_id"] != world.head or body["event"] != "COMMENT" or not body["body"]:
                return answer(422, {"message": "Unprocessable"})
            if any(each["line"] not in world.files.get(each["path"], ()) for each in body["comments"]):
                return answer(422, {"message": "line must be part of the diff"})
            for each in body["comments"]:
                world.add(ME, each["body"], each["path"], each["line"])
            return answer(200, {})
        if re.search(r"/pulls/\d+/comments$", path):
            if body["line"] not in world.files.get(body["path"], ()):
                return answer(422, {"message": "line must be part of the diff"})
            world.add(ME, body["body"], body["path"], body["line"])
            return answer(201, {})
        if re.search(r"/issues/\d+/comments$", path):
            world.add(ME, body["body"])
            return answer(201, {})
        return _change(world, method, path.rsplit("/", 1)[1], body)


def _change(world: World, method: str, id: str, body: Any) -> Answer:
    note = world.note(id)
    if note is None:
        return answer(404, {"message": "Not Found"})
    if note.author != ME:
        return answer(403, {"message": "not yours"})
    if method == "DELETE":
        world.notes.remove(note)
        return answer(204)
    note.body = body["body"]
    return answer(200, {})


class FakeGitLab(Fake):
    """GitLab: x-next-page; a discussion a comment; positions need both paths and three commits."""

    def read(self, path: str, query: dict[str, str], body: Any) -> Answer:
        world = self.world
        if path.endswith("/user"):
            return answer(200, {"username": ME})
        if path.endswith("/diffs"):
            items = [{"old_path": name, "new_path": name, "diff": world.patch(name)} for name in sorted(world.files)]
            return self._page(query, items)
        if path.endswith("/versions"):
            return answer(200, [{"base_commit_sha": "b", "start_commit_sha": "s", "head_commit_sha": world.head}])
        if path.endswith("/discussions"):
            return self._page(query, [self._discussion(note) for note in world.notes])
        if "/notes/" in path:
            note = world.note(path.rsplit("/", 1)[1])
            return answer(404) if note is None else answer(200, {"body": note.body})
        assert "/projects/owner%2Fname/merge_requests/" in path, path
        return answer(200, {"state": "opened" if world.open else "merged", "sha": world.head})

    def _page(self, query: dict[str, str], items: list[Any]) -> Answer:
        page = int(query.get("page", "1"))
        following = str(page + 1) if len(items) > page * PAGE else ""
        return answer(200, items[(page - 1) * PAGE : page * PAGE], x_next_page=following)

    def _discussion(self, note: FakeNote) -> dict[str, Any]:
        first: dict[str, Any] = {"id": note.id, "author": {"username": note.author}, "body": note.body, "system": False}
        if not note.is_summary:
            in_diff = note.line in self.world.files.get(note.path, ())
            first["position"] = {"new_path": note.path, "new_line": note.line if in_diff else None, "old_line": None}
            first["resolved"] = bool(note.resolved_by)
            first["resolved_by"] = {"username": note.resolved_by} if note.resolved_by else None
        replies = [{"id": 0, "author": {"username": each}, "body": "x", "system": False} for each in note.replies]
        return {"id": f"d{note.id}", "notes": [first, *replies]}

    def write(self, method: str, path: str, body: Any) -> Answer:
        world = self.world
        if path.endswith("/discussions"):
            place = body["position"]
            assert place["position_type"] == "text" and place["old_path"] and place["base_sha"] and place["start_sha"]
            if place["head_sha"] != world.head or place["new_line"] not in world.files.get(place["new_path"], ()):
                return answer(400, {"message": "line_code can't be blank"})
            world.add(ME, body["body"], place["new_path"], place["new_line"])
            return answer(201, {})
        if path.endswith("/notes"):
            world.add(ME, body["body"])
            return answer(201, {})
        if method == "PUT" and body is not None and "resolved" in body:
            note = world.note(path.rsplit("/d", 1)[1])
            if note is None:
                return answer(404)
            note.resolved_by = ME if body["resolved"] else ""
            return answer(200, {})
        return _change(world, method, path.rsplit("/", 1)[1], body)


class FakeGitea(Fake):
    """Gitea: X-Total-Count, line numbers that stay, no deletion of a comment on a line, reviews that stay pending."""

    resolving = True

    def read(self, path: str, query: dict[str, str], body: Any) -> Answer:
        world = self.world
        inline = [note for note in world.notes if not note.is_summary]
        if path.endswith("/user"):
            return answer(200, {"login": ME})
        if path.endswith(".diff"):
            parts = [f"diff --git a/{n} b/{n}\n--- a/{n}\n+++ b/{n}\n{world.patch(n)}\n" for n in sorted(world.files)]
            return answer(200)._replace(text="".join(parts))
        if path.endswith("/reviews"):
            found = [
                {"id": n.id, "state": "PENDING" if n.pending else "COMMENT", "user": {"login": n.author}}
                for n in inline
            ]
            return self._page(query, found)
        match = re.search(r"/reviews/(\d+)/comments$", path)
        if match:
            note = world.note(match[1])
            assert note is not None
            return answer(200, self._shown(note))
        if re.search(r"/issues/\d+/comments$", path):
            return self._page(query, [self._shown(note)[0] for note in world.notes if note.is_summary])
        if re.search(r"/issues/comments/\d+$", path):
            note = world.note(path.rsplit("/", 1)[1])
            return answer(404) if note is None else answer(200, self._shown(note)[0])
        return answer(200, {"state": "open" if world.open else "closed", "head": {"sha": world.head}})

    def _page(self, query: dict[str, str], items: list[Any]) -> Answer:
        page = int(query.get("page", "1"))
        return answer(200, items[(page - 1) * PAGE : page * PAGE], x_total_count=str(len(items)))

    def _shown(self, note: FakeNote) -> list[dict[str, Any]]:
        by = {"login": note.resolved_by} if note.resolved_by else None
        first = {
            "id": note.id, "user": {"login": note.author}, "body": note.body, "path": note.path,
            "position": note.line, "original_position": 0, "resolver": by,
        }  # fmt: skip
        return [first, *({**first, "id": 0, "user": {"login": each}, "body": "x"} for each in note.replies)]

    def write(self, method: str, path: str, body: Any) -> Answer:
        world = self.world
        if path.endswith("/reviews"):
            assert body["event"] == "COMMENT" and len(body["comments"]) == 1
            (each,) = body["comments"]
            world.add(ME, each["body"], each["path"], each["new_position"])
            return answer(200, {})
        match = re.search(r"/pulls/\d+/reviews/(\d+)$", path)
        if match:
            note = world.note(match[1])
            if note is not None:
                world.notes.remove(note)
            return answer(204)
        match = re.search(r"/comments/(\d+)/(un)?resolve$", path)
        if match:
            note = world.note(match[1])
            if note is None or not self.resolving:
                return answer(404)
            note.resolved_by = "" if match[2] else ME
            return answer(200, {})
        if re.search(r"/issues/\d+/comments$", path):
            world.add(ME, body["body"])
            return answer(201, {})
        note = world.note(path.rsplit("/", 1)[1])
        if method == "DELETE" and note is not None and not note.is_summary:
            return answer(204)  # as the servers do: it says so and deletes nothing
        return _change(world, method, path.rsplit("/", 1)[1], body)


@contextmanager
def serve(fake: Fake, base: str = "") -> Iterator[str]:
    """A server on this machine that answers as a fake does; gives its address."""

    class Handler(BaseHTTPRequestHandler):
        def _answer(self) -> None:
            size = int(self.headers.get("content-length") or 0)
            body = json.loads(self.rfile.read(size)) if size else None
            named = {key.lower(): value for key, value in self.headers.items()}
            found = fake.send(self.command, f"http://x{self.path.removeprefix(base)}", named, body)
            data = found.text.encode() or (b"" if found.document is None else json.dumps(found.document).encode())
            self.send_response(found.status)
            for key, value in found.headers.items():
                self.send_header(key, value)
            self.send_header("content-length", str(0 if found.status == 204 else len(data)))
            self.end_headers()
            if found.status != 204:
                self.wfile.write(data)

        def log_message(self, format: str, *args: Any) -> None:
            pass

    for name in ("GET", "POST", "PUT", "PATCH", "DELETE"):
        setattr(Handler, f"do_{name}", Handler._answer)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}{unquote(base)}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()

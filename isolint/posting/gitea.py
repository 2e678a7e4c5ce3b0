"""Gitea and Forgejo: reviews of one comment each, placed by line numbers of the file.

A comment on a line can't be deleted there: a double is edited to say so. A review that failed half-way stays pending
and is taken away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from isolint.posting.client import Client, Declined, NotDone, Unsure
from isolint.posting.forge import Comment, Form, Fresh, Lines, Request, lines_of_diff

DOUBLE = "(double)"


def headers(token: str) -> dict[str, str]:
    """The headers of every request."""
    return {"authorization": f"token {token}"} if token else {}


class Gitea:
    """One pull request."""

    form: Form = "gitea"

    def __init__(self, client: Client, repository: str, number: str) -> None:
        owner, _, name = repository.partition("/")
        if not owner or not name or "/" in name or not number.isdigit():
            raise NotDone(f"{repository} {number}: not a repository OWNER/NAME and the number of a request")
        self._client = client
        self._repo = f"/repos/{quote(owner, safe='')}/{quote(name, safe='')}"
        self._pull = f"{self._repo}/pulls/{number}"
        self._number = number
        self._me = ""
        self._resolves = True

    def request(self) -> Request:
        found = self._client.get(self._pull).document
        return Request(found.get("state") == "open", str(found["head"]["sha"]))

    def files(self) -> Mapping[str, Lines]:
        return lines_of_diff(self._client.get(f"{self._pull}.diff").text)

    def me(self) -> str:
        if not self._me:
            self._me = str(self._client.get("/user").document["login"])
        return self._me

    def comments(self) -> list[Comment]:
        me = self.me()
        raw: list[Mapping[str, Any]] = []
        for review in self._client.pages(f"{self._pull}/reviews", "limit", 50):
            if str(review.get("state")).upper() != "PENDING":
                raw.extend(self._client.get(f"{self._pull}/reviews/{review['id']}/comments").document or ())
        found = []
        others = {(each.get("path"), *_line(each)) for each in raw if _login(each) != me}
        for each in raw:
            line, side = _line(each)
            by = str((each.get("resolver") or {}).get("login") or "")
            # An answer there is a comment on the same line; of one that left the difference nothing is known.
            answered = line > 0 and (each.get("path"), line, side) in others
            place = str(each.get("path") or ""), line, side
            body = str(each.get("body") or "")
            id = str(each["id"])
            found.append(Comment(id, _login(each), body, False, *place, id, bool(by), by, answered))
        plain = self._client.pages(f"{self._repo}/issues/{self._number}/comments", "limit", 50)
        found += [Comment(str(each["id"]), _login(each), str(each.get("body") or ""), True) for each in plain]
        return found

    def body(self, comment: Comment) -> str | None:
        try:
            found = self._client.get(f"{self._repo}/issues/comments/{comment.id}")
        except Declined as error:
            if error.status == 404:
                return None
            raise
        # Some answer nothing for a comment on a line: then what was listed counts.
        return comment.body if found.document is None else str(found.document.get("body") or "")

    def create(self, fresh: Sequence[Fresh], head: str) -> list[Fresh]:
        self._sweep()
        refused = []
        for each in fresh:
            line = {"old_position" if each.side == "old" else "new_position": each.line}
            review = {
                "commit_id": head,
                "event": "COMMENT",
                "body": "",
                "comments": [{"path": each.path, "body": each.body, **line}],
            }
            try:
                self._client.write("POST", f"{self._pull}/reviews", review)
            except Declined as error:
                if error.status not in (400, 422):
                    raise
                refused.append(each)
            except Unsure:
                self._sweep()
                raise
        return refused

    def _sweep(self) -> None:
        """Take own reviews away that were never submitted."""
        me = self.me()
        for review in list(self._client.pages(f"{self._pull}/reviews", "limit", 50)):
            if str(review.get("state")).upper() == "PENDING" and _login(review) == me:
                self._client.write("DELETE", f"{self._pull}/reviews/{review['id']}", None)

    def create_summary(self, body: str) -> None:
        self._client.write("POST", f"{self._repo}/issues/{self._number}/comments", {"body": body})

    def edit(self, comment: Comment, body: str) -> None:
        self._client.write("PATCH", f"{self._repo}/issues/comments/{comment.id}", {"body": body})

    def delete(self, comment: Comment) -> None:
        if comment.is_summary:
            self._client.write("DELETE", f"{self._repo}/issues/comments/{comment.id}", None)
        else:
            self.edit(comment, DOUBLE)

    def resolve(self, comment: Comment, resolved: bool) -> None:
        if not self._resolves:
            return
        word = "resolve" if resolved else "unresolve"
        try:
            self._client.write("POST", f"{self._pull}/comments/{comment.id}/{word}", None)
        except Declined as error:
            if error.status not in (401, 403, 404, 405):
                raise
            self._resolves = False


def _line(each: Mapping[str, Any]) -> tuple[int, str]:
    now, before = int(each.get("position") or 0), int(each.get("original_position") or 0)
    return (now, "new") if now else (before, "old")


def _login(each: Mapping[str, Any]) -> str:
    return str((each.get("user") or {}).get("login") or "")

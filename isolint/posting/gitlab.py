"""GitLab: a discussion a comment, placed by the three commits of the newest version of the request."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from isolint.posting.client import Client, Declined, NotDone
from isolint.posting.forge import Comment, Form, Fresh, Lines, Request, lines_of


def headers(token: str) -> dict[str, str]:
    """The headers of every request."""
    return {"private-token": token} if token else {}


class GitLab:
    """One merge request."""

    form: Form = "gitlab"

    def __init__(self, client: Client, repository: str, number: str) -> None:
        if not repository or not number.isdigit():
            raise NotDone(f"{repository} {number}: not a project and the number of a request")
        self._client = client
        self._at = f"/projects/{quote(repository, safe='')}/merge_requests/{number}"
        self._me = ""
        self._files: dict[str, Lines] = {}

    def request(self) -> Request:
        found = self._client.get(self._at).document
        return Request(found.get("state") == "opened", str(found.get("sha") or ""))

    def files(self) -> Mapping[str, Lines]:
        for each in self._client.pages(f"{self._at}/diffs"):
            old, new = str(each["old_path"]), str(each["new_path"])
            path = old if each.get("deleted_file") else new
            self._files[path] = lines_of(str(each.get("diff") or ""), "" if old == path else old)
        return self._files

    def me(self) -> str:
        if not self._me:
            self._me = str(self._client.get("/user").document["username"])
        return self._me

    def comments(self) -> list[Comment]:
        me = self.me()
        found = []
        for discussion in self._client.pages(f"{self._at}/discussions"):
            notes = [note for note in discussion.get("notes") or () if not note.get("system")]
            if not notes:
                continue
            first = notes[0]
            place = first.get("position") or {}
            line, side = place.get("new_line"), "new"
            if not line:
                line, side = place.get("old_line"), "old"
            path = str(place.get("new_path" if side == "new" else "old_path") or "")
            by = str((first.get("resolved_by") or {}).get("username") or "")
            found.append(
                Comment(
                    str(first["id"]), _name(first), str(first.get("body") or ""), not place, path, int(line or 0), side,
                    str(discussion["id"]), bool(first.get("resolved")), by,
                    any(_name(note) != me for note in notes[1:]),
                )
            )  # fmt: skip
        return found

    def body(self, comment: Comment) -> str | None:
        try:
            found = self._client.get(f"{self._at}/notes/{comment.id}").document
        except Declined as error:
            if error.status == 404:
                return None
            raise
        return str(found.get("body") or "")

    def create(self, fresh: Sequence[Fresh], head: str) -> list[Fresh]:
        shas = self._shas(head)
        return [each for each in fresh if not self._placed(each, shas)]

    def _shas(self, head: str) -> dict[str, str]:
        newest = next(iter(self._client.get(f"{self._at}/versions").document or ()), None)
        if newest is None or newest.get("head_commit_sha") != head:
            raise Declined(409, "the newest version is not that of the head")
        return {name: str(newest[f"{key}_commit_sha"]) for name, key in _SHAS.items()}

    def _placed(self, fresh: Fresh, shas: Mapping[str, str]) -> bool:
        lines = self._files.get(fresh.path)
        former = lines.former if lines is not None and lines.former else fresh.path
        line = {"old_line": fresh.line} if fresh.side == "old" else {"new_line": fresh.line}
        position = {"position_type": "text", **shas, "old_path": former, "new_path": fresh.path, **line}
        try:
            self._client.write("POST", f"{self._at}/discussions", {"body": fresh.body, "position": position})
        except Declined as error:
            if error.status not in (400, 422):
                raise
            return False
        return True

    def create_summary(self, body: str) -> None:
        self._client.write("POST", f"{self._at}/notes", {"body": body})

    def edit(self, comment: Comment, body: str) -> None:
        self._client.write("PUT", self._note(comment), {"body": body})

    def delete(self, comment: Comment) -> None:
        self._client.write("DELETE", self._note(comment), None)

    def resolve(self, comment: Comment, resolved: bool) -> None:
        try:
            self._client.write("PUT", f"{self._at}/discussions/{comment.thread}", {"resolved": resolved})
        except Declined as error:
            if error.status not in (401, 403, 404):
                raise

    def _note(self, comment: Comment) -> str:
        if comment.is_summary:
            return f"{self._at}/notes/{comment.id}"
        return f"{self._at}/discussions/{comment.thread}/notes/{comment.id}"


_SHAS = {"base_sha": "base", "start_sha": "start", "head_sha": "head"}


def _name(note: Mapping[str, Any]) -> str:
    return str((note.get("author") or {}).get("username") or "")

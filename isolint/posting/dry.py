"""A sender that sends nothing: it keeps each write as it would go out, and answers as an empty request would."""

from __future__ import annotations

import json
from collections.abc import Mapping
from urllib.parse import urlsplit

from isolint.posting.client import Answer
from isolint.review.values import Review

_ACCOUNT = "isolint"


class DrySender:
    """Stands for a forge on which nobody has written anything, and on which each line may be spoken on."""

    def __init__(self, review: Review) -> None:
        self._head = review.head
        self._lines: dict[str, set[int]] = {}
        for item in review.items:
            for anchor in item.anchors:
                if anchor.side == "new":
                    self._lines.setdefault(anchor.file, set()).add(anchor.line)
        self.requests: list[str] = []

    def send(self, method: str, url: str, headers: Mapping[str, str], body: object) -> Answer:
        """Keep a write, answer a read."""
        path = urlsplit(url).path
        if method != "GET" and not path.endswith("/graphql"):
            text = "" if body is None else "\n" + json.dumps(body, ensure_ascii=True, indent=2)
            self.requests.append(f"{method} {url}{text}")
            return Answer(200, {}, {}, "")
        return Answer(200, {}, self._read(path), self._diff() if path.endswith(".diff") else "")

    def close(self) -> None:
        """Nothing is open."""

    def _read(self, path: str) -> object:
        patches = [(name, _patch(lines)) for name, lines in sorted(self._lines.items())]
        if path.endswith("/graphql"):
            return {"errors": ["nothing is asked"]}
        if path.endswith("/user"):
            return {"login": _ACCOUNT, "username": _ACCOUNT}
        if path.endswith("/files"):
            return [{"filename": name, "patch": patch} for name, patch in patches]
        if path.endswith("/diffs"):
            return [{"old_path": name, "new_path": name, "diff": patch} for name, patch in patches]
        if path.endswith("/versions"):
            return [{"base_commit_sha": "BASE", "start_commit_sha": "START", "head_commit_sha": self._head}]
        if path.rsplit("/", 1)[-1].isdigit():
            opened = "opened" if "merge_requests" in path else "open"
            return {"state": opened, "sha": self._head, "head": {"sha": self._head}}
        return []

    def _diff(self) -> str:
        return "".join(
            f"diff --git a/{name} b/{name}\n--- a/{name}\n+++ b/{name}\n{_patch(lines)}\n"
            for name, lines in sorted(self._lines.items())
        )


def _patch(lines: set[int]) -> str:
    return "\n".join(f"@@ -{line},0 +{line},1 @@\n+" for line in sorted(lines))

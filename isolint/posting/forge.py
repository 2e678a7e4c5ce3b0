"""What a forge is to whoever posts: a request, its changed lines, comments, and six ways to write."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, Protocol

_HUNK = re.compile(r"@@ -(\d+)(?:,\d+)? \+(\d+)(?:,\d+)? @@")


Form = Literal["github", "gitlab", "gitea"]
"""Whose Markdown a body is in."""


class Request(NamedTuple):
    """A pull or merge request: whether it is open, and the commit at its head."""

    open: bool
    head: str


class Lines(NamedTuple):
    """The lines of a file on which a forge takes comments: added ones, removed ones; `former`: its path before."""

    added: frozenset[int]
    removed: frozenset[int]
    former: str = ""


class Comment(NamedTuple):
    """One comment of a request.

    thread: what is resolved. line: in the file of head, 0 where it left the diff. resolved_by: "" where it is not
    resolved or nobody says by whom. answered: whether somebody else wrote behind it.
    """

    id: str
    author: str
    body: str
    is_summary: bool
    path: str = ""
    line: int = 0
    side: str = "new"
    thread: str = ""
    resolved: bool = False
    resolved_by: str = ""
    answered: bool = False


class Fresh(NamedTuple):
    """A comment to be made on a line."""

    path: str
    line: int
    side: str
    body: str
    key: str


class Forge(Protocol):
    """A forge. All raise `Declined`, `Unsure` or `NotDone`; an edit or deletion of what is gone is done."""

    form: Form

    def request(self) -> Request:
        """The request as it is now."""
        ...

    def files(self) -> Mapping[str, Lines]:
        """The changed files with their changed lines; a file without lines to show has none."""
        ...

    def me(self) -> str:
        """The account that writes."""
        ...

    def comments(self) -> list[Comment]:
        """All comments of the request, oldest first."""
        ...

    def body(self, comment: Comment) -> str | None:
        """What a comment holds now, None where it is gone."""
        ...

    def create(self, fresh: Sequence[Fresh], head: str) -> list[Fresh]:
        """Make comments on lines; give those that the forge refuses."""
        ...

    def create_summary(self, body: str) -> None:
        """Make a comment on the request as a whole."""
        ...

    def edit(self, comment: Comment, body: str) -> None:
        """Give a comment another body."""
        ...

    def delete(self, comment: Comment) -> None:
        """Take a comment away."""
        ...

    def resolve(self, comment: Comment, resolved: bool) -> None:
        """Resolve the thread of a comment or open it again; nothing where the forge does not allow it."""
        ...


def lines_of(patch: str, former: str = "") -> Lines:
    """The changed lines of one file from its hunks."""
    added, removed = set(), set()
    old = new = 0
    inside = False
    for line in patch.split("\n"):
        found = _HUNK.match(line)
        if found:
            old, new, inside = int(found[1]), int(found[2]), True
        elif not inside or line.startswith("\\"):
            continue
        elif line.startswith("+"):
            added.add(new)
            new += 1
        elif line.startswith("-"):
            removed.add(old)
            old += 1
        else:
            old, new = old + 1, new + 1
    return Lines(frozenset(added), frozenset(removed), former)


def lines_of_diff(diff: str) -> dict[str, Lines]:
    """The changed lines of all files of a diff, by path; names in quotes are taken apart."""
    found: dict[str, Lines] = {}
    for part in re.split(r"(?m)^diff --git .*\n", diff)[1:]:
        head, mark, hunks = part.partition("\n@@ ")
        names = {
            line[:3]: _unquoted(line[4:].split("\t")[0]) for line in head.split("\n") if line[:4] in ("--- ", "+++ ")
        }
        before, after = names.get("---", ""), names.get("+++", "")
        path = after.removeprefix("b/") if after and after != "/dev/null" else before.removeprefix("a/")
        if mark and path:
            former = before.removeprefix("a/") if before != "/dev/null" else ""
            found[path] = lines_of(f"@@ {hunks}", "" if former == path else former)
    return found


def _unquoted(name: str) -> str:
    if not (name.startswith('"') and name.endswith('"')):
        return name
    data = re.sub(
        rb"\\([0-7]{3}|.)",
        lambda each: (
            bytes([int(each[1], 8) & 0xFF])
            if len(each[1]) == 3
            else {b"n": b"\n", b"t": b"\t", b"r": b"\r"}.get(each[1], each[1])
        ),
        name[1:-1].encode("utf-8", "surrogateescape"),
    )
    return data.decode("utf-8", "replace")

"""GitHub and servers like it: reviews and comments by REST, threads by GraphQL where the token may."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any
from urllib.parse import quote

from isolint.posting.client import Client, Declined, NotDone
from isolint.posting.forge import Comment, Form, Fresh, Lines, Request, lines_of

_THREADS = """query($owner:String!,$name:String!,$number:Int!,$after:String){repository(owner:$owner,name:$name){
pullRequest(number:$number){reviewThreads(first:100,after:$after){pageInfo{hasNextPage endCursor}nodes{id isResolved
resolvedBy{login}comments(first:1){nodes{databaseId}}}}}}}"""
_RESOLVE = "mutation($id:ID!){resolveReviewThread(input:{threadId:$id}){thread{id}}}"
_REOPEN = "mutation($id:ID!){unresolveReviewThread(input:{threadId:$id}){thread{id}}}"
_ACTIONS = "github-actions[bot]"


def headers(token: str) -> dict[str, str]:
    """The headers of every request."""
    found = {"accept": "application/vnd.github+json", "x-github-api-version": "2022-11-28"}
    return {**found, "authorization": f"Bearer {token}"} if token else found


class GitHub:
    """One pull request."""

    form: Form = "github"

    def __init__(self, client: Client, repository: str, number: str) -> None:
        owner, _, name = repository.partition("/")
        if not owner or not name or "/" in name or not number.isdigit():
            raise NotDone(f"{repository} {number}: not a repository OWNER/NAME and the number of a request")
        self._client = client
        self._repo = f"/repos/{quote(owner, safe='')}/{quote(name, safe='')}"
        self._pull = f"{self._repo}/pulls/{number}"
        self._variables = {"owner": owner, "name": name, "number": int(number)}
        self._number = number
        self._me = ""

    def request(self) -> Request:
        found = self._client.get(self._pull).document
        return Request(found.get("state") == "open", str(found["head"]["sha"]))

    def files(self) -> Mapping[str, Lines]:
        found = {}
        for each in self._client.pages(f"{self._pull}/files"):
            former = str(each.get("previous_filename") or "")
            found[str(each["filename"])] = lines_of(str(each.get("patch") or ""), former)
        return found

    def me(self) -> str:
        if not self._me:
            with suppress(Declined):
                self._me = str(self._client.get("/user").document["login"])
            if not self._me:
                # A token of a job is no user; its comments are the job's.
                told = self._graphql("query{viewer{login}}", {})
                self._me = str(((told or {}).get("viewer") or {}).get("login") or _ACTIONS)
        return self._me

    def comments(self) -> list[Comment]:
        me = self.me()
        raw = list(self._client.pages(f"{self._pull}/comments"))
        threads = self._threads() if any(_login(each) == me for each in raw) else {}
        answered = {str(each["in_reply_to_id"]) for each in raw if each.get("in_reply_to_id") and _login(each) != me}
        found = []
        for each in raw:
            if each.get("in_reply_to_id"):
                continue
            id = str(each["id"])
            thread, resolved, by = threads.get(id, ("", False, ""))
            side = "old" if each.get("side") == "LEFT" else "new"
            found.append(
                Comment(
                    id, _login(each), str(each.get("body") or ""), False, str(each.get("path") or ""),
                    int(each.get("line") or 0), side, thread, resolved, _same(by, me), id in answered,
                )
            )  # fmt: skip
        plain = self._client.pages(f"{self._repo}/issues/{self._number}/comments")
        found += [Comment(str(each["id"]), _login(each), str(each.get("body") or ""), True) for each in plain]
        return found

    def body(self, comment: Comment) -> str | None:
        try:
            return str(self._client.get(self._at(comment)).document.get("body") or "")
        except Declined as error:
            if error.status in (404, 410):
                return None
            raise

    def create(self, fresh: Sequence[Fresh], head: str) -> list[Fresh]:
        comments = [
            {"path": each.path, "line": each.line, "side": "LEFT" if each.side == "old" else "RIGHT", "body": each.body}
            for each in fresh
        ]
        review = {"commit_id": head, "event": "COMMENT", "body": f"isolint on {head[:12]}", "comments": comments}
        try:
            self._client.write("POST", f"{self._pull}/reviews", review)
        except Declined as error:
            if error.status != 422:
                raise
            # One line that is not in the difference refuses all, and which one is not said.
            return [each for each, comment in zip(fresh, comments, strict=True) if not self._single(comment, head)]
        return []

    def _single(self, comment: Mapping[str, object], head: str) -> bool:
        try:
            self._client.write("POST", f"{self._pull}/comments", {**comment, "commit_id": head})
        except Declined as error:
            if error.status != 422:
                raise
            return False
        return True

    def create_summary(self, body: str) -> None:
        self._client.write("POST", f"{self._repo}/issues/{self._number}/comments", {"body": body})

    def edit(self, comment: Comment, body: str) -> None:
        self._client.write("PATCH", self._at(comment), {"body": body})

    def delete(self, comment: Comment) -> None:
        self._client.write("DELETE", self._at(comment), None)

    def resolve(self, comment: Comment, resolved: bool) -> None:
        if comment.thread:
            self._graphql(_RESOLVE if resolved else _REOPEN, {"id": comment.thread}, write=True)

    def _at(self, comment: Comment) -> str:
        kind = "issues" if comment.is_summary else "pulls"
        return f"{self._repo}/{kind}/comments/{comment.id}"

    def _threads(self) -> dict[str, tuple[str, bool, str]]:
        """Thread, whether it is resolved, and by whom, by the id of its first comment; {} where that is refused."""
        found: dict[str, tuple[str, bool, str]] = {}
        after: str | None = None
        for _ in range(100):
            told = self._graphql(_THREADS, {**self._variables, "after": after})
            if told is None:
                return {}
            threads = told["repository"]["pullRequest"]["reviewThreads"]
            for each in threads["nodes"]:
                first = each["comments"]["nodes"]
                if first:
                    by = str((each.get("resolvedBy") or {}).get("login") or "")
                    found[str(first[0]["databaseId"])] = (str(each["id"]), bool(each["isResolved"]), by)
            if not threads["pageInfo"]["hasNextPage"]:
                break
            after = threads["pageInfo"]["endCursor"]
        return found

    def _graphql(self, query: str, variables: Mapping[str, object], write: bool = False) -> dict[str, Any] | None:
        """What GraphQL answers, None where it refuses."""
        base = self._client.base
        address = f"{base.removesuffix('/v3')}/graphql" if base.endswith("/api/v3") else f"{base}/graphql"
        said = {"query": query, "variables": dict(variables)}
        try:
            told = (self._client.write("POST", address, said) if write else self._client.ask(address, said)).document
        except Declined as error:
            if error.status in (401, 403, 404, 422):
                return None
            raise
        if not isinstance(told, dict) or told.get("errors") or not isinstance(told.get("data"), dict):
            return None
        data: dict[str, Any] = told["data"]
        return data


def _login(each: Mapping[str, Any]) -> str:
    return str((each.get("user") or {}).get("login") or "")


def _same(by: str, me: str) -> str:
    """An account as REST calls it: GraphQL leaves `[bot]` out."""
    return me if by and by == me.removesuffix("[bot]") else by

"""Marks by which own comments are found again: what they are about, in which state, and whether anybody edited them.

A mark is a hidden first line. Its signature covers origin, repository, request, state and body, so that a copy is no
comment of ours and an edited one shows. Without a key everybody can make one, but only our account is believed.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import re
import unicodedata
from collections.abc import Mapping
from typing import Literal, NamedTuple

from isolint.review.values import Identity, Item, Standing

Life = Literal["live", "quiet", "fixed"]
MOST_LEDGER = 8_000

_MARK = re.compile(r"<!-- isolint-review/1 (item|summary) k=([0-9a-f]{32}) t=(live|quiet|fixed) s=([0-9a-f]{32}) -->")
_LEDGER = re.compile(r"<!-- isolint-ledger/1 ([A-Za-z0-9+/=]*) -->")


class Mark(NamedTuple):
    """A mark that was read: about what, in which state, and its signature."""

    kind: str
    key: str
    life: Life
    signature: str


class Known(NamedTuple):
    """What the ledger knows of a comment: its id, "on", "fixed", "dismissed" or "refused", harm, digest of its body."""

    id: str
    state: str
    harm: float
    digest: str


class Signer(NamedTuple):
    """Where comments stand, and the key that signs them where there is one."""

    origin: str
    repository: str
    request: str
    secret: str = ""

    def sign(self, kind: str, key: str, life: str, body: str) -> str:
        """The signature of a body."""
        said = "\x1f".join((self.origin, self.repository, self.request, kind, key, life, normal(body)))
        data = said.encode("utf-8", "backslashreplace")
        if self.secret:
            return hmac.new(self.secret.encode(), data, hashlib.sha256).hexdigest()[:32]
        return hashlib.sha256(data).hexdigest()[:32]

    def marked(self, kind: str, key: str, life: Life, body: str) -> str:
        """A body with its mark in front."""
        return f"<!-- isolint-review/1 {kind} k={key} t={life} s={self.sign(kind, key, life, body)} -->\n{body}"

    def holds(self, text: str) -> bool:
        """Whether the signature of a comment fits what stands in it."""
        mark = read_mark(text)
        if mark is None:
            return False
        body = normal(text).partition("\n")[2]
        return hmac.compare_digest(mark.signature, self.sign(mark.kind, mark.key, mark.life, body))


def normal(text: str) -> str:
    """A text without what forges change: carriage returns, blanks at the ends of lines, composed characters."""
    lines = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
    return "\n".join(line.rstrip() for line in lines).strip("\n")


def read_mark(text: str) -> Mark | None:
    """The mark of a comment: on its first line, and the only one."""
    first, _, rest = normal(text).partition("\n")
    found = _MARK.fullmatch(first)
    if found is None or _MARK.search(rest):
        return None
    return Mark(found[1], found[2], found[3], found[4])  # type: ignore[arg-type]


def digest(text: str) -> str:
    """What a body is known by."""
    return hashlib.sha256(normal(text).encode("utf-8", "backslashreplace")).hexdigest()[:32]


def key_of(rule: str, role: str, identity: Identity) -> str:
    """What an item is known by over pushes, renames and re-annotations."""
    words = (rule, role.casefold(), *map(str, identity))
    return hashlib.sha256("\x1f".join(words).encode("utf-8", "backslashreplace")).hexdigest()[:32]


SUMMARY_KEY = hashlib.sha256(b"isolint summary").hexdigest()[:32]


def keys_of(item: Item) -> tuple[str, tuple[str, ...]]:
    """The key of an item, and others under which a comment of it may stand: by the names of head, by its old rule."""
    key = key_of(item.rule, item.role, item.identity)
    others = [key_of(item.rule, item.role, item.own)]
    if item.instead:
        others += [key_of(item.instead, item.role, item.identity), key_of(item.instead, "", item.identity)]
    return key, tuple(other for other in dict.fromkeys(others) if other != key)


def standing_keys(standing: Standing) -> tuple[str, ...]:
    """The keys of what fails in head as it did before."""
    found = (key_of(standing.rule, standing.role, each) for each in (standing.identity, standing.own))
    return tuple(dict.fromkeys(found))


def write_ledger(known: Mapping[str, Known]) -> str:
    """The last line of a summary; where it grows too long what is fixed goes first."""
    kept = dict(sorted(known.items()))
    while True:
        rows = {key: [each.id, each.state, each.harm, each.digest] for key, each in kept.items()}
        data = json.dumps(rows, sort_keys=True, separators=(",", ":")).encode()
        line = f"<!-- isolint-ledger/1 {base64.b64encode(data).decode()} -->"
        if len(line) <= MOST_LEDGER or not kept:
            return line
        fixed = sorted((key for key, each in kept.items() if each.state == "fixed"), key=lambda key: _age(kept[key].id))
        for key in fixed[:8] or [next(iter(kept))]:
            del kept[key]


def _age(id: str) -> tuple[int, str]:
    return (int(id), id) if id.isdigit() else (0, id)


def read_ledger(text: str) -> dict[str, Known]:
    """What a summary's ledger holds; {} where it can't be read."""
    found = _LEDGER.fullmatch(normal(text).rpartition("\n")[2])
    if found is None:
        return {}
    try:
        raw = json.loads(base64.b64decode(found[1], validate=True))
        rows = {str(key): Known(str(row[0]), str(row[1]), float(row[2]), str(row[3])) for key, row in dict(raw).items()}
    except (ValueError, TypeError, LookupError, binascii.Error, RecursionError):
        return {}
    return rows

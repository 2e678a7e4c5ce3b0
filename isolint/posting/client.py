"""HTTP to one origin with a token that goes nowhere else: paging, waiting when asked to, errors in words."""

from __future__ import annotations

import ipaddress
import json
import time
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import parse_qsl, urlencode, urljoin, urlsplit

from isolint.errors import IsolintError

if TYPE_CHECKING:
    import httpx

PATIENCE = 600.0
"""Seconds that a run waits in all where a forge asks for it."""
TIMEOUT = 30.0
MOST_PAGES = 300
MOST_BYTES = 64 * 1024 * 1024
_REDIRECTS = (301, 302, 303, 307, 308)


class NotDone(IsolintError):
    """The review could not be posted, or not all of it."""


class Unsure(IsolintError):
    """It is not known whether a write was done: list before trying again."""


class Declined(IsolintError):
    """The forge declined one request. `status` is that of HTTP."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status


class Answer(NamedTuple):
    """What a forge answered: headers in lower case, the document or None, the text."""

    status: int
    headers: Mapping[str, str]
    document: Any
    text: str


class Sender:
    """Sends requests; other senders stand for it where nothing is to be sent."""

    def __init__(self) -> None:
        try:
            import httpx
        except ImportError:
            raise NotDone("to post needs the package httpx", cure="pip install 'isolint[post]'") from None
        self._httpx = httpx
        self._client: httpx.Client = httpx.Client(timeout=TIMEOUT, follow_redirects=False, trust_env=True)

    def send(self, method: str, url: str, headers: Mapping[str, str], body: object) -> Answer:
        """Send one request; raise `Unsure` where no answer comes."""
        content = None if body is None else json.dumps(body).encode()
        try:
            found = self._client.request(method, url, headers=dict(headers), content=content)
        except self._httpx.HTTPError as error:
            raise Unsure(f"no answer from {urlsplit(url).hostname}: {type(error).__name__}") from None
        try:
            document = found.json() if found.content else None
        except ValueError:
            document = None
        named = {name.lower(): value for name, value in found.headers.items()}
        return Answer(found.status_code, named, document, found.text if len(found.content) <= MOST_BYTES else "")

    def close(self) -> None:
        """Close the connections."""
        self._client.close()


def checked_origin(url: str) -> str:
    """A base address without a slash at its end; raise `NotDone` unless it is https, or http to this machine."""
    parts = urlsplit(url)
    if parts.username or parts.password or parts.query or parts.fragment or not parts.hostname:
        raise NotDone(f"{parts.hostname or 'the address'}: not an address of a forge", cure="https://host/api")
    if parts.scheme != "https" and not (parts.scheme == "http" and _is_here(parts.hostname)):
        raise NotDone(f"{parts.hostname}: the token goes over https only", cure=f"https://{parts.hostname}")
    return url.rstrip("/")


def _is_here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class Client:
    """One forge. headers: the token among them. sleep: waits so many seconds."""

    def __init__(
        self, base: str, headers: Mapping[str, str], sender: Any, sleep: Callable[[float], None] = time.sleep
    ) -> None:
        self.base = checked_origin(base)
        self._headers = {"user-agent": "isolint", "content-type": "application/json", **headers}
        self._sender = sender
        self.sleep = sleep
        self._left = PATIENCE
        self._written = False

    def get(self, path: str) -> Answer:
        """Read; raise `Declined` where the forge refuses, `NotDone` where no answer comes."""
        return self._read("GET", path, None)

    def ask(self, path: str, body: object) -> Answer:
        """Read by a question that is sent."""
        return self._read("POST", path, body)

    def _read(self, method: str, path: str, body: object) -> Answer:
        for attempt in range(3):
            try:
                found = self._asked(method, path, body)
            except Unsure as error:
                if attempt == 2:
                    raise NotDone(error.text) from None
                self.sleep(1.0)
                continue
            if found.status >= 500 and attempt < 2:
                self.sleep(1.0)
                continue
            if found.status != 200:
                raise Declined(found.status, f"{method} {path}: {self._why(found)}")
            return found
        raise NotDone(f"{method} {path}: no answer")

    def write(self, method: str, path: str, body: object) -> Answer:
        """Write, a second after the last time; raise `Declined`, `Unsure` or `NotDone`."""
        if self._written:
            self.sleep(1.0)
        self._written = True
        found = self._asked(method, path, body)
        if found.status >= 500:
            raise Unsure(f"{method} {path}: {self._why(found)}")
        if not 200 <= found.status < 300:
            raise Declined(found.status, f"{method} {path}: {self._why(found)}")
        return found

    def pages(self, path: str, size: str = "per_page", most: int = 100) -> Iterator[Any]:
        """The elements of a list over all its pages, by whichever sign the forge gives of more."""
        at: str | None = _with(path, {size: str(most)})
        number = seen = 0
        while at is not None:
            number += 1
            if number > MOST_PAGES:
                raise NotDone(f"GET {path}: more than {MOST_PAGES} pages")
            found = self.get(at)
            if not isinstance(found.document, list):
                raise NotDone(f"GET {path}: the answer is no list")
            yield from found.document
            seen += len(found.document)
            at = self._next(found, at, number, seen)

    def _next(self, found: Answer, at: str, number: int, seen: int) -> str | None:
        for part in found.headers.get("link", "").split(","):
            address, _, about = part.partition(";")
            if 'rel="next"' in about:
                return self._inside(address.strip().strip("<>"))
        if found.headers.get("x-next-page", "").strip():
            return _with(at, {"page": found.headers["x-next-page"].strip()})
        total = found.headers.get("x-total-count", "")
        if total.isdigit() and found.document and seen < int(total):
            return _with(at, {"page": str(number + 1)})
        return None

    def _inside(self, address: str) -> str:
        """An address that the forge names, as a path of it; raise `NotDone` where it leads elsewhere."""
        full = urljoin(self.base + "/", address)
        one, other = urlsplit(full), urlsplit(self.base)
        if (one.scheme, one.netloc) != (other.scheme, other.netloc):
            raise NotDone(f"the forge leads to another host, {one.hostname}; nothing is sent there")
        return full

    def _asked(self, method: str, path: str, body: object) -> Answer:
        url = path if path.startswith(("http://", "https://")) else f"{self.base}{path}"
        url = self._inside(url)
        for _ in range(8):
            found: Answer = self._sender.send(method, url, self._headers, body)
            wait = _wait(found)
            if wait is not None:
                self._left -= wait
                if self._left < 0:
                    raise NotDone("the forge asks for more patience than ten minutes")
                self.sleep(wait)
                continue
            if found.status in _REDIRECTS and found.headers.get("location"):
                if method != "GET" and found.status not in (307, 308):
                    raise NotDone(f"{method} {path}: the forge redirects a write")
                url = self._inside(urljoin(url, found.headers["location"]))
                continue
            return found
        raise NotDone(f"{method} {path}: too many redirects or waits")

    def _why(self, found: Answer) -> str:
        told = found.document.get("message") if isinstance(found.document, dict) else None
        errors = found.document.get("errors") if isinstance(found.document, dict) else None
        words = " ".join(str(each) for each in (told, errors) if each)
        return f"{found.status} {words}"[:300].strip()


def _wait(found: Answer) -> float | None:
    """How long a forge asks to wait, None where it does not."""
    limited = found.status == 429 or (
        found.status == 403 and ("retry-after" in found.headers or found.headers.get("x-ratelimit-remaining") == "0")
    )
    if not limited:
        return None
    told = found.headers.get("retry-after", "")
    if told.strip().isdigit():
        return float(told)
    reset = found.headers.get("x-ratelimit-reset", "")
    if found.headers.get("x-ratelimit-remaining") == "0" and reset.isdigit():
        return max(1.0, float(reset) - time.time())
    return 60.0


def _with(path: str, more: Mapping[str, str]) -> str:
    head, _, query = path.partition("?")
    return f"{head}?{urlencode({**dict(parse_qsl(query)), **more})}"

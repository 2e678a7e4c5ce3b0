"""Netlists judged by workers of an existing Dask cluster (`distributed`): plain bytes travel, both ways.

A worker has no files: what a judgement may read travels with the netlist, and what turns out to be lacking is asked for
and sent again. A worker whose isolint is another one is refused, since its findings could not be told from ours.
"""

from __future__ import annotations

import base64
import contextlib
import json
import posixpath
import queue
import time
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from isolint.archive.asks import digest_of
from isolint.archive.codec import BadRecord, canonical, packed, plain, read, unpacked
from isolint.archive.unit import Doc, Rules, UnitAnswer, answered, judge, key_of, tool_digest, written
from isolint.archive.workers import Done, JudgeRequest, Workers
from isolint.errors import IsolintError, Missing, Place, Refused
from isolint.netlist.dependencies import included
from isolint.project import Project
from isolint.source import FolderTree, Tree

MOST_ROUNDS = 8
MOST_SENT = 64 * 1024 * 1024
"""Bytes that may travel with one netlist."""
_A_THREAD = 4
"""Requests in flight for each thread of the cluster."""
_RETRIES = 2
_PATIENCE = 20
"""Seconds within which a scheduler must answer."""
_CHAINS = ("isolint.toml", "isolint-baseline.toml")


class Lacks(Exception):
    """A question that what travelled does not answer: kind and names."""

    def __init__(self, what: str, *names: str) -> None:
        super().__init__(what, *names)
        self.question = (what, *names)


class Carried(Tree):
    """A tree of answers that were given beforehand; any other question is `Lacks`."""

    def __init__(self, answers: dict[str, Any]) -> None:
        self._answers = answers

    def _of(self, what: str, *names: str) -> Any:
        found = self._answers.get(_key(what, *names))
        if found is None:
            raise Lacks(what, *names)
        if isinstance(found, dict):
            kind = Missing if found["missing"] else Refused
            raise kind(found["text"], None if found["place"] is None else Place(*found["place"]), found["cure"])
        return found

    def read(self, path: str) -> bytes:
        return base64.b64decode(self._of("read", path))

    def exists(self, path: str) -> bool:
        return bool(self._of("exists", path)[0])

    def match(self, pattern: str) -> tuple[str, ...]:
        return tuple(self._of("match", pattern))

    def walk(self, folder: str = "") -> tuple[str, ...]:
        return tuple(self._of("walk", folder))

    def resolve(self, folder: str, name: str) -> str:
        return str(self._of("resolve", folder, name)[0])


def _key(what: str, *names: str) -> str:
    return "\x1f".join((what, *names))


def answer(tree: Tree, question: Sequence[str]) -> Any:
    """The answer of a tree to a question, as plain values."""
    what, *names = question
    try:
        if what == "read":
            return base64.b64encode(tree.read(names[0])).decode()
        if what == "exists":
            return [tree.exists(names[0])]
        if what == "match":
            return list(tree.match(names[0]))
        if what == "walk":
            return list(tree.walk(names[0]))
        return [tree.resolve(names[0], names[1])]
    except Refused as error:
        place = None if error.place is None else list(error.place)
        return {"missing": isinstance(error, Missing), "text": error.text, "cure": error.cure, "place": place}


def judge_bytes(data: bytes) -> bytes:
    """Judge what travelled: on a worker, from nothing but these bytes.

    Gives one line that names the worker and its tool and a question that was not answered, if there is one; behind it
    the answer of the judgement.
    """
    raw = unpacked(data)
    assert isinstance(raw, dict)
    rules = read(Rules, raw["rules"])
    head = {"tool": tool_digest(), "worker": _name_of_worker(), "lacks": []}
    if head["tool"] != rules.tool:
        return canonical(head) + b"\n"
    try:
        found = judge(Carried(raw["answers"]), raw["path"], rules)
    except Lacks as lacking:
        return canonical({**head, "lacks": list(lacking.question)}) + b"\n"
    return canonical(head) + b"\n" + written(found)


def _name_of_worker() -> str:
    try:
        from distributed import get_worker

        return str(get_worker().address)
    except (ImportError, ValueError):
        return "here"


class _Recorded(Tree):
    """A tree that keeps every question with its answer."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self.answers: dict[str, Any] = {}

    def _asked(self, *question: str) -> Any:
        key = _key(*question)
        if key not in self.answers:
            self.answers[key] = answer(self._tree, question)
        return Carried(self.answers)

    def read(self, path: str) -> bytes:
        found: bytes = self._asked("read", path).read(path)
        return found

    def exists(self, path: str) -> bool:
        return bool(self._asked("exists", path).exists(path))

    def match(self, pattern: str) -> tuple[str, ...]:
        found: tuple[str, ...] = self._asked("match", pattern).match(pattern)
        return found

    def walk(self, folder: str = "") -> tuple[str, ...]:
        found: tuple[str, ...] = self._asked("walk", folder).walk(folder)
        return found

    def resolve(self, folder: str, name: str) -> str:
        return str(self._asked("resolve", folder, name).resolve(folder, name))


def load_of(tree: Tree, path: str) -> dict[str, Any]:
    """The answers that judging a netlist surely asks for: what it includes, its settings, records and baselines."""
    from isolint import facts

    found = _Recorded(tree)
    needed = Project(tree).dependencies(path)
    with contextlib.suppress(IsolintError):
        facts.load(found, path)
    for file in (path, *(each.path for each in needed if not each.trouble)):
        with contextlib.suppress(Refused):
            data = found.read(file)
            for name in () if file.lower().endswith(".toml") else included(data):
                with contextlib.suppress(Refused):
                    found.resolve(posixpath.dirname(file), name)
    level = posixpath.dirname(path)
    while True:
        for name in _CHAINS:
            with contextlib.suppress(Refused):
                found.exists(posixpath.join(level, name))
                found.read(posixpath.join(level, name))
        if not level:
            return found.answers
        level = posixpath.dirname(level)


class _Job(NamedTuple):
    """One netlist on its way. answers: what has travelled; avoid: workers that are refused."""

    request: JudgeRequest
    answers: dict[str, Any]
    rounds: int
    started: float
    begun: float
    avoid: frozenset[str] = frozenset()


class Cluster:
    """The workers behind a scheduler, as a pool. What they can't do is done in a process here."""

    def __init__(self, address: str, rules: Rules) -> None:
        try:
            import distributed
        except ImportError:
            cure = "pip install 'isolint[cluster]'"
            raise IsolintError("the package `distributed` is not installed", cure=cure) from None
        try:
            connect: Any = distributed.Client
            self._client: Any = connect(address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            text = f"no scheduler answers there: {str(error) or 'it took too long'}"
            raise IsolintError(text, Place(address), "start one, or audit without --scheduler") from None
        self._rules = rules
        self._jobs: dict[str, tuple[_Job, Any]] = {}
        self._ready: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._here = Workers(1, rules)
        self._waiting: list[_Job] = []
        self._looked = 0.0
        self._threads = 1
        self._number = 0
        self.refused: dict[str, str] = {}

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *_: object) -> None:
        self._here.__exit__()
        with contextlib.suppress(OSError, TimeoutError, RuntimeError):
            self._client.close(timeout=5)

    @property
    def busy(self) -> int:
        """How many netlists are in work, here too."""
        return len(self._jobs) + len(self._waiting) + self._here.busy

    @property
    def free(self) -> int:
        """How many may be sent now: some for each thread, so that none is idle and little is lost."""
        if time.monotonic() - self._looked > 2.0:
            self._looked = time.monotonic()
            self._alive()
            self._threads = max(1, sum(self._client.nthreads().values()))
        return max(0, _A_THREAD * self._threads - self.busy)

    @property
    def at(self) -> str:
        """The netlist that has been in work longest."""
        oldest = min((job for job, _ in self._jobs.values()), key=lambda job: job.begun, default=None)
        return self._here.at if oldest is None else oldest.request.path

    def submit(self, request: JudgeRequest) -> None:
        """Send a netlist with what it surely needs."""
        answers = load_of(FolderTree(request.top), request.path)
        self._send(_Job(request, answers, 0, time.time(), time.monotonic()))

    def _send(self, job: _Job) -> None:
        data = packed({"path": job.request.path, "rules": plain(self._rules), "answers": job.answers})
        workers = None
        if job.avoid:
            workers = [name for name in self._client.nthreads() if name not in job.avoid]
        if len(data) > MOST_SENT or workers == [] or job.rounds > MOST_ROUNDS:
            self._waiting.append(job)
            return
        self._number += 1
        key = f"isolint-{id(self)}-{self._number}"
        future = self._client.submit(judge_bytes, data, key=key, pure=False, retries=_RETRIES, workers=workers)
        self._jobs[key] = (job, future)
        future.add_done_callback(lambda done: self._ready.put(done.key))

    def wait(self, seconds: float) -> Iterator[Done]:
        """What is done within some seconds; raise `IsolintError` where the scheduler is gone."""
        self._alive()
        while self._waiting and self._here.free:
            self._here.submit(self._waiting.pop().request)
        if self._here.busy:
            yield from self._here.wait(0.05 if self._jobs else seconds)
        until = time.monotonic() + (seconds if self._jobs else 0.0)
        while self._jobs and (left := until - time.monotonic()) > 0.0:
            try:
                key = self._ready.get(timeout=left)
            except queue.Empty:
                return
            if key in self._jobs:
                done = self._taken(*self._jobs.pop(key))
                if done is not None:
                    yield done
                    return

    def _alive(self) -> None:
        if self._client.status != "running":
            cure = "start it again and the audit too: what was judged is in the store"
            raise IsolintError("the connection to the scheduler is lost", cure=cure)

    def _taken(self, job: _Job, future: Any) -> Done | None:
        """What came back of a netlist; sent again, or done here, where that is no answer."""
        if future.status != "finished":
            self._waiting.append(job)
            return None
        try:
            head, answer_of = _opened(future.result())
        except BadRecord:
            self._waiting.append(job)
            return None
        worker = str(head["worker"])
        if head["tool"] != self._rules.tool:
            self.refused[worker] = str(head["tool"])
            self._send(job._replace(avoid=job.avoid | {worker}))
            return None
        if head["lacks"]:
            question = tuple(map(str, head["lacks"]))
            tree = FolderTree(job.request.top)
            more = {_key(*question): answer(tree, question)}
            self._send(job._replace(answers={**job.answers, **more}, rounds=job.rounds + 1))
            return None
        if answer_of is None or not _is_sound(answer_of, self._rules, job):
            self._waiting.append(job)
            return None
        return Done(job.request, answer_of, job.started, time.monotonic() - job.begun, worker)


def _opened(data: object) -> tuple[dict[str, Any], UnitAnswer | None]:
    """The line in front and the answer behind it; raise `BadRecord`."""
    if not isinstance(data, bytes):
        raise BadRecord("a worker gave no bytes")
    first, _, rest = data.partition(b"\n")
    try:
        head = json.loads(first)
    except ValueError:
        raise BadRecord("a worker gave no JSON") from None
    if (
        not isinstance(head, dict)
        or not {"tool", "worker", "lacks"} <= set(head)
        or not isinstance(head["lacks"], list)
    ):
        raise BadRecord("a worker gave something else")
    return head, answered(rest) if rest else None


def _is_sound(found: UnitAnswer, rules: Rules, job: _Job) -> bool:
    """Whether an answer is one: of this netlist, with its key, its document whole and readable."""
    if found.key != key_of(rules, found.digest, found.asks, found.dated):
        return False
    sent = job.answers.get(_key("read", job.request.path))
    if not isinstance(sent, str) or digest_of(base64.b64decode(sent)) != found.digest:
        return False
    if not found.doc:
        return found.outcome != "done"
    try:
        read(Doc, unpacked(found.doc))
    except BadRecord:
        return False
    return digest_of(found.doc) == found.doc_digest

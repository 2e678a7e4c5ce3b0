"""What git knows of a work tree: which files it tracks, what a commit takes away, what a file was.

Only plumbing, no filters, no hooks, nothing from a network; names after `--` are literal. Outside of a repository, and
where git can't answer, nothing is known.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import subprocess

_KEPT = ("PATH", "HOME", "XDG_CONFIG_HOME", "SYSTEMROOT", "TMPDIR", "GIT_INDEX_FILE", "GIT_QUARANTINE_PATH",
         "GIT_OBJECT_DIRECTORY", "GIT_ALTERNATE_OBJECT_DIRECTORIES")  # fmt: skip
_FIXED = {
    "LC_ALL": "C",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_TERMINAL_PROMPT": "0",
}
_QUIET = ("-c", "core.fsmonitor=false", "-c", "core.hooksPath=/dev/null", "--literal-pathspecs")
_MOST_SOUGHT = 50
"""Files that are looked for in the history, each with a search of its own."""


def untracked(folder: Path, files: Iterable[str]) -> Callable[[], set[str]]:
    """Ask which of the files (paths below `folder`) nobody else has; what is returned waits for the answer.

    A file of a submodule that is checked out is tracked, by the repository of that submodule.
    """
    wanted = sorted(set(files))
    if not wanted or not _is_repository(folder):
        return set
    asked = ("ls-files", "-z", "--cached")
    git = _start(folder, *asked, "--recurse-submodules", "--", *wanted)

    def answer() -> set[str]:
        listed = _output(git)
        if listed is None:
            # One submodule that is broken must not hide what the others and the repository itself hold.
            listed = _output(_start(folder, *asked, "--", *wanted))
        return set() if listed is None else set(wanted).difference(_names(listed))

    return answer


def taken_away(folder: Path) -> tuple[str, ...]:
    """The files that the commit which is being made deletes or renames: a hook is told the others only.

    Where the framework compares two revisions, those that the newer one no longer has.
    """
    if not _is_repository(folder):
        return ()
    only = ("-r", "-z", "--no-renames", "--diff-filter=D", "--name-only", "--no-ext-diff")
    found: dict[str, None] = {}
    revisions = os.environ.get("PRE_COMMIT_FROM_REF", ""), os.environ.get("PRE_COMMIT_TO_REF", "")
    if all(revisions):
        listed = _output(_start(folder, "diff-tree", *only, "--end-of-options", *revisions, "--"))
        found.update(dict.fromkeys(_names(listed or b"")))
    staged = [part for part in only if part != "-r"]
    listed = _output(_start(folder, "diff-index", "--cached", *staged, "--end-of-options", "HEAD", "--"))
    found.update(dict.fromkeys(_names(listed or b"")))
    return tuple(found)


def former(folder: Path, names: Iterable[str]) -> dict[str, bytes]:
    """What files that are gone held: in the last commit, else before the commit that took them away."""
    wanted = sorted(set(names))
    if not wanted or not _is_repository(folder):
        return {}
    found = _objects(folder, "HEAD", wanted)
    for name in [name for name in wanted if name not in found][:_MOST_SOUGHT]:
        last = _output(_start(folder, "rev-list", "-n", "1", "--end-of-options", "HEAD", "--", name))
        if last and last.strip():
            found.update(_objects(folder, f"{last.decode().strip()}^", [name]))
    return _contents(folder, found)


def earlier(folder: Path, names: Iterable[str], standing: Callable[[str], bytes | None]) -> dict[str, bytes | None]:
    """What changed files held before the change, None where they were not there; nothing where git can't tell.

    standing: what a file holds now. Before is in the last commit, or in the older one of two revisions that the
    framework compares; of a file that is as it was there, before the commit that changed it last.
    """
    wanted = sorted(set(names))
    if not wanted or not _is_repository(folder):
        return {}
    revisions = os.environ.get("PRE_COMMIT_FROM_REF", ""), os.environ.get("PRE_COMMIT_TO_REF", "")
    base = revisions[0] if all(revisions) else "HEAD"
    listed = _output(_start(folder, "ls-tree", "-z", "--full-tree", "--end-of-options", base, "--", *wanted))
    if listed is None:
        return {}
    contents = _contents(folder, _listed_objects(listed))
    found: dict[str, bytes | None] = {name: contents.get(name) for name in wanted}
    for name in [name for name in wanted if found[name] == standing(name)][:_MOST_SOUGHT]:
        last = _output(_start(folder, "rev-list", "-n", "1", "--end-of-options", base, "--", name))
        if last and last.strip():
            found[name] = _contents(folder, _objects(folder, f"{last.decode().strip()}^", [name])).get(name)
    return found


def _objects(folder: Path, revision: str, names: list[str]) -> dict[str, str]:
    """The ids of files in a revision."""
    listed = _output(_start(folder, "ls-tree", "-z", "--full-tree", "--end-of-options", revision, "--", *names))
    return _listed_objects(listed or b"")


def _listed_objects(listed: bytes) -> dict[str, str]:
    found: dict[str, str] = {}
    for line in listed.split(b"\0"):
        about, tab, name = line.partition(b"\t")
        words = about.split()
        if tab and len(words) == 3 and words[1] == b"blob":
            found[os.fsdecode(name)] = words[2].decode()
    return found


def _contents(folder: Path, objects: Mapping[str, str]) -> dict[str, bytes]:
    """What objects hold; they are asked for by their ids, since a name may hold a line feed."""
    if not objects:
        return {}
    git = _start(folder, "cat-file", "--batch", pipe=True)
    if git is None:
        return {}
    answer, _ = git.communicate("".join(f"{each}\n" for each in objects.values()).encode())
    found: dict[str, bytes] = {}
    at = 0
    for name in objects:
        head, _, _ = answer[at : at + 200].partition(b"\n")
        at += len(head) + 1
        words = head.split()
        if len(words) == 3 and words[2].isdigit():
            found[name] = answer[at : at + int(words[2])]
            at += int(words[2]) + 1
    return found


def _is_repository(folder: Path) -> bool:
    return (folder / ".git").exists()


def _start(folder: Path, *arguments: str, pipe: bool = False) -> subprocess.Popen[bytes] | None:
    import subprocess

    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    nowhere = subprocess.DEVNULL
    try:
        return subprocess.Popen(
            ["git", "-C", str(folder), *_QUIET, *arguments],
            env={**kept, **_FIXED},
            stdin=subprocess.PIPE if pipe else nowhere,
            stdout=subprocess.PIPE,
            stderr=nowhere,
        )
    except (OSError, ValueError):
        return None


def _output(git: subprocess.Popen[bytes] | None) -> bytes | None:
    """What git printed, None where it failed."""
    if git is None:
        return None
    listed, _ = git.communicate()
    return None if git.returncode else listed


def _names(listed: bytes) -> list[str]:
    return [os.fsdecode(name) for name in listed.split(b"\0") if name]

"""What `.include` and `.lib` name, and whether it may be read."""

from __future__ import annotations

import posixpath

from isolint.errors import Refused
from isolint.source import Tree, is_hidden


def path_argument(rest: str) -> str:
    """The path of an `.include`: quoted, or all words, since paths with blanks come without quotes."""
    rest = rest.strip()
    quote = rest[:1]
    if quote and quote in "'\"<":
        end = rest.find(">" if quote == "<" else quote, 1)
        return rest[1:end].strip() if end > 0 else rest[1:].strip()
    return rest


def library_arguments(rest: str) -> tuple[str, str]:
    """Path and section of a `.lib`. An unquoted path may hold blanks; a last word without `.` or `/` is a section."""
    rest = rest.strip()
    if rest[:1] and rest[0] in "'\"":
        end = rest.find(rest[0], 1)
        if end > 0:
            section = rest[end + 1 :].strip().strip("'\"")
            return rest[1:end].strip(), section.split(None, 1)[0] if section else ""
        return rest[1:].strip(), ""
    words = rest.split()
    if len(words) < 2 or any(mark in words[-1] for mark in "./\\"):
        return rest, ""
    return rest[: rest.rindex(words[-1])].strip().strip("'\""), words[-1].strip("'\"")


def confined(tree: Tree, root: str, folder: str, name: str) -> str:
    """The path in the tree that an include in a file of `folder` means; raise `Refused` where it leaves `root`."""
    path = posixpath.normpath(tree.resolve(folder, name))
    if is_hidden(path.removeprefix(f"{folder}/")) or ".git" in path.split("/"):
        raise Refused("the file is hidden (a name in its path begins with a dot)", cure="give it another name")
    if root and path != root and not path.startswith(root + "/"):
        raise Refused("the path leads out of the folder for includes", cure="move the file, or widen the folder")
    return path


def is_own_library(name: str, word: str) -> bool:
    """Whether a path that was refused is that of a simulator's own library, which each export names.

    Such a library holds models and subcircuits only; `.lib` takes nothing else from a file.
    """
    plain = name.replace("\\", "/").lower()
    if not (plain.startswith("/") or plain[1:2] == ":" or plain[:1] in "$%~"):
        return False
    return word == "lib" or plain.rpartition("/")[2].startswith("standard.")


class WantedSection:
    """Which section of a library file is read: the named one, or, without a name, what stands in none."""

    def __init__(self, section: str) -> None:
        self.section = section
        self.inside = False
        self.match = False
        self.found = False

    def enter(self, section: str) -> None:
        """A section begins."""
        self.inside = True
        self.match = bool(self.section) and section.strip("'\"").lower() == self.section.lower()
        self.found = self.found or self.match

    def leave(self) -> None:
        """A section ends."""
        self.inside = self.match = False

    @property
    def outside(self) -> bool:
        """Whether the cards that come now are not wanted."""
        return not self.match if self.section else self.inside

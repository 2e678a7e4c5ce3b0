"""One change to one file, and the text of the file with it."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]


class Stale(Exception):
    """A change whose text does not stand in its file, or not once."""


class Change(NamedTuple):
    """`old` stands once in `file` (below isolint/) and becomes `new`; `tests` (below tests/) are to fail then."""

    file: str
    old: str
    new: str
    tests: tuple[str, ...]

    @property
    def words(self) -> str:
        """The change in one line."""
        return f"isolint/{self.file}: {' '.join(self.old.split())} -> {' '.join(self.new.split()) or '(nothing)'}"

    def applied(self, text: str) -> str:
        """The text of its file with the change in it."""
        count = text.count(self.old)
        if count != 1:
            raise Stale(f"{self.words}\n  the text stands {count} times in the file, it must stand there once")
        return text.replace(self.old, self.new)

    def missing(self, root: Path = ROOT) -> str:
        """What is wrong with it as the tree is now, "" if nothing: its file, its text or its tests are not there."""
        path = root / "isolint" / self.file
        if not path.is_file():
            return f"{self.words}\n  there is no such file"
        try:
            compile(self.applied(path.read_text(encoding="utf-8")), self.file, "exec")
        except (Stale, SyntaxError) as error:
            return str(error)
        for test in self.tests:
            name, _, function = test.partition("[")[0].partition("::")
            where = root / "tests" / name
            if not where.exists() or (function and f"def {function}(" not in where.read_text(encoding="utf-8")):
                return f"{self.words}\n  there is no tests/{test}"
        return "" if self.tests else f"{self.words}\n  it names no tests"

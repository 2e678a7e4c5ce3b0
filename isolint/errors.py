"""The one family of exceptions, and what ends a run from outside.

Every error carries what happened in circuit words, the place (if there is one) and the cure. The command line
prints it and leaves with `exit_status`. Anything that a netlist can do wrong is a result, not an exception;
exceptions are for jobs that can't be done: a path that can't be read, settings that are wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

MOST_TOLD = 200
"""Mistakes of a file that are told at once."""


FAULTS = (ArithmeticError, ValueError, LookupError, TypeError, AttributeError, AssertionError, RuntimeError)
"""What Python raises where isolint itself is wrong; the input is never to blame for one of these."""


def itself_failed(error: BaseException) -> str:
    """That isolint itself failed, and where, for whoever is to mend it.

    Raises: what `raise_end` finds.
    """
    raise_end(error)
    if isinstance(error, RecursionError):
        return "the netlist is nested too deeply for this machine (check its parts one by one)"
    place = ""
    trace = error.__traceback__
    while trace is not None:
        code = trace.tb_frame.f_code
        place = f" in {code.co_name} of {code.co_filename.replace(chr(92), '/').rpartition('/')[2]}"
        trace = trace.tb_next
    return f"isolint itself failed ({type(error).__name__}: {error}{place}); please report it"


def raise_end(error: BaseException) -> None:
    """Raise again what ended the run from outside, where Python made an error of its own of it.

    While a class is made, Python 3.11 wraps whatever comes out of `__set_name__` into a RuntimeError, and modules are
    imported at any moment.
    """
    cause = error.__cause__
    while cause is not None:
        if isinstance(cause, (Interrupted, KeyboardInterrupt, MemoryError)):
            raise cause
        cause = cause.__cause__


class Place(NamedTuple):
    """A place in an input file: path relative to the tree with `/`, line and column counted from 1."""

    file: str
    line: int = 1
    column: int = 1

    @property
    def is_file(self) -> bool:
        """Whether no more than the file is said."""
        return (self.line, self.column) == (1, 1)

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class Interrupted(BaseException):
    """Somebody pressed Ctrl-C. No `KeyboardInterrupt`, of which click would make lines of its own."""


class IsolintError(Exception):
    """A job that can't be done: `text` in circuit words, `place` and `cure` where they are known."""

    exit_status = 2

    def __init__(self, text: str, place: Place | None = None, cure: str | None = None) -> None:
        super().__init__(text)
        self.text = text
        self.place = place
        self.cure = cure

    def __str__(self) -> str:
        # What concerns a file as a whole has no line.
        where = "" if self.place is None else self.place.file if self.place.is_file else str(self.place)
        where += ": " if where else ""
        cure = f" ({self.cure})" if self.cure else ""
        return f"{where}{self.text}{cure}"


class Refused(IsolintError):
    """A path that the tree does not give: outside the root, no regular file, too large, unreadable."""


class Missing(Refused):
    """A path that is inside the tree but where there is no file."""


class NotANetlist(IsolintError):
    """A file that was named as a netlist and holds none."""


class UnitError(IsolintError):
    """A quantity that can't be read, or whose unit is of another dimension."""


class Mistake(NamedTuple):
    """One mistake in a file that the user wrote: `key` is the dotted path of the TOML key."""

    file: str
    key: str
    text: str
    cure: str = ""

    def __str__(self) -> str:
        cure = f" ({self.cure})" if self.cure else ""
        key = f"{self.key}: " if self.key else ""
        return f"{self.file}: {key}{self.text}{cure}"


class SettingsError(IsolintError):
    """All mistakes of the settings and part records at once, in `mistakes`; of very many the first `MOST_TOLD`."""

    def __init__(self, mistakes: Sequence[Mistake]) -> None:
        found = tuple(sorted(set(mistakes)))
        if len(found) > MOST_TOLD:
            rest = Mistake(found[MOST_TOLD].file, "", f"and {len(found) - MOST_TOLD} more mistakes", "begin with these")
            found = (*found[:MOST_TOLD], rest)
        self.mistakes = found
        super().__init__("\n".join(str(m) for m in self.mistakes))

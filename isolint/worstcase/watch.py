"""What a quantity was worked out from, so that it is worked out again only where that is another.

Noted meanwhile: the uncertain terms that a setting may move, how far a setting takes all others, and the elements whose
values were read. What is kept apart from that goes through `kept`, so that asking for it again notes the same.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator, MutableMapping
from contextlib import contextmanager
from typing import TypeVar

from isolint.worstcase.uncertain import Setting, Term

Source = Term | int | str
"""A term, the number of an element, or `REST`."""

Sources = frozenset[Source]

REST = "rest"
"""That it was asked how far a setting takes what it does not name."""

T = TypeVar("T")
K = TypeVar("K", bound=Hashable)


class Watch:
    """Notes what is asked for while something is worked out; within another that asks for it, for both."""

    def __init__(self) -> None:
        self._open: list[set[Source]] = []

    def note(self, *sources: Source) -> None:
        """That these were asked for."""
        if self._open:
            self._open[-1].update(sources)

    def note_all(self, sources: Collection[Source]) -> None:
        """That what these belong to was asked for."""
        if self._open:
            self._open[-1].update(sources)

    @contextmanager
    def noting(self) -> Iterator[set[Source]]:
        """What is asked for inside."""
        found: set[Source] = set()
        self._open.append(found)
        try:
            yield found
        finally:
            self._open.pop()
            self.note_all(found)

    def kept(self, memo: MutableMapping[K, tuple[T, Sources]], key: K, compute: Callable[[], T]) -> T:
        """What `compute` gives, worked out when first asked for."""
        known = memo.get(key)
        if known is None:
            with self.noting() as sources:
                value = compute()
            known = memo[key] = value, frozenset(sources)
        else:
            self.note_all(known[1])
        return known[0]

    def watching(self, setting: Setting) -> Setting:
        """The same setting, noting what it is asked for."""
        return Watched.of(setting.plain if isinstance(setting, Watched) else setting, self)


class Watched(Setting):
    """A setting that notes what it is asked for; equal to the plain one."""

    plain: Setting
    watch: Watch

    @classmethod
    def of(cls, setting: Setting, watch: Watch) -> Watched:
        made = cls(setting.relaxed, setting.rest)
        made.plain, made.watch = setting, watch
        return made

    @property
    def is_kindest(self) -> bool:
        self.watch.note(REST)
        return self.plain.is_kindest

    def range(self, term: Term) -> tuple[float, float]:
        if term.defaulted:
            self.watch.note(term)
        return self.plain.range(term)


def same_in(one: Setting, other: Setting, sources: Collection[Source]) -> bool:
    """Whether two settings give the same for what something was worked out from."""
    for source in sources:
        if isinstance(source, Term):
            if one.range(source) != other.range(source):
                return False
        elif source == REST and one.rest != other.rest:
            return False
    return True

"""One row a stated fact or a value of a part record: everything that the program knows of its key.

A table of isolint.toml, or of a part record, is a class of rows (`Rows`). An instance of it is what somebody stated:
asked of an instance, a row's name gives the value or None; asked of the class, it gives the row. The reader, the JSON
Schemas, the lines to write, the defaults and the titles of terms all come from the row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, ClassVar, Generic, NamedTuple, Self, TypeVar, overload

from isolint.tables import UNSTATED, Kind, basic_string, dotted

T = TypeVar("T")
R = TypeVar("R", bound="Rows")

COMMON_PRACTICE = "default (common practice, no source)"


class Usual(NamedTuple):
    """What counts where nobody stated anything, in SI units: the worst interval, and what remains of it at the kindest.

    origin: where it comes from. text: how a settings file would write it, where that is one line.
    """

    low: float
    nominal: float
    high: float
    kind_low: float
    kind_high: float
    origin: str = COMMON_PRACTICE
    text: str = ""


def least(low: float, high: float, origin: str = COMMON_PRACTICE, *, nominal: float | None = None) -> Usual:
    """A value of which the low end hurts: at the kindest it is the high one."""
    return Usual(low, low if nominal is None else nominal, high, high, high, origin)


def most(low: float, high: float, origin: str = COMMON_PRACTICE, *, nominal: float | None = None) -> Usual:
    """A value of which the high end hurts: at the kindest it is the low one."""
    return Usual(low, low if nominal is None else nominal, high, low, low, origin)


def either(low: float, nominal: float, high: float, origin: str = COMMON_PRACTICE, text: str = "") -> Usual:
    """A value of which either end may hurt: at the kindest it is the nominal one."""
    return Usual(low, nominal, high, nominal, nominal, origin, text)


def point(worst: float, kindest: float, origin: str = COMMON_PRACTICE, text: str = "") -> Usual:
    """One value that is assumed, and what it is at the kindest; the same value where it is a convention."""
    return Usual(worst, worst, worst, kindest, kindest, origin, text)


def all_of(low: float, high: float, origin: str = COMMON_PRACTICE) -> Usual:
    """The high end is assumed outright; at the kindest it is the low one."""
    return point(high, low, origin)


class Row(Generic[T]):
    """One key: what it may hold, how it is called, what counts by default, an example, whether anything reads it.

    title: what a term of it is called, `{}` being its subject. example: a TOML value. nominal: of a stated interval,
    else its middle. cases: defaults that differ with the kind of element. unread: why no rule of this version asks for
    it; a test compares that with what is asked for while all fixtures are judged. sheet: the term of data sheets.
    """

    def __init__(
        self,
        kind: Kind[T],
        title: str = "",
        example: str = "",
        usual: Usual | None = None,
        *,
        nominal: float | None = None,
        cases: Mapping[str, Usual] = MappingProxyType({}),
        unread: str = "",
        sheet: str = "",
    ) -> None:
        self.kind = kind
        self.title = title
        self.example = example or kind.example
        self.usual = usual
        self.nominal = nominal
        self.cases = cases
        self.unread = unread
        self.sheet = sheet
        self.key = self.table = self.attribute = ""

    def __set_name__(self, owner: type[Rows], name: str) -> None:
        self.attribute = name
        self.key = name.rstrip("_")
        self.table = owner.TABLE

    @property
    def counts(self) -> Usual:
        """What counts where nobody stated it, of a row that has it."""
        assert self.usual is not None, self.path()
        return self.usual

    @property
    def described(self) -> Kind[T]:
        """Its kind with its own example, and whether anything reads it."""
        told = f"; not used: {self.unread}" if self.unread else ""
        return self.kind._replace(example=self.example, told=told)

    def head(self, name: str = "") -> str:
        """The dotted key of the table in which it stands, `name` being the element, net, part or pattern."""
        if not name:
            return self.table
        if self.table == "sides":
            return dotted(self.table, name)
        first, _, section = self.table.partition(".")
        return f"{dotted(first, name)}.{section}" if section else f'{first}."{name}"'

    def path(self, name: str = "") -> str:
        """Its whole dotted key."""
        return f"{self.head(name)}.{self.key}"

    def entry(self, value: str = "", example: str = "") -> str:
        """Its line with a TOML value that is known, else with a placeholder and an example of what it may hold."""
        if value:
            return f"{self.key} = {value}"
        told = f"for example {example or self.example}" if example or self._exemplary else self.kind.words
        return f"{self.key} = {basic_string(UNSTATED)}  # {told}"

    @property
    def _exemplary(self) -> bool:
        """Whether an example says what is wanted: of a few words, and of yes and no, all choices do."""
        return self.kind.form.get("type") != "boolean" and "enum" not in self.kind.form

    def line(self, name: str = "", value: str = "", example: str = "") -> str:
        """What to write to state it: the head of its table and its line."""
        return f"[{self.head(name)}]\n{self.entry(value, example)}"


class Rows:
    """What is stated under one head: the values by attribute. Frozen by convention; compared by value.

    Rows are descriptors without a setter: what is stated lies in the instance and is found first, at the cost of a
    plain attribute.
    """

    TABLE: ClassVar[str] = ""
    ROWS: ClassVar[Mapping[str, Row[Any]]] = MappingProxyType({})

    def __init_subclass__(cls, table: str = "", **rest: Any) -> None:
        super().__init_subclass__(**rest)
        own = {name: row for name, row in vars(cls).items() if isinstance(row, Row)}
        if own:
            cls.ROWS = own
            cls.TABLE = table
            for row in own.values():
                row.table = table

    def __init__(self, **values: Any) -> None:
        for name in values:
            if name not in self.ROWS:
                raise TypeError(f"{type(self).__name__} has no key {name}")
        self.__dict__.update({name: value for name, value in values.items() if value is not None})

    @classmethod
    def kinds(cls) -> dict[str, Kind[Any]]:
        """What each key may hold, for the reader."""
        return {row.key: row.described for row in cls.ROWS.values()}

    def items(self) -> Iterator[tuple[str, Any]]:
        """What is stated, by attribute, in the order of the rows."""
        return ((name, self.__dict__[name]) for name in self.ROWS if name in self.__dict__)

    def with_(self, **values: Any) -> Self:
        """The same with other values."""
        return type(self)(**{**self.__dict__, **values})

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Rows) and self.ROWS is other.ROWS and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((self.TABLE, tuple(self.items())))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self.items())})"


def watched(rows: R, seen: Callable[[str], None]) -> R:
    """The same values, calling `seen` with the attribute each time that a stated one is asked for."""
    base = type(rows)

    class WatchedTable(base):  # type: ignore[valid-type,misc]
        def __getattribute__(self, name: str) -> Any:
            if name in base.ROWS and name in object.__getattribute__(self, "__dict__"):
                seen(name)
            return object.__getattribute__(self, name)

    made = WatchedTable.__new__(WatchedTable)
    made.__dict__.update(rows.__dict__)
    return made


class Value(Row[T]):
    """A row of a part record: instances give the bare value."""

    @overload
    def __get__(self, rows: None, owner: type[Rows]) -> Value[T]: ...
    @overload
    def __get__(self, rows: Rows, owner: type[Rows]) -> T | None: ...
    def __get__(self, rows: Rows | None, owner: type[Rows]) -> Value[T] | T | None:
        return self if rows is None else None

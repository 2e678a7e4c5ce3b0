"""Where the missing lines of part records go: into the file of the record, a new one into the file that takes it.

In: the results as the rules give them. Out: the same, each missing key of a record with a file that the user can
write and with lines that load there as they stand. A shipped record is completed in the user's file; a part that has
none gets one, with type and pins as far as they are known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from isolint.checking.context import Context
from isolint.interfaces.entities import Part
from isolint.interfaces.pinguess import record_lines
from isolint.parts import from_names
from isolint.results import MissingFact, Result
from isolint.tables import basic_string, dotted
from isolint.worstcase.fact_terms import named

_PARTS = "parts."


class RecordLines:
    """The missing lines of part records of one netlist."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def placed(self, results: Iterable[Result]) -> Iterator[Result]:
        """The results with their missing lines in files that take them."""
        for result in results:
            if any(fact.key.startswith(_PARTS) for fact in result.missing):
                result = result._replace(missing=tuple(map(self._placed, result.missing)))
            yield result

    def _placed(self, fact: MissingFact) -> MissingFact:
        if not fact.key.startswith(_PARTS) or fact.file in self._context.facts.part_files:
            return fact
        file = self._context.facts.record_file(self._context.settings_file)
        head, _, body = fact.example.partition("\n")
        part = next((found for start, found in self._unrecorded.items() if head.startswith(f"[{start}.")), None)
        lines = fact.example if part is None else f"{_record(part)}\n{head}\n{body}"
        return MissingFact(file, fact.key, lines)

    @cached_property
    def _unrecorded(self) -> Mapping[str, Part]:
        """The parts without a record by the key of the one that they would have."""
        parts = self._context.interfaces.recognition.parts.values()
        return {dotted("parts", named(part)): part for part in parts if part.record is None}


def _record(part: Part) -> str:
    """A record with what is known of a part: its type, and its pins where their names say all that is known."""
    name, pins = named(part), pins_of(part)
    record = from_names(name, part.type, pins)
    if record is not None and _groups(record.groups) == _groups((pins[pin] for pin in group) for group in part.groups):
        listed = ", ".join(map(basic_string, pins))
        return f'[{dotted("parts", name)}]\ntype = "{part.type}"\npins = [{listed}]  # as its model has them'
    return record_lines(name, part.type, pins, certain=True)


def pins_of(part: Part) -> list[str]:
    """Names for the pins of a part by what they are; those of one kind with a number."""
    seen: dict[str, int] = {}
    pins = []
    for role in part.roles:
        seen[role] = seen.get(role, 0) + 1
        pins.append(f"{role or 'pin'}{seen[role]}" if part.roles.count(role) > 1 or not role else role)
    return pins


def _groups(groups: Iterable[Iterable[str]]) -> set[frozenset[str]]:
    return {frozenset(group) for group in groups}

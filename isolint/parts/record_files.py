"""Record files by themselves, without any netlist: what they hold, what is wrong in them, what is hardly right."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import NamedTuple

from isolint.errors import Mistake, Refused, SettingsError
from isolint.parts.library import Parts, builtin, load, shipped_text
from isolint.parts.plausible import implausible
from isolint.parts.record_reader import read_records
from isolint.source import FolderTree


class Checked(NamedTuple):
    """What a look at record files tells: a line each, and how many are what."""

    told: tuple[str, ...]
    records: int
    mistakes: int
    doubts: int
    unknown: int


def checked(files: Sequence[str]) -> Checked:
    """All mistakes of all files, then what is implausible in their sound records."""
    mistakes: list[Mistake] = []
    doubts: list[Mistake] = []
    waiting: list[str] = []
    count = 0
    for file in dict.fromkeys(files):
        folder, name = os.path.split(os.path.abspath(file))
        try:
            data = FolderTree(folder).read(name)
        except Refused as error:
            mistakes.append(Mistake(file, "", error.text, error.cure or ""))
            continue
        for record in read_records(data, file, mistakes, waiting, shipped_text):
            count += 1
            doubts.extend(implausible(record))
    return Checked(tuple(map(str, (*mistakes, *doubts))), count, len(mistakes), len(doubts), len(waiting))


def held(files: Sequence[str]) -> Parts:
    """The records of some files, the shipped ones without any; raise `SettingsError` with every mistake."""
    if not files:
        return builtin()
    found = []
    for file in dict.fromkeys(files):
        folder, name = os.path.split(os.path.abspath(file))
        try:
            records = load(FolderTree(folder), [name]).values()
        except SettingsError as error:
            raise SettingsError([mistake._replace(file=file) for mistake in error.mistakes]) from None
        found += [record._replace(file=file) for record in records]
    return Parts(found)

"""`isolint baseline`: accept old failures unseen, forget those that are cured, list them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from datetime import date
from typing import TYPE_CHECKING

import click

from isolint.cli.day import read_day
from isolint.cli.files import only_writer, store
from isolint.cli.streams import complain, deliver

if TYPE_CHECKING:
    from isolint.adoption import BaselineChange
    from isolint.app import Options

_PATHS = click.argument("paths", metavar="PATH...", nargs=-1, required=True)
_ROOT = click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave.")
_TODAY = click.option("--today", callback=read_day, metavar="DATE", help="Judge waivers as of DATE.")


@click.group(short_help="Accept old failures: only new and worse ones count.")
def baseline() -> None:
    """Keep a list of old failures in isolint-baseline.toml, beside isolint.toml: only new and worse ones count.

    PATH is a netlist, or a folder for every netlist in it. A baseline is no waiver: nobody has looked at what it
    holds. An entry accepts one failure as long as its margin falls by no more than 2 %.
    """


def _options(today: date | None, root: str | None) -> Options:
    from isolint import app

    return app.Options(today=today, root=root)


@baseline.command(short_help="Accept everything that fails now.")
@_PATHS
@_ROOT
@_TODAY
def write(paths: tuple[str, ...], root: str | None, today: date | None) -> int:
    """Accept every failure of the netlists PATH... as they are now; open results stay open.

    Entries of other netlists stay as they are. Exit status: 0, or 2 if a netlist could not be judged.
    """
    from isolint import adoption

    with ExitStack() as held:
        return _done(*adoption.write(paths, _options(today, root), _lock(held)))


@baseline.command(short_help="Remove entries that are cured; never adds any.")
@_PATHS
@_ROOT
@_TODAY
def prune(paths: tuple[str, ...], root: str | None, today: date | None) -> int:
    """Remove the entries of the netlists PATH... that nothing matches any more, and those of netlists that are gone.

    A netlist that was moved keeps its entries under its new name. Nothing is ever added.
    """
    from isolint import adoption

    with ExitStack() as held:
        return _done(*adoption.prune(paths, _options(today, root), _lock(held)))


@baseline.command(short_help="List what is accepted.")
@_PATHS
@_ROOT
def show(paths: tuple[str, ...], root: str | None) -> int:
    """List the entries that count for the netlists PATH..., without judging anything."""
    from isolint import adoption
    from isolint.reports import baseline_listing as listing

    rows, errors = adoption.show(paths, _options(None, root))
    deliver(listing.listing((name, held.level, held.rule, held.subject, held.margin) for name, held in rows))
    for error in errors:
        complain(error)
    return 2 if errors else 0


def _lock(held: ExitStack) -> Callable[[Iterable[str]], None]:
    """How folders are locked until the files in them are written: what stands there may not change in between."""
    return lambda folders: held.enter_context(only_writer(folders))


def _done(changes: list[BaselineChange], errors: list[str]) -> int:
    from isolint.reports import baseline_listing as listing

    for error in errors:
        complain(error)
    changed = [each for each in changes if each.before != each.after]
    store({each.file: each.after for each in changed}, roots={each.file: each.root for each in changed})
    for each in changes:
        added = [f"{held.netlist}: {held.rule} {held.subject}" for held in each.added]
        removed = [f"{held.netlist}: {held.rule} {held.subject}" for held in each.removed]
        deliver(listing.change(each.file, each.before is None, each.held, added, removed))
    if not changes:
        deliver("there is no baseline, and nothing to put into one\n")
    return 2 if errors else 0

"""`isolint audit`: judge an archive of netlists into a store."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

import click

from isolint.cli.day import read_day
from isolint.cli.progress import shown
from isolint.cli.streams import complain, deliver

if TYPE_CHECKING:
    from isolint.archive.auditing import Shard, Sum

MERGE = "merge"


@click.command(short_help="Judge an archive of netlists into a store, or go on with it.")
@click.argument("folders", metavar="DIR...", nargs=-1, required=True)
@click.option("--store", required=True, metavar="FILE", help="Where findings are kept; made where there is none.")
@click.option("--jobs", type=click.IntRange(1, 256), metavar="N", help="Processes. Default: one a processor.")
@click.option("--shard", metavar="I/N", default="1/1", help="Judge only part I of N; `audit merge` puts them together.")
@click.option("--scheduler", metavar="ADDRESS", help="Judge by the workers of a Dask cluster: tcp://HOST:8786.")
@click.option("--rehash", is_flag=True, help="Read every file again, whatever its size and times say.")
@click.option("--strict", is_flag=True, help="Count every open result and every card that may be lost as an error.")
@click.option("--today", callback=read_day, metavar="DATE", help="Judge waivers as of DATE (2027-06-30).")
@click.option("--root", metavar="DIR", help="Folder that includes and settings may not leave. Default: the repository.")
@click.option("--quiet", is_flag=True, help="Say nothing of the progress.")
def audit(
    folders: tuple[str, ...],
    store: str,
    jobs: int | None,
    shard: str,
    scheduler: str | None,
    rehash: bool,
    strict: bool,
    today: date | None,
    root: str | None,
    quiet: bool,
) -> int:
    """Find every netlist below DIR... by its content, judge it, and keep what was found in the store.

    A run that was broken off goes on where it was; what has not changed is not judged again. Every file gets one state,
    and the sum is printed. `isolint audit merge STORE... --store FILE` puts the stores of all shards together.

    Exit status: 0 every netlist was judged and none fails, 1 one fails, 2 one could not be judged, or the job could not
    be done.
    """
    if folders[0] == MERGE:
        return _merged(folders[1:], store)
    from isolint.archive.auditing import AuditOrder
    from isolint.archive.auditing import audit as run

    part = _shard(shard)
    asked = AuditOrder(folders, store, jobs or _processors(), strict, today, root, part, rehash, scheduler)
    with shown(quiet) as tell:
        found = run(asked, tell)
    deliver(told(found))
    return found.exit_status


def _merged(stores: tuple[str, ...], output: str) -> int:
    from isolint.archive.merging import merge

    if len(stores) < 2:
        raise click.UsageError("name the stores of all shards: isolint audit merge STORE... --store FILE")
    found, missing = merge(stores, output)
    deliver(told(found))
    if missing:
        complain(f"incomplete: shard {', '.join(map(str, missing))} is missing")
        return 2
    return found.exit_status


def _shard(text: str) -> Shard:
    from isolint.archive.auditing import Shard

    found = re.fullmatch(r"(\d{1,4})/(\d{1,4})", text)
    if found is None or not 1 <= int(found[1]) <= int(found[2]):
        raise click.UsageError(f"--shard {text}: write the part and the number of parts, as 2/4")
    return Shard(int(found[1]), int(found[2]))


def _processors() -> int:
    import os

    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def told(found: Sum) -> str:
    """The sum of an audit: every file once, then what the netlists came to."""
    from isolint.reports.summary import plural

    states = " + ".join(f"{number} {WORDS[state]}" for state, number in found.states) or "0"
    lines = [f"{plural(found.files, 'file')} = {states}"]
    fails, opens, holds = found.verdicts
    if fails or opens or holds:
        lines.append(
            f"{plural(fails + opens + holds, 'netlist')}: {fails} with failures or what counts as one, {opens} with "
            f"open questions only, {holds} without either; {found.judged} judged in this run"
        )
    if found.left_out:
        lines.append(f"left out: {', '.join(f'{number} {why}' for why, number in found.left_out)}")
    return "".join(f"{line}\n" for line in lines)


WORDS = {
    "done": "judged",
    "failed": "that could not be judged",
    "unreadable": "unreadable",
    "library": "of definitions only",
    "include": "read by others",
    "sheet": "judged within others",
    "other": "no netlist",
}
"""The states of files in words."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest

from isolint.archive import codec
from isolint.archive.asks import PlacedPaths, told
from isolint.archive.auditing import AuditOrder, Shard, audit
from isolint.archive.merging import merge
from isolint.archive.recording import record
from isolint.archive.unit import Doc, Rules, placed_at, tool_digest
from isolint.archive.workers import Done, JudgeRequest, Workers
from isolint.errors import Interrupted, IsolintError
from tests.archive.boards import QUICK, Archive, archive
from tests.archive.stores import DIVIDER, TODAY, Here, document, documents, judged, rows, run, small, states
from tests.conftest import REPOSITORY, environment
from tests.support import differences

pytestmark = pytest.mark.xdist_group("archive")


def test_every_file_has_one_state_and_the_sum_is_that_of_the_folder(made: Archive, store: Path) -> None:
    files = {path.relative_to(made.folder).as_posix() for path in made.folder.rglob("*") if path.is_file()}
    assert states(store) == dict.fromkeys(made.boards, "done") | made.states
    assert set(states(store)) == files


def test_every_fault_of_a_made_archive_is_found_with_its_number_and_none_is_invented(
    made: Archive, store: Path
) -> None:
    for path, text in made.boards.items():
        found = placed_at(path, codec.read(Doc, document(store, path)))
        assert not differences(found.report, text), path


def test_a_document_does_not_know_where_its_netlist_lies(made: Archive, store: Path) -> None:
    for path in made.boards:
        text = str(document(store, path))
        assert "isolint~" not in text
        assert f"{os.path.basename(os.path.dirname(path))}/" not in text
        assert os.path.basename(path) not in text


def test_equal_boards_are_judged_once_and_listed_each(made: Archive, store: Path) -> None:
    found = documents(store)
    assert made.doubles
    for copy, original in made.doubles.items():
        assert found[copy] == found[original]
    attempts = judged(store)
    assert len(attempts) == len(set(attempts))
    assert len(attempts) == len(made.boards) - len(made.doubles) + 1  # the one with wrong settings


def test_a_store_is_a_plain_data_base_of_its_kind(store: Path) -> None:
    assert rows(store, "PRAGMA application_id") == [(0x69736F6C,)]
    assert rows(store, "PRAGMA user_version") == [(1,)]
    assert rows(store, "PRAGMA integrity_check") == [("ok",)]
    assert rows(store, "SELECT count(*) FROM unit WHERE state = 'done' AND key NOT IN (SELECT key FROM trace)") == [
        (0,)
    ]


def test_a_second_run_judges_nothing_and_changes_nothing(made: Archive, store: Path) -> None:
    before, attempts = documents(store), len(judged(store))
    assert run(made.folder, store).judged == 0
    assert run(made.folder, store, rehash=True).judged == 0
    assert documents(store) == before
    assert len(judged(store)) == attempts


def test_shards_judged_by_other_processes_and_put_together_are_the_whole(
    made: Archive, store: Path, tmp_path: Path
) -> None:
    parts = [tmp_path / f"part{number}.db" for number in (1, 2)]
    for number, part in enumerate(parts, 1):
        run(made.folder, part, jobs=2, shard=Shard(number, 2))
    assert not set(states(parts[0])) & set(states(parts[1]))
    assert all(documents(part) for part in parts)
    _, missing = merge(list(map(str, parts)), str(tmp_path / "whole.db"))
    assert not missing
    assert documents(tmp_path / "whole.db") == documents(store)


def test_a_shard_that_is_missing_is_told(made: Archive, store: Path, tmp_path: Path) -> None:
    folder = small(tmp_path / "small")
    for number in (1, 3):
        run(folder, tmp_path / f"{number}.db", shard=Shard(number, 3))
    _, missing = merge([str(tmp_path / "1.db"), str(tmp_path / "3.db")], str(tmp_path / "whole.db"))
    assert missing == (2,)
    with pytest.raises(IsolintError, match="shard 1 is in"):
        merge([str(tmp_path / "1.db"), str(tmp_path / "1.db")], str(tmp_path / "twice.db"))


def test_equal_work_with_another_finding_is_no_merge(tmp_path: Path) -> None:
    folder = small(tmp_path / "small")
    for number in (1, 2):
        run(folder, tmp_path / f"{number}.db", shard=Shard(number, 2))
    one, two = tmp_path / "1.db", tmp_path / "2.db"
    if not rows(one, "SELECT key FROM trace"):
        one, two = two, one
    with sqlite3.connect(two) as connection:
        key, *rest = rows(one, "SELECT * FROM trace")[0]
        connection.execute(
            "INSERT OR REPLACE INTO trace VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", (key, *rest[:-1], "another")
        )
    connection.close()
    with pytest.raises(IsolintError, match="not reproducible"):
        merge([str(one), str(two)], str(tmp_path / "whole.db"))


# -- what changes is judged again ---------------------------------------------------------------------------------


def test_an_include_that_appears_has_its_board_judged_again_and_no_other(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards")
    (folder / "c.cir").write_text(DIVIDER.replace(".end", ".include more.inc"), encoding="utf-8")
    path = tmp_path / "store.db"
    run(folder, path)
    assert "include-missing" in str(document(path, "c.cir"))
    since = len(judged(path))
    (folder / "more.inc").write_text(".param x=1\n", encoding="utf-8")
    assert run(folder, path).judged == 1
    assert judged(path, since) == ["c.cir"]
    assert states(path)["more.inc"] == "include"


def test_settings_that_appear_above_have_all_boards_below_judged_again(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards/deep", 2)
    small(tmp_path / "boards/beside", 2)
    path = tmp_path / "store.db"
    run(tmp_path / "boards", path)
    since = len(judged(path))
    (folder / "isolint.toml").write_text('open = "error"\n', encoding="utf-8")
    run(tmp_path / "boards", path)
    assert judged(path, since) == ["deep/b0.cir", "deep/b1.cir"]
    (folder / "isolint.toml").unlink()
    # What nobody has any more is forgotten, what the boards beside have is not.
    assert run(tmp_path / "boards", path).judged == 0


def test_a_board_that_moves_is_not_judged_again_and_one_that_goes_is_forgotten(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 2)
    path = tmp_path / "store.db"
    run(folder, path)
    (folder / "a/b/c").mkdir(parents=True)
    (folder / "b0.cir").rename(folder / "a/b/c/other.sp")
    assert run(folder, path).judged == 0
    assert states(path) == {"a/b/c/other.sp": "done", "b1.cir": "done"}
    (folder / "b1.cir").unlink()
    run(folder, path)
    assert len(rows(path, "SELECT key FROM trace")) == len(rows(path, "SELECT digest FROM doc")) == 1


def test_a_file_that_changes_with_its_old_size_and_time_is_found_by_rehash(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    board = folder / "b0.cir"
    os.utime(board, (1_000_000_000, 1_000_000_000))
    path = tmp_path / "store.db"
    run(folder, path)
    board.write_text(board.read_text(encoding="utf-8").replace("R1 a b 1k", "R1 a b 2k"), encoding="utf-8")
    os.utime(board, (1_000_000_000, 1_000_000_000))
    assert run(folder, path, rehash=True).judged == 1


def test_strict_runs_and_other_days_share_a_store_without_mixing_their_findings(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    path = tmp_path / "store.db"
    run(folder, path)
    assert run(folder, path, strict=True).judged == 1
    assert run(folder, path, strict=True).judged == 0


# -- what a run survives ----------------------------------------------------------------------------------------


posix = pytest.mark.skipif(os.name == "nt", reason="kill -9 is of other systems")


def killed(folder: Path, path: Path, done: int, seconds: float = 0.0) -> int:
    """Kill a run some seconds after so many netlists are done; how many were done when it died."""
    words = ["audit", str(folder), "--root", str(folder), "--store", str(path), "--today", "2026-01-01", "--jobs", "2"]
    process = subprocess.Popen(
        [sys.executable, "-m", "isolint", *words, "--quiet"],
        cwd=REPOSITORY,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
    )
    while process.poll() is None and _attempts(path) < done:
        time.sleep(0.01)
    time.sleep(seconds)
    process.send_signal(signal.SIGKILL)
    process.wait()
    return _attempts(path)


def _attempts(path: Path) -> int:
    try:
        return len(judged(path))
    except sqlite3.OperationalError:  # it is being made
        return 0


@posix
def test_a_run_that_is_killed_goes_on_where_it_was(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 30)
    run(folder, tmp_path / "whole.db")
    path = tmp_path / "store.db"
    for done in (1, 10):
        killed(folder, path, done)
    before = _attempts(path)
    assert before >= 10
    assert run(folder, path).judged == 30 - len(set(judged(path)[:before]))
    assert len(judged(path)) == 30
    assert documents(path) == documents(tmp_path / "whole.db")


class Broken(Here):
    """Has every netlist in work when something ends the run."""

    def __init__(self, rules: Rules, end: BaseException) -> None:
        super().__init__(rules)
        self._end: BaseException | None = end

    def wait(self, seconds: float) -> Iterator[Done]:
        if self._end is not None:
            end, self._end = self._end, None
            raise end
        return super().wait(seconds)


@pytest.mark.parametrize(("end", "kept"), [(Interrupted, 3), (KeyboardInterrupt, 3), (OSError, 0)])
def test_what_is_nearly_done_is_kept_where_somebody_ends_a_run_and_not_where_it_fails(
    tmp_path: Path, end: type[BaseException], kept: int
) -> None:
    folder, path = small(tmp_path / "boards"), tmp_path / "store.db"
    asked = AuditOrder((str(folder),), str(path), root=str(folder), today=TODAY)
    with pytest.raises(end):
        audit(asked, lambda progress: None, lambda _, rules: nullcontext(Broken(rules, end())))
    assert len(judged(path)) == kept


DYING = """
import os, signal, sys
from isolint.archive.store import Store
from isolint.cli import main
name, left = sys.argv[1], int(sys.argv[2])
del sys.argv[1:3]
own = getattr(Store, name)
def dying(self, *values):
    global left
    own(self, *values)
    left -= 1
    if left == 0:
        assert self._db.in_transaction
        os.kill(os.getpid(), signal.SIGKILL)
setattr(Store, name, dying)
main()
"""
"""An audit that kills itself behind the given call of a method of its store, in the middle of a transaction."""


def died(folder: Path, path: Path, method: str, call: int, *words: str) -> bool:
    """Run an audit that kills itself in the middle of a write; whether it came to that."""
    command = ["audit", str(folder), "--root", str(folder), "--store", str(path), "--today", "2026-01-01", *words]
    process = subprocess.run(
        [sys.executable, "-c", DYING, method, str(call), *command, "--jobs", "1", "--quiet"],
        cwd=REPOSITORY,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        check=False,
    )
    return process.returncode == -signal.SIGKILL


def recorded(path: Path) -> dict[str, bytes]:
    """The record of a store, file by file."""
    folder = path.with_suffix(".record")
    assert record(str(path), str(folder)) == ""
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@posix
def test_a_run_that_is_killed_in_the_middle_of_a_write_goes_on_as_if_it_had_not_begun_it(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 4)
    run(folder, tmp_path / "whole.db")
    path = tmp_path / "store.db"
    assert died(folder, path, "remember", 1)
    assert rows(path, "SELECT count(*) FROM file") == rows(path, "SELECT count(*) FROM unit") == [(0,)]
    assert died(folder, path, "attempt", 2)
    assert len(documents(path)) == len(judged(path)) == 1
    assert died(folder, path, "keep", 1)
    assert len(documents(path)) == len(judged(path)) == 1
    assert run(folder, path).judged == 3
    assert documents(path) == documents(tmp_path / "whole.db")


@posix
@pytest.mark.long
def test_a_run_that_is_killed_at_fifty_moments_has_the_documents_and_the_record_of_one_that_is_not(
    tmp_path: Path,
) -> None:
    """Every second time in the middle of a write, else at any moment."""
    folder = tmp_path / "boards"
    folder.mkdir()
    made = archive(folder, 120)
    run(folder, tmp_path / "whole.db", jobs=2)
    path = tmp_path / "store.db"
    moments = [(method, call) for call in range(1, 7) for method in ("put", "keep", "attempt")]
    moments += [("state", 1), ("drop", 1), ("remember", 1)] * 2
    in_a_write = sum(died(folder, path, *moment) for moment in moments)
    for at in range(25):
        killed(folder, path, _attempts(path) + 1, 0.003 * at)
    assert in_a_write == len(moments) == 24
    assert died(folder, path, "tidy", 1)
    run(folder, path, jobs=2)
    assert documents(path) == documents(tmp_path / "whole.db")
    assert recorded(path) == recorded(tmp_path / "whole.db")
    assert len(judged(path)) == len(made.boards) - len(made.doubles) + 1


@posix
@pytest.mark.long
def test_two_shards_that_are_killed_and_put_together_have_the_record_of_the_whole(tmp_path: Path) -> None:
    folder = tmp_path / "boards"
    folder.mkdir()
    archive(folder, 20, QUICK)
    run(folder, tmp_path / "whole.db")
    parts = [tmp_path / f"part{one}.db" for one in (1, 2)]
    for one, part in enumerate(parts, 1):
        for method, call in (("remember", 1), ("put", 3), ("keep", 2), ("attempt", 1), ("tidy", 1)):
            assert died(folder, part, method, call, "--shard", f"{one}/2"), (one, method)
        run(folder, part, shard=Shard(one, 2))
    merge(list(map(str, parts)), str(tmp_path / "put.db"))
    assert documents(tmp_path / "put.db") == documents(tmp_path / "whole.db")
    assert recorded(tmp_path / "put.db") == recorded(tmp_path / "whole.db")


def test_a_process_that_dies_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 4)
    answers: list[str] = []
    with Workers(1, Rules(False, "2026-01-01", tool_digest())) as workers:
        for at in range(4):
            workers.submit(JudgeRequest(str(folder), f"b{at}.cir"))
            if at == 1:
                workers._workers[0].process.kill()
            while workers.busy:
                answers += [f"{done.request.path} {done.answer.outcome}" for done in workers.wait(0.2)]
    assert answers == [f"b{at}.cir done" for at in range(4)]


def test_a_netlist_whose_process_dies_twice_is_given_up(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    with Workers(1, Rules(False, "2026-01-01", tool_digest())) as workers:
        workers.submit(JudgeRequest(str(folder), "b0.cir"))
        found = []
        for _ in range(2):
            workers._workers[0].process.kill()
            found += list(workers.wait(20.0))
    assert [done.answer.outcome for done in found] == ["failed"]
    assert found[0].answer.key == ""  # the next run tries it again


def test_a_process_that_runs_another_isolint_than_the_audit_judges_nothing(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    with Workers(1, Rules(False, "2026-01-01", "0" * 64)) as workers:
        workers.submit(JudgeRequest(str(folder), "b0.cir"))
        with pytest.raises(IsolintError, match="isolint itself was changed while it audited"):
            while workers.busy:
                list(workers.wait(1.0))


def test_two_audits_at_once_are_refused(made: Archive, store: Path) -> None:
    from isolint.archive.store import writing

    with writing(str(store)), pytest.raises(IsolintError, match="another audit writes"):
        run(made.folder, store)


def test_a_store_of_another_kind_version_or_archive_is_refused(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    foreign = tmp_path / "foreign.db"
    with sqlite3.connect(foreign) as connection:
        connection.execute("CREATE TABLE notes (text)")
    connection.close()
    with pytest.raises(IsolintError, match="no store of isolint"):
        run(folder, foreign)
    own = tmp_path / "own.db"
    run(folder, own)
    with pytest.raises(IsolintError, match="holds the audit of other folders"):
        run(small(tmp_path / "others", 1), own)
    with sqlite3.connect(own) as connection:
        connection.execute("PRAGMA user_version = 2")
    connection.close()
    with pytest.raises(IsolintError, match="version 2"):
        run(folder, own)
    broken = tmp_path / "broken.db"
    broken.write_bytes(b"no data base" * 500)
    with pytest.raises(IsolintError, match="can't be used"):
        run(folder, broken)


def test_links_and_hidden_files_are_left_out_and_counted(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    (folder / ".hidden.cir").write_text(DIVIDER, encoding="utf-8")
    (folder / "link.cir").symlink_to(folder / "b0.cir")
    (tmp_path / "outside").mkdir()
    (folder / "away").symlink_to(tmp_path / "outside")
    found = run(folder, tmp_path / "store.db")
    assert found.left_out == (("hidden", 1), ("links", 2))
    assert states(tmp_path / "store.db") == {"b0.cir": "done"}


def test_a_name_that_is_no_text_is_an_entry_like_others(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 1)
    try:
        (folder / os.fsdecode(b"\xff.cir")).write_text(DIVIDER, encoding="utf-8")
    except OSError:
        pytest.skip("this file system has no such names")
    run(folder, tmp_path / "store.db")
    assert states(tmp_path / "store.db") == {"b0.cir": "done", "\\xff.cir": "done"}


# -- places in names of their own -------------------------------------------------------------------------------


@pytest.mark.parametrize("netlist", ["board.cir", "a/board.cir", "a/b/c/board.cir"])
@pytest.mark.parametrize("other", ["isolint.toml", "a/x.lib", "a/b/y.inc", "q/r.cir", "a/b/c/board.cir"])
def test_a_path_in_own_names_is_the_path_again(netlist: str, other: str) -> None:
    placed = PlacedPaths(netlist)
    assert placed.real(placed.own(other)) == other
    assert told(placed.own(other)) == placed.relative(other)
    assert placed.absolute(placed.relative(other)) == other
    assert placed.real(placed.named) == netlist
    assert told(placed.named) == ""
    assert (
        told(f"see {placed.named}:3 and {placed.own(other)}:4") == f"see this netlist:3 and {placed.relative(other)}:4"
    )


def test_no_path_in_own_names_leads_out_of_the_root() -> None:
    assert PlacedPaths("a/b.cir").real("elsewhere/x") is None
    assert PlacedPaths("a/b.cir").absolute("../../x") is None

"""Revisions through git's objects: what is read, what is refused, and that nothing of the repository is run."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint.errors import IsolintError, Missing, Refused
from isolint.review.committree import CommitTree, PolicyTree
from isolint.review.repository import Hunk, Repository
from isolint.source import FolderTree, MemoryTree
from tests.review.repositories import begin, commit, git

POINTER = "version https://git-lfs.github.com/spec/v1\noid sha256:{oid}\nsize {size}\n"


@pytest.fixture
def repo(tmp_path: Path) -> Path:
    made = begin(tmp_path / "repo")
    commit(
        made, {"a.cir": "* a\nR1 a b 1k\n", "lib/m.lib": "* m\n", ".hidden/x.cir": "* x\n", "line\nfeed.cir": "* l\n"}
    )
    return made


OPENED: list[CommitTree] = []


@pytest.fixture(autouse=True)
def _closed() -> Iterator[None]:
    yield
    while OPENED:
        OPENED.pop().close()


def tree_of(folder: Path, revision: str = "HEAD") -> CommitTree:
    repository = Repository.at(folder)
    OPENED.append(CommitTree(repository, repository.commit(revision)))
    return OPENED[-1]


def test_a_commit_gives_the_files_that_a_checkout_gives(repo: Path) -> None:
    tree, folder = tree_of(repo), FolderTree(repo)
    assert tree.walk() == folder.walk() and len(tree.walk()) == 3
    for path in tree.walk():
        assert tree.read(path) == folder.read(path) and tree.exists(path)
    assert tree.match("lib/*.lib") == folder.match("lib/*.lib") == ("lib/m.lib",)
    assert not tree.exists("lib") and not tree.exists("b.cir")
    with pytest.raises(Missing):
        tree.read("b.cir")


def test_a_name_with_a_line_feed_is_read_by_its_id(repo: Path) -> None:
    assert tree_of(repo).read("line\nfeed.cir") == b"* l\n"


def test_a_link_is_followed_inside_the_commit_only(repo: Path) -> None:
    os.symlink("../lib/m.lib", repo / "lib/in.lib")
    os.symlink("/etc/hostname", repo / "out.lib")
    os.symlink("../../etc/hostname", repo / "lib/up.lib")
    os.symlink("loop", repo / "loop")
    os.symlink("nowhere", repo / "dangling")
    os.symlink("lib", repo / "folder")
    commit(repo, {})
    tree = tree_of(repo)
    assert tree.read("lib/in.lib") == b"* m\n" and tree.read("folder/m.lib") == b"* m\n"
    for path in ("out.lib", "lib/up.lib", "loop", "dangling"):
        assert not tree.exists(path)
        with pytest.raises(Refused) as refused:
            tree.read(path)
        assert "link" in refused.value.text
    assert "folder/m.lib" not in tree.walk() and "out.lib" not in tree.walk()


def test_a_submodule_is_read_at_the_recorded_commit_from_its_own_repository(repo: Path, tmp_path: Path) -> None:
    library = begin(tmp_path / "library")
    commit(library, {"m.lib": "* first\n"})
    git(repo, "submodule", "--quiet", "add", str(library), "ext")
    commit(repo, {})
    (repo / "ext/m.lib").write_text("* in the work tree only\n")
    assert tree_of(repo).read("ext/m.lib") == b"* first\n"
    assert tree_of(repo).match("ext/*.lib") == ("ext/m.lib",)
    git(repo, "submodule", "--quiet", "deinit", "--force", "ext")
    with pytest.raises(Missing) as missing:
        tree_of(repo).read("ext/m.lib")
    assert missing.value.text == "in submodule ext, which is not here"


def test_a_pointer_of_lfs_is_never_taken_for_the_file(repo: Path) -> None:
    content = b"* the library\n.model D1 D\n"
    oid = hashlib.sha256(content).hexdigest()
    commit(repo, {"big.lib": POINTER.format(oid=oid, size=len(content))})
    with pytest.raises(Missing) as missing:
        tree_of(repo).read("big.lib")
    assert missing.value.cure == "git lfs fetch"
    kept = repo / ".git/lfs/objects" / oid[:2] / oid[2:4] / oid
    kept.parent.mkdir(parents=True)
    kept.write_bytes(b"* another one of the same length" + b" " * 99)
    with pytest.raises(Missing):
        tree_of(repo).read("big.lib")
    kept.write_bytes(content)
    assert tree_of(repo).read("big.lib") == content


def test_a_revision_that_is_not_here_is_told(repo: Path) -> None:
    repository = Repository.at(repo)
    for name in ("nowhere", "--output=written", "HEAD^{tree}", "a" * 40, ""):
        with pytest.raises(IsolintError) as error:
            repository.commit(name)
        assert "no commit here" in error.value.text
    assert not (repo / "written").exists()


def test_the_base_is_the_merge_base_unless_it_is_wanted_as_it_is(repo: Path) -> None:
    fork = git(repo, "rev-parse", "HEAD")
    git(repo, "switch", "--quiet", "--create", "work")
    head = commit(repo, {"a.cir": "* changed\n"})
    git(repo, "switch", "--quiet", "main")
    target = commit(repo, {"other.cir": "* other\n"})
    repository = Repository.at(repo)
    assert repository.base(target, head).id == fork
    assert repository.base(target, head, exact=True).id == target
    assert repository.changed(fork, head) == ["a.cir"]
    assert repository.changed(target, head) == ["a.cir", "other.cir"]


def test_histories_without_a_common_commit_are_told(repo: Path) -> None:
    one = git(repo, "rev-parse", "HEAD")
    git(repo, "switch", "--quiet", "--orphan", "apart")
    other = commit(repo, {"b.cir": "* b\n"})
    with pytest.raises(IsolintError, match="no commit in common"):
        Repository.at(repo).base(one, other)


def test_of_two_merge_bases_the_nearer_one_counts_and_is_named(repo: Path) -> None:
    start = git(repo, "rev-parse", "HEAD")
    git(repo, "switch", "--quiet", "--create", "one")
    first = commit(repo, {"one.cir": "* 1\n"})
    git(repo, "switch", "--quiet", "--create", "two", start)
    second = commit(repo, {"two.cir": "* 2\n", "three.cir": "* 3\n"})
    git(repo, "merge", "--quiet", "--no-edit", first)
    git(repo, "switch", "--quiet", "one")
    git(repo, "merge", "--quiet", "--no-edit", second)
    base = Repository.at(repo).base("two", "one")
    assert base.id in (first, second) and "2 merge bases" in base.note


@pytest.mark.parametrize("depth", [3, 4, 5])
def test_a_clone_cut_below_the_merge_base_is_refused_with_the_cure(repo: Path, tmp_path: Path, depth: int) -> None:
    git(repo, "switch", "--quiet", "--create", "work")
    for number in range(7):
        commit(repo, {"a.cir": f"* {number}\n"})
    git(repo, "switch", "--quiet", "main")
    for number in range(7):
        commit(repo, {"b.cir": f"* {number}\n"})
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "--quiet", f"--depth={depth}", "--no-single-branch", f"file://{repo}", str(clone))
    repository = Repository.at(clone)
    main, work = repository.commit("origin/main"), repository.commit("origin/work")
    with pytest.raises(IsolintError) as error:
        repository.base(main, work)
    assert "fetch-depth: 0" in str(error.value.cure) and "--exact" in str(error.value.cure)
    assert repository.base(main, work, exact=True).id == main


def test_a_history_cut_below_what_matters_is_no_hindrance(repo: Path, tmp_path: Path) -> None:
    for number in range(5):
        commit(repo, {"a.cir": f"* {number}\n"})
    fork = git(repo, "rev-parse", "HEAD")
    git(repo, "switch", "--quiet", "--create", "work")
    head = commit(repo, {"a.cir": "* work\n"})
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "--quiet", "--depth=3", "--no-single-branch", f"file://{repo}", str(clone))
    repository = Repository.at(clone)
    assert repository.base(repository.commit("origin/main"), head).id == fork


def test_changed_lines_are_told_for_both_sides(repo: Path) -> None:
    old = commit(repo, {"a.cir": "1\n2\n3\n4\n", "-p": "x\n"})
    new = commit(repo, {"a.cir": "1\nB\nC\n3\n", "-p": "y\n"})
    found = Repository.at(repo).hunks(old, new, ["a.cir", "lib/m.lib", "-p"])
    assert found == {"a.cir": (Hunk((2, 1), (2, 2)), Hunk((4, 1), (4, 0))), "-p": (Hunk((1, 1), (1, 1)),)}


def test_nothing_that_the_repository_names_is_run(repo: Path, tmp_path: Path) -> None:
    """Drivers, filters, monitors, hooks, another program for the protocol: planted, and the mark is never made."""
    mark = tmp_path / "mark"
    program = f"touch {mark} #"
    for key in ("core.fsmonitor", "diff.evil.command", "diff.evil.textconv", "filter.evil.clean", "filter.evil.smudge",
                "core.pager", "diff.external", "core.sshCommand"):  # fmt: skip
        git(repo, "config", key, program)
    old = git(repo, "rev-parse", "HEAD")
    (repo / ".gitattributes").write_text("*.cir diff=evil filter=evil\n")
    (repo / "a.cir").write_text("* b\n")
    git(repo, "-c", "filter.evil.clean=cat", "-c", "core.fsmonitor=false", "add", "--all")
    git(repo, "-c", "filter.evil.clean=cat", "-c", "core.fsmonitor=false", "commit", "--quiet", "--message", "changed")
    mark.unlink(missing_ok=True)
    tree = tree_of(repo)
    repository, new = tree.repository, tree.commit
    assert [tree.read(path) for path in tree.walk()]
    assert repository.base(old, new).id == old
    assert repository.hunks(old, new, repository.changed(old, new))["a.cir"]
    assert not mark.exists()


def test_a_clone_without_contents_fetches_none_and_runs_no_planted_program(repo: Path, tmp_path: Path) -> None:
    git(repo, "config", "uploadpack.allowFilter", "true")
    clone, mark = tmp_path / "clone", tmp_path / "mark"
    git(tmp_path, "clone", "--quiet", "--no-checkout", "--filter=blob:none", f"file://{repo}", str(clone))
    git(clone, "config", "remote.origin.uploadpack", f"touch {mark} ; git-upload-pack")
    git(clone, "config", "protocol.file.allow", "always")
    tree = tree_of(clone)
    assert "a.cir" in tree.walk()
    for path in ("a.cir", "lib/m.lib"):  # the second one asks a new process
        with pytest.raises(Missing) as missing:
            tree.read(path)
        assert missing.value.text == "its content is not in this clone"
    assert not mark.exists()


def test_a_repository_of_another_owner_is_not_asked(repo: Path) -> None:
    if os.geteuid():
        pytest.skip("only root can give a folder away")
    for path in [repo, *repo.rglob("*")]:
        os.chown(path, 12345, 12345, follow_symlinks=False)
    with pytest.raises(IsolintError, match="dubious ownership"):
        Repository.at(repo)


def test_nothing_is_written(repo: Path) -> None:
    def state() -> Iterator[tuple[str, int, bytes]]:
        for path in sorted(repo.rglob("*")):
            yield str(path), path.lstat().st_mtime_ns, path.read_bytes() if path.is_file() else b""

    old = git(repo, "rev-parse", "HEAD")
    commit(repo, {"a.cir": "* b\n"})
    before = list(state())
    tree = tree_of(repo)
    assert [tree.read(path) for path in tree.walk()]
    tree.repository.hunks(old, tree.commit, ["a.cir"])
    assert list(state()) == before


def test_policy_of_another_tree_judges_the_netlists_of_this_one() -> None:
    head = MemoryTree({"b/x.cir": "* new\n", "b/isolint.toml": "new", "isolint.toml": "new", "b/parts/own.toml": "new"})
    base = MemoryTree({"a/x.cir": "* old\n", "a/isolint.toml": "old", "a/parts/p.toml": "old", "isolint.toml": "top"})
    tree = PolicyTree(head, base, {"b": "a"})
    assert tree.read("b/x.cir") == b"* new\n"
    assert tree.read("b/isolint.toml") == b"old" and tree.read("isolint.toml") == b"top"
    assert tree.match("b/parts/*.toml") == ("b/parts/p.toml",) and tree.read("b/parts/p.toml") == b"old"
    assert not tree.exists("b/parts/own.toml")

"""Two revisions of a repository through the command line's use case: the same as two clean checkouts."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint import app, cli
from isolint.app import Options
from isolint.review.reviewing import ReviewOrder, review
from isolint.review.values import COUNTING, Review
from tests.review.comparing import BOARD, SETTINGS, TODAY, states, without_cures
from tests.review.repositories import begin, commit, git

BOARDS = ("a/board.cir", "b/board.cir", "c/deep/board.cir")
LIBRARY = ".model DX D\n"


@pytest.fixture(autouse=True)
def _no_cures() -> Iterator[None]:
    with without_cures():
        yield


def start(folder: Path, boards: tuple[str, ...] = BOARDS[:1]) -> Path:
    """A repository of boards that share a library."""
    begin(folder)
    commit(folder, {"isolint.toml": SETTINGS, "lib/models.lib": LIBRARY, **dict.fromkeys(boards, BOARD)})
    return folder


def asked(folder: Path, base: str = "HEAD^", head: str | None = "HEAD") -> Review:
    return review(folder, ReviewOrder(base, head), Options(today=TODAY))


def test_one_changed_value_is_one_item_and_the_other_boards_are_not_judged(tmp_path: Path) -> None:
    repo = start(tmp_path / "r", BOARDS)
    commit(repo, {"b/board.cir": BOARD.replace("OUT 10k", "OUT 1k")})
    found = asked(repo)
    assert states(found) == [("new", "transfer-margin-low", "XU1")]
    assert [netlist.name for netlist in found.netlists] == ["b/board.cir"]
    assert found.base == git(repo, "rev-parse", "HEAD^") and found.head == git(repo, "rev-parse", "HEAD")


def test_the_work_tree_is_compared_as_it_lies_there(tmp_path: Path) -> None:
    repo = start(tmp_path / "r", BOARDS[:2])
    assert asked(repo, "HEAD", None).netlists == ()
    (repo / "b/board.cir").write_text(BOARD.replace("OUT 10k", "OUT 1k"))
    found = asked(repo, "HEAD", None)
    assert states(found) == [("new", "transfer-margin-low", "XU1")] and found.head == ""
    (repo / "b/board.cir").unlink()
    assert [netlist.fate for netlist in asked(repo, "HEAD", None).netlists] == ["gone"]


def test_a_waiver_removed_on_the_target_since_counts_as_removed(tmp_path: Path) -> None:
    accepted = 'rule = "bridge-conducting"\nwhere = "R90"\nreason = "x"\nby = "A, review"\nuntil = 2027-12-31\n'
    waiver = f"[[waivers]]\n{accepted}"
    repo = start(tmp_path / "r")
    commit(repo, {"a/board.cir": BOARD + "R90 GND GNDB 100\n", "isolint.toml": SETTINGS + waiver})
    git(repo, "switch", "--quiet", "--create", "work")
    commit(repo, {"a/board.cir": BOARD + "R90 GND GNDB 90\n"})
    git(repo, "switch", "--quiet", "main")
    commit(repo, {"isolint.toml": SETTINGS})
    found = review(repo, ReviewOrder("main", "work", policy="base"), Options(today=TODAY))
    assert found.exit_status == 1 and [item.counts for item in found.items] == [True]
    assert review(repo, ReviewOrder("main", "work"), Options(today=TODAY)).exit_status == 0


def test_a_shared_sheet_is_one_item_on_all_its_boards(tmp_path: Path) -> None:
    repo = begin(tmp_path / "r")
    deck = '* t\n.include "../lib/channel.inc"\n'
    channel = BOARD.split("\n", 1)[1]
    commit(repo, {"isolint.toml": SETTINGS, "lib/channel.inc": channel, **dict.fromkeys(BOARDS[:2], deck)})
    commit(repo, {"lib/channel.inc": channel.replace("OUT 10k", "OUT 1k")})
    (item,) = asked(repo).items
    assert item.boards == 2 and item.where.file == "lib/channel.inc"


def test_the_command_writes_what_was_found_and_leaves_with_what_the_change_brought(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    repo = start(tmp_path / "r")
    commit(repo, {"a/board.cir": BOARD.replace("OUT 10k", "OUT 1k")})
    assert cli.run(["review", str(repo), "--base", "HEAD^", "--format", "json"]) == 1
    assert json.loads(capsys.readouterr().out)["format"] == "isolint-review/1"
    assert cli.run(["review", str(repo), "--base", "HEAD"]) == 0
    assert capsys.readouterr().out == "0 netlists depend on the change; no electrical difference\n"
    assert cli.run(["review", str(repo), "--base", "nowhere"]) == 2
    assert "no commit here" in capsys.readouterr().err
    assert cli.run(["review", str(tmp_path), "--base", "HEAD"]) == 2
    assert cli.run(["review", str(repo), "--base", "HEAD", "--head", "HEAD", "--work-tree"]) == 2


def test_a_head_that_cant_be_judged_is_no_clean_review(tmp_path: Path) -> None:
    repo = start(tmp_path / "r")
    commit(repo, {"isolint.toml": "top = \n"})
    found = asked(repo)
    assert found.exit_status == 2 and not found.complete and found.errors


def test_a_base_that_cant_be_judged_makes_all_failures_of_head_count(tmp_path: Path) -> None:
    repo = start(tmp_path / "r")
    commit(repo, {"isolint.toml": "top = \n", "a/board.cir": BOARD.replace("OUT 10k", "OUT 1k")})
    commit(repo, {"isolint.toml": SETTINGS})
    found = asked(repo)
    assert [item.state for item in found.items] == ["new"] and "not comparable" in found.netlists[0].notes[0]


EDITS = (
    ("OUT 10k", "OUT 1k"), ("OUT 1k", "OUT 10k"), ("A 470", "A 47"), ("A 47\n", "A 470\n"), ("GNDB OUT", "GND OUT"),
    ("R2 VB", "R3 VB"), ("DEMO_PT1", "DEMO_PT2"), ("R1 DRIVE", "R1 DRIVE2"),
)  # fmt: skip


def _equals_clean_checkouts(folder: Path, count: int, seed: int) -> None:
    """The failures of head are the base's, plus what is new, minus what is fixed, as two checkouts give them."""
    dice = random.Random(seed)
    repo = start(folder / "r", BOARDS[:2])
    for number in range(count):
        path = dice.choice(BOARDS[:2])
        text = (repo / path).read_text()
        made = {path: text.replace(*dice.choice(EDITS)) if dice.random() < 0.8 else text + f"R9{number} GND GNDB 1k\n"}
        commit(repo, dict(made))
        found = asked(repo)
        kinds = []
        for revision in ("HEAD^", "HEAD"):
            clean = folder / f"clean-{number}-{revision[4:] or 'x'}"
            git(folder, "clone", "--quiet", str(repo), str(clean))
            git(clean, "checkout", "--quiet", git(repo, "rev-parse", revision))
            report = app.check([str(clean / each) for each in BOARDS[:2]], Options(today=TODAY, root=str(clean)))
            kinds.append(
                {
                    (result.netlist.rpartition("clean")[2].partition("/")[2], result.rule, result.subject, result.role)
                    for result in report.results
                    if result.kind in ("fail", "open")
                }
            )
        live = {
            (item.netlist, item.rule, item.subject, item.role)
            for item in found.items
            if item.state in COUNTING and item.after.kind != "absent" and item.state != "unjudged"
        }
        come, gone = kinds[1] - kinds[0], kinds[0] - kinds[1]
        assert come <= live, (number, made, come - live)
        assert live <= kinds[1], (number, made, live - kinds[1])
        if gone:
            assert found.items, (number, made, gone)


def test_the_review_of_commits_equals_checking_both_in_clean_checkouts(tmp_path: Path) -> None:
    _equals_clean_checkouts(tmp_path, count=3, seed=1)


@pytest.mark.long
def test_the_review_of_thirty_commits_equals_checking_both_in_clean_checkouts(tmp_path: Path) -> None:
    _equals_clean_checkouts(tmp_path, count=30, seed=2)


DECK = '* A deck, invented\n.include "{}"\n'
CHANNEL = BOARD.split("\n", 1)[1]
OVERLOADED = CHANNEL.replace("OUT 10k", "OUT 1k")
CHANNELS_BAD = BOARD.replace("OUT 10k", "OUT 1k")
FOUND = [("new", "transfer-margin-low", "XU1")]


@pytest.mark.parametrize("through", ["a link to a file", "a link to a folder", "a folder link that leads elsewhere"])
def test_what_is_read_through_a_link_and_changed_is_judged(through: str, tmp_path: Path) -> None:
    repo = begin(tmp_path / "r")
    (repo / "lib").mkdir()
    commit(repo, {"isolint.toml": SETTINGS, "v1/in.inc": CHANNEL, "v2/in.inc": OVERLOADED})
    is_file = through == "a link to a file"
    link = repo / ("lib/in.inc" if is_file else "at")
    link.symlink_to("../v1/in.inc" if is_file else "v1")
    commit(repo, {"b/x.cir": DECK.format("../lib/in.inc" if is_file else "../at/in.inc")})
    if through == "a folder link that leads elsewhere":
        link.unlink()
        link.symlink_to("v2")
    else:
        (repo / "v1/in.inc").write_text(OVERLOADED)
    assert states(asked(repo, "HEAD", None)) == FOUND
    commit(repo, {})
    assert states(asked(repo)) == FOUND and asked(repo, "HEAD", None).netlists == ()


def test_a_board_behind_a_linked_folder_is_judged_once(tmp_path: Path) -> None:
    repo = start(tmp_path / "r")
    (repo / "at").symlink_to("a")
    commit(repo, {})
    commit(repo, {"a/board.cir": CHANNELS_BAD})
    found = asked(repo)
    assert states(found) == FOUND and [netlist.name for netlist in found.netlists] == ["a/board.cir"]


def test_a_board_that_becomes_a_link_is_told_as_judged_no_more(tmp_path: Path) -> None:
    repo = start(tmp_path / "r", BOARDS[:2])
    (repo / "b/board.cir").unlink()
    (repo / "b/board.cir").symlink_to("../a/board.cir")
    commit(repo, {})
    found = asked(repo)
    assert found.exit_status == 1 and [item.state for item in found.items] == ["unjudged"]


def test_settings_that_are_a_link_are_followed(tmp_path: Path) -> None:
    repo = begin(tmp_path / "r")
    (repo / "isolint.toml").symlink_to("common/own.toml")
    commit(repo, {"common/own.toml": SETTINGS, "x.cir": BOARD})
    commit(repo, {"common/own.toml": SETTINGS.replace('"50 V"', '"5 kV"')})
    assert ("new", "working-voltage-exceeded", "field | logic") in states(asked(repo))


def test_a_submodule_at_another_commit_is_judged_and_one_that_is_not_here_is_no_clean_review(tmp_path: Path) -> None:
    library, repo = begin(tmp_path / "library"), begin(tmp_path / "r")
    commit(library, {"in.inc": CHANNEL})
    git(repo, "submodule", "--quiet", "add", str(library), "ext")
    commit(repo, {"isolint.toml": SETTINGS, "b/x.cir": DECK.format("../ext/in.inc")})
    commit(library, {"in.inc": OVERLOADED})
    git(repo / "ext", "pull", "--quiet", "origin", "main")
    assert states(asked(repo, "HEAD", None)) == FOUND
    commit(repo, {})
    assert states(asked(repo)) == FOUND
    git(repo, "submodule", "--quiet", "deinit", "--force", "ext")
    found = asked(repo)
    assert found.exit_status == 2 and "git submodule update --init" in found.errors[0]


def test_a_submodule_of_which_no_netlist_reads_anything_is_no_hindrance(tmp_path: Path) -> None:
    library, repo = begin(tmp_path / "library"), begin(tmp_path / "r")
    commit(library, {"firmware.c": "1\n"})
    git(repo, "submodule", "--quiet", "add", str(library), "ext")
    commit(repo, {"isolint.toml": SETTINGS, "b/x.cir": BOARD})
    commit(library, {"firmware.c": "2\n"})
    git(repo / "ext", "pull", "--quiet", "origin", "main")
    commit(repo, {})
    assert (asked(repo).exit_status, asked(repo).netlists) == (0, ())
    git(repo, "submodule", "--quiet", "deinit", "--force", "ext")
    assert (asked(repo).exit_status, asked(repo).netlists) == (0, ())


def test_names_links_and_pointers_that_are_odd_are_judged_refused_and_asked_about(tmp_path: Path) -> None:
    """A name with a line feed is judged like any other; a link to /etc is refused; a pointer of LFS is no netlist."""
    repo = begin(tmp_path / "r")
    odd, pointer = "odd\nname.cir", f"version https://git-lfs.github.com/spec/v1\noid sha256:{'a' * 64}\nsize 99\n"
    (repo / "out.inc").symlink_to("/etc/hostname")
    linked, large = (f'{BOARD}.include "{name}"\n' for name in ("out.inc", "large.inc"))
    boards = {odd: BOARD, "linked.cir": BOARD, "large.cir": BOARD}
    commit(repo, {"isolint.toml": SETTINGS, "large.inc": pointer, **boards})
    commit(repo, {odd: CHANNELS_BAD, "linked.cir": linked, "large.cir": large})
    found = asked(repo)
    by_file = {item.netlist: item for item in found.items}
    assert (by_file[odd].state, by_file[odd].rule) == ("new", "transfer-margin-low") and found.exit_status == 1
    for name, rule, word in (("linked.cir", "refused", "link"), ("large.cir", "missing", "git lfs fetch")):
        item = by_file[name]
        assert item.rule == f"include-{rule}" and item.counts == (rule == "refused")
        assert word in f"{item.after.message} {item.cure}" and "oid" not in item.after.message

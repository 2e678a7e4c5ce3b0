from __future__ import annotations

import json
from pathlib import Path

import pytest

from isolint.archive.cluster import MOST_ROUNDS, Carried, Lacks, answer, judge_bytes, load_of
from isolint.archive.codec import packed, plain
from isolint.archive.unit import Rules, answered, judge, tool_digest
from isolint.source import FolderTree
from tests.archive.boards import Archive

pytestmark = pytest.mark.xdist_group("archive")

RULES = Rules(False, "2026-01-01", tool_digest())


def carried(folder: Path, path: str, rules: Rules = RULES) -> tuple[dict[str, object], bytes, int]:
    """Judge from what travels, sending what is lacking; the last line in front, what is behind it, the rounds."""
    tree = FolderTree(folder)
    answers = load_of(tree, path)
    for rounds in range(MOST_ROUNDS + 1):
        data = judge_bytes(packed({"path": path, "rules": plain(rules), "answers": answers}))
        first, _, rest = data.partition(b"\n")
        head = json.loads(first)
        if not head["lacks"]:
            return head, rest, rounds
        answers["\x1f".join(head["lacks"])] = answer(tree, head["lacks"])
    raise AssertionError(f"{path}: still lacking {head['lacks']}")


def test_what_travels_is_judged_as_what_lies_here(made: Archive) -> None:
    for path in [*list(made.boards)[::3], *made.doubles, "odd/wrong-cir/wrong.cir", "odd/letter-cir/letter.cir"]:
        here = judge(FolderTree(made.folder), path, RULES)
        _, data, rounds = carried(made.folder, path)
        assert answered(data)._replace(memory=0) == here._replace(memory=0), path
        assert rounds <= 1, path


def test_includes_links_and_what_is_missing_travel_as_what_they_are(tmp_path: Path) -> None:
    (tmp_path / "in/lib").mkdir(parents=True)
    (tmp_path / "secret.inc").write_text(".param x=1\n", encoding="utf-8")
    (tmp_path / "in/lib/good.inc").write_text("R9 a b 1k\n.include more/deep.inc\n", encoding="utf-8")
    (tmp_path / "in/away.inc").symlink_to(tmp_path / "secret.inc")
    (tmp_path / "in/isolint-baseline.toml").write_text("version = 1\n", encoding="utf-8")
    names = ("lib/good.inc", "none.inc", "away.inc", "../../x.inc", "/etc/passwd")
    text = "".join(["* b\n", *(f".include {name}\n" for name in names), "R1 a 0 1k\n"])
    (tmp_path / "in/b.cir").write_text(text, encoding="utf-8")
    here = judge(FolderTree(tmp_path / "in"), "b.cir", RULES)
    _, data, _ = carried(tmp_path / "in", "b.cir")
    assert answered(data)._replace(memory=0) == here._replace(memory=0)


def test_a_worker_with_another_isolint_judges_nothing(made: Archive) -> None:
    head, rest, _ = carried(made.folder, next(iter(made.boards)), RULES._replace(tool="another"))
    assert rest == b""
    assert head["tool"] == tool_digest()


def test_a_question_that_did_not_travel_is_asked_for() -> None:
    with pytest.raises(Lacks) as caught:
        Carried({}).resolve("a", "b")
    assert caught.value.question == ("resolve", "a", "b")

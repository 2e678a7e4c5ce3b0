"""Comments on a request: each once, kept up to date, silent where a person spoke, whatever fails on the way."""

from __future__ import annotations

import pytest

from isolint.posting.client import NotDone
from isolint.posting.markers import read_ledger, read_mark
from isolint.review.values import Suggestion
from tests.posting.fakes import ME, Killed, World
from tests.posting.posts import FAKES, FILE, item, posted, review, world

KINDS = tuple(FAKES)
each_forge = pytest.mark.parametrize("kind", KINDS)


def lives(made: World) -> list[str]:
    """The states of our comments on lines, doubles left out."""
    found = [read_mark(note.body) for note in made.mine()]
    return [mark.life for mark in found if mark is not None]


@each_forge
def test_a_new_item_gets_one_comment_on_its_line_and_the_next_run_writes_nothing(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    (note,) = made.mine()
    assert (note.path, note.line) == (FILE, 4) and lives(made) == ["live"]
    assert "**led\\-overdriven** (error\\, new)" in note.body and "`XU1: LED current 34.4 mA -> 73.5 mA" in note.body
    assert len(made.summaries()) == 1
    before = list(made.writes)
    assert posted(fake, review(item("XU1", 4)), kind).writes == 0 and made.writes == before


@each_forge
def test_what_is_fixed_is_edited_and_resolved_and_stays_so(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    made.head = "c" * 40
    posted(fake, review(item("XU1", 4, "fixed", 1.45), head=made.head), kind)
    (note,) = made.mine()
    assert "fixed in `cccccccccccc`" in note.body and note.resolved_by == ME and lives(made) == ["fixed"]
    made.head = "d" * 40
    writes = len(made.writes)
    posted(fake, review(head=made.head), kind)
    assert "fixed in `cccccccccccc`" in made.mine()[0].body
    assert len(made.writes) - writes <= 1  # the summary says that one fault less is told
    writes = len(made.writes)
    for head in ("e" * 40, "f" * 40):
        made.head = head
        posted(fake, review(head=head), kind)
    assert len(made.writes) == writes


@each_forge
def test_what_breaks_again_is_live_and_open_again(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    for found in (review(item("XU1", 4)), review(item("XU1", 4, "fixed", 1.45)), review(item("XU1", 4))):
        posted(fake, found, kind)
    (note,) = made.mine()
    assert lives(made) == ["live"] and note.resolved_by == ""


@each_forge
def test_nothing_found_on_a_fresh_request_writes_nothing(kind: str) -> None:
    made = world()
    assert posted(FAKES[kind](made), review(), kind).writes == 0 and made.notes == []


@each_forge
@pytest.mark.parametrize("how", ["answered", "resolved", "edited", "deleted"])
def test_what_a_person_dealt_with_is_left_alone_and_told_in_the_summary(kind: str, how: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    (note,) = made.mine()
    if how == "answered":
        note.replies.append("engineer")
    elif how == "resolved":
        note.resolved_by = "engineer"
    elif how == "edited":
        note.body += "\nwe know"
    else:
        made.notes.remove(note)
    body = note.body
    for margin in (0.68, 0.5):
        posted(fake, review(item("XU1", 4, margin=margin)), kind)
        assert [each.body for each in made.mine()] == ([] if how == "deleted" else [body])
    (summary,) = made.summaries()
    assert "Dismissed by somebody" in summary.body and "worse since" in summary.body
    posted(fake, review(item("XU1", 4, "fixed", 1.45)), kind)
    assert [each.body for each in made.mine()] == ([] if how == "deleted" else [body])


@each_forge
def test_a_comment_of_somebody_else_with_our_mark_is_no_comment_of_ours(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    forged = made.mine()[0].body
    other = made.add("stranger", forged, FILE, 5)
    quoted = made.add("stranger", "> " + made.summaries()[0].body)
    posted(fake, review(item("XU1", 4, "fixed", 1.45)), kind)
    assert other.body == forged and other in made.notes and quoted in made.notes
    assert lives(made) == ["fixed"]


@each_forge
def test_at_most_ten_stand_on_lines_and_the_summary_lists_all(kind: str) -> None:
    made = world(*range(1, 20))
    fake = FAKES[kind](made)
    items = [item(f"XU{n}", n) for n in range(1, 16)]
    posted(fake, review(*items), kind)
    assert len(made.mine()) == 10
    (summary,) = made.summaries()
    assert all(f"`XU{n}`" in summary.body for n in range(1, 16))
    writes = len(made.writes)
    posted(fake, review(*items), kind)
    assert len(made.writes) == writes


@each_forge
def test_a_line_has_one_comment_and_its_worst_item_speaks(kind: str) -> None:
    made = world()
    posted(FAKES[kind](made), review(item("XU1", 4), item("XU2", 4), item("XU3", 4), item("XU4", 4)), kind)
    (note,) = made.mine()
    assert note.body.count("also led\\-overdriven") == 2 and "XU2" in note.body and "XU4" not in note.body
    assert "XU4" in made.summaries()[0].body


@each_forge
def test_what_stands_on_no_changed_line_is_told_in_the_summary_only(kind: str) -> None:
    made = world(99)
    posted(FAKES[kind](made), review(item("XU1", 4)), kind)
    assert made.mine() == [] and "`XU1`" in made.summaries()[0].body


@each_forge
@pytest.mark.parametrize("fault", ["lost", "500-after", "500", "429", "409"])
def test_an_answer_that_is_lost_or_late_makes_no_double(kind: str, fault: str) -> None:
    made = world()
    made.faults = [fault]
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4), item("XU2", 5)), kind)
    assert len(made.mine()) == 2 and len(made.summaries()) == 1
    writes = len(made.writes)
    posted(fake, review(item("XU1", 4), item("XU2", 5)), kind)
    assert len(made.writes) == writes


@each_forge
def test_a_line_that_the_forge_refuses_goes_to_the_summary_and_the_others_stand(kind: str) -> None:
    made = world()
    made.faults = ["422", "", "422"] if kind == "github" else ["", "400"] if kind == "gitlab" else ["", "422"]
    fake = FAKES[kind](made)
    items = item("XU1", 4), item("XU2", 5)
    posted(fake, review(*items), kind)
    assert len(made.mine()) == 1
    assert all(f"`XU{n}`" in made.summaries()[0].body for n in (1, 2))


@each_forge
def test_where_lines_may_not_be_spoken_on_the_summary_tells_all(kind: str) -> None:
    made = world()
    made.faults = ["403"]
    posted(FAKES[kind](made), review(item("XU1", 4)), kind)
    assert made.mine() == [] and "`XU1`" in made.summaries()[0].body


@each_forge
def test_a_head_that_moves_stops_quietly(kind: str) -> None:
    made = world()
    done = posted(FAKES[kind](made), review(item("XU1", 4), head="e" * 40), kind)
    assert "head moved" in done.stopped and made.notes == []

    def move() -> None:
        made.head = "f" * 40

    made.before = move
    done = posted(FAKES[kind](made), review(item("XU1", 4), item("XU2", 5)), kind)
    assert "head moved" in done.stopped and made.summaries() == []
    made.open = False
    assert "closed" in posted(FAKES[kind](made), review(item("XU1", 4)), kind).stopped


@each_forge
def test_a_run_that_is_killed_between_two_writes_is_put_right_by_the_next(kind: str) -> None:
    found = review(item("XU1", 4), item("XU2", 5))
    for at in range(4):
        for fault in ("kill-before", "kill-after"):
            made = world()
            fake = FAKES[kind](made)
            made.faults = [""] * at + [fault]
            try:
                posted(fake, found, kind)
            except Killed:
                posted(fake, found, kind)
            assert len(made.mine()) == 2 and len(made.summaries()) == 1, (at, fault)
            writes = len(made.writes)
            posted(fake, found, kind)
            assert len(made.writes) == writes


@each_forge
def test_two_runs_at_once_leave_each_comment_once_and_one_summary(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    found = review(item("XU1", 4), item("XU2", 5))

    def another() -> None:
        made.before = None
        posted(fake, found, kind)

    made.before = another
    posted(fake, found, kind)
    posted(fake, found, kind)
    assert lives(made) == ["live", "live"] and len(made.summaries()) == 1
    writes = len(made.writes)
    posted(fake, found, kind)
    assert len(made.writes) == writes


@each_forge
def test_an_untrusted_file_that_claims_that_all_is_well_fixes_and_deletes_nothing(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    body = made.mine()[0].body
    posted(fake, review(), kind, untrusted=True)
    assert [note.body for note in made.mine()] == [body] and made.mine()[0].resolved_by == ""
    posted(fake, review(item("XU2", 5)), kind, untrusted=True)
    assert all("the request" in note.body for note in made.mine()[1:])
    assert "As the request's own run reports" in made.summaries()[0].body


@each_forge
def test_an_incomplete_review_fixes_nothing_and_says_so_first(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    posted(fake, review(complete=False), kind)
    assert lives(made) == ["live"]
    assert made.summaries()[0].body.split("\n")[1].startswith("**incomplete")


@each_forge
def test_a_failed_run_keeps_what_stood_below_and_the_ledger(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    known = read_ledger(made.summaries()[0].body)
    assert known
    for _ in range(2):
        posted(fake, review(), kind, failed=True)
        (summary,) = made.summaries()
        assert "the last run failed" in summary.body and "`XU1`" in summary.body
        assert read_ledger(summary.body) == known
    assert summary.body.count("the last run failed") == 1 and lives(made) == ["live"]


@each_forge
def test_a_renamed_reference_keeps_its_comment(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    posted(fake, review(item("XU1", 4)), kind)
    renamed = item("XU9", 4)
    posted(fake, review(renamed._replace(identity=item("XU1").identity)), kind)
    (note,) = made.mine()
    assert "XU9" in note.body


@each_forge
def test_names_that_give_orders_are_shown_and_do_nothing(kind: str) -> None:
    made = world()
    hostile = item("X1", 4)._replace(
        subject="-->`x`", cure="/close", details=("/merge", "@team --> <!-- isolint-ledger/1 x -->"), notes=("@team",)
    )
    posted(FAKES[kind](made), review(hostile), kind)
    for note in made.notes:
        lines = note.body.split("\n")
        assert not any(line.startswith("/") for line in lines)
        assert "<!--" not in "\n".join(lines[1 : -1 if note.is_summary else None])
        outside = "".join(part for line in lines for part in line.split("`")[::2] if not line.startswith(" "))
        assert "@team" not in outside or "```" in note.body


@each_forge
def test_the_token_is_in_no_text_and_goes_to_the_forge_only(kind: str) -> None:
    made = world()
    fake = FAKES[kind](made)
    made.faults = ["500"] * 30
    with pytest.raises(NotDone) as error:
        posted(fake, review(item("XU1", 4)), kind)
    assert "secret" not in str(error.value) and fake.tokens == {"secret"}
    assert not any("secret" in str(body) for _, _, body in made.bodies)


@pytest.mark.parametrize(
    ("kind", "fence"), [("github", "```suggestion\n"), ("gitlab", "```suggestion:-0+0\n"), ("gitea", "Write instead:")]
)
def test_a_line_that_cures_is_offered_on_that_line_only(kind: str, fence: str) -> None:
    line = Suggestion(FILE, 4, "R1 a b 1k", "R1 a b 3.3k")
    for place, shown in ((4, True), (5, False)):
        made = world()
        posted(FAKES[kind](made), review(item("XU1", place)._replace(suggestion=line)), kind)
        (note,) = made.mine()
        assert ((fence in note.body) and ("R1 a b 3.3k\n```" in note.body)) == shown
    for bad in ("R1 `a` 1k", "R1 a b 1k\u202e", "R1 " + "x" * 300):
        made = world()
        posted(FAKES[kind](made), review(item("XU1", 4)._replace(suggestion=line._replace(after=bad))), kind)
        assert fence not in made.mine()[0].body

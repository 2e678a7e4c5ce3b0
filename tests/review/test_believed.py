"""Changes as people make them, told so that an engineer believes each word."""

from __future__ import annotations

import pytest

from isolint.review.keys import line_of
from isolint.review.review_formats import render
from isolint.review.review_words import because, numbers
from isolint.source import MemoryTree
from tests.review.comparing import BOARD, SETTINGS, changed, files, only, reviewed

TIED = BOARD + "R90 GND GNDB 100\n"
LEVEL = '[levels]\nbridge-conducting = "note"\n'


@pytest.mark.parametrize(
    ("before", "after", "cause"),
    [
        ('"50 V"', '"5 kV"', 'because barriers."logic, field".working_voltage went from "50 V" to "5 kV"'),
        ('"VB"]\nvoltage = "5 V"', '"VB"]\nvoltage = "24 V"', 'because supplies.VB.voltage went from "5 V" to "24 V"'),
        ('nets = ["GNDB"]\n', "", 'because sides.field.nets went from ["GNDB"] to nothing'),
    ],
)
def test_a_fact_that_made_it_is_told_with_its_line(before: str, after: str, cause: str) -> None:
    assert before in SETTINGS
    review = reviewed(files(), files(settings=SETTINGS.replace(before, after)))
    text = SETTINGS.replace(before, after) if after else SETTINGS
    line = text[: text.index(after or before)].count("\n") + (2 if "\nvoltage" in before else 1)
    where = f" (isolint.toml:{line}{'' if after else ' before'})"
    assert review.items and all(because(item.cause, item.where) == cause + where for item in review.items)
    assert review.policy[0].line == line


def test_lines_of_keys_are_found_in_tables_lists_and_dotted_keys() -> None:
    text = (
        'a = 1\n[outputs."DRIVE*"]\nhigh = { min = "4 V" }\n\n[[waivers]]\nrule = "x"\nwhere = "R1"\n'
        '[[waivers]]\nrule = "x"\nwhere = "R2"\nuntil = 2027-01-01\n[sides.a]\nnets = ["x"] # y\nsub.key = 3\n'
    )
    tree = MemoryTree({"isolint.toml": text})
    for line, key in {
        1: ("a",),
        3: ("outputs", "DRIVE*", "high", "min"),
        7: ("waivers", "x R1", "where"),
        11: ("waivers", "x R2", "until"),
        13: ("sides", "a", "nets"),
        14: ("sides", "a", "sub", "key"),
        12: ("sides", "a", "gone"),
    }.items():
        assert line_of(tree, "isolint.toml", key) == line, key
    assert line_of(tree, "isolint.toml", ("nowhere",)) == 1 and line_of(tree, "none.toml", ("a",)) == 1


def test_a_part_that_nothing_explains_any_more_is_one_question_that_says_it_was_judged() -> None:
    item = only(changed("DEMO_PT1", "MYSTERY"))
    assert (item.state, item.rule) == ("opened", "part-unknown") and item.counts
    assert any("XU1 was judged" in note for note in item.notes)


def test_a_part_that_is_stated_to_isolate_nothing_is_told_as_judged_no_more() -> None:
    item = only(reviewed(files(), files(settings=f'{SETTINGS}[elements."XU1"]\nordinary = true\n')))
    assert (item.state, item.rule) == ("unjudged", "part-unknown") and item.counts
    assert "elements.XU1.ordinary went from nothing to true" in because(item.cause)


def test_a_level_that_the_request_lowers_is_told_where_the_policy_of_the_base_counts() -> None:
    item = only(reviewed(files(), files(TIED, SETTINGS + LEVEL), policy="base"))
    assert item.counts and item.after_merge.startswith("would not count with this request's settings (1 key)")
    assert only(reviewed(files(), files(TIED, SETTINGS + LEVEL))).level == "note"


def test_what_could_not_be_judged_is_never_told_as_no_difference() -> None:
    for settings, board in (("top = \n", BOARD), (SETTINGS, "")):
        review = reviewed(files(), files(board, settings))
        text = render("text", review)
        assert review.exit_status == 2 and "no electrical difference" not in text and "1 not judged" in text


def test_the_number_beside_a_margin_is_the_one_that_it_is_made_of() -> None:
    wanted = SETTINGS.replace('"50 V"', '"5 kV"')
    for item in reviewed(files(), files(settings=wanted)).items:
        after = item.after
        assert after.margin is not None and after.required is not None
        if after.number is not None and after.number.limit:
            assert after.number.value / after.number.limit == pytest.approx(after.margin / after.required, rel=0.03)
        assert f"-> {after.margin:.2f}" in numbers(item)


def test_a_note_of_the_reader_has_no_card_for_a_cause() -> None:
    review = changed("R2 VB", ".end\nR2 VB")
    causes = {item.rule: because(item.cause) for item in review.items}
    assert causes["netlist-malformed"] == "" and causes["load-missing"].startswith("because R2 is gone")


def test_a_net_that_a_tool_names_anew_is_no_net_that_came_or_went() -> None:
    for old, new in ((" A", " N$3"), (" N$3", " A")):
        board = BOARD.replace(" A", old)
        review = reviewed(files(board), files(board.replace(old, new).replace("470", "510")))
        assert [change.text for change in review.netlists[0].differences] == ["R1: 470 ohm -> 510 ohm"]

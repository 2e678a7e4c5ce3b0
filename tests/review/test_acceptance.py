"""What a change is said to have done: each case by its content."""

from __future__ import annotations

import pytest

from isolint.review.review_words import because, headline
from tests.review.comparing import BOARD, SETTINGS, changed, files, only, reviewed, states

TIED = BOARD + "R90 GND GNDB 100\n"
ROW = """\
* Two LEDs in series behind one resistor, invented
R1 DRIVE A 47
XU1 A B GNDB OUT DEMO_PT1
XU2 B GND GNDB OUT2 DEMO_PT1
R2 VB OUT 10k
R3 VB OUT2 10k
"""


def test_a_smaller_load_resistor_makes_one_new_failure_with_before_now_and_cause() -> None:
    item = only(changed("OUT 10k", "OUT 1k"))
    assert (item.state, item.rule, item.subject) == ("new", "transfer-margin-low", "XU1")
    assert item.before.margin is not None and item.after.margin is not None
    assert item.before.margin > 1.2 > item.after.margin
    told = f"transfer margin of XU1 {item.before.margin:.2f} -> {item.after.margin:.2f}, wanted 1.20"
    assert headline(item) == told
    assert because(item.cause) == "because R2 went from 10 kohm to 1 kohm" and item.cause.proven
    assert (item.anchors[0].side, item.anchors[0].file, item.anchors[0].line) == ("new", "board.cir", 4)
    assert item.counts and item.level == "error"


def test_what_is_put_right_is_fixed_and_counts_for_nothing() -> None:
    review = changed("OUT 1k", "OUT 10k", BOARD.replace("OUT 10k", "OUT 1k"))
    assert states(review) == [("fixed", "transfer-margin-low", "XU1")] and review.exit_status == 0
    assert because(only(review).cause) == "because R2 went from 1 kohm to 10 kohm"


def test_cards_shuffled_and_nets_renumbered_make_no_difference() -> None:
    board = BOARD.replace(" A", " N001") + "R8 N001 N002 1k\nR9 N002 GND 1k\n"
    other = board.replace("N001", "N$7").replace("N002", "N001")
    title, *cards = other.splitlines()
    review = reviewed(files(board), files("\n".join([title, *cards[::-1]]) + "\n"))
    assert review.items == () and review.netlists[0].differences == () and review.exit_status == 0


def test_references_permuted_too_make_no_difference() -> None:
    board = BOARD + "R5 DRIVE2 A2 470\nXU2 A2 GND GNDB OUT2 DEMO_PT1\nR6 VB OUT2 10k\n"
    swapped = board.replace("XU1", "XU9").replace("XU2", "XU1").replace("XU9", "XU2")
    swapped = swapped.replace("R1 ", "R7 ").replace("R5 ", "R1 ").replace("R7 ", "R5 ")
    review = reviewed(files(board), files(swapped))
    assert review.items == () and review.netlists[0].differences == ()


def test_a_re_export_with_one_value_changed_is_one_line() -> None:
    board = BOARD.replace(" A", " N001")
    title, *cards = board.replace("N001", "N$7").replace("470", "510").splitlines()
    review = reviewed(files(board), files("\n".join([title, *cards[::-1]]) + "\n"))
    assert [change.text for change in review.netlists[0].differences] == ["R1: 470 ohm -> 510 ohm"]


def test_the_cards_of_two_leds_in_series_behind_one_overloading_resistor_exchanged_are_no_change() -> None:
    first, second = ROW.splitlines()[2:4]
    other = ROW.replace(first, "!").replace(second, first).replace("!", second)
    review = reviewed(files(ROW), files(other))
    assert review.items == () and review.netlists[0].differences == ()


def test_less_resistance_between_the_sides_is_worse() -> None:
    item = only(changed("GNDB 100", "GNDB 11", TIED))
    assert (item.state, item.rule) == ("worse", "bridge-conducting")
    assert because(item.cause) == "because R90 went from 100 ohm to 11 ohm" and item.counts


def test_a_second_resistor_between_the_sides_is_worse_and_named() -> None:
    item = only(reviewed(files(TIED), files(TIED + "R95 GND GNDB 100\n")))
    assert (item.state, item.rule, item.came) == ("worse", "bridge-conducting", ("r95",))
    assert because(item.cause).startswith("because R95 came")


def test_another_resistor_in_its_place_is_one_fault_fixed_and_one_new() -> None:
    review = changed("R90 GND GNDB", "R95 GNDB VB", TIED)
    assert states(review) == [("fixed", "bridge-conducting", "field | logic")]
    assert because(only(review).cause).startswith("because R90 is gone")
    review = changed("R90 GND GNDB 100", "R95 VB GND 100", TIED)
    assert [each[:2] for each in states(review)] == [("new", "supply-shared"), ("fixed", "bridge-conducting")]
    new, fixed = review.items
    assert (new.members, new.where.line, new.counts) == (("r95",), 5, True) and "R95 100 ohm" in new.after.message
    assert (fixed.members, fixed.counts) == (("r90",), False) and "R90 100 ohm" in fixed.before.message
    assert review.exit_status == 1


UNKNOWN = SETTINGS.replace('working_voltage = "50 V"', "")
TOO_MUCH = SETTINGS.replace('"50 V"', '"5 kV"')


@pytest.mark.parametrize(("settings", "hides"), [(UNKNOWN, 1), (TOO_MUCH, 2)])
def test_what_is_wrong_with_a_part_between_the_sides_stands_behind_what_joins_them_now(
    settings: str, hides: int
) -> None:
    item = only(reviewed(files(BOARD, settings), files(TIED, settings)))
    assert (item.state, item.rule, len(item.hides)) == ("new", "bridge-conducting", hides)
    review = reviewed(files(BOARD, settings), files(TIED, settings + WAIVER))
    assert review.exit_status == 0 and only(review).hides == item.hides


@pytest.mark.parametrize(("settings", "state"), [(UNKNOWN, "opened"), (TOO_MUCH, "uncovered")])
def test_what_joined_the_sides_gone_says_what_is_wrong_with_a_part_between_them(settings: str, state: str) -> None:
    review = reviewed(files(TIED, settings), files(BOARD, settings))
    assert ("fixed", "bridge-conducting", "field | logic") in states(review)
    assert (state, "working-voltage-exceeded", "field | logic") in states(review) and review.exit_status == 1
    assert {each for each, _, _ in states(review)} == {"fixed", state}


TWO_TYPES = f"{BOARD}R5 DRIVE2 A2 470\nXU2 A2 GND GNDB OUT2 DEMO_PT2\nR6 VB OUT2 10k\n"


def test_each_part_type_between_the_sides_stands_behind_what_joins_them_and_none_is_taken_for_cured() -> None:
    wrong = {("working-voltage-exceeded", "DEMO_PT1"), ("working-voltage-exceeded", "DEMO_PT2")}
    wrong |= {("distance-short", "DEMO_PT1"), ("distance-short", "DEMO_PT2")}
    tied = f"{TWO_TYPES}R90 GND GNDB 100\n"
    item = only(reviewed(files(TWO_TYPES, TOO_MUCH), files(tied, TOO_MUCH)))
    assert (item.state, item.rule) == ("new", "bridge-conducting")
    assert {word.split(",")[0] for word in item.hides} == {f"{rule} ({role})" for rule, role in wrong}
    review = reviewed(files(tied, TOO_MUCH), files(TWO_TYPES, TOO_MUCH))
    assert {(each.rule, each.role) for each in review.items if each.state == "uncovered"} == wrong
    assert [each.rule for each in review.items if each.state != "uncovered"] == ["bridge-conducting"]


def test_more_resistance_between_the_sides_is_better_and_counts_for_nothing() -> None:
    review = changed("GNDB 11", "GNDB 100", TIED.replace("GNDB 100", "GNDB 11"))
    assert only(review).state == "better" and review.exit_status == 0


def test_an_overdriven_led_whose_resistor_becomes_a_link_is_one_worse_item() -> None:
    item = only(changed("A 47", "A 0", BOARD.replace("470", "47")))
    assert (item.state, item.rule, item.instead) == ("worse", "led-unlimited", "led-overdriven")
    assert headline(item).startswith("led-unlimited instead of led-overdriven")


def test_another_fault_of_the_same_weight_in_place_of_one_counts() -> None:
    item = only(changed("A 470", "A 47", BOARD.replace("OUT 10k", "OUT 1k")))
    assert (item.state, item.rule, item.instead) == ("worse", "led-overdriven", "transfer-margin-low")
    assert item.counts


def test_an_unlimited_led_cured_by_far_too_much_is_fixed_and_uncovers_the_next_fault() -> None:
    review = changed("A 0", "A 100k", BOARD.replace("470", "0"))
    found = {item.state: item for item in review.items}
    assert found.keys() == {"fixed", "uncovered"}, states(review)
    assert found["fixed"].rule == "led-unlimited"
    assert "until now" in found["uncovered"].notes[0] and found["uncovered"].counts
    assert all("R1 went from 0 ohm to 100 kohm" in because(item.cause) for item in review.items)


def test_the_include_that_held_the_fault_deleted_opens_questions_and_fixes_nothing() -> None:
    held = "R1 DRIVE A 47\nR2 VB OUT 10k\n"
    board = '* t\n.include "rest.inc"\nXU1 A GND GNDB OUT DEMO_PT1\n'
    review = reviewed(files(board, rest__inc=held), files(board))
    assert "fixed" not in {item.state for item in review.items}, states(review)
    assert any(item.counts for item in review.items) and review.exit_status == 1


def test_a_coupler_whose_model_is_gone_is_told_as_judged_no_more() -> None:
    old = BOARD.replace("DEMO_PT1", "MYPART")
    settings = SETTINGS.replace('[elements."R*"]', '[elements."XU1"]\npart = "DEMO_PT1"\n[elements."R*"]')
    review = reviewed(files(old, settings), files(old, SETTINGS))
    assert review.exit_status == 1
    assert any(item.state in ("unjudged", "opened") and "XU1" in item.after.message for item in review.items)
    assert "fixed" not in {item.state for item in review.items}


def test_a_renamed_board_says_nothing() -> None:
    review = reviewed({"a/board.cir": TIED, "isolint.toml": SETTINGS}, {"a/new.cir": TIED, "isolint.toml": SETTINGS})
    assert review.items == () and review.exit_status == 0
    assert review.netlists[0].fate == "moved"


def test_of_a_board_copied_twice_whose_original_is_gone_one_is_moved_and_the_other_new() -> None:
    old = {"a/board.cir": TIED, "isolint.toml": SETTINGS}
    new = {"n/board.cir": TIED, "m/board.cir": TIED, "isolint.toml": SETTINGS}
    review = reviewed(old, new)
    assert sorted(netlist.fate for netlist in review.netlists) == ["copied", "moved"]
    assert {item.state for item in review.items} == {"new"}
    copied = next(netlist for netlist in review.netlists if netlist.fate == "copied")
    assert "copied from a/board.cir" in copied.notes[0]


BENCHES = {
    "that drives the board": '* bench\n.include "board.cir"\nV9 DRIVE GND 5\n',
    "that puts it behind its end": '* bench\nV9 DRIVE GND 5\n.end\n.include "board.cir"\n',
    "that calls it": '* bench\n.subckt b DRIVE\n.include "board.cir"\n.ends\nX1 D b\nV9 D GND 5\n',
}


@pytest.mark.parametrize("where", ["testbench.cir", "bench/testbench.cir"])
@pytest.mark.parametrize("bench", BENCHES.values(), ids=BENCHES)
def test_a_testbench_that_includes_the_board_never_silences_it(bench: str, where: str) -> None:
    bench = bench if "/" not in where else bench.replace("board.cir", "../board.cir")
    old = {"board.cir": BOARD, "isolint.toml": SETTINGS}
    judged = reviewed(old, {**old, where: bench, "board.cir": TIED})
    (item, *_) = [each for each in judged.items if each.rule == "bridge-conducting"]
    assert item.state == "new" and item.counts and item.where.file == "board.cir" and judged.exit_status == 1
    standing = reviewed({**old, "board.cir": TIED}, {**old, where: bench, "board.cir": TIED})
    told = [note for netlist in standing.netlists for note in netlist.notes]
    assert standing.netlists and (standing.items or any("part of" in note for note in told)), states(standing)
    assert not any(each.state in ("fixed", "settled") for each in standing.items)


def test_settings_renamed_away_open_questions_and_are_told() -> None:
    review = reviewed(files(TIED), {"board.cir": TIED, "settings.toml": SETTINGS})
    assert any(item.state == "opened" for item in review.items), states(review)
    assert any(change.file == "isolint.toml" for change in review.policy)
    assert any("isolint.toml is gone" in note for note in review.notes)


WAIVER = """
[[waivers]]
rule = "bridge-conducting"
where = "R90"
reason = "accepted for the prototype"
by = "A. Designer, circuit review"
until = 2027-12-31
"""


def test_a_waiver_in_the_request_does_not_count_under_the_policy_of_the_base() -> None:
    old, new = files(BOARD), files(TIED, SETTINGS + WAIVER)
    assert reviewed(old, new).exit_status == 0
    review = reviewed(old, new, policy="base")
    assert review.exit_status == 1
    item = only(review)
    assert "would pass with this request's settings" in item.after_merge and item.counts
    assert any("waivers" in change.what for change in review.policy)


def test_a_waiver_that_is_gone_makes_its_failure_new() -> None:
    review = reviewed(files(TIED, SETTINGS + WAIVER), files(TIED))
    item = only(review)
    assert item.state == "new" and item.notes == ("its waiver ended",) and review.exit_status == 1


def test_a_failure_accepted_now_and_not_before_is_policy_and_no_item_of_work() -> None:
    review = reviewed(files(TIED), files(TIED, SETTINGS + WAIVER))
    assert review.exit_status == 0 and not any(item.counts for item in review.items)
    assert any("waivers" in change.what for change in review.policy)

"""What a reviewer on requests must get right, case by case, and the test that holds each.

A case without a test, or a name that is no test any more, fails here.
"""

from __future__ import annotations

import importlib
import inspect

import pytest

DEFINITIONS = "review.test_definitions"
ACCEPTANCE, REVIEWING, REPOSITORY = "review.test_acceptance", "review.test_reviewing", "review.test_repository"
POSTING, REQUEST = "posting.test_posting", "posting.test_request"
STAGES = "test_a_request_gets_one_comment_that_becomes_fixed_then_silence_and_a_hostile_push_gains_nothing"

CASES = {
    "a resistor swapped is one new item with before, now, cause": [
        (ACCEPTANCE, "test_a_smaller_load_resistor_makes_one_new_failure_with_before_now_and_cause"), (REQUEST, STAGES),
    ],
    "fixed in the second push: that comment edited and resolved": [
        (ACCEPTANCE, "test_what_is_put_right_is_fixed_and_counts_for_nothing"), (REQUEST, STAGES),
        (POSTING, "test_what_is_fixed_is_edited_and_resolved_and_stays_so"),
    ],
    "a push that touches the README only writes nothing": [(REQUEST, STAGES)],
    "shuffled, nets renumbered, references permuted: no difference": [
        (ACCEPTANCE, "test_cards_shuffled_and_nets_renumbered_make_no_difference"),
        (ACCEPTANCE, "test_references_permuted_too_make_no_difference"),
        ("review.test_pairing", "test_a_re_export_makes_no_difference"),
    ],
    "the same and one value: one line": [(ACCEPTANCE, "test_a_re_export_with_one_value_changed_is_one_line")],
    "two LEDs in series, their cards exchanged: unchanged": [
        (ACCEPTANCE, "test_the_cards_of_two_leds_in_series_behind_one_overloading_resistor_exchanged_are_no_change"),
    ],
    "100 ohm between sides becomes 11: worse": [
        (ACCEPTANCE, "test_less_resistance_between_the_sides_is_worse"),
    ],
    "a second resistor beside it: worse, named": [
        (ACCEPTANCE, "test_a_second_resistor_between_the_sides_is_worse_and_named"),
    ],
    "another resistor instead of it: one fixed, one new": [
        (ACCEPTANCE, "test_another_resistor_in_its_place_is_one_fault_fixed_and_one_new"),
    ],
    "11 ohm becomes 100: better, no exit status": [
        (ACCEPTANCE, "test_more_resistance_between_the_sides_is_better_and_counts_for_nothing"),
    ],
    "an overdriven LED whose resistor becomes a link: one worse item": [
        (ACCEPTANCE, "test_an_overdriven_led_whose_resistor_becomes_a_link_is_one_worse_item"),
    ],
    "an unlimited LED cured by far too much: fixed and uncovered": [
        (ACCEPTANCE, "test_an_unlimited_led_cured_by_far_too_much_is_fixed_and_uncovers_the_next_fault"),
    ],
    "the include that held the fault deleted: opened": [
        (ACCEPTANCE, "test_the_include_that_held_the_fault_deleted_opens_questions_and_fixes_nothing"),
    ],
    "a coupler's model deleted: judged no more": [
        (ACCEPTANCE, "test_a_coupler_whose_model_is_gone_is_told_as_judged_no_more"),
        (DEFINITIONS, "test_a_definition_that_goes_while_it_is_called_is_the_cause_of_what_is_asked_then"),
    ],
    "a board renamed: nothing": [(ACCEPTANCE, "test_a_renamed_board_says_nothing")],
    "copied twice, the original deleted: one moved, one new": [
        (ACCEPTANCE, "test_of_a_board_copied_twice_whose_original_is_gone_one_is_moved_and_the_other_new"),
    ],
    "a testbench that includes the board: never silent": [
        (ACCEPTANCE, "test_a_testbench_that_includes_the_board_never_silences_it"),
    ],
    "settings renamed away: opens, told": [(ACCEPTANCE, "test_settings_renamed_away_open_questions_and_are_told")],
    "a waiver in the request under the policy of the base: counts": [
        (ACCEPTANCE, "test_a_waiver_in_the_request_does_not_count_under_the_policy_of_the_base"),
    ],
    "a waiver removed on the target after the fork: removed": [
        (REVIEWING, "test_a_waiver_removed_on_the_target_since_counts_as_removed"),
    ],
    "a clone cut below the merge base: refused with the cure": [
        (REPOSITORY, "test_a_clone_cut_below_the_merge_base_is_refused_with_the_cure"),
    ],
    "a planted program of a remote: not run": [
        (REPOSITORY, "test_a_clone_without_contents_fetches_none_and_runs_no_planted_program"),
        (REPOSITORY, "test_nothing_that_the_repository_names_is_run"),
    ],
    "a foreign owner: not asked": [(REPOSITORY, "test_a_repository_of_another_owner_is_not_asked")],
    "a name with a line feed, a link to /etc, an LFS include: judged, refused, open": [
        (REVIEWING, "test_names_links_and_pointers_that_are_odd_are_judged_refused_and_asked_about"),
    ],
    "killed between two creates, and again: each once": [
        (POSTING, "test_a_run_that_is_killed_between_two_writes_is_put_right_by_the_next"),
    ],
    "two at once: each once, one summary": [
        (POSTING, "test_two_runs_at_once_leave_each_comment_once_and_one_summary"),
    ],
    "an untrusted file that claims that all is well fixes nothing; people are respected": [
        (POSTING, "test_an_untrusted_file_that_claims_that_all_is_well_fixes_and_deletes_nothing"),
        (POSTING, "test_what_a_person_dealt_with_is_left_alone_and_told_in_the_summary"),
    ],
    "names that end comments, quote, close, call a team: shown, inert": [
        (POSTING, "test_names_that_give_orders_are_shown_and_do_nothing"), (REQUEST, STAGES),
    ],
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_each_case_has_a_test(case: str) -> None:
    assert CASES[case]
    for module, name in CASES[case]:
        held = getattr(importlib.import_module(f"tests.{module}"), name)
        assert inspect.isfunction(held) and held.__module__ == f"tests.{module}"

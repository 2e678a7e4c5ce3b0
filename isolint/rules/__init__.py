"""The rules: one file a rule, one line here a rule. Their order decides which rule carries an open result.

In: a `Context`. Out: results. Rules don't know each other; they never parse, build or solve.
"""

from isolint.checking.rule import Rule
from isolint.rules import (
    bridge_conducting,
    drive_headroom_low,
    ground_tie,
    include_missing,
    include_refused,
    led_overdriven,
    led_reversed,
    led_underdriven,
    led_unlimited,
    load_missing,
    netlist_malformed,
    output_level_invalid,
    part_unknown,
    pins_mismatched,
    supply_shared,
    transfer_margin_low,
)

RULES: tuple[Rule, ...] = (
    pins_mismatched.RULE,
    part_unknown.RULE,
    ground_tie.RULE,
    supply_shared.RULE,
    bridge_conducting.RULE,
    led_unlimited.RULE,
    led_reversed.RULE,
    led_overdriven.RULE,
    led_underdriven.RULE,
    drive_headroom_low.RULE,
    load_missing.RULE,
    output_level_invalid.RULE,
    transfer_margin_low.RULE,
    netlist_malformed.RULE,
    include_missing.RULE,
    include_refused.RULE,
)

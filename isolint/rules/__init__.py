"""The rules: one file a rule, one line here a rule. Their order decides which rule carries an open result.

In: a `Context`. Out: results. Rules don't know each other; they never parse, build or solve. Which rule runs before
which follows from what each blocks and needs, not from this order.
"""

from isolint.checking.rule import Rule
from isolint.rules import (
    base_resistor_low,
    bridge_conducting,
    coil_clamp_missing,
    coupler_overheated,
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
    output_current_exceeded,
    output_level_invalid,
    output_reversed,
    output_voltage_exceeded,
    part_unknown,
    pins_mismatched,
    receiver_overvoltage,
    supply_shared,
    transfer_margin_low,
    waiver_stale,
)

RULES: tuple[Rule, ...] = (
    ground_tie.RULE,
    supply_shared.RULE,
    bridge_conducting.RULE,
    led_unlimited.RULE,
    led_reversed.RULE,
    led_overdriven.RULE,
    led_underdriven.RULE,
    drive_headroom_low.RULE,
    load_missing.RULE,
    transfer_margin_low.RULE,
    output_level_invalid.RULE,
    output_voltage_exceeded.RULE,
    output_current_exceeded.RULE,
    output_reversed.RULE,
    coil_clamp_missing.RULE,
    receiver_overvoltage.RULE,
    base_resistor_low.RULE,
    coupler_overheated.RULE,
    netlist_malformed.RULE,
    part_unknown.RULE,
    pins_mismatched.RULE,
    include_missing.RULE,
    include_refused.RULE,
    waiver_stale.RULE,
)

RULE_SET: tuple[str, ...] = (
    *("ground-tie", "supply-shared", "bridge-conducting", "bridge-capacitor", "side-unpowered", "channels-mixed-sides"),
    *(
        "insulation-grade-low",
        "working-voltage-exceeded",
        "transient-rating-low",
        "distance-short",
        "slew-immunity-low",
    ),
    *(
        "led-unlimited",
        "led-reversed",
        "led-overdriven",
        "led-underdriven",
        "drive-headroom-low",
        "driver-port-overloaded",
    ),
    *("led-not-off", "led-reverse-exceeded", "leds-share-resistor", "resistor-overloaded", "input-thresholds-missed"),
    *("load-missing", "transfer-margin-low", "output-level-invalid", "dark-current-high", "output-voltage-exceeded"),
    *("output-current-exceeded", "output-reversed", "coil-clamp-missing", "receiver-overvoltage", "base-resistor-low"),
    *("switching-too-slow", "slow-edge", "dead-time-short", "coupler-overheated"),
    *("bypass-missing", "supply-out-of-range", "input-floating", "gate-resistor-low"),
    *("trigger-margin-low", "gate-path-resistor-low", "blocking-voltage-low", "snubber-missing", "dc-load-latches"),
    *("pull-in-low", "servo-open", "photodiode-overdriven", "feedback-range-short", "feedback-bias-missing"),
    *("netlist-malformed", "part-unknown", "pins-mismatched", "include-missing", "include-refused", "waiver-stale"),
)
"""All slugs that settings may name, in the order of the rule set: one settings file serves versions with fewer rules."""

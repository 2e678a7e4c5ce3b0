"""The rules: one file a rule, one line here a rule. Their order decides which rule carries an open result.

In: a `Context`. Out: results. Rules don't know each other; they never parse, build or solve. Which rule runs before
which follows from what each blocks and needs, not from this order.
"""

from importlib import import_module

from isolint.checking.rule import Rule

LISTED: tuple[str, ...] = (
    "ground-tie",
    "supply-shared",
    "bridge-conducting",
    "bridge-capacitor",
    "insulation-grade-low",
    "working-voltage-exceeded",
    "transient-rating-low",
    "distance-short",
    "slew-immunity-low",
    "touch-current-high",
    "earth-bond-missing",
    "side-unpowered",
    "supply-contradicted",
    "channels-mixed-sides",
    "supply-out-of-range",
    "converter-overloaded",
    "load-capacitance-high",
    "bypass-missing",
    "input-floating",
    "logic-level-missed",
    "outputs-joined",
    "default-state-wrong",
    "input-range-exceeded",
    "led-undriven",
    "led-unlimited",
    "led-reversed",
    "led-overdriven",
    "led-underdriven",
    "drive-headroom-low",
    "driver-port-overloaded",
    "led-not-off",
    "led-reverse-exceeded",
    "leds-share-resistor",
    "servo-open",
    "servo-range-short",
    "photodiode-overdriven",
    "resistor-overloaded",
    "input-thresholds-missed",
    "load-missing",
    "transfer-margin-low",
    "feedback-range-short",
    "feedback-bias-missing",
    "output-chopped",
    "output-level-invalid",
    "dark-current-high",
    "output-voltage-exceeded",
    "output-current-exceeded",
    "output-reversed",
    "gate-drive-low",
    "gate-voltage-exceeded",
    "gate-discharge-missing",
    "gate-resistor-low",
    "miller-turn-on",
    "pull-in-low",
    "drop-out-missed",
    "coil-overvoltage",
    "trigger-margin-low",
    "blocking-voltage-low",
    "surge-unclamped",
    "gate-path-resistor-low",
    "triac-fires-late",
    "gate-leakage-high",
    "gate-cathode-resistor-missing",
    "load-current-low",
    "snubber-missing",
    "dc-load-latches",
    "switching-mode-wrong",
    "off-current-high",
    "coil-clamp-missing",
    "transistor-miswired",
    "receiver-overvoltage",
    "base-resistor-low",
    "coupler-overheated",
    "switching-too-slow",
    "slow-edge",
    "dead-time-short",
    "netlist-malformed",
    "part-unknown",
    "pins-mismatched",
    "include-missing",
    "include-refused",
    "waiver-stale",
)
"""The slugs of all rules. That of `ground-tie` is `RULE` of `ground_tie.py`."""

OTHER_VERSIONS: tuple[str, ...] = ("core-saturates",)
"""Slugs that settings may name as well, so that one file serves versions with fewer rules."""


def _rule(slug: str) -> Rule:
    rule = import_module(f"isolint.rules.{slug.replace('-', '_')}").RULE
    assert isinstance(rule, Rule)
    return rule


RULES: tuple[Rule, ...] = tuple(map(_rule, LISTED))

RULE_SET: tuple[str, ...] = tuple(dict.fromkeys((*LISTED, *OTHER_VERSIONS)))
"""All slugs that settings may name."""

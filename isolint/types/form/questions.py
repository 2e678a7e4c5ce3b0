"""What is asked of a channel, as the slugs of the rules that answer it: sets that types have in common.

A question has its rule as soon as a rule of its slug is asked of the type. Until then it is open, and no channel of the
type is held. What a barrier must hold is asked of the barrier and stands in no type.
"""

from __future__ import annotations

from collections.abc import Mapping

CHANNEL = (
    "load-missing",
    "output-reversed",
    "receiver-overvoltage",
    "switching-too-slow",
    "coupler-overheated",
    "pins-mismatched",
)
"""Of every type with a channel."""

EDGES = ("channels-mixed-sides",)
"""Of a package with its inputs at one edge and its outputs at the other."""

STRESS = ("output-voltage-exceeded", "output-current-exceeded")
DARK = ("dark-current-high",)
OFF = ("off-current-high",)
"""What an output bears, and what it lets through while off: as a receiver's level, or as a load's current."""

LED = (
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
    "resistor-overloaded",
    "input-thresholds-missed",
)
"""Of an input that is an LED."""

LEVELS = ("input-floating", "logic-level-missed")
"""Of an input that is a voltage."""

SUPPLIES = ("side-unpowered", "supply-out-of-range", "bypass-missing")
"""Of a part with supplies of its own."""

MAINS = ("fuses and the energy that they let through", "breakover by surges", "fast bursts", "gate quadrants")
"""What nothing asks of an output that switches mains."""

IF_STATED: Mapping[str, str] = {
    "switching-too-slow": "signals",
    "slow-edge": "signals",
    "output-chopped": "signals",
    "default-state-wrong": "signals",
    "miller-turn-on": "barriers",
    "core-saturates": "parts",
    "load-capacitance-high": "parts",
    "input-range-exceeded": "signals",
    "converter-overloaded": "parts",
    "surge-unclamped": "supplies",
    "dead-time-short": "pairs",
    "input-thresholds-missed": "lines",
}
"""Questions that are asked only where somebody stated what they are about, with the table; else a channel is held
without them."""

FEEDBACK = ("feedback-range-short", "feedback-bias-missing")
"""Of a channel whose output feeds back to a controller."""

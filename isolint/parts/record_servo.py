"""The table of a part record that says what the photodiodes of a linear coupler are."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value, least, most

LATER_SERVO = "for rules about linear couplers that this version does not have"

OF_FAMILIES = "default, between two usual families (from memory)"


class Photodiodes(Rows, table="parts.photodiodes"):
    """A linear coupler's photodiodes: servo_gain K1, transfer_gain K3."""

    servo = Value(
        k.texts('["pd1-", "pd1+"]', 2, 2), "servo photodiode of {}", sheet="pins of the photodiode on the LED's side"
    )
    servo_gain = Value(
        p.ratio('{ min = 0.006, max = 0.017, current = "10 mA" }'),
        "servo gain of {}",
        usual=least(0.0036, 0.017, OF_FAMILIES),
        sheet="K1, servo gain",
    )
    transfer_gain = Value(
        p.spec("1", "{ min = 0.85, max = 1.15 }"),
        "transfer gain of {}",
        usual=most(1.0, 1.618, OF_FAMILIES),
        sheet="K3, transfer gain",
    )
    current_max = Value(
        k.positive("A"),
        "photodiode current of {}",
        '"50 uA"',
        least(50e-6, 200e-6, OF_FAMILIES),
        sheet="IP1, IP2, largest photodiode current of the linear range",
    )
    reverse_voltage_max = Value(
        k.positive("V"),
        "photodiode voltage of {}",
        '"30 V"',
        unread=LATER_SERVO,
        sheet="VR, photodiode reverse voltage",
    )
    dark_current = Value(
        k.magnitude("A"),
        "dark current of the photodiodes of {}",
        '"1 nA"',
        unread=LATER_SERVO,
        sheet="ID, dark current",
    )
    bias_voltage_max = Value(
        k.positive("V"), "bias of the photodiodes of {}", '"15 V"', unread=LATER_SERVO, sheet="VR, largest bias"
    )

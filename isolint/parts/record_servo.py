"""The table of a part record that says what the photodiodes of a linear coupler are."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value

LATER_SERVO = "for rules about linear couplers that this version does not have"


class Photodiodes(Rows, table="parts.photodiodes"):
    """A linear coupler's photodiodes: servo_gain K1, transfer_gain K3."""

    servo_gain = Value(
        p.ratio('{ min = 0.006, max = 0.017, current = "10 mA" }'),
        "servo gain of {}",
        unread=LATER_SERVO,
        sheet="K1, servo gain",
    )
    transfer_gain = Value(
        p.spec("1", "{ min = 0.85, max = 1.15 }"), "transfer gain of {}", unread=LATER_SERVO, sheet="K3, transfer gain"
    )
    current_max = Value(
        k.positive("A"), "photodiode current of {}", '"5 mA"', unread=LATER_SERVO, sheet="IP1, IP2, photodiode current"
    )
    reverse_voltage_max = Value(
        k.positive("V"),
        "photodiode voltage of {}",
        '"30 V"',
        unread=LATER_SERVO,
        sheet="VR, photodiode reverse voltage",
    )

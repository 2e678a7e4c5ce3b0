"""The tables of a part record about ordinary parts in analogue loops: shunt references and amplifiers."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.parts.record_switching import FROM_MEMORY
from isolint.rows import Rows, Value, either, least, most, point

LATER_AMPLIFIER = "for accuracy, which no rule of this version looks at"


class Reference(Rows, table="parts.reference"):
    """A shunt reference: an ordinary part in the LED's loop of a coupler that feeds back."""

    voltage = Value(
        p.spec("V", '{ min = "2.44 V", typ = "2.5 V", max = "2.55 V" }'),
        "reference voltage of {}",
        usual=either(1.24, 2.5, 2.5, FROM_MEMORY),
        sheet="VREF, reference input voltage",
    )
    cathode_voltage_min = Value(
        k.positive("V"),
        "smallest cathode voltage of {}",
        '"2.5 V"',
        most(1.24, 2.5, FROM_MEMORY),
        sheet="VKA(min), smallest cathode voltage at which it regulates",
    )
    cathode_current_min = Value(
        k.positive("A"),
        "smallest cathode current of {}",
        '"1 mA"',
        most(0.08e-3, 1e-3, FROM_MEMORY),
        sheet="IKA(min), smallest cathode current at which it regulates",
    )
    cathode_current_max = Value(
        k.positive("A"),
        "largest cathode current of {}",
        '"100 mA"',
        point(100e-3, 100e-3, FROM_MEMORY),
        sheet="IKA(max), largest cathode current",
    )
    cathode_voltage_max = Value(
        k.positive("V"),
        "largest cathode voltage of {}",
        '"36 V"',
        sheet="VKA(max), absolute maximum cathode voltage",
    )


class AmplifierValues(Rows, table="parts.amplifier"):
    """An amplifier: an ordinary part that drives the LED of a linear coupler or reads its output diode."""

    swing_high = Value(
        k.magnitude("V"),
        "how far {} stays below its upper rail",
        '"0.1 V"',
        most(0.0, 1.5, FROM_MEMORY),
        sheet="VOH, output swing from the upper rail, at the current asked for",
    )
    swing_low = Value(
        k.magnitude("V"),
        "how far {} stays above its lower rail",
        '"0.1 V"',
        most(0.0, 1.5, FROM_MEMORY),
        sheet="VOL, output swing from the lower rail, at the current asked for",
    )
    output_current_max = Value(
        k.positive("A"),
        "output current of {}",
        '"20 mA"',
        least(5e-3, 25e-3, FROM_MEMORY),
        sheet="IO, guaranteed output current",
    )
    bias_current = Value(
        k.magnitude("A"), "bias current of {}", '"1 nA"', unread=LATER_AMPLIFIER, sheet="IB, input bias current"
    )
    offset_voltage = Value(
        k.magnitude("V"), "offset voltage of {}", '"1 mV"', unread=LATER_AMPLIFIER, sheet="VOS, input offset voltage"
    )

"""The times of a part record: edges at a test load, delays, and what the charge of the light keeps up."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value

LATER_TIME = "for rules about speed that this version does not have"

_TIME = '{ typ = "3 us", max = "18 us" }'


class Timing(Rows, table="parts.timing"):
    """Times in seconds; a plain value in the record is a maximum.

    rise and fall: 10 to 90 % at the resistance `load`. turn_on and turn_off: of both the least is read, as
    their most is told at a load of their own. capacitance: base charge as the output sees it, gain times
    collector-base capacitance, in farads. saturated: the data sheet's line for a saturated output. distortion: the
    largest difference between both delays of one part, difference: between those of two parts.
    """

    rise = Value(p.time(_TIME), "rise time of {}", sheet="tr, rise time")
    fall = Value(p.time(_TIME), "fall time of {}", sheet="tf, fall time")
    turn_on = Value(p.time(_TIME), "turn-on time of {}", sheet="ton, turn-on time")
    turn_off = Value(p.time(_TIME), "turn-off time of {}", sheet="toff, turn-off time")
    delay_high = Value(
        p.time('{ typ = "40 ns", max = "75 ns" }'), "delay of {} to high", sheet="tPLH, propagation delay to high"
    )
    delay_low = Value(
        p.time('{ typ = "40 ns", max = "75 ns" }'), "delay of {} to low", sheet="tPHL, propagation delay to low"
    )
    storage = Value(p.time(_TIME), "storage time of {}", unread=LATER_TIME, sheet="ts, storage time")
    load = Value(k.positive("ohm"), "test load of {}", '"100 ohm"', sheet="RL, load resistor of the times")
    capacitance = Value(
        k.positive("F"),
        "effective base capacitance of {}",
        '"2 nF"',
        sheet="gain times collector-base capacitance, from rise time over load resistance",
    )
    saturated = Value(
        p.saturated('{ storage = "12 us", load = "1.9 kohm", drive = "16 mA", supply = "5 V" }'),
        "times of {} in saturation",
        sheet="ton, ts, toff in saturation with RL, IF and VCC",
    )
    distortion = Value(
        k.positive("s"), "pulse distortion of {}", '"35 ns"', sheet="PWD, pulse width distortion |tPHL - tPLH|"
    )
    difference = Value(
        k.magnitude("s"),
        "difference of the delays of two {}",
        '"100 ns"',
        sheet="PDD, propagation delay difference between two parts",
    )

"""The tables of a record about outputs that switch mains: the coupler's own, and the thyristor that it fires."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value, either, least, most

FROM_MEMORY = "default (from memory)"
LATER_MAINS = "for rules about mains switching that this version does not have"


class Trigger(Rows, table="parts.trigger"):
    """A phototriac's, photo-SCR's or solid-state relay's output. current_max is the largest LED trigger current."""

    current_max = Value(
        k.positive("A"), "LED trigger current of {}", '"10 mA"', sheet="IFT, largest LED trigger current"
    )
    remaining = Value(
        k.number(above=0.0, high=1.0),
        "share of its light that {} has left at the end of its life",
        "0.8",
        least(1.0 / 1.3, 1.0, FROM_MEMORY),
        sheet="share of the light at the end of life",
    )
    holding_current = Value(
        k.positive("A"), "holding current of {}", '"1 mA"', either(0.1e-3, 1e-3, 50e-3, FROM_MEMORY), sheet="IH"
    )
    surge_current = Value(
        k.positive("A"), "surge current of {}", '"1 A"', least(1.0, 1.2, FROM_MEMORY), sheet="ITSM, surge current"
    )
    blocking_voltage = Value(
        k.positive("V"), "blocking voltage of {}", '"600 V"', least(250.0, 800.0, FROM_MEMORY), sheet="VDRM"
    )
    on_voltage = Value(
        k.positive("V"), "on voltage of {}", '"3 V"', most(1.2, 3.0, FROM_MEMORY), sheet="VTM, on-state voltage"
    )
    current_rms = Value(
        k.positive("A"), "on-state current of {}", '"100 mA"', least(0.05, 0.3, FROM_MEMORY), sheet="IT(RMS)"
    )
    inhibit_voltage = Value(k.positive("V"), "inhibit voltage of {}", '"20 V"', sheet="VINH, inhibit voltage")
    leakage = Value(
        p.off_leakage('{ max = "100 uA", at = "100 degC" }'),
        "off leakage of {}",
        usual=most(0.0, 100e-6, "default 0 to 100 uA at the hottest (from memory)"),
        sheet="IDRM, off-state leakage with its temperature",
    )
    gate_resistor = Value(
        k.positive("ohm"),
        "resistor from gate to cathode of {}",
        '"27 kohm"',
        sheet="RGK, resistor from gate to cathode with which blocking voltage and dV/dt hold",
    )
    reverse_voltage_max = Value(
        k.positive("V"),
        "reverse voltage of {}",
        '"400 V"',
        sheet="VRRM, reverse voltage",
    )
    surge_time = Value(k.positive("s"), "time of the surge current of {}", '"10 us"', sheet="time of ITSM")
    slew = Value(
        k.positive("V/s"),
        "slew rate that {} stands",
        '"600 V/us"',
        least(10e6, 1000e6, FROM_MEMORY),
        sheet="dV/dt, critical rate of rise",
    )
    commutating_slew = Value(
        k.positive("V/s"),
        "commutating slew rate of {}",
        '"0.2 V/us"',
        least(0.1e6, 0.2e6, FROM_MEMORY),
        sheet="dV/dt(c), commutating",
    )
    zero_crossing = Value(k.FLAG, sheet="zero crossing circuit")


class Thyristor(Rows, table="parts.thyristor"):
    """A triac or SCR that couplers fire: an ordinary part that rules about mains switching look at."""

    gate_current = Value(
        k.positive("A"),
        "gate current of {}",
        '"35 mA"',
        most(5e-3, 50e-3, FROM_MEMORY),
        sheet="IGT, largest of all quadrants",
    )
    gate_voltage = Value(k.positive("V"), "gate voltage of {}", '"1.3 V"', most(1.0, 2.0, FROM_MEMORY), sheet="VGT")
    gate_nontrigger_voltage = Value(
        k.positive("V"),
        "gate voltage at which {} stays off",
        '"0.2 V"',
        least(0.2, 0.7, FROM_MEMORY),
        sheet="VGD",
    )
    gate_peak_current = Value(k.positive("A"), "peak gate current of {}", '"2 A"', sheet="IGM, peak gate current")
    latching_current = Value(
        k.positive("A"),
        "latching current of {}",
        '"60 mA"',
        most(5e-3, 100e-3, FROM_MEMORY),
        sheet="IL, latching current",
    )
    holding_current = Value(
        k.positive("A"), "holding current of {}", '"50 mA"', either(1e-3, 10e-3, 50e-3, FROM_MEMORY), sheet="IH"
    )
    blocking_voltage = Value(
        k.positive("V"), "blocking voltage of {}", '"800 V"', least(100.0, 800.0, FROM_MEMORY), sheet="VDRM, VRRM"
    )
    current_rms = Value(
        k.positive("A"), "on-state current of {}", '"12 A"', least(0.8, 40.0, FROM_MEMORY), sheet="IT(RMS)"
    )
    slew = Value(
        k.positive("V/s"), "slew rate that {} stands", '"500 V/us"', unread=LATER_MAINS, sheet="dV/dt, off state"
    )
    surge_current = Value(k.positive("A"), "surge current of {}", '"100 A"', sheet="ITSM, one half wave")
    commutating_slew = Value(
        k.positive("V/s"), "commutating slew rate of {}", '"10 V/us"', least(1e6, 10e6, FROM_MEMORY), sheet="dV/dt(c)"
    )
    commutating_slope = Value(
        k.positive("A/s"),
        "slope of current at which {} commutates without a snubber",
        '"8 A/ms"',
        least(1.0, 10e3, FROM_MEMORY),
        sheet="dI/dt(c) without snubber",
    )

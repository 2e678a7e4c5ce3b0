"""The tables of a part record that say what a relay is."""

from __future__ import annotations

from isolint import kinds as k
from isolint.rows import Rows, Value, least, most

LATER_CONTACT = "for a rule about the form of contacts, which this version has not"
FROM_MEMORY = "default (from memory)"


class Coil(Rows, table="parts.coil"):
    """A relay's coil at the reference temperature (25 degC unless stated)."""

    resistance = Value(k.positive("ohm"), "coil resistance of {}", '"1440 ohm"', sheet="coil resistance")
    tolerance = Value(
        k.tolerance("1", low=-1.0),
        "tolerance of the coil of {}",
        '"10 %"',
        nominal=0.0,
        sheet="tolerance of the coil resistance",
    )
    voltage = Value(k.positive("V"), "nominal voltage of {}", '"24 V"', sheet="nominal coil voltage")
    pull_in = Value(k.positive("V"), "pull-in voltage of {}", '"16.8 V"', sheet="pull-in (must operate) voltage")
    drop_out = Value(k.positive("V"), "drop-out voltage of {}", '"2.4 V"', sheet="drop-out (must release) voltage")
    voltage_max = Value(
        k.positive("V"),
        "largest voltage at the coil of {}",
        '"31 V"',
        sheet="largest permissible coil voltage at the highest ambient",
    )
    thermal_resistance = Value(
        k.positive("K/W"), "thermal resistance of the coil of {}", '"60 K/W"', sheet="thermal resistance of the coil"
    )
    inductance = Value(k.positive("H"), "inductance of {}", '"2 H"', sheet="coil inductance")
    internal_clamp = Value(k.FLAG, sheet="diode or other clamp inside")
    clamp_voltage = Value(
        k.positive("V"),
        "voltage at which the clamp inside {} conducts",
        '"1 V"',
        sheet="voltage of the clamp inside, at its highest",
    )
    temperature_coefficient = Value(
        k.quantity("1/K"),
        "temperature coefficient of the coil of {}",
        '"0.0039 1/K"',
        sheet="temperature coefficient of the coil",
    )
    temperature = Value(
        k.quantity("degC"),
        "reference temperature of the coil of {}",
        '"25 degC"',
        sheet="reference temperature of the coil data",
    )


class Contact(Rows, table="parts.contact"):
    """A relay's contact. Voltages and currents on AC are rms; without a name for a kind of load they are resistive."""

    form = Value(k.TEXT, example='"A"', unread=LATER_CONTACT, sheet="contact form")
    voltage_max = Value(
        k.positive("V"),
        "contact voltage of {}",
        '"250 V"',
        least(30.0, 400.0, FROM_MEMORY),
        sheet="maximum switching voltage, AC",
    )
    voltage_max_dc = Value(
        k.positive("V"), "contact voltage of {} on DC", '"30 V"', sheet="maximum switching voltage, DC"
    )
    current_max = Value(
        k.positive("A"), "contact current of {}", '"5 A"', least(0.5, 30.0, FROM_MEMORY), sheet="rated current"
    )
    current_max_dc = Value(
        k.positive("A"), "contact current of {} on DC", '"0.3 A"', sheet="rated current at the DC voltage of the board"
    )
    inductive_current_max = Value(
        k.positive("A"), "contact current of {} for coils", '"1.5 A"', sheet="inductive rating, AC-15 or DC-13"
    )
    motor_current_max = Value(
        k.positive("A"), "contact current of {} for motors", '"2 A"', sheet="motor rating, AC-3 or by horse-power"
    )
    lamp_current_max = Value(
        k.positive("A"), "contact current of {} for lamps", '"1 A"', sheet="lamp rating, of filament lamps"
    )
    inrush_max = Value(
        k.positive("A"), "inrush that the contact of {} makes", '"80 A"', sheet="largest inrush, making current"
    )
    current_min = Value(
        k.magnitude("A"),
        "least contact current of {}",
        '"10 mA"',
        most(1e-3, 100e-3, FROM_MEMORY),
        sheet="minimum switching load, current",
    )
    voltage_min = Value(
        k.magnitude("V"),
        "least contact voltage of {}",
        '"5 V"',
        most(0.1, 12.0, FROM_MEMORY),
        sheet="minimum switching load, voltage",
    )

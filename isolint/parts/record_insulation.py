"""What a part record states of insulation: its grade and by which standard, voltages, distances, immunity to edges."""

from __future__ import annotations

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value

GRADES = ("functional", "basic", "reinforced")


class Insulation(Rows, table="parts.insulation"):
    """Insulation ratings: withstand and working_voltage rms; repetitive_peak, transient, impulse and surge peak volts.

    The `channel_` keys hold between two output sides of one package. means: what the part is certified as.
    """

    standard = Value(k.TEXT, example='"IEC 60747-5-5"', sheet="component standard of the safety ratings")
    grade = Value(k.choice(*GRADES), sheet="insulation grade of the component")
    means = Value(
        k.choice("1 MOOP", "2 MOOP", "1 MOPP", "2 MOPP"), example='"2 MOPP"', sheet="certified means of protection"
    )
    withstand = Value(
        k.positive("V"), "withstand voltage of {}", '"5000 V"', sheet="VISO, withstand voltage, rms for one minute"
    )
    working_voltage = Value(
        k.positive("V"), "working voltage of {}", '"600 V"', sheet="VIOWM, working isolation voltage, rms"
    )
    repetitive_peak = Value(
        k.positive("V"), "repetitive peak voltage of {}", '"848 V"', sheet="VIORM, repetitive peak isolation voltage"
    )
    transient = Value(
        k.positive("V"), "transient voltage of {}", '"8000 V"', sheet="VIOTM, transient isolation voltage, peak"
    )
    impulse = Value(k.positive("V"), "impulse voltage of {}", '"7200 V"', sheet="VIMP, impulse voltage in air, peak")
    surge = Value(k.positive("V"), "surge voltage of {}", '"10 kV"', sheet="VIOSM, surge isolation voltage, peak")
    surge_is = Value(
        k.choice("test", "rating"), example='"test"', sheet="whether VIOSM is the level of the test or a rating"
    )
    creepage = Value(k.positive("m"), "creepage of {}", '"8 mm"', sheet="external creepage")
    clearance = Value(k.positive("m"), "clearance of {}", '"7 mm"', sheet="external clearance")
    material_group = Value(
        k.choice("I", "II", "IIIa", "IIIb"), example='"I"', sheet="material group of the package (by its CTI)"
    )
    cti = Value(k.number(above=0.0), "tracking index of {}", "600", sheet="CTI, comparative tracking index")
    leakage = Value(
        p.leakage('{ max = "0.1 mA", at = "264 V" }'), "leakage of {}", sheet="leakage current input to output, rms"
    )
    capacitance = Value(k.positive("F"), "capacitance across {}", '"1 nF"', sheet="capacitance input to output")
    slew_immunity = Value(
        k.positive("V/s"), "slew immunity of {}", '"10 kV/us"', sheet="CMTI, CM, common-mode transient immunity"
    )
    slew_immunity_transient = Value(
        k.positive("V/s"),
        "slew immunity of {} while it switches",
        '"10 kV/us"',
        sheet="CMTI while switching, where it is smaller",
    )
    slew_immunity_at = Value(
        k.positive("V"),
        "common-mode voltage up to which the slew immunity of {} holds",
        '"1500 V"',
        sheet="VCM of the CMTI test",
    )
    slew_immunity_current = Value(
        k.positive("A"),
        "LED current with which the slew immunity of {} holds",
        '"10 mA"',
        sheet="IF of the CMTI test, output on",
    )
    channel_grade = Value(k.choice(*GRADES), sheet="insulation grade between the outputs")
    channel_working_voltage = Value(
        k.positive("V"),
        "working voltage between outputs of {}",
        '"600 V"',
        sheet="working voltage between outputs, rms",
    )
    channel_repetitive_peak = Value(
        k.positive("V"), "repetitive peak between outputs of {}", '"848 V"', sheet="repetitive peak between outputs"
    )
    channel_transient = Value(
        k.positive("V"), "transient voltage between outputs of {}", '"4000 V"', sheet="transient between outputs, peak"
    )
    channel_withstand = Value(
        k.positive("V"), "withstand voltage between outputs of {}", '"1500 V"', sheet="withstand between outputs, rms"
    )
    channel_creepage = Value(
        k.positive("m"), "creepage between outputs of {}", '"3 mm"', sheet="creepage between outputs"
    )
    channel_clearance = Value(
        k.positive("m"), "clearance between outputs of {}", '"3 mm"', sheet="clearance between outputs"
    )

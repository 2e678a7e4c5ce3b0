"""Worked examples of gate drivers and relays, numbered as in the trade's collection; sources by key."""

from __future__ import annotations

from tests.worked.example import Example, WorkedClaim, WorkedLimit, facts

RESISTOR = "gate-resistor-low"
PULL_IN = "pull-in-low"
HEAT = "coupler-overheated"


def gate(source: str, negative: float = 0.0) -> tuple[str, str]:
    """A gate driver between VB and a lower rail with a resistor to a transistor: netlist and facts."""
    lower = "VN" if negative else "GNDB"
    netlist = (
        f"* {source} V, {negative} V\nR1 VA A 390\nXU1 A GNDA VB OUT {lower} DEMO_W\nR2 OUT G {{x}}\n"
        "R3 G GNDB 10k\nM1 D G GNDB GNDB DEMO_N\n.model DEMO_N NMOS (VTO=3 KP=10)\n"
    )
    more = '[elements."M1"]\ngate_full_on = "9 V"\ngate_voltage = ["-30 V", "30 V"]\ngate_threshold_min = "2.6 V"\n'
    if negative:
        more += f'[supplies."VN"]\nvoltage = "{negative} V"\ntolerance = "0 %"\nground = "GNDB"\n'
    return netlist, facts(5.0, source, more)


def driver(peak: str, drop: str) -> str:
    """A gate driver that is nothing but the peak current of the example and the drop at it."""
    return f"""
[parts.DEMO_W]
type = "gate-driver"
pins = ["anode", "cathode", "vcc", "out", "vee"]
source = "figures of the example"
[parts.DEMO_W.led]
forward_voltage = {{ min = "1.5 V", typ = "1.5 V", max = "1.5 V", at = "10 mA" }}
forward_current_max = "25 mA"
threshold_current = "5 mA"
[parts.DEMO_W.output]
peak_current_max = "{peak}"
peak_drop = "{drop}"
high_level = {{ min = "-2 V", at = "1 mA" }}
[parts.DEMO_W.supply]
voltage = ["10 V", "35 V"]
current = "0 A"
"""


def heats(charge: str, rate: str, source: str, negative: float = 0.0, ambient: float = 25.0) -> tuple[str, str]:
    """The same with a gate of some charge that is driven at some frequency."""
    netlist, made = gate(source, negative)
    more = f'[signals."G"]\nrate = "{rate}"\n'
    made = made.replace('[elements."M1"]\n', f'[elements."M1"]\ngate_charge = "{charge}"\n')
    return netlist, f"{made.replace('25.0 degC', f'{ambient} degC')}{more}"


def heated(current: str, power: str, more: str = "", derating: str = "") -> str:
    """A gate driver of which the example gives supply current, rating and what its output loses."""
    made = driver("10 A", "0 V").replace('current = "0 A"', f'current = "{current}"')
    rows = f'power_max = "{power}"\n{more}{derating}'
    return made.replace("[parts.DEMO_W.output]\n", f"[parts.DEMO_W.output]\n{rows}")


def relay(ohms: str, pull_in: str, coefficient: str, reference: str) -> str:
    """A relay of which the example gives resistance, pull-in voltage and coefficient; its own current warms nothing."""
    return f"""
[parts.DEMO_W]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
source = "figures of the example"
[parts.DEMO_W.coil]
resistance = "{ohms}"
pull_in = "{pull_in}"
temperature_coefficient = "{coefficient}"
temperature = "{reference}"
thermal_resistance = "1 uK/W"
"""


COIL = "* a coil at its supply\nXK1 VA GNDA VB NO DEMO_W\nR1 NO GNDB 1k\n"
TWO_RAILS, TWO_RAILS_FACTS = gate("15", -5.0)
ONE_RAIL, ONE_RAIL_FACTS = gate("18")
SMART, SMART_FACTS = gate("18", -5.0)

HOT_RAIL, HOT_RAIL_FACTS = heats("500 nC", "20 kHz", "20", ambient=85.0)
ENERGY = 'switching_energy = "{}"\n'

DRIVERS: tuple[Example, ...] = (
    Example(
        "W14",
        "gate resistor between two rails",
        "published",
        "gate-coupler-data",
        TWO_RAILS,
        TWO_RAILS_FACTS,
        driver("2.5 A", "2 V"),
        claims=(WorkedClaim(RESISTOR, "R_min", "min", 7.2),),
        limits=(WorkedLimit(RESISTOR, 7.2, "larger"),),
        values={"x": 8.0},
    ),
    Example(
        "W15",
        "a gate driver that gets too hot",
        "published",
        "gate-coupler-data",
        HOT_RAIL,
        HOT_RAIL_FACTS,
        heated("4.25 mA", "250 mW", ENERGY.format("5.2 uJ"), 'derating = { from = "70 degC", slope = "4.8 mW/K" }\n'),
        claims=(
            WorkedClaim(HEAT, "P_CC", "max", 85e-3),
            WorkedClaim(HEAT, "P_SW", "max", 104e-3),
            WorkedClaim(HEAT, "P", "max", 189e-3),
            WorkedClaim(HEAT, "P_allowed", "max", 178e-3),
        ),
        fails=(HEAT,),
        values={"x": 8.0},
    ),
    Example(
        "W16",
        "with a larger gate resistor it does not",
        "published",
        "gate-coupler-data",
        HOT_RAIL,
        HOT_RAIL_FACTS,
        heated("4.25 mA", "250 mW", ENERGY.format("4.649 uJ"), 'derating = { from = "70 degC", slope = "4.8 mW/K" }\n'),
        claims=(WorkedClaim(HEAT, "P_SW", "max", 93e-3),),
        passes=(HEAT,),
        values={"x": 10.3},
    ),
    Example(
        "W17",
        "gate resistor on one rail",
        "published",
        "gate-coupler-single-supply",
        ONE_RAIL,
        ONE_RAIL_FACTS,
        driver("2.5 A", "2.3 V"),
        claims=(WorkedClaim(RESISTOR, "R_min", "min", 6.28),),
        limits=(WorkedLimit(RESISTOR, 6.28, "larger"),),
        values={"x": 7.0},
    ),
    Example(
        "W18",
        "heat of the same",
        "published",
        "gate-coupler-single-supply",
        *heats("100 nC", "25 kHz", "18"),
        heated("2.5 mA", "500 mW", ENERGY.format("4 uJ")),
        claims=(WorkedClaim(HEAT, "P", "max", 145e-3),),
        passes=(HEAT,),
        values={"x": 7.0},
    ),
    Example(
        "W19",
        "gate resistor of a driver that senses",
        "published",
        "smart-gate-coupler-data",
        SMART,
        SMART_FACTS,
        driver("2 A", "2.5 V"),
        claims=(WorkedClaim(RESISTOR, "R_min", "min", 10.25),),
        limits=(WorkedLimit(RESISTOR, 10.25, "larger"),),
        values={"x": 10.5},
    ),
    Example(
        "W20",
        "heat of the same",
        "published",
        "smart-gate-coupler-data",
        *heats("100 nC", "15 kHz", "18", -5.0),
        heated("5.5 mA", "600 mW", ENERGY.format("6.051 uJ")),
        claims=(WorkedClaim(HEAT, "P", "max", 217.3e-3, 0.005),),
        passes=(HEAT,),
        values={"x": 10.5},
    ),
    Example(
        "W22",
        "gate resistor of an isolated driver",
        "published",
        "isolated-driver-data",
        TWO_RAILS,
        TWO_RAILS_FACTS,
        driver("2 A", "0 V"),
        claims=(WorkedClaim(RESISTOR, "R_min", "min", 10.0),),
        limits=(WorkedLimit(RESISTOR, 10.0, "larger"),),
        values={"x": 10.0},
    ),
    Example(
        "W23",
        "what its output loses of the charge",
        "published",
        "isolated-driver-data",
        *heats("650 nC", "20 kHz", "15", -5.0),
        heated("0 A", "125 mW", 'on_resistance = "4 ohm"\nsink_resistance = "2.5 ohm"\n'),
        claims=(WorkedClaim(HEAT, "P_SW", "max", 63e-3),),
        passes=(HEAT,),
        values={"x": 10.0},
    ),
    Example(
        "W32",
        "pull-in voltage of a coil of 90 ohm at 85 degC",
        "derived",
        "relay-temperature-note",
        COIL,
        facts(12.0, ambient=85.0),
        relay("90 ohm", "6.5 V", "0.003929 1/K", "20 degC"),
        claims=(WorkedClaim(PULL_IN, "V_needed", "min", 8.16),),
        passes=(PULL_IN,),
    ),
    Example(
        "W33",
        "a relay at 85 degC works on 20 V",
        "published",
        "relay-pull-in-note",
        COIL,
        facts(20.0, ambient=85.0),
        relay("320 ohm", "16 V", "0.003853 1/K", "25 degC"),
        claims=(WorkedClaim(PULL_IN, "V_needed", "min", 19.7),),
        passes=(PULL_IN,),
    ),
    Example(
        "W33b",
        "at 100 degC it does not",
        "published",
        "relay-pull-in-note",
        COIL,
        facts(20.0, ambient=100.0),
        relay("320 ohm", "16 V", "0.003853 1/K", "25 degC"),
        claims=(WorkedClaim(PULL_IN, "V_needed", "min", 20.6),),
        fails=(PULL_IN,),
    ),
    Example(
        "W33c",
        "at -25 degC less is needed",
        "published",
        "relay-pull-in-note",
        COIL,
        facts(20.0, ambient=-25.0),
        relay("320 ohm", "16 V", "0.003853 1/K", "25 degC"),
        claims=(WorkedClaim(PULL_IN, "V_needed", "min", 12.9),),
        passes=(PULL_IN,),
    ),
    Example(
        "W34",
        "a coil that is 100 K warmer",
        "published",
        "relay-coil-notes",
        COIL,
        facts(24.0, ambient=125.0),
        relay("320 ohm", "13 V", "0.003853 1/K", "25 degC"),
        claims=(WorkedClaim(PULL_IN, "V_needed", "min", 18.0),),
        passes=(PULL_IN,),
    ),
)

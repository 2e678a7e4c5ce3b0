"""Worked examples of loops, output tables and field inputs, numbered as in the trade's collection."""

from __future__ import annotations

from tests.worked.example import (
    LOADED,
    LOGIC_LOAD,
    Example,
    WorkedClaim,
    WorkedLimit,
    facts,
    follower,
    led_with,
    logic,
    reads,
    transistor,
)

LOGIC = "XU1 A GNDA VB OUT GNDB DEMO_W\n"
UNDER = "led-underdriven"
MARGIN = "transfer-margin-low"
DARK = "dark-current-high"
LEVEL = "output-level-invalid"
FLAT_OVER_VOLTAGE = 'versus_voltage = [["1 mV", 1.0], ["5 V", 1.0], ["60 V", 1.0]]'


def logic_led(resistor: str) -> str:
    """VA, a resistor and the LED of a logic output coupler."""
    return led_with(resistor, LOGIC, LOGIC_LOAD)


CIRCUITS: tuple[Example, ...] = (
    Example(
        "W36",
        "current loop of musical instruments",
        "published",
        "midi-loop",
        "* three resistors of 220 ohm\nR1 VA N1 220\nR2 N1 A 220\nXU1 A K OUT GNDB DEMO_W\nR3 K GNDA 220\n" + LOADED,
        facts(5.0, more=reads()),
        transistor(1.7, "5 mA"),
        claims=(
            WorkedClaim(MARGIN, "IF", "nominal", 5e-3, 0.1),
            WorkedClaim(MARGIN, "IF", "nominal", 5.0e-3, 0.01, "derived"),
        ),
    ),
    Example(
        "W37",
        "the same loop at 3.3 V",
        "derived",
        "midi-loop-3v3",
        "* 33 and 10 ohm at the source\nR1 VA N1 33\nR2 N1 A 220\nXU1 A K OUT GNDB DEMO_W\nR3 K GNDA 10\n" + LOADED,
        facts(3.3, more=reads()),
        transistor(1.7, "6.1 mA"),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 6.1e-3, 0.05),),
    ),
    Example(
        "W38",
        "differential line into 220 ohm",
        "published",
        "navigation-manual",
        led_with("220"),
        facts(5.0, more=reads()),
        transistor(1.25, "17 mA"),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 17e-3, 0.05),),
    ),
    *(
        Example(
            f"W39{letter}",
            f"output table, {ohms:g} ohm at {volts:g} V",
            "published",
            "camera-gpio",
            led_with("380", load=f"R2 VB OUT {ohms:g}\n"),
            facts(5.0, load=volts, more=reads(low_max=level)),
            transistor(1.2, "10 mA", "100 %"),
            claims=(WorkedClaim(MARGIN, "IC_required", "max", amps, 0.03),),
        )
        for letter, ohms, volts, level, amps in (
            ("a", 200, 3.3, 1.44, 9.3e-3),
            ("b", 1000, 5.0, 0.88, 4.1e-3),
            ("c", 2000, 12.0, 1.1, 5.4e-3),
            ("d", 2400, 12.0, 0.98, 4.5e-3),
            ("e", 4700, 24.0, 0.75, 4.9e-3),
        )
    ),
    *(
        Example(
            f"W39{letter} into TTL",
            f"low level of {level:g} V against 0.8 V",
            "published",
            "camera-gpio",
            led_with("380", load=f"R2 VB OUT {ohms:g}\n"),
            facts(5.0, load=volts, more=reads(low_max=0.8)),
            transistor(
                1.2, "10 mA", "100 %", saturation=f'{{ max = "{level} V", at = "{amps} A", drive = "10 mA" }}'
            ).replace(FLAT_OVER_VOLTAGE, ""),
            fails=() if level < 0.8 else (LEVEL,),
            passes=(LEVEL,) if level < 0.8 else (),
        )
        for letter, ohms, volts, level, amps in (
            ("a", 200, 3.3, 1.44, 9.3e-3),
            ("b", 1000, 5.0, 0.88, 4.1e-3),
            ("e", 4700, 24.0, 0.75, 4.9e-3),
        )
    ),
    Example(
        "W39 high",
        "high level of 23.75 V with 4.7 kohm",
        "published",
        "camera-gpio",
        led_with("380", load="R2 VB OUT 4.7k\n"),
        facts(5.0, load=24.0, more=reads(high_min=20.0)),
        transistor(1.2, "10 mA").replace('max = "1 pA", at = "25 degC"', 'max = "53 uA", at = "25 degC"'),
        claims=(WorkedClaim(DARK, "off level", "min", 23.75, 0.001),),
        passes=(DARK,),
    ),
    Example(
        "W40",
        "isolated output with a pull-down of 180 ohm",
        "published",
        "isolated-output-note",
        follower("180", "100"),
        facts(5.0, more=reads(low_max=0.8, high_min=2.0, low_current="2 mA")),
        transistor(1.2, "16 mA", "50 %"),
        claims=(WorkedClaim(DARK, "off level", "max", 0.36, 0.02),),
        passes=(DARK,),
    ),
    Example(
        "W41",
        "small-signal margin of the ratio",
        "published",
        "transfer-margin-question",
        led_with("1.5k", load="R2 VB OUT 30k\n"),
        facts(3.3, load=3.3, more=reads(low_max=0.01)),
        transistor(1.2, "1.4 mA", "34 %", "1 mA"),
        claims=(
            WorkedClaim(MARGIN, "IF", "nominal", 1.4e-3, 0.02),
            WorkedClaim(MARGIN, "IC_available", "min", 476e-6, 0.02),
            WorkedClaim(MARGIN, "IC_required", "max", 110e-6, 0.02),
            WorkedClaim(MARGIN, "IC_available / IC_required", "min", 4.3, 0.02),
        ),
    ),
    Example(
        "W41b",
        "the same with 0.4 V lost in the driver",
        "published",
        "transfer-margin-question",
        led_with("1.5k", "XU1 A DRV OUT GNDB DEMO_W\n", "R2 VB OUT 30k\n"),
        facts(
            3.3,
            load=3.3,
            more=reads(low_max=0.01)
            + """
[outputs."DRV"]
supply = "VA"
drive = "open-drain"
low = { max = "0.4 V", at = "4 mA" }
sink_max = "8 mA"
""",
        ),
        transistor(1.2, "1.1 mA", "34 %", "1 mA"),
        claims=(WorkedClaim(MARGIN, "IF", "min", 1.1e-3, 0.04),),
    ),
    Example(
        "W42",
        "coupler with 15 % into 1 kohm",
        "published",
        "poor-ratio-question",
        led_with("{x}", load="R2 VB OUT 1k\n"),
        facts(12.0, load=3.3, more=reads(low_max=0.01)),
        transistor(1.7, "22 mA", "15 %"),
        limits=(WorkedLimit(MARGIN, 468.0, "smaller"),),
        claims=(WorkedClaim(MARGIN, "IC_required", "max", 3.3e-3), WorkedClaim(MARGIN, "IF", "nominal", 22e-3)),
        values={"x": 468.0},
    ),
    Example(
        "W43",
        "wide-range input, smallest pull-up",
        "published",
        "wide-input-question",
        led_with("33k", load="R2 VB OUT {x}\n"),
        facts(35.0, load=5.0, more=reads(low_max=0.01)),
        transistor(1.65, "1 mA", "22 %", "1 mA"),
        limits=(WorkedLimit(MARGIN, 22.7e3, "larger", 0.02),),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 1e-3, 0.02),),
        values={"x": 22.7e3},
    ),
    Example(
        "W43b",
        "wide-range input, 100 kohm at rest",
        "published",
        "wide-input-question",
        led_with("10k", load="R2 VB OUT 100k\n"),
        facts(12.0, load=5.0, more=reads(high_min=4.0, high_current="1 uA")),
        transistor(1.65, "1 mA", "22 %", "1 mA").replace('max = "1 pA"', 'max = "50 nA"'),
        claims=(WorkedClaim(DARK, "off level", "min", 4.9, 0.002), WorkedClaim(MARGIN, "IF", "nominal", 1e-3, 0.04)),
        passes=(DARK,),
    ),
    Example(
        "W44",
        "mains detector, as printed with the rms voltage",
        "published",
        "mains-detector-question",
        "* two resistors of 68 kohm, 5 %\nR1 VA N1 68k\nR2 N1 A 68k\nXU1 A GNDA OUT GNDB DEMO_W\nR3 VB OUT {x}\n.end\n",
        facts(
            (200.0, 250.0),
            load=1.01,
            more=reads(low_max=0.01, high_min=0.5)
            + '[elements."R1"]\ntolerance = "5 %"\n[elements."R2"]\ntolerance = "5 %"\n',
        ),
        transistor(1.65, "1.39 mA", "34 %", "1 mA"),
        claims=(
            WorkedClaim(MARGIN, "IF", "min", 1.39e-3, 0.02),
            WorkedClaim(MARGIN, "IC_available", "min", 0.47e-3, 0.02),
        ),
        limits=(WorkedLimit(MARGIN, 2130.0, "larger", 0.02),),
        values={"x": 2130.0},
    ),
    Example(
        "W45",
        "120 V detector at its peak",
        "published",
        "mains-120-answer",
        "* series diode\nR1 VA N1 82k\nD1 N1 A DREC\nXU1 A GNDA OUT GNDB DEMO_W\n.model DREC D(IS=5n N=1.8)\n" + LOADED,
        facts(170.0, more=reads()),
        transistor(1.1, "2 mA", "100 %", "1 mA"),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 2.06e-3, 0.03),),
    ),
    Example(
        "W46",
        "24 V input with a sixfold spread of the ratio",
        "published",
        "spread-input-question",
        led_with("200k", load="R2 VB OUT {x}\n"),
        facts(24.0, load=3.3, more=reads(low_max=0.1)),
        transistor(1.2, "0.114 mA", "100 %", "1 mA"),
        limits=(WorkedLimit(MARGIN, 28.07e3, "larger"),),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 0.114e-3),),
        values={"x": 28.07e3},
    ),
    Example(
        "W46b",
        "resistor for the 0.12 mA of the same input",
        "published",
        "spread-input-question",
        led_with("{x}"),
        facts(24.0, more=reads()),
        transistor(1.2, "0.12 mA", led='recommended_current_min = "0.12 mA"'),
        limits=(WorkedLimit(UNDER, 190e3, "smaller"),),
        values={"x": 190e3},
    ),
    Example(
        "W47",
        "24 V input for 10 mA",
        "published",
        "plc-input-question",
        led_with("{x}"),
        facts(24.0, more=reads()),
        transistor(1.2, "10 mA", led='recommended_current_min = "10 mA"'),
        limits=(WorkedLimit(UNDER, 2280.0, "smaller"),),
        values={"x": 2280.0},
    ),
    Example(
        "W47b",
        "the same with 2.2 kohm fitted",
        "published",
        "plc-input-question",
        led_with("2.2k"),
        facts(24.0, more=reads()),
        transistor(1.2, "10.4 mA"),
        claims=(WorkedClaim(MARGIN, "IF", "nominal", 10.4e-3),),
    ),
    Example(
        "W47c",
        "24 V input for 15 mA",
        "published",
        "plc-input-page",
        led_with("{x}"),
        facts(24.0, more=reads()),
        transistor(1.2, "15 mA", led='recommended_current_min = "15 mA"'),
        limits=(WorkedLimit(UNDER, 1520.0, "smaller"),),
        values={"x": 1520.0},
    ),
    *(
        Example(
            number,
            title,
            "derived",
            source,
            led_with(ohms, "XU1 A DRV VB OUT GNDB DEMO_W\n", LOGIC_LOAD),
            facts(
                5.0,
                more=reads()
                + """
[outputs."DRV"]
supply = "VA"
drive = "open-drain"
low = { max = "0.4 V", at = "16 mA" }
sink_max = "20 mA"
""",
            ),
            logic(1.5, at, "7 mA", "20 mA", "GaAsP"),
            claims=(WorkedClaim(UNDER, "IF", "min", amps),),
            passes=(UNDER,),
        )
        for number, title, source, ohms, at, amps in (
            ("W53", "power-module coupler from an open drain", "module-coupler-data", "310", "10 mA", 10.0e-3),
            ("W54", "gate coupler from an open collector", "gate-coupler-data", "270", "11.5 mA", 11.5e-3),
        )
    ),
    Example(
        "W62",
        "10 mA at the peak of 230 V",
        "published",
        "mains-detector-discussion",
        led_with("{x}"),
        facts(325.0, more=reads()),
        transistor(2.0, "10 mA", led='recommended_current_min = "10 mA"'),
        limits=(WorkedLimit(UNDER, 32.3e3, "smaller"),),
        values={"x": 32.3e3},
    ),
    Example(
        "W63",
        "75 ohm for 50 mA",
        "published",
        "kit-manual",
        led_with("75"),
        facts(5.0, more=reads()),
        transistor(1.25, "50 mA"),
        claims=(
            WorkedClaim("led-overdriven", "IF", "max", 50e-3),
            WorkedClaim("led-overdriven", "IF_limit / IF_max", "min", 1.2, 0.01, "derived"),
        ),
        passes=("led-overdriven",),
    ),
    Example(
        "W63b",
        "the same on a supply of 5 V and 5 %, limit derated",
        "derived",
        "kit-manual",
        led_with("75"),
        facts((4.75, 5.25), more=reads(), ambient=40.0),
        transistor(1.25, "50 mA", led='derating = { from = "25 degC", slope = "0.8 mA/K" }'),
        fails=("led-overdriven",),
    ),
    Example(
        "practice",
        "5 mA from 5 V through 760 ohm with 30 % in hand",
        "derived",
        "",
        led_with("{x}", LOGIC, LOGIC_LOAD).replace("VA A", "PORT A"),
        facts(
            5.0,
            more=reads()
            + """
[outputs."PORT"]
supply = "VA"
high = { min = "4.9 V", at = "5 mA" }
low = { max = "0.1 V", at = "5 mA" }
source_max = "6.5 mA"
""",
        ).replace("drive_headroom = 1.0", ""),
        logic(1.2, "5 mA", "3 mA"),
        limits=(WorkedLimit("drive-headroom-low", 760.0, "larger", required=1.3),),
        values={"x": 760.0},
    ),
)

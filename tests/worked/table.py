"""Worked examples of resistors, ratios and ageing, numbered as in the trade's collection; sources by key."""

from __future__ import annotations

from tests.worked.example import (
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


PARTS: tuple[Example, ...] = (
    Example(
        "W01",
        "relay LED resistor",
        "published",
        "relay-input-resistor",
        logic_led("{x}"),
        facts(4.5, more=reads()),
        logic(1.6, "5 mA", "5 mA"),
        limits=(WorkedLimit(UNDER, 580.0, "smaller"),),
        claims=(WorkedClaim(UNDER, "IF", "min", 5e-3),),
        values={"x": 580.0},
    ),
    Example(
        "W02",
        "560 ohm from a 5 V gate, -40 to 85 degC",
        "band",
        "relay-input-note",
        led_with("560", LOGIC, LOGIC_LOAD).replace("VA A", "GATE A"),
        facts(
            (4.75, 5.25),
            more=reads()
            + """
[outputs."GATE"]
supply = "VA"
high = { min = "4.5 V", at = "10 mA" }
low = { max = "0.4 V", at = "10 mA" }
source_max = "20 mA"
high_max = "5.25 V"
[elements."R1"]
tolerance = "10 %"
tempco = "300 ppm/K"
""",
        ).replace('["25.0 degC", "25.0 degC"]', '["-40 degC", "85 degC"]'),
        logic(1.2, "5 mA", "3 mA").replace('min = "1.2 V"', 'min = "1.1 V"').replace('max = "1.2 V"', 'max = "1.4 V"'),
        claims=(
            WorkedClaim(UNDER, "IF", "min", (4.0e-3, 5.5e-3)),
            WorkedClaim(UNDER, "IF", "nominal", (5e-3, 9e-3)),
            WorkedClaim(UNDER, "IF", "max", (7e-3, 9e-3)),
        ),
        passes=(UNDER,),
    ),
    Example(
        "W03",
        "resistor chosen without the LED's voltage",
        "derived",
        "relay-input-blog",
        logic_led("{x}"),
        facts(5.0, more=reads()),
        logic(1.25, "0.9 mA", "0.9 mA"),
        claims=(WorkedClaim(UNDER, "IF", "min", 0.75e-3),),
        values={"x": 5000.0},
        fails=(UNDER,),
        limits=(WorkedLimit(UNDER, 3.75 / 0.9e-3, "smaller"),),
    ),
    Example(
        "W04",
        "output current of a rank of 100 to 300 %",
        "published",
        "photocoupler-course",
        led_with("{x}"),
        facts(5.0, load=5.0, more=reads()),
        transistor(1.2, "10 mA", ("100 %", "300 %")),
        claims=(WorkedClaim(MARGIN, "IC_available", "min", 10e-3), WorkedClaim(MARGIN, "IF", "nominal", 10e-3)),
        values={"x": 380.0},
    ),
    Example(
        "W05",
        "200 % at 5 mA",
        "published",
        "photocoupler-course",
        led_with("{x}"),
        facts(5.0, more=reads()),
        transistor(1.2, "5 mA", "200 %"),
        claims=(WorkedClaim(MARGIN, "IC_available", "min", 10e-3),),
        values={"x": 760.0},
    ),
    Example(
        "W05b",
        "200 % at 10 mA",
        "published",
        "photocoupler-course",
        led_with("{x}"),
        facts(5.0, more=reads()),
        transistor(1.2, "10 mA", "200 %"),
        claims=(WorkedClaim(MARGIN, "IC_available", "min", 20e-3),),
        values={"x": 380.0},
    ),
    Example(
        "W06",
        "largest pull-down of an emitter follower into TTL",
        "published",
        "coupler-application-examples",
        follower("{x}", "100"),
        facts(5.0, more=reads(low_max=0.8, high_min=2.0, low_current="1.6 mA")),
        transistor(1.2, "16 mA", "50 %"),
        limits=(WorkedLimit(DARK, 500.0, "smaller"),),
        values={"x": 500.0},
        claims=(WorkedClaim(DARK, "off level", "max", 0.8),),
    ),
    Example(
        "W07",
        "smallest pull-down of the same follower",
        "derived",
        "coupler-application-examples",
        follower("{x}", "237.5"),
        facts(5.0, more=reads(low_max=0.8, high_min=2.0, low_current="1.6 mA")),
        transistor(1.2, "16 mA", "50 %"),
        limits=(WorkedLimit(MARGIN, 250.0, "larger"),),
        values={"x": 250.0},
        claims=(WorkedClaim(MARGIN, "IC_available", "min", 8e-3),),
    ),
    Example(
        "W08",
        "1 Mb/s coupler into one TTL load and 5.6 kohm",
        "derived",
        "fast-coupler-table",
        led_with("{x}", load="R2 VB OUT 5.6k\n"),
        facts(5.0, load=5.5, more=reads(low_max=0.4, low_current="1.6 mA")),
        transistor(1.5, "16 mA", "19 %"),
        claims=(
            WorkedClaim(MARGIN, "IC_available", "min", 3.04e-3),
            WorkedClaim(MARGIN, "IC_required", "max", 2.51e-3),
            WorkedClaim(MARGIN, "IC_available / IC_required", "min", 1.21, 0.02),
        ),
        values={"x": 3.5 / 16e-3},
        passes=(MARGIN,),
    ),
    Example(
        "W08b",
        "the same over temperature, 15 %",
        "derived",
        "fast-coupler-table",
        led_with("{x}", load="R2 VB OUT 5.6k\n"),
        facts(5.0, load=5.0, more=reads(low_max=0.4, low_current="1.6 mA")),
        transistor(1.5, "16 mA", "15 %"),
        claims=(WorkedClaim(MARGIN, "IC_available / IC_required", "min", 1.00, 0.02),),
        values={"x": 3.5 / 16e-3},
    ),
    Example(
        "W09",
        "high-gain coupler, one TTL load and 2.2 kohm",
        "derived",
        "high-gain-coupler-table",
        led_with("{x}", load="R2 VB OUT 2.2k\n"),
        facts(5.0, load=5.0, more=reads(low_max=0.4, low_current="1.6 mA")),
        transistor(1.4, "1.6 mA", "300 %"),
        claims=(
            WorkedClaim(MARGIN, "IC_available", "min", 4.8e-3),
            WorkedClaim(MARGIN, "IC_required", "max", 3.69e-3),
            WorkedClaim(MARGIN, "IC_available / IC_required", "min", 1.30, 0.02),
        ),
        values={"x": 3.6 / 1.6e-3},
        passes=(MARGIN,),
    ),
    Example(
        "W09b",
        "the same at 5.5 V",
        "derived",
        "high-gain-coupler-table",
        led_with("{x}", load="R2 VB OUT 2.2k\n"),
        facts(5.0, load=5.5, more=reads(low_max=0.4, low_current="1.6 mA")),
        transistor(1.4, "1.6 mA", "300 %"),
        claims=(WorkedClaim(MARGIN, "IC_available / IC_required", "min", 1.23, 0.02),),
        values={"x": 3.6 / 1.6e-3},
    ),
    Example(
        "W10",
        "low-current coupler, 400 % at 0.5 mA",
        "derived",
        "high-gain-coupler-table",
        led_with("{x}"),
        facts(5.0, more=reads()),
        transistor(1.4, "0.5 mA", "400 %", "0.5 mA"),
        claims=(WorkedClaim(MARGIN, "IC_available", "min", 2.0e-3),),
        values={"x": 7200.0},
    ),
    Example(
        "W11",
        "resistor of an emulated LED for 1 mA",
        "derived",
        "emulator-data",
        led_with("{x}"),
        facts(5.0, more=reads()),
        transistor(1.2, "1 mA", led='recommended_current_min = "1 mA"'),
        limits=(WorkedLimit(UNDER, 3800.0, "smaller"),),
        values={"x": 3800.0},
    ),
    Example(
        "W12",
        "light left after accelerated life",
        "published",
        "ageing-white-paper",
        led_with("{x}"),
        facts(5.0, more=reads(), ambient=60.0).replace('life = "0 h"', 'life = "184767 h"'),
        transistor(
            1.2 + 0.0525,
            "5 mA",
            ageing='{ loss = 0.008, time = "1000 h", current = "20 mA", temperature = "125 degC" }',
        ),
        claims=(WorkedClaim(MARGIN, "D_t", "min", 0.992, 0.001), WorkedClaim(MARGIN, "IF", "nominal", 5e-3, 0.001)),
        values={"x": 760.0},
    ),
    Example(
        "W13",
        "thirty field years at 80 degC and 5 mA",
        "band",
        "ageing-white-paper",
        led_with("{x}"),
        facts(5.0, more=reads(), ambient=80.0).replace('life = "0 h"', 'life = "30 year"'),
        transistor(
            1.2 + 0.0825,
            "5 mA",
            ageing='{ loss = 0.008, time = "1000 h", current = "20 mA", temperature = "125 degC" }',
        ),
        claims=(WorkedClaim(MARGIN, "D_t", "min", (0.9, 1.0)),),
        values={"x": 760.0},
    ),
)

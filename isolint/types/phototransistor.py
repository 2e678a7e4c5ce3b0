"""Phototransistor: an LED lights a transistor, whose current follows the LED's by a transfer ratio."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import TRANSISTOR
from isolint.types.form.port_groups import transistor_groups
from isolint.types.form.questions import CHANNEL, DARK, EDGES, LED, STRESS
from isolint.types.form.usual_values import GAAS, LOW_CURRENT, Family, over_current, over_temperature
from isolint.units import Interval

TYPE = PartType(
    "phototransistor",
    20,
    inputs=("led",),
    state="stated edges",
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        TRANSISTOR,
        groups=transistor_groups,
        usual=(
            ("anode", "cathode", "emitter", "collector"),
            ("anode", "cathode", "emitter", "collector", "base"),
            ("anode", "cathode", "nc", "emitter", "collector", "base"),
            ("anode1", "cathode1", "anode2", "cathode2", "emitter2", "collector2", "emitter1", "collector1"),
        ),
        ends=(("cathode", "anode"), ("emitter", "collector")),
    ),
    output=TypeOutput("transistor", ends=("collector", "emitter"), interrupts="one way"),
    generic=Family(
        ratio=Interval(0.5, 6.0),
        ratio_current=5e-3,
        forward_current_max=Interval(50e-3, 60e-3),
        reverse_voltage_max=Interval(5.0, 6.0),
        voltage_max=Interval(30.0, 80.0),
        output_reverse_voltage_max=Interval(6.0, 7.0),
        current_max=Interval(50e-3, 50e-3),
        saturation_voltage=Interval(0.2, 0.4),
        dark_current=Interval(0.0, 100e-9),
        edge=Interval(2e-6, 18e-6),
        base_capacitance=Interval(1e-9, 4e-9),
        storage=Interval(2e-6, 17e-6),
        leds={"GaAs": GAAS, "AlGaAs": LOW_CURRENT},
        versus_current={
            "GaAs": over_current(
                [(0.1, 0.10), (0.5, 0.40), (1, 0.60), (2, 0.80), (5, 1.0), (10, 1.10), (20, 1.05), (50, 0.75)]
            ),
            "AlGaAs": over_current(
                [(0.1, 0.45), (0.5, 0.80), (1, 0.92), (2, 0.98), (5, 1.0), (10, 0.95), (20, 0.85), (50, 0.60)]
            ),
        },
        versus_temperature={
            "GaAs": over_temperature(0.80, 0.90, 1.00, 1.00, 0.90, 0.80, 0.70, 0.60),
            "AlGaAs": over_temperature(0.95, 1.00, 1.02, 1.00, 0.94, 0.88, 0.83, 0.78),
        },
    ),
    questions=(
        *CHANNEL,
        *EDGES,
        *STRESS,
        *DARK,
        *LED,
        "transfer-margin-low",
        "output-level-invalid",
        "slow-edge",
        "base-resistor-low",
        "coil-clamp-missing",
        "output-chopped",
        "default-state-wrong",
    ),
    blind=("stability of a loop and poles of the coupler, where it feeds back",),
    signs=Signs(
        makes=(
            "lit transistor",
            "current from collector to emitter",
            "current of a transistor's ratio",
        ),
        perhaps={
            "strong lit transistor": 2,
            "unlit base": 1,
            "based transistor": 1,
            "saturating current": 1,
            "bent resistance": 2,
            "plain switch": 2,
            "bare current": 1,
            "current beside a supply": 1,
            "switch beside a supply": 3,
        },
        words=("phototransistor",),
        telling=frozenset({"anode", "cathode", "collector", "emitter", "base"}),
        guessed_for=2,
    ),
)

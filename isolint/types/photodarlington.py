"""Photodarlington: a phototransistor that drives a second one; much ratio, slow, and never fully on."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import TRANSISTOR
from isolint.types.form.port_groups import transistor_groups
from isolint.types.form.questions import CHANNEL, DARK, EDGES, LED, STRESS
from isolint.types.form.usual_values import GAAS, GAASP, Family, over_current, over_temperature
from isolint.units import Interval

TYPE = PartType(
    "photodarlington",
    10,
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
    output=TypeOutput("transistor", ends=("collector", "emitter"), junctions=2, least_volts=0.7, interrupts="one way"),
    generic=Family(
        forward_current_max=Interval(20e-3, 60e-3),
        reverse_voltage_max=Interval(5.0, 6.0),
        voltage_max=Interval(30.0, 80.0),
        output_reverse_voltage_max=Interval(5.0, 7.0),
        current_max=Interval(80e-3, 150e-3),
        saturation_voltage=Interval(0.8, 1.0),
        dark_current=Interval(0.0, 1e-6),
        edge=Interval(20e-6, 300e-6),
        base_capacitance=Interval(10e-9, 100e-9),
        storage=Interval(5e-6, 200e-6),
        leds={"GaAs": GAAS, "GaAsP": GAASP},
        versus_current={"GaAsP": over_current([(0.1, 0.6), (0.5, 1.1), (1, 1.1), (2, 0.95), (5, 0.6), (10, 0.35)])},
        versus_temperature={"GaAsP": over_temperature(0.55, 0.70, 0.85, 1.00, 1.10, 1.15, 1.18, 1.20)},
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
    signs=Signs(
        makes=("lit darlington",),
        perhaps={"strong lit transistor": 1, "unlit base": 2, "based transistor": 2, "current beside a supply": 2},
        words=("photodarlington", "darlington"),
        telling=frozenset({"anode", "cathode", "collector", "emitter", "base"}),
    ),
)

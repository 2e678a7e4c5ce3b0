"""Twelve models of couplers, one for each way of light and output, with closed forms for what they give.

All are invented. The forms are those of the ideal junction and the transport model, written down by hand here and not
taken from the code that they are held against.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

VT = 1.380649e-23 / 1.602176634e-19 * 300.15
"""Thermal voltage at 27 degC."""


class PortModel(NamedTuple):
    """A subcircuit with the ports A K C E (and V for a supply), and its closed forms.

    forward: volts at an LED current. ratio: output over LED current at an LED current and 5 V. saturated: volts at an
    output current and an LED current. dark: amperes at 10 V.
    """

    name: str
    text: str
    forward: Callable[[float], float]
    ratio: Callable[[float], float]
    saturated: Callable[[float, float], float] | None = None
    dark: float = 0.0
    ports: str = "A K C E"


def junction(saturation: float, emission: float, ohms: float = 0.0) -> Callable[[float], float]:
    """The voltage of a diode with its resistance."""
    return lambda amps: emission * VT * math.log(amps / saturation + 1.0) + ohms * amps


def saturated(light: float, gain: float, reverse: float = 1.0) -> Callable[[float, float], float]:
    """Volts across a transistor whose base gets light times the LED current from its own collector."""

    def volts(amps: float, drive: float) -> float:
        base = light * drive
        collector = amps - base
        back = (base - collector / gain) / ((1.0 + 1.0 / reverse) / gain + 1.0 / reverse)
        return VT * math.log((collector + back * (1.0 + 1.0 / reverse)) / back)

    return volts


def solved(function: Callable[[float], float], low: float, high: float) -> float:
    """The zero of a rising function between two ends."""
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (low, middle) if function(middle) > 0.0 else (middle, high)
    return (low + high) / 2.0


def _resistor_fed(amps: float) -> float:
    """Light as a voltage over 10 kohm into a base; IS 1e-14, gain 200."""
    volts = solved(lambda vbe: 1e-14 / 200 * math.expm1(vbe / VT) - (200.0 * amps - vbe) / 10e3, 0.0, 1.0)
    return 200.0 * (200.0 * amps - volts) / 10e3 / amps


def _early(amps: float) -> float:
    """Light from node 0 into a base, gain 150, Early voltage 60 V, IS 1e-15."""
    base = 3e-3 * amps
    volts = VT * math.log(150.0 * base / 1e-15 + 1.0)
    return 150.0 * base * (1.0 + (5.0 - volts) / 60.0) / amps


def _high_current(amps: float) -> float:
    """Gain 400, knee at 20 mA."""
    base = 2e-3 * amps
    forward = 400.0 * base
    return (forward / ((1.0 + math.sqrt(1.0 + 4.0 * forward / 20e-3)) / 2.0) + base) / amps


def _table(amps: float) -> float:
    """0.2 mA per mA up to 5 mA of LED current and half of that beyond, in units of 1 %, gain 120."""
    light = 2e-3 * min(amps, 5e-3) + 1e-3 * max(amps - 5e-3, 0.0)
    return light * 121.0 / amps


def _shunted(amps: float) -> float:
    """Darlington with 20 kohm across the second base, gains 100 and 80, IS 1e-14."""
    lit = 1e-3 * amps * 101.0
    volts = solved(lambda v: 1e-14 / 80 * math.expm1(v / VT) + v / 20e3 - lit, 0.0, 1.0)
    base = lit - volts / 20e3
    return (lit + 80.0 * base) / amps


MODELS = (
    PortModel(
        "DEMO_SENSED",
        "D1 A N LED\nV1 N K 0\nF1 C B V1 3m\nQ1 C B E QN\n"
        ".model LED D(IS=1e-15 N=2 RS=4)\n.model QN NPN(IS=1e-14 BF=300 BR=2)",
        junction(1e-15, 2.0, 4.0),
        lambda amps: 3e-3 * 301.0,
        saturated(3e-3, 300.0, 2.0),
    ),
    PortModel(
        "DEMO_NODE",
        "D1 A N LED\nV1 N K 0\nH1 P 0 V1 500\nR1 P Q 1k\nR2 Q 0 1k\nC1 Q 0 1n\nG1 C B Q 0 4u\n"
        "Q1 C B M QA\nQ2 C M E QB\n"
        ".model LED D(IS=1e-14 N=2)\n.model QA NPN(BF=100)\n.model QB NPN(BF=60)",
        junction(1e-14, 2.0),
        lambda amps: 250.0 * 4e-6 * 101.0 * 61.0,
    ),
    PortModel(
        "DEMO_TABLE",
        "D1 A N LED\nV1 N K 0\nE1 P 0 VALUE={table(I(V1), 0, 0, 5m, 10m, 105m, 110m)}\n"
        "B1 C B I=V(P)*1e-3\nQ1 C B E QN\n.model LED D(IS=1e-18 N=1.6)\n.model QN NPN(BF=120)",
        junction(1e-18, 1.6),
        lambda amps: _table(amps),
        saturated(2e-3 * 6.5 / 8.0, 120.0),
    ),
    PortModel(
        "DEMO_POLY",
        "D1 A N LED\nV1 N K 0\nF1 C B POLY(1) V1 0 1m 50m\nQ1 C B E QN\n"
        ".model LED D(IS=1e-16 N=1.9 RS=1)\n.model QN NPN(BF=250)",
        junction(1e-16, 1.9, 1.0),
        lambda amps: (1e-3 + 50e-3 * amps) * 251.0,
        saturated(1e-3 + 50e-3 * 8e-3, 250.0),
    ),
    PortModel(
        "DEMO_VOLTAGE",
        "D1 A N LED\nV1 N K 0\nE1 P E VALUE={200*I(V1)}\nR1 P B 10k\nQ1 C B E QN\n"
        ".model LED D(IS=1e-15 N=2)\n.model QN NPN(IS=1e-14 BF=200)",
        junction(1e-15, 2.0),
        _resistor_fed,
    ),
    PortModel(
        "DEMO_EARLY",
        "D1 A N LED\nV1 N K 0\nF1 0 B V1 3m\nQ1 C B E QN\n"
        ".model LED D(IS=1e-20 N=1.2)\n.model QN NPN(IS=1e-15 BF=150 VAF=60)",
        junction(1e-20, 1.2),
        _early,
    ),
    PortModel(
        "DEMO_SERIES",
        "D1 A N LED\nR1 N K 5\nG1 C B N K 0.4m\nQ1 C B E QN\nRL C E 200meg\n"
        ".model LED D(IS=1e-15 N=2)\n.model QN NPN(BF=300)",
        junction(1e-15, 2.0, 5.0),
        lambda amps: 5.0 * 0.4e-3 * 301.0 + 5.0 / 200e6 / amps,
        saturated(2e-3, 300.0),
        10.0 / 200e6,
    ),
    PortModel(
        "DEMO_LIMITED",
        ".param half={CTR/2}\n.func light(x) {limit(x*half*2, 0, 0.12m)}\nD1 A N LED\nV1 N K 0\n"
        "G1 C B VALUE={light(I(V1))/100}\nQ1 C B E QN\n.model LED D(IS=1e-15 N=2)\n.model QN NPN(BF=99)",
        junction(1e-15, 2.0),
        lambda amps: min(0.02 * amps, 0.12e-3) / 100.0 * 100.0 / amps,
        saturated(0.12e-3 / 100.0 / 8e-3, 99.0),
        ports="A K C E PARAMS: CTR=0.02",
    ),
    PortModel(
        "DEMO_KNEE",
        "D1 A N LED\nV1 N K 0\nB1 C B I={I(V1)*2m}\nQ1 C B E QN\n"
        ".model LED D(IS=1e-15 N=2)\n.model QN NPN(BF=400 IKF=20m)",
        junction(1e-15, 2.0),
        _high_current,
    ),
    PortModel(
        "DEMO_SUPPLIED",
        "D1 A N LED\nV1 N K 0\nF1 V B V1 5m\nQ1 V B M QA\nRBE M E 20k\nQ2 C M E QB\n"
        ".model LED D(IS=1e-15 N=2)\n.model QA NPN(IS=1e-14 BF=100)\n.model QB NPN(IS=1e-14 BF=80)",
        junction(1e-15, 2.0),
        lambda amps: _supplied(amps),
        ports="A K C E V",
    ),
    PortModel(
        "DEMO_SHUNTED",
        "X1 A K S DEMO_EMITTER\nG1 C B S 0 1m\nQ1 C B M QA\nRBE M E 20k\nQ2 C M E QB\n.model QA NPN(IS=1e-14 BF=100)\n"
        ".model QB NPN(IS=1e-14 BF=80)\n.subckt DEMO_EMITTER P M S\nD1 P N LED\nV1 N M 0\nF1 0 S V1 1\nRS S 0 1\n"
        ".model LED D(IS=1e-15 N=2)\n.ends",
        junction(1e-15, 2.0),
        _shunted,
    ),
    PortModel(
        "DEMO_LEAKY",
        "D1 A N LED\nV1 N K 0\nF1 C B V1 1m\nQ1 C B E QN\nI1 C E DC 30n\n"
        ".model LED D(IS=1e-15 N=2)\n.model QN NPN(BF=500 BR=4)",
        junction(1e-15, 2.0),
        lambda amps: 1e-3 * 501.0 + 30e-9 / amps,
        saturated(1e-3, 500.0, 4.0),
        30e-9,
    ),
)


def _supplied(amps: float) -> float:
    """Photodiode and first transistor at the supply, 20 kohm across the second base; gains 100 and 80, IS 1e-14."""
    lit = 5e-3 * amps * 101.0
    volts = solved(lambda v: 1e-14 / 80 * math.expm1(v / VT) + v / 20e3 - lit, 0.0, 1.5)
    return 80.0 * (lit - volts / 20e3) / amps


def library() -> str:
    """All models as one file."""
    texts = (f".subckt {model.name} {model.ports}\n{model.text}\n.ends\n" for model in MODELS)
    return "* couplers, invented\n" + "\n".join(texts)

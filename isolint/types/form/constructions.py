"""How a part may be made inside, as recognition finds it in a readable body: words by which types are known."""

from __future__ import annotations

from typing import Literal

Make = Literal[
    "latch",
    "two latches",
    "resistance",
    "bent resistance",
    "saturating current",
    "switched transistors",
    "lit transistor",
    "strong lit transistor",
    "lit darlington",
    "unlit base",
    "based transistor",
    "switch that holds",
    "switch that holds between terminals",
    "switch held both ways",
    "switch held one way",
    "plain switch",
    "pumped stack",
    "current from collector to emitter",
    "bare current",
    "current of a transistor's ratio",
    "two currents",
    "push-pull",
    "push-pull into resistors",
    "push-pull into small resistors",
    "pull-down",
    "pull-down switch",
    "switch beside a supply",
    "controlled voltage",
    "level through a resistor",
    "current beside a supply",
    "coupled coils",
    "coils with active parts",
    "coil and contact",
    "power both ways",
    "isolated converter",
    "two supplied sides",
]
"""Of an output that an LED lights, by its devices between the ports; the last six of parts without an LED.

latch: pnp and npn, the collector of each at the base of the other. resistance: a current that follows its own voltage;
bent or saturating where it does so partly or not. switched transistors: one or two field-effect transistors across the
ports. lit transistor: a current of the light at its base; strong above 800 %; unlit where something stands between;
based where its base is a pin as well. switch held: once lit it stays on while its own current flows, whichever way it
flows or one way only. pumped stack: a current into diodes of 1.5 V and more. current of a transistor's ratio: of 10 to
800 % of an LED's, which no photodiode gives. push-pull: an output between an upper and a lower device, with resistors
of 20 ohm and less at it, or larger ones. level: a voltage that is one of two, through more than 20 ohm. beside a
supply: between two of three ports.
"""

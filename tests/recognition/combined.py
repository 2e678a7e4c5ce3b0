"""Couplers put together from the ways in which people write an LED, carry its light, and write an output.

Every combination is one definition with numbers for ports, so that only its structure tells what it is.
"""

from __future__ import annotations

from itertools import product

from tests.recognition.labelled import LabelledDefinition

LEDS = {
    "diode and meter": "D1 {a} N DLED\nVS N {k} 0",
    "meter first": "VS {a} N 0\nD1 N {k} DLED",
    "meter turned": "D1 {a} N DLED\nVS {k} N 0",
    "resistor too": "R1 {a} M1 2\nD1 M1 N DLED\nVS N {k} 0\nRP {a} {k} 200k",
    "held voltage": "R1 {a} M1 5\nV1 M1 M2 1.1\nD1 M2 N DSHARP\nVS N {k} 0",
    "two in series": "D1 {a} M1 DHALF\nD2 M1 N DHALF\nVS N {k} 0\nC1 {a} {k} 20p",
    "by a law": "B1 {a} N I=1e-14*(exp(V({a},N)/0.052)-1)\nVS N {k} 0",
    "clamped": "D1 {a} N DLED\nVS N {k} 0\nD9 {k} {a} DCLAMP",
}  # fmt: skip
"""The current through VS, or the diode, is the light."""

CARRIERS = {
    "F": "F9 {from_} {to} VS {gain}",
    "H and delay": "H9 P 0 VS 1k\nR9 P Q 1k\nC9 Q 0 1n\nG9 {from_} {to} Q 0 {micro}",
    "H and line": "H9 P 0 VS 1k\nR8 P L 50\nT9 L 0 Q 0 Z0=50 TD=1u\nR9 Q 0 50\nG9 {from_} {to} Q 0 {micro}",
    "law": "B9 {from_} {to} I=I(VS)*{gain}",
    "value": "G9 {from_} {to} VALUE={{{gain}*I(VS)}}",
    "table": "E9 P 0 TABLE {{I(VS)}} = (0,0) (1m,1) (10m,10) (50m,40)\nG9 {from_} {to} P 0 {micro}",
    "F into a resistor": "F8 0 P VS 1\nR8 P 0 1k\nC8 P 0 1n\nG9 {from_} {to} P 0 {micro}",
    "polynomial": "H9 P 0 VS 1k\nG9 {from_} {to} POLY(1) P 0 0 {micro}",
    "two stages": "E8 P 0 VALUE={{1000*I(VS)}}\nE7 Q 0 P 0 1\nG9 {from_} {to} VALUE={{V(Q)*{micro}}}",
    "meter in the light": "F8 0 P VS 1\nVM P 0 0\nF9 {from_} {to} VM {gain}",
}  # fmt: skip

OUTPUTS: dict[str, tuple[str, str, tuple[str, str], str, float]] = {
    "transistor": ("phototransistor", "c=collector e=emitter", ("{c}", "B"), "Q1 {c} B {e} QN", 2e-3),
    "from node 0": ("phototransistor", "c=collector e=emitter", ("0", "B"), "Q1 {c} B {e} QN\nR4 B {e} 10meg", 2e-3),
    "base pin": ("phototransistor", "c=collector b=base e=emitter", ("{c}", "{b}"), "Q1 {c} {b} {e} QN", 2e-3),
    "base through a resistor": (
        "phototransistor", "c=collector b=base e=emitter", ("{c}", "B"), "R5 B {b} 20\nQ1 {c} B {e} QN", 2e-3,
    ),
    "photodiode supply": (
        "phototransistor", "v=vcc c=collector e=emitter b=base", ("{v}", "{b}"), "D5 {b} {v} DCLAMP\nQ1 {c} {b} {e} QN",
        4e-3,
    ),
    "darlington": (
        "photodarlington", "c=collector e=emitter", ("{c}", "B"), "Q1 {c} B M QN\nQ2 {c} M {e} QN\nR6 M {e} 50k", 1e-3,
    ),
    "split darlington": (
        "photodarlington", "v=vcc c=collector e=emitter b=base", ("{v}", "B"), "Q1 {v} B {b} QN\nQ2 {c} {b} {e} QN",
        4e-3,
    ),
    "thyristor": (
        "photo-scr", "p=scra n=scrk", ("{p}", "G"), "Q1 H G {p} QP\nQ2 G H {n} QN\nF7 0 H VS 1m\nR6 H {n} 20k", 1e-3,
    ),
    "photovoltaic": ("photovoltaic", "p=pv+ n=pv-", ("{n}", "{p}"), "D6 {p} {n} DSTACK\nR6 {p} {n} 10meg", 1e-3),
    "two transistors of a switch": (
        "mosfet-output", "x=drain1 y=drain2", ("S", "G"),
        "R6 G S 1meg\nD6 G S DSTACK\nM1 {x} G S S NM\nM2 {y} G S S NM", 1e-3,
    ),
    "one transistor of a switch": (
        "mosfet-output", "x=drain y=source", ("{y}", "G"), "R6 G {y} 1meg\nM1 {x} G {y} {y} NM", 1e-3,
    ),
    "open collector": (
        "logic-output", "v=vcc o=out g=gnd", ("{v}", "B"), "R6 B {g} 5k\nR7 {v} {g} 3k\nQ1 {o} B {g} QN", 1e-2,
    ),
    "driver": (
        "gate-driver", "v=vcc o=out g=gnd", ("0", "S"),
        "R6 S 0 1k\nE6 T {g} VALUE={{V({v},{g})*V(S)}}\nQ1 {v} T U QN\nQ2 {g} T U QP\nR7 U {o} 2", 1e-2,
    ),
    "totem pole": (
        "logic-output", "v=vcc o=out g=gnd", ("0", "S"),
        "R6 S 0 1k\nE6 T {g} VALUE={{V({v},{g})*(1-V(S))}}\nM1 U T {v} {v} PM\nM2 U T {g} {g} NM\nR7 U {o} 80", 1e-2,
    ),
    "photoresistor": (
        "photoresistor", "x=r1 y=r2", ("0", "S"), "R6 S 0 1k\nG6 {x} {y} VALUE={{V({x},{y})*V(S)*1m}}", 1e-2,
    ),
    "linear": (
        "linear", "p=pda1 n=pdk1 x=pda2 y=pdk2", ("{n}", "{p}"),
        "D6 {p} {n} DCLAMP\nF7 {y} {x} VS {sign}5m\nD7 {x} {y} DCLAMP", 5e-3,
    ),
}  # fmt: skip
"""Type, pins, where the light's current flows, the rest, and the light's current over that of the LED."""

MODELS = (
    ".model DLED D(IS=1e-15 N=2)\n.model DHALF D(IS=1e-13 N=1.1)\n.model DSHARP D(IS=1e-12 N=0.1)\n.model DCLAMP D\n"
    ".model DSTACK D(IS=1e-13 N=16)\n.model QN NPN(BF=60)\n.model QP PNP(BF=3)\n.model NM NMOS(VTO=2)\n"
    ".model PM PMOS(VTO=-2)\n"
)


def combinations() -> list[LabelledDefinition]:
    """Every LED with every carrier and every output, the ports in an order of their own."""
    found = []
    for number, (led, carrier, output) in enumerate(product(LEDS, CARRIERS, OUTPUTS)):
        kind, roles, (from_, to), rest, gain = OUTPUTS[output]
        pins = {"a": "anode", "k": "cathode"} | dict(role.split("=") for role in roles.split())
        order = list(pins)
        turn = number % len(order)
        order = order[turn:] + order[:turn]
        if number % 2:
            order.reverse()
        ports = {key: str(at) for at, key in enumerate(order, start=1)}
        sign = "-" if led == "meter turned" else ""
        flow = {"from_": from_.format(**ports), "to": to.format(**ports)}
        light = CARRIERS[carrier].format(**flow, gain=f"{sign}{gain:g}", micro=f"{sign}{gain / 1000:g}")
        body = "\n".join((LEDS[led].format(**ports), light, rest.format(**ports, sign=sign)))
        name = f"DEMO_CB{number:04d}"
        text = f".subckt {name} {' '.join(ports.values())}\n{body}\n{MODELS}.ends\n"
        told = tuple(pins[key] for key in order)
        found.append(LabelledDefinition(name, kind, told, tuple(ports.values()), text, f"{led}, {carrier}, {output}"))
    return found

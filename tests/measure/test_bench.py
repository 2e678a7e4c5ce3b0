"""Single devices on a bench, against what they are by definition."""

from __future__ import annotations

import math

import pytest

from isolint.measure.bench import Bench
from isolint.measure.body import flatten
from isolint.measure.make import Unmeasurable
from isolint.netlist import read
from isolint.source import MemoryTree
from tests.measure.models import VT, solved


def bench(text: str, held: dict[str, float], pushed: dict[str, float] | None = None) -> tuple[Bench, dict[str, int]]:
    """A bench of the subcircuit with the ports A B C and the given cards; third, its nets by port."""
    cards = read(MemoryTree({"demo.lib": f"* invented\n.subckt DEMO A B C\n{text}\n.ends\n".encode()}), "demo.lib")
    scope = cards.find_subcircuit("DEMO", 0)
    assert scope is not None
    body = flatten(cards, scope)
    assert body is not None
    nets = dict(zip("ABC", body.ports, strict=True))
    made = Bench(body, {nets[n]: v for n, v in held.items()}, {nets[n]: v for n, v in (pushed or {}).items()})
    return made, nets


def drawn(text: str, volts: float = 5.0, **others: float) -> float:
    """What port A takes at some volts, the other ports at theirs (0 V unless given)."""
    made, nets = bench(text, {"A": volts, "B": 0.0, "C": 0.0, **others})
    made.solve()
    return made.taken(nets["A"])


MODELS = """
.model DZ D(IS=1e-14 BV=5.1 IBV=1m)
.model DL D(Ron=2 Roff=1e9 Vfwd=0.5)
.model DD D(IS=1e-12 N=1.5)
.model DK D(IS=1e-12 IKF=1m)
.model DR D(IS=1e-20 ISR=1e-10 NR=2)
.model QP PNP(IS=1e-14 BF=50)
.model JN NJF(VTO=-2 BETA=1m)
.model MN NMOS(VTO=1 KP=2m LAMBDA=0.01 W=10u L=10u)
.model MP PMOS(VTO=-1 KP=2m W=10u L=10u)
.model VD VDMOS(VTO=2 KP=4)
.model SH SW(VT=2 VH=0.5 RON=10 ROFF=1e9)
.model SG VSWITCH(VON=3 VOFF=1 RON=10 ROFF=1e7)
.model WI ISWITCH(ION=2m IOFF=1m RON=10 ROFF=1e7)
.model WH CSW(IT=1m IH=0 RON=10 ROFF=1e9)
"""
FORWARD = 1.5 * VT * math.log(1e-3 / 1e-12 + 1.0)


@pytest.mark.parametrize(
    ("what", "cards", "amps"),
    [
        ("a resistor", "R1 A B 1k", 5e-3),
        ("two in parallel", "R1 A B 1k m=2", 10e-3),
        ("a large one", "R1 A B 100meg", 50e-9),
        ("a coil with its resistance", "L1 A N 1m rser=100\nR1 N B 900", 5e-3),
        ("a capacitor with its leak", "C1 A B 1n rpar=1meg\nR1 A B 10k", 505e-6),
        ("a line", "T1 A 0 N 0 Z0=50 TD=1n\nR1 N B 1k", 5e-3),
        ("a source that moves, where it begins", "V1 A N PULSE(1 4 0 1n 1n 1u 2u)\nR1 N B 1k", 4e-3),
        ("a current of its own", "I1 A B 2m", 2e-3),
        ("a zener", "D1 B N DZ\nR1 A N 1", None),
        ("straight pieces", "D1 A N DL\nR1 N B 898", 4.5 / 900),
        ("a resistance by law", "R1 A B R={1k+V(C)*0}", 5e-3),
        ("a resistance by light", "B1 A B R=1k+1e3*V(C)", 5e-3),
        ("a polynomial of two", "G1 A B POLY(2) A B C B 1m 0.2m 5m 0.1m", 1e-3 + 1e-3 + 2.5e-3),
        ("one of three powers", "G1 A B POLY(1) A B 0 0 0 8u", 1e-3),
        ("a table on the card", "G1 A B TABLE {V(A,B)} = (0,0) (4,2m) (6,6m)", 4e-3),
        ("a choice", "B1 A B I=if(V(A)>4, 1m, 2m)", 1e-3),
        ("a change at rest", "B1 A B I=1m+1u*ddt(V(A))", 1e-3),
        ("a gain at rest", "G1 A B LAPLACE {V(A)} = {1m/(1+1u*s)}", 5e-3),
        ("a pair named twice", "B1 A B I=1m*V(A,B)*V(A)/V(A,0)", 5e-3),
        ("the current of a resistor", "R1 A N 1k\nR2 N B 1k\nF1 A B R1 1", 5e-3),
        ("the current of a diode", "R1 A N 1k\nD1 N B DD\nB1 A B I=I(D1)", None),
        ("a pnp", "Q1 B N A QP\nRB N B 43k", None),
        ("a junction gate, on", "J1 A B B JN", 1e-3 * 4.0),
        ("an n-channel", "M1 A C B B MN", 1e-3 * 1.0 * 1.05),
        ("a p-channel", "M1 B C A A MP", 1e-3 * 2.0**2),
        ("a power one", "R1 A N 1k\nM1 N C B VD", 0.0),
        ("a switch, off", "S1 A B C 0 SH", 5e-9),
        ("a gradual switch half way", "S1 A B C 0 SG", 5.0 / 10e3),
        ("a switch by current", "V1 C N 0\nR1 N 0 1k\nW1 A B V1 WI", 5.0 / 10.0),
        ("a switch by current with one threshold", "V1 C N 0\nR1 N 0 1k\nW1 A B V1 WH", 0.5),
        ("many in parallel", "R1 A N 1k\nD1 N B DD m=4", None),
    ],
)
def test_a_device_takes_what_it_is_made_to(what: str, cards: str, amps: float | None) -> None:
    others = {"a polynomial of two": 5.0, "an n-channel": 2.0, "a p-channel": 2.0, "a power one": 1.0}
    controls = {"a switch, off": 2.4, "a gradual switch half way": 2.0}
    control = others.get(what, controls.get(what, 2.5 if what.startswith("a switch by") else 0.0))
    exact = {
        "a zener": solved(lambda i: i - (5.0 - 5.1 - VT * math.log(i / 1e-3)) / 1.0, 1e-9, 1.0),
        "the current of a diode": 2 * solved(lambda i: 1.5 * VT * math.log(i / 1e-12 + 1) + 1e3 * i - 5.0, 0.0, 1.0),
        "a pnp": 51 / 50 * _pnp(),
        "many in parallel": solved(lambda i: 1.5 * VT * math.log(i / 4e-12 + 1) + 1e3 * i - 5.0, 0.0, 1.0),
    }
    wanted = exact[what] if amps is None else amps
    if what == "a polynomial of two":
        wanted = 1e-3 + 0.2e-3 * 5.0 + 5e-3 * 5.0 + 0.1e-3 * 25.0
    assert drawn(cards + MODELS, C=control) == pytest.approx(wanted, rel=1e-5, abs=1e-13)


def _pnp() -> float:
    volts = solved(lambda v: 1e-14 / 50 * math.expm1(v / VT) - (5.0 - v) / 43e3, 0.0, 1.0)
    return 50 * (5.0 - volts) / 43e3


def test_high_current_and_recombination_bend_a_diode() -> None:
    made, nets = bench("D1 A B DK" + MODELS, {"B": 0.0, "C": 0.0}, {"A": 1e-3})
    made.solve()
    forward = solved(lambda i: i * math.sqrt(1e-3 / (1e-3 + i)) - 1e-3, 0.0, 1.0)
    assert made.voltage(nets["A"]) == pytest.approx(VT * math.log(forward / 1e-12 + 1.0), rel=1e-6)
    made, nets = bench("D1 A B DR" + MODELS, {"B": 0.0, "C": 0.0}, {"A": 1e-6})
    made.solve()
    volts = made.voltage(nets["A"])
    wide = ((1.0 - volts) ** 2 + 0.005) ** 0.25
    recombined, rest = 1e-10 * math.expm1(volts / (2 * VT)) * wide, 1e-20 * math.expm1(volts / VT)
    assert recombined + rest == pytest.approx(1e-6, rel=1e-6)


def test_a_switch_keeps_its_state_between_its_thresholds() -> None:
    made, nets = bench("S1 A B C 0 SH" + MODELS, {"A": 5.0, "B": 0.0, "C": 0.0})
    seen = []
    for volts in (2.4, 2.6, 1.6, 1.4):
        made.hold(nets["C"], volts)
        made.solve()
        seen.append(made.taken(nets["A"]) > 0.1)
    assert seen == [False, True, True, False]


def test_a_diode_written_as_an_exponential_law_settles() -> None:
    made, nets = bench("B1 A B I=1e-15*(exp(V(A,B)/0.05)-1)", {"B": 0.0, "C": 0.0}, {"A": 5e-3})
    made.solve()
    assert made.voltage(nets["A"]) == pytest.approx(0.05 * math.log(5e-3 / 1e-15 + 1.0))


def test_a_loop_that_feeds_back_settles() -> None:
    # A source that follows a net through a diode and takes its own output back in part.
    text = "E1 N 0 VALUE={tanh(10*(V(C)-V(M)))*5}\nD1 N M DD\nR1 M 0 1k\nRA A M 1meg" + MODELS
    made, nets = bench(text, {"B": 0.0, "C": 1.0, "A": 0.0})
    made.solve()
    middle = 1.0 - math.atanh(_loop() / 5.0) / 10.0
    assert -made.taken(nets["A"]) == pytest.approx(middle / 1e6, rel=1e-3)


def _loop() -> float:
    """Volts of the source: 1.5 VT ln(i / IS + 1) more than what is left of 1 V."""

    def left(source: float) -> float:
        middle = 1.0 - math.atanh(source / 5.0) / 10.0
        return source - middle - 1.5 * VT * math.log(middle / (1e3 * 1e6 / (1e3 + 1e6)) / 1e-12 + 1.0)

    return solved(left, 0.1, 4.99)


@pytest.mark.parametrize(
    ("cards", "told"),
    [
        ("A1 A 0 0 0 0 0 B 0 BUF", "A1 (demo.lib:3) is no element that is computed here"),
        ("R1 A B {nowhere}", "R1 (demo.lib:3) has no value"),
        ("D1 A B DNONE", "D1 (demo.lib:3) names the model DNONE, which is not there"),
        ("M1 A C B B MX\n.model MX NMOS(LEVEL=8)", "M1 (demo.lib:3) has a model of type nmos that"),
        ("B1 A B I=I(Q9)*2", "B1 (demo.lib:3) listens to something that is not there: `I(Q9)*2`"),
        ("B1 A B I=wobble(V(A))", "B1 (demo.lib:3) has a law that has no value: `wobble(V(A))`"),
        ("B1 A B I=idt(V(A))", "B1 (demo.lib:3) has a law with idt, which has no value at rest"),
        ("G1 A B FREQ {V(A)} = (0,0,0)", "G1 (demo.lib:3) has a law that"),
        ("V1 A N 1\nV2 A N 2\nR1 N B 1k", "no solution that was found"),
    ],
)  # fmt: skip
def test_what_can_not_be_computed_is_named_with_its_card(cards: str, told: str) -> None:
    with pytest.raises(Unmeasurable) as error:
        drawn(cards)
    assert told in error.value.text


def test_what_does_not_bear_on_a_port_does_not_stand_in_its_way() -> None:
    made, nets = bench("R1 A B 1k\nA1 C 0 0 0 0 0 N 0 BUF\nR2 N C 1k", {"A": 5.0, "B": 0.0})
    made.solve()
    assert made.taken(nets["A"]) == pytest.approx(5e-3)

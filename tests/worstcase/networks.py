"""Random drive networks: an output or a supply, switches, resistors, LEDs and what protects them."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from isolint.worstcase import network as n
from isolint.worstcase.devices import Bipolar, Diode, LedCurve, Mos, Switch


@dataclass
class NetworkBuilder:
    """Collects nodes and branches; names are given in order."""

    rng: random.Random
    nodes: list[str] = field(default_factory=lambda: ["0"])
    branches: list[n.Branch] = field(default_factory=list)

    def node(self, name: str = "N") -> int:
        self.nodes.append(f"{name}{len(self.nodes)}")
        return len(self.nodes) - 1

    def name(self, letter: str) -> str:
        return f"{letter}{len(self.branches) + 1}"

    def resistor(self, a: int, b: int, low: float, high: float) -> None:
        self.branches.append(n.Resistor(self.name("R"), a, b, low * (high / low) ** self.rng.random()))

    def supply(self, volts: float) -> int:
        node = self.node("V")
        self.branches.append(n.VoltageSource(self.name("V"), node, 0, volts))
        return node

    def port(self, high: bool, supply: float) -> int:
        node = self.node("P")
        at, far = 4e-3, 8e-3
        drop = self.rng.uniform(0.2, 0.6)
        if high:
            table = ((0.0, supply - drop), (at, supply - drop), (far, supply - 2 * drop))
        else:
            table = ((-far, 2 * drop), (-at, drop), (0.0, drop))
        self.branches.append(n.Port(self.name("U"), node, 0, table))
        return node

    def led(self, anode: int, cathode: int) -> None:
        spread = self.rng.choice(["plain", "floor", "lowest"])
        volts, at = self.rng.uniform(1.1, 1.9), self.rng.choice([1e-3, 5e-3, 10e-3, 20e-3])
        emissions, ohms = (1.5, 2.0), (1.0, 5.0)
        k = self.rng.choice([-1.5e-3, -1.9e-3])
        if spread == "floor":
            curve = LedCurve.highest(volts, at, emissions, ohms, k)
        elif spread == "lowest":
            curve = LedCurve.lowest(volts, at, emissions, ohms, k)
        else:
            curve = LedCurve(volts, at, self.rng.uniform(*emissions), self.rng.uniform(*ohms), k)
        self.branches.append(n.LedBranch(self.name("LED"), anode, cathode, curve, self.rng.choice([0.0, 0.0, 47.0])))

    def diode(self, anode: int, cathode: int, breakdown: float | None = None) -> None:
        device = Diode(
            IS=10 ** self.rng.uniform(-14, -8),
            N=self.rng.uniform(1.0, 1.9),
            RS=self.rng.choice([0.0, 0.5, 5.0]),
            BV=breakdown,
        )
        self.branches.append(n.DiodeBranch(self.name("D"), anode, cathode, device))

    def bipolar(self, collector: int, base: int, emitter: int, polarity: int) -> None:
        device = Bipolar(
            IS=10 ** self.rng.uniform(-15, -13),
            BF=self.rng.uniform(50, 400),
            BR=self.rng.uniform(0.5, 6),
            NF=self.rng.uniform(0.98, 1.05),
            polarity=polarity,
            RB=self.rng.choice([0.0, 10.0]),
            RC=self.rng.choice([0.0, 1.0]),
            XTB=self.rng.choice([0.0, 1.5]),
        )
        self.branches.append(n.BipolarBranch(self.name("Q"), collector, base, emitter, device))

    def mos(self, drain: int, gate: int, source: int, polarity: int) -> None:
        device = Mos(
            VTO=polarity * self.rng.uniform(0.7, 2.0),
            KP=10 ** self.rng.uniform(-2.5, 0.5),
            LAMBDA=self.rng.choice([0.0, 0.02]),
            polarity=polarity,
            body=self.rng.choice([None, Diode()]),
            RDS=self.rng.choice([None, 1e7]),
        )
        self.branches.append(n.MosBranch(self.name("M"), drain, gate, source, device))

    def done(self) -> n.BranchNetwork:
        return n.BranchNetwork(tuple(self.nodes), tuple(self.branches))


def drive_network(seed: int) -> n.BranchNetwork:
    """One random drive network; seeds give all kinds of switch, chain and protection in turn and in any mixture."""
    rng = random.Random(seed)
    b = NetworkBuilder(rng)
    logic = rng.choice([3.3, 5.0])
    volts = rng.choice([3.3, 5.0, 12.0, 24.0])
    high = rng.random() < 0.6
    kind = KINDS[seed % len(KINDS)]
    if kind == "port":
        top, bottom = (b.port(high, logic), 0) if rng.random() < 0.5 else (b.supply(logic), b.port(not high, logic))
        volts = logic
    else:
        top, bottom = b.supply(volts), 0
    if kind in ("npn", "emitter resistor", "darlington", "shunt"):
        base, source = b.node(), b.port(high, logic)
        b.resistor(source, base, 1e3, 22e3)
        if rng.random() < 0.5:
            b.resistor(base, 0, 10e3, 100e3)
        if kind == "npn":
            bottom = b.node()
            b.bipolar(bottom, base, 0, 1)
        elif kind == "emitter resistor":
            bottom, emitter = b.node(), b.node()
            b.bipolar(bottom, base, emitter, 1)
            b.resistor(emitter, 0, 100, 1e3)
        elif kind == "darlington":
            bottom, middle = b.node(), b.node()
            b.bipolar(bottom, base, middle, 1)
            b.bipolar(bottom, middle, 0, 1)
            b.resistor(middle, 0, 1e3, 1e4)
    elif kind == "pnp":
        base, switched, gate = b.node(), b.node(), b.node()
        b.resistor(base, gate, 1e3, 22e3)
        b.resistor(top, base, 4.7e3, 47e3)
        b.branches.append(n.SwitchBranch(b.name("S"), gate, 0, Switch(RON=50.0, ROFF=1e9, on=high)))
        b.bipolar(switched, base, top, -1)
        top = switched
    elif kind == "nmos":
        gate, bottom, source = b.node(), b.node(), b.port(high, logic)
        b.resistor(source, gate, 100, 1e4)
        b.resistor(gate, 0, 1e4, 1e6)
        b.mos(bottom, gate, 0, 1)
    elif kind == "pmos":
        gate, switched = b.node(), b.node()
        b.resistor(top, gate, 1e4, 1e5)
        gate_switch = n.SwitchBranch(b.name("S"), gate, 0, Switch(RON=10.0, ROFF=1e9, on=high))
        b.branches.append(gate_switch)
        b.mos(switched, gate, top, -1)
        top = switched
    elif kind == "current source":
        inner = b.node()
        b.branches.append(n.CurrentSource(b.name("I"), top, inner, rng.uniform(1e-4, 2e-2)))
        top = inner
    at = _chain(b, top, bottom, volts, kind)
    if kind == "shunt":
        b.bipolar(at, base, 0, 1)
    return b.done()


KINDS = ("port", "npn", "pnp", "nmos", "pmos", "emitter resistor", "darlington", "shunt", "current source")


def _chain(b: NetworkBuilder, top: int, bottom: int, volts: float, kind: str) -> int:
    """Resistors in either leg, one to three LEDs, what lies across them; the node of the first anode."""
    rng = b.rng
    anode = b.node()
    b.resistor(top, anode, 50 * volts, 400 * volts)
    first = anode
    if volts >= 12 and rng.random() < 0.3:
        after = b.node()
        b.diode(after, anode, breakdown=rng.uniform(4.0, 9.0))
        anode = after
        if kind == "shunt":
            first = after
    elif rng.random() < 0.2:
        after = b.node()
        b.diode(anode, after)
        anode = after
    count = rng.choice([1, 1, 1, 2, 3])
    node = anode
    for i in range(count):
        last = i == count - 1
        below = bottom if last and rng.random() < 0.5 else b.node()
        b.led(node, below)
        if rng.random() < 0.3:
            b.resistor(node, below, 470, 1e4)
        if rng.random() < 0.3:
            b.diode(below, node)
        if last and below != bottom:
            b.resistor(below, bottom, 50, 500)
        node = below
    if rng.random() < 0.2:
        # A second LED on the same resistor: what it takes the first one lacks.
        b.led(anode, bottom)
    return first

"""A small network as a frozen value: nodes, branches, and a text dump.

Node 0 is the reference. Branches carry a name and node indices; current directions stand with each class. A
network knows nothing of netlists: whoever builds one says in the names what its reader should recognise.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.errors import IsolintError
from isolint.worstcase.devices import Bipolar, Diode, LedCurve, Mos, Switch


class NotSolvable(IsolintError):
    """A network without a (single, finite) operating point, in circuit words."""


class Unlimited(NotSolvable):
    """Nothing limits the current through `branch`."""

    def __init__(self, text: str, branch: str) -> None:
        super().__init__(text)
        self.branch = branch


class Resistor(NamedTuple):
    """Current counts a to b. 0 ohm is a wire."""

    name: str
    a: int
    b: int
    ohms: float


class VoltageSource(NamedTuple):
    """Holds a at `volts` above b; its current counts as delivered out of a."""

    name: str
    a: int
    b: int
    volts: float


class CurrentSource(NamedTuple):
    """Drives `amps` from a through itself to b."""

    name: str
    a: int
    b: int
    amps: float


class LedBranch(NamedTuple):
    """Current counts anode to cathode and never flows backwards (but for the solver's leakage of 1 pA/V)."""

    name: str
    anode: int
    cathode: int
    curve: LedCurve
    series_ohms: float = 0.0


class DiodeBranch(NamedTuple):
    """Current counts anode to cathode."""

    name: str
    anode: int
    cathode: int
    device: Diode


class BipolarBranch(NamedTuple):
    """Currents count into the pins `collector`, `base`, `emitter`."""

    name: str
    collector: int
    base: int
    emitter: int
    device: Bipolar


class MosBranch(NamedTuple):
    """Currents count into the pins `drain`, `gate`, `source`; the bulk is tied to the source."""

    name: str
    drain: int
    gate: int
    source: int
    device: Mos


class SwitchBranch(NamedTuple):
    """Current counts a to b."""

    name: str
    a: int
    b: int
    device: Switch


class Port(NamedTuple):
    """A logic output: its voltage against `ref` is a falling piecewise-linear function of the current it delivers.

    table: breakpoints (amps delivered out of a, volts), amps strictly rising, volts never rising. The end segments
    go on beyond the ends; one breakpoint is a constant voltage. A sinking output has negative amps.
    """

    name: str
    a: int
    ref: int
    table: tuple[tuple[float, float], ...]


class Blocked(NamedTuple):
    """Something that touches nodes and carries no direct current: a capacitor, an input, an output in high impedance.

    It changes no voltage; error texts name it.
    """

    name: str
    nodes: tuple[int, ...]


Branch = (
    Resistor
    | VoltageSource
    | CurrentSource
    | LedBranch
    | DiodeBranch
    | BipolarBranch
    | MosBranch
    | SwitchBranch
    | Port
    | Blocked
)


def nodes_of(branch: Branch) -> tuple[int, ...]:
    """The nodes that a branch touches, in pin order."""
    match branch:
        case Resistor() | VoltageSource() | CurrentSource() | SwitchBranch():
            return (branch.a, branch.b)
        case LedBranch() | DiodeBranch():
            return (branch.anode, branch.cathode)
        case BipolarBranch():
            return (branch.collector, branch.base, branch.emitter)
        case MosBranch():
            return (branch.drain, branch.gate, branch.source)
        case Port():
            return (branch.a, branch.ref)
        case Blocked():
            return branch.nodes


def is_wire(branch: Branch) -> bool:
    """Whether the branch fixes the voltage between its nodes."""
    if isinstance(branch, Resistor):
        return branch.ohms == 0.0
    return isinstance(branch, VoltageSource) or (isinstance(branch, SwitchBranch) and branch.device.ohms == 0.0)


def inner_ohms(branch: Branch) -> tuple[float | None, ...]:
    """The resistance inside a transistor before each pin in pin order, None where the pin is the intrinsic one."""
    values: tuple[float, ...]
    if isinstance(branch, BipolarBranch):
        values = (branch.device.RC, branch.device.RB, branch.device.RE)
    elif isinstance(branch, MosBranch):
        values = (branch.device.RD, 0.0, branch.device.RS)
    else:
        values = ()
    return tuple(value or None for value in values)


def shape_of(branch: Branch) -> tuple[object, ...]:
    """What a branch has in common with those that may stand in its place in a solved network."""
    if isinstance(branch, (Resistor, SwitchBranch)):
        return (type(branch), branch.a, branch.b, is_wire(branch))
    if isinstance(branch, (BipolarBranch, MosBranch)):
        return (type(branch), *nodes_of(branch), inner_ohms(branch))
    return (type(branch), *nodes_of(branch))


class Codes:
    """Numbers branches, so that networks that differ in names only are known to be the same to the solver, and those
    that differ in values only to be alike."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], tuple[int, int]] = {}
        self._shapes: dict[tuple[object, ...], int] = {}

    def of(self, branch: Branch) -> tuple[int, int]:
        """The number of everything in a branch but its name, and that of its shape."""
        key = (type(branch), *branch[1:])
        found = self._known.get(key)
        if found is None:
            shape = self._shapes.setdefault(shape_of(branch), len(self._shapes))
            found = self._known[key] = len(self._known), shape
        return found


class BranchNetwork(NamedTuple):
    """Node names (index 0 is the reference) and branches. Branch names are unique.

    codes: a number for each branch, the same for branches that differ in their names only; empty where nobody numbered
    them. shapes: the same of what they are between which nodes.
    """

    nodes: tuple[str, ...]
    branches: tuple[Branch, ...]
    codes: tuple[int, ...] = ()
    shapes: tuple[int, ...] = ()

    @property
    def is_warm(self) -> bool:
        """Whether its point depends on the temperature; what is linear has values that have drifted already."""
        return any(isinstance(branch, (LedBranch, DiodeBranch, BipolarBranch, MosBranch)) for branch in self.branches)

    def dump(self) -> str:
        """One line a branch, in order."""
        lines = [f"(network {' '.join(self.nodes)})"]
        for branch in self.branches:
            nets = " ".join(self.nodes[node] for node in nodes_of(branch))
            lines.append(f"({_KINDS[type(branch)]} {branch.name} {nets}{_values(branch)})")
        return "\n".join(lines) + "\n"


_KINDS: dict[type, str] = {
    Resistor: "resistor",
    VoltageSource: "voltage-source",
    CurrentSource: "current-source",
    LedBranch: "led",
    DiodeBranch: "diode",
    BipolarBranch: "bipolar",
    MosBranch: "mos",
    SwitchBranch: "switch",
    Port: "port",
    Blocked: "blocked",
}


def _values(branch: Branch) -> str:
    match branch:
        case Resistor():
            return f" {branch.ohms:.6g} ohm"
        case VoltageSource():
            return f" {branch.volts:.6g} V"
        case CurrentSource():
            return f" {branch.amps:.6g} A"
        case LedBranch():
            curve = branch.curve
            floor = " floor" if curve.floor else ""
            series = f" + {branch.series_ohms:.6g} ohm" if branch.series_ohms else ""
            return f" {curve.forward_voltage:.6g} V at {curve.at:.6g} A{floor}{series}"
        case DiodeBranch():
            breakdown = f" BV={branch.device.BV:.6g}" if branch.device.BV is not None else ""
            return f" IS={branch.device.IS:.6g} N={branch.device.N:.6g} RS={branch.device.RS:.6g}{breakdown}"
        case BipolarBranch():
            kind = "npn" if branch.device.polarity > 0 else "pnp"
            return f" {kind} IS={branch.device.IS:.6g} BF={branch.device.BF:.6g} BR={branch.device.BR:.6g}"
        case MosBranch():
            kind = "nmos" if branch.device.polarity > 0 else "pmos"
            return f" {kind} VTO={branch.device.VTO:.6g} KP={branch.device.KP:.6g} LAMBDA={branch.device.LAMBDA:.6g}"
        case SwitchBranch():
            return f" {'on' if branch.device.on else 'off'} {branch.device.ohms:.6g} ohm"
        case Port():
            points = " ".join(f"({amps:.6g} A {volts:.6g} V)" for amps, volts in branch.table)
            return f" {points}"
        case Blocked():
            return ""

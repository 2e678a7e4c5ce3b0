"""The frozen values of this stage: recognised parts, channels, networks, sides and what joins them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Set
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint import types
from isolint.parts import PartRecord
from isolint.recognition import Typical
from isolint.types import PartType


class Part(NamedTuple):
    """A recognised barrier part.

    element: its id. type: as in part records. record: its part record, None when only declared or recognised by its
    subcircuit. roles: one canonical role a pin of the card ("anode", "collector", "supply", ...). groups: tuples of pin
    indices that the part joins inside; nothing is joined between groups. recognised_by: "declaration", "record",
    "structure" (of its subcircuit), "subcircuit" (whose name and ports agree).
    channels: (name, input pins, output pins) by pin index, where no record states them. typical: what its model gives
    at a few currents; typical values, no limits.
    """

    element: int
    path: str
    type: str
    record: PartRecord | None
    roles: tuple[str, ...]
    groups: tuple[tuple[int, ...], ...]
    recognised_by: str
    model_name: str
    channels: tuple[tuple[str, tuple[int, ...], tuple[int, ...]], ...] = ()
    typical: Typical = Typical()

    @property
    def kind(self) -> PartType:
        """What is so of every part of its type."""
        return types.of(self.type)

    @property
    def both_ways(self) -> bool:
        """Whether each of its inputs is two LEDs, one each way."""
        stated = self.record is not None and self.record.led.bidirectional is True
        return stated or ("anode" in self.roles and "cathode" not in self.roles)


class Unknown(NamedTuple):
    """A part that is not understood, with why and the line that would settle it.

    choices: the types among which the truth is, as far as its model tells. pins: what its model tells of each pin, as
    names of a part record, "" for one that it doesn't tell.
    """

    element: int
    path: str
    reason: str
    example: str
    suspected_type: str = ""
    choices: tuple[str, ...] = ()
    pins: tuple[str, ...] = ()


class Contradiction(NamedTuple):
    """A readable model that contradicts the pin order of the record.

    regroups: whether the record joins pins that the model keeps apart, so that a path through the part proves nothing.
    """

    element: int
    path: str
    text: str
    regroups: bool = False


class Shunt(NamedTuple):
    """A shunt reference, an ordinary part. pins: those of cathode, anode and reference; () where nobody tells them.

    name: under which its record stands, or would. record: None where it is only declared.
    """

    element: int
    path: str
    name: str
    pins: tuple[int, ...]
    record: PartRecord | None


class Recognition(NamedTuple):
    """What every element outside the conducting letters is taken for.

    parts: barrier parts by element. ordinary: leaf parts that a record or fact calls ordinary. unknown: leaf parts that
    nobody explained (they join all their pins) by element; `suspects` are those among them that look like couplers, and
    barrier parts whose channels can't be judged. kept_apart: of ordinary parts whose record states groups of pins (a
    connector with both sides) those groups; all others join all their pins. shunts: the shunt references among them.
    """

    parts: Mapping[int, Part]
    ordinary: frozenset[int]
    unknown: Mapping[int, Unknown]
    suspects: tuple[Unknown, ...]
    contradictions: tuple[Contradiction, ...]
    kept_apart: Mapping[int, tuple[tuple[int, ...], ...]] = MappingProxyType({})
    shunts: Mapping[int, Shunt] = MappingProxyType({})

    def joined(self, element: int, pin: int, count: int) -> tuple[int, ...]:
        """The pins that an ordinary part or one that nobody explained joins to one of its `count` pins."""
        groups = self.kept_apart.get(element)
        return tuple(range(count)) if groups is None else next((group for group in groups if pin in group), (pin,))


BoundaryKind = Literal["supply", "ground", "output", "input", "line", "loose", "part"]


class Boundary(NamedTuple):
    """A net at which a walk stops.

    kind: supply (held at a voltage), ground (a reference), output (driven by a stated output), input (read by a stated
    input), line (field wiring), loose (nothing else touches it), part (a pin of a part that is not understood;
    `element` says which).
    """

    net: int
    kind: BoundaryKind
    element: int = -1


class Pair(NamedTuple):
    """The output of a coupler as it lies in the network of another: from pin `first` to pin `last` it conducts."""

    element: int
    first: int
    last: int


class Network(NamedTuple):
    """What lies around one end of a channel: elements in the order found, inner nets and boundary nets.

    branches: LEDs and coils of barrier parts in it, as (element, pin indices). complete: False when the walk was given
    up because the network is too large. pairs: outputs of other channels in it; in a load network those that conduct.
    """

    elements: tuple[int, ...]
    inner: tuple[int, ...]
    boundary: tuple[Boundary, ...]
    branches: tuple[tuple[int, tuple[int, ...]], ...] = ()
    complete: bool = True
    pairs: tuple[Pair, ...] = ()


class Channel(NamedTuple):
    """One input and one output of a coupler.

    name: "" for a part with one channel, else its name in the record. pins: net by canonical role.
    subject: stable logical name, `XU1` or `XU1 channel 2`. loop: the channels, itself first, each of which drives the
    LED of the next one and the last that of the first.
    """

    part: Part
    name: str
    pins: Mapping[str, int]
    drive: Network
    load: Network
    loop: tuple[str, ...] = ()

    @property
    def both_ways(self) -> bool:
        """Whether its input is two LEDs, one each way, for alternating current or either polarity."""
        return self.part.both_ways

    @property
    def subject(self) -> str:
        """Stable logical name for results."""
        return f"{self.part.path} channel {self.name}" if self.name else self.part.path


class Step(NamedTuple):
    """One step of a conducting path: from `net_in` through `element` (by its pins) to `net_out`."""

    net_in: int
    element: int
    net_out: int


class Side(NamedTuple):
    """One galvanic island with something on it that faces a barrier.

    name: stated name, else the name of its reference net, else of its first supply or net.
    reference: net id of its reference, -1 when it has none. nets: representative net ids that it holds.
    stated: name in isolint.toml, "" when it is not stated.
    """

    name: str
    stated: str
    kind: str
    reference: int
    supplies: tuple[int, ...]
    nets: Set[int]
    element_count: int


JointKind = Literal["joined-grounds", "joined-supplies", "joined-nets"]


class Join(NamedTuple):
    """Two sides that conduct, as one fault.

    kind: what joins them. sides: the two names. path: shortest conducting path, element by element. cut: the
    smallest set of elements whose removal separates them (where the fault is). subject: stable identity. resistance:
    ohms between the sides over all paths of the joint (what is not linear counts 0). along: ohms of the path alone,
    infinite where no path is told. level: as design says (error; warning for the node-0 case; note on a functional
    barrier). node_0_only: the case that `simulation_ground = "0"` may settle. couplers: subjects of the barrier parts
    concerned. shared_net: net id when the two sides simply use one net.
    unknown: elements on the path that nobody explained: then the join is not proven and the result is open
    about the part. apart: the joints that this is, where elements of the cut join by themselves.
    """

    kind: JointKind
    sides: tuple[str, str]
    path: tuple[Step, ...]
    cut: tuple[int, ...]
    subject: str
    resistance: float
    level: Literal["error", "warning", "note"]
    node_0_only: bool
    couplers: tuple[str, ...]
    shared_net: int = -1
    unknown: tuple[int, ...] = ()
    apart: tuple[Join, ...] = ()
    along: float = math.inf

    @property
    def each(self) -> tuple[Join, ...]:
        """The independent joints, the join itself where it is one."""
        return tuple(one._replace(couplers=self.couplers) for one in self.apart) or (self,)


Edge = tuple[int, int, int]
"""An element between two nodes of a bridge."""


class Bridge(NamedTuple):
    """A resistance at or above the limit, or capacitors, between two sides: for the inventory, not a tie.

    value: ohms or farads that it amounts to, None where they can't be told. edges: its elements between nodes; node 0
    is the first side, 1 the other, others lie between. shorted: ohms or farads with the one element shorted where that
    tells most; None where it was not worked out.
    """

    sides: tuple[str, str]
    elements: tuple[int, ...]
    kind: Literal["resistance", "capacitance"]
    value: float | None
    edges: tuple[Edge, ...] = ()
    shorted: float | None = None


class Barrier(NamedTuple):
    """Two sides and what lies between them.

    parts: elements of the barrier parts. undecidable: why separation can't be judged from this netlist, "" when it can.
    stated: index of the `[[barriers]]` fact that concerns it, -1 for none.
    """

    sides: tuple[str, str]
    parts: tuple[int, ...]
    stated: int
    undecidable: str = ""


class Separation(NamedTuple):
    """All sides, barriers, joins and bridges of a netlist."""

    sides: tuple[Side, ...]
    side_of_net: Mapping[int, int]
    barriers: tuple[Barrier, ...]
    joins: tuple[Join, ...]
    bridges: tuple[Bridge, ...]
    ignored: tuple[int, ...]
    notes: tuple[str, ...]


class Interfaces(NamedTuple):
    """Everything this stage found in one netlist.

    unused: the channels of which neither LED nor output is connected, by their subjects; nothing is asked of them.
    """

    recognition: Recognition
    channels: tuple[Channel, ...]
    separation: Separation
    unused: tuple[str, ...] = ()

"""The form that each type's file fills in: what is so of every part of a type, whatever its record says."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal, NamedTuple

from isolint.types.form.constructions import Make
from isolint.types.form.pin_names import COMMON, Pin, folded, looked_up
from isolint.types.form.port_groups import Keys
from isolint.types.form.usual_values import Family

Input = Literal["led", "voltage-input", "coil"]
Conduction = Literal["transistor", "logic"]
Own = Literal[
    "supplies",
    "output-pair",
    "gate",
    "driver",
    "array",
    "contact",
    "windings",
    "photodiodes",
    "thyristor",
    "reference",
    "analog",
    "amplifier",
    "levels",
]
Switch = Literal["holds", "holds-one-way", "complete", "passes"]
Trait = (
    Literal["barrier", "channel", "edges", "output", "interrupts", "feeds", "state", "switch"]
    | Input
    | Conduction
    | Own
    | Switch
)
"""What a rule may be asked of. barrier: it lies between two sides. channel: its inputs and outputs are followed.
edges: inputs lie at one edge of its package, outputs at the other. output: what its output conducts is known.
interrupts: it opens the circuit of a load. feeds: its outputs supply others. switch: its output opens and closes a way
for one. state: an edge across it can upset its output. analog: its inputs take a range, no levels. The others as they
are called on a data sheet."""


ALWAYS_BLIND = ("layout, cable, emission", "creepage on the board", "software states", "sequencing")
"""What nothing here ever asks of a part, whatever its type."""


class Pins(NamedTuple):
    """The pins of a type by their names.

    own: role by name, before the common names. shared: the common names, {} where they mean nothing on this type.
    special: reads a folded name before both, None for what it does not know. groups: the port group of each pin.
    usual: orders in which makers number the pins. ends: pins of one side that makers place either way round, the lower
    one first.
    """

    own: Mapping[str, str] = {}
    shared: Mapping[str, str] = COMMON
    special: Callable[[str], Pin | None] | None = None
    groups: Callable[[Sequence[Pin]], Keys] | None = None
    usual: tuple[tuple[str, ...], ...] = ()
    ends: tuple[tuple[str, str], ...] = ()


class TypeOutput(NamedTuple):
    """The output of a type.

    conducts: what the solver puts in its place; "" where nothing here says it yet, so that only its drive is judged.
    ends: the roles of the two pins (or the one) without which it can't be judged. junctions: base-emitter junctions in
    series. least_volts: what it needs to be relied on at all. interrupts: whether it opens the circuit of a load, and
    which way current may flow then; "stated": only where the record says what its output is. passes: the pins of one
    group are joined by it, as by a contact. feeds: the pins that hold a net at a voltage.
    switch: it opens and closes a way for a load, which its own current holds once fired (one way only), complete with
    the thyristors for a load, or not held.
    """

    conducts: Conduction | Literal[""] = ""
    ends: tuple[str, ...] = ()
    junctions: int = 1
    least_volts: float = 0.0
    interrupts: Literal["", "stated", "one way", "both ways"] = ""
    passes: bool = False
    feeds: Literal["", "every pin", "outputs"] = ""
    switch: Switch | Literal[""] = ""


class Signs(NamedTuple):
    """By what a type is known.

    words: in the name of a part or subcircuit. makes: how a readable body of this type is made, and of no other; named:
    only where the name says this type too. perhaps: makes that leave it among several types, with its place among
    them, the likeliest first. names: the role of a port by what a transistor in the body has there, where that
    differs; the names of ports then go first. telling: roles that a port name can
    contradict. by_ports: known by its words where the names of all ports agree and the body keeps them apart.
    guessed_for: the number of pins of an output for which this type is the usual one, 0 for none.
    """

    words: tuple[str, ...] = ()
    makes: tuple[Make, ...] = ()
    named: bool = False
    perhaps: Mapping[Make, int] = {}
    names: Mapping[str, str] = {}
    telling: frozenset[str] = frozenset()
    by_ports: bool = False
    guessed_for: int = 0


class PartType(NamedTuple):
    """One type.

    rank: where a name holds words of several types, the lower rank is meant; lists of types are in this order.
    isolates: it lies between two sides; else it joins all its pins. inputs: how it may be driven. switched: something
    switches its LED on and off, so that a channel is made of it. facing: which port groups face each other over the
    barrier: those of inputs those of outputs, or each each. edges: its inputs lie at one edge of the package and its
    outputs at the other. state: its output has a state that a fast edge across it can upset; asked where an edge is
    stated, or towards a hazardous side in any case. one_side: both may lie on one side, as a contact that switches its
    own supply. questions: what is asked of each of its channels, or of the part where no channel is made of it, as the
    slugs of the rules that answer. blind: what nothing here ever asks of it, beside `ALWAYS_BLIND`.
    """

    name: str
    rank: int
    isolates: bool = True
    inputs: tuple[Input, ...] = ()
    switched: bool = False
    owns: tuple[Own, ...] = ()
    pins: Pins = Pins()
    output: TypeOutput = TypeOutput()
    facing: Literal["inputs to outputs", "each to each"] = "inputs to outputs"
    edges: bool = True
    state: Literal["", "stated edges", "hazards"] = ""
    one_side: bool = False
    questions: tuple[str, ...] = ()
    blind: tuple[str, ...] = ()
    generic: Family = Family()
    signs: Signs = Signs()

    @property
    def traits(self) -> frozenset[str]:
        """All that a rule may be asked of."""
        found: set[str] = {*self.inputs, *self.owns}
        if self.isolates:
            found.add("barrier")
        if self.isolates and self.edges:
            found.add("edges")
        if self.switched:
            found.add("channel")
        if self.output.conducts:
            found |= {"output", self.output.conducts}
        if self.output.switch:
            found |= {"switch", self.output.switch}
        if self.output.interrupts:
            found.add("interrupts")
        if self.output.feeds == "outputs":
            found.add("feeds")
        if self.state:
            found.add("state")
        return frozenset(found)

    def pin(self, name: str) -> Pin:
        """Read the name of a pin; role "" when no rule knows it."""
        text = folded(name)
        known = None if self.pins.special is None else self.pins.special(text)
        return known or looked_up(text, self.pins.own, self.pins.shared)

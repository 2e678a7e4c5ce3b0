"""The body of a subcircuit, flattened into devices that say what they join and what they listen to.

In: one `.subckt` scope with everything that it calls. Out: a `Body`, or None where it can't be read, goes too deep or
holds too much. All names of node 0 are one net, `ZERO`; it joins nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise
from typing import NamedTuple

from isolint.circuit import Circuit, build
from isolint.measure.laws import Law, listen
from isolint.netlist.cards import Cards

ZERO = -1
"""Node 0, which joins nothing unless it is a port (then it is an ordinary net)."""

MAX_DEPTH = 5
MAX_INSTANCES = 400
MAX_DEVICES = 1_500
LEAKAGE_OHMS = 1e6
_GROUNDS = frozenset({"0", "gnd", "gnd!"})
_LAWS = {"value": "", "cur": "i", "vol": "v", "v": "v", "i": "i", "r": "r"}
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?[a-zµ]*", re.IGNORECASE)


class Device(NamedTuple):
    """One element of a body.

    number: its position in `Body.devices`. joins: sets of nets that conduct to each other. pairs: pairs of nets whose
    voltage controls it (the second may be `ZERO`). senses: devices whose current controls it, by index. value: in SI
    units, of a source DC, of a linear controlled source its gain, of a coil henries; None where there is none.
    law: its behavioural law. kind: type of its model in lower case, or of a diode "d". model: name of its model.
    element: its id in the circuit. series: how many a diode stands for.
    """

    number: int
    letter: str
    name: str
    pins: tuple[int, ...]
    joins: tuple[tuple[int, ...], ...]
    pairs: tuple[tuple[int, int], ...] = ()
    senses: tuple[int, ...] = ()
    value: float | None = None
    law: Law | None = None
    kind: str = ""
    model: str = ""
    parameters: Mapping[str, float] = {}
    element: int = -1
    series: float = 1.0

    @property
    def nets(self) -> tuple[int, ...]:
        """All nets that it joins."""
        return tuple(net for join in self.joins for net in join)

    @property
    def is_controlled(self) -> bool:
        """Whether anything controls it."""
        return bool(self.pairs or self.senses)

    @property
    def is_current_source(self) -> bool:
        """Whether it gives a current that something controls."""
        if self.letter in "GF":
            return self.law is None or self.law.kind != "v"
        return self.letter == "B" and self.law is not None and self.law.kind == "i"

    @property
    def is_voltage_source(self) -> bool:
        """Whether it gives a voltage that something controls."""
        return self.letter in "EH" or (self.letter == "B" and self.law is not None and self.law.kind == "v")


class Body(NamedTuple):
    """Ports and devices of a subcircuit.

    ports: the net of each port; ports of one name share a net. names: as in the header. nets: one more than the
    largest net.
    """

    ports: tuple[int, ...]
    names: tuple[str, ...]
    devices: tuple[Device, ...]
    nets: int
    circuit: Circuit


def flatten(cards: Cards, scope: int) -> Body | None:
    """The devices of one subcircuit; None where it is unreadable, empty, too deep or larger than 1,500 elements."""
    header = cards.scopes[scope]
    if header.unreadable or not len(header) or len(header) > MAX_DEVICES:
        return None
    deep: list[str] = []

    def is_sheet(path: str, called: int, name: str) -> bool:
        if path.count(".") >= MAX_DEPTH or cards.scopes[called].unreadable:
            deep.append(path)
            return False
        return True

    circuit = build(cards, is_sheet, top=scope, most=MAX_INSTANCES)
    if any("instances" in note.message for note in circuit.notes) or any(path.count(".") >= MAX_DEPTH for path in deep):
        return None
    members = list(circuit.elements()) if circuit.element_count <= 20 * MAX_DEVICES else []
    if not 0 < len(members) <= MAX_DEVICES:
        return None
    return _Flattener(circuit, members, header.ports).body()


def body_of(circuit: Circuit, members: list[int]) -> Body:
    """Elements of a circuit as devices without ports: cards of a sheet."""
    return _Flattener(circuit, members, ()).body()


class _Flattener:
    """Makes the devices of one body."""

    def __init__(self, circuit: Circuit, members: list[int], names: tuple[str, ...]) -> None:
        self.circuit = circuit
        self.members = members
        self.names = names
        self.at = {element: index for index, element in enumerate(members)}
        self.ports, self.same = self._ports()

    def _ports(self) -> tuple[tuple[int, ...], dict[int, int]]:
        """The net of each port, and the net that stands for another of the same name."""
        first: dict[str, int] = {}
        same: dict[int, int] = {}
        ports = []
        for position, name in enumerate(self.names):
            net = self.circuit.canonical(0, position)
            known = first.setdefault(name.lower(), net)
            if known != net:
                same[net] = known
            ports.append(known)
        return tuple(ports), same

    def body(self) -> Body:
        devices = tuple(self._device(index, element) for index, element in enumerate(self.members))
        return Body(self.ports, self.names, devices, self.circuit.net_count, self.circuit)

    def _net(self, net: int) -> int:
        net = self.same.get(net, net)
        if net in self.ports:
            return net
        circuit = self.circuit
        if circuit.is_node_0(net):
            return ZERO
        return ZERO if "." not in (name := circuit.net_name(net)) and name.lower() in _GROUNDS else net

    def _named(self, instance: str, name: str) -> int | None:
        """The net with this name as an expression in an instance means it."""
        path = f"{instance}.{name}" if instance else name
        found = self.circuit.find_net(path)
        if found is None and name.lower() in self.circuit.cards.globals:
            found = self.circuit.find_net(name)
        if found is None:
            return ZERO if name.lower() in _GROUNDS else None
        return self._net(found)

    def _device(self, index: int, element: int) -> Device:
        circuit = self.circuit
        letter = circuit.letter(element)
        pins = tuple(map(self._net, circuit.pins(element)))
        tail = circuit.tail(element)
        law = self._law(element, letter, tail)
        pairs, senses = self._controls(element, letter, pins, tail, law)
        model = circuit.model(element) if letter in "DQMJSWRA" else None
        count = tail.get("n", 1.0)
        return Device(
            index,
            letter,
            circuit.path(element),
            pins,
            tuple(unlike for join in _joins(circuit, element, letter, pins, tail) if (unlike := _plain(join))),
            pairs,
            senses,
            None if law is not None else circuit.value(element),
            law,
            "" if model is None else _polarity(model.type, model.parameters),
            (circuit.model_name(element) or "").lower(),
            circuit.model_parameters(element) if letter in "DQSW" else {},
            element,
            count if letter == "D" and isinstance(count, float | int) and count > 0 else 1.0,
        )

    def _law(self, element: int, letter: str, tail: Mapping[str, float | str]) -> Law | None:
        if letter in "EGFHB":
            for key, kind in _LAWS.items():
                text = tail.get(key)
                if isinstance(text, str):
                    return listen(kind or ("i" if letter in "GF" else "v"), text)
            for key in ("cur", "vol", "i", "v"):
                written = self.circuit.written(element).get(key)
                if written is not None and not isinstance(written, float | int | str):
                    return listen("i" if key in ("cur", "i") else "v", written.text)
            kind = "i" if letter in "GF" else "v"
            text = tail.get("table")
            if isinstance(text, str):
                return listen(kind, _table(text))
            text = tail.get("laplace") or tail.get("freq")
            return listen(kind, _laplace(text)) if isinstance(text, str) else None
        text = self.circuit.value_text(element) if letter in "RVIC" else ""
        if text and ("(" in text):
            heard = listen({"R": "r", "I": "i"}.get(letter, "v"), text)
            return heard if heard.pairs or heard.currents else None
        return None

    def _controls(
        self, element: int, letter: str, pins: tuple[int, ...], tail: Mapping[str, float | str], law: Law | None
    ) -> tuple[tuple[tuple[int, int], ...], tuple[int, ...]]:
        circuit = self.circuit
        instance = circuit.instance_path(element)
        pairs: list[tuple[int, int]] = []
        currents: list[str] = []
        if law is not None:
            for one, other in law.pairs:
                first = self._named(instance, one)
                second = self._named(instance, other) if other else ZERO
                if first is not None and second is not None:
                    pairs.append((first, second))
            currents += law.currents
        elif letter in "EGS":
            nets = tuple(map(self._net, circuit.controls(element)))
            pairs += zip(nets[::2], nets[1::2], strict=False)
        elif letter in "FHW":
            currents += [name for name in circuit.control_names(element) if "(" not in name]
        elif letter == "K":
            currents += circuit.control_names(element)
        elif letter == "A":
            inputs = pins[: len(pins) - len(_outputs(pins, tail))]
            # Two inputs may be a pair, or each against the common pin.
            pairs += [(one, other) for one, other in pairwise(inputs) if one != other]
            pairs += [(net, ZERO) for net in inputs if net != ZERO]
        found = [circuit.find(f"{instance}.{name}" if instance else name) for name in currents]
        senses = [self.at[source] for source in found if source is not None and source in self.at]
        # A law or polynomial may name one pair twice, and knows them by their order.
        return tuple(dict.fromkeys(pairs) if letter == "A" else pairs), tuple(senses)


def _plain(join: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(net for net in join if net != ZERO))


def _joins(
    circuit: Circuit, element: int, letter: str, pins: tuple[int, ...], tail: Mapping[str, float | str]
) -> tuple[tuple[int, ...], ...]:
    """The sets of nets that an element joins."""
    if letter in "KU":
        return ()
    if letter == "R":
        value = circuit.value(element)
        return () if value is not None and abs(value) >= LEAKAGE_OHMS else (pins,)
    if letter == "C":
        parallel = tail.get("rpar")
        return (pins,) if isinstance(parallel, float | int) and 0 < parallel < LEAKAGE_OHMS else ()
    if letter in "QMJ":
        return (pins[:3],)
    if letter in "TO" and len(pins) >= 4:
        return (pins[:2], pins[2:4])
    if letter == "A":
        return (_outputs(pins, tail),)
    return (pins[:2],) if letter in "LDVIEGFHBSW" else (pins,)


def _outputs(pins: tuple[int, ...], tail: Mapping[str, float | str]) -> tuple[int, ...]:
    """The outputs of a behavioural gate with its common pin; of a code model its last pin."""
    outputs = tail.get("outputs")
    return pins[-1 - int(outputs) :] if isinstance(outputs, float | int) else pins[-1:]


def _polarity(kind: str, parameters: Mapping[str, object]) -> str:
    """The type of a model; of a power transistor that says so the p-channel one."""
    if kind in ("lpnp",):
        return "pnp"
    return "pmos" if kind == "vdmos" and "pchan" in parameters else "nmos" if kind == "vdmos" else kind


def _table(text: str) -> str:
    """`{x} = (0,0) (1,2)` as a call of the function."""
    opened, depth, end = text.find("{"), 0, -1
    if opened < 0:
        return text
    for position in range(opened, len(text)):
        depth += {"{": 1, "}": -1}.get(text[position], 0)
        if depth == 0:
            end = position
            break
    if end < 0:
        return text
    numbers = _NUMBER.findall(text[end + 1 :])
    return f"table(({text[opened + 1 : end]}),{','.join(numbers)})"


def _laplace(text: str) -> str:
    """`{x} = {1/(1+s)}` as what it gives once all has settled: a product with s at 0."""
    parts = re.findall(r"\{([^{}]*)\}", text)
    if len(parts) < 2:
        return text
    gain = re.sub(r"\bs\b", "0", parts[1], flags=re.IGNORECASE)
    return f"({parts[0]})*({gain})"

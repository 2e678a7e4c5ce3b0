"""Labelled definitions: what stands above a `.subckt` as `* is: TYPE port=pin ...`, and how an answer is held to it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from isolint.netlist import read
from isolint.netlist.cards import Cards, Scope
from isolint.netlist.expressions import Expression
from isolint.recognition import StructureVerdict, recognise_body
from isolint.source import MemoryTree

MODELS = Path(__file__).parent / "models"
_LABEL = re.compile(r"^\* is: (\S+)(.*)$")
_HEADER = re.compile(r"^\.subckt\s+(\S+)\s+(.*)$", re.IGNORECASE)
_EXCHANGED = ("pda", "pdk", "terminal", "drain", "coil", "r", "com", "no", "contact")
"""Pins that may be exchanged with each other."""


class LabelledDefinition(NamedTuple):
    """A definition with the truth about it. pins: in the order of the ports, "" where no pin is asked for."""

    name: str
    type: str
    pins: tuple[str, ...]
    ports: tuple[str, ...]
    text: str
    file: str


def definitions() -> list[LabelledDefinition]:
    """All labelled definitions of the folder of models."""
    return [found for path in sorted(MODELS.glob("*.lib")) for found in labelled(path.read_text(), path.name)]


def labelled(text: str, file: str) -> list[LabelledDefinition]:
    """The labelled definitions of a library."""
    found = []
    label: tuple[str, str] | None = None
    for line in text.splitlines():
        told = _LABEL.match(line)
        header = _HEADER.match(line)
        if told is not None:
            label = told[1], told[2]
        elif header is not None and label is not None:
            ports = tuple(re.split(r"\s+PARAMS:", header[2], flags=re.IGNORECASE)[0].split())
            pins = dict(pair.rsplit("=", 1) for pair in label[1].split())
            order = tuple(
                pins.get(port, list(pins.values())[at] if at < len(pins) and port not in pins else "")
                for at, port in enumerate(ports)
            )
            found.append(LabelledDefinition(header[1], label[0], order, ports, text, file))
            label = None
    return found


def cards_of(text: str) -> Cards:
    """A library read as the program reads it; fails on a card that is not understood."""
    cards = read(MemoryTree({"board.cir": f"* invented\n{text}"}), "board.cir")
    bad = [note.message for note in cards.notes if note.level == "error"]
    assert not bad, bad
    return cards


def verdicts(text: str, names: Iterable[str], under_new_names: bool = False) -> dict[str, StructureVerdict]:
    """What the structure of each definition says; also where nothing bears a telling name any more."""
    cards = cards_of(text)
    scopes = {name: cards.find_subcircuit(name, 0) for name in names}
    judged = renamed(cards) if under_new_names else cards
    return {name: recognise_body(judged, scope) for name, scope in scopes.items() if scope is not None}


def score(definition: LabelledDefinition, verdict: StructureVerdict) -> str:
    """How a verdict stands to the truth: "right", "asked" (truth among the choices), "wrong", "silent"."""
    if verdict.answer == "none":
        return "right" if definition.type == "ordinary" else "silent"
    if definition.type == "ordinary":
        return "asked" if verdict.is_asked else "wrong"
    if verdict.is_asked:
        told = all(
            alike(pin) == alike(said) or port in verdict.doubtful or not pin
            for port, (pin, said) in enumerate(zip(definition.pins, verdict.pins, strict=True))
        )
        truth = definition.type in verdict.choices
        return "asked" if truth and (told or len(verdict.choices) > 1) else "wrong"
    if verdict.type != definition.type:
        return "wrong"
    if any(definition.pins) and tuple(map(alike, definition.pins)) != tuple(map(alike, verdict.pins)):
        return "wrong"
    return "right"


def alike(pin: str) -> str:
    """One word for pins that may be exchanged."""
    stem = pin.rstrip("0123456789")
    return stem if stem in _EXCHANGED else pin


_PAIR = re.compile(r"(\bv\s*\(\s*)([^(),\s]+)(?:(\s*,\s*)([^(),\s]+))?(\s*\))", re.IGNORECASE)


def renamed(cards: Cards) -> Cards:
    """The same cards with every definition, port and model under a name that tells nothing."""
    calls = {scope.name.lower(): f"ZZ{number}" for number, scope in enumerate(cards.scopes)}
    models = sorted({name for scope in cards.scopes for name in scope.models_by_name})
    new = {name: f"MM{number}" for number, name in enumerate(models)} | calls
    return cards._replace(scopes=tuple(_renamed(scope, new) for scope in cards.scopes))


def _renamed(scope: Scope, new: dict[str, str]) -> Scope:
    names = {port.lower(): f"P{7 * (at + 3) % 97}x" for at, port in enumerate(scope.ports)}

    def net(name: str) -> str:
        return names.get(name.lower(), name)

    def pair(found: re.Match[str]) -> str:
        second = f"{found[3]}{net(found[4])}" if found[4] else ""
        return f"{found[1]}{net(found[2])}{second}{found[5]}"

    def tail(values: dict[str, float | Expression | str]) -> dict[str, float | Expression | str]:
        return {key: _PAIR.sub(pair, value) if isinstance(value, str) else value for key, value in values.items()}

    controls = {
        at: tuple(map(net, held)) if scope.letters[at] in "EGSB" else held for at, held in scope.controls.items()
    }
    return replace(
        scope,
        name=new.get(scope.name.lower(), scope.name),
        ports=tuple(map(net, scope.ports)),
        nodes=[tuple(map(net, nodes)) for nodes in scope.nodes],
        models=[None if name is None else new.get(name.lower(), name) for name in scope.models],
        controls=controls,
        tails={at: tail(values) for at, values in scope.tails.items()},
        models_by_name={new[name].lower(): model for name, model in scope.models_by_name.items()},
        subcircuits={new[name].lower(): at for name, at in scope.subcircuits.items()},
    )

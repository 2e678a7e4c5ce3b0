"""What the body of a subcircuit shows of a type: the parts of the structure tests that several types share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from isolint.types.form.pin_names import TRANSISTOR, folded, looked_up


class Body(Protocol):
    """What a subcircuit body says of itself, as `interfaces/subcircuit_body.py` finds it."""

    @property
    def transistors(self) -> tuple[tuple[int, int, int], ...]:
        """(collector, base, emitter) ports of bipolar transistors, -1 where a pin reaches no port by wire."""

    @property
    def darlington(self) -> bool:
        """Whether one transistor's emitter drives another's base."""


def is_transistor(body: Body, ports: Sequence[str], output: Sequence[int]) -> bool:
    """Whether ports are collector, emitter and perhaps a base, by a transistor between them or by their names."""
    bases = {base for _, base, _ in body.transistors}
    for collector, emitter in _ends(body):
        left = set(output) - {collector, emitter}
        if len(left) == len(output) - 2 and (not left or (len(left) == 1 and left <= bases)):
            return True
    named = sorted(looked_up(folded(ports[port]), TRANSISTOR).role for port in output if not ports[port].isdigit())
    return named in (["collector", "emitter"], ["base", "collector", "emitter"]) and len(named) == len(output)


def _ends(body: Body) -> list[tuple[int, int]]:
    """(collector, emitter) for every collector and emitter port; of a darlington they belong to two transistors."""
    collectors = dict.fromkeys(collector for collector, _, _ in body.transistors if collector >= 0)
    emitters = dict.fromkeys(emitter for _, _, emitter in body.transistors if emitter >= 0)
    return [(collector, emitter) for collector in collectors for emitter in emitters if collector != emitter]

"""The gate of a photo-SCR: its pins, and the resistor with which its ratings hold.

In: a channel. Out: nets by the names of the record's pins, and terms.
"""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.interfaces.entities import Channel
from isolint.parts import Trigger
from isolint.rows import least
from isolint.types.form.pin_names import folded
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Term

_GATES = frozenset(("g", "gate", "scrg", "scrgate"))
_CATHODES = frozenset(("scrk", "scrcathode", "k2", "cathode2"))


def gate_nets(context: Context, channel: Channel) -> tuple[int, int] | None:
    """The nets of gate and cathode of a photo-SCR's output; None where its gate is not brought out."""
    record = channel.part.record
    if record is None:
        return None
    nets = dict(zip(map(folded, record.pins), context.circuit.pins(channel.part.element), strict=False))
    gate = next((net for name, net in nets.items() if name in _GATES), None)
    cathode = next((net for name, net in nets.items() if name in _CATHODES), None)
    return None if gate is None or cathode is None else (gate, cathode)


def gate_test(channel: Channel) -> Term:
    """The resistor from gate to cathode with which the ratings of a photo-SCR hold, ohms."""
    usual = least(10e3, 56e3, "default (from memory)")
    return fact_terms.of_record(channel.part, Trigger.gate_resistor, usual)

"""The capacitor between the windings of a motor that two switches turn one way or the other.

In: a channel and what its switch lies between. Out: the voltage that the open switch may see beyond that of the supply,
None without such a capacitor.
"""

from __future__ import annotations

from collections import defaultdict

from isolint.checking.context import Context
from isolint.checking.switched import Switched, across, looked_at, switches
from isolint.checking.switched_load import Ringing, load_name, off_voltage
from isolint.facts import LoadFacts
from isolint.interfaces.entities import Channel
from isolint.rows import most
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting


def reversing(context: Context, channel: Channel, found: Switched, setting: Setting) -> Ringing | None:
    """V_pk to 2 V_pk where a capacitor leads from the load's net to that of another switch."""
    element = run_capacitor(context, channel, found)
    volts = across(context, found, setting)
    if element is None or volts is None or not volts.alternating or off_voltage(context, found) is not None:
        return None
    usual = most(1.0, 2.0, f"by {context.circuit.path(element)} to the other winding, default (from memory)")
    factor = fact_terms.defaulted(
        LoadFacts.off_voltage, load_name(context, found), usual, title="peaks across the open switch", unit="1"
    )
    seen = Figure("V_pk", volts.high, "V", "peak across the open switch") * Figure("n", setting.high(factor))
    told = f"voltage across the open switch while {context.circuit.path(element)} feeds its winding"
    return Ringing(seen.called("V_off", "V", told), (*volts.terms, factor))


def run_capacitor(context: Context, channel: Channel, found: Switched) -> int | None:
    """The capacitor from a free net of the switch to one of another switch, the first by name."""
    circuit, owners = context.circuit, context.kept(_switched_nets)
    capacitors = {
        element
        for net in _free(context, found)
        for element, pin in circuit.elements_at(net)
        if circuit.letter(element) == "C" and owners.get(circuit.pins(element)[1 - pin], set()) - {channel.subject}
    }
    return min(capacitors, key=circuit.path, default=None)


def _switched_nets(context: Context) -> dict[int, set[str]]:
    """The free nets of every switch, with the channels that switch them."""
    found = defaultdict[int, set[str]](set)
    for channel in context.interfaces.channels:
        if not switches(context, channel):
            continue
        try:
            nets = _free(context, looked_at(context, channel))
        except Lacking:
            continue
        for net in nets:
            found[net].add(channel.subject)
    return dict(found)


def _free(context: Context, found: Switched) -> list[int]:
    """The nets of a switch, and of the thyristor that it fires, that no supply holds."""
    thyristor = found.thyristor
    nets = found.ends if thyristor is None else (thyristor.near, thyristor.far)
    return [net for net in nets if context.lookup.walker.held(net) is None]

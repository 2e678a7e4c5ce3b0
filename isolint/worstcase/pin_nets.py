"""What a logic input's pin stands, as a term.

In: the facts of an input. Out: a `Term` in volts whose low end is the worst, or `Lacking`. A stated `voltage_max` is a
point. Else the pin stands its supply's maximum plus 0.3 V at least, and 5.5 V at most (pins that tolerate 5 V are
usual below that supply; from memory).
"""

from __future__ import annotations

from isolint.worstcase.lookup import Lookup, origin
from isolint.worstcase.uncertain import Lacking, Term, stated

ABOVE_SUPPLY = 0.3
TOLERANT = 5.5


def input_voltage(lookup: Lookup, net: int) -> Term:
    """The largest voltage that the input on a net may see."""
    name = lookup.circuit.net_name(net)
    facts = lookup.input(net)
    key = f'inputs."{name}".voltage_max'
    title = f"largest voltage at input {name}"
    if facts is not None and facts.voltage_max is not None:
        value = facts.voltage_max.value
        return stated(key, title, "V", value, value, value, origin(facts.voltage_max))
    if facts is None or facts.supply is None:
        example = f'[inputs."{name}"]\nvoltage_max = "5.5 V"'
        raise Lacking(f"what input {name} stands is not stated, nor its supply", [lookup.missing(key, example)])
    supply = lookup.supply_named(facts.supply.value)
    low = supply.high + ABOVE_SUPPLY
    high = max(low, TOLERANT)
    example = f'[inputs."{name}"]\nvoltage_max = "{low:.3g} V"'
    text = f"maximum of supply {facts.supply.value} + {ABOVE_SUPPLY} V to {TOLERANT} V (from memory)"
    return Term(key, title, "V", low, low, high, high, high, False, text, example)

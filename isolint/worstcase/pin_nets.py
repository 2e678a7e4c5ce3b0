"""What a logic input's pin stands, as a term.

In: the facts of an input. Out: a `Term` in volts whose low end is the worst, or `Lacking`. A stated `voltage_max` is a
point. Else the pin stands its supply's maximum plus 0.3 V at least, and 5.5 V at most (pins that tolerate 5 V are
usual below that supply; from memory).
"""

from __future__ import annotations

from isolint.facts import InputFacts
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking, Term

ABOVE_SUPPLY = 0.3
TOLERANT = 5.5


def input_voltage(lookup: Lookup, net: int) -> Term:
    """The largest voltage that the input on a net may see."""
    name = lookup.circuit.net_name(net)
    facts = lookup.input(net)
    row = InputFacts.voltage_max
    if facts is not None and facts.voltage_max is not None:
        return lookup.term(row, name)
    if facts is None or facts.supply is None:
        text = f"what input {name} stands is not stated, nor its supply"
        raise Lacking(text, [lookup.missing(row, name)])
    supply = lookup.supply_named(facts.supply.value)
    low = supply.high + ABOVE_SUPPLY
    high = max(low, TOLERANT)
    text = f"maximum of supply {facts.supply.value} + {ABOVE_SUPPLY} V to {TOLERANT} V (from memory)"
    return fact_terms.defaulted(row, name, least(low, high, text), example=f'"{low:.3g} V"')

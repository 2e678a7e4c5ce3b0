"""Diodes and transistors without a model, as far as they can be solved.

In: an element of a drive or load network. Out: its branch in the assembly, or `Lacking` that asks for the model.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.circuit import Circuit
from isolint.results import MissingFact
from isolint.worstcase import network as n
from isolint.worstcase.devices import Diode
from isolint.worstcase.parametric_network import Assembly, Unmodelled
from isolint.worstcase.uncertain import Lacking, Term

EMISSION = 1.5
SATURATION = (1e-13, 2e-10, 1e-7)
# Amperes at 27 degC: from a slow silicon diode (0.9 V at 1 mA) to a Schottky diode (0.35 V).

CLOSED_OHMS = (0.0, 1.0, 10.0)
"""A transistor that is a closed switch: nothing at worst, 1 V at 100 mA at the kindest."""

MOST_REVERSE_VOLTS = 2.0
# No Zener diode in use breaks down below this.

NO_BREAKDOWN = 1e3


def closed_switch(made: Assembly, circuit: Circuit, element: int, ideal: bool) -> None:
    """A transistor as a closed switch, of which nobody says how well it closes; what controls it is left out."""
    path, pins = circuit.path(element), circuit.pins(element)
    first, last = (made.node(net, circuit.net_name(net)) for net in (pins[0], pins[2]))
    if ideal:
        made.add(path, lambda vector, temperature: n.Resistor(path, first, last, 0.0))
        return
    low, nominal, high = CLOSED_OHMS
    key, title = f".model {circuit.model_name(element) or path}", f"resistance of {path} as a closed switch"
    text = "no .model: 0 ohm to 10 ohm (common practice, no source)"
    index = made.term(Term(key, title, "ohm", low, nominal, high, high, high, False, text))
    made.add(path, lambda vector, temperature: n.Resistor(path, first, last, vector[index]), index)


def unmodelled(made: Assembly, circuit: Circuit, element: int, nodes: Sequence[int], across: bool = False) -> None:
    """A diode of any kind, no Zener diode (`refuse_breakdown` looks whether that mattered); no transistor.

    across: it lies across an LED the other way round, and at the kindest it is the lowest Zener diode.
    """
    letter, path = circuit.letter(element), circuit.path(element)
    name = circuit.model_name(element) or circuit.name(element)
    types = {"D": "D", "Q": "NPN or PNP", "M": "NMOS or PMOS"}
    example = f"* .model {name} {types[letter]} ..., from its maker"
    fact = MissingFact(circuit.place(element).file, f".model {name}", example)
    if letter != "D":
        kind = "npn or pnp" if letter == "Q" else "n- or p-channel"
        raise Lacking(f"transistor {path} has no .model: whether it is {kind} nobody says", [fact])
    low, nominal, high = SATURATION
    title, text = f"saturation current of {path}", "no .model: a diode of 0.35 V to 0.9 V at 1 mA (from memory)"
    index = made.term(Term(fact.key, title, "A", low, nominal, high, nominal, nominal, False, text, fact.example))
    if not across:
        made.unmodelled.append(Unmodelled(path, nodes[0], nodes[1], fact))
        made.add(
            path,
            lambda vector, temperature: n.DiodeBranch(path, nodes[0], nodes[1], Diode(IS=vector[index], N=EMISSION)),
            index,
        )
        return
    least, title = MOST_REVERSE_VOLTS, f"breakdown voltage of {path}"
    text = f"no .model: no Zener diode below {least:g} V (from memory)"
    ends = (NO_BREAKDOWN, NO_BREAKDOWN, NO_BREAKDOWN, least, least)
    breaks = made.term(Term(fact.key, title, "V", *ends, False, text, fact.example))
    made.add(
        path,
        lambda vector, temperature: n.DiodeBranch(
            path, nodes[0], nodes[1], Diode(IS=vector[index], N=EMISSION, BV=vector[breaks])
        ),
        index,
        breaks,
    )


def refuse_breakdown(made: Assembly, voltages: Sequence[float]) -> None:
    """Raise `Lacking` where a diode without a model blocks more than any Zener diode lets stand."""
    for diode in made.unmodelled:
        reverse = voltages[diode.cathode] - voltages[diode.anode]
        if reverse > MOST_REVERSE_VOLTS:
            text = (
                f"diode {diode.path} has no .model and sees {reverse:.3g} "
                "V in reverse: whether it breaks down nobody says"
            )
            raise Lacking(text, [diode.missing])

"""What a subcircuit is, from its structure: couplers, transformers, relays, isolated supplies and isolators.

In: cards and the index of a `.subckt`. Out: a `StructureVerdict`: answered with type and pins, asked with the few
types among which the truth is, or none of these with why. The names of parts and models are no argument; series of
type numbers (`hint_of`) confirm, contradict or hint. Knows nothing of boards, facts or records. What reads bodies is
loaded when the first is read.
"""

from collections.abc import Callable

from isolint.netlist.cards import Cards
from isolint.recognition.answer import StructureVerdict
from isolint.recognition.series import Hint, hint_of
from isolint.recognition.typical_values import Typical

__all__ = ["Hint", "StructureVerdict", "Typical", "hint_of", "recognise_body", "signal_graph"]


def recognise_body(cards: Cards, scope: int, hint: Callable[[], Hint | None] = lambda: None) -> StructureVerdict:
    """What the structure of one subcircuit says it is.

    `hint` gives what its type number says; it is asked only where that may confirm or contradict something.
    """
    from isolint.recognition.whole import judge_body

    return judge_body(cards, scope, hint)


def signal_graph(cards: Cards, scope: int) -> str:
    """The signal graph of a subcircuit as text: components with their ports and devices, and where signals go."""
    from isolint.recognition.whole import draw_signals

    return draw_signals(cards, scope)

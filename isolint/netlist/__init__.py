"""Text to cards.

In: a tree and the path of a netlist. Out: `Cards`, the element cards, models and parameters of every scope in columns,
each with file, line and column, and notes of what was wrong. Regular cards are split, all others go through the
grammars, card by card, so that one bad card costs one note. Knows nothing of circuits: no node is
joined, no instance expanded.
"""

from __future__ import annotations

from isolint.netlist.cards import Cards, Model, Note, Number, Scope, SourceFile, Stimulus
from isolint.netlist.expressions import Expression, ExpressionError
from isolint.netlist.reader import read

__all__ = [
    "Cards",
    "Expression",
    "ExpressionError",
    "Model",
    "Note",
    "Number",
    "Scope",
    "SourceFile",
    "Stimulus",
    "read",
]

"""Parts without a model, by their position in the netlist: which may isolate, and between what.

In: a circuit, facts and what was recognised. Out: `Positions`: part names and pairs of grounds to ask about, and what
is listed. Nothing here is a verdict; knows nothing of rules.
"""

from isolint.positions.find import find_positions
from isolint.positions.found import Asked, DoubtfulPair, Positions
from isolint.positions.guess import Guess
from isolint.positions.scores import PartPlace

__all__ = ["Asked", "DoubtfulPair", "Guess", "PartPlace", "Positions", "find_positions"]

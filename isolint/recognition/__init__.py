"""What a subcircuit is, from its structure: couplers, transformers, relays, isolated supplies and isolators.

In: cards and the index of a `.subckt`. Out: a `Verdict`: answered with type and pins, asked with the few types among
which the truth is, or none of these with why. The names of parts and models are no argument; series of type numbers
(`hint_of`) confirm, contradict or hint. Knows nothing of boards, facts or records.
"""

from isolint.recognition.answer import Verdict
from isolint.recognition.series import Hint, hint_of
from isolint.recognition.typical import Typical
from isolint.recognition.whole import recognise_body, signal_graph

__all__ = ["Hint", "Typical", "Verdict", "hint_of", "recognise_body", "signal_graph"]

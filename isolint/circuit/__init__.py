"""Cards become a circuit: elements and nets, hierarchy kept as definitions and instances.

In: `Cards` and a predicate that says which subcircuit calls are sheets to be expanded. Out: a `Circuit`, asked only
through its query API (`pins`, `elements_at`, `find`, `value` ...). Elements and nets are integer ids; nothing is
flattened, names such as `X1.X7.n3` are made when somebody asks. Knows nothing of couplers, sides or facts.
"""

from isolint.circuit.blocks import Block
from isolint.circuit.build import build
from isolint.circuit.circuit import Circuit, ElementView
from isolint.circuit.connectivity import islands
from isolint.circuit.instances import Definition
from isolint.circuit.regions import Region, Summary, summarise

__all__ = ["Block", "Circuit", "Definition", "ElementView", "Region", "Summary", "build", "islands", "summarise"]

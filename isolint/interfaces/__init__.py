"""Couplers recognised, their channels with drive and load networks, and the sides of the netlist.

In: a circuit, facts and part records. Out: `Interfaces`. Knows nothing of worst case or rules; asks the circuit only
through its query API. networkx lives here and is loaded only for a netlist in which sides are joined.
"""

from isolint.interfaces.channels import find_channels, find_unused
from isolint.interfaces.entities import Channel, Interfaces, Network, Part, Recognition, Separation
from isolint.interfaces.grounds import Grounds
from isolint.interfaces.recognise import Classifier, recognise
from isolint.interfaces.walk import Walker

__all__ = [
    "Channel",
    "Classifier",
    "Grounds",
    "Interfaces",
    "Network",
    "Part",
    "Recognition",
    "Separation",
    "Walker",
    "find_channels",
    "find_unused",
    "recognise",
]

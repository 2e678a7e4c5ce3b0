"""A subcircuit as a network of devices, and its operating point with sources at its ports.

In: one `.subckt` with what it calls. Out: its devices, voltages and currents at rest, and which card stands in the way
where something can't be computed. Knows nothing of couplers, records or boards: who asks says what drives which port.
"""

"""A netlist linter for isolated interfaces: couplers, their drive and load networks, and what separates the sides."""

__version__ = "0.1.0"

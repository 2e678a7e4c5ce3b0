"""Worked examples from outside: netlist in, evidence out. The table says which are published, derived or bands."""

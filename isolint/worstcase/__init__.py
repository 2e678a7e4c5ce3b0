"""Device equations, operating points and extreme values.

In: small networks with SI numbers, ranges of their parameters, temperatures in degrees Celsius.
Out: voltages, currents, intervals, each end with the corner where it was found; or why there is none, in circuit
words. Plain Python. Knows nothing of netlist files, rules or reports.
"""

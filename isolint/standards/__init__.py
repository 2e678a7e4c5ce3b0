"""Published tables with the key of their source.

In: nothing but numbers asked for. Out: numbers of standards and handbooks. Knows nothing of circuits or rules.
"""

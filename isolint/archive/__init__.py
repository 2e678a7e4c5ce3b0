"""Archives: folders of many netlists judged once and again, and the record of it that a reviewer signs.

In: folders. Out: a store (SQLite) that holds for each file what it is, and for each netlist what was found; from a
store the record as pages, and the difference of two stores. A netlist is judged by `app` in a process of its own, seen
through a tree that writes down what was asked of it: as long as all answers stay the same, nothing is judged again.
"""

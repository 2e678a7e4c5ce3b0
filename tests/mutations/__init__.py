"""Small changes to the package that the tests must notice.

`python -m tests.mutations` applies each row of `listed.py` to a copy of the tree, runs the tests that the row names and
leaves with 1 if one of them survives; `--seeded N` draws the changes by rule (`drawn.py`) instead. A row whose text no
longer stands in its file is an error: give it the new text, or another row of the same kind in its place.
"""

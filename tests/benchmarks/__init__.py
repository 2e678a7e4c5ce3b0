"""Benchmarks: ratios between two commands measured in one run, each with its limit.

`python -m tests.benchmarks` prints the table with machine and date and leaves with 1 if a ratio is over its limit.
Ratios travel between machines, milliseconds don't. A new row is one entry in `rows.py`.
"""

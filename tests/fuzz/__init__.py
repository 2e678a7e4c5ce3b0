"""Coverage-guided fuzzing: mutated fixtures against reading, elaboration, sides and settings.

`python -m tests.fuzz netlist --seconds 1800` and `python -m tests.fuzz settings --seconds 1800`. Only our own
exceptions may come out, and nothing may hang. What a run finds becomes a fixture in tests/fuzz/found/, which the
ordinary tests replay.
"""

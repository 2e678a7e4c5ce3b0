"""Rules are run here: what a rule is, what it may ask for, the engine, verdicts, waivers.

In: interfaces, facts and a list of rules. Out: results in order. Knows no single rule; computed quantities come from
worstcase/, and rules get at them only through the `Context`.
"""

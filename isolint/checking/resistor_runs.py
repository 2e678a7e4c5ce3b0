"""Resistance of what lies in series on a way, each run of resistors with those parallel to it.

In: elements of a way. Out: ohms, and the tolerances that they rest on.
"""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.worstcase.uncertain import Setting, Term

MOST_NETS = 64
"""A run with more nets beside it counts as it stands, without what is parallel to it."""

LEAST_OHMS = 1e-9
"""What a link of 0 ohm counts as."""


def ohms(
    context: Context, elements: tuple[int, ...], setting: Setting, largest: bool
) -> tuple[float, tuple[Term, ...]]:
    """The resistors among some elements in series, and the tolerances that it rests on."""
    resistors = [e for e in elements if context.circuit.letter(e) == "R" and context.lookup.ohms(e) is not None]
    total, terms = 0.0, dict[Term, None]()
    for run in _runs(context, resistors):
        ends = _ends(context, run)
        network = run if ends is None else _parallel(context, run, *ends)
        values = {}
        for element in network:
            spread, value = context.lookup.tolerance(element), context.lookup.ohms(element) or 0.0
            low, high = setting.range(spread)
            values[element] = value * (1.0 + (high if largest else low))
            terms[spread] = None
        if ends is None or len(network) == len(run):
            total += sum(values.values())
        else:
            total += _between(context, values, *ends)
    return total, tuple(terms)


def _runs(context: Context, resistors: list[int]) -> list[list[int]]:
    """The resistors by what hangs together: a way leads through several runs where something else lies between."""
    runs: list[tuple[set[int], list[int]]] = []
    for element in resistors:
        nets = set(context.circuit.pins(element)[:2])
        joined = [run for run in runs if run[0] & nets]
        runs = [run for run in runs if not run[0] & nets]
        runs.append((nets.union(*(run[0] for run in joined)), [e for run in joined for e in run[1]] + [element]))
    return [run for _, run in runs]


def _ends(context: Context, run: list[int]) -> tuple[int, int] | None:
    """The nets at which a chain begins and ends; None where it is no chain."""
    met: dict[int, int] = {}
    for element in run:
        for net in context.circuit.pins(element)[:2]:
            met[net] = met.get(net, 0) + 1
    ends = [net for net, times in met.items() if times == 1]
    return (ends[0], ends[1]) if len(ends) == 2 and max(met.values()) <= 2 else None


def _parallel(context: Context, run: list[int], first: int, last: int) -> list[int]:
    """The run, and all resistors on other ways between its ends that lead over nets which nothing holds."""
    circuit = context.circuit
    seen, waiting, found = {first}, [first], dict.fromkeys(run)
    while waiting:
        net = waiting.pop()
        for element, _ in circuit.elements_at(net):
            if circuit.letter(element) != "R" or context.lookup.ohms(element) is None:
                continue
            (far,) = [other for other in circuit.pins(element)[:2] if other != net] or [net]
            if far not in (first, last) and context.lookup.walker.held(far) is not None:
                continue
            found[element] = None
            if far not in seen:
                if len(seen) >= MOST_NETS:
                    return run
                seen.add(far)
                if far != last:
                    waiting.append(far)
    return _without_dead_ends(context, list(found), first, last)


def _without_dead_ends(context: Context, network: list[int], first: int, last: int) -> list[int]:
    while True:
        met: dict[int, int] = {}
        for element in network:
            for net in context.circuit.pins(element)[:2]:
                met[net] = met.get(net, 0) + 1
        kept = [e for e in network if all(met[net] > 1 or net in (first, last) for net in context.circuit.pins(e)[:2])]
        if len(kept) == len(network):
            return kept
        network = kept


def _between(context: Context, values: dict[int, float], first: int, last: int) -> float:
    """Volts between the ends of a network of resistors that carries 1 A: Kirchhoff's sums, eliminated net by net."""
    flows: dict[int, dict[int, float]] = {}
    for element, value in values.items():
        one, other = context.circuit.pins(element)[:2]
        if one == other:
            continue
        siemens = 1.0 / max(value, LEAST_OHMS)
        for net, far in ((one, other), (other, one)):
            row = flows.setdefault(net, {})
            row[far] = row.get(far, 0.0) + siemens
    # Star to mesh: a net in between is replaced by what it joins.
    for net in [net for net in flows if net not in (first, last)]:
        row = flows.pop(net)
        total = sum(row.values())
        for far in row:
            del flows[far][net]
        for far, conducts in row.items():
            for near, beside in row.items():
                if far != near:
                    flows[far][near] = flows[far].get(near, 0.0) + conducts * beside / total
    return 1.0 / flows[first][last]

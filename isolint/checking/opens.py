"""One missing fact gives one open result.

In: results in the order of the rules. Out: the same, of all open results that wait for one fact the first one
carrying it and the others notApplicable, naming it. Facts are the same when file and key agree, or the line to write
does, or they ask for the same key of different nets or elements.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.checking.wildcards import family, gathered
from isolint.circuit import Circuit
from isolint.results import INTERNAL, LEVELS, Result


def merge_opens(results: Sequence[Result], circuit: Circuit) -> list[Result]:
    """Merge open results; the carrier lists what waits for it and counts as the most serious of them.

    Of the results of the carrier's rule the one with least margin carries.
    """
    results = _worst_first(results)
    carriers: dict[str, int] = {}
    waiting: dict[int, list[Result]] = {}
    merged: list[Result] = []
    for result in results:
        if result.kind != "open" or result.role == INTERNAL:
            merged.append(result)
            continue
        keys = _keys(result)
        carrier = next((carriers[key] for key in keys if key in carriers), None)
        for key in keys:
            carriers.setdefault(key, len(merged) if carrier is None else carrier)
        if carrier is None:
            merged.append(result)
            continue
        first = merged[carrier]
        what = f"waits for the fact that {first.rule} asks for" if first.missing else f"is open like {first.rule}"
        on = "" if first.subject == result.subject else f" on {first.subject}"
        text = f"{result.subject}: {what}{on}"
        merged.append(
            result._replace(
                kind="notApplicable",
                message=text,
                blocked_by=first.rule,
                missing=(),
                remedy="",
                counts_as="none",
            )
        )
        waiting.setdefault(carrier, []).append(result)
    for carrier, others in waiting.items():
        merged[carrier] = _carrying(merged[carrier], others, circuit)
    return merged


def _worst_first(results: Sequence[Result]) -> list[Result]:
    """The results, in each rule and family of facts the open one with least margin in front of the others."""
    best: dict[tuple[str, str], int] = {}
    for at, result in enumerate(results):
        if result.kind == "open" and result.missing and result.margin is not None:
            key = (result.rule, family(result.missing[0]))
            first = results[best[key]].margin if key in best else None
            if key[1] and (first is None or result.margin.value < first.value):
                best[key] = at
    front = dict.fromkeys(sorted(best.values()))
    order: list[Result] = []
    for at, result in enumerate(results):
        key = (result.rule, family(result.missing[0]) if result.kind == "open" and result.missing else "")
        leader = best.get(key)
        if leader is not None and leader in front and at <= leader:
            del front[leader]
            order.append(results[leader])
        if at != leader:
            order.append(result)
    return order


def _keys(result: Result) -> list[str]:
    """What two open results must share to be one."""
    facts = [
        text.casefold()
        for fact in result.missing
        for text in (f"{fact.file} {fact.key}", fact.example and f"{fact.file} {fact.example}", family(fact))
        if text
    ]
    # Nothing to state: the same reason on the same subject is said once; where a card is the cure, on every subject.
    reason = result.message.partition(": not judged: ")[2]
    about = "" if reason and result.remedy else result.subject
    return facts or [f"reason {about} {reason or result.message}"]


def _carrying(first: Result, others: Sequence[Result], circuit: Circuit) -> Result:
    own = [
        f"{other.rule} ({other.role})" if other.rule == first.rule and other.role else other.rule
        for other in others
        if other.subject == first.subject
    ]
    elsewhere = [f"{other.rule} ({other.subject})" for other in others if other.subject != first.subject]
    listed = ", ".join(dict.fromkeys((*own, *elsewhere)))
    why = "waiting for the same fact" if first.missing else "open for the same reason"
    level = max((first.counts_as, *(other.counts_as for other in others)), key=LEVELS.index)
    own_families = {family(fact) for fact in first.missing} - {""}
    alike = [fact for other in others for fact in other.missing if family(fact) in own_families]
    missing = gathered((*first.missing, *alike), circuit)
    return first._replace(message=f"{first.message}; {why}: {listed}", counts_as=level, missing=missing)

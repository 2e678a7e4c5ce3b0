"""One missing fact gives one open result.

In: results in the order of the rules. Out: the same, of all open results that wait for one fact the first one
carrying it and the others notApplicable, naming it. Facts are the same when file and key agree, or the line to write
does.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.results import INTERNAL, LEVELS, Result


def merge_opens(results: Sequence[Result]) -> list[Result]:
    """Merge open results; the carrier lists what waits for it and counts as the most serious of them."""
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
        merged[carrier] = _carrying(merged[carrier], others)
    return merged


def _keys(result: Result) -> list[str]:
    """What two open results must share to be one."""
    facts = [
        text.casefold()
        for fact in result.missing
        for text in (f"{fact.file} {fact.key}", f"{fact.file} {fact.example}")
    ]
    # Nothing to state: the same reason on the same subject is said once; where a card is the cure, on every subject.
    reason = result.message.partition(": not judged: ")[2]
    about = "" if reason and result.remedy else result.subject
    return facts or [f"reason {about} {reason or result.message}"]


def _carrying(first: Result, others: Sequence[Result]) -> Result:
    own = [other.rule for other in others if other.subject == first.subject]
    elsewhere = [f"{other.rule} ({other.subject})" for other in others if other.subject != first.subject]
    listed = ", ".join(dict.fromkeys((*own, *elsewhere)))
    why = "waiting for the same fact" if first.missing else "open for the same reason"
    level = max((first.counts_as, *(other.counts_as for other in others)), key=LEVELS.index)
    return first._replace(message=f"{first.message}; {why}: {listed}", counts_as=level)

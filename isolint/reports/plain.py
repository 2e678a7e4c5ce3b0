"""What a verdict rests on as plain JSON values, for all formats that are JSON."""

from __future__ import annotations

import math
from typing import TypeAlias

from isolint.results import Assumption, Evidence, Result

Json: TypeAlias = bool | int | float | str | list["Json"] | dict[str, "Json"] | None


def number(value: float | None) -> float | None:
    """Null for unknown, and for what JSON can't hold."""
    return value if value is not None and math.isfinite(value) else None


def numbers(result: Result) -> dict[str, Json]:
    """What a verdict rests on: evidence, margin, assumptions, missing facts, cure."""
    return {
        "evidence": [_evidence(evidence) for evidence in result.evidence],
        "margin": _margin(result),
        "measure": _measure(result),
        "assumptions": [_assumption(assumption) for assumption in result.assumptions],
        "missing": [{"file": fact.file, "key": fact.key, "example": fact.example} for fact in result.missing],
        "remedy": result.remedy or None,
    }


def _evidence(evidence: Evidence) -> dict[str, Json]:
    limit: dict[str, Json] | None = None
    if evidence.limit is not None:
        limit = {evidence.limit.sense: number(evidence.limit.value)}
    return {
        "name": evidence.name,
        "symbol": evidence.symbol or None,
        "unit": evidence.unit,
        "min": number(evidence.min),
        "nominal": number(evidence.nominal),
        "max": number(evidence.max),
        "limit": limit,
        "corners": {end: evidence.corners.get(end) for end in ("min", "max")},
        "formula": evidence.formula or None,
        "source": evidence.source or None,
    }


def _measure(result: Result) -> dict[str, Json] | None:
    if result.kind != "fail" or result.measure is None:
        return None
    return {"value": number(result.measure.value), "larger_is_worse": result.measure.larger_is_worse}


def _margin(result: Result) -> dict[str, Json] | None:
    if result.margin is None:
        return None
    return {"value": number(result.margin.value), "required": number(result.margin.required)}


def _assumption(assumption: Assumption) -> dict[str, Json]:
    return {
        "name": assumption.name,
        "value": assumption.value,
        "unit": assumption.unit or None,
        "origin": assumption.origin,
        "flips_at": number(assumption.flips_at),
    }

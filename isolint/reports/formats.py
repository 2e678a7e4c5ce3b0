"""The formats of a report by name. A format is loaded when it is asked for: a hook pays for the one it prints."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Final, cast

from isolint.results import Report

FORMATS: Final = ("text", "json", "sarif", "sarif-active", "junit", "markdown", "codequality", "annotations")
"""All names, in the order in which help lists them."""

_FUNCTIONS: Final = {"sarif-active": ("sarif", "render_active")}


def render(form: str, report: Report, passes: bool = False) -> str:
    """Write `report` in the format named `form`; `passes` is for text only, the others decide for themselves."""
    module, function = _FUNCTIONS.get(form, (form, "render"))
    write = cast(Callable[..., str], getattr(import_module(f"isolint.reports.{module}"), function))
    return write(report, passes=passes) if form == "text" else write(report)

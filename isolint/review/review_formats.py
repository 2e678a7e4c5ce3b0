"""The formats of a review by name; one is loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Final, cast

from isolint.review.values import Review

FORMATS: Final = ("text", "json", "markdown", "sarif-active", "html")


def render(form: str, review: Review) -> str:
    """Write a review in a format."""
    module = import_module(f"isolint.review.review_{form.partition('-')[0]}")
    return cast(Callable[[Review], str], module.render)(review)

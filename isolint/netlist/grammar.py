"""Finds the grammars, wherever the package runs from, and builds each parser once, when it is first needed.

The grammars are data beside the package in a checkout and `isolint/grammars` in a wheel. Lark's own cache is never
used: it unpickles a file at a predictable place.
"""

from __future__ import annotations

import importlib
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from isolint.errors import IsolintError

if TYPE_CHECKING:
    from lark import Lark

_CHECKOUT = Path(__file__).resolve().parents[2] / "grammars"


def grammar_text(name: str) -> str:
    """Give the text of the grammar `name` ("cards", "dots", "expression").

    Installed and editable packages carry it as `isolint/grammars`; a bare checkout has it in `grammars/`.
    """
    file = f"{name}.lark"
    beside = Path(__file__).resolve().parents[1] / "grammars" / file
    for path in (beside, _CHECKOUT / file):
        if path.is_file():
            return path.read_text(encoding="utf-8")
    try:
        package = importlib.import_module("isolint.grammars")
        return resources.files(package).joinpath(file).read_text(encoding="utf-8")
    except (ModuleNotFoundError, FileNotFoundError):
        raise IsolintError(
            f"the grammar {file} is missing from this installation", cure="install isolint again"
        ) from None


def build(name: str, starts: tuple[str, ...], transformer: Any) -> Lark:
    """Build the LALR parser of the grammar `name`; `transformer` works while it parses, so no tree is kept."""
    from lark import Lark

    return Lark(
        grammar_text(name), parser="lalr", start=list(starts), transformer=transformer, maybe_placeholders=False
    )

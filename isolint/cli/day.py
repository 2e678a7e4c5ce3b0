"""The option `--today`: a day, in the one form that reads alike everywhere."""

from __future__ import annotations

from datetime import date

import click


def read_day(context: click.Context, option: click.Parameter, text: str | None) -> date | None:
    """Read a day as 2027-06-30; raise `BadParameter` with the form that is wanted."""
    if text is None:
        return None
    try:
        if len(text) != len("2027-06-30"):
            raise ValueError
        return date.fromisoformat(text)
    except ValueError:
        wanted = f"{text!r} is no day; write year, month and day as 2027-06-30"
        raise click.BadParameter(wanted, context, option) from None

"""Available over required output current of one channel, per temperature, and the worst of them.

In: the analysed drive and load of a channel in one setting. Out: a `TransferRows`. The corner is taken at one
temperature: the LED current and the ratio factors belong together.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.worstcase.base import BaseTheft
from isolint.worstcase.drive import Drive
from isolint.worstcase.load import Load
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.transfer import Available, TransferAnalyser
from isolint.worstcase.uncertain import Term, unique

NO_MARGIN = 1e9


class TransferRow(NamedTuple):
    """One temperature: what is available, what is required, and the output voltage left, in SI units."""

    temperature: float
    available: Available
    required: float
    required_corner: str
    voltage: float
    led_corner: str

    @property
    def margin(self) -> float:
        """Available over required."""
        return self.available.current / self.required if self.required > 0.0 else NO_MARGIN


class TransferRows(NamedTuple):
    """All temperatures of a channel with the worst row."""

    rows: tuple[TransferRow, ...]
    worst: TransferRow
    terms: tuple[Term, ...]


def transfer(
    drive: Drive, load: Load, analyser: TransferAnalyser, base: BaseTheft | None, stress: float
) -> TransferRows:
    """The transfer margin at each temperature; `Lacking` when a factor is not known.

    base: what a circuit at the part's base pin takes, None where the pin is open. stress: LED current that ages it,
    amperes.
    """
    rows: list[TransferRow] = []
    for at, need in zip(drive.by_temperature, load.rows, strict=True):
        if at.low.value <= NO_CURRENT:
            # No curve reaches down to nothing, and nothing is what an LED without current gives.
            available = Available(0.0, "no LED current", 0.0, at.temperature, (), ())
        else:
            available = analyser.available(at.low.value, stress, at.temperature, need.voltage.value)
            available = available if base is None else base.reduced(available)
        required, voltage = need.required, need.voltage.value
        rows.append(TransferRow(at.temperature, available, required.value, required.corner, voltage, at.low.corner))
    worst = min(rows, key=lambda row: row.margin)
    terms = unique([*drive.terms, *load.terms, *(term for row in rows for term in row.available.terms)])
    return TransferRows(tuple(rows), worst, terms)

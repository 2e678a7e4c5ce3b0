"""24 V input types (key `iec-61131-2`)."""

from __future__ import annotations

import pytest

from isolint.standards.inputs import TYPES, input_type


@pytest.mark.parametrize("text", ["IEC 61131-2 type 1", "iec 61131-2, type 1", "61131-2 1", "IEC 61131-2 Type 1 "])
def test_a_type_is_read_as_people_write_it(text: str) -> None:
    assert input_type(text) is TYPES[1]


@pytest.mark.parametrize("text", ["", "IEC 61131-2", "IEC 61131-2 type 4", "EN 50178 type 1", "IEC 61131-2 type 11"])
def test_another_standard_is_none(text: str) -> None:
    assert input_type(text) is None


def test_thresholds_and_currents_of_the_types() -> None:
    assert [(t.on_volts, t.on_amps, t.off_amps, t.most_amps) for t in TYPES.values()] == [
        (15.0, 2e-3, 0.5e-3, 15e-3),
        (11.0, 6e-3, 2e-3, 30e-3),
        (11.0, 2e-3, 1.5e-3, 15e-3),
    ]
    assert {t.off_volts for t in TYPES.values()} == {5.0}

"""Series of type numbers. Their patterns stand in the one data file; here stand invented series only."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from isolint import recognition, types
from isolint.recognition import Hint, series
from tests.recognition.invented_series import invented

__all__ = ["invented"]

FILE = Path(recognition.__file__).parent / "series.toml"


@pytest.mark.usefixtures("invented")
def test_a_name_is_matched_from_its_start_without_case_and_up_to_a_character_that_is_no_digit() -> None:
    orders = (("anode", "cathode", "collector", "emitter"), ("anode", "cathode", "emitter", "collector"))
    assert series.hint_of("demo4n5-X", 4) == Hint("phototransistor", orders=orders)
    assert series.hint_of("DEMO4N55", 4) is None
    assert series.hint_of("MYDEMO4N5", 4) is None


@pytest.mark.usefixtures("invented")
def test_fewer_than_four_pins_are_no_coupler_and_a_row_may_want_a_number_of_pins() -> None:
    assert series.hint_of("DEMO4N5", 3) is None
    assert series.hint_of("DEMO9A", 4) is None
    found = series.hint_of("DEMO9A", 5)
    assert found is not None
    assert found.orders == (("anode", "cathode", "gnd", "out", "vcc"),)


@pytest.mark.usefixtures("invented")
def test_free_pins_are_numbered_and_a_row_may_be_for_alternating_current() -> None:
    found = series.hint_of("DEMO4N7", 6)
    assert found is not None
    assert found.orders == (("anode", "cathode", "nc1", "nc2", "collector", "emitter"),)
    assert found.bidirectional
    assert series.hint_of("DEMOWORDS", 4) == Hint("", is_word=True)


def test_the_data_file_is_sound() -> None:
    rows = tomllib.loads(FILE.read_text(encoding="utf-8"))["series"]
    assert len(rows) > 30
    known = {*types.NAMES, "", "photo-fet"}
    for row in rows:
        assert row["type"] in known
        re.compile(row["match"])
        for count, orders in row.get("pins", {}).items():
            assert all(len(order.split()) == int(count) for order in orders)
    assert len(series._rows()[1]) == len(rows)
    assert all(series._named(order) for row in rows for orders in row.get("pins", {}).values() for order in orders)


def test_every_order_of_pins_has_names_that_the_type_knows() -> None:
    from isolint.parts import role_of

    for row in series._rows()[1]:
        if row.type in types.NAMES:
            for orders in row.pins.values():
                for order in orders:
                    names = series._named(order)
                    assert len(set(names)) == len(names), names
                    assert all(role_of(name, row.type) for name in names), (row.type, names)

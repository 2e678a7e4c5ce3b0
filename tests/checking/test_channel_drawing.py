"""What is drawn of a channel: also of an output that no receiver reads, whose load is switched or driven."""

from __future__ import annotations

import re
from functools import cache

import pytest

from isolint.checking.calculation import sheet
from isolint.checking.channel_drawing import channel_sheet
from isolint.drawn import ChannelSheet, DrawnElement, NetLevel, NetworkSheet
from isolint.errors import Place
from isolint.preparing import prepare
from isolint.reports.schematic import schematic
from isolint.source import FolderTree
from tests.support import FIXTURES

RULES = FIXTURES / "rules"


@cache
def drawn(path: str) -> ChannelSheet:
    """The first channel of an example."""
    context, _ = prepare(FolderTree(RULES), path, "")
    return channel_sheet(context, context.channels[0])


def names(network: NetworkSheet) -> set[str]:
    return {element.name for element in network.elements}


def test_what_a_switch_switches_is_drawn_with_its_thyristor_its_snubber_and_the_load_of_the_settings() -> None:
    load = drawn("snubber-missing/passes.cir").load
    assert names(load) >= {"R2", "XT1", "R3", "C1", "load PUMP", "XU1"}
    (pump,) = (element for element in load.elements if element.letter == "load")
    assert pump.nets == ("PUMP", "N") and pump.what == "motor"
    assert {"PUMP", "N", "G", "L"} <= {level.name for level in load.nets}
    assert re.fullmatch(r"open: 358 V peak across it at most from L; closed: its load takes .* A rms", load.corner)
    assert load.why == ""
    assert set(load.elements[-1].nets) == {"T1", "G"}


def test_a_direct_load_has_no_peak() -> None:
    load = drawn("output-voltage-exceeded/coil/fails.cir").load
    assert "open: 26.4 V across it at most from V24B" in load.corner and "rms" not in load.corner


def test_the_gate_behind_a_driver_is_drawn_with_its_voltage() -> None:
    load = drawn("supply-out-of-range/fails.cir").load
    assert names(load) >= {"R2", "R3", "M1", "XU1"}
    assert load.corner == "gate of M1: 8.82 V at least while on, 9.18 V at most"


def test_the_gate_behind_a_photovoltaic_output_lies_between_its_two_pins() -> None:
    load = drawn("gate-drive-low/passes.cir").load
    assert load.why == "" and load.corner.startswith("gate of ")
    assert len(load.elements[-1].nets) == 2


def test_a_gate_driver_that_guarantees_a_low_level_has_a_calculation_sheet() -> None:
    context, _ = prepare(FolderTree(RULES), "supply-out-of-range/fails.cir", "")
    assert not [section.crashed for section in sheet(context, context.channels[0]) if section.crashed]


def test_names_stand_beside_boxes_however_broad_they_are() -> None:
    for own in (DrawnElement("XU1", "output", "", ("a", "b", "c")), DrawnElement("XU1", "load", "motor", ("a", "b"))):
        network = NetworkSheet(tuple(NetLevel(net, None) for net in "abc"), (own,), "x")
        found = schematic(ChannelSheet("XU1", "phototriac", "DEMO", Place("b.cir", 1), network, network))
        box = re.search(r'<rect x="(\d+)" y="\d+" width="(\d+)" height="22"', found)
        name = re.search(r'<text x="(\d+)"[^>]*>XU1<', found)
        assert box and name
        assert int(box[1]) + int(box[2]) < int(name[1])


@pytest.mark.parametrize("path", ["load-missing/fails.cir", "led-overdriven/fails.cir"])
def test_what_the_solver_follows_is_drawn_as_solved(path: str) -> None:
    sheet = drawn(path)
    assert sheet.drive.corner and not sheet.drive.why

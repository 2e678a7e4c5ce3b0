"""Every line of every worksheet is redone from its printed numbers; one small board's sheet is compared whole."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from isolint.checking.barrier_sheet import barrier_sections
from isolint.checking.calculation import sheet
from isolint.checking.context import Context
from isolint.preparing import prepare
from isolint.reports import worksheet_text as report
from isolint.results import WorksheetSection
from isolint.source import FolderTree, MemoryTree
from tests.arithmetic import PrintedLine, evaluate, operators, read
from tests.support import FIXTURES, of_netlist

NETLISTS = sorted(path for path in FIXTURES.rglob("*.cir"))
SMALL = Path(__file__).with_name("small.worksheet.txt")

FACTS = """
top = true
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "3.3 V"
tolerance = "3 %"
ground = "GNDB"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "4 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[inputs."OUT"]
supply = "VB"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
tempco = "100 ppm/K"
"""
BOARD = "* small board\nR1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 4.7k\n.end\n"


def prepared(netlist: str, facts: str = FACTS, **files: str) -> Context:
    """The context of a netlist in memory."""
    tree = MemoryTree({"board.cir": netlist, "isolint.toml": facts, **files})
    return prepare(tree, "board.cir", "")[0]


def sections(context: Context) -> list[WorksheetSection]:
    return [section for channel in context.channels for section in sheet(context, channel)]


@cache
def of_file(path: Path) -> tuple[WorksheetSection, ...]:
    """All sections of a fixture, facts taken from its folder up to fixtures/."""
    context, _ = prepare(FolderTree(FIXTURES), path.relative_to(FIXTURES).as_posix(), "")
    return tuple(sections(context))


def lines(
    found: tuple[WorksheetSection, ...] | list[WorksheetSection],
) -> Iterator[tuple[WorksheetSection, PrintedLine]]:
    for section in found:
        for line in section.lines:
            yield section, read(line.text)


def redo(line: PrintedLine) -> None:
    """The printed numbers give the printed result within rounding, and formula and numbers are alike in shape."""
    value = evaluate(line.numbers)
    # Seven digits stand in the numbers; a difference of large numbers is known no better than they are.
    largest = max((abs(float(n)) for n in re.findall(r"\d+\.?\d*(?:e[-+]?\d+)?", line.numbers)), default=0.0)
    sums = set(operators(line.numbers)) <= {"+", "-", "(", ")"}
    room = line.step + (1e-6 * largest if sums else 2e-6 * abs(value))
    assert abs(value - line.value) <= room, f"{line}: {value}"
    assert operators(line.formula) == operators(line.numbers), line


@pytest.mark.parametrize("path", [*map(of_netlist, NETLISTS)])
def test_each_line_of_each_worksheet_can_be_redone(path: Path) -> None:
    for _, line in lines(of_file(path)):
        redo(line)


BARRIERS = [path for path in NETLISTS if {"boards", "distance-short", "transient-rating-low"} & set(path.parts)]


@pytest.mark.parametrize("path", [*map(of_netlist, BARRIERS)])
def test_each_line_about_a_barrier_can_be_redone(path: Path) -> None:
    context, _ = prepare(FolderTree(FIXTURES), path.relative_to(FIXTURES).as_posix(), "")
    found = list(barrier_sections(context))
    for _, line in lines(found):
        redo(line)
    stated = any(fact.insulation is not None for fact in context.facts.barriers)
    assert not stated or any(section.lines for section in found) or "functional" in str(context.facts.statements())


def test_the_requirements_of_a_barrier_stand_with_their_rows() -> None:
    """Derived: sqrt2 (230 + 1200) 2 = 4044.7 V; 1.5 mm doubled by the next step; 2.5 mm of creepage doubled."""
    path = FIXTURES / "boards/motor-drive/sound/board.cir"
    context, _ = prepare(FolderTree(FIXTURES), path.relative_to(FIXTURES).as_posix(), "")
    (section,) = barrier_sections(context)
    by_name = {line.name: line for line in map(read, (line.text for line in section.lines))}
    assert by_name["U_temporary"].value == pytest.approx(4044.7, rel=1e-4)
    assert by_name["U_impulse"].value == pytest.approx(6000.0)
    assert by_name["CLR"].value == pytest.approx(5.5e-3)
    assert by_name["CPG of group I"].value == pytest.approx(5.7e-3, rel=1e-3)
    assert any("table F.5" in line.origin for line in section.lines)
    assert "does not carry here" in section.title
    assert "partial discharge" in section.title


@pytest.mark.parametrize("path", [of_netlist(path) for path in NETLISTS if "sound" in path.parts])
def test_the_worksheet_of_a_sound_board_has_lines_for_every_channel(path: Path) -> None:
    titles = [section.title for section in of_file(path) if section.lines]
    transistors = any(
        word in section.title for section in of_file(path) for word in (": phototransistor", ": photodarlington")
    )
    transfers = (" transfer",) if transistors else ()
    for what in (" drive, nominal", " drive, smallest", " drive, largest", " load", *transfers):
        assert any(what in title for title in titles), what
    unjudged = [section.title for section in of_file(path) if "not judged" in section.title]
    assert [title for title in unjudged if not title.endswith("used as feedback, not as a switch")] == []


@pytest.mark.parametrize("path", [*map(of_netlist, NETLISTS)])
def test_each_operating_point_closes_its_loop(path: Path) -> None:
    for section, line in lines(of_file(path)):
        if line.name == "loop":
            assert " drive, " in section.title
            first = evaluate(line.numbers.split(" - ")[0])
            largest = max(abs(evaluate(part)) for part in line.numbers.split(" - "))
            assert abs(evaluate(line.numbers)) <= 1e-3 * max(abs(first), largest), line


@pytest.mark.parametrize("path", [*map(of_netlist, NETLISTS)])
def test_every_drive_section_has_a_loop_or_a_dark_led(path: Path) -> None:
    for section in of_file(path):
        if section.lines and " drive, " in section.title:
            names = [read(line.text).name for line in section.lines]
            assert "loop" in names or "IF" in names, section.title


def test_the_led_current_of_the_loop_is_that_of_the_transfer() -> None:
    found = sections(prepared(BOARD, FACTS.replace('["0 degC", "60 degC"]', '["0 degC", "1 degC"]')))
    smallest = next(s for s in found if "smallest" in s.title)
    current = next(read(line.text) for line in smallest.lines if line.text.startswith("IF ="))
    product = next(line for _, line in lines(found) if line.name == "IC_available")
    assert evaluate(product.numbers.split(" * ")[0]) == pytest.approx(current.value, rel=1e-4)


def test_a_corner_is_redone_from_the_stated_values_alone() -> None:
    """4.4 V guaranteed up to 4 mA; above it the line from 4.75 V through that point: 87.5 ohm."""
    largest = next(s for s in sections(prepared(BOARD)) if "smallest" in s.title)
    by_name = {line.name: line for line in map(read, (line.text for line in largest.lines))}
    amps, ohms = by_name["IF"].value, 470 * 1.01 * (1 + 100e-6 * 25)
    vf = 1.4 - 1.5e-3 * (0 - 25)
    assert amps == pytest.approx((4.75 - vf) / (ohms + 87.5), rel=1e-4)
    assert by_name["V_guaranteed(DRIVE)"].value == pytest.approx(4.75 - 87.5 * amps, rel=1e-4)
    assert by_name["VF"].value == pytest.approx(vf, rel=1e-4)


def test_a_logic_output_gets_its_load_lines_too() -> None:
    netlist = "* logic output\nR1 DRIVE A 390\nXU1 A GND VB OUT GNDB DEMO_LO1\nR2 VB OUT 2.2k\nC1 VB GNDB 100n\n.end\n"
    found = sections(prepared(netlist))
    by_name = {line.name: line for _, line in lines(found)}
    low = prepared(netlist).channels[0].part.record
    assert low is not None and low.output.low_level is not None and low.output.low_level.max is not None
    cold = 2200 * 0.99 * (1 - 100e-6 * 25)
    hot = 2200 * 0.99 * (1 - 100e-6 * 35)
    assert by_name["IOL"].value == pytest.approx((3.399 - low.output.low_level.max) / min(cold, hot) + 1e-6, rel=1e-4)


def test_a_channel_that_can_not_be_computed_says_why() -> None:
    found = sections(prepared(BOARD.replace("R1 DRIVE A 470", "R1 NOWHERE A 470")))
    assert [s.title for s in found if "not judged" in s.title] == [
        "XU1 drive: not judged: nothing in this netlist drives net NOWHERE",
        "XU1 transfer: not judged: nothing in this netlist drives net NOWHERE",
    ]


def test_names_with_signs_and_parentheses_do_not_break_a_line() -> None:
    netlist = BOARD.replace("VB", "+3V3(B)").replace(" A", " /in(a)=1")
    facts = FACTS.replace('"VB"', '"+3V3(B)"')
    for _, line in lines(sections(prepared(netlist, facts))):
        redo(line)


def test_the_whole_sheet_of_a_small_board_reads_as_agreed() -> None:
    text = report.render(sections(prepared(BOARD)))
    assert text == SMALL.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 + 2 * 3", 7.0),
        ("(1 + 2) * 3", 9.0),
        ("2 ^ 3 ^ 2", 512.0),
        ("10 - 4 - 3", 3.0),
        ("12 / 4 / 3", 1.0),
        ("min(3, 1 + 1)", 2.0),
        ("ln(exp(2))", 2.0),
        ("(-1.5e-3) * (25 - (-10))", -0.0525),
    ],
)
def test_the_evaluator_of_these_tests_is_right(text: str, value: float) -> None:
    assert evaluate(text) == pytest.approx(value)


@pytest.mark.parametrize("text", ["1 +", "2 x 3", "a", "(1", "1 2"])
def test_the_evaluator_of_these_tests_refuses_nonsense(text: str) -> None:
    with pytest.raises((AssertionError, IndexError, ValueError)):
        evaluate(text)


def test_shapes_differ_where_operators_do() -> None:
    assert operators("V(+3V3) - I(R1) * R1") == operators("3.3 - (-0.001) * 1000") == ["-", "*"]
    assert operators("a + b") != operators("1 * 2")


def test_the_sheet_tells_the_largest_rate_and_draws_the_edge() -> None:
    found = next(section for section in sections(prepared(BOARD)) if " edges " in section.title)
    by_name = {line.name: line for line in map(read, (line.text for line in found.lines))}
    settle, lost = by_name["settle"].value, by_name["D"].value
    assert by_name["f_max"].value == pytest.approx(1.0 / max(settle, lost / 0.25), rel=1e-3)
    assert found.plot is not None
    on, off = found.plot.curves
    assert on.points[0][1] > on.marks[0][1] > on.points[-1][1]
    assert off.points[0][1] < off.marks[1][1] < off.points[-1][1]


def test_the_sheet_of_a_periodic_drive_tells_and_draws_a_period() -> None:
    facts = FACTS + '[signals."DRIVE"]\nrate = "1 kHz"\nduty = 0.25\n'
    found = next(section for section in sections(prepared(BOARD, facts)) if " period" in section.title)
    by_name = {line.name: line for line in map(read, (line.text for line in found.lines))}
    assert by_name["I_mean"].value == pytest.approx(0.25 * by_name["I_crest"].value, rel=1e-3)
    assert found.plot is not None
    last = found.plot.curves[-1]
    assert last.points[-1][0] == pytest.approx(1e-3)
    assert last.marks[0][1] == pytest.approx(float(by_name["I_required"].numbers))

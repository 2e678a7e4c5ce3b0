"""Barriers that are strong enough and that are not: a medical input, a motor drive, an instrument, two known boards."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ElementTree
from functools import cache
from pathlib import Path

import pytest

from isolint import app
from isolint.amount_held import Held
from isolint.reports import barrier_page, drawing
from isolint.results import Inventory
from tests.expectations import expectations
from tests.rules.test_insulation import RULES
from tests.support import complaints, differences, judge_file

BOARDS = Path(__file__).parents[2] / "fixtures" / "boards"
ROWS = {
    "medical-input": {
        "clearance": ("5 mm", "IEC 60601-1 ed. 3, up to 250 V rms, 2 MOPP"),
        "creepage": ("8 mm", "IEC 60601-1 ed. 3, up to 250 V rms, 2 MOPP"),
        "one-minute test": ("5.66 kV", "IEC 60601-1 ed. 3, up to 250 V rms, 2 MOPP: 4000 V rms"),
        "touch current between mains and patient": ("at most 10 uA", "key `iec-60601-1`, applied part CF"),
    },
    "motor-drive": {
        "impulse": ("6 kV", "IEC 60664-1 ed. 3 table F.1, overvoltage category 3, row 300"),
        "temporary overvoltage": ("4.05 kV", "sqrt2 (230 V + 1200 V), doubled for reinforced"),
        "clearance": ("5.5 mm", "IEC 60664-1 ed. 3 table F.2, 6000 V impulse"),
        "creepage": ("5.7 mm", "IEC 60664-1 ed. 3 table F.5, pollution degree 2, material group I, 565"),
        "slew immunity": ("18 kV/us", "slew_immunity"),
    },
    "mains-meter": {
        "impulse": ("6 kV", "IEC 60664-1 ed. 3 table F.1, overvoltage category 3, row 300"),
        "clearance": ("5.5 mm", "IEC 60664-1 ed. 3 table F.2, 6000 V impulse"),
        "creepage": ("6.4 mm", "IEC 60664-1 ed. 3 table F.5, pollution degree 2, material group III, 320"),
    },
}
"""What each sound board must hold, by which row."""
NAMES = sorted(ROWS)


def netlist(board: str, version: str) -> Path:
    return BOARDS / board / version / "board.cir"


@cache
def inventory(board: str, version: str) -> Inventory:
    path = netlist(board, version)
    return app.barrier(str(path), app.Options(root=str(path.parent)))[0]


def held(board: str, version: str) -> tuple[Held, ...]:
    (sheet,) = inventory(board, version).barriers
    return sheet.held


@pytest.mark.parametrize("board", NAMES)
def test_the_sound_board_has_no_failure_and_nothing_open(board: str) -> None:
    path = netlist(board, "sound")
    assert complaints(judge_file(path.parent, path)) == []


@pytest.mark.parametrize("board", NAMES)
def test_the_broken_board_fails_exactly_where_its_comments_say(board: str) -> None:
    path = netlist(board, "broken")
    text = path.read_text(encoding="utf-8")
    assert differences(judge_file(path.parent, path), text) == []
    assert len(expectations(text)) >= 3


@pytest.mark.parametrize("board", NAMES)
def test_each_amount_is_wanted_by_its_row(board: str) -> None:
    found = {row.name: row for row in reversed(held(board, "sound"))}
    for name, (required, row) in ROWS[board].items():
        assert found[name].required == required
        assert row in found[name].row


@pytest.mark.parametrize("board", NAMES)
def test_the_weakest_comes_first_and_what_is_short_is_told_in_every_form(board: str) -> None:
    rows = held(board, "broken")
    margins = [row.margin for row in rows if row.margin is not None and not row.required.isdecimal()]
    assert margins == sorted(margins)
    assert rows[0].verdict == "short"
    shown = inventory(board, "broken")
    texts = (
        barrier_page.render(shown),
        barrier_page.render_html(shown),
        " ".join(ElementTree.fromstring(drawing.render(shown)).itertext()),
    )
    for text in texts:
        plain = " ".join(text.split())
        assert "it certifies nothing" in plain
        assert f"{rows[0].margin:.2f}" in plain
        assert "not carried here" in plain
        assert "weakest" in plain.lower()


def test_what_rests_on_memory_says_so() -> None:
    assert any("from memory" in row.row for row in held("mains-meter", "sound"))


PARTS = "parts/demo.toml"
EDITS = [
    (
        "coffee-maker",
        PARTS,
        "[parts.DEMO_K2.insulation]",
        'creepage = "8 mm"',
        'creepage = "8 mm"\nmaterial_group = "IIIa"',
        None,
    ),
    (
        "coffee-maker",
        PARTS,
        "[parts.DEMO_K2.insulation]",
        'grade = "reinforced"',
        'grade = "basic"',
        "insulation-grade-low",
    ),
    (
        "coffee-maker",
        PARTS,
        "[parts.DEMO_PT1.insulation]",
        'working_voltage = "600 V"\nrepetitive_peak = "848 V"',
        'working_voltage = "200 V"\nrepetitive_peak = "283 V"',
        "working-voltage-exceeded",
    ),
    (
        "coffee-maker",
        PARTS,
        "[parts.DEMO_PSU5.insulation]",
        'transient = "6000 V"',
        'transient = "3900 V"',
        "transient-rating-low",
    ),
    (
        "coffee-maker",
        PARTS,
        "[parts.DEMO_PSU5.insulation]",
        'max = "0.1 mA"',
        'max = "0.2 mA"',
        "touch-current-high",
    ),
    (
        "coffee-maker",
        "isolint.toml",
        "[[barriers]]",
        'insulation = "reinforced"',
        'insulation = "basic"',
        "insulation-grade-low",
    ),
    (
        "sorting-line",
        PARTS,
        "[parts.DEMO_IS3.insulation]",
        'working_voltage = "250 V"\nrepetitive_peak = "354 V"',
        'working_voltage = "40 V"\nrepetitive_peak = "56 V"',
        "working-voltage-exceeded",
    ),
    (
        "sorting-line",
        PARTS,
        "[parts.DEMO_DI2.insulation]",
        'slew_immunity = "50 kV/us"',
        'slew_immunity = "0.5 kV/us"',
        "slew-immunity-low",
    ),
]
"""Facts of two known boards: the table, what is changed there, and the rule that must tell, None for a trap."""


@pytest.mark.parametrize(("board", "file", "table", "before", "after", "slug"), EDITS)
def test_one_changed_fact_is_told_by_its_rule(
    board: str, file: str, table: str, before: str, after: str, slug: str | None, tmp_path: Path
) -> None:
    folder = tmp_path / "board"
    shutil.copytree(BOARDS / board / "sound", folder)
    head, mark, rest = (folder / file).read_text(encoding="utf-8").partition(table)
    assert before in rest
    (folder / file).write_text(head + mark + rest.replace(before, after, 1), encoding="utf-8")
    report = judge_file(folder, folder / "board.cir")
    found = {(one.kind, one.rule) for one in report.results if one.kind in ("fail", "open") and one.rule in RULES}
    assert found == ({("fail", slug)} if slug else set())


WORKING = ("working-voltage-exceeded", "barriers[0].working_")
FUNCTIONAL = [
    ("", "", "", None, ""),
    ("[parts.DEMO_IS3.insulation]", '"250 V"\nrepetitive_peak = "354 V"', '"40 V"\nrepetitive_peak = "56 V"', *WORKING),
    ("[parts.DEMO_IS5.insulation]", '"2500 V"', '"2000 V"', "transient-rating-low", "barriers[2].withstand"),
    ("[parts.DEMO_DI2.insulation]", '"50 kV/us"', '"0.5 kV/us"', "slew-immunity-low", "slew_immunity"),
    ("[parts.DEMO_DI2.insulation]", 'creepage = "4 mm"\nclearance = "4 mm"\n', "", None, ""),
    ("[parts.DEMO_DI2.insulation]", 'grade = "basic"\n', 'grade = "functional"\n', None, ""),
]
"""Facts of records: where, what, and which rule tells by which row; None for what is not asked there."""


@pytest.mark.parametrize(("table", "before", "after", "slug", "row"), FUNCTIONAL)
def test_of_functional_insulation_what_is_stated_is_compared_and_nothing_else(
    table: str, before: str, after: str, slug: str | None, row: str, tmp_path: Path
) -> None:
    """The sorting line with nothing but low voltages on its sides: voltages, edges and the one-minute test."""
    folder = tmp_path / "board"
    shutil.copytree(BOARDS / "sorting-line" / "sound", folder)
    settings, parts = folder / "isolint.toml", folder / PARTS
    stated = settings.read_text(encoding="utf-8").replace('"basic"', '"functional"')
    settings.write_text(stated.replace("working_peak", 'withstand = "1500 V"\nworking_peak'), encoding="utf-8")
    head, mark, rest = parts.read_text(encoding="utf-8").partition(table or "[")
    assert before in rest
    parts.write_text(head + mark + rest.replace(before, after, 1), encoding="utf-8")
    report = judge_file(folder, folder / "board.cir")
    told = [one for one in report.results if one.kind in ("fail", "open") and one.rule in RULES]
    assert {(one.kind, one.rule) for one in told} == ({("fail", slug)} if slug else set())
    # Between sides that may be touched it is a note; an output that tips over is none.
    levels = {"slew-immunity-low": "error"}
    assert {one.level for one in told} == ({levels.get(slug, "note")} if slug else set())
    assert all(any(row in item.source for item in one.evidence) for one in told)
    shown = app.barrier(str(folder / "board.cir"), app.Options(root=str(folder)))[0]
    short = [line for sheet in shown.barriers for line in sheet.held if line.verdict == "short"]
    assert bool(short) == bool(slug)
    assert all(row in line.row for line in short)

"""Three boards of barriers, sound and broken: a class II appliance, a 24 V node, a measuring input with a guard."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ElementTree
from functools import cache
from pathlib import Path

import pytest

from isolint import app
from isolint.reports import barrier_page, drawing
from isolint.reports.safety import CAUTION
from isolint.results import Inventory, NetlistReport
from tests.expectations import expectations
from tests.support import complaints, differences, judge_file

BOARDS = Path(__file__).parents[2] / "fixtures" / "boards"
WHOLE = Path(__file__).with_name("strain-gauge.barrier.txt")

SIDES = {
    "coffee-maker": [("mains", "/MAINS/N", ()), ("panel", "GND", ())],
    "sorting-line": [("bus", "GNDB", ()), ("logic", "GND", ()), ("plant", "GND24", ("earth",))],
    "strain-gauge": [
        ("earth", "PE", ()),
        ("gauge", "GNDS", ("shield",)),
        ("logic", "GND", ()),
        ("thermocouple", "GNDT", ()),
    ],
}
"""Name, reference and what is bonded to it, of each side of each board."""

PATHS = {
    "coffee-maker": {("mains", "panel"): "path: /MAINS/N - R92 4.7 kohm - GND"},
    "sorting-line": {
        ("bus", "logic"): "path: GNDB - LFB52 - GND",
        ("logic", "plant"): "path: GND - XU1 - /MCU/DI_JAM - R23 10 kohm - +24V - XPS1 (supply to ground) - GND24",
    },
    "strain-gauge": {
        ("earth", "gauge"): "path: PE - R26 0 ohm - /GAUGE/SHIELD",
        (
            "gauge",
            "logic",
        ): "path: GNDS - XA2 - /GAUGE/DRIVE - R23 100 ohm - /GAUGE/GUARD - R24 100 kohm - GND",
        ("gauge", "thermocouple"): "path: GNDS - R94 10 kohm - GNDT",
        ("logic", "thermocouple"): "path: GND - XU5 - GNDT",
    },
}
"""The path of each joint of the broken boards, as an engineer would draw it in red."""

MISTAKES = {"coffee-maker": 3, "sorting-line": 3, "strain-gauge": 4}
NAMES = sorted(SIDES)


def netlist(board: str, version: str) -> Path:
    return BOARDS / board / version / "board.cir"


@cache
def judged(board: str, version: str) -> NetlistReport:
    path = netlist(board, version)
    return judge_file(path.parent, path)


@cache
def inventory(board: str, version: str) -> Inventory:
    path = netlist(board, version)
    return app.barrier(str(path), app.Options(root=str(path.parent)))[0]


def cards(path: Path) -> list[str]:
    """The cards of a netlist, comments left out and continuation lines joined."""
    found: list[str] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("+"):
            found[-1] += f"\n{line}"
        elif line.strip() and not line.startswith("*"):
            found.append(line)
    return found


def changes(board: str) -> list[tuple[str, str, str]]:
    """(slug, card of the sound board, card of the broken one) for each mistake."""
    text = netlist(board, "broken").read_text(encoding="utf-8")
    pairs = zip(cards(netlist(board, "sound")), cards(netlist(board, "broken")), strict=True)
    before = {other: one for one, other in pairs if one != other}
    lines = text.splitlines()
    wrong = [(mark.slug, lines[(mark.card_line or 0) - 1]) for mark in expectations(text)]
    return [(slug, before[card], card) for slug, card in wrong]


CHANGES = [
    pytest.param(board, *change, id=f"{board} {change[2].split()[0]}") for board in NAMES for change in changes(board)
]


@pytest.mark.parametrize("board", NAMES)
def test_the_sound_board_has_no_failure_and_nothing_open(board: str) -> None:
    assert complaints(judged(board, "sound")) == []
    assert not any(item.joined for item in judged(board, "sound").barriers)
    assert app.check([str(netlist(board, "sound"))], app.Options(strict=True)).exit_status == 0


@pytest.mark.parametrize("board", NAMES)
def test_the_sound_board_passes_the_rules_of_the_barrier_rather_than_skipping_them(board: str) -> None:
    kinds: dict[str, set[str]] = {}
    for result in judged(board, "sound").results:
        kinds.setdefault(result.rule, set()).add(result.kind)
    for rule in ("ground-tie", "supply-shared", "bridge-conducting", "bridge-capacitor", "side-unpowered"):
        assert kinds[rule] == {"pass"}, rule


@pytest.mark.parametrize("board", NAMES)
def test_the_broken_board_fails_exactly_where_its_comments_say(board: str) -> None:
    text = netlist(board, "broken").read_text(encoding="utf-8")
    assert differences(judged(board, "broken"), text) == []
    assert len(expectations(text)) == MISTAKES[board]
    assert app.check([str(netlist(board, "broken"))], app.Options()).exit_status == 1


@pytest.mark.parametrize("board", NAMES)
def test_the_broken_board_differs_by_its_marked_cards_and_nothing_else(board: str) -> None:
    pairs = zip(cards(netlist(board, "sound")), cards(netlist(board, "broken")), strict=True)
    assert [pair for pair in pairs if pair[0] != pair[1]] == [(before, after) for _, before, after in changes(board)]
    for name in ("isolint.toml", "models.lib", "parts/demo.toml"):
        assert (BOARDS / board / "sound" / name).read_bytes() == (BOARDS / board / "broken" / name).read_bytes()


@pytest.mark.parametrize(("board", "slug", "before", "after"), CHANGES)
def test_each_mistake_alone_gives_its_one_failure(
    board: str, slug: str, before: str, after: str, tmp_path: Path
) -> None:
    folder = tmp_path / "board"
    shutil.copytree(BOARDS / board / "sound", folder)
    text = (folder / "board.cir").read_text(encoding="utf-8")
    assert text.count(f"\n{before}\n") == 1
    (folder / "board.cir").write_text(text.replace(f"\n{before}\n", f"\n{after}\n"), encoding="utf-8")
    report = judge_file(folder, folder / "board.cir")
    line = text[: text.index(f"\n{before}\n") + 1].count("\n") + 1
    found = [(r.where.line, r.kind, r.rule) for r in report.results if r.kind in ("fail", "open")]
    assert found == [(line, "fail", slug)]


@pytest.mark.parametrize("version", ["sound", "broken"])
@pytest.mark.parametrize("board", NAMES)
def test_the_sides_are_those_that_were_drawn(board: str, version: str) -> None:
    found = [(side.name, side.reference, side.bonded) for side in inventory(board, version).sides]
    assert sorted(found) == SIDES[board]


@pytest.mark.parametrize("board", NAMES)
def test_each_joint_has_the_path_that_an_engineer_would_draw(board: str) -> None:
    found = {
        sheet.sides: crossing.details[0]
        for sheet in inventory(board, "broken").barriers
        for crossing in sheet.crossings
        if crossing.kind == "joint" and ", between bus and logic" not in crossing.what
    }
    assert found == PATHS[board]
    for sheet in inventory(board, "sound").barriers:
        assert not any(crossing.kind in ("joint", "unknown") for crossing in sheet.crossings)


def test_a_joint_is_shown_at_every_barrier_that_it_bypasses() -> None:
    sheet = next(sheet for sheet in inventory("sorting-line", "broken").barriers if sheet.sides == ("bus", "plant"))
    (joint,) = (crossing for crossing in sheet.crossings if crossing.kind == "joint")
    assert joint.what == "ground-tie, 0 ohm, between bus and logic"
    assert joint.details == ("path: GNDB - LFB52 - GND", "concerns XU5, XPS2")


@pytest.mark.parametrize("board", NAMES)
def test_what_is_joined_passes_no_rule_on_joints(board: str) -> None:
    joined = [" and ".join(sides) for sides in PATHS[board]]
    passes = [
        r.message
        for r in judged(board, "broken").results
        if r.kind == "pass" and r.rule in ("ground-tie", "bridge-conducting", "supply-shared")
    ]
    for names in joined:
        assert not any(f"sides {names}" in message for message in passes), names
    assert sum(item.joined for item in judged(board, "broken").barriers) == len(joined)


def test_the_inventory_of_the_measuring_input_reads_as_it_was_written_down() -> None:
    assert barrier_page.render(inventory("strain-gauge", "broken")) == WHOLE.read_text(encoding="utf-8")


@pytest.mark.parametrize("board", NAMES)
def test_every_form_of_the_inventory_carries_the_caution_and_each_failure(board: str) -> None:
    shown = inventory(board, "broken")
    texts = {
        "text": barrier_page.render(shown),
        "html": barrier_page.render_html(shown),
        "svg": " ".join(ElementTree.fromstring(drawing.render(shown)).itertext()),
    }
    slugs = {mark.slug for mark in expectations(netlist(board, "broken").read_text(encoding="utf-8"))}
    for form, text in texts.items():
        plain = " ".join(text.replace("&#x27;", "'").replace("&#39;", "'").split())
        assert "it certifies nothing" in plain, form
        assert CAUTION in plain, form
        for slug in slugs:
            assert slug in plain or slug.upper() in plain, (form, slug)
    assert "<script" not in texts["html"]


@pytest.mark.parametrize("board", NAMES)
def test_the_drawing_has_each_path_in_red_and_a_sound_board_has_no_red(board: str) -> None:
    space = "{http://www.w3.org/2000/svg}"
    root = ElementTree.fromstring(drawing.render(inventory(board, "broken")))
    assert [f"path: {title.text}" for title in root.iter(f"{space}title")] == list(PATHS[board].values())
    assert {line.attrib["stroke"] for line in root.iter(f"{space}line")} == {"#000", "#b00018"}
    assert "#b00018" not in drawing.render(inventory(board, "sound"))

"""What is stated and counts for nothing is told outside the results, and each row says truly whether it is read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from isolint import app
from isolint.checking.engine import run
from isolint.facts.stated import TABLES
from isolint.parts.records import SECTIONS
from isolint.preparing import prepare
from isolint.results import NetlistReport
from isolint.rules import RULES
from isolint.source import FolderTree, MemoryTree
from tests.checking.asking import watched_rows
from tests.conftest import REPOSITORY
from tests.support import judge, judge_files

ROWS = [row for table in (*TABLES, *SECTIONS) for row in table.ROWS.values()]
FIXTURES = REPOSITORY / "fixtures"

BOARD = """* A demonstration
V1 V5 GND 5
R1 V5 A 330
XU1 A GND OUT GNDB DEMO_PT1
R2 VB OUT 10k
V2 VB GNDB 5
C1 V5 GND 100n
.end
"""
SIDES = '[sides.a]\nnets = ["GND"]\n[sides.b]\nnets = ["GNDB"]\n[[barriers]]\nbetween = ["a", "b"]\n'

SELDOM = {
    ("parts.thermal", "junction_max"),
    ("parts.thermal", "derating"),
    ("sides", "applied_part"),
    ("elements", "saturation_current"),
    ("elements", "pinch_off"),
    ("elements", "drop_out"),
}
"""Asked for only where other facts are stated or missing, which no fixture does: the code that asks is looked for."""


JUDGED = (
    "bridge-conducting/trap-parallel",
    "supply-out-of-range/uvlo",
    "feedback-range-short/trap-source-inside",
    "feedback-bias-missing/passes",
    "servo-range-short/passes",
    "photodiode-overdriven/trap-current-loop",
    "servo-open/sides-stated",
    "bypass-missing/fails",
    "logic-level-missed/fails",
    "input-floating/trap-pulled-inside",
    "pull-in-low/fails",
    "coil-overvoltage/fails",
    "supply-out-of-range/trap-converter",
    "converter-overloaded/fails",
    "converter-overloaded/trap-full-load",
    "gate-drive-low/chord",
    "gate-resistor-low/two-ways",
    "gate-discharge-missing/driver",
    "coil-clamp-missing/fails",
    "receiver-overvoltage/trap-coil-inside",
    "switching-too-slow/fails",
    "dead-time-short/passes",
    "dead-time-short/trap-difference",
    "slow-edge/passes",
    "switching-too-slow/trap-delay",
    "switching-too-slow/pulse",
    "coil-clamp-missing/passes",
    "led-overdriven/passes",
    "bridge-capacitor/earth-by-name/leg",
    "output-voltage-exceeded/trap-diode-clamp",
    "output-chopped/fails-pwm",
    "pins-mismatched/fails",
    "output-current-exceeded/passes",
    "input-range-exceeded/fails",
    "load-capacitance-high/fails",
    "miller-turn-on/fails",
    "default-state-wrong/fails",
    "output-level-invalid/fails",
    "output-current-exceeded/contacts/fails",
    "output-current-exceeded/contacts/passes",
    "output-current-exceeded/contacts/direct",
    "side-unpowered/fails",
    "base-resistor-low/trap-strong-led",
    "led-unlimited/trap-pmos-high-side",
    "led-overdriven/alternating/trap-capacitor-dropper",
    "driver-port-overloaded/trap-two-of-a-group",
    "led-underdriven/fails",
    "led-not-off/passes",
    "led-not-off/fails",
    "driver-port-overloaded/fails",
    "transfer-margin-low/fails",
    "resistor-overloaded/passes",
    "insulation-grade-low/fails",
    "distance-short/fails",
    "slew-immunity-low/fails",
    "touch-current-high/fails",
    "earth-bond-missing/fails",
    "distance-short/board/short",
    "distance-short/patient/not-certified",
    "insulation-grade-low/outputs-basic/trap-outputs",
    "insulation-grade-low/string/alone",
    "slew-immunity-low/ignored/note",
    "snubber-missing/fails",
    "surge-unclamped/fails",
    "gate-cathode-resistor-missing/passes",
    "coupler-overheated/relay",
    "snubber-missing/fails-relay",
    "blocking-voltage-low/fails",
    "blocking-voltage-low/phases",
    "triac-fires-late/trap-zero-crossing",
    "load-current-low/fails-relay",
    "dc-load-latches/fails-triac",
    "output-voltage-exceeded/coil/nothing-said",
    "led-unlimited/mosfet-output",
    "output-chopped/line-frequency",
)
"""Fixtures that ask for all that is asked for, as few as do."""


def listed(tmp_path: Path, settings: str, **files: str) -> dict[str, str]:
    """What `isolint facts` says behind the file name of each key that counts for nothing."""
    (tmp_path / "board.cir").write_text(BOARD, encoding="utf-8")
    (tmp_path / "isolint.toml").write_text(settings, encoding="utf-8")
    for name, text in files.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    rows, _ = app.facts(str(tmp_path / "board.cir"), app.Options(root=str(tmp_path), today=date(2026, 1, 1)))
    return {key: origin.partition(", ")[2] for key, _, origin in rows if ".toml, " in origin}


def counted(settings: str) -> list[str]:
    return [note for note in judge(BOARD, settings).notes if note.endswith("see `isolint facts`")]


def test_a_level_of_a_rule_that_does_not_exist_is_told(tmp_path: Path) -> None:
    settings = '[levels]\ncore-saturates = "note"\nled-unlimited = "note"\n'
    assert listed(tmp_path, settings) == {"levels.core-saturates": "not read: this version does not have the rule"}
    assert counted(settings) == ["1 stated key is not read by this version; see `isolint facts`"]


def test_a_key_of_a_record_that_no_rule_reads_is_told(tmp_path: Path) -> None:
    head = 'type = "phototransistor"\npins = ["anode", "cathode", "collector", "emitter"]\n'
    record = f'[parts.DEMO_PT1]\n{head}[parts.DEMO_PT1.timing]\nstorage = "3 us"\n'
    told = listed(tmp_path, 'parts = ["parts.toml"]\n', parts=record)
    assert told["parts.DEMO_PT1.timing.storage"].startswith("not read: for rules about speed")
    told_of = 'parts = ["parts.toml"]\n[levels]\ncore-saturates = "note"\n[supplies.V9]\nvoltage = "9 V"\n'
    files = {"board.cir": BOARD, "isolint.toml": told_of, "parts.toml": record}
    assert [note for note in judge_files(files).notes if "facts" in note] == [
        "1 stated key matches nothing here; 1 stated key and 1 value of part records are not read by this version; "
        "see `isolint facts`"
    ]


def test_a_name_that_matches_nothing_is_told_and_a_supply_that_an_output_names_is_not(tmp_path: Path) -> None:
    settings = (
        '[elements.R9]\npower = "1 W"\n[supplies.V9]\nvoltage = "9 V"\n[supplies.V3V3]\nvoltage = "3.3 V"\n'
        '[inputs.OUT]\nsupply = "V3V3"\n[outputs."N*"]\nsupply = "V3V3"\n'
    )
    told = listed(tmp_path, settings)
    nothing = {key for key, why in told.items() if why == "matches nothing in this netlist"}
    assert nothing == {'elements."R9".power', 'supplies."V9".voltage', 'outputs."N*".supply'}
    assert counted(settings) == ["3 stated keys match nothing here; see `isolint facts`"]


def checked(files: dict[str, str], path: str) -> NetlistReport:
    return app.check_in(MemoryTree(files), path, "", app.Options())[0]


def test_settings_above_that_name_other_netlists_are_not_counted() -> None:
    settings = '[elements.R9]\npower = "1 W"\n'
    told = [
        [note for note in checked({"one/board.cir": BOARD, file: settings}, "one/board.cir").notes if "facts" in note]
        for file in ("isolint.toml", "one/isolint.toml")
    ]
    assert told == [[], ["1 stated key matches nothing here; see `isolint facts`"]]


def test_names_that_another_netlist_of_the_folder_has_are_not_counted() -> None:
    settings = '[elements."R9*"]\npower = "1 W"\n[elements."X1.R77"]\npower = "1 W"\n[supplies.V9]\nvoltage = "9 V"\n'
    other = "* another board\nR91 a b 1k\n"
    files = {"board.cir": BOARD, "isolint.toml": settings, "second.cir": other}
    assert [note for note in judge_files(files).notes if "facts" in note] == [
        "2 stated keys match nothing here; see `isolint facts`"
    ]
    files["second.cir"] += ".subckt S a b\nr77 a b 1\n.ends\nV2 v9 0 9\n"
    assert not [note for note in judge_files(files).notes if "facts" in note]
    away = {"board.cir": BOARD, "isolint.toml": settings, "other/second.cir": files["second.cir"]}
    assert "3 stated keys" in next(note for note in judge_files(away).notes if "facts" in note)


def test_what_no_netlist_of_a_folder_has_is_told_once(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        for name in ("a.cir", "b.cir"):
            (tmp_path / folder / name).write_text(BOARD, encoding="utf-8")
        (tmp_path / folder / "isolint.toml").write_text('[elements.R9]\npower = "1 W"\n', encoding="utf-8")
    paths = [str(tmp_path / folder / name) for folder in ("one", "two") for name in ("a.cir", "b.cir")]
    report = app.check(paths, app.Options(root=str(tmp_path)))
    told = [any("match" in note and "nothing here" in note for note in each.notes) for each in report.netlists]
    assert told == [True, False, True, False]


def test_a_value_that_no_calculation_of_the_netlist_uses_is_told_once_a_key_and_not_counted(tmp_path: Path) -> None:
    settings = '[elements."R*"]\ntolerance = "1 %"\n[elements.C1]\ntolerance = "10 %"\n'
    assert listed(tmp_path, settings) == {'elements."C1".tolerance': "not used: nothing in this netlist asks for it"}
    assert counted(settings) == []


@pytest.fixture(scope="module")
def asked() -> Iterator[set[tuple[str, str]]]:
    """The rows that are asked for while fixtures are judged, stated or not."""
    tree = FolderTree(FIXTURES)
    with watched_rows() as found:
        for name in JUDGED:
            context, _ = prepare(tree, f"rules/{name}.cir", "")
            run(context, RULES, False, date(2026, 1, 1))
    yield found


def test_what_a_row_says_of_being_read_is_so(asked: set[tuple[str, str]]) -> None:
    unread = {(row.table, row.key) for row in ROWS if row.unread}
    assert asked & unread == set()
    assert {(row.table, row.key) for row in ROWS} - unread - asked == SELDOM


def test_what_is_seldom_asked_for_is_asked_for_somewhere() -> None:
    folders = (REPOSITORY / "isolint" / name for name in ("worstcase", "checking", "rules", "interfaces"))
    code = "\n".join(path.read_text(encoding="utf-8") for folder in folders for path in folder.glob("*.py"))
    for table, key in SELDOM:
        ways = rf"\.{key} is (?:not )?None|, {table.rpartition('.')[2]}\.{key}\b|(?:coil|Facts)\.{key}\b"
        assert re.search(ways, code), key

"""What is offered for a part that nobody knows can be written down as it stands, and fits the nets of its card."""

from __future__ import annotations

import re
import tomllib

import pytest

from isolint.interfaces.pinguess import record_example, usual_pins
from isolint.parts import derive_groups
from tests.answers import answered
from tests.checking.boards import FACTS, SOUND, core
from tests.interfaces.boards import circuit_of
from tests.support import judge_files

USUAL = [
    ("phototransistor", 4, 2), ("phototransistor", 5, 2), ("phototransistor", 6, 3), ("phototransistor", 8, 4),
    ("photodarlington", 6, 3), ("photo-scr", 4, 2), ("photo-scr", 5, 2), ("phototriac", 4, 2), ("phototriac", 6, 4),
    ("photovoltaic", 4, 2), ("mosfet-output", 4, 2), ("mosfet-output", 6, 3), ("linear", 6, 3),
    ("logic-output", 5, 2), ("logic-output", 6, 3), ("gate-driver", 5, 2), ("gate-driver", 8, 2),
    ("digital-isolator", 6, 2), ("digital-isolator", 8, 2), ("isolated-amplifier", 8, 2), ("isolated-supply", 4, 2),
    ("isolated-supply", 5, 2), ("transformer", 4, 2), ("transformer", 6, 2), ("relay", 4, 2), ("relay", 5, 2),
    ("relay", 6, 3), ("relay", 8, 3),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "count", "groups"), USUAL)
def test_the_usual_pins_of_a_type_tell_what_is_joined_inside(kind: str, count: int, groups: int) -> None:
    pins = usual_pins(kind, ["n"] * count)
    found, doubtful = derive_groups(pins, kind)
    assert (len(set(pins)), doubtful, len(found)) == (count, (), groups)


@pytest.mark.parametrize(
    ("nets", "pins"),
    [
        ("A GND GNDB OUT", "anode cathode emitter collector"),
        ("A GND OUT GNDB", "anode cathode collector emitter"),
        ("GND A OUT GNDB", "cathode anode collector emitter"),
        ("V5V A V24V OUT", "anode cathode collector emitter"),
        ("A B C D", "anode cathode emitter collector"),
    ],
)
def test_the_nets_of_the_card_decide_between_two_orders(nets: str, pins: str) -> None:
    assert " ".join(usual_pins("phototransistor", nets.split())) == pins


def test_a_pin_that_something_is_fitted_to_is_not_called_unconnected() -> None:
    free = circuit_of("XU1 A GND N1 GNDB OUT B DEMO_PT\n")
    fitted = circuit_of("XU1 A GND N1 GNDB OUT B DEMO_PT\nR1 N1 GNDB 1k\n")
    assert '"cathode", "nc", "emitter"' in record_example(free, 0, "DEMO_PT", "phototransistor")
    assert '"cathode", "pin3", "emitter"' in record_example(fitted, 0, "DEMO_PT", "phototransistor")


@pytest.mark.parametrize(
    "card",
    [
        "XP V5 GND VB GNDB DEMO_DCDC5",
        "XP V5 DRIVE2 DRIVE3 GND GNDB OUT3 OUT2 VB DEMO_DIGISOL",
        "XP DRIVE2 GND MT1 MT2 DEMO_OPTOTRIAC",
        "XP A2 GND N3 OUT2 GNDB B2 DEMO_OPTO6",
    ],
)
def test_a_black_box_is_settled_by_the_line_that_is_printed_for_it(card: str) -> None:
    (asked,) = [found for found in core(f"{SOUND}{card}\n") if found.rule == "part-unknown" and found.kind == "open"]
    (fact,) = asked.missing
    assert list(tomllib.loads(fact.example)["parts"]) == [card.split()[-1]]
    settings = f'top = true\nparts = ["parts.toml"]\n{FACTS}'
    report = judge_files(
        {"board.cir": f"{SOUND}{card}\n", "isolint.toml": settings, "parts.toml": answered(fact.example)}
    )
    assert "part-unknown" not in {result.rule for result in report.results if result.kind in ("open", "fail")}


BLOCK = """* t
.subckt DEMO_BLOCK in ref out sup oref
R1 in a 470
XU1 a ref oref out DEMO_PT1
R2 sup out 10k
XQ ref oref DEMO_WHAT
.ends
X1 DRIVE1 GND OUT1 VB GNDB DEMO_BLOCK
X2 DRIVE2 GND OUT2 VB GNDB DEMO_BLOCK
"""


def asked_of(board: str) -> list[tuple[str, list[str]]]:
    return [
        (found.subject, re.findall(r'\[elements\."([\w.]+)"\]', found.remedy))
        for found in core(board)
        if found.rule == "part-unknown" and found.kind == "open"
    ]


def test_an_unknown_card_of_a_repeated_block_is_asked_for_once() -> None:
    assert asked_of(BLOCK) == [("part:DEMO_WHAT", ["XQ"])]


def test_another_part_of_that_name_elsewhere_is_not_answered_for() -> None:
    assert asked_of(BLOCK + "XQ GND GNDB DEMO_OTHER\n") == [
        ("part:DEMO_WHAT", ["X1.XQ", "X2.XQ"]),
        ("part:DEMO_OTHER", ["XQ"]),
    ]


def test_a_backslash_in_a_name_is_written_as_toml_wants_it() -> None:
    (found,) = [
        result
        for result in core(SOUND.replace("VB", "VCC_\\B"))
        if result.rule == "load-missing" and result.kind == "open"
    ]
    assert list(tomllib.loads(found.missing[0].example)["supplies"]) == ["VCC_\\B"]


def test_a_source_tells_a_ground_that_no_name_does() -> None:
    circuit = circuit_of("XU1 2 0 3 4 DEMO_PT\nR2 5 3 10k\nV2 5 4 12\n")
    assert '"collector", "emitter"]' in record_example(circuit, 0, "DEMO_PT", "phototransistor")

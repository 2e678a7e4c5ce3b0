from __future__ import annotations

import time

import pytest

from tests.interfaces.finding import FoundBoard, board

COUPLER = """
.subckt DEMO_OPTO A K C E
D1 A N DLED
V1 N K 0
F1 C B V1 2m
Q1 C B E QDET
.model DLED D(IS=1f)
.model QDET NPN(BF=400)
.ends
"""


def sheets(found: FoundBoard) -> list[str]:
    return [found.circuit.path(element) for element in found.circuit.sheets()]


def test_plain_bodies_are_sheets_and_macro_models_are_parts() -> None:
    found = board(
        """
        X1 a b plain
        X2 a b amp
        X3 a b modelled
        X4 a b wrapper
        .subckt plain p q
        R1 p q 1k
        S1 p q p q SM
        .ends
        .subckt amp p q
        E1 q 0 p 0 10
        .ends
        .subckt modelled p q
        R1 p q 1k
        .model DX D(IS=1f)
        .ends
        .subckt wrapper p q
        X1 p q amp
        .ends
        """
    )
    assert sheets(found) == ["X1", "X4"]


BEHAVING = (
    "E1 q 0 p 0 1",
    "G1 q 0 p 0 1",
    "F1 q 0 V1 1",
    "H1 q 0 V1 1",
    "B1 q 0 V=V(p)",
    "A1 p q DEMO_A",
    "U1 p q DEMO_U",
)


@pytest.mark.parametrize("letter", BEHAVING)
def test_any_behavioural_card_makes_a_part(letter: str) -> None:
    found = board(f"X1 a b s\n.subckt s p q\nV1 p q 0\n{letter}\n.ends")
    assert sheets(found) == []


def test_parts_of_an_export_in_a_sheet_make_no_part_of_it_and_digital_primitives_do() -> None:
    sheet = "X1 f g o w s\n.subckt s f g o w\nR1 f a 1k\n{}\nR2 w o 1k\n.ends"
    assert sheets(board(sheet.format("U1 a g w o DEMO_SOME"))) == ["X1"]
    assert sheets(board(sheet.format("U1 BUF dpwr dgnd a o D0 IO"))) == []
    assert sheets(board(sheet.format("U1 a g w URC1"))) == []
    assert sheets(board(sheet.format("U1 a g w o DEMO_SOME\nE1 o w a g 1"))) == []


def test_a_body_with_a_barrier_part_at_any_depth_is_a_sheet_whatever_else_it_holds() -> None:
    inner = ".subckt inner a k c e\nE9 x 0 a k 1\nXU1 a k c e {part}\n.model DX D\n.ends"
    outer = ".subckt outer a k c e\nG9 x 0 a k 1\nXi a k c e inner\n.ends\nX1 a GND c GNDF outer\n"
    for part in ("DEMO_OPTO", "DEMO_PT1"):
        found = board(outer + inner.format(part=part) + COUPLER)
        assert sheets(found) == ["X1", "X1.Xi"]
        assert found.kinds() == {"X1.Xi.XU1": "phototransistor"}
    assert sheets(board(outer + inner.format(part="DEMO_MCU") + COUPLER)) == []


def test_a_barrier_part_may_be_declared_by_local_name_or_by_path() -> None:
    netlist = """
        X1 a b c d s
        X2 a b c d s
        .subckt s a b c d
        E9 x 0 a b 1
        XK1 a b c d DEMO_SOMETHING
        .ends
        .subckt DEMO_SOMETHING 1 2 3 4
        R1 1 2 1k
        R2 3 4 1k
        E1 x 0 1 2 1
        .ends
    """
    assert sheets(board(netlist, '[elements."XK*"]\ntype = "transformer"')) == ["X1", "X2"]
    for key in ("X2.XK1", "x2.XK?"):
        found = board(netlist, f'[elements."{key}"]\ntype = "transformer"')
        assert sheets(found) == ["X2"]
        assert found.kinds() == {"X2.XK1": "transformer"}
    assert sheets(board(netlist, '[elements."X2.XK9"]\ntype = "transformer"')) == []


def test_a_stated_sheet_decides() -> None:
    netlist = "X1 a b s\nX2 a b t\n.subckt s p q\nE1 q 0 p 0 1\n.ends\n.subckt t p q\nR1 p q 1\n.ends"
    assert sheets(board(netlist)) == ["X2"]
    assert sheets(board(netlist, '[elements."X1"]\nsheet = true\n[elements."X2"]\nsheet = false')) == ["X1"]
    assert sheets(board("X1 A K C E DEMO_OPTO" + COUPLER, '[elements."X1"]\nsheet = true')) == ["X1"]


def test_what_is_declared_is_a_part() -> None:
    netlist = "X1 a b s\n.subckt s p q\nR1 p q 1\n.ends"
    for fact in ('part = "DEMO_PT1"', 'type = "relay"', 'type = "ordinary"', "ordinary = true"):
        assert sheets(board(netlist, f'[elements."X1"]\n{fact}')) == []
    assert sheets(board(netlist, '[elements."X1"]\nordinary = false')) == ["X1"]


def test_a_coupler_and_a_part_with_a_record_are_parts() -> None:
    assert sheets(board("X1 A K C E DEMO_OPTO" + COUPLER)) == []
    record = '[parts.DEMO_PLAIN]\ntype = "ordinary"\npins = ["1", "2"]'
    assert sheets(board("X1 a b DEMO_PLAIN\n.subckt DEMO_PLAIN p q\nR1 p q 1\n.ends", "", record)) == []


def test_an_empty_body_isolates_nothing() -> None:
    found = board("X1 a b c d DEMO_STUB\n.subckt DEMO_STUB 1 2 3 4\n.ends")
    assert sheets(found) == []
    assert found.parts() == ["(unknown X1: it is a part of unknown kind)"]


def test_ten_levels_of_ten_sheets_are_judged_once_a_definition() -> None:
    lines = ["X0 a b s0"]
    for level in range(9):
        lines += [f".subckt s{level} p q", *(f"X{n} p q s{level + 1}" for n in range(10)), "E1 x 0 p q 1", ".ends"]
    lines += [".subckt s9 p q", "R1 p q 1", ".ends"]
    start = time.process_time()
    found = board("\n".join(lines))
    assert time.process_time() - start < 5.0
    assert sheets(found) == []


def test_a_circuit_around_coils_is_a_sheet_and_coils_alone_are_a_part() -> None:
    coils = "L1 a b 1m\nL2 c x 1m\nK1 L1 L2 1\n"
    text = "X1 n1 n2 n3 n4 s\n.subckt s a b c d\n{}.ends\n.model DX D\n"
    supply = coils + "D1 x d DX\n"
    assert sheets(board(text.format(supply))) == ["X1"]
    found = board(text.format(coils + "R1 x d 1\n"))
    assert sheets(found) == []
    assert found.suspects() == {"X1": "transformer"}

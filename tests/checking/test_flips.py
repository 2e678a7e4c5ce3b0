"""The value at which an open verdict flips, checked by stating the fact just on both sides of it."""

from __future__ import annotations

import pytest

from isolint.results import Assumption, Result
from tests.checking.boards import SOUND, WITH_PARTS, core, one

FULL = SOUND.replace("DEMO_PT1", "DEMO_PX")
NPN = (
    FULL.replace("A GND GNDB", "A K GNDB").replace("R1 DRIVE", "R1 V5")
    + "Q1 K B GND QSW\nR3 DRIVE B {}\n.model QSW NPN(IS=2e-14 BF=250)\n"
)


def cut(*lines: str) -> str:
    """The facts without some lines."""
    facts = WITH_PARTS
    for line in lines:
        assert f"{line}\n" in facts
        facts = facts.replace(f"{line}\n", "")
    return facts


def opened(result: Result, name: str) -> Assumption:
    """The assumption of an open result with this name."""
    assert result.kind == "open", result.message
    (found,) = [item for item in result.assumptions if item.name == name]
    assert found.flips_at is not None
    assert f"{name} (flips at" in result.message
    return found


NO_TOLERANCE = cut('[elements."R*"]', 'tolerance = "1 %"')


@pytest.mark.parametrize(("element", "ohms"), [("R2", "1.48k"), ("R1", "1.48k")])
def test_a_tolerance(element: str, ohms: str) -> None:
    other = "R1" if element == "R2" else "R2"
    facts = f'{NO_TOLERANCE}[elements."{other}"]\ntolerance = "1 %"\n'
    board = FULL.replace("10k", ohms)
    flip = opened(one(core(board, facts), "transfer-margin-low"), f"tolerance of {element}").flips_at
    assert flip is not None
    for factor, kind in ((0.97, "pass"), (1.03, "fail")):
        stated = f'{facts}[elements."{element}"]\ntolerance = "{abs(flip) * factor * 100} %"\n'
        assert one(core(board, stated), "transfer-margin-low").kind == kind


def test_a_supply() -> None:
    facts = WITH_PARTS.replace(
        '[supplies."VB"]\nvoltage = "5 V"\ntolerance = "5 %"', '[supplies."VB"]\nvoltage = "5 V"'
    )
    board = FULL.replace("10k", "1.44k")
    flip = opened(one(core(board, facts), "transfer-margin-low"), "supply VB").flips_at
    assert flip is not None
    assert flip > 5.0
    for change, kind in ((-0.01, "pass"), (0.01, "fail")):
        stated = facts.replace(
            '[supplies."VB"]\nvoltage = "5 V"', f'[supplies."VB"]\nvoltage = ["4.75 V", "{flip + change} V"]'
        )
        assert one(core(board, stated), "transfer-margin-low").kind == kind


def test_a_gain() -> None:
    board = NPN.format("43k")
    flip = opened(one(core(board, WITH_PARTS), "drive-headroom-low", "open"), "gain of Q1 over BF").flips_at
    assert flip is not None
    for factor, kind in ((1.02, "pass"), (0.98, "fail")):
        stated = f'{WITH_PARTS}[elements."Q1"]\ngain_min = {250 * flip * factor}\n'
        assert {
            result.kind for result in core(board, stated) if result.rule == "drive-headroom-low" and result.role == "Q1"
        } == {kind}


def test_stating_the_kind_end_settles_what_needs_several_facts_and_one_alone_does_not() -> None:
    board = SOUND.replace("470", "2.2k")
    found = one(core(board), "transfer-margin-low")
    assert found.kind == "open"
    assert " and " in found.message.partition("nobody stated")[2]
    assert len(found.missing) == 2
    assert all(item.flips_at is None for item in found.assumptions)

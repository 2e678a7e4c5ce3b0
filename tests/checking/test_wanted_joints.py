"""What a stated bond, or stated groups of pins, make of parts and joints between two sides."""

from __future__ import annotations

import tomllib

import pytest

from isolint.results import NetlistReport
from tests.answers import answered
from tests.checking.boards import FACTS, PARTS, SOUND
from tests.support import complaints, judge, only

BOND = '[[bonds]]\nbetween = ["field", "logic"]\n'
TIED = f"{SOUND}R9 GND GNDB 0\n"
CONNECTOR = f"{SOUND}XJ1 DRIVE GND OUT GNDB DEMO_CON\n"
CON = '[parts.DEMO_CON]\ntype = "ordinary"\npins = ["p1", "p2", "p3", "p4"]\n'
THIRD = '[sides.third]\nnets = ["GNDC"]\n'
WOUND = f"{SOUND}XT1 V5 SW S1 GNDB S2 GNDC DEMO_TX\nR20 S1 GNDB 1k\nR21 S2 GNDC 1k\n"
TX = '[parts.DEMO_TX]\ntype = "transformer"\npins = ["p1", "p2", "s1", "s2", "s3", "s4"]\n'


def judged(netlist: str, facts: str = FACTS, parts: str = "") -> NetlistReport:
    named = PARTS.replace("DEMO_PX", "DEMO_PT1")
    return judge(netlist, f'parts = ["parts.toml"]\n{facts}', parts__toml=f"{named}{parts}")


JOINTS = ("ground-tie", "supply-shared", "bridge-conducting", "part-unknown", "pins-mismatched")


def joined(report: NetlistReport) -> list[tuple[str, str, str]]:
    """What is said of joints and of parts that may be one; what insulates is asked by other rules."""
    return [found for found in complaints(report) if found[0] in JOINTS]


def failed(report: NetlistReport) -> list[str]:
    return [rule for rule, kind, _ in complaints(report) if kind == "fail"]


def test_a_bond_beside_the_barrier_of_the_same_sides_counts_and_is_told() -> None:
    assert failed(judged(TIED)) == ["ground-tie"]
    report = judged(TIED, FACTS + BOND)
    assert joined(report) == []
    assert any("are bonded beside their barrier" in note for note in report.notes)


@pytest.mark.parametrize(
    "facts",
    [
        FACTS.replace('"basic"', '"reinforced"'),
        FACTS.replace('insulation = "basic"', 'insulation = "basic"\nmains = "230 V"'),
        FACTS.replace('nets = ["GNDB"]', 'nets = ["GNDB"]\nkind = "hazardous"'),
    ],
    ids=["reinforced", "mains", "hazardous"],
)
def test_no_bond_excuses_a_joint_where_the_barrier_protects(facts: str) -> None:
    found = only(judged(TIED, facts + BOND), "ground-tie", "fail")
    assert "the stated bond does not count" in found.remedy


def test_a_connector_that_carries_both_sides_is_sound_by_its_groups() -> None:
    assert joined(judged(CONNECTOR, parts=f'{CON}groups = [["p1", "p2"], ["p3", "p4"]]\n')) == []


@pytest.mark.parametrize("groups", ['[["p1"], ["p2", "p4"], ["p3"]]', '[["p1", "p2", "p3"], ["p4"]]'])
def test_groups_that_put_pins_of_both_sides_together_join_them(groups: str) -> None:
    assert failed(judged(CONNECTOR, parts=f"{CON}groups = {groups}\n")) == ["bridge-conducting"]


def test_the_cure_of_an_ordinary_part_across_says_where_groups_go() -> None:
    found = only(judged(CONNECTOR, parts=CON), "bridge-conducting", "fail")
    assert 'add groups = [["p1", "p2"], ...] to [parts.DEMO_CON] in parts.toml' in found.remedy
    facts = f"{FACTS}[elements.XJ1]\nordinary = true\n"
    found = only(judged(CONNECTOR, facts), "bridge-conducting", "fail")
    assert 'a record [parts.DEMO_CON] with type = "ordinary", pins and groups' in found.remedy


def test_two_secondaries_on_two_sides_are_asked_for_their_groups_and_settled_by_the_line() -> None:
    found = only(judged(WOUND, FACTS + THIRD, TX), "bridge-conducting", "open")
    (fact,) = found.missing
    assert (fact.file, fact.key) == ("parts.toml", "parts.DEMO_TX.groups")
    assert "added to the record that stands there" in fact.example
    groups = tomllib.loads(answered(fact.example))["parts"]["DEMO_TX"]["groups"]
    assert groups == [["p1", "p2"], ["s1", "s2"], ["s3", "s4"]]
    assert joined(judged(WOUND, FACTS + THIRD, f"{TX}groups = {groups}\n")) == []


def test_one_secondary_that_is_said_to_lie_on_two_sides_joins_them() -> None:
    stated = f'{TX}groups = [["p1", "p2"], ["s1", "s2", "s3", "s4"]]\n'
    assert failed(judged(WOUND, FACTS + THIRD, stated)) == ["bridge-conducting"]


def test_a_secondary_with_taps_on_one_side_is_no_question() -> None:
    assert joined(judged(WOUND.replace("GNDC", "GNDB"), FACTS, TX)) == []


def test_barriers_take_the_names_that_reports_give_to_sides() -> None:
    named = FACTS.replace('[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GNDB"]\n', "")
    named = named.replace('["logic", "field"]', '["GND", "GNDB"]')
    assert "[sides" not in named
    assert joined(judged(SOUND, named)) == []
    assert failed(judged(TIED, named)) == ["ground-tie"]


SUPPLIED = FACTS.partition("[sides.logic]")[0]
"""What is stated, but for sides and their barrier."""

SHARED = SOUND.replace("GNDB", "GND")
"""A level shifter over one ground: nothing but the names of its sides tells them apart."""


@pytest.mark.parametrize(
    "sides",
    [
        '[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GND"]\n',
        '[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["VB"]\n',
    ],
    ids=["both name it", "a supply returns there"],
)
def test_a_bond_permits_a_coupler_on_a_net_that_both_sides_state_as_theirs(sides: str) -> None:
    facts = f"{SUPPLIED.replace('GNDB', 'GND')}{sides}"
    assert "ground-tie" in failed(judged(SHARED, facts))
    assert joined(judged(SHARED, facts + BOND)) == []


def test_a_bond_of_sides_with_grounds_of_their_own_excuses_no_coupler_on_one_of_them() -> None:
    facts = f'{SUPPLIED}[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GNDB"]\n{BOND}'
    wrong = SOUND.replace("GND GNDB OUT", "GND GND OUT")
    assert failed(judged(wrong, facts))[:1] == ["ground-tie"]


def test_bonds_take_the_names_that_reports_give_to_sides() -> None:
    assert failed(judged(TIED, SUPPLIED)) == ["ground-tie"]
    assert joined(judged(TIED, f'{SUPPLIED}[[bonds]]\nbetween = ["GND", "GNDB"]\n')) == []
    assert failed(judged(TIED, f'{SUPPLIED}[[bonds]]\nbetween = ["GND", "GNDC"]\n')) == ["ground-tie"]

"""What is said of joined sides: who, by what, how much against which limit, through which chain, and the cure."""

from __future__ import annotations

import re

import pytest

from tests.checking.boards import FACTS, SOUND, core, kinds, one

SHEET = "* t\nV1 IN 0 24\nR1 IN A 2.2k\nXU1 A 0 0 OUT DEMO_PT1\nV2 VC 0 5\nR2 VC OUT 10k\n"
BARRIER = ("ground-tie", "supply-shared", "bridge-conducting")


def test_a_ground_tie_shows_its_path_its_resistance_and_the_card_to_remove() -> None:
    found = one(core(SOUND + "R9 GND GNDB 0\n"), "ground-tie", "fail")
    assert found.message == (
        "the references of sides field and logic are joined by 0 ohm, a ground tie is below 10 ohm: GNDB - R9 "
        "0 ohm - GND (concerns XU1)"
    )
    assert (found.where.line, found.remedy) == (
        5,
        (
            "R9 (board.cir:5) joins them: remove it or move it to one side, or state [[bonds]] between the sides "
            "where the joint is wanted"
        ),
    )
    (path,) = found.evidence
    assert (path.min, path.limit.value if path.limit else None, path.unit) == (0.0, 10.0, "ohm")
    assert [related.text for related in found.related] == ["R9 0 ohm (GND GNDB)"]


@pytest.mark.parametrize("element", ["L9 GND GNDB 10u", "V9 GND GNDB 0", "R9 GND GNDB 9.9"])
def test_what_is_below_ten_ohm_between_the_references_ties_them(element: str) -> None:
    assert [
        result.where.line
        for result in core(f"{SOUND}{element}\n")
        if result.kind == "fail" and result.rule == "ground-tie"
    ] == [5]


def test_ten_ohm_and_more_between_the_references_is_a_bridge() -> None:
    assert kinds(core(SOUND + "R9 GND GNDB 10\n"), "bridge-conducting") == ["fail"]


def test_a_shared_supply_is_named() -> None:
    found = one(core(SOUND.replace("R2 VB", "R2 V5")), "supply-shared", "fail")
    assert found.message.startswith(
        "supply V5 feeds both sides field and logic; 10 kohm between their references, the insulating limit is 1 Mohm: "
    )
    assert found.where.line == 4


def test_a_shared_supply_at_the_end_of_the_path_is_named_too() -> None:
    contact = "R5 V5 CT 100\nXK1 V5 KC CT NO NX DEMO_K1\nR6 NO GNDB 1k\nD1 KC V5 DS\n.model DS D\n"
    found = one(core(SOUND + contact), "supply-shared", "fail")
    assert found.message.startswith("supply V5 feeds both sides field and logic; ")


def test_a_bridge_shows_which_pins_of_a_coupler_its_path_takes() -> None:
    found = one(core(SOUND + "R9 A OUT 4.7k\n"), "bridge-conducting", "fail")
    assert "4.7 kohm, the insulating limit is 1 Mohm" in found.message
    assert "OUT - R9 4.7 kohm - A - XU1 (anode to cathode) - GND" in found.message


def test_the_limit_that_is_stated_is_the_one_that_counts() -> None:
    across = SOUND + "R9 A OUT 2.2Meg\n"
    assert kinds(core(across), "bridge-conducting") == ["pass"]
    strict = one(core(across, f'{FACTS}[limits]\ninsulating_resistance = "10 Mohm"\n'), "bridge-conducting")
    assert (strict.kind, strict.evidence[0].limit.value if strict.evidence[0].limit else None) == ("fail", 1e7)


def test_a_pass_lists_what_lies_across() -> None:
    passed = one(core(SOUND + "R9 GND GNDB 10Meg\nC9 GND GNDB 1n\n"), "bridge-conducting")
    assert passed.kind == "pass"
    assert "R9 (10 Mohm)" in passed.message
    assert "C9 (1 nF)" in passed.message
    assert [(item.min, item.limit.value if item.limit else None) for item in passed.evidence] == [(1e7, 1e6)]


def test_all_elements_that_must_go_are_named() -> None:
    found = one(core(SOUND + "R9 GND GNDB 1.5Meg\nR8 GND GNDB 1.5Meg\n"), "bridge-conducting", "fail")
    assert found.remedy == "all of these must go to separate the sides: R8 (board.cir:6), R9 (board.cir:5)"


def test_resistors_in_parallel_by_m_count_together() -> None:
    found = one(core(SOUND + "R9 GND GNDB 1.5Meg m=2\n"), "bridge-conducting", "fail")
    assert "joined by 750 kohm" in found.message
    assert one(core(SOUND + "R9 GND GNDB 1.5Meg m=1\n"), "bridge-conducting").kind == "pass"


def test_a_coupler_on_one_ground_is_told_to_use_two() -> None:
    found = one(core(SOUND.replace("GND GNDB", "GND GND")), "ground-tie", "fail")
    assert found.message == "XU1: both sides return to net GND (0 ohm, a ground tie is below 10 ohm)"
    assert found.remedy.startswith("XU1 (board.cir:3): connect each group of pins to its own side's nets")


def test_of_several_couplers_only_the_one_that_is_the_joint_is_accused() -> None:
    second = "R3 DRIVE A3 470\nXU3 A3 GND GND OUT3 DEMO_PT1\nR4 VB OUT3 10k\n"
    found = one(core(SOUND + second), "ground-tie", "fail")
    assert found.message.startswith("XU3: both sides return to net GND")
    assert found.message.endswith("(concerns XU1)")


def test_sides_that_meet_in_node_0_only_are_one_warning_at_the_coupler_that_offers_the_fact() -> None:
    results = core(SHEET, "")
    found = one(results, "ground-tie")
    assert (found.kind, found.level, found.where.line) == ("fail", "warning", 4)
    assert "XU1" in found.message
    assert [fact.example for fact in found.missing] == ['[reading]\nsimulation_ground = "0"']
    assert [result.rule for result in results if result.kind == "fail"] == ["ground-tie"]


def test_while_node_0_is_in_doubt_no_separation_rule_passes() -> None:
    results = core(SHEET, "")
    assert [one(results, rule).blocked_by for rule in ("supply-shared", "bridge-conducting")] == [
        "ground-tie",
        "ground-tie",
    ]


def test_with_node_0_declared_separation_is_open_once_and_never_a_pass() -> None:
    results = core(SHEET, '[reading]\nsimulation_ground = "0"\n')
    found = [result for result in results if result.rule in BARRIER]
    assert sorted(result.kind for result in found) == ["notApplicable", "notApplicable", "open"]
    opened = one(results, "ground-tie")
    assert (opened.counts_as, opened.missing) == ("error", ())
    assert "can't be judged from this netlist" in opened.message
    assert "ground net of its own" in opened.remedy


def test_a_joint_explains_a_stated_side_that_lost_its_nets() -> None:
    bare = FACTS.replace('[supplies."VB"]\nvoltage = "5 V"\ntolerance = "5 %"\nground = "GNDB"\n', "")
    results = core(SOUND.replace("GND GNDB", "GND GND"), bare)
    assert [
        (result.rule, result.kind) for result in results if result.kind in ("fail", "open") and result.rule in BARRIER
    ] == [("ground-tie", "fail")]


def test_what_only_functional_insulation_separates_is_a_note() -> None:
    found = one(core(SOUND + "R9 GND GNDB 0\n", FACTS.replace('"basic"', '"functional"')), "ground-tie", "fail")
    assert found.level == "note"


def test_a_stated_bond_is_no_joint() -> None:
    facts = f'{FACTS.partition("[[barriers]]")[0]}[[bonds]]\nbetween = ["logic", "field"]\n'
    assert [result.rule for result in core(SOUND + "R9 GND GNDB 0\n", facts) if result.kind in ("fail", "open")] == []


def test_a_part_that_nobody_explained_asks_for_a_record_and_offers_both_answers() -> None:
    found = one(core(SOUND + "X9 V5 GND VB GNDB MYSTERY\n"), "part-unknown")
    assert (found.kind, found.where.line, found.subject) == ("open", 5, "part:MYSTERY")
    (fact,) = found.missing
    assert (fact.file, fact.key) == ("parts.toml", 'parts."MYSTERY"')
    assert re.sub(" +#.*", "", fact.example) == '[parts.MYSTERY]\ntype = "?"\npins = "?"'
    isolates, ordinary = found.remedy.split(" | ")
    assert isolates == "it isolates: a part record (type and pin order from the data sheet)"
    assert ordinary.startswith('it does not: ordinary = true under [elements."X9"], ')
    settled = core(SOUND + "X9 V5 GND VB GNDB MYSTERY\n", f'{FACTS}[elements."X9"]\nordinary = true\n')
    assert kinds(settled, "part-unknown") == []
    assert [result.kind for result in settled if result.rule in BARRIER and result.kind == "fail"] == ["fail"]


def test_all_barriers_that_return_to_a_declared_node_0_are_one_open_result() -> None:
    more = "V3 I3 0 24\nR3 I3 A3 2.2k\nXU3 A3 0 0 OUT3 DEMO_PT1\nV4 V3X 0 5\nR4 V3X OUT3 10k\n"
    results = core(SHEET + more, '[reading]\nsimulation_ground = "0"\n')
    opened = one(results, "ground-tie", "open")
    assert opened.subject == "node 0"
    assert "2 barriers" in opened.message
    assert "(sides I3 and V3X; IN and VC)" in opened.message
    assert [len(opened.related), opened.where.line] == [2, 4]
    kinds_found = sorted(result.kind for result in results if result.rule in BARRIER)
    assert kinds_found == ["notApplicable", "notApplicable", "open"]


@pytest.mark.parametrize("card", ["R9 GND GNDB {RX}", "R9 GND GNDB", "R9 A OUT {RX}"])
def test_a_resistor_across_whose_value_nobody_can_tell_is_open_and_no_tie(card: str) -> None:
    results = core(f"{SOUND}{card}\n")
    assert [(result.kind, result.where.line) for result in results if result.kind in ("fail", "open")] == [("open", 5)]
    (result,) = [result for result in results if result.kind == "open"]
    assert "are joined unless R9 amounts to 1 Mohm or more, and its value can't be told" in result.message


def test_a_resistor_without_a_value_beside_a_proven_tie_excuses_nothing() -> None:
    assert kinds(core(f"{SOUND}R8 GND GNDB 0\nR9 GND GNDB {{RX}}\n"), "ground-tie") == ["fail", "open"]


MAINS = """* A mains detector whose supply and relay nobody explained, invented for the tests
R1 L DA 66k
D1 N DA DX
XU1 DA N GND OUT DEMO_PT1
R2 VCC OUT 47k
XPS1 L N VCC GND DEMO_PSU9
R8 N MB 4.7Meg
R9 MB GND 4.7Meg
.model DX D
"""


def test_a_bleeder_beside_a_part_that_nobody_explained_proves_no_tie() -> None:
    results = [result for result in core(MAINS, "") if result.rule in (*BARRIER, "part-unknown")]
    assert [(result.rule, result.kind) for result in results if result.kind in ("fail", "open")] == [
        ("part-unknown", "open")
    ]


def test_each_of_two_unexplained_parts_across_is_shown_with_its_own_nets() -> None:
    two = [result for result in core(f"{MAINS}XK1 VCC KC L HEAT DEMO_KX9\n", "") if result.rule == "part-unknown"]
    assert [result.subject for result in two] == ["part:DEMO_PSU9", "part:DEMO_KX9"]
    assert "XPS1: " in two[0].more[0]
    assert "GND" in two[0].more[0]
    assert "(VCC, KC)" in two[1].more[0]
    assert "(L, HEAT)" in two[1].more[0]


CHANNELS = """.subckt DEMO_CHANNEL in ref out sup oref rt=10meg
R1 in a 470
XU1 a ref oref out DEMO_PT1
R2 sup out 10k
RT ref oref {rt}
.ends
X1 DRIVE1 GND OUT1 VB GNDB DEMO_CHANNEL
X2 DRIVE2 GND OUT2 VB GNDB DEMO_CHANNEL
"""


@pytest.mark.parametrize(
    ("call", "rule", "card"),
    [
        ("X3 DRIVE3 GND OUT3 VB GNDB DEMO_CHANNEL rt=0", "ground-tie", "RT"),
        ("X3 DRIVE3 GND OUT3 V5 GNDB DEMO_CHANNEL", "supply-shared", "R2"),
        ("X3 DRIVE3 GND OUT3 VB GND DEMO_CHANNEL", "ground-tie", "XU1"),
    ],
)
def test_of_a_block_placed_several_times_the_instance_that_joins_is_named(call: str, rule: str, card: str) -> None:
    found = one(core(f"* t\n{CHANNELS}{call}\n"), rule, "fail")
    assert found.instance == "X3"
    assert f"X3.{card} (board.cir:" in found.remedy
    assert found.remedy.endswith(
        "; of 3 blocks with this card only that in X3 (board.cir:10) joins these sides: look first at the nets and "
        "parameters that it is given"
    )


def test_a_joint_in_every_instance_is_one_of_the_block_and_of_no_call() -> None:
    cards = CHANNELS.replace("10meg", "10") + "X3 DRIVE3 GND OUT3 VB GNDB DEMO_CHANNEL\n"
    found = one(core(f"* t\n{cards}"), "bridge-conducting", "fail")
    assert "of 3 blocks" not in found.remedy

"""What the inventory of a netlist holds: every crossing once, with what rules say of it."""

from __future__ import annotations

from isolint.checking.engine import run
from isolint.checking.inventory import inventory
from isolint.preparing import prepare
from isolint.results import Crossing, Inventory
from isolint.rules import RULES
from isolint.source import MemoryTree
from tests.checking.boards import FACTS, SOUND

SPOKEN = [rule for rule in RULES if rule.group == "barrier" or rule.slug == "part-unknown"]


def taken(cards: str, facts: str = FACTS) -> Inventory:
    context, _ = prepare(MemoryTree({"board.cir": cards, "isolint.toml": f"top = true\n{facts}"}), "board.cir", "")
    return inventory(context, run(context, SPOKEN), "0")


def crossing(found: Inventory, name: str) -> Crossing:
    (barrier,) = found.barriers
    return next(item for item in barrier.crossings if item.name == name)


def test_a_coupler_is_shown_with_its_ratings_and_its_nets_on_each_side() -> None:
    found = crossing(taken(SOUND), "XU1")
    assert (found.kind, found.what, found.ends) == ("part", "phototransistor DEMO_PT1", (("GNDB", "OUT"), ("A", "GND")))
    assert {"grade reinforced", "withstand 5 kV", "creepage 8 mm"} <= set(found.details)


def test_what_is_stated_of_the_barrier_is_shown() -> None:
    (barrier,) = taken(SOUND).barriers
    assert barrier.stated == (("insulation", "basic"), ("working_voltage", "50 V"))
    assert barrier.sides == ("field", "logic")


def test_a_chain_is_one_crossing_with_one_element_shorted() -> None:
    found = crossing(taken(SOUND + "R8 GND M 4.7Meg\nR9 M GNDB 4.7Meg\n"), "R8, R9")
    assert (found.kind, found.what) == ("resistance", "9.4 Mohm")
    assert found.details == ("R8 4.7 Mohm", "R9 4.7 Mohm", "with one of them shorted: 4.7 Mohm")


def test_a_capacitor_is_shown_with_class_rating_and_what_rules_say() -> None:
    facts = f'{FACTS}[elements."C9"]\nclass = "X2"\nvoltage = "275 V"\n'
    found = crossing(taken(SOUND + "C9 GND GNDB 1n\n", facts), "C9")
    assert (found.what, found.details) == ("1 nF", ("X2, rated 275 V",))
    assert [(remark.mark, remark.rule) for remark in found.remarks] == [("error", "bridge-capacitor")]


def test_what_concerns_the_whole_barrier_stands_at_the_barrier() -> None:
    stated = 'mains = "24 V"\novervoltage_category = 2\n'
    facts = f'{FACTS}{stated}[elements."C9"]\nclass = "Y2"\nvoltage = "300 V"\n'
    (barrier,) = taken(SOUND + "C9 GND GNDB 1n\n", facts).barriers
    assert [(remark.mark, remark.rule) for remark in barrier.remarks] == [("open", "touch-current-high")]
    assert "touch current" in barrier.remarks[0].message


def test_a_joint_shows_the_path_that_an_engineer_would_draw() -> None:
    found = crossing(taken(SOUND + "R9 A OUT 4.7k\n"), "R9")
    assert (found.kind, found.what) == ("joint", "bridge-conducting, 4.7 kohm")
    assert (
        found.details[0]
        == "path: GNDB - XU1 (emitter to collector) - OUT - R9 4.7 kohm - A - XU1 (anode to cathode) - GND"
    )
    assert [remark.mark for remark in found.remarks] == ["error"]


def test_an_unknown_part_across_is_shown_as_such() -> None:
    found = crossing(taken(SOUND + "X9 V5 GND VB GNDB MYSTERY\n"), "X9")
    assert (found.kind, [remark.mark for remark in found.remarks]) == ("unknown", ["open"])


def test_a_coupler_on_one_ground_is_told_though_no_barrier_is_left() -> None:
    bare = FACTS.partition("[sides.logic]")[0]
    found = taken(SOUND.replace("GND GNDB", "GND GND"), bare)
    everything = [*found.others, *(item for barrier in found.barriers for item in barrier.crossings)]
    assert [(item.kind, item.name) for item in everything if item.kind == "joint"] == [("joint", "XU1")]


def test_every_result_of_the_barrier_rules_is_told() -> None:
    more = "X9 V5 GND VB GNDB MYSTERY\nC9 GND GNDB 1n\nXU2 A GND VDDX OUT2 GNDB DEMO_LO1\n"
    context, _ = prepare(
        MemoryTree({"board.cir": SOUND + more, "isolint.toml": f"top = true\n{FACTS}"}), "board.cir", ""
    )
    results = run(context, SPOKEN)
    found = inventory(context, results, "0")
    crossings = [*found.others, *(item for barrier in found.barriers for item in barrier.crossings)]
    told = {remark.message for item in crossings for remark in item.remarks}
    told |= {remark.message for remark in found.remarks}
    told |= {remark.message for barrier in found.barriers for remark in barrier.remarks}
    assert {result.message for result in results if result.kind in ("fail", "open")} <= told


def test_two_sides_with_nothing_but_a_capacitor_between_are_shown() -> None:
    facts = f'{FACTS}[sides.aux]\nnets = ["GNDX"]\n'
    found = taken(SOUND + "C9 GND GNDX 1n\n", facts)
    assert [barrier.sides for barrier in found.barriers] == [("field", "logic"), ("aux", "logic")]

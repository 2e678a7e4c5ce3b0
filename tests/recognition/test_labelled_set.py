"""The shares of right, asked and wrong answers over all labelled definitions, and over their look-alikes."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from tests.recognition.combined import CARRIERS, LEDS, OUTPUTS, combinations
from tests.recognition.labelled import LabelledDefinition, definitions, score, verdicts
from tests.recognition.lookalikes import all_lookalikes


@cache
def scored(under_new_names: bool) -> dict[str, str]:
    """How each definition is scored."""
    found: dict[str, str] = {}
    for file in sorted({definition.file for definition in definitions()}):
        of_file = [definition for definition in definitions() if definition.file == file]
        said = verdicts(of_file[0].text, [definition.name for definition in of_file], under_new_names)
        found |= {definition.name: score(definition, said[definition.name]) for definition in of_file}
    return found


@cache
def lookalikes(under_new_names: bool) -> Counter[str]:
    every = all_lookalikes()
    said = verdicts("\n".join(text for _, text in every), [name for name, _ in every], under_new_names)
    assert len(said) == len(every)
    return Counter(verdict.answer for verdict in said.values())


def test_there_are_enough_definitions_of_every_type() -> None:
    count = Counter(definition.type for definition in definitions())
    assert sum(count.values()) >= 80
    wanted = (
        "phototransistor photodarlington photo-scr phototriac mosfet-output photovoltaic logic-output gate-driver "
        "linear photoresistor isolated-amplifier digital-isolator isolated-supply transformer relay"
    )
    assert set(wanted.split()) <= set(count)
    assert len(all_lookalikes()) >= 300


@pytest.mark.parametrize("under_new_names", [False, True])
def test_no_definition_is_answered_wrongly_or_met_with_silence(under_new_names: bool) -> None:
    bad = {name: how for name, how in scored(under_new_names).items() if how in ("wrong", "silent")}
    assert bad == {}


@pytest.mark.parametrize(("under_new_names", "share"), [(False, 0.825), (True, 0.81)])
def test_most_definitions_are_answered_with_type_and_pins(under_new_names: bool, share: float) -> None:
    """Of the definitions written by hand, which are rich in what no structure decides: four of five."""
    count = Counter(scored(under_new_names).values())
    assert count["right"] >= share * sum(count.values()), count


@pytest.mark.parametrize("under_new_names", [False, True])
def test_of_all_definitions_four_of_five_are_answered_and_the_rest_asked_with_the_truth(under_new_names: bool) -> None:
    count = Counter(scored(under_new_names).values())
    every = combinations()[::10]
    said = verdicts("\n".join(d.text for d in every), [d.name for d in every], under_new_names)
    count.update(score(definition, said[definition.name]) for definition in every)
    assert count["right"] >= 0.8 * sum(count.values()), count
    assert count["wrong"] == 0


def test_every_way_of_writing_led_light_and_output_is_told_with_all_pins() -> None:
    every = combinations()
    said = verdicts("\n".join(definition.text for definition in every), [definition.name for definition in every])
    bad = {d.name: d.file for d in every if score(d, said[d.name]) != "right"}
    assert len(every) == len(LEDS) * len(CARRIERS) * len(OUTPUTS)
    assert bad == {}


@pytest.mark.parametrize("under_new_names", [False, True])
def test_lookalikes_are_left_alone(under_new_names: bool) -> None:
    count = lookalikes(under_new_names)
    every = sum(count.values())
    assert count["answered"] <= 0.005 * every, count
    assert count["asked"] <= 0.01 * every, count


def test_a_wrong_label_is_found() -> None:
    """The scores can fail: a label with two pins exchanged is no longer right."""
    text = next(d.text for d in definitions() if d.name == "DEMO_PT01")
    verdict = verdicts(text, ["DEMO_PT01"])["DEMO_PT01"]
    ports = ("A", "K", "C", "E")
    right = LabelledDefinition(
        "DEMO_PT01", "phototransistor", ("anode", "cathode", "collector", "emitter"), ports, text, ""
    )
    assert score(right, verdict) == "right"
    assert score(right._replace(pins=("anode", "cathode", "emitter", "collector")), verdict) == "wrong"
    assert score(right._replace(type="photodarlington"), verdict) == "wrong"
    assert score(right._replace(type="ordinary"), verdict) == "wrong"

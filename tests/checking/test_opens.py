"""One missing fact gives one open result, carried by the first rule in the order of the rule set."""

from __future__ import annotations

from isolint.checking import opens
from isolint.errors import Place
from isolint.results import Level, Margin, MissingFact, Result
from tests.answers import answered
from tests.checking.boards import FACTS, SECOND, SOUND, core, one, told
from tests.interfaces.finding import board

FACT = MissingFact("isolint.toml", 'outputs."DO".supply', '[outputs."DO"]\nsupply = "V5"')
OTHER = MissingFact("isolint.toml", 'inputs."DI".low_max', '[inputs."DI"]\nlow_max = "0.8 V"')


CARDS = "R1 a b 1\nR2 b c 1\nR10 c d 1\nRX1 d DO 1\nRX2 d DO2 1\nRX3 DI DI2 1"


def merge_opens(results: list[Result], cards: str = CARDS) -> list[Result]:
    """The results merged on a board of these cards."""
    return opens.merge_opens(results, board(cards).circuit)


def lacking(name: str, margin: float | None = None, table: str = "elements", leaf: str = "power") -> Result:
    """An open result that waits for one key of one name."""
    fact = MissingFact("isolint.toml", f'{table}."{name}".{leaf}', f'[{table}."{name}"]\n{leaf} = "1 W"')
    found = waiting("a-rule", "XU1", fact, role=name)
    return found if margin is None else found._replace(margin=Margin(margin, 1.0))


def test_the_same_key_of_several_elements_is_one_line_with_a_wildcard() -> None:
    first, second = merge_opens([lacking("RX1"), lacking("RX2")], CARDS.replace("RX3 ", "RY3 "))
    assert [fact.key for fact in first.missing] == ['elements."RX*".power']
    assert [fact.example for fact in first.missing] == ['[elements."RX*"]\npower = "1 W"']
    assert (second.kind, second.missing) == ("notApplicable", ())
    assert "a-rule (RX2)" in first.message


def test_a_wildcard_that_matches_another_element_is_not_offered() -> None:
    first, _ = merge_opens([lacking("RX1"), lacking("RX2")])
    assert [fact.key for fact in first.missing] == ['elements."RX1".power', 'elements."RX2".power']


def test_the_same_key_of_several_nets_is_one_line_with_a_wildcard() -> None:
    found = merge_opens([lacking("DI", table="inputs", leaf="low_max"), lacking("DI2", table="inputs", leaf="low_max")])
    assert [fact.key for fact in found[0].missing] == ['inputs."DI*".low_max']


def test_what_each_of_two_elements_is_stays_two_questions() -> None:
    assert [r.kind for r in merge_opens([lacking("RX1", leaf="type"), lacking("RX2", leaf="type")])] == ["open", "open"]


def test_another_key_of_the_same_elements_is_another_fact() -> None:
    assert [r.kind for r in merge_opens([lacking("RX1"), lacking("RX2", leaf="voltage")])] == ["open", "open"]


def test_the_worst_of_several_elements_carries_their_fact() -> None:
    found = merge_opens([lacking("RX1", 0.9), lacking("RX2", 0.4), lacking("RX3", 0.7)])
    assert [(result.role, result.kind) for result in found] == [
        ("RX2", "open"),
        ("RX1", "notApplicable"),
        ("RX3", "notApplicable"),
    ]
    assert [fact.key for fact in found[0].missing] == ['elements."RX*".power']


def waiting(rule: str, subject: str, *missing: MissingFact, counts_as: Level = "note", role: str = "") -> Result:
    """An open result."""
    message = f"{subject}: not judged: a reason"
    return Result("b", rule, "open", "none", message, Place("b"), subject, role, missing=missing, counts_as=counts_as)


def test_the_first_carries_it_and_the_others_name_it() -> None:
    first, second, third = merge_opens(
        [waiting("a-rule", "XU1", FACT), waiting("b-rule", "XU1", FACT), waiting("b-rule", "XU2", FACT)]
    )
    assert (first.kind, first.missing) == ("open", (FACT,))
    assert first.message.endswith("waiting for the same fact: b-rule, b-rule (XU2)")
    for other in (second, third):
        assert (other.kind, other.blocked_by, other.missing, other.counts_as) == ("notApplicable", "a-rule", (), "none")
        assert "a-rule" in other.message


def test_different_facts_stay_different_results() -> None:
    assert [
        result.kind for result in merge_opens([waiting("a-rule", "XU1", FACT), waiting("b-rule", "XU1", OTHER)])
    ] == ["open", "open"]


def test_case_does_not_make_two_facts_of_one() -> None:
    other = MissingFact("isolint.toml", 'OUTPUTS."do".supply', "another line")
    assert [result.kind for result in merge_opens([waiting("a-rule", "XU1", FACT), waiting("b-rule", "XU1", other)])][
        1
    ] == "notApplicable"


def test_one_line_to_write_is_one_fact_whatever_elements_it_settles() -> None:
    one_, two = (
        MissingFact("isolint.toml", f'elements."R{n}".tolerance', '[elements."R*"]\ntolerance = "1 %"') for n in (1, 2)
    )
    assert [result.kind for result in merge_opens([waiting("a-rule", "XU1", one_), waiting("a-rule", "XU2", two)])] == [
        "open",
        "notApplicable",
    ]


def test_what_nothing_can_settle_is_said_once_a_subject() -> None:
    results = merge_opens([waiting("a-rule", "XU1"), waiting("b-rule", "XU1"), waiting("b-rule", "XU2")])
    assert [result.kind for result in results] == ["open", "notApplicable", "open"]
    assert "open for the same reason: b-rule" in results[0].message


def test_a_rule_that_failed_itself_is_never_merged() -> None:
    results = merge_opens([waiting("a-rule", "XU1", role="internal"), waiting("b-rule", "XU1", role="internal")])
    assert [result.kind for result in results] == ["open", "open"]


def test_the_carrier_counts_as_the_most_serious_that_waits() -> None:
    first, _ = merge_opens([waiting("a-rule", "XU1", FACT), waiting("b-rule", "XU1", FACT, counts_as="error")])
    assert first.counts_as == "error"


def test_a_fact_that_two_channels_wait_for_is_asked_for_once() -> None:
    board = (SOUND + SECOND).replace("DRIVE2", "DRIVE")
    facts = FACTS.replace('high = { min = "4.4 V", at = "8 mA" }\n', "")
    results = core(board, facts)
    assert told(results) == [("led-unlimited", "open", "XU1")]
    carrier = one(results, "led-unlimited", "open")
    assert carrier.missing[0].key == 'outputs."DRIVE".high'
    for rule in ("led-reversed", "transfer-margin-low", "led-unlimited (XU2)", "drive-headroom-low (XU2)"):
        assert rule in carrier.message
    assert {result.blocked_by for result in results if result.subject == "XU2" and result.rule == "led-overdriven"} == {
        "led-unlimited"
    }


def test_the_open_result_of_a_load_is_carried_by_the_first_rule_of_the_load() -> None:
    results = core(SOUND.replace("OUT", "N1"))
    assert told(results) == [("transfer-margin-low", "open", "XU1")]
    assert one(results, "output-level-invalid").blocked_by == "transfer-margin-low"


def test_the_fact_that_is_asked_for_settles_it() -> None:
    board = SOUND.replace("OUT", "N1")
    (fact,) = one(core(board), "transfer-margin-low", "open").missing
    facts = f"{FACTS}{answered(fact.example)}\n".replace('"V3V3"', '"VB"')
    assert told(core(board, facts + 'low_current = "1 uA"\n')) == []

"""Causes and places inside of definitions: the card there, the calls that place it, the instances one by one."""

from __future__ import annotations

import pytest

from isolint.review.review_words import because, remarks
from isolint.review.values import Item
from tests.review.comparing import files, only, reviewed

CHANNEL = ".subckt CH d g gb o vb\nR1 d k 470\nXU1 k g gb o DEMO_PT1\nR2 vb o 10k\n.ends\n"
CALLS = "".join(f"X{n} DRIVE{n} GND GNDB OUT{n} VB CH\n" for n in range(1, 4))
THREE = f"* Three channels of one sheet, invented\n{CALLS}{CHANNEL}"
BAD = CHANNEL.replace("o 10k", "o 1k")
OTHER = BAD.replace("CH", "CH2").replace("470", "475")
BY_CALL = THREE.replace(" VB CH\n", " VB CH rl=10k\n").replace("o vb\n", "o vb rl=10k\n").replace("o 10k", "o {rl}")
BY_PARAMETER = THREE.replace("* Three", ".title x\n.param load=10k\n* Three").replace("o 10k", "o {load}")
LOOSE = "* The same without a sheet, invented\n" + "".join(
    f"R{n}1 DRIVE{n} K{n} 470\nXU{n} K{n} GND GNDB OUT{n} DEMO_PT1\nR{n}2 VB OUT{n} 10k\n" for n in range(1, 4)
)
PAIRS = (
    "* Sheets in sheets, invented\n"
    "XA DRIVE1 DRIVE2 GND GNDB OUT1 OUT2 VB PAIR\nXB DRIVE3 DRIVE4 GND GNDB OUT3 OUT4 VB PAIR\n"
    f".subckt PAIR d1 d2 g gb o1 o2 vb\nX1 d1 g gb o1 vb CH\nX2 d2 g gb o2 vb CH\n.ends\n{CHANNEL}"
)


def told(item: Item) -> tuple[str, str]:
    """Cause, with its line where that is another one, and instances."""
    return because(item.cause, item.where), ", ".join(word for word in remarks(item) if "instances" in word)


@pytest.mark.parametrize(
    ("old", "new", "cause", "instances"),
    [
        pytest.param(
            THREE, THREE.replace("o 10k", "o 1k"), "because CH:R2 went from 10 kohm to 1 kohm",
            "all 3 instances: X1, X2, X3", id="a value in the definition",
        ),
        pytest.param(
            THREE, THREE.replace("o 10k", "o 10k\nR3 vb o 1k"), "because CH:R3 came (1 kohm at vb o)",
            "all 3 instances: X1, X2, X3", id="a card that came into it",
        ),
        pytest.param(
            THREE, THREE.replace("CH", "CHANNEL").replace("o 10k", "o 1k"),
            "because CH:R2 went from 10 kohm to 1 kohm", "all 3 instances: X1, X2, X3", id="renamed and edited",
        ),
        pytest.param(
            THREE, THREE.replace("OUT2 VB CH", "OUT2 VB CH2") + OTHER,
            "because X2 went from CH to CH2, in which R1 470 ohm -> 475 ohm, R2 10 kohm -> 1 kohm (board.cir:3)", "",
            id="another definition for one",
        ),
        pytest.param(
            BY_CALL, BY_CALL.replace("rl=10k", "rl=1k", 1),
            "because X1 went from CH rl=10000 to CH rl=1000 (board.cir:2)", "1 of 3 instances: X1",
            id="a parameter of one call",
        ),
        pytest.param(
            BY_CALL, BY_CALL.replace("rl=10k", "rl=1k", 2),
            "because X1 went from CH rl=10000 to CH rl=1000; X2 went from CH rl=10000 to CH rl=1000",
            "2 of 3 instances: X1, X2", id="a parameter of two calls",
        ),
        pytest.param(
            BY_PARAMETER, BY_PARAMETER.replace("=10k", "=1k"), "because load went from 10000 to 1000 (board.cir:2)",
            "all 3 instances: X1, X2, X3", id="a parameter that all read",
        ),
        pytest.param(
            PAIRS, PAIRS.replace("o 10k", "o 1k"), "because CH:R2 went from 10 kohm to 1 kohm",
            "all 4 instances: XA.X1, XA.X2, XB.X1, XB.X2", id="sheets in sheets",
        ),
        pytest.param(
            PAIRS, PAIRS.replace("o2 vb CH", "o2 vb CH2") + OTHER,
            "because PAIR:X2 went from CH to CH2, in which R1 470 ohm -> 475 ohm, R2 10 kohm -> 1 kohm (board.cir:6)",
            "all 2 instances: XA.X2, XB.X2", id="another definition in a sheet",
        ),
    ],
)  # fmt: skip
def test_the_card_in_the_definition_and_the_instances_are_named(old: str, new: str, cause: str, instances: str) -> None:
    item = only(reviewed(files(old), files(new)))
    assert (item.state, item.rule) == ("new", "transfer-margin-low") and item.cause.kind in ("one", "each")
    assert told(item) == (cause, instances)


def test_a_sheet_that_comes_in_place_of_loose_cards_is_named_with_its_calls() -> None:
    item = only(reviewed(files(LOOSE), files(THREE.replace("o 10k", "o 1k"))))
    cause, instances = told(item)
    assert cause.startswith("because X1 came (CH at DRIVE1 GND GNDB OUT1 VB), whose definition CH came too")
    assert (item.where.line, instances) == (8, "all 3 instances: X1, X2, X3")


@pytest.mark.parametrize("more", ["", "R77 DRIVE1 DRIVE9 4.7k\n"])
def test_a_definition_that_goes_while_it_is_called_is_the_cause_of_what_is_asked_then(more: str) -> None:
    item = only(reviewed(files(THREE), files(f"{THREE.removesuffix(CHANNEL)}{more}")))
    assert (item.state, item.rule) == ("opened", "part-unknown") and item.cause.proven and item.counts
    assert because(item.cause) == "because the definition of CH is gone"


def test_a_definition_that_comes_while_it_is_called_is_the_cause_of_what_fails_then() -> None:
    bad = THREE.replace("o 10k", "o 1k")
    review = reviewed(files(f"{THREE.removesuffix(CHANNEL)}R77 DRIVE1 DRIVE9 4.7k\n"), files(bad))
    found = {item.state: item for item in review.items}
    assert found.keys() == {"new", "settled"}
    assert because(found["new"].cause) == "because the definition of CH came" and found["new"].cause.proven


def test_one_instance_that_goes_takes_its_own_failure_with_it() -> None:
    bad = THREE.replace("o 10k", "o 1k")
    item = only(reviewed(files(bad), files(bad.replace(CALLS.splitlines(keepends=True)[1], ""))))
    assert item.state == "fixed" and told(item)[0].startswith("because X2 is gone (it was CH at")
    assert told(item)[1] == "1 of 3 instances: X2"


def test_boards_that_share_a_sheet_are_named() -> None:
    deck = '* A deck, invented\n.include "../lib/channel.inc"\n'
    own = "\n".join(LOOSE.splitlines()[1:4]) + "\n"
    settings = files()["isolint.toml"]
    old = {"isolint.toml": settings, "a/x.cir": deck, "b/x.cir": deck, "lib/channel.inc": own}
    item = only(reviewed(old, {**old, "lib/channel.inc": own.replace("OUT1 10k", "OUT1 1k")}))
    assert "on 2 boards: a/x.cir, b/x.cir" in list(remarks(item))

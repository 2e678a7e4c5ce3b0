"""Which facts hold for a name: exact beats pattern, longer literal beats shorter, a tie is a mistake."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.errors import SettingsError
from isolint.facts import Facts, load
from isolint.source import MemoryTree


def read(text: str) -> Facts:
    return load(MemoryTree({"isolint.toml": text}), "board.cir")


def elements(**tolerances: str) -> Facts:
    return read("".join(f'[elements."{name}"]\ntolerance = "{value} %"\n' for name, value in tolerances.items()))


def tolerance(facts: Facts, path: str) -> float | None:
    stated = facts.element(path).tolerance
    return None if stated is None else round(stated.value.high * 100, 6)


@pytest.mark.parametrize(
    ("key", "path", "matches"),
    [
        ("R*", "R1", True),
        ("R*", "Xch1.R1", True),
        ("R*", "Xch1.C1", False),
        ("r1", "R1", True),
        ("R1", "r1", True),
        ("R1", "Xch1.Xsub.R1", True),
        ("R1", "R11", False),
        ("Xch1.R1", "Xch1.R1", True),
        ("XCH1.r1", "Xch1.R1", True),
        ("Xch1.R1", "R1", False),
        ("Xch1.R1", "Xtop.Xch1.R1", False),
        ("X*.R1", "Xch1.R1", True),
        ("X*.R1", "R1", False),
        ("R?", "R1", True),
        ("R?", "R11", False),
        ("D[0]", "D[0]", True),
        ("D[0]", "D0", False),
        ("D[*", "D[7]", True),
        ("*", "Xch1.R1", True),
    ],
)
def test_a_key_matches_local_names_or_paths(key: str, path: str, matches: bool) -> None:
    facts = elements(**{key: "3"})
    assert (tolerance(facts, path) == 3.0) is matches


def test_net_keys_match_the_whole_name() -> None:
    facts = read(
        '[supplies."+3.3V"]\nground = "a"\n[supplies."VCC*"]\nground = "b"\n[supplies."X1.n[3]"]\nground = "c"'
    )
    for net, ground in (("+3.3v", "a"), ("VCC_ISO", "b"), ("x1.N[3]", "c"), ("Xch1.VCC", None), ("n[3]", None)):
        supply = facts.supply(net)
        found = supply.ground.value if supply and supply.ground else None
        assert found == ground, net


def test_exact_beats_pattern_and_longer_literal_beats_shorter() -> None:
    facts = elements(**{"R*": "5", "R1*": "2", "R10": "1", "Xa.R10": "0.5", "X*.R1*": "0.1"})
    assert tolerance(facts, "R2") == 5
    assert tolerance(facts, "R11") == 2
    assert tolerance(facts, "R10") == 1
    assert tolerance(facts, "Xa.R10") == 0.5
    assert tolerance(facts, "Xb.R12") == 0.1
    assert tolerance(facts, "Xb.R10") == 1


def test_each_key_comes_from_the_best_row_that_states_it() -> None:
    facts = read('[elements."R*"]\ntolerance = "5 %"\npower = "0.1 W"\n[elements.R1]\ntolerance = "1 %"')
    element = facts.element("R1")
    assert element.tolerance is not None
    assert element.tolerance.key == 'elements."R1".tolerance'
    assert element.power is not None
    assert element.power.key == 'elements."R*".power'


def test_a_tie_with_different_values_is_a_mistake_that_names_both() -> None:
    facts = elements(**{"R1*": "1", "R*1": "5"})
    with pytest.raises(SettingsError) as error:
        facts.element("R11")
    assert str(error.value) == (
        'isolint.toml: elements."R1*".tolerance: "1 %" ties with elements."R*1".tolerance = "5 %" (isolint.toml): '
        "both match R11 equally well (write the whole name, or more of it in one of them)"
    )
    assert tolerance(facts, "R12") == 1


def test_a_tie_with_the_same_value_is_none() -> None:
    assert tolerance(elements(**{"R1*": "1", "R*1": "1"}), "R11") == 1


def test_a_tie_of_alternatives_is_a_mistake() -> None:
    facts = read('[elements."U1*"]\npart = "A"\n[elements."U*1"]\nordinary = true')
    with pytest.raises(SettingsError, match="ties"):
        facts.element("U11")


def test_a_better_row_hides_the_alternatives_of_a_poorer_one() -> None:
    element = read('[elements."U*"]\npart = "A"\n[elements.U1]\nordinary = true').element("U1")
    assert element.part is None
    assert element.ordinary is not None


def test_elements_with_the_same_rows_share_one_record() -> None:
    facts = elements(**{"R*": "5"})
    assert facts.element("R1") is facts.element("Xa.R2")


@given(st.text("ab*?[]!-", max_size=8), st.text("ab[]!-", max_size=8))
def test_patterns_mean_what_a_plain_matcher_says(pattern: str, name: str) -> None:
    if not pattern.strip() or not name:
        return
    facts = read(f'[supplies."{pattern}"]\nground = "g"')
    assert (facts.supply(name) is not None) is plainly(pattern, name)


def plainly(pattern: str, name: str) -> bool:
    """A matcher from the definition: `*` any run, `?` any character."""
    if not pattern:
        return not name
    if pattern[0] == "*":
        return any(plainly(pattern[1:], name[start:]) for start in range(len(name) + 1))
    return bool(name) and pattern[0] in ("?", name[0]) and plainly(pattern[1:], name[1:])


def test_a_hostile_pattern_takes_no_time() -> None:
    facts = read(f'[supplies."{"a*" * 60}b"]\nground = "g"')
    start = time.process_time()
    assert facts.supply("a" * 5000) is None
    assert time.process_time() - start < 1.0

"""Channels of switching outputs are held once all that is asked is answered, and never by their record's head."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.rules.test_mains_switching import (
    coupler,
    dc,
    direct,
    heater,
    judged,
    margin,
    mosfet,
    of,
    record,
    supply,
    triac,
)
from tests.rules.test_ways_of_switches import relay

THYRISTOR = {
    "gate_current": '"35 mA"', "gate_voltage": '"1.3 V"', "latching_current": '"60 mA"', "blocking_voltage": '"800 V"',
    "current_rms": '"12 A"', "holding_current": '"35 mA"',
}  # fmt: skip
COUPLER = {
    "surge_current": '"1 A"', "blocking_voltage": '"600 V"', "on_voltage": '"3 V"', "holding_current": '"1 mA"',
    "current_rms": '"0.1 A"', "leakage": '"10 uA"',
}  # fmt: skip
POWER = '[parts.DEMO_X.output]\npower_max = "0.5 W"\n'
WHOLE = {
    "current_max": '"2 A"', "current_min": '"10 mA"', "leakage": '"10 uA"', "internal_snubber": "true",
}  # fmt: skip
MOSFET = {
    "voltage_max": '"60 V"', "current_max": '"0.5 A"', "on_resistance": '"1 ohm"', "bidirectional": "true",
    "power_max": '"0.5 W"', "leakage": '"1 uA"',
}  # fmt: skip
SCR = {**COUPLER, "gate_resistor": '"27 kohm"'}


def scr(**stated: str) -> str:
    """A photo-SCR whose gate is brought out."""
    pins = '"anode", "cathode", "scrk", "scra", "gate"'
    return record("photo-scr", pins, "trigger", {"zero_crossing": "false", **stated})


def state(report: NetlistReport) -> tuple[str, tuple[str, ...]]:
    (one,) = [each for each in report.coverage.answers if each.part == "XU1"]
    return one.state, one.unanswered


BLOCKING = '[parts.DEMO_X.trigger]\nblocking_voltage = "600 V"\n'
GATED = "* board\nR1 DRV A 300\nXU1 A GND N T1 G DEMO_X\nR3 T1 L 8k\nR5 G N 20k\n"


@pytest.mark.parametrize(
    ("board", "settings", "records"),
    [
        (heater(), supply(), (coupler(**COUPLER), triac(**THYRISTOR))),
        (direct(), supply(), (coupler(**COUPLER, commutating_slew='"0.2 V/us"') + POWER,)),
        (direct("R3 T1 L 400"), supply(), (relay(**WHOLE) + BLOCKING,)),
        (direct("R3 T1 V24 100"), dc(), (mosfet(**MOSFET),)),
        (direct("R3 T1 L 100"), supply("24 V"), (mosfet(**MOSFET),)),
        (GATED, supply(), (scr(**SCR) + POWER,)),
    ],
    ids=["triac", "phototriac", "solid-state-relay", "mosfet on direct current", "mosfet on 24 V AC", "photo-scr"],
)
def test_a_complete_board_of_each_type_is_held(board: str, settings: str, records: tuple[str, ...]) -> None:
    assert state(judged(board, settings, *records)) == ("held", ())


HEADS = {
    "phototriac": '"anode", "cathode", "t1", "t2"',
    "solid-state-relay": '"anode", "cathode", "l1", "l2"',
    "mosfet-output": '"anode", "cathode", "load1", "load2"',
}


@pytest.mark.parametrize("kind", HEADS)
@pytest.mark.parametrize("rms", ["24 V", "230 V"])
def test_a_board_whose_record_has_no_more_than_its_head_is_never_held(kind: str, rms: str) -> None:
    head = f'[parts.DEMO_X]\ntype = "{kind}"\npins = [{HEADS[kind]}]\n'
    assert state(judged(direct("R3 T1 L 1k"), supply(rms), head))[0] != "held"
    assert state(judged(direct("R3 T1 V24 1k"), dc(), head))[0] != "held"


# -- surges --------------------------------------------------------------------------

SURGE = "surge-unclamped"
CATEGORY = (
    '[[barriers]]\nbetween = ["logic", "mains"]\ninsulation = "functional"\nmains = "230 V"\n'
    'mains_frequency = "50 Hz"\n'
    "overvoltage_category = 2\n"
)


def test_a_category_alone_asks_what_is_left_of_its_impulse() -> None:
    part = coupler(**COUPLER) + POWER
    asked = of(judged(direct(), supply() + CATEGORY, part), SURGE)
    assert (asked.kind, [fact.key for fact in asked.missing]) == ("open", ['supplies."L".surge'])
    varistor = '[elements."RV1"]\nclamp_voltage = "595 V"\n'
    clamped = judged(direct("R3 T1 L 8k\nRV1 L N 1G"), supply() + CATEGORY + varistor, part)
    assert of(clamped, SURGE).kind == "pass"
    quiet = judged(direct(), supply(more='surge = "200 V"\n') + CATEGORY, part)
    assert (of(quiet, SURGE).kind, margin(of(quiet, SURGE))) == ("pass", 1.08)


@pytest.mark.parametrize("card", ["RV1 L LX 1G", "RV1 A GND 1G", "RV1 T1 L 1G", "RV1 L L 1G"])
def test_a_varistor_elsewhere_clamps_nothing(card: str) -> None:
    varistor = '[elements."RV1"]\nclamp_voltage = "595 V"\n'
    found = judged(direct(f"R3 T1 L 8k\n{card}"), supply(more='surge = "1 kV"\n') + varistor, coupler(**COUPLER))
    assert (of(found, SURGE).kind, of(found, SURGE).level) == ("fail", "warning")


def test_a_thyristor_that_blocks_less_than_its_coupler_decides() -> None:
    low = triac(**{**THYRISTOR, "blocking_voltage": '"500 V"'})
    varistor = '[elements."RV1"]\nclamp_voltage = "560 V"\n'
    board = heater(load="R3 M2 N 52\nRV1 L N 1G")
    found = of(judged(board, supply(more='surge = "1 kV"\n') + varistor, coupler(**COUPLER), low), SURGE)
    assert found.kind == "fail" and "blocking voltage of XT1 is 500 V" in found.message


# -- off current ---------------------------------------------------------------------

OFF = "off-current-high"


@pytest.mark.parametrize(
    ("farads", "supplied", "amps"),
    [("10n", "230 V", "0.954 mA"), ("10n", "120 V", "0.498 mA"), ("1n", "230 V", "95.4 uA")],
)
def test_a_snubber_lets_two_pi_f_c_v_flow(farads: str, supplied: str, amps: str) -> None:
    part = coupler(**{**COUPLER, "leakage": '{ max = "1 nA", at = "100 degC" }'})
    board = direct(f"R3 T1 L 8k\nR4 T1 S 100\nC1 S N {farads}")
    assert f"up to {amps} flow" in of(judged(board, supply(supplied), part), OFF).message


def test_a_leakage_doubles_every_ten_kelvins_beyond_its_temperature_at_worst() -> None:
    board = direct("R3 T1 L 8k")
    for leak, flows in (('{ max = "20 uA", at = "40 degC" }', "20 uA"), ('{ max = "20 uA", at = "20 degC" }', "80 uA")):
        found = of(judged(board, supply(), coupler(**{**COUPLER, "leakage": leak})), OFF)
        assert found.kind == "pass" and f"up to {flows} flow" in found.message


def test_a_resistor_across_the_switch_counts_and_one_across_the_load_does_not() -> None:
    part = mosfet(**MOSFET)
    across = of(judged(direct("R3 T1 V24 100\nR4 T1 N 1k"), dc(), part), OFF)
    assert across.kind == "fail" and "29.1 mA" in across.message
    beside = of(judged(direct("R3 T1 V24 100\nR4 T1 V24 1k"), dc(), part), OFF)
    assert beside.kind == "pass"


def test_a_relay_behind_a_mosfet_output_drops_out_below_its_own_current() -> None:
    coil = (
        '[parts.DEMO_K]\ntype = "relay"\npins = ["coil1", "coil2", "com", "no"]\n[parts.DEMO_K.coil]\n'
        'resistance = "1440 ohm"\nvoltage = "24 V"\npull_in = "16 V"\ndrop_out = "1.2 V"\n'
    )
    board = direct("XK1 T1 V24 V24 OUT DEMO_K\nD1 T1 V24 DD\n.model DD D\nR9 OUT N 10k\n{more}")
    part = mosfet(**MOSFET)
    sound = of(judged(board.replace("{more}", ""), dc(), part, coil), OFF)
    assert sound.kind == "pass" and "the drop-out current of XK1 is 0.833 mA" in sound.message
    bleeds = of(judged(board.replace("{more}", "R4 T1 N 22k"), dc(), part, coil), OFF)
    assert (bleeds.kind, margin(bleeds)) == ("fail", 0.63)


# -- gates ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("resistor", "stated", "kind"),
    [
        ("", '"27 kohm"', "fail"),
        ("R5 G N 26k", '"27 kohm"', "pass"),
        ("R5 G N 27k", '"27 kohm"', "pass"),
        ("R5 G N 56k", '"27 kohm"', "fail"),
        ("R5 G T1 20k", '"27 kohm"', "fail"),
        ("", "", "open"),
        ("R5 G N 9k", "", "pass"),
        ("R5 G N 27k", "", "open"),
    ],
)
def test_the_gate_of_a_photo_scr_needs_its_resistor(resistor: str, stated: str, kind: str) -> None:
    board = f"* board\nR1 DRV A 300\nXU1 A GND N T1 G DEMO_X\nR3 T1 L 8k\n{resistor}\n"
    values = {**COUPLER, **({"gate_resistor": stated} if stated else {})}
    assert of(judged(board, supply(), scr(**values)), "gate-cathode-resistor-missing").kind == kind


def test_a_smaller_resistor_at_the_gate_asks_for_more_light() -> None:
    bare = scr(**SCR, current_max='"7 mA"').replace('recommended_current_min = "7 mA"\n', "")
    enough = GATED.replace("R1 DRV A 300", "R1 DRV A 220").replace("R5 G N 20k", "R5 G N 27k")
    report = judged(enough.replace("27k", "10k"), supply(), bare)
    found = of(report, "trigger-margin-low")
    assert found.kind == "open"
    shunted = "rise of the trigger current by the resistor at its gate"
    assert shunted in [each.name for each in found.assumptions]
    assert shunted not in str(of(judged(enough, supply(), bare), "trigger-margin-low").assumptions)


# -- what lies beside ----------------------------------------------------------------


def test_what_lies_across_a_thyristor_is_none_of_its_load() -> None:
    part = coupler(**COUPLER)
    bled = judged(heater(load="R3 M2 N 52\nR4 M2 L 1MEG"), supply(), part, triac(**THYRISTOR))
    assert of(bled, "load-current-low").kind == "pass"
    assert state(bled)[0] == "held"
    direct_ = judged(direct("R3 T1 L 8k\nR4 T1 N 100k"), supply(), part + POWER)
    assert margin(of(direct_, "load-current-low")) == 36.23


def test_three_equal_switches_with_loads_of_their_own_are_judged_one_by_one() -> None:
    cards = "".join(f"R{n} DRV{n} A{n} 300\nXU{n} A{n} GND P{n} N DEMO_X\n" for n in range(1, 5))
    loads = "".join(
        f'[loads."P{n}"]\nkind = "resistive"\nreturn = "L"\ncurrent = ["20 mA", "{50 if n < 4 else 150} mA"]\n'
        f'[outputs."DRV{n}"]\nsupply = "V5"\nhigh = {{ min = "4.4 V", at = "16 mA" }}\n'
        'low = { max = "0.4 V", at = "16 mA" }\nsource_max = "20 mA"\n'
        for n in range(1, 5)
    )
    report = judged(f"* board\n{cards}", supply() + loads, coupler(**COUPLER) + POWER)
    found = {each.part: each.kind for each in report.results if each.rule == "output-current-exceeded"}
    assert found == {"XU1": "pass", "XU2": "pass", "XU3": "pass", "XU4": "fail"}


COIL = (
    '[parts.DEMO_K]\ntype = "relay"\npins = ["coil1", "coil2", "com", "no"]\n[parts.DEMO_K.coil]\n'
    'resistance = "{ohms} ohm"\nvoltage = "24 V"\npull_in = "16 V"\ndrop_out = "1.2 V"\n'
)


@pytest.mark.parametrize(
    ("ohms", "more", "kind"), [("1440", "", "pass"), ("40", "", "fail"), ("1440", "R4 T1 V24 20", "open")]
)
def test_the_coil_of_a_relay_is_a_load_as_its_record_states_it(ohms: str, more: str, kind: str) -> None:
    board = direct(f"XK1 T1 V24 V24 OUT DEMO_K\nD1 T1 V24 DD\n.model DD D\nR9 OUT N 10k\n{more}")
    report = judged(board, dc(), mosfet(**MOSFET), COIL.format(ohms=ohms))
    assert of(report, "output-current-exceeded").kind == kind

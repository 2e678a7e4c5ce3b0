"""Switches in series with resistors across each: who shares the voltage, who has all of it, and what that costs."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.rules.test_mains_switching import DRIVE, coupler, dc, mosfet, record, supply, triac
from tests.support import judge, without_cures

HEAD = DRIVE.removeprefix("top = true\n").replace('[outputs."DRV"]', '[outputs."DRV*"]').replace('"20 mA"', '"60 mA"')
ONE, TWO = "R1 DRV A 150\n", "R1 DRV A 300\nR11 DRV2 K 300\n"
SERIES = "XU1 A K T1 M DEMO_X\nXU2 K GND M N DEMO_X\n"
APART = "XU1 A GND T1 M DEMO_X\nXU2 K GND M N DEMO_X\n"
EACH = "R8 T1 M {0}\nR9 M N {0}\n"
LOAD = '[loads."T1"]\nkind = "resistive"\ncurrent = "{}"\noff_current_max = "{}"\nreturn = "L"\n'
MAINS = supply() + LOAD.format("25 mA", "2 mA")
BLOCKS, STANDS = "blocking-voltage-low", "output-voltage-exceeded"


def judged(cards: str, settings: str, *records: str) -> NetlistReport:
    with without_cures():
        return judge(f"* board\n{cards}.end\n", HEAD + settings, p__toml="".join(records))


def wrong(report: NetlistReport) -> list[tuple[str, str, str]]:
    return sorted((one.kind, one.rule, one.subject) for one in report.results if one.kind in ("fail", "open"))


def each(kind: str, rule: str) -> list[tuple[str, str, str]]:
    return [(kind, rule, "XU1"), (kind, rule, "XU2")]


def of(report: NetlistReport, rule: str) -> Result:
    return next(one for one in report.results if (one.rule, one.subject, one.role) == (rule, "XU1", ""))


def phototriac(blocks: str = "250 V", leaks: str = "1 uA") -> str:
    return coupler(
        commutating_slew='"0.25 V/us"',
        blocking_voltage=f'"{blocks}"',
        current_rms='"100 mA"',
        holding_current='"1 mA"',
        leakage=f'"{leaks}"',
    )


@pytest.mark.parametrize(
    ("cards", "expected"),
    [
        pytest.param(ONE + SERIES + EACH.format("470k"), [], id="each"),
        pytest.param(TWO.replace("DRV2", "DRV") + APART + EACH.format("470k"), [], id="one signal, two resistors"),
        pytest.param(
            ONE + SERIES + "R81 T1 P 220k\nR82 P M 220k\nR91 M Q 220k\nR92 Q N 220k\n", [], id="strings of two each"
        ),
        pytest.param(ONE + SERIES, each("fail", BLOCKS), id="none"),
        pytest.param(ONE + SERIES + "R8 T1 M 470k\n", each("fail", BLOCKS), id="across one only"),
        pytest.param(ONE + SERIES + "R8 T1 N 940k\n", each("fail", BLOCKS), id="across both together"),
        pytest.param(ONE + SERIES + EACH.format("100meg"), each("fail", BLOCKS), id="too large"),
        pytest.param(ONE + SERIES + EACH.format("33k"), each("fail", "off-current-high"), id="too small"),
        pytest.param(
            ONE + SERIES + "R8 T1 M 470k\nR9 M N 220k\n", [("fail", BLOCKS, "XU1")], id="unequal, so that one has more"
        ),
        pytest.param(TWO + APART + EACH.format("470k"), each("fail", BLOCKS), id="one may conduct while one is off"),
        pytest.param(ONE + SERIES + EACH.format("470k") + "R7 M L 1meg\n", each("fail", BLOCKS), id="more at it"),
    ],
)  # fmt: skip
def test_phototriacs_of_250_volts_in_series_on_230_volts_need_equal_resistors(
    cards: str, expected: list[tuple[str, str, str]]
) -> None:
    assert wrong(judged(cards, MAINS, phototriac())) == expected


def test_the_share_can_be_redone_by_hand() -> None:
    """Derived: 358 V and 2.83 uA, twice every 10 K from 25 to 40 degC, in 470 kohm 1 % off."""
    found = of(judged(ONE + SERIES + EACH.format("470k"), MAINS, phototriac()), BLOCKS)
    others, own = 470e3 * 0.99, 470e3 * 1.01
    share = (230.0 * 1.1 * 2.0**0.5 + 1e-6 * 2.0**1.5 * others) * own / (own + others)
    assert found.margin is not None and found.margin.value == pytest.approx(250.0 / (1.2 * share), rel=1e-4)
    assert any(item.formula.startswith("V_share = (V_pk + V_leak) * R_own") for item in found.evidence)


@pytest.mark.parametrize(
    ("cards", "why"),
    [
        (ONE + SERIES + "R8 T1 M 470k\n", "R8 shares none of it: no resistor lies across XU2"),
        (ONE + SERIES + EACH.format("100meg"), "R8 and R9 share none of it: a switch may pass more than a tenth of"),
        (TWO + APART + EACH.format("470k"), "R8 and R9 share none of it: XU2 may conduct while it is off"),
        (ONE + SERIES + EACH.format("470k") + "C1 T1 M 10n\n", "share none of it: the capacitors across them are"),
    ],
)  # fmt: skip
def test_resistors_that_share_nothing_are_told_with_the_reason(cards: str, why: str) -> None:
    assert why in of(judged(cards, MAINS, phototriac()), BLOCKS).message


def test_capacitors_across_each_share_by_their_tolerance() -> None:
    cards = ONE + SERIES + EACH.format("470k") + "C1 T1 S1 10n\nR81 S1 M 100\nC2 M S2 10n\nR91 S2 N 100\n"
    wide = MAINS + '[elements."C*"]\ntolerance = "{}"\n'
    assert wrong(judged(cards, wide.format("5 %"), phototriac())) == []
    assert set(each("fail", BLOCKS)) <= set(wrong(judged(cards, wide.format("20 %"), phototriac())))


def test_three_in_series_share_among_three_and_one_without_a_resistor_leaves_all_to_each() -> None:
    drive = '[supplies."V12"]\nvoltage = "12 V"\nground = "GND"\n'
    cards = (
        "R1 V12 A 330\nXU1 A K T1 M DEMO_X\nXU2 K K2 M M2 DEMO_X\nXU3 K2 SINK M2 N DEMO_X\nR7 T1 M 330k\nR8 M M2 330k\n"
    )
    sink = '[outputs."SINK"]\nsupply = "V12"\ndrive = "open-drain"\nlow = { max = "0.4 V", at = "20 mA" }\n'
    settings = MAINS + drive + sink + 'sink_max = "60 mA"\n'
    assert wrong(judged(cards + "R9 M2 N 330k\n", settings, phototriac("150 V"))) == []
    assert len([one for one in wrong(judged(cards, settings, phototriac("150 V"))) if one[1] == BLOCKS]) == 3


def test_two_that_fire_one_triac_share_what_it_blocks_and_the_gate_gets_what_both_resistors_let_through() -> None:
    cards = f"{ONE}XU1 A K T1 M DEMO_X\nXU2 K GND M G DEMO_X\nR2 T1 M2 390\nXT1 M2 G L DEMO_T\nR3 M2 N 52\n"
    fired = triac(blocking_voltage='"800 V"', current_rms='"16 A"', holding_current='"30 mA"', gate_current='"35 mA"')
    assert ("fail", BLOCKS, "XU1") in wrong(judged(cards, supply(), phototriac(), fired))
    report = judged(f"{cards}R8 T1 M 470k\nR9 M G 470k\n", supply(), phototriac(), fired)
    assert not [one for one in wrong(report) if one[1] in (BLOCKS, "triac-fires-late")]
    peak = 230.0 * 1.1 * 2.0**0.5
    leaks = of(report, "gate-leakage-high").evidence[0].max
    assert leaks == pytest.approx(peak / (2.0 * 470e3 * 0.99) + 1e-6 * 2.0**1.5, rel=1e-3)


@pytest.mark.parametrize(
    ("ohms", "leak", "expected"),
    [
        ("100k", '"0.1 mA"', []),
        ("1meg", '"0.1 mA"', each("fail", BLOCKS)),
        ("100k", "", [("open", BLOCKS, "XU1"), ("open", BLOCKS, "XU2")]),
    ],
)
def test_solid_state_relays_that_may_leak_much_are_asked_how_much(
    ohms: str, leak: str, expected: list[tuple[str, str, str]]
) -> None:
    stated = {"current_max": '"3 A"', "current_min": '"10 mA"', "on_voltage": '"1.5 V"'}
    relay = record("solid-state-relay", '"anode", "cathode", "load1", "load2"', "output", stated)
    relay += f"leakage = {leak}\n" if leak else ""
    relay += '[parts.DEMO_X.trigger]\nblocking_voltage = "250 V"\nzero_crossing = true\n'
    report = judged(ONE + SERIES + EACH.format(ohms), supply() + LOAD.format("0.5 A", "20 mA"), relay)
    assert [one for one in wrong(report) if one[1] == BLOCKS] == expected[:1] or wrong(report) == expected


@pytest.mark.parametrize(("across", "fails"), [(EACH.format("100k"), False), ("", True), (EACH.format("22meg"), True)])
def test_mosfet_outputs_of_25_volts_share_28_8_volts(across: str, fails: bool) -> None:
    known = mosfet(voltage_max='"25 V"', current_max='"1.5 A"', leakage='"1 uA"', on_resistance='"0.1 ohm"')
    cards = f"{ONE}R3 V24 T1 24\n{SERIES}{across}"
    found = [one for one in wrong(judged(cards, dc(), known)) if one[1] == STANDS]
    assert found == (each("fail", STANDS) if fails else [])


TRANSISTOR = """[parts.DEMO_X]
type = "phototransistor"
pins = ["anode", "cathode", "collector", "emitter"]
[parts.DEMO_X.led]
technology = "GaAs"
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
reverse_voltage_max = "6 V"
off_voltage = "0.8 V"
off_current = "20 uA"
[parts.DEMO_X.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]
versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]
ageing = { remaining = 0.8 }
[parts.DEMO_X.output]
voltage_max = "40 V"
reverse_voltage_max = "6 V"
current_max = "50 mA"
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
"""
READ = """[supplies."V48"]
voltage = "48 V"
tolerance = "5 %"
ground = "N"
[inputs."T1"]
supply = "V48"
low_max = "10 V"
high_min = "30 V"
low_current = "1 uA"
high_current = "1 uA"
"""


@pytest.mark.parametrize(
    ("cards", "expected"),
    [
        pytest.param(ONE + SERIES + EACH.format("470k"), [], id="each"),
        # Both are off together, so that the level rests on both resistors.
        pytest.param(ONE + SERIES + EACH.format("80k"), [], id="each, of the size of the pull-up"),
        pytest.param(ONE + SERIES + EACH.format("10k"), each("fail", "dark-current-high"), id="too small"),
        pytest.param(ONE + SERIES, each("fail", STANDS), id="none"),
        pytest.param(ONE + SERIES + EACH.format("220meg"), each("fail", STANDS), id="too large"),
        pytest.param(TWO + APART + EACH.format("470k"), each("fail", STANDS), id="one may conduct while one is off"),
        pytest.param(ONE + SERIES + "R8 T1 M 2.2meg\nR9 M N 220k\n", [("fail", STANDS, "XU1")], id="unequal"),
    ],
)  # fmt: skip
def test_phototransistors_of_40_volts_share_48_volts(cards: str, expected: list[tuple[str, str, str]]) -> None:
    assert wrong(judged(f"{cards}R3 V48 T1 47k\n", READ, TRANSISTOR)) == expected


def test_three_rows_that_differ_in_what_drives_them_only_are_judged_each() -> None:
    rows = [
        f"R{n}1 DRV A{n} 300\nR{n}2 DRV{n} B{n} 300\nXU{n}1 A{n} GND T{n} M{n} DEMO_X\nXU{n}2 B{n} GND M{n} N DEMO_X\n"
        f"R{n}3 V48 T{n} 47k\nR{n}4 T{n} M{n} 470k\nR{n}5 M{n} N 470k\n"
        for n in range(1, 5)
    ]
    cards = "".join(rows).replace("DRV1", "DRV").replace("DRV2", "DRV").replace("DRV3", "DRV")
    report = judged(cards, READ.replace('"T1"', '"T*"'), TRANSISTOR)
    assert [one[2] for one in wrong(report) if one[1] == STANDS] == ["XU41", "XU42"]


def test_what_a_switch_in_series_with_another_passes_is_asked_of_the_load_and_not_of_the_others_led() -> None:
    cards = "R1 DRV A 300\nR11 DRV K 300\n" + APART + EACH.format("33k")
    found = of(judged(cards, MAINS, phototriac()), "off-current-high")
    assert found.kind == "fail" and "load" in found.message

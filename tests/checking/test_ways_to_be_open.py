"""One test a way to be open: nothing that the design calls open is a pass, and each says what would settle it."""

from __future__ import annotations

import pytest

from tests.checking.boards import FACTS, SECOND, SOUND, WITH_PARTS, core, one

BARRIER = ("ground-tie", "supply-shared", "bridge-conducting")
DRIVE = ("led-unlimited", "led-reversed", "led-overdriven", "led-underdriven", "drive-headroom-low")
LEVEL = ("transfer-margin-low", "output-level-invalid")
LOGIC = SOUND.replace("XU1 A GND GNDB OUT DEMO_PT1", "XU1 A GND VB OUT GNDB DEMO_LO1")
NPN = """* An LED switched by a transistor, invented for the tests
R1 V5 A 330
XU1 A K GNDB OUT DEMO_PT1
Q1 K B GND QSW
R3 DRIVE B 10k
.model QSW NPN(IS=2e-14 BF=250)
R2 VB OUT 10k
"""
LINE = FACTS + '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]\n'
COUPLER_INSIDE = """.subckt BLOCK7 A K C E
D1 A N DLED
V1 N K 0
F1 C B V1 0.04
Q1 C B E QDET
.model DLED D(IS=1e-14 N=2)
.model QDET NPN(BF=400)
.ends
"""


def without(facts: str, *lines: str) -> str:
    """Facts without some of their lines."""
    for line in lines:
        assert f"{line}\n" in facts
        facts = facts.replace(f"{line}\n", "")
    return facts


HIGH = 'high = { min = "4.4 V", at = "8 mA" }'
LOW = 'low = { max = "0.4 V", at = "8 mA" }'

WAYS: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    # name: netlist, facts, rule that is open, part of the key that settles it, rules that may not pass meanwhile
    "sides meet only through a part that nobody explained": (
        SOUND + "X9 V5 GND VB GNDB MYSTERY\n",
        FACTS,
        "part-unknown",
        'parts."MYSTERY"',
        BARRIER,
    ),
    "a controlled source is driven from one side and feeds the other": (
        SOUND + "E1 X GNDB A GND 1\nR7 X GNDB 1k\n",
        FACTS,
        "part-unknown",
        'elements."E1"',
        BARRIER,
    ),
    "a controlled switch is driven from one side and switches on the other": (
        SOUND + "S1 X GNDB A GND SW\nR7 VB X 1k\n.model SW SW(VT=1 RON=1)\n",
        FACTS,
        "part-unknown",
        'elements."S1"',
        BARRIER,
    ),
    "one transistor as in a phototransistor, with the ratio of a photodarlington": (
        COUPLER_INSIDE.join(("* t\n", SOUND.replace("GNDB OUT DEMO_PT1", "OUT GNDB BLOCK7"))),
        FACTS,
        "part-unknown",
        'elements."XU1"',
        BARRIER,
    ),
    "node 0 is declared the simulator's ground": (
        "* t\nV1 IN 0 24\nR1 IN A 2.2k\nXU1 A 0 0 OUT DEMO_PT1\nV2 VC 0 5\nR2 VC OUT 10k\n",
        '[reading]\nsimulation_ground = "0"\n',
        "ground-tie",
        "",
        BARRIER,
    ),
    "a side of a stated barrier has no net here": (
        SOUND,
        f'{FACTS}[sides.mains]\nnets = ["N"]\n[[barriers]]\nbetween = ["mains", "logic"]\n',
        "ground-tie",
        "sides.mains.nets",
        (),
    ),
    "an output without a supply": (
        SOUND,
        without(FACTS, 'supply = "V5"'),
        "led-unlimited",
        'outputs."DRIVE".supply',
        DRIVE,
    ),
    "an output whose high level is not stated": (
        SOUND,
        without(FACTS, HIGH),
        "led-unlimited",
        'outputs."DRIVE".high',
        DRIVE,
    ),
    "an output whose low level is not stated": (
        SOUND,
        without(FACTS, LOW),
        "led-unlimited",
        'outputs."DRIVE".low',
        DRIVE,
    ),
    "an output whose guaranteed current is not stated, below its test current": (
        SOUND.replace("470", "1k"),
        without(FACTS, 'source_max = "16 mA"'),
        "drive-headroom-low",
        "source_max",
        ("drive-headroom-low",),
    ),
    "an output whose guaranteed current is not stated, above its test current": (
        SOUND.replace("470", "220"),
        without(FACTS, 'source_max = "16 mA"'),
        "led-overdriven",
        "source_max",
        ("led-overdriven", "drive-headroom-low", "transfer-margin-low"),
    ),
    "a net of the drive goes to a part, and nobody says what drives it": (
        SOUND.replace("DRIVE", "DO") + "X5 V5 GND DO CONTROLLER\n",
        FACTS,
        "led-unlimited",
        'outputs."DO".supply',
        DRIVE,
    ),
    "nothing in the netlist drives the LED": (
        SOUND.replace("DRIVE", "J1"),
        FACTS,
        "led-unlimited",
        'lines."J1".on',
        DRIVE,
    ),
    "a line whose state is not stated": (
        SOUND.replace("DRIVE", "IN"),
        without(LINE, 'on = ["15 V", "30 V"]'),
        "led-unlimited",
        'lines."IN".on',
        DRIVE,
    ),
    "more than six switching inputs": (
        SOUND + "".join(f"R{n} DRIVE{n} A 470\n" for n in range(3, 9)),
        FACTS,
        "led-unlimited",
        "",
        DRIVE,
    ),
    "a supply whose voltage nobody tells": (
        SOUND.replace("DRIVE", "VCC"),
        FACTS,
        "led-unlimited",
        'supplies."VCC".voltage',
        DRIVE,
    ),
    "a resistor without a value": (SOUND.replace("470", "{RX}"), FACTS, "led-unlimited", "", DRIVE),
    "a transistor in the drive whose model can't be solved": (
        NPN.replace("Q1 K B GND QSW", "J1 K B GND JSW").replace(
            ".model QSW NPN(IS=2e-14 BF=250)", ".model JSW NJF(VTO=-2)"
        ),
        FACTS,
        "led-unlimited",
        "",
        DRIVE,
    ),
    "the gain of a transistor switch lies between its default ends": (
        NPN.replace("10k\n.model", "33k\n.model"),
        FACTS,
        "drive-headroom-low",
        'elements."Q1".gain_min',
        (),
    ),
    "an LED limit between the generic ends": (
        SOUND.replace("470", "77").replace("DEMO_PT1", "DEMO_PQ"),
        'parts = ["q.toml"]\n' + FACTS.replace('"16 mA"', '"80 mA"').replace('at = "8 mA"', 'at = "60 mA"'),
        "led-overdriven",
        "parts.DEMO_PQ.led.forward_current_max",
        ("led-overdriven",),
    ),
    "a logic-output coupler whose threshold current nobody tells": (
        LOGIC.replace("DEMO_LO1", "DEMO_LQ"),
        f'parts = ["q.toml"]\n{FACTS}',
        "led-underdriven",
        "threshold_current",
        ("led-underdriven",),
    ),
    "a logic-output coupler whose low level nobody tells": (
        LOGIC.replace("DEMO_LO1", "DEMO_LQ"),
        f'parts = ["q.toml"]\n{FACTS}',
        "output-level-invalid",
        "low_level",
        ("output-level-invalid",),
    ),
    "nobody says what reads the output": (
        SOUND.replace("OUT", "N1"),
        FACTS,
        "transfer-margin-low",
        'inputs."N1".low_max',
        LEVEL,
    ),
    "a part reads the output, and nobody says how": (
        SOUND.replace("OUT", "N1") + "X5 VB GNDB N1 RECEIVER\n",
        FACTS,
        "transfer-margin-low",
        'inputs."N1".low_max',
        LEVEL,
    ),
    "a part may have the pull-up inside": (
        SOUND.replace("OUT", "N1").replace("R2 VB N1 10k\n", "X5 VB GNDB N1 RECEIVER\n"),
        FACTS,
        "load-missing",
        'inputs."N1".low_max',
        ("load-missing", *LEVEL),
    ),
    "the pull-up leads to what may be a supply": (
        SOUND.replace("OUT", "N1").replace("VB", "VISO"),
        FACTS.replace('[supplies."VB"]', '[supplies."VX"]')
        .replace('supply = "VB"', 'supply = "VX"')
        .replace('ground = "GNDB"\n', ""),
        "load-missing",
        'supplies."VISO".voltage',
        ("load-missing",),
    ),
    "the level of the receiver is not stated": (
        SOUND,
        without(FACTS, 'low_max = "1.5 V"', 'supply = "VB"'),
        "transfer-margin-low",
        'inputs."OUT".low_max',
        LEVEL,
    ),
    "the LED current lies outside the record's curve": (
        SOUND.replace("470", "10k").replace("10k\n", "47k\n").replace("A 47k", "A 10k"),
        FACTS,
        "transfer-margin-low",
        "versus_current",
        ("transfer-margin-low",),
    ),
    "the ambient lies outside the record's curve": (
        SOUND,
        FACTS.replace("60 degC", "100 degC"),
        "transfer-margin-low",
        "versus_temperature",
        ("transfer-margin-low",),
    ),
    "the margin lies between the ends of a generic factor": (
        SOUND.replace("10k", "2.2k"),
        FACTS,
        "transfer-margin-low",
        "versus_voltage",
        ("transfer-margin-low",),
    ),
    "the margin lies between the ends of a default tolerance": (
        SOUND.replace("DEMO_PT1", "DEMO_PX").replace("10k", "1.5k"),
        without(WITH_PARTS, '[elements."R*"]', 'tolerance = "1 %"'),
        "transfer-margin-low",
        "tolerance",
        ("transfer-margin-low",),
    ),
    "the network has no operating point": (
        SOUND.replace("R2 VB OUT 10k", "R2 VB OUT 10k\nI1 VB N7 1m\nC7 N7 GNDB 1n\nR7 N8 OUT 1k\nC8 N8 N7 1n"),
        FACTS,
        "",
        "",
        (),
    ),
}
Q_PARTS = """
[parts.DEMO_PQ]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
source = "invented for the tests"
[parts.DEMO_PQ.led]
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
technology = "GaAs"
[parts.DEMO_LQ]
type = "logic-output"
pins = ["anode", "cathode", "vcc", "out", "gnd"]
source = "invented for the tests"
[parts.DEMO_LQ.output]
kind = "open-collector"
"""


@pytest.mark.parametrize("way", WAYS)
def test_is_open_and_never_a_pass(way: str) -> None:
    netlist, facts, rule, key, silent = WAYS[way]
    results = core(netlist, facts, q=Q_PARTS)
    if rule:
        found = [result for result in results if result.rule == rule and result.kind == "open"]
        assert found, [(result.rule, result.kind, result.message) for result in results if result.kind != "pass"]
        (result,) = found
        assert key in " ".join(fact.key for fact in result.missing)
        assert all(fact.example or result.remedy.startswith("it isolates: a part record") for fact in result.missing)
        assert result.level == "none"
        assert result.counts_as == ("error" if rule in ("part-unknown", "ground-tie") else "note")
    passes = [(result.rule, result.message) for result in results if result.kind == "pass" and result.rule in silent]
    assert passes == []


def test_the_sound_board_has_no_open_result() -> None:
    assert [result for result in core(SOUND + SECOND) if result.kind == "open"] == []


def test_a_value_that_can_t_be_worked_out_is_cured_at_its_card() -> None:
    """No fact settles it: the result stands at the resistor and says which parameter is not there."""
    found = one(core(SOUND.replace("470", "{r - q/2}").replace("* ", ".param r=1k\n* ", 1)), "led-unlimited", "open")
    assert "resistor R1 has no value (`r - q/2`: the parameter q has no value here)" in found.message
    assert (found.where.line, found.remedy) == (
        3,
        "give R1 a number, or set every parameter of its expression",
    )

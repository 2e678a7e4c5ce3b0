"""Parts that nothing but the structure of their subcircuit explains: channels, typical values, contradictions."""

from __future__ import annotations

import pytest

from tests.interfaces.finding import board
from tests.recognition.invented_series import invented
from tests.recognition.labelled import MODELS as MODELS_OF_OTHERS

__all__ = ["invented"]

MODELS = ".model DL D(IS=1e-15 N=2)\n.model QN NPN(BF=300)\n.model QP PNP(BF=2)\n"
BODIES = {
    "phototransistor": ("A K C E", "D1 A N DL\nV1 N K 0\nF1 C B V1 2m\nQ1 C B E QN"),
    "photo-scr": ("A K P N", "D1 A M DL\nV1 M K 0\nF1 P G V1 1m\nQ1 H G P QP\nQ2 G H N QN"),
    "mosfet-output": ("A K X Y", "D1 A N DL\nV1 N K 0\nF1 S G V1 1m\nR1 G S 1meg\nM1 X G S S NM\nM2 Y G S S NM"),
    "photoresistor": ("A K X Y", "D1 A N DL\nV1 N K 0\nH1 P 0 V1 1k\nG1 X Y VALUE={V(X,Y)*V(P)*1m}"),
    "logic-output": ("A K V O G", "D1 A N DL\nV1 N K 0\nF1 V B V1 1m\nR1 B G 5k\nR2 V G 2k\nQ1 O B G QN"),
}
PINS = {
    "phototransistor": "anode cathode collector emitter",
    "photo-scr": "anode cathode scra scrk",
    "mosfet-output": "anode cathode drain1 drain2",
    "photoresistor": "anode cathode r1 r2",
    "logic-output": "anode cathode vcc out gnd",
}


def model(kind: str) -> str:
    ports, body = BODIES[kind]
    return f".subckt DEMO_Z1 {ports}\n{body}\n{MODELS}.model NM NMOS(VTO=1)\n.ends\n"


def placed(kind: str, records: str = "", facts: str = "") -> str:
    nets = " ".join(f"n{number}" for number, _ in enumerate(BODIES[kind][0].split()))
    return f"XU1 {nets} DEMO_Z1\n{model(kind)}"


def record(kind: str, pins: str) -> str:
    listed = ", ".join(f'"{pin}"' for pin in pins.split())
    return f'[parts.DEMO_Z1]\ntype = "{kind}"\npins = [{listed}]\n'


@pytest.mark.parametrize("kind", BODIES)
def test_a_part_without_record_becomes_a_coupler_with_a_channel(kind: str) -> None:
    found = board(placed(kind))
    part = found.recognition.parts[0]
    assert (part.type, part.recognised_by, part.record) == (kind, "structure", None)
    assert part.groups == ((0, 1), tuple(range(2, len(part.roles))))
    assert [channel.subject for channel in found.channels] == ["XU1"]
    assert found.recognition.suspects == ()


def test_the_typical_values_of_its_model_go_with_it() -> None:
    part = board(placed("phototransistor")).recognition.parts[0]
    assert part.typical.forward_voltage == pytest.approx(1.5485, abs=0.001)
    assert part.typical.ratio_at(5e-3) == pytest.approx(0.602)


@pytest.mark.parametrize("kind", BODIES)
def test_a_record_that_agrees_with_its_model_is_not_contradicted(kind: str) -> None:
    assert board(placed(kind), "", record(kind, PINS[kind])).contradictions() == []


@pytest.mark.parametrize(
    ("kind", "pins", "said"),
    [
        ("photo-scr", "anode cathode scrk scra", "pin 3 is the thyristor's cathode"),
        ("photo-scr", "cathode anode scra scrk", "has anode and cathode the other way round than the diode"),
        ("mosfet-output", "drain1 cathode anode drain2", "puts the LED on ports X K, its subcircuit on A K"),
        ("photoresistor", "cathode anode r1 r2", "has anode and cathode the other way round than the diode"),
        ("logic-output", "anode cathode gnd out vcc", "pin 3 is the ground"),
    ],
)  # fmt: skip
def test_a_model_that_contradicts_the_pin_order_of_its_record_is_said(kind: str, pins: str, said: str) -> None:
    (text,) = board(placed(kind), "", record(kind, pins)).contradictions()
    assert said in text


def test_a_question_names_all_types_and_offers_no_line_as_the_answer() -> None:
    body = "D1 A K DL\nS1 X Y A K SX\n.model SX SW(VT=1)"
    netlist = f"XU1 n1 n2 n3 n4 DEMO_Z2\n.subckt DEMO_Z2 A K X Y\n{body}\n{MODELS}.ends\n"
    found = board(netlist)
    (asked,) = found.recognition.suspects
    assert asked.reason == (
        "its subcircuit has the structure of a mosfet-output, phototransistor, relay, phototriac, photo-scr or no "
        "barrier part: its output is a plain switch"
    )
    assert asked.example.startswith('[elements."XU1"]\ntype = "?"  # perhaps mosfet-output, phototransistor, relay, ')
    told = board(netlist, '[elements."XU1"]\ntype = "phototransistor"')
    assert told.kinds() == {"XU1": "phototransistor"}


def test_a_question_about_pins_writes_a_record_with_those_that_are_known() -> None:
    body = "D1 1 N DL\nV1 N 2 0\nF1 5 B V1 1m\nR1 B 3 5k\nR2 5 3 2k\nR3 6 5 9k\nQ1 4 B 3 QN"
    netlist = f"XU1 a k GND out v1 v2 DEMO_Z3\n.subckt DEMO_Z3 1 2 3 4 5 6\n{body}\n{MODELS}.ends\n"
    found = board(netlist)
    (asked,) = found.recognition.suspects
    assert "pins 5, 6 can't be told" in asked.reason
    assert asked.example.startswith('[parts.DEMO_Z3]\ntype = "?"  # perhaps "logic-output"\npins = "?"  # ')
    pins = '["anode", "cathode", "gnd", "out", "nc", "vcc"]'
    assert f"perhaps {pins}" in asked.example
    told = board(netlist, "", f'[parts.DEMO_Z3]\ntype = "logic-output"\npins = {pins}\n')
    assert told.kinds() == {"XU1": "logic-output"}


def test_a_package_of_couplers_is_one_part_and_a_circuit_around_them_a_sheet() -> None:
    both = "X1 1 2 8 7 DEMO_Z1\nX2 3 4 6 5 DEMO_Z1"
    one = f".subckt DEMO_Z4 1 2 3 4 5 6 7 8\n{both}\n{{}}.ends\n{model('phototransistor')}"
    netlist = "XU1 n1 n2 n3 n4 n5 n6 n7 n8 DEMO_Z4\n"
    assert board(netlist + one.format("")).kinds() == {"XU1": "phototransistor"}
    assert list(board(netlist + one.format("R1 1 2 10k\n")).kinds()) == ["XU1.X1", "XU1.X2"]
    known = record("phototransistor", "anode cathode collector emitter")
    assert list(board(netlist + one.format(""), "", known).kinds()) == ["XU1.X1", "XU1.X2"], "a record knows them"


@pytest.mark.usefixtures("invented")
def test_a_part_without_a_model_is_asked_about_by_its_series_with_the_nets_on_its_usual_pins() -> None:
    (asked,) = board("XU1 IN GND OUT GNDF DEMO4N5").recognition.suspects
    assert asked.reason == (
        "its type number DEMO4N5 is one of a series of phototransistor parts, and nothing says its pins; usually "
        "anode on IN, cathode on GND, collector on OUT, emitter on GNDF"
    )
    (asked,) = board("XU1 IN GND GNDF OUT DEMO4N5").recognition.suspects
    assert asked.pins == ("anode", "cathode", "emitter", "collector")
    assert 'perhaps ["anode", "cathode", "emitter", "collector"]' in asked.example
    (asked,) = board("U1 GND IN OUT GNDF DEMO4N5").recognition.suspects
    assert asked.pins == ("cathode", "anode", "collector", "emitter"), "a ground is no anode"
    assert board("XU1 IN GND OUT DEMO4N5").recognition.suspects == (), "three pins are no coupler"
    assert board("QU1 IN GND OUT DEMO4N5").recognition.suspects == ()


@pytest.mark.usefixtures("invented")
def test_a_structure_that_contradicts_the_series_of_its_type_number_is_asked_about() -> None:
    body = "D1 A N DL\nV1 N K 0\nF1 C B V1 2m\nQ1 C B E QN"
    text = f".subckt {{}} A K C E B\n{body}\n{MODELS}.ends\n"
    assert board("XU1 a k c e b DEMO9Z\n" + text.format("DEMO9Z")).kinds() == {"XU1": "phototransistor"}
    (asked,) = board("XU1 a k c e b DEMO9A\n" + text.format("DEMO9A")).recognition.suspects
    assert asked.choices == ("phototransistor", "logic-output")
    assert "its structure is that of a phototransistor, its type number that of a logic-output" in asked.reason


def test_of_all_types_with_an_led_a_question_names_the_likeliest() -> None:
    text = (MODELS_OF_OTHERS / "nested.lib").read_text(encoding="utf-8")
    (asked,) = board(f"XU1 a k vb gndb out DEMO_NE01\n{text}").recognition.suspects
    said = "the structure of a coupler with an LED (perhaps a logic-output): its output is of an unknown make"
    assert said in asked.reason

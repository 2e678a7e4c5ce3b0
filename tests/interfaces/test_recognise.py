from __future__ import annotations

import itertools
import time

import pytest

from tests.answers import answered
from tests.interfaces.finding import FoundBoard, board

CORE = "D1 {A} N DLED\nV1 N {K} 0\nF1 {C} B V1 2m\nQ1 {C} B {E} QDET\n.model DLED D(IS=1f)\n.model QDET NPN(BF=400)"
DARLINGTON = CORE.replace("Q1 {C} B {E} QDET", "Q1 {C} B M QDET\nQ2 {C} M {E} QDET")
LOGIC = (
    "D1 {A} S DLED\nVS S {K} 0\nH1 P 0 VS 1k\nRP P P1 1k\nCP P1 0 50p\nG1 {VCC} B P1 0 200u\nRB B {GND} 4.7k\n"
    "RS {VCC} {GND} 3.3k\nQ1 {OUT} B {GND} QOUT\n.model DLED D(IS=1f)\n.model QOUT NPN(BF=120)"
)


def model(name: str, ports: str, body: str = CORE, **pins: str) -> str:
    """A subcircuit; `pins` gives the port of each role in the body, by default the port of that name."""
    names = {role: role for role in ("A", "K", "C", "E", "VCC", "OUT", "GND")} | pins
    return f".subckt {name} {ports}\n{body.format(**names)}\n.ends\n"


def placed(name: str, model_text: str, facts: str = "", records: str = "", nets: str = "") -> FoundBoard:
    """One part XU1 with a net of its own on each pin, n1 n2 ..., unless `nets` are given."""
    count = len(model_text.split("\n")[0].split()) - 2
    nets = nets or " ".join(f"n{number}" for number in range(1, count + 1))
    return board(f"XU1 {nets} {name}\n{model_text}", facts, records)


def record(name: str, pins: str, kind: str = "phototransistor", more: str = "") -> str:
    quoted = ", ".join(f'"{pin}"' for pin in pins.split())
    return f'[parts.{name}]\ntype = "{kind}"\npins = [{quoted}]\n{more}\n'


# -- by its own subcircuit whose name agrees --------------------------------------------------------------------


@pytest.mark.parametrize(
    "ports", ["A K C E", "A K E C", *map(" ".join, itertools.islice(itertools.permutations("AKCE"), 3, 24, 5))]
)  # fmt: skip
def test_a_phototransistor_is_recognised_whatever_the_order_of_its_named_ports(ports: str) -> None:
    found = placed("DEMO_OPTO", model("DEMO_OPTO", ports))
    part = found.recognition.parts[0]
    names = {"A": "anode", "K": "cathode", "C": "collector", "E": "emitter"}
    assert part.roles == tuple(names[port] for port in ports.split())
    assert (part.type, part.recognised_by, part.record) == ("phototransistor", "structure", None)
    index = ports.split().index
    assert set(part.groups) == {tuple(sorted((index("A"), index("K")))), tuple(sorted((index("C"), index("E"))))}


@pytest.mark.parametrize(
    ("ports", "pins", "roles"),
    [
        ("1 2 3 4", "A=1 K=2 C=3 E=4", "anode cathode collector emitter"),
        ("1 2 3 4", "A=1 K=2 C=4 E=3", "anode cathode emitter collector"),
        ("1 2 3 4", "A=4 K=3 C=1 E=2", "collector emitter cathode anode"),
        ("5 12 20 2", "A=20 K=5 C=2 E=12", "cathode emitter anode collector"),
    ],
)  # fmt: skip
def test_numeric_ports_take_their_role_from_the_structure_not_from_their_place(
    ports: str, pins: str, roles: str
) -> None:
    found = placed("DEMO_OPTO", model("DEMO_OPTO", ports, **dict(pin.split("=") for pin in pins.split())))
    assert found.recognition.parts[0].roles == tuple(roles.split())


@pytest.mark.parametrize("ports", ["A K C B E", "A K C E B", "K A C E B", "A K B C E", "1 2 3 4 5"])
def test_a_base_pin_belongs_to_the_output(ports: str) -> None:
    numeric = {"A": "1", "K": "2", "C": "3", "B": "4", "E": "5"} if ports[0] == "1" else {x: x for x in "AKCBE"}
    body = CORE.replace(" B ", " {B} ")
    text = f".subckt DEMO_OPTO {ports}\n{body.format(**numeric)}\n.ends\n"
    part = placed("DEMO_OPTO", text).recognition.parts[0]
    roles = dict(zip(ports.split(), part.roles, strict=True))
    assert roles[numeric["B"]] == "base"
    assert roles[numeric["C"]] == "collector"
    assert sorted(map(len, part.groups)) == [2, 3]


def test_a_pin_that_is_not_connected_has_a_group_of_its_own() -> None:
    part = placed("DEMO_OPTO", model("DEMO_OPTO", "A K NC C E")).recognition.parts[0]
    assert part.groups == ((0, 1), (2,), (3, 4))


def test_a_darlington_is_told_by_structure_and_asked_about_where_only_the_name_says_so() -> None:
    assert placed("DEMO_OPTO", model("DEMO_OPTO", "A K C E", DARLINGTON)).kinds() == {"XU1": "photodarlington"}
    name = "DEMO_PHOTODARLINGTON"
    (asked,) = placed(name, model(name, "A K C E")).recognition.suspects
    assert asked.choices == ("phototransistor", "photodarlington")


@pytest.mark.parametrize("ports", ["A K GND OUT VCC", "VCC A K OUT GND"])
def test_a_logic_output_is_told_by_the_names_of_its_ports(ports: str) -> None:
    part = placed("DEMO_OPTO", model("DEMO_OPTO", ports, LOGIC)).recognition.parts[0]
    names = {"A": "anode", "K": "cathode", "GND": "ground", "OUT": "output", "VCC": "supply"}
    assert part.type == "logic-output"
    assert part.roles == tuple(names[port] for port in ports.split())
    assert len(part.groups) == 2


def test_a_logic_output_with_numeric_ports_is_told_by_its_transistor() -> None:
    text = model("DEMO_OPTO", "1 2 3 4 5", LOGIC, A="1", K="2", GND="3", OUT="4", VCC="5")
    part = placed("DEMO_OPTO", text).recognition.parts[0]
    assert part.type == "logic-output"
    assert part.roles == ("anode", "cathode", "ground", "output", "supply")


def test_a_detector_without_a_transistor_is_told_by_port_names_and_a_word_together() -> None:
    body = "D1 {A} {K} DLED\nG1 {C} {E} {A} {K} 1m\n.model DLED D(IS=1f)"
    assert placed("DEMO_OPTO", model("DEMO_OPTO", "A K C E", body)).kinds() == {"XU1": "phototransistor"}
    numeric = model("DEMO_OPTO", "1 2 3 4", body, A="1", K="2", C="3", E="4")
    assert placed("DEMO_OPTO", numeric).kinds() == {}


def test_the_lines_asked_for_keep_what_the_structure_tells() -> None:
    """Four numbered ports are no logic output, and the record to write has the LED where the diode lies."""
    body = "D1 {A} N1 DLED\nV1 N1 {K} 0\nF1 {C} {E} V1 1\n.model DLED D(IS=1f)"
    text = model("DEMO_BLOCK", "3 1 4 2", body, A="1", K="2", C="4", E="3")
    (asked,) = placed("DEMO_BLOCK", text).recognition.suspects
    assert asked.example.endswith(
        'type = "?"  # perhaps phototransistor, linear or photovoltaic; "ordinary": it joins its pins'
    )
    part = placed("DEMO_BLOCK", text, answered(asked.example)).recognition.parts[0]
    assert part.roles == ("emitter", "anode", "collector", "cathode")


@pytest.mark.parametrize("name", ["DEMO_PHOTOTRIAC", "DEMO_OPTO_RELAY", "DEMO_PHOTOSCR"])
def test_a_name_that_says_another_type_is_not_overruled(name: str) -> None:
    found = placed(name, model(name, "A K C E"))
    assert found.kinds() == {}
    assert list(found.suspects()) == ["XU1"]


def test_every_placement_of_a_coupler_is_recognised() -> None:
    netlist = "X1 a b c d s\nX2 e f g h s\nXU9 a b g h DEMO_OPTO\n.subckt s 1 2 3 4\nXU1 1 2 3 4 DEMO_OPTO\n.ends\n"
    found = board(netlist + model("DEMO_OPTO", "A K C E"))
    assert found.kinds() == dict.fromkeys(("XU9", "X1.XU1", "X2.XU1"), "phototransistor")


# -- several LEDs ---------------------------------------------------------------------------------------------


DUAL = (
    "D1 {A1} N1 DLED\nV1 N1 {K1} 0\nF1 {C1} B1 V1 2m\nQ1 {C1} B1 {E1} QDET\n"
    "D2 {A2} N2 DLED\nV2 N2 {K2} 0\nF2 {C2} B2 V2 2m\nQ2 {C2} B2 {E2} QDET\n"
    ".model DLED D(IS=1f)\n.model QDET NPN(BF=400)"
)
NAMED = {pin: pin for pin in ("A1", "K1", "C1", "E1", "A2", "K2", "C2", "E2")}


def test_channels_of_a_dual_part_follow_the_signal_not_the_order_of_pins() -> None:
    numeric = dict(zip(("A1", "K1", "K2", "A2", "E2", "C2", "C1", "E1"), "12345678", strict=True))
    part = placed("DEMO_OPTO", model("DEMO_OPTO", "1 2 3 4 5 6 7 8", DUAL, **numeric)).recognition.parts[0]
    assert part.type == "phototransistor"
    assert part.groups == ((0, 1), (2, 3), (4, 5), (6, 7))
    assert part.channels == (("1", (0, 1), (6, 7)), ("2", (2, 3), (4, 5)))


def test_a_dual_logic_part_with_common_supply_is_paired_by_port_names() -> None:
    body = (
        "D1 {A1} N1 DLED\nV1 N1 {K1} 0\nF1 {VCC} B1 V1 1\nQ1 {OUT1} B1 {GND} Q\nD2 {A2} N2 DLED\nV2 N2 {K2} 0\n"
        "F2 {VCC} B2 V2 1\nQ2 {OUT2} B2 {GND} Q\nR1 {VCC} {GND} 1k\n.model DLED D\n.model Q NPN"
    )
    names = {**NAMED, "OUT1": "OUT1", "OUT2": "OUT2"}
    text = model("DEMO_THING", "A1 K1 A2 K2 VCC OUT2 OUT1 GND", body, **names)
    part = placed("DEMO_THING", text, '[elements."XU1"]\ntype = "logic-output"').recognition.parts[0]
    assert part.channels == (("1", (0, 1), (6,)), ("2", (2, 3), (5,)))
    numeric = dict(zip(("A1", "K1", "A2", "K2", "VCC", "OUT2", "OUT1", "GND"), "12345678", strict=True))
    text = model("DEMO_THING", "1 2 3 4 5 6 7 8", body, **numeric)
    found = placed("DEMO_THING", text, '[elements."XU1"]\ntype = "logic-output"')
    assert found.suspects() == {"XU1": "logic-output"}


def test_an_input_for_alternating_current_is_a_channel_that_lights_both_ways() -> None:
    body = (
        "D1 {A} N DLED\nD2 N {A} DLED\nV1 N {K} 0\nB1 {C} B I=abs(I(V1))\nQ1 {C} B {E} Q\n.model DLED D\n.model Q NPN"
    )
    found = placed("DEMO_OPTO", model("DEMO_OPTO", "A1 A2 C E", body, A="A1", K="A2"))
    assert found.kinds() == {"XU1": "phototransistor"}
    assert found.recognition.parts[0].groups == ((0, 1), (2, 3))
    assert found.suspects() == {}
    (channel,) = found.channels
    assert channel.both_ways
    names = {role: found.circuit.net_name(net) for role, net in channel.pins.items() if role in ("anode", "cathode")}
    assert len(set(names.values())) == 2


# -- by record, by declaration --------------------------------------------------------------------------------


def test_a_record_suffices_where_the_model_is_missing() -> None:
    found = board("XU1 a k e c DEMO_PT1\nU2 a k e c demo_pt1\nXK1 1 2 3 4 5 DEMO_K1\nXT1 1 2 3 4 DEMO_T1")
    assert found.kinds() == {"XU1": "phototransistor", "U2": "phototransistor", "XK1": "relay", "XT1": "transformer"}
    assert {part.recognised_by for part in found.recognition.parts.values()} == {"record"}
    assert found.recognition.parts[0].roles == ("anode", "cathode", "emitter", "collector")
    assert found.recognition.parts[0].groups == ((0, 1), (2, 3))
    assert found.suspects() == {}


def test_a_declared_record_counts_before_the_part_s_own_name() -> None:
    found = board("XU1 a k e c DEMO_PT1\nXU2 a k c e DEMO_X9", '[elements."XU*"]\npart = "DEMO_PT2"')
    parts = [(part.record.name if part.record else "", part.recognised_by) for part in found.recognition.parts.values()]
    assert parts == [("DEMO_PT2", "declaration")] * 2


def test_a_declared_record_that_is_not_there_is_said() -> None:
    found = board("XU1 a k e c DEMO_PT1", '[elements."XU1"]\npart = "DEMO_NOWHERE"')
    assert found.kinds() == {}
    assert "DEMO_NOWHERE that is declared for it is not there" in found.recognition.suspects[0].reason


def test_a_record_with_another_number_of_pins_is_left_open() -> None:
    found = board("XU1 a k e DEMO_PT1")
    assert found.kinds() == {}
    assert found.suspects() == {"XU1": "phototransistor"}
    assert "the card has 3 pins, its record DEMO_PT1 names 4" in found.recognition.suspects[0].reason


def test_pins_of_a_record_that_are_not_connected_each_have_a_group() -> None:
    found = board("XU1 1 2 3 4 5 6 DEMO_SIX", "", record("DEMO_SIX", "anode cathode nc emitter collector nc"))
    assert found.recognition.parts[0].groups == ((0, 1), (2,), (3, 4), (5,))


@pytest.mark.parametrize(
    ("kind", "body", "groups"),
    [
        ("transformer", "L1 1 2 1m\nL2 3 4 1m\nK1 L1 L2 1\nE1 x 0 1 2 1", ((0, 1), (2, 3))),
        ("relay", "R1 1 2 100\nS1 3 4 (1 2) SM\n.model SM SW", ((0, 1), (2, 3))),
        ("isolated-supply", "G1 1 2 3 4 1m\nE1 3 4 1 2 1", ((0, 1), (2, 3))),
        ("phototriac", "D1 1 2 DX\nS1 3 4 (1 2) SM\n.model DX D", ((0, 1), (2, 3))),
    ],
)  # fmt: skip
def test_a_declared_type_takes_its_groups_from_the_subcircuit(kind: str, body: str, groups: object) -> None:
    netlist = f"X1 a b c d DEMO_THING\n.subckt DEMO_THING 1 2 3 4\n{body}\n.ends"
    found = board(netlist, f'[elements."X1"]\ntype = "{kind}"')
    part = found.recognition.parts[0]
    assert (part.type, part.groups, part.recognised_by) == (kind, groups, "declaration")
    assert found.channels == ()


@pytest.mark.parametrize("kind", ["transformer", "phototransistor", "logic-output"])
def test_a_declared_type_without_anything_to_tell_its_pins_is_left_open(kind: str) -> None:
    found = board("X1 a b c d DEMO_THING", f'[elements."X1"]\ntype = "{kind}"')
    assert found.kinds() == {}
    assert found.suspects() == {"X1": kind}
    joined = "X1 a b c d DEMO_THING\n.subckt DEMO_THING 1 2 3 4\nR1 1 2 1\nR2 2 3 1\nR3 3 4 1\n.ends"
    assert board(joined, f'[elements."X1"]\ntype = "{kind}"').kinds() == {}


@pytest.mark.parametrize("kind", ["phototransistor", "photodarlington"])
def test_a_declared_coupler_needs_no_telling_name(kind: str) -> None:
    found = placed("DEMO_THING", model("DEMO_THING", "A K C E"), f'[elements."XU1"]\ntype = "{kind}"')
    assert found.kinds() == {"XU1": kind}


def test_a_declared_logic_output_with_numeric_ports_takes_output_and_ground_from_its_transistor() -> None:
    text = model("DEMO_THING", "1 2 3 4 5", LOGIC, A="1", K="2", GND="3", OUT="4", VCC="5")
    part = placed("DEMO_THING", text, '[elements."XU1"]\ntype = "logic-output"').recognition.parts[0]
    assert part.roles == ("anode", "cathode", "ground", "output", "supply")


def test_a_stated_type_counts_before_a_record_of_another_type() -> None:
    found = board("XU1 a k e c DEMO_PT1", '[elements."XU1"]\ntype = "relay"')
    assert found.suspects() == {"XU1": "relay"}
    assert board("XU1 a k e c DEMO_PT1", '[elements."XU1"]\ntype = "phototransistor"').kinds() == {
        "XU1": "phototransistor"
    }


def test_what_is_called_ordinary_is_ordinary() -> None:
    netlist = "XU1 a k e c DEMO_PT1\nX2 a b DEMO_MCU\nE1 x 0 a 0 1\nR1 a b 1"
    for fact in ("ordinary = true", 'type = "ordinary"'):
        found = board(netlist, f'[elements."*"]\n{fact}')
        assert found.parts() == ["(ordinary XU1)", "(ordinary X2)", "(ordinary E1)"]
    found = board("X2 a b DEMO_MCU", "", record("DEMO_MCU", "1 2", "ordinary"))
    assert found.parts() == ["(ordinary X2)"]


def test_ordinary_false_says_nothing() -> None:
    assert board("XU1 a k e c DEMO_PT1\nR1 a b 1", '[elements."*"]\nordinary = false').kinds() == {
        "XU1": "phototransistor"
    }


def test_couplers_with_the_letter_of_a_transmission_line_are_recognised() -> None:
    found = board("OK1 a k e c DEMO_PT1\nT1 a b c d DEMO_T1\nT2 a b c d Z0=50")
    assert found.kinds() == {"OK1": "phototransistor", "T1": "transformer"}


# -- never a name alone -----------------------------------------------------------------------------------------


def test_structure_alone_tells_a_part_whatever_its_name() -> None:
    found = placed("DEMO_X9", model("DEMO_X9", "1 2 3 4", A="1", K="2", C="3", E="4"))
    part = found.recognition.parts[0]
    assert (part.type, part.recognised_by) == ("phototransistor", "structure")
    assert placed("DEMO_X9", model("DEMO_X9", "A K GND OUT VCC", LOGIC)).kinds() == {"XU1": "logic-output"}


def test_a_name_alone_is_left_open_and_offers_a_record() -> None:
    found = board("XU1 a k e c DEMO_OPTO\nU2 1 2 3 4 DEMO_RELAY\nXU3 a b c DEMO_X9")
    assert found.suspects() == {"XU1": "coupler", "U2": "relay"}
    (first, _) = found.recognition.suspects
    assert "[parts.DEMO_OPTO]" in first.example
    assert 'perhaps ["anode", "cathode", "emitter", "collector"]' in first.example
    assert found.parts()[2] == "(unknown XU3: no subcircuit and no part record say what it is)"


def test_a_telling_name_with_another_structure_is_left_open() -> None:
    text = ".subckt DEMO_OPTO 1 2 3 4\nE1 1 2 3 4 1\nR1 3 4 1k\n.ends"
    found = board(f"XU1 a b c d DEMO_OPTO\n{text}")
    assert found.kinds() == {}
    assert list(found.suspects()) == ["XU1"]


CLAMPED = "D1 IP IM DX\nD2 IM IP DX\nR1 IP IM 1meg\nE1 X 0 IP IM 1e5\nR2 X OUT 50\n"
CLAMPED += "V1 VP Y 0\nF1 OUT 0 V1 1\nR3 Y VM 1k\n.model DX D"
ORDINARY = {
    "op-amp with clamp diodes": (".subckt DEMO_AMP IP IM VP VM OUT\n" + CLAMPED, 5),
    "comparator": (".subckt DEMO_CMP 1 2 3 4 5\nG1 5 4 1 2 1\nR1 1 2 1meg\nR2 3 4 10k\nQ1 5 3 4 Q\n.model Q NPN", 5),
    "four gates": (".subckt DEMO_GATES 1 2 3 4 5 6 7 8\nE1 3 8 1 2 1\nE2 6 8 4 5 1\nR1 7 8 1k\n.model DX D", 8),
    "two transistors": (".subckt DEMO_PAIR 1 2 3 4 5 6\nQ1 1 2 3 Q\nQ2 4 5 6 Q\n.model Q NPN", 6),
    "diode and gate": (".subckt DEMO_MIX 1 2 3 4\nD1 1 2 DX\nE1 3 4 3 4 1\n.model DX D", 4),
}


@pytest.mark.parametrize("what", ORDINARY)
def test_parts_that_fall_into_groups_are_no_couplers(what: str) -> None:
    text, count = ORDINARY[what]
    nets = " ".join(f"n{n}" for n in range(count))
    found = board(f"X1 {nets} {text.split()[1]}\n{text}\n.ends")
    assert found.kinds() == {}
    assert found.suspects() == {}
    assert len(found.recognition.unknown) == 1


def test_an_unreadable_model_is_no_isolation() -> None:
    body = "$CDNENCSTART\n" + "9f8e7d6c5b4a39281706f5e4d3c2b1a0ffeeddccbbaa99887766554433221100\n" * 3 + "$CDNENCFINISH"
    text = f".subckt {{}} A K C E\n{body}\n.ends"
    found = board("X1 a b c d DEMO_THING\n" + text.format("DEMO_THING"))
    if not found.circuit.cards.scopes[1].unreadable:
        pytest.skip("this reader reads the body")
    assert found.parts() == ["(unknown X1: it is a part of unknown kind)"]
    named = board("X1 a b c d DEMO_OPTO\n" + text.format("DEMO_OPTO"))
    assert named.suspects() == {"X1": "phototransistor"}
    declared = board("X1 a b c d DEMO_OPTO\n" + text.format("DEMO_OPTO"), '[elements."X1"]\ntype = "phototransistor"')
    assert declared.recognition.parts[0].roles == ("anode", "cathode", "collector", "emitter")


# -- the record against the model -------------------------------------------------------------------------------

AKEC = "anode cathode emitter collector"


@pytest.mark.parametrize(
    ("pins", "ports", "of"),
    [
        ("anode cathode emitter collector", "A K E C", {}),
        ("anode cathode emitter collector", "1 2 3 4", {"A": "1", "K": "2", "E": "3", "C": "4"}),
        ("anode cathode collector emitter", "1 2 3 4", {"A": "1", "K": "2", "C": "3", "E": "4"}),
        ("anode cathode collector emitter", "DA DK COLL EMIT", {"A": "DA", "K": "DK", "C": "COLL", "E": "EMIT"}),
        ("collector emitter anode cathode", "P1 P2 P3 P4", {"C": "P1", "E": "P2", "A": "P3", "K": "P4"}),
    ],
)  # fmt: skip
def test_a_record_that_agrees_is_not_contradicted(pins: str, ports: str, of: dict[str, str]) -> None:
    found = placed("DEMO_X9", model("DEMO_X9", ports, **of), "", record("DEMO_X9", pins))
    assert found.kinds() == {"XU1": "phototransistor"}
    assert found.contradictions() == []


@pytest.mark.parametrize(
    ("pins", "ports", "of", "said"),
    [
        (AKEC, "A K C E", {}, "pin 3 is the emitter in record DEMO_X9"),
        ("cathode anode emitter collector", "A K E C", {}, "pin 1 is the cathode in record DEMO_X9"),
        (AKEC, "1 2 3 4", {"A": "2", "K": "1", "E": "3", "C": "4"}, "anode and cathode the other way"),
        (AKEC, "1 2 3 4", {"A": "1", "K": "2", "E": "4", "C": "3"}, "collector and emitter the other way"),
        (AKEC, "1 2 3 4", {"A": "3", "K": "4", "E": "1", "C": "2"}, "puts the LED on ports 1 2"),
        ("anode emitter cathode collector", "1 2 3 4", {"A": "1", "K": "2", "E": "3", "C": "4"},
         "puts the LED on ports 1 3"),
    ],
)  # fmt: skip
def test_a_model_that_contradicts_the_record_is_said(pins: str, ports: str, of: dict[str, str], said: str) -> None:
    found = placed("DEMO_X9", model("DEMO_X9", ports, **of), "", record("DEMO_X9", pins))
    assert found.kinds() == {"XU1": "phototransistor"}
    (text,) = found.contradictions()
    assert said in text


def test_supply_and_ground_exchanged_are_said() -> None:
    text = model("DEMO_X9", "A K GND OUT VCC", LOGIC)
    right, wrong = "anode cathode gnd out vcc", "anode cathode vcc out gnd"
    assert placed("DEMO_X9", text, "", record("DEMO_X9", right, "logic-output")).contradictions() == []
    (said,) = placed("DEMO_X9", text, "", record("DEMO_X9", wrong, "logic-output")).contradictions()
    assert "pin 3 is the supply" in said


def test_pins_that_the_record_keeps_apart_but_the_model_joins_are_said() -> None:
    numeric = {"A": "1", "K": "2", "C": "3", "E": "5"}
    body = CORE.replace(" B ", " 4 ") + "\nR9 4 5 10k"
    text = f".subckt DEMO_X9 1 2 3 4 5 6\n{body.format(**numeric)}\nR8 6 2 100\n.ends\n"
    more = 'groups = [["anode", "cathode"], ["collector", "base", "emitter", "b2"]]'
    found = placed("DEMO_X9", text, "", record("DEMO_X9", "anode cathode collector base emitter b2", more=more))
    (said,) = found.contradictions()
    assert "joins ports 2 and 6" in said or "joins ports 1 and 6" in said


def test_a_model_with_everything_joined_contradicts_nothing() -> None:
    text = model("DEMO_X9", "1 2 3 4", CORE + "\nR9 {K} {E} 1k", A="1", K="2", C="3", E="4")
    assert placed("DEMO_X9", text, "", record("DEMO_X9", "anode cathode emitter collector")).contradictions() != []
    plain = ".subckt DEMO_X9 1 2 3 4\nR1 1 2 1k\nR2 2 3 1k\nR3 3 4 1k\nE1 1 2 3 4 1\n.ends"
    assert placed("DEMO_X9", plain, "", record("DEMO_X9", "anode cathode emitter collector")).contradictions() == []


def test_a_dual_part_with_stated_channels_is_laid_beside_its_model_led_by_led() -> None:
    pins = "anode1 cathode1 cathode2 anode2 emitter2 collector2 collector1 emitter1"
    channels = "".join(
        f'[[parts.DEMO_X9.channels]]\ninput = ["anode{n}", "cathode{n}"]\noutput = ["collector{n}", "emitter{n}"]\n'
        for n in "12"
    )
    order = ("A1", "K1", "K2", "A2", "E2", "C2", "C1", "E1")
    text = model("DEMO_X9", "1 2 3 4 5 6 7 8", DUAL, **dict(zip(order, "12345678", strict=True)))
    found = placed("DEMO_X9", text, "", record("DEMO_X9", pins) + channels)
    assert found.contradictions() == []
    assert [channel.subject for channel in found.channels] == ["XU1 channel 1", "XU1 channel 2"]
    turned = dict(zip(("A1", "K1", "A2", "K2", "E2", "C2", "C1", "E1"), "12345678", strict=True))
    text = model("DEMO_X9", "1 2 3 4 5 6 7 8", DUAL, **turned)
    (said,) = placed("DEMO_X9", text, "", record("DEMO_X9", pins) + channels).contradictions()
    assert "the other way round than the diode" in said


def test_either_end_of_a_bidirectional_input_may_bear_either_name() -> None:
    body = (
        "D1 {A} N DLED\nD2 N {A} DLED\nV1 N {K} 0\nB1 {C} B I=abs(I(V1))\nQ1 {C} B {E} Q\n.model DLED D\n.model Q NPN"
    )
    text = model("DEMO_X9", "K A C E", body)
    assert placed("DEMO_X9", text, "", record("DEMO_X9", "anode cathode collector emitter")).contradictions() == []


def test_a_model_of_another_number_of_ports_is_not_laid_beside_the_record() -> None:
    text = model("DEMO_X9", "A K C E B")
    found = board("XU1 1 2 3 4 DEMO_X9\n" + text, "", record("DEMO_X9", "anode cathode emitter collector"))
    assert found.kinds() == {"XU1": "phototransistor"}
    assert found.contradictions() == []


# -- size -----------------------------------------------------------------------------------------------------


def test_thousands_of_parts_of_many_definitions_are_recognised_in_linear_time() -> None:
    library = "".join(model(f"DEMO_OPTO{n}", "A K C E") for n in range(300))
    cards = "\n".join(f"XU{n} a{n} k{n} c{n} e{n} DEMO_OPTO{n % 300}" for n in range(3000))
    start = time.process_time()
    found = board(f"{cards}\n{library}", '[elements."R*"]\ntolerance = "1 %"')
    assert len(found.kinds()) == 3000
    assert time.process_time() - start < 8.0

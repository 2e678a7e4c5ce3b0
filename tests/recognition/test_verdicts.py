"""Whole verdicts and signal graphs, as text."""

from __future__ import annotations

import pytest

from isolint.recognition import Hint, recognise_body, signal_graph
from tests.recognition.labelled import cards_of

MODELS = ".model DL D(IS=1e-15 N=2)\n.model DX D\n.model QN NPN(BF=300)\n.model SX SW(VT=1)\n.model NM NMOS(VTO=1)\n"


def dump(ports: str, body: str, hint: Hint | None = None, rest: str = "") -> str:
    text = f".subckt DEMO_X {ports}\n{body}\n{MODELS}.ends\n{rest}"
    cards = cards_of(text)
    scope = cards.find_subcircuit("DEMO_X", 0)
    assert scope is not None
    return recognise_body(cards, scope, lambda: hint).dump(tuple(ports.split()))


def graph(ports: str, body: str) -> str:
    cards = cards_of(f".subckt DEMO_X {ports}\n{body}\n{MODELS}.ends\n")
    scope = cards.find_subcircuit("DEMO_X", 0)
    assert scope is not None
    return signal_graph(cards, scope)


LIT = "D1 A N DL\nV1 N K 0\n"
PLAIN = LIT + "F1 C B V1 2m\nQ1 C B E QN"


def test_a_plain_phototransistor() -> None:
    assert dump("A K C E", PLAIN) == (
        "(answered phototransistor by current\n"
        "  groups: A=anode K=cathode | C=collector E=emitter\n"
        "  channel: A=anode K=cathode -> C=collector E=emitter\n"
        "  VF 1.55 V\n"
        "  ratio 0.602 at 1 mA, 0.602 at 5 mA, 0.602 at 10 mA)"
    )


def test_signals_go_from_what_controls_to_what_is_driven() -> None:
    body = LIT + "H1 P 0 V1 1k\nR1 P Q 1k\nC1 Q 0 1n\nG1 C B Q 0 1m\nQ1 C B E QN\nR9 E K 10meg"
    assert graph("A K C E", body) == "group 1 (A K): D1 V1 -> 2\ninner 2: H1 R1 -> 3\ngroup 3 (C E): G1 Q1"


def test_coupled_coils_and_lines_carry_signals_both_ways() -> None:
    assert graph("1 2 3 4", "L1 1 2 1m\nL2 3 4 1m\nK1 L1 L2 1") == "group 1 (1 2): L1 -> 2\ngroup 2 (3 4): L2 -> 1"
    assert graph("1 2 3 4", "T1 1 2 3 4 Z0=50 TD=1n") == "group 1 (1 2): T1 -> 2\ngroup 2 (3 4): T1 -> 1"


def test_node_0_joins_nothing_unless_it_is_a_port() -> None:
    assert graph("A K C E", "R1 A 0 1k\nR2 C 0 1k\nR3 A K 1\nR4 C E 1") == "group 1 (A K): R1 R3\ngroup 2 (C E): R2 R4"
    assert graph("A 0 C", "R1 A 0 1k\nR2 C 0 1k") == "group 1 (A 0 C): R1 R2"


def test_ports_of_one_name_are_one_net() -> None:
    assert "groups: A=anode K=cathode | NC=nc | NC=nc | C=collector E=emitter" in dump("A K NC NC C E", PLAIN)


def test_a_voltage_across_the_two_ports_leaves_a_doubt() -> None:
    body = "D1 A K DL\nG1 C E A K 1m"
    assert dump("A K C E", body) == (
        "(asked phototransistor by weak\n"
        "  choices: phototransistor, ordinary\n"
        "  groups: A=anode K=cathode | C=collector E=emitter\n"
        "  channel: A=anode K=cathode -> C=collector E=emitter\n"
        "  because only the voltage of its input is sensed)"
    )
    assert dump("A K C E", body, Hint("", is_word=True)).startswith("(answered phototransistor by weak")
    assert dump("A K C E", body.replace("DL", "DX").replace("A ", "P ")).startswith("(none")


def test_a_diode_that_something_drives_is_no_led() -> None:
    assert dump("A K C E", PLAIN).startswith("(answered")
    assert dump("A K C E", PLAIN + "\nG9 A K C E 1m").startswith("(none")
    dead = PLAIN + "\nG9 X 0 C E 1m\nR9 X A 1k"
    assert dump("A K C E", dead).startswith("(answered"), "a branch that ends in node 0 drives nothing"


def test_current_times_voltage_is_heat_and_no_light() -> None:
    assert dump("A K J C", LIT + "G1 C J VALUE={I(V1)*V(A,K)}\nR1 J C 10").startswith("(none")
    assert not dump("A K J C", LIT + "G1 C J VALUE={I(V1)*0.5}\nR1 J C 10").startswith("(none")


def test_a_diode_each_way_is_an_input_for_alternating_current_or_a_protected_led() -> None:
    both = "D1 A N DL\nD2 N A DL\nV1 N K 0\nB1 C B I=abs(I(V1))*1m\nQ1 C B E QN"
    assert "input for alternating current" in dump("A K C E", both)
    guarded = dump("A K C E", PLAIN + "\nD9 K A DX")
    assert "alternating" not in guarded
    assert "A=anode K=cathode" in guarded


def test_one_transistor_of_a_darlingtons_ratio_is_asked_about() -> None:
    text = dump("A K C E", LIT + "F1 C B V1 40m\nQ1 C B E QN")
    assert "choices: photodarlington, phototransistor" in text
    assert "because one transistor, and a ratio of 1204 %" in text
    assert "choices" not in dump("A K C E", LIT + "F1 C B V1 20m\nQ1 C B E QN")


def test_a_switch_beside_a_supply_asks_for_its_pins_unless_names_tell() -> None:
    body = LIT + "S1 {o} {g} V1X 0 SX\nH1 V1X 0 V1 1k\nR1 {v} {g} 10k\nR2 {o} {v} 10k"
    asked = dump("A K 5 6 7", body.format(v=5, o=6, g=7))
    assert "confirm: 5 6 7" in asked
    told = dump("A K VCC VO GND", body.format(v="VCC", o="VO", g="GND"))
    assert told.startswith("(answered logic-output"), "nothing drives a gate that only pulls down"
    assert "VCC=vcc VO=out GND=gnd" in told


def test_rails_of_a_stage_of_switches_are_confirmed_unless_names_or_a_diode_tell_them() -> None:
    body = LIT + "H1 P 0 V1 1k\nS1 {v} {o} P 0 SX\nS2 {o} {g} P 0 SX"
    assert "confirm: 5 7" in dump("A K 5 6 7", body.format(v=5, o=6, g=7))
    assert "confirm" not in dump("A K 5 6 7", body.format(v=5, o=6, g=7) + "\nD9 7 5 DX")
    turned = LIT + "H1 P 0 V1 1k\nS1 6 5 P 0 SX\nS2 7 6 P 0 SX"
    assert "6=out" in dump("A K 5 6 7", turned)


def test_a_pin_that_only_controls_belongs_to_its_output() -> None:
    body = LIT + "E1 X G VALUE={IF(I(V1)>1m & V(EN,G)>1, 1, 0)}\nR1 X B 1k\nQ1 O B G QN\nR2 {v} G 1k"
    assert "G=gnd O=out EN=en VCC=vcc" in dump("A K G O EN VCC", body.replace("{v}", "VCC"))
    assert "confirm: EN 8" in dump("A K G O EN 8", body.replace("{v}", "8")), (
        "a number does not say which is the supply"
    )


def test_one_led_with_outputs_of_several_kinds_is_asked_about() -> None:
    text = dump("A K C E X Y", PLAIN + "\nS1 X Y V1X 0 SX\nH1 V1X 0 V1 1k")
    assert "because its LED drives several outputs" in text


def test_a_model_that_leaves_a_port_unjoined_is_asked_about() -> None:
    text = dump("A K C E", "D1 A N DL\nV1 N KK 0\nF1 C B V1 2m\nQ1 C B E QN")
    assert text.startswith("(asked phototransistor")
    assert "because the model leaves port K unjoined" in text
    assert "confirm: K" in text


def test_a_type_number_of_another_type_is_asked_about() -> None:
    asked = dump("A K C E", PLAIN, Hint("photodarlington"))
    assert "choices: phototransistor, photodarlington" in asked
    assert "because its structure is that of a phototransistor, its type number that of a photodarlington" in asked
    assert dump("A K C E", PLAIN, Hint("phototransistor")) == dump("A K C E", PLAIN)


def test_a_type_number_for_alternating_current_confirms_no_model_of_one_diode() -> None:
    text = dump("A K C E", PLAIN, Hint("phototransistor", bidirectional=True))
    assert "because its model has one diode, its type number is one for alternating current" in text
    assert "confirm: A K" in text


WINDINGS = "L1 1 2 {one}\nL2 3 4 {other}\nK1 L1 L2 0.99"


@pytest.mark.parametrize(
    ("body", "start", "why"),
    [
        (WINDINGS.format(one="1m", other="4m"), "(answered transformer", ""),
        (WINDINGS.format(one="1m", other="1.02m"), "(asked transformer", "a common-mode choke"),
        (WINDINGS.format(one="10n", other="40n"), "(none", "a connector or a line"),
        (WINDINGS.format(one="1m", other="4m") + "\nR1 1 0 1", "(answered transformer", ""),
        ("L1 1 0 1m\nR1 1 2 1\nL2 3 4 4m\nK1 L1 L2 1", "(asked transformer", "tied to node 0"),
        (WINDINGS.format(one="1m", other="4m") + "\nD1 3 5 DX\nR2 5 4 1k", "(asked isolated-supply", "active parts"),
    ],
)  # fmt: skip
def test_coupled_coils(body: str, start: str, why: str) -> None:
    text = dump("1 2 3 4", body)
    assert text.startswith(start)
    assert why in text


ISOLATOR = (
    "R1 {a} {c} 5k\nR2 {b} {c} 100k\nB1 X 0 V=if(V({b},{c})>1,1,0)\nR3 X Y 1k\nC3 Y 0 1p\nB2 Z {f} V=V(Y)*V({d},{f})\n"
    "R4 Z {e} 50\nR5 {d} {f} 5k"
)


def test_an_isolator_is_asked_about_where_names_or_a_type_number_confirm_it() -> None:
    named = dict(zip("abcdef", ("VDD1", "IN", "GND1", "VDD2", "OUT", "GND2"), strict=True))
    text = dump(" ".join(named.values()), ISOLATOR.format(**named))
    assert "choices: digital-isolator, isolated-amplifier, gate-driver, isolated-supply, ordinary" in text
    assert "groups: VDD1=? IN=? GND1=? | VDD2=? OUT=? GND2=?" in text
    plain = dict(zip("abcdef", "123456", strict=True))
    unloaded = ISOLATOR.format(**plain).replace("R5 4 6 5k", "")
    assert dump("1 2 3 4 5 6", unloaded).startswith("(none")
    hint = Hint("isolated-amplifier")
    assert dump("1 2 3 4 5 6", unloaded, hint).startswith("(asked isolated-amplifier")


@pytest.mark.parametrize(
    ("change", "asked"),
    [
        ("", True),
        ("B3 W 3 V=V(2,3)\nR7 W 2 50", False),
        ("B3 W 3 V=V(Y)\nR7 W 7 50", False),
        ("R9 6 0 10", False),
        ("G9 4 6 4 3 1m", False),
    ],
)
def test_two_supplied_sides_are_asked_about_by_structure_unless_one_reference_serves_both(
    change: str, asked: bool
) -> None:
    """A sender with an output of its own, a tie to node 0 or a voltage between the sides is a half-bridge driver's."""
    plain = dict(zip("abcdef", "123456", strict=True))
    ports = "1 2 3 4 5 6 7" if " 7 " in change else "1 2 3 4 5 6"
    text = dump(ports, f"{ISOLATOR.format(**plain)}\n{change}")
    assert text.startswith("(asked ?" if asked else "(none")


ENABLED = "H1 P G V1 1k\nE1 X G VALUE={IF(V(P,G)>1 & V(6,G)>1, 1, 0)}\nR1 X B 1k\nQ1 O B G QN\nR2 7 G 1k"


def test_the_enable_pin_is_the_one_that_is_listened_to_and_pulled_to_the_supply() -> None:
    assert "6=en 7=vcc" in dump("A K G O 6 7", LIT + ENABLED + "\nR3 6 7 20k")
    assert "confirm: 6 7" in dump("A K G O 6 7", LIT + ENABLED), "a supply that is watched looks alike"
    assert "confirm: 6 7" in dump("A K G O 6 7", LIT + ENABLED + "\nR3 6 G 20k")


@pytest.mark.parametrize(
    ("gain", "start"),
    [("1.2", "(answered phototransistor"), ("0.004", "(asked phototransistor"), ("30", "(asked photodarlington")],
)
def test_a_bare_current_is_told_by_its_share_of_the_leds(gain: str, start: str) -> None:
    assert dump("1 2 3 4", f"D1 1 N DL\nV1 N 2 0\nF1 3 4 V1 {gain}").startswith(start)
    assert dump("1 2 3 4", f"D1 1 N DL\nV1 N 2 0\nF1 3 4 V1 {gain}\nD2 4 3 DL n=8").startswith("(answered photovoltaic")


def test_a_mirror_of_a_silicon_diode_is_no_phototransistor() -> None:
    assert dump("1 2 3 4", "D1 1 N DX\nV1 N 2 0\nF1 3 4 V1 1").startswith("(asked phototransistor")


@pytest.mark.parametrize(
    ("law", "start", "first"),
    [
        ("I(V1)*1.5*tanh(V(4,3)/0.1)", "(answered phototransistor", "4=collector"),
        ("I(V1)*1.5*tanh(V(4,3)/5)", "(asked", ""),
        ("I(V1)*0.01*tanh(V(4,3)/0.1)", "(asked", ""),
    ],
)
def test_a_current_that_saturates_early_is_a_transistors(law: str, start: str, first: str) -> None:
    text = dump("1 2 3 4", f"D1 1 N DL\nV1 N 2 0\nB1 4 3 I={law}")
    assert text.startswith(start)
    assert first in text


HELD = "D1 1 N DL\nV1 N 2 0\nB1 P 0 V=if(I(V1)>5m{held},1,0)\nC1 P 0 1n\nS1 3 M P 0 SX\nVM M 4 0"


@pytest.mark.parametrize(
    ("held", "start", "pin"),
    [
        (" | abs(I(VM))>1m", "(answered phototriac", "3=terminal1"),
        (" | I(VM)>1m", "(answered photo-scr", "3=scra 4=scrk"),
        (" | I(VM)<-1m", "(answered photo-scr", "3=scrk 4=scra"),
        (" & abs(I(VM))<100m", "(asked", ""),
        (" & abs(V(3,4))<20", "(asked", ""),
    ],
)
def test_what_its_own_current_keeps_on_is_a_triac_or_a_thyristor(held: str, start: str, pin: str) -> None:
    text = dump("1 2 3 4", HELD.format(held=held))
    assert text.startswith(start)
    assert pin in text


@pytest.mark.parametrize(
    ("law", "ohms", "start"),
    [
        ("if(I(V1)>2m,V(5,3),0)", 50, "(answered logic-output"),
        ("if(I(V1)>2m,V(5,3),0)", 5, "(asked gate-driver"),
        ("limit(200*I(V1),0,V(5,3))", 50, "(asked logic-output"),
    ],
)
def test_a_voltage_of_two_levels_through_a_resistor_is_a_logic_output(law: str, ohms: int, start: str) -> None:
    body = f"D1 1 N DL\nV1 N 2 0\nE1 6 3 VALUE={{{law}}}\nR1 6 4 {ohms}\nR2 5 3 2k"
    assert dump("1 2 3 4 5", body).startswith(start)


def test_an_led_beside_its_brightness_is_no_coupler() -> None:
    lit = "D1 1 N DL\nV1 N 2 0\nB1 3 4 V=I(V1)*2k\nR1 3 4 1meg"
    assert dump("1 2 3 4", f"{lit}\nR2 4 0 1").startswith("(none")


def test_a_body_that_is_too_large_or_goes_too_deep_tells_nothing() -> None:
    many = "\n".join(f"R{n + 10} A X{n} 1k" for n in range(1500))
    assert "holds too much" in dump("A K C E", PLAIN + "\n" + many)
    chain = "".join(f".subckt S{n} 1 2\nX1 1 2 S{n + 1}\n.ends\n" for n in range(8))
    text = dump("A K C E", PLAIN + "\nX1 C E S0", rest=chain + ".subckt S8 1 2\nR1 1 2 1k\n.ends\n")
    assert "holds too much" in text


def test_signals_that_go_too_many_ways_are_given_up() -> None:
    ports = [f"P{n}" for n in range(300)]
    body = "\n".join(f"E{n} X 0 P{n} 0 1\nG{n} P{n} Q{n % 150} X 0 1" for n in range(300))
    assert "its signals go too many ways" in dump(" ".join([*ports, *(f"Q{n}" for n in range(150))]), body)


def test_a_resistor_across_an_led_and_one_before_it_hide_no_led() -> None:
    inside = "R1 1 M 1.2k\nD1 M N DL\nR2 M 2 3.3k\nV1 N 2 0\nF1 3 B V1 2m\nQ1 3 B 4 QN"
    assert "1=anode 2=cathode" in dump("1 2 3 4", inside)
    clamp = "D1 1 2 DL\nV1 1 M 0\nR1 M 2 100\nF1 3 B V1 2m\nQ1 3 B 4 QN"
    assert dump("1 2 3 4", clamp).startswith("(none"), "the sensed current is the resistor's, not the diode's"


def test_an_led_behind_a_transistor_that_regulates_its_current_is_asked_about() -> None:
    body = "J1 1 S M JR\nR1 S M 120\nD1 M N {}\nV1 N 2 0\nF1 3 B V1 2m\nQ1 3 B 4 QN\n.model JR NJF"
    text = dump("1 2 3 4", body.format("DL"))
    assert text.startswith("(asked phototransistor")
    assert "choices: phototransistor, ordinary" in text
    assert "because transistors stand before its diode" in text
    assert dump("1 2 3 4", body.format("DX")).startswith("(none")


APART = "D1 A K DL\nQ1 C B E QN"


def test_an_led_beside_a_transistor_that_nothing_lights_is_asked_about() -> None:
    assert dump("A K C E", APART) == (
        "(asked phototransistor\n"
        "  choices: phototransistor, photodarlington, logic-output, ordinary\n"
        "  groups: A=anode K=cathode | C=collector E=emitter\n"
        "  channel: A=anode K=cathode -> C=collector E=emitter\n"
        "  because an LED and a transistor, and nothing in it that joins them)"
    )


@pytest.mark.parametrize(
    ("ports", "body"),
    [
        ("A1 K1 A2 K2", "D1 A1 K1 DL\nD2 A2 K2 DL"),
        ("A1 K1 A2 K2", "D1 A1 K1 DX\nD2 A2 K2 DX"),
        ("C1 B1 E1 C2 B2 E2", "Q1 C1 B1 E1 QN\nQ2 C2 B2 E2 QN"),
        ("P1 P2 C B E", "D1 P1 P2 DX\nQ1 C B E QN"),
        ("A K C E", APART + "\nR1 K E 1k"),
        ("1 2 3 4", "L1 1 2 1m\nL2 3 4 1m"),
        ("1 2 3 4", "R1 1 2 1k\nR2 3 4 1k"),
    ],
)
def test_packages_of_several_parts_are_no_couplers_without_light(ports: str, body: str) -> None:
    assert dump(ports, body).startswith("(none")


def test_a_name_that_suggests_a_coupler_vouches_for_an_led_of_any_diode() -> None:
    body = "D1 1 2 DX\nQ1 4 5 3 QN"
    assert dump("1 2 3 4 5", body).startswith("(none")
    found = dump("1 2 3 4 5", body, Hint("", is_word=True))
    assert "groups: 1=anode 2=cathode | 3=emitter 4=collector 5=base" in found


@pytest.mark.parametrize(
    ("body", "hint", "kind"),
    [
        ("L1 1 N 100m\nR1 N 2 200", None, "relay"),
        ("R1 1 2 200\nR2 3 4 100m", Hint("relay", is_word=True), "relay"),
        ("L1 1 2 1\nL2 3 4 10m", Hint("transformer", is_word=True), "transformer"),
    ],
)
def test_coils_that_move_and_couple_nothing_are_asked_about(body: str, hint: Hint | None, kind: str) -> None:
    assert dump("1 2 3 4", body, hint).startswith(f"(asked {kind}\n  choices: {kind}, ordinary")

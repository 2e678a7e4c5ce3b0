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
    assert "choices: logic-output, gate-driver" in told
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
    assert dump("1 2 3 4 5 6", ISOLATOR.format(**plain)).startswith("(none")
    hint = Hint("isolated-amplifier")
    assert dump("1 2 3 4 5 6", ISOLATOR.format(**plain), hint).startswith("(asked isolated-amplifier")


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

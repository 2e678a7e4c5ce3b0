"""Every letter and form of element card that the survey met."""

from __future__ import annotations

import pytest

from isolint.netlist import Expression, Stimulus
from tests.netlist.reading import deck, elements, notes, one, only_note, read_text

FORMS = {
    "R1 a b 10k": "R R1 a b 10k",
    "r1 a b 10k": "R r1 a b 10k",
    "R1 a b RMOD 10k": "R R1 a b =RMOD 10k",
    "R1 a b 10k RMOD": "R R1 a b =RMOD 10k",
    "R1 a b RMOD": "R R1 a b =RMOD",
    "R1 a b R=10k": "R R1 a b 10k",
    "R1 a b R = {2*x}": "R R1 a b {2*x}",
    "R1 a b": "R R1 a b",
    "R1 a b {x}": "R R1 a b {x}",
    "R1 a b '2*x'": "R R1 a b {2*x}",
    'R1 a b "2*x"': "R R1 a b {2*x}",
    "R1 a b {2*3k}": "R R1 a b 6k",
    "R1 a,b 10k": "R R1 a b 10k",
    "R1 (a b) 10k": "R R1 a b 10k",
    "R1 a b 10k TC=0.1,0.2": "R R1 a b 10k tc=0.1,0.2",
    "R1 a b 10k tc1=1m tc2 = 2u": "R R1 a b 10k tc1=1m tc2=2u",
    "R 12V +5V 10": "R R 12V +5V 10",
    "R1 - -VEE 10": "R R1 - -VEE 10",
    "R1 /o /o/r 10": "R R1 /o /o/r 10",
    "R1 net#1 Q[0] 10": "R R1 net#1 Q[0] 10",
    "R1 gnd! <3> 10": "R R1 gnd! <3> 10",
    "R1 [4] a.b:c 10": "R R1 [4] a.b:c 10",
    "R1 Net-(D1-Pad2) a|b 10": "R R1 Net-(D1-Pad2) a|b 10",
    "R§1.a-b ü~1 @n&2 10": "R R§1.a-b ü~1 @n&2 10",
    "C1 a b 10u IC=5": "C C1 a b 10u ic=5",
    "C1 a b 10u Rser=1m Lser=2n Rpar=1g Cpar=1p": "C C1 a b 10u rser=1m lser=2n rpar=1g cpar=1p",
    "C1 a b CMOD L=10u": "C C1 a b =CMOD l=10u",
    "C1 a b Q={x*v(a,b)}": "C C1 a b q={x*v(a,b)}",
    "L1 a b 1m Rser=0.1 Rpar={10*x}": "L L1 a b 1m rser=100m rpar={10*x}",
    "K1 L1 L2 1": "K K1 <L1 L2> 1",
    "K1 L1 L2 L3 0.98": "K K1 <L1 L2 L3> 980m",
    "K1 L1 L2 {k}": "K K1 <L1 L2> {k}",
    "K1 L1 L2 kx": "K K1 <L1 L2> {kx}",
    "K1 L1 L2 0.9 CORE": "K K1 <L1 L2> =CORE 900m",
    "V1 a b": "V V1 a b 0",
    "I1 a b": "I I1 a b 0",
    "V1 a b 5": "V V1 a b 5",
    "V1 a b DC 5": "V V1 a b 5",
    "V1 a b DC=5": "V V1 a b 5",
    "V1 a b DC {vcc} AC 1": "V V1 a b {vcc}",
    "V1 a b vcc": "V V1 a b {vcc}",
    "V1 a b AC 1 45": "V V1 a b AC(1 45)",
    "V1 a b 5Vdc": "V V1 a b 5",
    "V1 a b PULSE(0 5 1n 1n 1n 5u 10u)": "V V1 a b PULSE(0 5 1n 1n 1n 5u 10u)",
    "V1 a b DC 1 PULSE (0,5,{td})": "V V1 a b 1 PULSE(0 5 {td})",
    "V1 a b PULSE 0 5 1n": "V V1 a b PULSE(0 5 1n)",
    "V1 a b SIN(0 325 50)": "V V1 a b SIN(0 325 50)",
    "V1 a b SINE(0 325 50) AC 1 Rser=2": "V V1 a b SIN(0 325 50) rser=2",
    "V1 a b EXP(0 1 1u 1u)": "V V1 a b EXP(0 1 1u 1u)",
    "V1 a b PWL(0 0 1u 5)": "V V1 a b PWL(0 0 1u 5)",
    "V1 a b PWL(0,0) (1u,5)": "V V1 a b PWL(0 0 1u 5)",
    "V1 a b PWL REPEAT FOREVER (0 0 1 5) ENDREPEAT": "V V1 a b PWL(0 0 1 5)",
    "V1 a b PWL file=wave.txt": "V V1 a b FILE()",
    'V1 a b PWL(file="wave.txt")': "V V1 a b FILE()",
    "I1 a b TBL(0 0 1 1m)": "I I1 a b TABLE(0 0 1 1m)",
    "D1 a k DMOD": "D D1 a k =DMOD",
    "D1 a k 1N0000X": "D D1 a k =1N0000X",
    "D1 a k DMOD 2 off": "D D1 a k =DMOD area=2",
    "D1 a k DMOD area=2": "D D1 a k =DMOD area=2",
    "Q1 c b e QMOD": "Q Q1 c b e =QMOD",
    "Q1 c b e 0 QMOD": "Q Q1 c b e 0 =QMOD",
    "Q1 c b e [4] QMOD": "Q Q1 c b e 4 =QMOD",
    "Q1 c b e QMOD 2": "Q Q1 c b e =QMOD area=2",
    "Q1 c b e [sub] QMOD 2.5 off": "Q Q1 c b e sub =QMOD area=2.5",
    "Q1 c b e 2N0000": "Q Q1 c b e =2N0000",
    "J1 d g s JMOD": "J J1 d g s =JMOD",
    "M1 d g s b MMOD": "M M1 d g s b =MMOD",
    "M1 d g s b MMOD W=1u L=2u": "M M1 d g s b =MMOD w=1u l=2u",
    "M1 d g s b MMOD L={l0} W='2*w0' m = 2": "M M1 d g s b =MMOD l={l0} w={2*w0} m=2",
    "M1 d g s VDMOD": "M M1 d g s =VDMOD",
    "E1 a b c d 2": "E E1 a b <c d> 2",
    "E1 (a,b) (c,d) 2": "E E1 a b <c d> 2",
    "E1 a b (c,d) {g}": "E E1 a b <c d> {g}",
    "E1 a b POLY(2) (c,d) (e,f) 0 1 1": "E E1 a b <c d e f> poly=2 coefficients=0 1 1",
    "E1 a b POLY(1) c d 0 1": "E E1 a b <c d> poly=1 coefficients=0 1",
    "E1 a b VALUE={V(c,d)*2}": "E E1 a b <c d> value={V(c,d)*2}",
    "E1 a b VALUE = {V(c)*I(V1)}": "E E1 a b <c> value={V(c)*I(V1)}",
    "E IN2 GND VALUE {V(c)}": "E E IN2 GND <c> value={V(c)}",
    "E1 a b TABLE {V(c,d)} = (0,0) (1,1)": "E E1 a b <c d> table={V(c,d)} = (0,0) (1,1)",
    "E1 a b TABLE {V(c)} (0,0) (1,1)": "E E1 a b <c> table={V(c)} (0,0) (1,1)",
    "E1 a b c d TABLE=(0 0 1 1)": "E E1 a b <c d> table=(0 0 1 1)",
    "E1 a b LAPLACE {V(c)} = {1/(1+s)}": "E E1 a b <c> laplace={V(c)} = {1/(1+s)}",
    "E1 a b FREQ {V(c)} = (1,0,0)": "E E1 a b <c> freq={V(c)} = (1,0,0)",
    "E1 a b vol='v(c)*2'": "E E1 a b <c> vol={v(c)*2}",
    "G1 a b c d 1m": "G G1 a b <c d> 1m",
    "G1 a b POLY(3) (1,0) (2,0) (3,0) 0 1 1 1": "G G1 a b <1 0 2 0 3 0> poly=3 coefficients=0 1 1 1",
    "F1 a b V1 2": "F F1 a b <V1> 2",
    "F1 a b V1 {gain}": "F F1 a b <V1> {gain}",
    "F1 a b POLY(2) V1 V2 0 1 1": "F F1 a b <V1 V2> poly=2 coefficients=0 1 1",
    "H1 a b V1 1k": "H H1 a b <V1> 1k",
    "H1 a b POLY(1) V1 0 1k": "H H1 a b <V1> poly=1 coefficients=0 1k",
    "B1 a b V=v(c)*2": "B B1 a b <c> v=v(c)*2",
    "B1 a b I = v(c,d)>=1 ? i(V1) : max(1, 2) Rpar=1G": "B B1 a b <c d i(V1)> i=v(c,d)>=1 ? i(V1) : max(1, 2) rpar=1g",
    "B1 a b R=1k": "B B1 a b r=1k",
    "S1 a b c d SMOD": "S S1 a b <c d> =SMOD",
    "S1 a b c d SMOD OFF": "S S1 a b <c d> =SMOD",
    "W1 a b V1 WMOD": "W W1 a b <V1> =WMOD",
    "W1 a b V1 WMOD ON": "W W1 a b <V1> =WMOD",
    "X1 a b c DEMO": "X X1 a b c =DEMO",
    "XU3 N004 0 N006 0 PARTNAME Igain=3.4m": "X XU3 N004 0 N006 0 =PARTNAME igain=3.4m",
    "X1 a b DEMO m = 2 x={2*y}": "X X1 a b =DEMO m=2 x={2*y}",
    "X1 a b DEMO PARAMS: x=1 y = 'z+1'": "X X1 a b =DEMO x=1 y={z+1}",
    "X1 a b / DEMO": "X X1 a b =DEMO",
    "X1 (a b) DEMO": "X X1 a b =DEMO",
    "X§U1 a b 74DEMO(2)": "X X§U1 a b =74DEMO(2)",
    "X1 12V +5V - 555": "X X1 12V +5V - =555",
    "X1 a b DEMO text=ab/cd": "X X1 a b =DEMO text={ab/cd}",
    "T1 a b c d Z0=50 TD=1n": "T T1 a b c d z0=50 td=1n",
    "O1 a b c d LTMOD": "U O1 a b c d =LTMOD",
    "U1 a b c PARTNAME": "U U1 a b c =PARTNAME",
    "U1 NAND(2) $G_DPWR $G_DGND a b y D0 IO": "U U1 $G_DPWR $G_DGND a b y =IO digital=1",
    "A1 [a b] [c] dand": "A A1 a b c =dand",
    "A1 %vd(a b) %v[c d] ~e amod": "A A1 a b c d e =amod",
    "A1 in 0 0 0 0 out 0 com SCHMITT Vt=1": "A A1 in out com =SCHMITT vt=1 outputs=1",
    "Y1 a 0 b 0 YMOD len=1": "Y Y1 a 0 b 0 =YMOD len=1",
    "P1 a b c PMOD": "P P1 a b c =PMOD",
    "N1 a b NMOD": "N N1 a b =NMOD",
    "Z1 d g s ZMOD": "Z Z1 d g s =ZMOD",
    "R1 1 2 3": "R R1 1 2 3",
    "R1 1 2 RM 3": "R R1 1 2 =RM 3",
    "V1 1 0 SIN(0 1 2)": "V V1 1 0 SIN(0 1 2)",
    "D1 1 2 3N3": "D D1 1 2 =3N3",
    "Q1 1 2 3 4 QM": "Q Q1 1 2 3 4 =QM",
    "M1 1 2 3 4 MM": "M M1 1 2 3 4 =MM",
    "E1 1 2 3 4 10": "E E1 1 2 <3 4> 10",
    "E1 (1,2) (3,4) 10": "E E1 1 2 <3 4> 10",
    "E1 (1,2) 3 4 10": "E E1 1 2 <3 4> 10",
    "E1 5V 0 3V3 0 {g}": "E E1 5V 0 <3V3 0> {g}",
    "E1 1 0 VALUE={V(2,3)}": "E E1 1 0 <2 3> value={V(2,3)}",
    "E1 1 0 POLY(1) 3 4 0 1": "E E1 1 0 <3 4> poly=1 coefficients=0 1",
    "E1 1 0 3 4 TABLE=(0 0 1 1)": "E E1 1 0 <3 4> table=(0 0 1 1)",
    "G1 1 0 TABLE {V(2)} (0,0) (1,1)": "G G1 1 0 <2> table={V(2)} (0,0) (1,1)",
    "F1 1 2 V1 3": "F F1 1 2 <V1> 3",
    "F1 (1 2) V1 3": "F F1 1 2 <V1> 3",
    "B1 1 0 I=V(2)*3": "B B1 1 0 <2> i=V(2)*3",
    "S1 1 2 3 4 SM": "S S1 1 2 <3 4> =SM",
    "S1 (1,2) (3,4) SM": "S S1 1 2 <3 4> =SM",
    "W1 1 2 V1 WM": "W W1 1 2 <V1> =WM",
    "X1 1 2 3 555": "X X1 1 2 3 =555",
    "T1 1 0 2 0 Z0=50": "T T1 1 0 2 0 z0=50",
    "A1 [1 2] 3 am": "A A1 1 2 3 =am",
    "K1 L1 L2 1m": "K K1 <L1 L2> 1m",
    "é1 a b DEMO": "é é1 a b =DEMO",
}


@pytest.mark.parametrize("card", FORMS)
def test_each_form_of_card_is_read_as_meant(card: str) -> None:
    assert one(card, ".param x=1 y=2 gain=1", ".model QMOD NPN", ".model QM NPN") == FORMS[card]


@pytest.mark.parametrize("card", [card for card in FORMS if "(a,b)" not in card])
def test_forms_are_read_without_a_remark(card: str) -> None:
    assert not read_text(deck(card)).notes


def test_control_nodes_are_no_connections() -> None:
    cards = read_text(deck("E1 out 0 led 0 2", "G1 out 0 VALUE={V(led)}", "S1 out 0 led 0 SMOD"))
    assert {node for nodes in cards.scopes[0].nodes for node in nodes} == {"out", "0"}


def test_values_of_sources_are_stimuli_with_plain_numbers() -> None:
    cards = read_text(deck("V1 a b 5", "V2 a b SIN(0 {2*3} {f})"))
    first, second = cards.scopes[0].values
    assert first == Stimulus("DC", 5.0)
    assert isinstance(second, Stimulus)
    assert second.args[:2] == (0.0, 6.0)
    assert isinstance(second.args[2], Expression)


def test_a_bare_word_behind_a_resistor_is_a_model_a_parameter_or_a_code() -> None:
    cards = read_text(deck("R1 a b RV", "R2 a b RM", "R3 a b R47", "R4 a b other", ".param rv=3", ".model RM R(R=2)"))
    assert elements(cards) == ["R R1 a b {RV}", "R R2 a b =RM", "R R3 a b 470m", "R R4 a b =other"]


def test_the_model_of_a_transistor_is_the_one_that_is_defined() -> None:
    cards = read_text(deck("Q1 c b e QX AREAWORD", "Q2 c b e s QX", ".model QX NPN"))
    assert elements(cards) == ["Q Q1 c b e =QX", "Q Q2 c b e s =QX"]


def test_both_elements_of_a_name_are_kept_and_the_second_gets_a_name_of_its_own() -> None:
    cards = read_text(deck("R1 a b 1k", "r1 c d 2k", "R1~2 e f 1", "R1 e f 3k"))
    assert elements(cards) == ["R R1 a b 1k", "R r1~2 c d 2k", "R R1~2~2 e f 1", "R R1~3 e f 3k"]
    note = cards.notes[0]
    assert (note.level, note.strict, note.subject, note.message) == (
        "warning",
        True,
        "r1~2",
        "there is a second element r1 (first in line 2); both are kept, this one as r1~2",
    )
    assert cards.understood == cards.total == 4


def test_the_same_name_in_two_subcircuits_is_no_duplicate() -> None:
    assert not read_text(
        deck("R1 a b 1", ".subckt A a b", "R1 a b 1", ".ends", ".subckt B a b", "R1 a b 1", ".ends")
    ).notes


MALFORMED = {
    "R1": "resistor R1 has no node; expected `Rname n1 n2 value`",
    "R4 a": "resistor R4 has one node; expected `Rname n1 n2 value`",
    "C4 a": "capacitor C4 has one node; expected `Cname n1 n2 value`",
    "L4 a": "inductor L4 has one node; expected `Lname n1 n2 value`",
    "R4 a )": "resistor R4 has one node; expected `Rname n1 n2 value`",
    "R4 a b 1k q w": "resistor R4 can't be read at `w`; expected `Rname n1 n2 value`",
    "R4 a b {1+}": "resistor R4 has a value that can't be read: the expression `1+` can't be read at its end",
    "K1 L1": "coupling K1 has no coefficient; expected `Kname Lname1 Lname2 coefficient`",
    "V1 a": "voltage source V1 has one node; expected `Vname n+ n- value`",
    "V1 a b 5 6": "voltage source V1 can't be read at `6`; expected `Vname n+ n- value`",
    "I1": "current source I1 has no node; expected `Iname n+ n- value`",
    "D1 a": "diode D1 has one node; expected `Dname anode cathode model`",
    "D1 a k": "diode D1 has no model; expected `Dname anode cathode model`",
    "D1 a k M1 X": "diode D1 can't be read at `X`; expected `Dname anode cathode model`",
    "Q1 c b": "transistor Q1 has two nodes; expected `Qname collector base emitter model`",
    "Q1 c b e": "transistor Q1 has no model; expected `Qname collector base emitter model`",
    "J1 d g": "junction FET J1 has two nodes; expected `Jname drain gate source model`",
    "M1 d g s": "MOSFET M1 has no model; expected `Mname drain gate source bulk model`",
    "E1 a b": "voltage-controlled voltage source E1 has no control; expected `Ename n+ n- c+ c- gain`",
    "E1 a b c d": "voltage-controlled voltage source E1 has no gain",
    "G1 a b POLY(2) (c,d) 0": "voltage-controlled current source G1 has fewer controls than its POLY needs",
    "F1 a b V1": "current-controlled current source F1 has no gain",
    "H1 a": "current-controlled voltage source H1 has one node; expected `Hname n+ n- Vname gain`",
    "B1 a b": "behavioural source B1 has no expression; expected `Bname n+ n- V=expression`",
    "S1 a b c d": "switch S1 has no control and model; expected `Sname n1 n2 c+ c- model`",
    "W1 a b V1": "current-controlled switch W1 has no control and model; expected `Wname n1 n2 Vname model`",
    "X1": "subcircuit call X1 has no node; expected `Xname n1 n2 ... subcircuit`",
    "X1 DEMO": "subcircuit call X1 has no node; expected `Xname n1 n2 ... subcircuit`",
    "X1 a b {x}": "subcircuit call X1 can't be read at `{x}`; expected `Xname n1 n2 ... subcircuit`",
    "T1 a b": "transmission line T1 has two nodes; expected `Tname a+ a- b+ b- Z0=value`",
    "U1 PART": "part U1 has no node; expected `name n1 n2 ... model`",
}


@pytest.mark.parametrize("card", MALFORMED)
def test_a_bad_card_costs_one_note_and_the_next_card_is_read(card: str) -> None:
    cards = read_text(deck(card, "R9 x y 1k"))
    note = only_note(cards)
    assert (note.kind, note.level, note.place.line) == ("malformed-card", "error", 2)
    assert note.message.startswith(MALFORMED[card])
    assert note.subject == card.split()[0]
    assert note.remedy
    assert elements(cards) == ["R R9 x y 1k"]
    assert (cards.understood, cards.total, cards.reasons) == (1, 2, {"malformed": 1})


ODD = {
    "R1 a b 1M": ("note", "R R1 a b 1m", "R1: the value 1M is read as milliohm"),
    "R1 a b 4M7": ("note", "R R1 a b 4.7meg", "R1: the value 4M7 is read as 4.7 megohm"),
    "C1 a b 1F": ("note", "C C1 a b 1e-15", "C1: the value 1F is read as femtofarad"),
    "R1 a b 1,5k": ("warning", "R R1 a b", "R1: has a comma in its value"),
    "R1 a b 4.7 kohm": ("warning", "R R1 a b", "R1: has a blank in its value"),
    "R1 a b {2*3": ("note", "R R1 a b 6", "R1: has a brace that is never closed"),
    "V1 a b PULSE(0 5": ("note", "V V1 a b PULSE(0 5)", "V1: has a parenthesis that is never closed"),
    "R1 a b 1k * pull-up": ("note", "R R1 a b 1k", "R1: has words behind `*`"),
}


@pytest.mark.parametrize("card", ODD)
def test_an_odd_card_is_read_with_a_note_that_says_how(card: str) -> None:
    level, dumped, message = ODD[card]
    cards = read_text(deck(card))
    assert elements(cards) == [dumped]
    note = only_note(cards)
    assert note.level == level
    assert note.message.startswith(message)


def test_one_note_for_each_bad_card_up_to_a_limit() -> None:
    cards = read_text(deck("R0 a b 1", *[f"R{i} a" for i in range(1, 2001)]))
    assert len(cards.notes) == 1001
    assert notes(cards)[-1] == "error 1 1,000 more cards have something to remark; only the first 1,000 are listed"

"""Forms that real files hold and that no simulator's manual asks for: the card stays, and what was odd is told."""

from __future__ import annotations

import pytest

from isolint.circuit import build
from isolint.errors import NotANetlist
from isolint.netlist.dots import header, model, parameters
from isolint.netlist.expressions import Expression
from isolint.worstcase.devices import Bipolar, Diode, from_model
from tests.netlist.reading import deck, elements, notes, only_note, read_text


def _values(found: object) -> dict[str, object]:
    assert isinstance(found, dict)
    return {key: f"{{{value.text}}}" if isinstance(value, Expression) else value for key, value in found.items()}


@pytest.mark.parametrize(
    "text",
    ["D1 D(IS=1e-14,N=2)", "D1 D(IS=1e-14 , N=2)", "D1 D (IS=1e-14, N=2)", "D1 D IS=1e-14,N=2", "D1 D(IS=1e-14,N = 2)"],
)
def test_a_comma_between_parameters_of_a_model_needs_no_blank(text: str) -> None:
    assert _values(model(text).parameters) == {"is": 1e-14, "n": 2.0}
    assert model(text).unread == ()


def test_a_decimal_comma_is_no_comma_between_parameters() -> None:
    assert model("D1 D(IS=1,5 N=2)").unread == ("IS",)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("A {3}", {"a": 3.0}),
        ("A 5", {"a": 5.0}),
        ("A {x*2} B=3", {"a": "{x*2}", "b": 3.0}),
        ("A 5 B {A} C '2*B'", {"a": 5.0, "b": "{A}", "c": "{2*B}"}),
        ("A -1.5e-3, B 2k", {"a": -1.5e-3, "b": 2000.0}),
        ("A=1,B=2", {"a": 1.0, "b": 2.0}),
        ("A = 5", {"a": 5.0}),
    ],
)
def test_a_parameter_needs_no_equal_sign(text: str, wanted: dict[str, object]) -> None:
    assert _values(parameters(text).values) == wanted
    assert parameters(text).unread == ()


def test_parameters_of_a_subcircuit_may_stand_in_braces() -> None:
    found = header("S a b {R=2k} {C = 1n L=1u}")
    assert found.ports == ("a", "b")
    assert _values(found.defaults) == {"r": 2000.0, "c": 1e-9, "l": 1e-6}
    cards = read_text(deck("X1 a b S {R=2k*2 C=x}", "X2 a b S{R=3}"))
    assert elements(cards) == ["X X1 a b =S r=4k c={x}", "X X2 a b =S r=3"]
    assert not cards.notes


STRAY = {
    "R1 a b 1k)": "R R1 a b 1k",
    "X1 a b SUB)": "X X1 a b =SUB",
    "D1 a k DM )": "D D1 a k =DM",
    "V1 a 0 PULSE(0 5 1n))": "V V1 a 0 PULSE(0 5 1n)",
}


@pytest.mark.parametrize("card", STRAY)
def test_a_parenthesis_that_none_opens_costs_a_note_and_no_card(card: str) -> None:
    cards = read_text(deck(card))
    assert elements(cards) == [STRAY[card]]
    assert (only_note(cards).level, only_note(cards).strict) == ("note", False)
    assert "never opened" in only_note(cards).message


def test_a_parenthesis_that_none_opens_costs_no_structure() -> None:
    cards = read_text(
        deck(".model D1 D(IS=1e-14))", ".param x=3)", ".subckt SUB a b)", "R1 a b {x}", ".ends", "X1 a b SUB")
    )
    assert cards.find_model("D1", 0) is not None
    assert cards.scopes[0].parameters == {"x": 3.0}
    assert cards.find_subcircuit("SUB", 0) == 1
    assert [note.level for note in cards.notes] == ["note"] * 3


NODES = {
    "R1 {a} b 1k": "R R1 {a} b 1k",
    "R1 a {n + 1} 1k": "R R1 a {n+1} 1k",
    "V1 {a} 0 5": "V V1 {a} 0 5",
    "C1 {x} 0 1u": "C C1 {x} 0 1u",
    "Q1 {c} b e QM": "Q Q1 {c} b e =QM",
    "D1 a {k} DM": "D D1 a {k} =DM",
    "E1 {a} 0 c d 2": "E E1 {a} 0 <c d> 2",
    "E1 a 0 3 {d} 2": "E E1 a 0 <3 {d}> 2",
    "S1 {a} b c d SM": "S S1 {a} b <c d> =SM",
    "X1 {a} b SUB": "X X1 {a} b =SUB",
    "X1 a {b} SUB p=1": "X X1 a {b} =SUB p=1",
    "U1 a {b} c PART": "U U1 a {b} c =PART",
}


@pytest.mark.parametrize("card", NODES)
def test_a_node_may_be_an_expression_and_is_told(card: str) -> None:
    cards = read_text(deck(card))
    assert elements(cards) == [NODES[card]]
    assert (only_note(cards).level, only_note(cards).strict) == ("error", True)
    assert "node written as an expression" in only_note(cards).message


@pytest.mark.parametrize(
    ("card", "read"),
    [
        ("R1 {n} b 1k", "R R1 3 b 1000"),
        ("R1 a { n + 1 } 1k", "R R1 a 4 1000"),
        ("X1 {2*n} b SUB", "X X1 6 b =SUB"),
        ("E1 a 0 {n} {n-3} 2", "E E1 a 0 <3 0> 2"),
        ("S1 a b {m} 0 SM", "S S1 a b <5 0> =SM"),
        ("R1 {twice(n)} b 1k", "R R1 6 b 1000"),
    ],
)
def test_a_node_is_the_net_that_its_expression_gives(card: str, read: str) -> None:
    cards = read_text(deck(".func twice(x) {2*x}", card, ".param n=3 m={n+2}"))
    assert [line.replace("1k", "1000") for line in elements(cards)] == [read]
    assert (only_note(cards).level, only_note(cards).strict) == ("note", False)
    assert "which is the net" in only_note(cards).message


@pytest.mark.parametrize(
    "card", ["R1 {n/2} b 1k", "R1 {n-4} b 1k", "R1 {nobody} b 1k", "R1 {1/0} b 1k", "R1 {1e30} b 1k"]
)
def test_what_is_no_whole_number_names_no_net(card: str) -> None:
    cards = read_text(deck(".param n=3", card))
    assert cards.scopes[0].nodes[0][0][0] == "{"
    assert (only_note(cards).level, only_note(cards).strict) == ("error", True)


def test_a_parameter_that_a_call_gives_names_no_net_of_the_body() -> None:
    body = ("R1 a {m} 1", "R2 {q} b 1", "R3 {n} {own} 1", ".param own=7", ".ends")
    header = "a b m=5 q={m+1}"
    cards = read_text(
        deck(".param n=3 m=1", f".subckt S {header}", *body, f".subckt T {header}", *body, "X1 1 2 s m=2")
    )
    by_name = {scope.name: scope.nodes for scope in cards.scopes}
    assert by_name["S"] == [("a", "{m}"), ("{q}", "b"), ("3", "7")]
    assert by_name["T"] == [("a", "5"), ("6", "b"), ("3", "7")]


@pytest.mark.parametrize("card", ["R1 a {x}", "D1 a DM {x}", "X1 a {x}", "V1 a {x}"])
def test_a_value_in_the_place_of_a_node_is_an_error(card: str) -> None:
    cards = read_text(deck("R9 a b 1", card))
    assert len(cards.scopes[0]) == 1
    assert only_note(cards).level == "error"


def test_a_device_by_its_type_has_its_name_second() -> None:
    cards = read_text(deck("R1 a v 1k", "YACC acc1 a v", "YACC acc2 a w m", "YPDE bjt1 a v w PM", "Y1 a v YM"))
    assert elements(cards)[1:] == [
        "Y acc1 a v",
        "Y acc2 a w =m",
        "Y bjt1 a v w =PM",
        "Y Y1 a v =YM",
    ]
    assert not cards.notes


def test_a_device_may_name_its_model_before_its_pins() -> None:
    assert elements(read_text(deck("Y1 OPA PIN: a b 0 PARAM: gain=2"))) == ["Y Y1 a b 0 =OPA gain=2"]


def test_parameters_may_follow_param_in_the_singular() -> None:
    cards = read_text(deck(".subckt S a b PARAM: r=1k", "R1 a b {r}", ".ends", "X1 a b S PARAM: r=2k"))
    assert cards.scopes[1].ports == ("a", "b")
    assert elements(cards) == ["X X1 a b =S r=2k"]


def test_the_area_of_a_diode_may_have_a_suffix() -> None:
    cards = read_text(deck("D1 a k DN 1p", "D2 a k DN 1p off", "D3 a k 1N4 2", "J1 d g s JN 2u", "D4 a k 1N4"))
    assert elements(cards) == [
        "D D1 a k =DN area=1p",
        "D D2 a k =DN area=1p",
        "D D3 a k =1N4 area=2",
        "J J1 d g s =JN area=2u",
        "D D4 a k =1N4",
    ]
    assert not cards.notes


@pytest.mark.parametrize("card", ["D1 a 0 DN", "Q1 c b 0 QN"])
@pytest.mark.parametrize("area", ["4", "{2*x}", "area=4", "4 off", "4 area=4"])
def test_the_area_behind_the_model_counts_as_area_does(card: str, area: str) -> None:
    cards = read_text(deck(".param x=2", f"{card} {area}", ".model DN D(IS=1e-14)", ".model QN NPN(IS=1e-14)"))
    circuit = build(cards)
    (element,) = circuit.elements()
    tail = {key: value for key, value in circuit.tail(element).items() if isinstance(value, float)}
    model = circuit.model(element)
    assert model is not None
    found = from_model(card[0], model.type, circuit.model_parameters(element), tail)
    assert isinstance(found, Diode | Bipolar)
    assert pytest.approx(4e-14) == found.IS


def test_the_missing_file_is_named_where_nothing_is_left() -> None:
    with pytest.raises(NotANetlist, match=r"the included file `parts\.lib` is not there"):
        read_text(deck(".include parts.lib"))
    with pytest.raises(NotANetlist, match=r"resistor R1 has one node.*the included file `parts\.lib` is not there"):
        read_text(deck("R1 a", ".include parts.lib"))


TEXTS = {
    "a letter": "Dear colleague,\nthe boards arrived this morning.\nEach of them needs a new resistor.\nKind regards\n",
    "a list": "Things to buy\n\n- solder\n- Flux and tips\n- Wire, 0.5 mm\nAsk the shop for a quote\nDo it please\n",
    "a program": "import os\n\ndef main(path):\n    if not path:\n        return None\n    print(os.listdir(path))\n",
    "a table": "name,value,unit\nresistor,10,kohm\ncapacitor,1,uF\ndiode,,\nled,2,V\ncoil,10,mH\n",
    "settings": "[section]\nkey = 1\nuser = martha\nlevel = high\nexpires = never\nquiet = true\n",
}


@pytest.mark.parametrize("kind", TEXTS)
def test_prose_is_no_netlist(kind: str) -> None:
    with pytest.raises(NotANetlist, match="no card of a netlist in this file"):
        read_text(TEXTS[kind])


def test_a_path_of_many_characters_is_no_encryption() -> None:
    cards = read_text(deck("R1 a b 1", "fixtures/boards/of-somebody/with-a-long-name/board.cir:"))
    assert not cards.scopes[0].unreadable


def test_an_unknown_first_fault_is_still_named() -> None:
    assert notes(read_text(deck("R1 a b 1", "R2 a"))) == [
        "error 3 resistor R2 has one node; expected `Rname n1 n2 value`"
    ]


@pytest.mark.parametrize(
    ("card", "read"),
    [
        ("Q7 a k e c PART77", "U Q7 a k e c =PART77"),
        ("OK1 a k e c PART77", "U OK1 a k e c =PART77"),
        ("T1 p1 p2 s1 s2 PART77", "U T1 p1 p2 s1 s2 =PART77"),
        ("TR1 p1 p2 s1 s2 s3 s4 PART77", "U TR1 p1 p2 s1 s2 s3 s4 =PART77"),
        ("K1 c1 c2 com no PART77", "U K1 c1 c2 com no =PART77"),
        ("T1 a b c d Z0=50", "T T1 a b c d z0=50"),
        ("T1 a b c d LINE", "T T1 a b c d =LINE"),
        ("O1 a b c d LINE", "O O1 a b c d =LINE"),
        ("T1 a b c d 50", "T T1 a b c d =50"),
        ("K1 L1 L2 L3 kk", "K K1 <L1 L2 L3> {kk}"),
        ("K1 La Lb Lc 1", "K K1 <La Lb Lc> 1"),
    ],
)
def test_a_reference_that_begins_as_a_line_or_a_coupling_does_may_be_a_part(card: str, read: str) -> None:
    cards = read_text(deck(card, ".param kk=0.9", ".model LINE LTRA(len=1)"))
    assert elements(cards) == [read]
    assert not cards.notes

"""Subcircuits, models, parameters, conditions, control blocks: the dot cards that say something of the circuit."""

from __future__ import annotations

import pytest

from isolint.netlist import Expression
from tests.netlist.reading import deck, elements, notes, only_note, read_text


def test_a_subcircuit_has_ports_defaults_and_its_own_models() -> None:
    cards = read_text(
        deck(
            ".SUBCKT Demo_A a K c E PARAMS: ctr = 1 r={2*ctr}",
            "D1 a K LED",
            ".model LED D(IS=1f N = 2)",
            ".ENDS Demo_A",
            ".model LED D(IS=1p)",
            "X1 1 2 3 4 demo_a ctr=2",
        )
    )
    scope = cards.scopes[1]
    assert (scope.name, scope.parent, scope.ports) == ("Demo_A", 0, ("a", "K", "c", "E"))
    assert scope.defaults["ctr"] == 1.0
    assert isinstance(scope.defaults["r"], Expression)
    assert cards.find_subcircuit("DEMO_a", 0) == 1
    inner, outer = cards.find_model("led", 1), cards.find_model("led", 0)
    assert inner is not None
    assert outer is not None
    assert (inner.parameters["is"], outer.parameters["is"]) == (1e-15, 1e-12)
    assert not cards.notes


@pytest.mark.parametrize(
    ("header", "ports"),
    [
        (".subckt N 1 2 3 5", ("1", "2", "3", "5")),
        (".subckt N (a b)", ("a", "b")),
        (".subckt N(a b)", ("a", "b")),
        (".subckt N a,b", ("a", "b")),
        (".subckt N 0 GND NC NC", ("0", "GND", "NC", "NC")),
        (".subckt N a b x=1 y = 2", ("a", "b")),
        (".subckt N a b params:x=1", ("a", "b")),
        (".macro N a b", ("a", "b")),
        (".subckt N +IN -IN 5V Q[0] <3> a/b", ("+IN", "-IN", "5V", "Q[0]", "<3>", "a/b")),
        ('.subckt N a b PARAMS: x=1 TEXT: f="name"', ("a", "b")),
    ],
)
def test_headers_in_every_form_give_their_ports(header: str, ports: tuple[str, ...]) -> None:
    cards = read_text(deck(header, "R1 a b 1", ".ends"))
    assert cards.scopes[1].ports == ports
    assert not cards.notes


@pytest.mark.parametrize(
    "name", ["555", "1N0000", "AB-12", "A.1", "a/b", "A+B", "X#1", "a&b", "<a>", "74DEMO(2)", "x§y"]
)
def test_names_of_subcircuits_may_hold_special_characters(name: str) -> None:
    cards = read_text(deck(f".subckt {name} a b", "R1 a b 1", f".ends {name}", f"X1 p q {name}"))
    assert cards.scopes[1].name == name
    assert cards.find_subcircuit(cards.scopes[0].models[0] or "", 0) == 1
    assert not cards.notes


def test_optional_ports_stand_last_and_their_nodes_are_filled_in() -> None:
    cards = read_text(
        deck(".subckt N a b OPTIONAL: vp=$G_P vn=$G_N PARAMS: x=1", "R1 a vp 1", ".ends", "X1 1 2 N", "X2 1 2 3 4 N")
    )
    assert cards.scopes[1].ports == ("a", "b", "vp", "vn")
    assert cards.scopes[0].nodes == [("1", "2", "$G_P", "$G_N"), ("1", "2", "3", "4")]
    assert "$g_p" in cards.globals


def test_nested_definitions_are_seen_from_inside_only() -> None:
    cards = read_text(deck(".subckt A a b", ".subckt B c d", "R1 c d 1", ".ends B", "X1 a b B", ".ends A", "X1 p q A"))
    assert [scope.parent for scope in cards.scopes] == [-1, 0, 1]
    assert cards.find_subcircuit("b", 1) == 2
    assert cards.find_subcircuit("b", 0) is None


def test_the_second_of_two_definitions_is_dropped_with_all_inside_it() -> None:
    body = [".subckt A a b", ".subckt B c d", "R1 c d {v}", ".ends", "X1 a b B", ".ends"]
    text = deck(
        *[line.format(v=1) for line in body], *[line.format(v=2) for line in body], ".subckt C a b", "R1 a b 3", ".ends"
    )
    cards = read_text(text)
    assert [(scope.name, scope.parent) for scope in cards.scopes] == [("", -1), ("A", 0), ("B", 1), ("C", 0)]
    assert cards.scopes[0].subcircuits == {"a": 1, "c": 3}
    assert notes(cards) == ["note 8 there is a second subcircuit A (first at board.cir:2:1); the first one counts"]


def test_the_second_of_two_models_is_dropped() -> None:
    cards = read_text(deck(".model M D(IS=1)", ".model m NPN(BF=1)", "R1 a b 1"))
    assert notes(cards) == ["note 3 there is a second model m (first at board.cir:2:1); the first one counts"]
    assert cards.scopes[0].models_by_name["m"].type == "d"


ENDS = {
    (".ends wrong",): ["note 4 `.ends wrong` closes the subcircuit A"],
    (".endsA",): ["note 4 `.endsa` is read as `.ends`"],
    (".endss",): ["note 4 `.endss` is read as `.ends`"],
    (".eom",): [],
    (".ENDS A", ".ends"): ["note 5 `.ends` closes no subcircuit"],
    (".end A",): ["note 4 `.end A` is read as `.ends A`"],
}


@pytest.mark.parametrize("ends", ENDS)
def test_an_odd_end_of_a_subcircuit_is_noted_and_what_follows_is_outside(ends: tuple[str, ...]) -> None:
    cards = read_text(deck(".subckt A a b", "R1 a b 1", *ends, "R2 c d 2"))
    assert notes(cards) == ENDS[ends]
    assert elements(cards) == ["R R2 c d 2"]
    assert elements(cards, 1) == ["R R1 a b 1"]


def test_a_subcircuit_that_is_never_closed_is_noted_and_what_it_defines_is_found_outside() -> None:
    cards = read_text(deck("X1 a b B", ".subckt A a b", "R1 a b 1", ".subckt B a b", "R1 a b 1", ".ends B"))
    assert notes(cards) == ["note 3 the subcircuit A is never closed; all cards to the end of the file belong to it"]
    assert cards.find_subcircuit("B", 0) == 2


def test_an_inner_subcircuit_that_is_not_closed_ends_with_the_outer_one() -> None:
    cards = read_text(deck(".subckt A a b", ".subckt B a b", "R1 a b 1", ".ends A", "R2 a b 1"))
    assert notes(cards) == ["note 3 the subcircuit B is not closed before `.ends A`"]
    assert elements(cards) == ["R R2 a b 1"]


def test_a_subcircuit_without_a_name_does_not_spill_its_cards() -> None:
    cards = read_text(deck(".subckt", "R1 a b 1", ".ends", "R2 a b 1"))
    assert elements(cards) == ["R R2 a b 1"]
    assert only_note(cards).level == "error"


@pytest.mark.parametrize(
    ("typed", "meant"), [("subkct", "subckt"), ("subckts", "subckt"), ("modle", "model"), ("parma", "param")]
)
def test_a_misspelt_word_of_structure_is_read_as_the_nearest(typed: str, meant: str) -> None:
    rest = {"subckt": "A a b", "model": "M D(IS=1)", "param": "x=1"}[meant]
    cards = read_text(deck(f".{typed} {rest}", "R1 a b 1"))
    assert notes(cards)[0] == f"note 2 `.{typed}` is read as `.{meant}`"


def test_an_unknown_dot_card_is_noted_and_counted() -> None:
    cards = read_text(deck(".frobnicate a c v(b)", "R1 a b 1"))
    assert notes(cards) == ["note 2 the card `.frobnicate` is not known and was skipped"]
    assert cards.notes[0].strict
    assert cards.reasons == {"unknown dot card": 1}


MODELS = {
    "M NPN(IS=1e-14 BF=100)": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN (IS=1e-14 BF=100)": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN IS=1e-14 BF=100": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN(IS=1e-14, BF=100)": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN\n+ (\n+IS=1e-14\n+BF = 100)": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN(IS=1e-14 BF=100": ("npn", {"is": 1e-14, "bf": 100.0}),
    "M NPN(BF=100 DEV=5% LOT 10%)": ("npn", {"bf": 100.0}),
    "1N-0.1/x D": ("d", {}),
    "M NMOS.1 D": None,
    "M VDMOS(Rg=3 Vto=2 pchan mfg=Some Q=1n)": ("vdmos", {"rg": 3.0, "vto": 2.0, "pchan": 1.0, "q": 1e-9}),
    "M ugate (tplhty=5ns)": ("ugate", {"tplhty": 5e-9}),
    "M d_and(rise_delay=1n)": ("d_and", {"rise_delay": 1e-9}),
    "M pwl(x_array=[0 1 2] y_array=[0 1 4] gain=2)": ("pwl", {"gain": 2.0}),
    "M SW(Ron=1 Roff=1Meg Vt=.5 Vh=-.4)": ("sw", {"ron": 1.0, "roff": 1e6, "vt": 0.5, "vh": -0.4}),
}


@pytest.mark.parametrize("card", [card for card in MODELS if MODELS[card]])
def test_models_in_every_form_give_type_and_parameters(card: str) -> None:
    cards = read_text(deck(f".model {card}", "R1 a b 1"))
    wanted = MODELS[card]
    assert wanted is not None
    (model,) = cards.scopes[0].models_by_name.values()
    assert (model.type, dict(model.parameters)) == wanted
    assert not cards.notes


def test_a_model_parameter_may_be_an_expression_or_unreadable() -> None:
    cards = read_text(deck(".model M NPN(BF={2*b} IS=1..5 NF=(1+1))", "R1 a b 1", ".param b=1"))
    model = cards.find_model("m", 0)
    assert model is not None
    assert isinstance(model.parameters["bf"], Expression)
    assert model.parameters["nf"] == 2.0
    assert notes(cards) == ["warning 2 model M: the value of IS can't be read and is left out"]


def test_a_copied_model_has_what_it_does_not_state_from_its_base() -> None:
    cards = read_text(deck(".model A AKO:B NPN(BF=3)", ".model C AKO: A", ".model B NPN(BF=2 IS=1f)", "R1 a b 1"))
    found = cards.find_model("c", 0)
    assert found is not None
    assert (found.type, dict(found.parameters)) == ("npn", {"bf": 3.0, "is": 1e-15})
    loop = read_text(deck(".model A AKO:B", ".model B AKO:A", ".model C AKO:none D", "R1 a b 1"))
    assert {note.level for note in loop.notes} == {"warning"}


PARAMETERS = {
    "x=1": {"x": 1.0},
    "x = 1k y= 2 z =3": {"x": 1000.0, "y": 2.0, "z": 3.0},
    "x={2*3}": {"x": 6.0},
    "x='2*3'": {"x": 6.0},
    'x="2*3"': {"x": 6.0},
    "x=2*3 y=4": {"x": 6.0, "y": 4.0},
    "x = 2 * 3": {"x": 6.0},
    "x=max(1, 2) y=2": {"x": 2.0, "y": 2.0},
    "x=1, y=2": {"x": 1.0, "y": 2.0},
    "x=1>0 ? 5 : 6": {"x": 5.0},
    "X_Y=1": {"x_y": 1.0},
    "": {},
}


@pytest.mark.parametrize("word", [".param", ".PARAMS", ".csparam", ".global_param"])
@pytest.mark.parametrize("card", PARAMETERS)
def test_parameters_in_all_delimiters(word: str, card: str) -> None:
    cards = read_text(deck(f"{word} {card}", "R1 a b 1"))
    assert cards.scopes[0].parameters == PARAMETERS[card]
    assert not cards.notes


def test_functions_by_their_own_card_or_among_parameters() -> None:
    cards = read_text(deck(".func f(x, Y) {x*y}", ".func g(x) = x+1", ".param h(x)='x-1' z={f(2,3)}", "R1 a b {h(5)}"))
    functions = cards.scopes[0].functions
    assert functions["f"].arguments == ("x", "y")
    assert {name: function.body.text for name, function in functions.items()} == {"f": "x*y", "g": "x+1", "h": "x-1"}
    value = cards.scopes[0].values[0]
    assert isinstance(value, Expression)
    assert value.evaluate({}, functions) == 4.0


def test_globals_and_temperature_are_kept() -> None:
    cards = read_text(deck(".global VDD vss!", ".temp 50", ".options temp=10 reltol=1", "R1 a b 1"))
    assert cards.globals >= {"0", "gnd", "gnd!", "vdd", "vss!"}
    assert cards.temperature == 50.0


def test_a_port_named_0_or_gnd_stays_a_port() -> None:
    cards = read_text(deck(".subckt A 0 GND", "R1 0 GND 1", ".ends"))
    assert cards.scopes[1].ports == ("0", "GND")


def test_conditions_choose_their_branch() -> None:
    lines = [".if (x==1)", "R1 a b 1", ".elseif (x==2)", "R2 a b 2", ".else", "R3 a b 3", ".endif", "R4 a b 4"]
    for value, name in (("1", "R1"), ("2", "R2"), ("3", "R3")):
        cards = read_text(deck(f".param x={value}", *lines))
        assert cards.scopes[0].names == [name, "R4"]
        assert not cards.notes


def test_conditions_nest() -> None:
    lines = [
        ".if (0)",
        ".if (1)",
        "R1 a b 1",
        ".else",
        "R2 a b 1",
        ".endif",
        ".else",
        ".if (1)",
        "R3 a b 1",
        ".endif",
        ".endif",
    ]
    assert read_text(deck(*lines)).scopes[0].names == ["R3"]


def test_a_condition_that_can_not_be_decided_takes_no_branch_and_says_so() -> None:
    cards = read_text(deck(".if (x==1)", "R1 a b 1", ".else", "R2 a b 1", ".endif", "R3 a b 1"))
    assert cards.scopes[0].names == ["R3"]
    note = only_note(cards)
    assert note.level == "error"
    assert "can't be decided, so none of its branches was read" in note.message
    assert cards.reasons == {"undecided .if": 2}


def test_a_condition_on_an_instance_parameter_is_decided_by_the_default_and_says_so() -> None:
    cards = read_text(deck(".subckt A a b x=1", ".if (x==1)", "R1 a b 1", ".endif", ".ends"))
    assert cards.scopes[1].names == ["R1"]
    assert "default values" in only_note(cards).message


@pytest.mark.parametrize("lines", [(".endif",), (".else",), (".if (1)", "R2 a b 1")])
def test_conditions_out_of_place_are_noted(lines: tuple[str, ...]) -> None:
    assert len(read_text(deck("R1 a b 1", *lines)).notes) == 1


CONTROL = [".control", "let x = 1", "plot v(/o,/r)", "R9 a b 1", "R1 = 3", "+ 4"]


def test_control_blocks_are_skipped() -> None:
    cards = read_text(deck("R1 a b 1", *CONTROL, ".endc", "R2 a b 2"))
    assert elements(cards) == ["R R1 a b 1", "R R2 a b 2"]
    assert not cards.notes


def test_a_control_block_that_is_never_closed_is_skipped_to_the_end_and_says_what_is_lost() -> None:
    cards = read_text(deck("R1 a b 1", *CONTROL))
    assert elements(cards) == ["R R1 a b 1"]
    assert notes(cards) == [
        "error 6 `R9 a b 1` was skipped in the unclosed `.control`, but names the nets a, b: what it does is lost"
    ]


def test_a_control_block_ends_at_a_card_of_structure() -> None:
    cards = read_text(deck("R1 a b 1", *CONTROL, ".subckt A a b", "R3 a b 1", ".ends", ".end"))
    assert elements(cards, 1) == ["R R3 a b 1"]
    assert notes(cards) == [
        "error 6 `R9 a b 1` was skipped in the unclosed `.control`, but names the nets a, b: what it does is lost"
    ]


def test_commands_of_an_unclosed_control_block_are_a_note() -> None:
    cards = read_text(
        deck("R1 a b 1", ".control", "run", "plot v(a) v(b)", ".subckt A a b", "R3 a b 1", ".ends", ".end")
    )
    assert notes(cards) == ["note 6 the control block is not closed before `.subckt`"]


def test_blocks_of_data_are_skipped() -> None:
    cards = read_text(
        deck(".data D1 a b", "+ 1 2", "3 4", ".enddata", ".aliases", "_ R1(1=a)", ".endaliases", "R1 a b 1")
    )
    assert elements(cards) == ["R R1 a b 1"]
    assert not cards.notes


def test_analysis_cards_count_as_understood() -> None:
    cards = read_text(
        deck("R1 a b 1", ".tran 1n 1u", ".ac dec 10 1 1g", ".print v(a)", ".ic v(a)=1", ".backanno", ".END")
    )
    assert (cards.understood, cards.total) == (7, 7)
    assert cards.reasons == {}

from __future__ import annotations

import pytest

from tests.circuit.building import circuit_of, value


def test_each_instance_has_its_own_parameters() -> None:
    circuit = circuit_of(
        "X1 a b s", "X2 a b s RX=5k", "X3 a b s PARAMS: rx={2*base}", ".param base=3k",
        ".subckt s p q RX=1k", "R1 p q {RX}", "R2 p q '2*RX'", ".ends",
    )  # fmt: skip
    assert [value(circuit, f"X{n}.R1") for n in (1, 2, 3)] == [1e3, 5e3, 6e3]
    assert [value(circuit, f"X{n}.R2") for n in (1, 2, 3)] == [2e3, 10e3, 12e3]


def test_a_default_that_uses_another_follows_what_the_call_gives() -> None:
    circuit = circuit_of("X1 a b s", "X2 a b s r1=5k", ".subckt s p q r2={2*r1} r1=1k", "R1 p q {r2}", ".ends")
    assert [value(circuit, f"X{n}.R1") for n in (1, 2)] == [2e3, 10e3]


def test_a_parameter_that_only_the_call_names_is_known_inside() -> None:
    circuit = circuit_of("X1 a b s Igain=3.4m", ".subckt s p q", "R1 p q {1/Igain}", ".ends")
    assert value(circuit, "X1.R1") == pytest.approx(1 / 3.4e-3)


def test_a_parameter_counts_on_its_level_and_below() -> None:
    circuit = circuit_of(
        ".param r=1k", "R1 a b {r}", "X1 a b s", "X2 a b t", ".subckt s p q", ".param r=2k", "R1 p q {r}", "X1 p q t",
        ".ends", ".subckt t p q", "R1 p q {r}", ".ends",
    )  # fmt: skip
    assert [value(circuit, path) for path in ("R1", "X1.R1", "X1.X1.R1", "X2.R1")] == [1e3, 2e3, 2e3, 1e3]


def test_parameters_of_the_innermost_level_around_a_nested_definition_win() -> None:
    circuit = circuit_of(
        ".param r=1", "X1 a b s", ".subckt s p q", ".param r=2", "X1 p q t", ".subckt t p q", ".param r=3", "X1 p q u",
        ".subckt u p q", "R1 p q {r}", ".ends", ".ends", ".ends",
    )  # fmt: skip
    assert value(circuit, "X1.X1.X1.R1") == 3.0


def test_what_a_call_gives_is_worked_out_where_the_call_stands() -> None:
    circuit = circuit_of(".param r=7", "X1 a b s r=1", ".subckt s p q r=2", "X1 p q t r={10*r}", ".ends",
                         ".subckt t p q r=3", "R1 p q {r}", ".ends")  # fmt: skip
    assert value(circuit, "X1.X1.R1") == 10.0


def test_a_parameter_without_a_value_costs_only_what_uses_it() -> None:
    circuit = circuit_of(
        ".param good=1k bad={nowhere+1} worse={bad*2}", "R1 a b {good}", "R2 a b {bad}", "R3 a b {worse}", "R4 a b 5",
    )  # fmt: skip
    assert [value(circuit, f"R{n}") for n in (1, 2, 3, 4)] == [1e3, None, None, 5.0]
    assert circuit.value_text(circuit.find("R2") or -1) == "bad"


def test_a_parameter_without_a_value_hides_the_one_above() -> None:
    circuit = circuit_of(".param r=1k", "X1 a b s r={nowhere}", "X2 a b s", ".subckt s p q r=2k", "R1 p q {r}", ".ends")
    assert [value(circuit, f"X{n}.R1") for n in (1, 2)] == [None, 2e3]


def test_a_function_is_known_on_its_level_and_in_nested_definitions() -> None:
    circuit = circuit_of(
        ".func par(x,y) {x*y/(x+y)}", "R1 a b {par(2k,2k)}", "X1 a b s", ".subckt s p q", ".func twice(x) {2*x}",
        "X1 p q t", ".subckt t p q", "R1 p q {twice(par(1k,1k))}", ".ends", ".ends",
    )  # fmt: skip
    assert [value(circuit, path) for path in ("R1", "X1.X1.R1")] == [1e3, 1e3]


def test_a_model_is_seen_from_where_the_element_stands() -> None:
    circuit = circuit_of(
        "D1 a b DX", "X1 a b s", "X2 a b t", ".model dx D(IS=1p)", ".subckt s p q", "D1 p q DX", "X1 p q t",
        ".model DX D(IS=2p)", ".subckt n p q", "D1 p q dx", ".ends", "X2 p q n", ".ends",
        ".subckt t p q", "D1 p q DX", ".ends",
    )  # fmt: skip
    paths = ("D1", "X1.D1", "X1.X1.D1", "X1.X2.D1", "X2.D1")
    found = [circuit.model_parameters(circuit.find(path) or 0)["is"] for path in paths]
    assert found == [1e-12, 2e-12, 1e-12, 2e-12, 1e-12]


def test_a_model_uses_the_parameters_of_its_own_level() -> None:
    circuit = circuit_of(
        ".param k=1p", ".model DX D(IS={k})", "X1 a b s k=5p", ".subckt s p q k=2p", "D1 p q DX", "D2 p q DY",
        ".model DY D(IS={k} N={nowhere})", ".ends",
    )  # fmt: skip
    assert circuit.model_parameters(circuit.find("X1.D1") or 0) == {"is": 1e-12}
    assert circuit.model_parameters(circuit.find("X1.D2") or 0) == {"is": 5e-12}


def test_an_element_without_a_model_card_has_no_model() -> None:
    circuit = circuit_of("D1 a b NOWHERE", "R1 a b 1")
    assert circuit.model(circuit.find("D1") or 0) is None
    assert circuit.model_parameters(circuit.find("R1") or 0) == {}


def test_a_source_gives_its_dc_value_and_how_it_moves() -> None:
    circuit = circuit_of(
        ".param v=5", "V1 a 0 {v}", "V2 b 0 PULSE(0 {v} 0 1n)", "V3 c 0 DC 2 SIN(0 {nowhere} 1k)", "V4 d 0 {nowhere}",
        "V5 e 0 AC 1", "V6 f 0",
    )  # fmt: skip

    def moving(name: str) -> object:
        return circuit.stimulus(circuit.find(name) or 0)

    assert [value(circuit, name) for name in ("V1", "V3", "V4")] == [5.0, 2.0, None]
    assert moving("V1") is None
    assert moving("V2") == ("PULSE", (0.0, 5.0, 0.0, 1e-9))
    # One number missing would move all behind it to another place.
    assert moving("V3") == ("SIN", ())
    assert moving("V5") is None
    assert circuit.value_text(circuit.find("V4") or 0) == "nowhere"
    assert (
        circuit.value_problem(circuit.find("V4") or 0)
        == "`nowhere` has no value: the parameter nowhere has no value here"
    )
    assert circuit.value_problem(circuit.find("V6") or 0) == ""


def test_tail_parameters_are_worked_out_in_their_instance() -> None:
    circuit = circuit_of("X1 a b s r=4", ".subckt s p q r=1", "L1 p q 1m Rser={r} tag=odd", ".ends")
    assert circuit.tail(circuit.find("X1.L1") or 0)["rser"] == 4.0


def test_ten_thousand_instances_with_expressions_stay_quick() -> None:
    lines = [f"X{n} a b s r={n}" for n in range(10_000)]
    circuit = circuit_of(*lines, ".subckt s p q r=1", "R1 p q {2*r}", ".ends")
    assert sum(circuit.value(element) or 0.0 for element in circuit.elements()) == 9_999 * 10_000


def test_elements_in_parallel_by_m_have_the_value_of_all_of_them() -> None:
    circuit = circuit_of(
        ".param n=3", "R1 a b 1.5Meg m=2", "R2 a b 30k M={n}", "C1 a b 1n m=2", "L1 a b 3m m=3", "R3 a b 1k m=0",
        "R4 a b 1k tc1=1", "X1 a b s m=2", ".subckt s p q m=1", "R1 p q 1k m={m}", ".ends",
    )  # fmt: skip
    names = ("R1", "R2", "C1", "L1", "R3", "R4", "X1.R1")
    assert [value(circuit, name) for name in names] == pytest.approx([750e3, 10e3, 2e-9, 1e-3, 1e3, 1e3, 500.0])

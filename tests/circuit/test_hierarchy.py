from __future__ import annotations

import time

from hypothesis import given, settings
from hypothesis import strategies as st

from isolint.circuit import Circuit, build
from isolint.circuit.circuit_dump import dump
from isolint.netlist import read
from isolint.source import MemoryTree
from tests.circuit.building import at, circuit_of, pins

TWO_LEVELS = (
    "X1 in out outer",
    "R9 out 0 1k",
    ".subckt outer a b",
    "Xa a m inner",
    "Xb m b inner",
    ".ends",
    ".subckt inner p q",
    "R1 p n 1k",
    "R2 n q 1k",
    "C1 n 0 1n",
    ".ends",
)


def test_a_circuit_as_text_names_every_net_at_the_highest_level_it_reaches() -> None:
    assert dump(circuit_of(*TWO_LEVELS)).splitlines() == [
        "(sheet X1 in out =outer @board.cir:2)",
        "(sheet X1.Xa in X1.m =inner @board.cir:5)",
        "(sheet X1.Xb X1.m out =inner @board.cir:6)",
        "(R R9 out 0 1000 @board.cir:3)",
        "(R X1.Xa.R1 in X1.Xa.n 1000 @board.cir:9)",
        "(R X1.Xa.R2 X1.Xa.n X1.m 1000 @board.cir:10)",
        "(C X1.Xa.C1 X1.Xa.n 0 1e-09 @board.cir:11)",
        "(R X1.Xb.R1 X1.m X1.Xb.n 1000 @board.cir:9)",
        "(R X1.Xb.R2 X1.Xb.n out 1000 @board.cir:10)",
        "(C X1.Xb.C1 X1.Xb.n 0 1e-09 @board.cir:11)",
        "10 elements, 6 nets",
    ]


def test_a_net_knows_all_that_touches_it_on_every_level() -> None:
    circuit = circuit_of(*TWO_LEVELS)
    assert at(circuit, "out") == ["R9:1", "X1.Xb.R2:2"]
    assert at(circuit, "X1.m") == ["X1.Xa.R2:2", "X1.Xb.R1:1"]
    assert at(circuit, "0") == ["R9:2", "X1.Xa.C1:2", "X1.Xb.C1:2"]
    assert at(circuit, "X1.Xb.n") == ["X1.Xb.R1:2", "X1.Xb.R2:1", "X1.Xb.C1:1"]


def test_pins_and_nets_are_two_views_of_the_same() -> None:
    circuit = circuit_of(*TWO_LEVELS)
    from_pins = {(e, pin, net) for e in circuit.elements() for pin, net in enumerate(circuit.pins(e))}
    from_nets = {(e, pin, net) for net in circuit.nets() for e, pin in circuit.elements_at(net)}
    assert from_pins == from_nets


def test_a_net_is_found_by_its_path_on_any_level_and_in_any_case() -> None:
    circuit = circuit_of(*TWO_LEVELS)
    names = ("x1.XA.p", "IN", "X1.a")
    assert {circuit.find_net(name) for name in names} == {circuit.find_net("in")}
    assert circuit.find_net("X1.Xa.q") == circuit.find_net("X1.M")
    assert circuit.find_net("X1.Xa.0") == circuit.find_net("0")
    assert circuit.find_net("X1.nowhere") is None
    assert circuit.find_net("nowhere.m") is None


def test_an_element_is_found_by_its_path_in_any_case_and_an_expanded_call_too() -> None:
    circuit = circuit_of(*TWO_LEVELS)
    for element in (*circuit.elements(), *circuit.sheets()):
        assert circuit.find(circuit.path(element).upper()) == element
        assert circuit.find(circuit.path(element).lower()) == element
    assert circuit.find("X1.R1") is None
    assert circuit.find("X1.Xa.R1.n") is None
    assert circuit.find("") is None


def test_names_with_dots_are_found_beside_paths() -> None:
    circuit = circuit_of(
        "R.1 a b 1k",
        "X1.R9 a b 2k",
        "X1 a b s",
        "R3 X1.m +3.3V 1k",
        ".subckt s p q",
        "R.2 p n.1 1k",
        "R1 n.1 q 1",
        ".ends",
    )
    assert circuit.find("R.1") is not None
    assert pins(circuit, "x1.r.2") == ("a", "X1.n.1")
    assert circuit.find_net("X1.N.1") is not None
    assert circuit.find_net("x1.m") is not None
    assert circuit.net_name(circuit.find_net("+3.3v") or 0) == "+3.3V"


def test_ground_as_a_port_is_no_global_inside() -> None:
    circuit = circuit_of(
        "X1 a isolated s", "X2 b gnd s", "R1 a 0 1k", ".subckt s in 0", "R1 in 0 1k", "X1 in 0 t", ".ends",
        ".subckt t in GND", "R2 in GND 1k", "R3 in 0 1k", ".ends",
    )  # fmt: skip
    assert pins(circuit, "X1.R1") == ("a", "isolated")
    assert pins(circuit, "X1.X1.R2") == ("a", "isolated")
    assert pins(circuit, "X2.R1") == ("b", "gnd")
    # The port called 0 hides node 0 in its own body only.
    assert pins(circuit, "X1.X1.R3") == ("a", "0")
    assert at(circuit, "0") == ["R1:2", "X1.X1.R3:2", "X2.X1.R3:2"]
    assert at(circuit, "isolated") == ["X1.R1:2", "X1.X1.R2:2"]


def test_globals_are_one_net_on_every_level_and_stated_ones_too() -> None:
    circuit = circuit_of(
        ".global vdd", "X1 a s", ".subckt s in", "R1 in VDD 1k", "R2 in gnd! 1k", "R3 in vss 1k", "X1 in t", ".ends",
        ".subckt t in", "R1 in vdd 1k", ".ends",
    )  # fmt: skip
    assert at(circuit, "vdd") == ["X1.R1:2", "X1.X1.R1:2"]
    assert pins(circuit, "X1.R2") == ("a", "gnd!")
    assert pins(circuit, "X1.R3") == ("a", "X1.vss")
    assert circuit.find_net("X1.X1.VDD") == circuit.find_net("vdd")


def test_a_global_net_that_only_inner_instances_touch_is_spelt_as_they_write_it() -> None:
    circuit = circuit_of(".global GNDB", "X1 a s", ".subckt s in", "R1 in GndB 1k", ".ends")
    assert pins(circuit, "X1.R1") == ("a", "GndB")


def test_a_library_that_nobody_calls_adds_no_global_net() -> None:
    circuit = circuit_of("R1 a 0 1k", "X1 a 0 s", ".subckt s p q", "R1 p GND 1k", ".ends", leaves=("s",))
    assert [circuit.net_name(net) for net in circuit.nets()] == ["a", "0"]


def test_only_the_name_0_is_node_0() -> None:
    circuit = circuit_of("R1 0 GND 1", "R2 00 gnd! 1", "R3 com 0 1")
    zero = [circuit.net_name(net) for net in circuit.nets() if circuit.is_node_0(net)]
    assert zero == ["0"]
    assert circuit.find_net("GND") != circuit.find_net("gnd!")


def test_a_netlist_without_node_0_has_none() -> None:
    circuit = circuit_of("R1 a GND 1k")
    assert not any(circuit.is_node_0(net) for net in circuit.nets())


def test_a_port_name_used_twice_makes_two_ports() -> None:
    circuit = circuit_of("X1 a b c d s", ".subckt s in NC NC out", "R1 in NC 1k", "R2 out in 1k", ".ends")
    assert pins(circuit, "X1.R1") == ("a", "b")
    assert pins(circuit, "X1.R2") == ("d", "a")
    assert at(circuit, "c") == []


def test_a_call_with_the_wrong_number_of_nodes_stays_a_part_and_is_noted_once() -> None:
    circuit = circuit_of(
        "X1 a b c s", "X2 d t", "X3 e t", ".subckt s p q", "R1 p q 1k", ".ends", ".subckt t p", "X9 p s", ".ends"
    )
    assert [note.message for note in circuit.notes] == [
        "X1 gives 3 nodes, subcircuit s has 2 ports",
        "X2.X9 gives 1 nodes, subcircuit s has 2 ports",
    ]
    assert circuit.notes[0].place.line == 2
    assert circuit.notes[0].remedy
    assert [circuit.path(element) for element in circuit.elements()] == ["X1", "X2.X9", "X3.X9"]


def test_a_subcircuit_inside_itself_is_noted_and_the_rest_stands() -> None:
    circuit = circuit_of("X1 a b s", "X2 c d s", ".subckt s p q", "R1 p q 1k", "X9 p q u", ".ends",
                         ".subckt u p q", "R2 p q 1k", "X8 p q s", ".ends")  # fmt: skip
    assert [note.message for note in circuit.notes] == ["X1.X9.X8: subcircuit s calls itself"]
    assert at(circuit, "a") == ["X1.R1:1", "X1.X9.R2:1", "X1.X9.X8:1"]
    assert at(circuit, "c") == ["X2.R1:1", "X2.X9.R2:1", "X2.X9.X8:1"]


def test_a_missing_subcircuit_stays_a_part_without_a_note() -> None:
    circuit = circuit_of("X1 a b DEMO_NOWHERE")
    assert circuit.notes == ()
    assert [circuit.path(element) for element in circuit.elements()] == ["X1"]


def test_a_nested_subcircuit_is_meant_before_an_outer_one_of_its_name() -> None:
    circuit = circuit_of(
        "X1 a b s", "X2 a b part", ".subckt part p q", "R1 p q 1", ".ends",
        ".subckt s p q", "X1 p q part", ".subckt part p q", "R1 p q 2", ".ends", ".ends",
    )  # fmt: skip
    assert circuit.value(circuit.find("X1.X1.R1") or -1) == 2.0
    assert circuit.value(circuit.find("X2.R1") or -1) == 1.0


def test_more_than_64_levels_are_noted() -> None:
    lines = ["X1 a b s0"]
    for level in range(80):
        lines += [f".subckt s{level} p q", f"X1 p q s{level + 1}", ".ends"]
    circuit = circuit_of(*lines, ".subckt s80 p q", "R1 p q 1", ".ends")
    (note,) = circuit.notes
    assert "more than 64 levels" in note.message


def test_ten_levels_of_ten_stop_within_five_seconds_with_a_note() -> None:
    lines = ["X1 a b s0"]
    for level in range(10):
        lines += [f".subckt s{level} p q", *(f"X{n} p q s{level + 1}" for n in range(10)), ".ends"]
    start = time.process_time()
    circuit = circuit_of(*lines, ".subckt s10 p q", "R1 p q 1", ".ends")
    assert time.process_time() - start < 5.0
    (note,) = circuit.notes
    assert "more than 20,000 instances" in note.message
    assert circuit.find("X1.X0.X9") is not None


def test_building_takes_linear_time() -> None:
    def seconds(count: int) -> float:
        text = "title\n" + "".join(f"R{i} n{i} n{i // 2} 1k\n" for i in range(count))
        cards = read(MemoryTree({"board.cir": text}), "board.cir")
        start = time.process_time()
        circuit = build(cards)
        assert sum(len(circuit.elements_at(net)) for net in circuit.nets()) == 2 * count
        return time.process_time() - start

    # Ten times the cards: ten times the time where it is linear, a hundred times where it is quadratic.
    assert min(seconds(50_000) for _ in range(2)) < 50 * min(seconds(5_000) for _ in range(3))


# -- invariants -----------------------------------------------------------------------------------------------

Cells = list[list[tuple[int, int, int]]]


@st.composite
def hierarchies(draw: st.DrawFn) -> Cells:
    """Two to four definitions of two-terminal cells over five nets; -1 a resistor, else a call of a later definition.

    Net 0 is node 0, nets 1 and 2 are the ports.
    """
    depth = draw(st.integers(1, 3))
    made = []
    for level in range(depth + 1):
        kind = st.integers(-1, depth) if level < depth else st.just(-1)
        cell = st.tuples(kind, st.integers(0, 4), st.integers(0, 4))
        cells = draw(st.lists(cell, min_size=1, max_size=4))
        made.append([(k if k > level else -1, a, b) for k, a, b in cells])
    return made


def written(made: Cells, names: list[str], order: list[int] | None = None) -> list[str]:
    """The cards of a hierarchy; `names` are those of the five nets, `order` moves the definitions."""
    blocks = []
    for level, cells in enumerate(made):
        lines = [] if level == 0 else [f".subckt s{level} {names[1]} {names[2]}"]
        for number, (kind, a, b) in enumerate(cells):
            call = f"X{number} {names[a]} {names[b]} s{kind}"
            lines.append(f"R{number} {names[a]} {names[b]} {number + 1}" if kind < 0 else call)
        blocks.append(lines if level == 0 else [*lines, ".ends"])
    return [line for index in order or range(len(blocks)) for line in blocks[index]]


def flattened(made: Cells, level: int, path: str, nets: tuple[str, ...]) -> list[tuple[str, str, str]]:
    """(path, net, net) of every resistor, written from the definition of a subcircuit call."""
    found: list[tuple[str, str, str]] = []
    for number, (kind, a, b) in enumerate(made[level]):
        if kind < 0:
            found.append((f"{path}R{number}", nets[a], nets[b]))
        else:
            inner = f"{path}X{number}."
            found += flattened(made, kind, inner, ("0", nets[a], nets[b], f"{inner}c", f"{inner}d"))
    return found


def picture(circuit: Circuit) -> set[tuple[str, str, str]]:
    """(path, net, net) of every element."""
    found = set()
    for element in circuit.elements():
        one, other = map(circuit.net_name, circuit.pins(element))
        found.add((circuit.path(element), one, other))
    return found


@settings(max_examples=60, deadline=None)
@given(hierarchies())
def test_a_hierarchy_is_its_flattened_circuit(made: Cells) -> None:
    flat = flattened(made, 0, "", ("0", "a", "b", "c", "d"))
    circuit = circuit_of(*written(made, ["0", "a", "b", "c", "d"]))
    assert picture(circuit) == set(flat)
    touched: dict[str, set[str]] = {}
    for path, one, other in flat:
        touched.setdefault(one, set()).add(f"{path}:1")
        touched.setdefault(other, set()).add(f"{path}:2")
    assert {net: set(at(circuit, net)) for net in touched} == touched


@settings(max_examples=40, deadline=None)
@given(hierarchies(), st.randoms(use_true_random=False))
def test_renaming_nets_and_moving_definitions_changes_only_names(made: Cells, random: object) -> None:
    names = ["0", "net#7", "+5V", "Q[0]", "/x/o"]
    order = list(range(len(made)))
    random.shuffle(order)  # type: ignore[attr-defined]
    renamed = circuit_of(*written(made, names, order))
    plain = circuit_of(*written(made, ["0", "a", "b", "c", "d"]))
    back = dict(zip(names, ("0", "a", "b", "c", "d"), strict=True))

    def original(net: str) -> str:
        path, dot, last = net.rpartition(".")
        return f"{path}{dot}{back[last]}"

    assert {(path, original(one), original(other)) for path, one, other in picture(renamed)} == picture(plain)

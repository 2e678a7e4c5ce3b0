"""Hypothesis strategies that all tests share: names, values, cards, netlists and what is nearly one."""

from __future__ import annotations

from hypothesis import strategies as st

letters = st.sampled_from("RCLKVIDQJMEFGHBSWXTOUAYPNZ")
"""The letters that SPICE gives a meaning."""

element_suffixes = st.from_regex(r"[0-9][A-Za-z0-9_]{0,3}", fullmatch=True)

nodes = st.one_of(
    st.sampled_from(
        ["0", "gnd", "GND", "12V", "+5V", "-VEE", "-", "/o", "net#1", "Q[0]", "$N_0001", "gnd!", "<3>", "a.b:c"]
    ),
    st.from_regex(r"[A-Za-z][A-Za-z0-9_]{0,5}", fullmatch=True),
)
"""Names of nets as schematic tools write them."""

numbers = st.one_of(
    st.sampled_from(
        ["10k", "4k7", "1M", "1meg", "10µ", "1.E-3", "1D-3", ".5", "5.", "5Vdc", "0p5", "3R3", "1F", "1e999"]
    ),
    st.floats(min_value=-1e12, max_value=1e12, allow_nan=False).map(lambda value: f"{value:.6g}"),
    st.tuples(st.integers(0, 999), st.sampled_from(["", "k", "m", "u", "n", "p", "meg", "M", "F", "ohm"])).map(
        lambda pair: f"{pair[0]}{pair[1]}"
    ),
)
"""Numbers, also odd ones."""

models = st.one_of(
    st.sampled_from(["DMOD", "NPN1", "1N0000", "2", "off", "PARAMS:", "SW.1", "ON", "x/y"]),
    st.from_regex(r"[A-Z][A-Z0-9_]{1,6}", fullmatch=True),
)

expressions = st.sampled_from(["{x}", "{2*x+1}", "'x'", '"x"', "{v(a)}", "{", "{1+}", "(1,2)", "v(a,b)", "x", "{x*3}"])

tails = st.tuples(
    st.sampled_from(["w", "L", "m", "tc1", "Rser", "ic", "R", "x.y"]), st.one_of(numbers, expressions)
).flatmap(lambda pair: st.sampled_from([f"{pair[0]}={pair[1]}", f"{pair[0]} = {pair[1]}"]))

_words = st.one_of(
    nodes, numbers, models, expressions, tails, st.sampled_from(["DC", "AC", "(", ")", ",", "/", "*", ";", "="])
)


def _element(letter: str) -> st.SearchStrategy[str]:
    name = element_suffixes.map(lambda suffix: letter + suffix)
    plain = st.one_of(nodes, numbers, models)
    rest = st.lists(st.one_of(plain, plain, plain, tails), min_size=0, max_size=8)
    return st.tuples(name, rest).map(lambda pair: " ".join((pair[0], *pair[1])))


element_cards = letters.flatmap(_element)
"""Cards that mostly look like elements; many are good, some are not."""

wild_cards = st.tuples(letters, element_suffixes, st.lists(_words, max_size=10)).map(
    lambda parts: " ".join((parts[0] + parts[1], *parts[2]))
)
"""Cards of the same words in any order and with delimiters that don't match."""

dot_cards = st.one_of(
    st.sampled_from(
        [
            ".subckt A a b",
            ".subckt B 1 2 params: x=1",
            ".subckt",
            ".ends",
            ".ends A",
            ".endsA",
            ".model DMOD D(IS=1f",
            ".model NPN1 AKO:NPN1",
            ".model",
            ".param x=2 y={x*2}",
            ".param x={y} y={x}",
            ".func f(a) {f(a)}",
            ".if (x>1)",
            ".elseif (y)",
            ".else",
            ".endif",
            ".include board.cir",
            ".include ../x",
            ".lib board.cir tt",
            ".lib tt",
            ".endl",
            ".control",
            ".endc",
            ".end",
            ".global a",
            ".temp 27",
            ".tran 1n",
            ".frob",
            ".",
        ]
    ),
    st.lists(_words, max_size=6).map(lambda words: ".param " + " ".join(words)),
    st.lists(_words, max_size=6).map(lambda words: ".model M D(" + " ".join(words)),
    st.lists(_words, max_size=6).map(lambda words: ".subckt S " + " ".join(words)),
)

comments = st.sampled_from(
    ["", "* a comment", "*.GLOBAL x", "; c", "$ c", "+ 1k", "+", "   ", "Forward voltage of the LED", "\x1a"]
)

netlists = st.lists(st.one_of(element_cards, element_cards, wild_cards, dot_cards, comments), max_size=25).map(
    lambda lines: "\n".join(("an invented board", *lines)) + "\n"
)
"""Whole files of such cards."""

hostile_bytes = st.one_of(
    st.binary(max_size=300),
    netlists.map(str.encode),
    st.tuples(netlists, st.integers(0, 500), st.binary(min_size=1, max_size=4)).map(
        lambda parts: parts[0].encode()[: parts[1]] + parts[2] + parts[0].encode()[parts[1] :]
    ),
    netlists.map(lambda text: text.encode("utf-16")),
)
"""Bytes of any kind, and netlists with bytes that don't belong there."""

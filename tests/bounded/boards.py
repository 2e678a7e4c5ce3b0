"""Forty boards by which a stranger would stall a hook: few cards, and states, corners, sides or instances without end.

Each is a netlist under the facts and part records of `fixtures/rules`. Invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache, partial
from itertools import product
from types import MappingProxyType

from isolint.source import MemoryTree
from tests.conftest import REPOSITORY

PATH = "board.cir"
RULES = REPOSITORY / "fixtures/rules"

Cards = list[str]


@cache
def _shared() -> Mapping[str, str]:
    files = {f"parts/{path.name}": path.read_text(encoding="utf-8") for path in (RULES / "parts").iterdir()}
    return {"isolint.toml": (RULES / "isolint.toml").read_text(encoding="utf-8"), **files}


def tree(cards: Iterable[str], facts: str = "") -> MemoryTree:
    """A netlist of these cards with the facts of the rule fixtures and more of its own."""
    shared = dict(_shared())
    shared["isolint.toml"] += facts
    return MemoryTree({PATH: "\n".join(("* invented", *cards, "")), **shared})


def coupler(name: object, anode: str, cathode: str = "GND", pull: str = "10k") -> Cards:
    """A phototransistor that pulls a read net low."""
    return [f"XU{name} {anode} {cathode} GNDB OUT{name} DEMO_PT1", f"RL{name} VB OUT{name} {pull}"]


def matrix(rows: int, columns: int) -> Cards:
    """LEDs between row drivers and column drivers, with a resistor a row."""
    cards = [f"R{row} DRIVER{row} ROW{row} 470" for row in range(rows)]
    for row, column in product(range(rows), range(columns)):
        cards += coupler(f"{row}{column}", f"ROW{row}", f"DRIVEC{column}")
    return cards


def unpowered_matrix(rows: int, columns: int) -> Cards:
    """The same between outputs that may be without supply."""
    return [card.replace("DRIVE", "DEAD") for card in matrix(rows, columns)]


def drivers(count: int, kind: str = "DRIVE") -> Cards:
    """Several outputs on one LED, each over its own resistor."""
    return [*(f"R{n} {kind}{n} A {470 + n}" for n in range(count)), *coupler(1, "A")]


def diode_or(count: int, kind: str = "DRIVE") -> Cards:
    """Several outputs on one LED over diodes."""
    return [
        ".model DOR D(IS=2n N=1.8)",
        *(f"D{n} {kind}{n} K DOR" for n in range(count)),
        "R1 K A 330",
        *coupler(1, "A"),
    ]


def series_resistors(count: int, total: float = 470.0) -> Cards:
    """One LED resistor in many pieces."""
    nets = ["DRIVE1", *(f"N{n}" for n in range(1, count)), "A"]
    ohms = total / count
    return [*(f"R{n} {nets[n]} {nets[n + 1]} {ohms + 0.01 * n:.6g}" for n in range(count)), *coupler(1, "A")]


def ladder(count: int) -> Cards:
    """Resistors in series with one to ground at each joint."""
    nets = ["IN1", *(f"N{n}" for n in range(1, count)), "A"]
    cards = [f"R{n} {nets[n]} {nets[n + 1]} {100 + n}" for n in range(count)]
    return [*cards, *(f"RG{n} {nets[n]} GND {47_000 + n}" for n in range(1, count)), *coupler(1, "A")]


def parallel_leds(count: int) -> Cards:
    """Many LEDs on one resistor."""
    return ["R1 IN1 A 100", *(card for n in range(count) for card in coupler(n, "A"))]


def series_leds(count: int) -> Cards:
    """Many LEDs in one chain."""
    nets = ["N0", *(f"N{n}" for n in range(1, count)), "GND"]
    return ["R1 IN1 N0 330", *(card for n in range(count) for card in coupler(n, nets[n], nets[n + 1]))]


def rails(count: int) -> Cards:
    """Many supplies on one LED."""
    return [*(f"R{n} RAIL{n} A {4_700 + n}" for n in range(count)), *coupler(1, "A")]


def lines(count: int) -> Cards:
    """Several field lines on one LED."""
    return [*(f"R{n} IN{n} A {4_700 + n}" for n in range(count)), *coupler(1, "A")]


def leaking() -> Cards:
    """Lines that leak while they are off."""
    return [*(f"R{n} LEAK{n} A {4_700 + n}" for n in range(5)), *coupler(1, "A")]


def hierarchy(depth: int, width: int, leaf: Iterable[str] = ("R1 a b 1k",)) -> Cards:
    """Definitions that place each other: width to the power of depth leaves."""
    cards = [".subckt B0 a b", *leaf, ".ends"]
    for level in range(1, depth + 1):
        cards += [f".subckt B{level} a b", *(f"X{n} a b B{level - 1}" for n in range(width)), ".ends"]
    return [*cards, f"X1 V5 GND B{depth}", "R1 DRIVE1 A 470", *coupler(1, "A")]


def hierarchy_in_series(depth: int, width: int) -> Cards:
    """The same, one behind the other, so that each has a net of its own."""
    cards = [".subckt B0 a b", "R1 a b 1k", ".ends"]
    for level in range(1, depth + 1):
        nets = ["a", *(f"n{n}" for n in range(1, width)), "b"]
        cards += [
            f".subckt B{level} a b",
            *(f"X{n} {nets[n]} {nets[n + 1]} B{level - 1}" for n in range(width)),
            ".ends",
        ]
    return [*cards, f"X1 V5 GND B{depth}", "R1 DRIVE1 A 470", *coupler(1, "A")]


def sides(count: int) -> Cards:
    """A chain of couplers, each with a ground of its own."""
    cards = []
    for n in range(count):
        cards += [f"R{n} P{n} A{n} 470", f"XU{n} A{n} G{n} G{n + 1} C{n} DEMO_PT1", f"RL{n} P{n + 1} C{n} 10k"]
        cards.append(f"V{n} P{n} G{n} 5")
    return cards


def star_of_sides(count: int, tie: str) -> Cards:
    """The same with a part from each ground to one point."""
    return [*sides(count), *(f"{tie[0]}S{n} G{n} PE {tie[1:]}" for n in range(count))]


def sides_all_to_all(count: int) -> Cards:
    """Couplers between every two grounds."""
    cards = [f"V{n} P{n} G{n} 5" for n in range(count)]
    for one, other in product(range(count), repeat=2):
        if one != other:
            name = f"{one}_{other}"
            cards += [f"R{name} P{one} A{name} 470", f"XU{name} A{name} G{one} G{other} C{name} DEMO_PT1"]
            cards.append(f"RL{name} P{other} C{name} 10k")
    return cards


def different_couplers(count: int) -> Cards:
    """Sound channels of which no two are alike."""
    cards = []
    for n in range(count):
        cards += [f"R{n} DRIVE{n} A{n} {470 + n / 100:.6g}", *coupler(n, f"A{n}", pull=f"{10_000 + n}")]
    return cards


def equal_couplers(count: int) -> Cards:
    """Sound channels that are all alike, flat."""
    return [card for n in range(count) for card in (f"R{n} DRIVE{n} A{n} 470", *coupler(n, f"A{n}"))]


def placed_couplers(*widths: int) -> Cards:
    """Sound channels that are all alike, placed by definitions that place each other."""
    cards = [".subckt B0 V5 GND VB GNDB", "R1 V5 A 470", "XU1 A GND GNDB C DEMO_PT1", "RL1 VB C 10k", ".ends"]
    for level, width in enumerate(widths, 1):
        cards += [f".subckt B{level} V5 GND VB GNDB"]
        cards += [*(f"X{n} V5 GND VB GNDB B{level - 1}" for n in range(width)), ".ends"]
    return [*cards, f"X1 V5 GND VB GNDB B{len(widths)}"]


def loaded(count: int) -> Cards:
    """One output that feeds a ladder of dividers."""
    nets = ["OUT1", *(f"N{n}" for n in range(1, count + 1))]
    cards = [
        card for n in range(count) for card in (f"RS{n} {nets[n]} {nets[n + 1]} 10k", f"RP{n} {nets[n + 1]} VB 1meg")
    ]
    return ["R1 DRIVE1 A 470", *coupler(1, "A"), *cards]


def transistors(count: int) -> Cards:
    """Followers one behind the other before the LED."""
    nets = ["DRIVE1", *(f"B{n}" for n in range(1, count)), "E"]
    cards = [f"Q{n} V5 {nets[n]} {nets[n + 1]} QF" for n in range(count)]
    return [
        ".model QF NPN(IS=2e-14 BF=250)",
        *cards,
        *(f"R{n} {nets[n + 1]} GND {10_000 + n}" for n in range(count)),
        "RA E A 100",
        *coupler(1, "A"),
    ]


def bridge(count: int) -> Cards:
    """A grid of resistors before the LED."""
    cards = []
    for x, y in product(range(count), repeat=2):
        here = "IN1" if x == y == 0 else f"N{x}_{y}"
        if x + 1 < count:
            cards.append(f"RX{x}_{y} {here} N{x + 1}_{y} {100 + x + 7 * y}")
        if y + 1 < count:
            cards.append(f"RY{x}_{y} {here} N{x}_{y + 1} {100 + 5 * x + y}")
    return [*cards, f"RA N{count - 1}_{count - 1} A 1k", *coupler(1, "A")]


def switches(count: int) -> Cards:
    """Several switches in parallel before one LED."""
    return [
        ".model SWI SW(RON=1 ROFF=1G)",
        *(f"S{n} V5 N{n} C{n} GND SWI" for n in range(count)),
        *(f"R{n} N{n} A {470 + n}" for n in range(count)),
        *coupler(1, "A"),
    ]


def antiparallel(count: int) -> Cards:
    """LEDs each way round between many outputs, all over a common net."""
    cards = [f"R{n} DRIVE{n} N{n} 220" for n in range(count)]
    for one in range(count):
        for other in range(count):
            if one != other:
                cards += coupler(f"{one}{other}", f"N{one}", f"N{other}")
    return cards


def darlington_loads(count: int) -> Cards:
    """An output into a chain of switching transistors."""
    cards = [".model QN NPN(IS=2e-14 BF=250)", "R1 DRIVE1 A 470", "XU1 A GND GNDB C0 DEMO_PT1", "RC0 VB C0 10k"]
    for n in range(count):
        cards += [f"RB{n} C{n} B{n} 10k", f"Q{n} C{n + 1} B{n} GNDB QN", f"RC{n + 1} VB C{n + 1} 10k"]
    return cards


UNPOWERED = """
[outputs."DEAD*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
unpowered = true
off_leakage = "1 uA"
"""

LEAKING = """
[lines."LEAK*"]
on = ["15 V", "30 V"]
off = ["-3 V", "0.5 V"]
leakage = "100 uA"
"""


RAILS = """
[supplies."RAIL*"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
"""


def _boards() -> dict[str, tuple[Callable[[], Cards], str]]:
    plain: dict[str, Callable[[], Cards]] = {
        "2 x 2 LED matrix": lambda: matrix(2, 2),
        "3 x 3 LED matrix": lambda: matrix(3, 3),
        "1 x 5 LED matrix": lambda: matrix(1, 5),
        "4 x 1 LED matrix": lambda: matrix(4, 1),
        "three outputs, an LED each way between every two": lambda: antiparallel(3),
        "four outputs, an LED each way between every two": lambda: antiparallel(4),
        "five drivers on one LED": lambda: drivers(5),
        "six drivers on one LED": lambda: drivers(6),
        "seven drivers on one LED": lambda: drivers(7),
        "six open-drain drivers on one LED": lambda: [*drivers(6, "SINK"), "RP V5 A 330"],
        "diode-OR of five": lambda: diode_or(5),
        "diode-OR of six": lambda: diode_or(6),
        "six switches before one LED": lambda: switches(6),
        "six lines on one LED": lambda: lines(6),
        "40 resistors in series": lambda: series_resistors(40),
        "200 resistors in series": lambda: series_resistors(200),
        "a ladder of 30": lambda: ladder(30),
        "a grid of 5 x 5 resistors": lambda: bridge(5),
        "a grid of 9 x 9 resistors": lambda: bridge(9),
        "50 LEDs in parallel": lambda: parallel_leds(50),
        "120 LEDs in parallel": lambda: parallel_leds(120),
        "16 LEDs in series": lambda: series_leds(16),
        "60 LEDs in series": lambda: series_leds(60),
        "a hierarchy of ten levels by ten": lambda: hierarchy(10, 10),
        "a hierarchy of four levels by ten": lambda: hierarchy(4, 10),
        "a hierarchy of five levels by ten, in series": lambda: hierarchy_in_series(5, 10),
        "a hierarchy of 20 levels by two": lambda: hierarchy(20, 2),
        "150 sides": lambda: sides(150),
        "150 sides, each on one point over 1 Mohm": lambda: star_of_sides(150, "R1meg"),
        "60 sides, each on one point over 1 nF": lambda: star_of_sides(60, "C1n"),
        "20 sides, a coupler between every two": lambda: sides_all_to_all(20),
        "300 different couplers": lambda: different_couplers(300),
        "an output on 12 dividers": lambda: loaded(12),
        "an output on 60 dividers": lambda: loaded(60),
        "an output before 8 transistors": lambda: darlington_loads(8),
        "eight followers before the LED": lambda: transistors(8),
        "5,000 equal couplers": lambda: equal_couplers(5000),
        "10,000 couplers placed by a hierarchy": lambda: placed_couplers(10, 10, 100),
    }
    made = {name: (cards, "") for name, cards in plain.items()}
    for size in (2, 3):
        made[f"{size} x {size} LED matrix that may be without supply"] = (
            partial(unpowered_matrix, size, size),
            UNPOWERED,
        )
    for size in (12, 40):
        made[f"{size} rails on one LED"] = partial(rails, size), RAILS
    made["five outputs on one LED that may be without supply"] = partial(drivers, 5, "DEAD"), UNPOWERED
    made["diode-OR of five outputs that may be without supply"] = partial(diode_or, 5, "DEAD"), UNPOWERED
    made["five leaking lines on one LED"] = leaking, LEAKING
    return made


BOARDS: Mapping[str, tuple[Callable[[], Cards], str]] = MappingProxyType(_boards())
"""By name: what makes the cards, and facts beside those of the fixtures."""


def board(name: str) -> MemoryTree:
    """One of the boards."""
    cards, facts = BOARDS[name]
    return tree(cards(), facts)

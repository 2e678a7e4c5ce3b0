"""A generator of boards: sides with their supplies, ordinary ICs, couplers of several kinds, connectors, capacitors.

Part names tell nothing. What is on a board and why is drawn from a seed; `Made` says which cards isolate.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

GROUNDS = (
    ("GND", "GND_ISO", "_ISO"), ("GND", "GND_FIELD", "_FIELD"), ("DGND", "GNDISO", "_ISO"), ("GND", "COM_FIELD", "_F"),
    ("GND", "GND_BUS", "_BUS"), ("GND", "0V_FIELD", "_FIELD"), ("GNDD", "GND_EXT", "_EXT"), ("GND", "GND1", "_1"),
    ("GND", "24V_RTN", "_B"), ("GND", "GND_SEC", "_SEC"), ("GND_CPU", "GND_MOT", "_MOT"), ("GND", "RTN_B", "_B"),
)  # fmt: skip
KINDS = (
    "transistor", "transistor", "transistor-in", "transistor-in", "base", "logic", "digital8", "digital16", "supply4",
    "supply5", "relay", "driver", "mosfet", "transformer", "float-in", "float-in", "triac", "high-side", "amplifier",
    "dual",
)  # fmt: skip
ORDINARY = (
    "mcu", "opamp", "logic14", "memory", "ldo5", "buck", "sensor", "transceiver", "adc", "array", "esd6", "choke4",
    "crystal4", "network8", "switch4", "shunt6", "rgb4", "reset4", "bridge4",
)  # fmt: skip


@dataclass
class Made:
    """A board: its text, the cards that isolate and their kind by name, and the other parts of four pins and more."""

    text: str = ""
    isolating: dict[str, str] = field(default_factory=dict)
    ordinary: set[str] = field(default_factory=set)
    names: dict[str, str] = field(default_factory=dict)


@dataclass
class BoardSide:
    """One side: its ground, its supplies, free signals."""

    ground: str
    supplies: list[str]
    tag: str
    signals: list[str] = field(default_factory=list)


class BoardMaker:
    """Writes the cards of one board."""

    def __init__(self, seed: int, automatic: bool) -> None:
        self.random = random.Random(seed)
        self.automatic = automatic
        self.lines: list[str] = []
        self.made = Made()
        self.numbers: dict[str, int] = {}
        self.stock = {
            kind: f"PART{self.random.randrange(100, 999)}{index}" for index, kind in enumerate((*KINDS, *ORDINARY))
        }
        self.nets = 0

    def ref(self, letters: str) -> str:
        """The next reference designator."""
        self.numbers[letters] = self.numbers.get(letters, 0) + 1
        return f"{letters}{self.numbers[letters]}"

    def net(self, hint: str = "N") -> str:
        """A new net of its own."""
        self.nets += 1
        return f"{hint}{self.nets}"

    def add(self, letters: str, *words: object) -> str:
        """A card; gives its name."""
        name = self.ref(letters)
        self.lines.append(" ".join((name, *map(str, words))))
        return name

    def resistor(self, one: str, other: str, value: str = "") -> None:
        """A resistor, of a usual value where none is given."""
        self.add("R", one, other, value or self.random.choice(("330", "1k", "4.7k", "10k", "22k", "100k")))

    def capacitor(self, one: str, other: str) -> None:
        """A capacitor."""
        self.add("C", one, other, self.random.choice(("100n", "1u", "10u")))

    def bypass(self, side: BoardSide, supply: str) -> None:
        """A capacitor at the supply pin of an IC; some boards leave a few out."""
        if self.random.random() < 0.8:
            self.capacitor(supply, side.ground)

    def ordinary(self, kind: str, nets: list[str], letters: str = "XU") -> None:
        """An ordinary part."""
        name = self.add(letters, *nets, self.stock[kind])
        self.made.ordinary.add(name)
        self.made.names[name] = self.stock[kind]

    def isolating(self, kind: str, nets: list[str], letters: str = "XU") -> None:
        """A part that isolates."""
        name = self.add(letters, *nets, self.stock[kind])
        self.made.isolating[name] = kind
        self.made.names[name] = self.stock[kind]

    # -- sides -------------------------------------------------------------------------------------------------------

    def side(self, ground: str, tag: str) -> BoardSide:
        """A side with one or two supplies, fed from a connector over a regulator."""
        supplies = [f"V5{tag}", f"V3V3{tag}"] if self.random.random() < 0.6 else [f"V5{tag}"]
        return BoardSide(ground, supplies, tag)

    def feed(self, side: BoardSide) -> None:
        """A connector, a fuse, a regulator with its capacitors."""
        raw = f"V24{side.tag}"
        self.add("XJ", raw, side.ground, "CONN2")
        self.capacitor(raw, side.ground)
        self.capacitor(raw, side.ground)
        if self.random.random() < 0.5:
            switch, feedback = self.net("SW"), self.net("FB")
            self.ordinary(
                "buck", [raw, side.ground, switch, feedback, raw, self.net("NC"), self.net("BST"), side.ground]
            )
            self.add("L", switch, side.supplies[0], "10u")
            self.resistor(side.supplies[0], feedback)
            self.resistor(feedback, side.ground)
        else:
            self.add("XU", raw, side.ground, side.supplies[0], "REG3")
        self.capacitor(side.supplies[0], side.ground)
        self.capacitor(side.supplies[0], side.ground)

    def regulate(self, side: BoardSide) -> None:
        """The second supply from the first."""
        if len(side.supplies) > 1:
            self.ordinary("ldo5", [side.supplies[0], side.ground, side.supplies[0], self.net("NC"), side.supplies[1]])
            self.capacitor(side.supplies[1], side.ground)
            self.capacitor(side.supplies[1], side.ground)

    def signal(self, side: BoardSide) -> str:
        """A signal of a side, often one that is there already."""
        if side.signals and self.random.random() < 0.6:
            return self.random.choice(side.signals)
        net = self.net(f"S{side.tag}_" if self.random.random() < 0.7 else "N")
        side.signals.append(net)
        draw = self.random.random()
        if draw < 0.35:
            self.resistor(net, self.random.choice((side.supplies[-1], side.ground)))
        elif draw < 0.45:
            self.capacitor(net, side.ground)
        return net

    def populate(self, side: BoardSide, count: int) -> None:
        """Ordinary ICs of a side."""
        for _ in range(count):
            kind = self.random.choice(ORDINARY)
            supply = self.random.choice(side.supplies)
            self.bypass(side, supply)
            found = self._circuit_of(kind, side, supply)
            nets, letters = (found, "XU") if found else self._small_part(kind, side, supply)
            if nets:
                self.ordinary(kind, nets, letters)
        for _ in range(self.random.randrange(1, 4)):
            switch = self.net("LED")
            self.resistor(side.supplies[0], switch)
            self.add("D", switch, self.signal(side), "DLED")

    def _signals(self, side: BoardSide, count: int) -> list[str]:
        return [self.signal(side) for _ in range(count)]

    def _circuit_of(self, kind: str, side: BoardSide, supply: str) -> list[str]:
        """The nets of an integrated circuit; none of another kind."""
        if kind == "mcu":
            nets = self._signals(side, self.random.choice((18, 28, 40)))
            for at, net in ((3, supply), (9, side.ground), (14, supply), (15, side.ground)):
                nets[at] = net
            self.bypass(side, supply)
            return nets
        if kind == "opamp":
            return [*self._signals(side, 3), side.ground, *self._signals(side, 3), supply]
        if kind == "logic14":
            return [*self._signals(side, 6), side.ground, *self._signals(side, 6), supply]
        if kind == "memory":
            return [side.ground, side.ground, side.ground, side.ground, *self._signals(side, 2), side.ground, supply]
        if kind == "sensor":
            return [*self._signals(side, 1), side.ground, supply, *self._signals(side, 1)]
        if kind == "transceiver":
            return [*self._signals(side, 4), side.ground, *self.terminal(side, 2), supply]
        if kind == "adc":
            return [supply, *self._signals(side, 4), side.ground, *self._signals(side, 2), supply, side.ground]
        if kind == "array":
            return [*self._signals(side, 7), side.ground, supply, *self.terminal(side, 7)]
        if kind == "shunt6":
            high, low = self.net("SH"), self.net("SL")
            self.resistor(supply, high, "0.05")
            self.resistor(high, low, "10")
            return [self.signal(side), side.ground, low, high, self.signal(side), supply]
        return [side.ground, self.signal(side), self.signal(side), supply] if kind == "reset4" else []

    def _small_part(self, kind: str, side: BoardSide, supply: str) -> tuple[list[str], str]:
        """The nets and letters of a part that protects, filters, shows or switches; none of another kind."""
        if kind == "esd6":
            lines = self.terminal(side, 2)
            for line in lines:
                self.resistor(line, self.signal(side), "33")
            return [lines[0], side.ground, lines[1], lines[1], supply, lines[0]], "XU"
        if kind == "choke4":
            lines = self.terminal(side, 2)
            inner = [self.net("CH"), self.net("CH")]
            self.capacitor(inner[0], side.ground)
            self.resistor(inner[1], self.signal(side))
            return [lines[0], inner[0], inner[1], lines[1]], self.random.choice(("XL", "XFL"))
        if kind == "crystal4":
            ends = self._signals(side, 2)
            return [ends[0], side.ground, ends[1], side.ground], "XY"
        if kind == "network8":
            return self._signals(side, 8), "XRN"
        if kind == "switch4":
            net = self.signal(side)
            self.resistor(net, supply, "10k")
            return [net, net, side.ground, side.ground], "XSW"
        if kind == "rgb4":
            legs = [self.net("LEG") for _ in range(3)]
            for leg in legs:
                self.resistor(leg, self.signal(side), "470")
            return [supply, *legs], "XD"
        if kind == "bridge4":
            lines = self.terminal(side, 2)
            nets = [lines[0], lines[1], self.net("RAW"), side.ground]
            self.capacitor(nets[2], side.ground)
            return nets, "XD"
        return [], ""

    def terminal(self, side: BoardSide, count: int) -> list[str]:
        """Nets that lead to a connector."""
        nets = [self.net("T") for _ in range(count)]
        self.add("XJ", *nets, side.ground, f"CONN{count + 1}")
        return nets

    # -- what isolates -----------------------------------------------------------------------------------------------

    def lit(self, side: BoardSide) -> list[str]:
        """Anode and cathode of an LED with its resistor in either leg."""
        anode, cathode = self.net("A"), self.net("K")
        if self.random.random() < 0.5:
            self.resistor(self.signal(side), anode, "680")
            return [anode, side.ground]
        self.resistor(cathode, self.signal(side), "680")
        return [side.supplies[0], cathode]

    def field_input(self, side: BoardSide) -> list[str]:
        """An LED that a terminal drives, with a diode or capacitor across now and then."""
        (net,) = self.terminal(side, 1)
        anode = self.net("A")
        self.resistor(net, anode, "2.2k")
        if self.random.random() < 0.4:
            self.add("D", side.ground, anode, "DPROT")
        return [anode, side.ground]

    def output(self, side: BoardSide) -> list[str]:
        """Collector and emitter of a transistor with its pull-up."""
        net = self.signal(side)
        self.resistor(net, side.supplies[-1], "4.7k")
        return [side.ground, net] if self.random.random() < 0.7 else [net, side.ground]

    def couple(self, kind: str, one: BoardSide, other: BoardSide) -> None:
        """A part that isolates between two sides."""
        v1, v2 = self.random.choice(one.supplies), self.random.choice(other.supplies)
        letters = "XOK" if self.random.random() < 0.1 else "XU"
        if kind in ("transistor", "transistor-in", "base", "float-in", "dual"):
            self._couple_transistor(kind, one, other, letters)
        elif kind in ("logic", "digital8", "digital16", "amplifier"):
            self._couple_logic(kind, one, other, (v1, v2))
        elif kind in ("supply4", "supply5", "transformer", "high-side"):
            self._couple_power(kind, one, other, v1)
        else:
            self._couple_switch(kind, one, other, (v1, v2))

    def _couple_transistor(self, kind: str, one: BoardSide, other: BoardSide, letters: str) -> None:
        """An LED and transistors."""
        if kind == "transistor":
            self.isolating(kind, [*self.lit(one), *self.output(other)], letters)
        elif kind == "transistor-in":
            self.isolating(kind, [*self.field_input(other), *self.output(one)], letters)
        elif kind == "base":
            self.isolating(kind, [*self.lit(one), self.net("NC"), *self.output(other), self.net("B")], letters)
        elif kind == "float-in":
            plus, minus = self.terminal(other, 2)
            anode = self.net("A")
            self.resistor(plus, anode, "4.7k")
            if self.random.random() < 0.3:
                self.add("D", minus, anode, "DPROT")
            self.isolating(kind, [anode, minus, *self.output(one)], letters)
        else:
            leds = [*self.lit(one), *self.lit(one)]
            self.isolating(kind, [*leds, *self.output(other), *self.output(other)])

    def _couple_logic(self, kind: str, one: BoardSide, other: BoardSide, supplies: tuple[str, str]) -> None:
        """A part with a supply on its output side or on both."""
        v1, v2 = supplies
        if kind == "logic":
            self.bypass(other, v2)
            out = self.signal(other)
            self.resistor(out, v2)
            self.isolating(kind, [self.net("NC"), *self.lit(one), self.net("NC"), other.ground, out, v2, v2])
        elif kind.startswith("digital"):
            self.bypass(one, v1)
            self.bypass(other, v2)
            wide = 2 if kind == "digital8" else 5
            first = [self.signal(one) for _ in range(wide)]
            second = [self.signal(other) for _ in range(wide)]
            more, behind = ([one.ground], [other.ground]) if wide == 5 else ([], [])
            self.isolating(kind, [v1, *more, *first, one.ground, other.ground, *second, *behind, v2])
        else:
            self.bypass(one, v1)
            self.bypass(other, v2)
            shunt = self.net("IN")
            self.resistor(shunt, self.terminal(other, 1)[0], "10")
            outs = [self.signal(one), self.signal(one)]
            self.isolating(kind, [v2, shunt, other.ground, other.ground, one.ground, *outs, v1])

    def _couple_power(self, kind: str, one: BoardSide, other: BoardSide, v1: str) -> None:
        """A supply or its transformer."""
        if kind == "supply4":
            self.isolating(
                kind, [v1, one.ground, other.supplies[0], other.ground], "XU" if self.random.random() < 0.5 else "XPS"
            )
            self.capacitor(other.supplies[0], other.ground)
        elif kind == "supply5":
            self.isolating(kind, [v1, one.ground, other.ground, self.net("NC"), other.supplies[0]])
            self.capacitor(other.supplies[0], other.ground)
        elif kind == "high-side":
            source, rail = self.net("HS"), self.net("HB")
            self.isolating("supply4", [v1, one.ground, rail, source], "XPS" if self.random.random() < 0.5 else "XU")
            self.capacitor(rail, source)
            if self.random.random() < 0.8:
                self.capacitor(rail, source)
            out, gate = self.net("OUT"), self.net("G")
            self.resistor(out, gate, "4.7")
            self.add("M", other.supplies[0], gate, source, source, "MSW")
            self.resistor(gate, source, "10k")
            self.isolating("driver", [self.net("NC"), *self.lit(one), self.net("NC"), source, out, out, rail])
        else:
            start, end_of = self.net("P"), self.net("P")
            self.add("M", start, self.signal(one), one.ground, one.ground, "MSW")
            self.add("M", end_of, self.signal(one), one.ground, one.ground, "MSW")
            ends = [self.net("W"), self.net("W")]
            for end in ends:
                self.add("D", end, other.supplies[0], "DRECT")
            self.isolating(kind, [start, v1, end_of, ends[0], other.ground, ends[1]], self.random.choice(("XT", "XU")))

    def _couple_switch(self, kind: str, one: BoardSide, other: BoardSide, supplies: tuple[str, str]) -> None:
        """A part that switches a load or a gate."""
        v1, v2 = supplies
        if kind == "relay":
            low = self.net("COIL")
            self.add("D", low, v1, "DCOIL")
            self.add("Q", low, self.signal(one), one.ground, "QNPN")
            self.isolating(kind, [v1, low, *self.terminal(other, 2)], "XK" if self.random.random() < 0.7 else "XU")
        elif kind == "driver":
            self.bypass(other, v2)
            out, gate = self.net("OUT"), self.net("G")
            self.resistor(out, gate, "10")
            self.add("M", self.terminal(other, 1)[0], gate, other.ground, other.ground, "MSW")
            self.isolating(kind, [self.net("NC"), *self.lit(one), self.net("NC"), other.ground, out, out, v2])
        elif kind == "mosfet":
            self.isolating(kind, [*self.lit(one), *self.terminal(other, 2)])
        else:
            line, load, gate = "AC_L", self.terminal(other, 1)[0], self.net("GT")
            self.resistor(line, gate, "360")
            self.add("XQ", line, gate, load, "TRIAC3")
            self.add("XJ", "AC_L", "AC_N", "PE", "CONN3")
            self.isolating(kind, [*self.lit(one), self.net("NC"), load, self.net("NC"), gate])


def board(seed: int, automatic: bool = False, isolated: bool = True, tied: bool = False) -> Made:
    """A board from a seed. automatic: no net has a name that tells; isolated: whether anything isolates."""
    maker = BoardMaker(seed, automatic)
    draw = maker.random
    names = draw.choice(GROUNDS)
    one = maker.side(names[0], "")
    sides = [one]
    if isolated:
        sides.append(maker.side(names[1], names[2]))
        if draw.random() < 0.25:
            sides.append(maker.side("GND_HV", "_HV"))
    for side in sides:
        maker.feed(side)
        maker.regulate(side)
        maker.populate(side, draw.randrange(4, 14) if side is one else draw.randrange(0, 6))
    for other in sides[1:]:
        for _ in range(draw.randrange(2, 9)):
            maker.couple(draw.choice(KINDS), one, other)
        if draw.random() < 0.3:
            maker.add("C", one.ground, other.ground, "1n")
        if draw.random() < 0.2:
            maker.add("R", one.ground, other.ground, "4.7MEG")
    _split_ground(maker, one)
    if tied and len(sides) > 1:
        maker.add("R", sides[0].ground, sides[1].ground, "0")
    if draw.random() < 0.4:
        maker.add("C", one.ground, "CHASSIS", "10n")
        maker.add("R", "CHASSIS", one.ground, "1MEG")
    maker.made.text = _text(maker, automatic, draw)
    return maker.made


def _split_ground(maker: BoardMaker, side: BoardSide) -> None:
    """An analogue ground of its own, joined at one point, with a converter that lies on both."""
    draw = maker.random
    if draw.random() < 0.35:
        quiet = "AGND" if draw.random() < 0.8 else "PGND"
        maker.add("L" if draw.random() < 0.5 else "R", quiet, side.ground, "0")
        analog = BoardSide(quiet, [side.supplies[-1]], "_A")
        nets = [maker.signal(analog) for _ in range(4)]
        maker.capacitor(side.supplies[-1], quiet)
        maker.capacitor(side.supplies[-1], quiet)
        maker.ordinary(
            "adc",
            [side.supplies[-1], *nets, quiet, side.supplies[-1], side.ground, maker.signal(side), maker.signal(side)],
        )


def _text(maker: BoardMaker, automatic: bool, draw: random.Random) -> str:
    lines = list(maker.lines)
    if automatic:
        known: dict[str, str] = {}
        renamed = []
        for line in lines:
            name, *nets, last = line.split()
            for net in nets:
                known.setdefault(net, f"Net-({draw.choice('RCU')}{draw.randrange(1, 999)}-Pad{len(known)})")
            renamed.append(" ".join((name, *(known[net] for net in nets), last)))
        lines = renamed
    draw.shuffle(lines)
    models = (
        ".model DLED D",
        ".model DPROT D",
        ".model DCOIL D",
        ".model DRECT D",
        ".model QNPN NPN",
        ".model MSW NMOS",
    )
    return "\n".join(("* a board made for a test", *lines, *models, ".end", ""))

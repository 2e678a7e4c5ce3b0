"""A network for the solver whose branches depend on uncertain numbers and on temperature.

In: branches as functions. Out: an `Assembly`, which gives the solver's network for any choice of the numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from operator import itemgetter
from typing import NamedTuple

from isolint.results import MissingFact
from isolint.worstcase import network as n
from isolint.worstcase.corners import Range
from isolint.worstcase.lookup import OutputModel
from isolint.worstcase.uncertain import Setting, Term

REFERENCE_TEMPERATURE = 25.0
"""Where temperature coefficients of resistors and LEDs start."""

Make = Callable[[Sequence[float], float], n.Branch]


Made = tuple[n.Branch, tuple[int, int]]
"""A branch with its numbers."""


@dataclass(slots=True, eq=False, repr=False)
class Maker:
    """A branch as a function of the uncertain numbers at the places `uses`, and of temperature where it is `warm`.

    The same numbers give the same branch again, by identity, which the solver recognises. pick: those of a vector.
    """

    name: str
    make: Make
    uses: tuple[int, ...] = ()
    warm: bool = False
    known: dict[object, Made] = field(default_factory=dict)
    pick: Callable[[Sequence[float]], object] = field(init=False)

    def __post_init__(self) -> None:
        self.pick = itemgetter(*self.uses) if self.uses else _nothing

    def made(self, key: object, vector: Sequence[float], temperature: float, codes: n.Codes) -> Made:
        """The branch for numbers that were not asked for yet, and its numbers."""
        branch = self.make(vector, temperature)
        found = self.known[key] = branch, codes.of(branch)
        return found


def _nothing(vector: Sequence[float]) -> object:
    return None


class Unmodelled(NamedTuple):
    """A diode without a `.model`: solver's nodes of anode and cathode, and the line that would state it."""

    path: str
    anode: int
    cathode: int
    missing: MissingFact


@dataclass(slots=True, eq=False, repr=False)
class Assembly:
    """Branches as functions of the uncertain numbers.

    codes: numbers their contents, the same object for all assemblies that one solver serves. terms: the uncertain
    numbers; a vector holds one value each. nets: solver node by net. makers: each gives a branch. outputs: net and
    model of the outputs in use, by branch name. branch_of: branch name by element. bipolars, mosfets: the elements that
    are such. drifts: the term of a temperature coefficient, and the term of the same part's value, which it multiplies
    or adds to.
    """

    codes: n.Codes = field(default_factory=n.Codes)
    nodes: list[str] = field(default_factory=lambda: ["0"])
    nets: dict[int, int] = field(default_factory=dict)
    terms: list[Term] = field(default_factory=list)
    makers: list[Maker] = field(default_factory=list)
    outputs: dict[str, tuple[int, OutputModel]] = field(default_factory=dict)
    branch_of: dict[int, str] = field(default_factory=dict)
    bipolars: list[int] = field(default_factory=list)
    mosfets: list[int] = field(default_factory=list)
    unmodelled: list[Unmodelled] = field(default_factory=list)
    drifts: dict[int, int] = field(default_factory=dict)

    def node(self, net: int, name: str) -> int:
        """The solver's node for a net, made when it is new."""
        if net not in self.nets:
            self.nets[net] = len(self.nodes)
            self.nodes.append(name)
        return self.nets[net]

    def term(self, term: Term) -> int:
        """The place of a term in the vectors, made when it is new."""
        for index, known in enumerate(self.terms):
            if known.name == term.name and known.key == term.key:
                return index
        self.terms.append(term)
        return len(self.terms) - 1

    def share_of(self, name: str) -> Callable[[Sequence[float]], float]:
        """1 and the term of a name, as a function of a vector; 1 where there is no such term."""
        index = next((index for index, term in enumerate(self.terms) if term.name == name), -1)
        return lambda vector: 1.0 + vector[index] if index >= 0 else 1.0

    def nominal(self, setting: Setting) -> list[float]:
        """The nominal value of every term, or the nearest one in a setting."""
        return [min(max(term.nominal, low), high) for term in self.terms for low, high in (setting.range(term),)]

    def ranges(self, setting: Setting, temperature: float) -> list[Range]:
        """The intervals of all terms in a setting; what drifts with temperature moves together with its part's value.

        A part's value and its drift make one number at any one temperature, which is at an end where both are.
        """
        opposed = temperature < REFERENCE_TEMPERATURE
        found: list[Range] = []
        for index, (term, nominal) in enumerate(zip(self.terms, self.nominal(setting), strict=True)):
            low, high = setting.range(term)
            leader = self.drifts.get(index, -1)
            found.append(Range(term.name, low, nominal, high, leader, opposed and leader >= 0))
        return found

    def network(self, vector: Sequence[float], temperature: float, extra: Sequence[n.Branch] = ()) -> n.BranchNetwork:
        """The solver's network at one choice of the uncertain numbers and one temperature."""
        codes = self.codes
        made: list[Made] = []
        for maker in self.makers:
            key = maker.pick(vector)
            if maker.warm:
                key = key, temperature
            made.append(maker.known.get(key) or maker.made(key, vector, temperature, codes))
        made.extend((branch, codes.of(branch)) for branch in extra)
        if not made:
            return n.BranchNetwork(tuple(self.nodes), ())
        branches, numbers = zip(*made, strict=True)
        codes_of_all, shapes = zip(*numbers, strict=True)
        return n.BranchNetwork(tuple(self.nodes), branches, codes_of_all, shapes)

    @property
    def is_warm(self) -> bool:
        """Whether some branch is another at another temperature."""
        return any(maker.warm for maker in self.makers)

    def add(self, name: str, make: Make, *uses: int, warm: bool = False) -> None:
        """Add a branch; uses: the places of the terms that it reads, warm: whether temperature matters."""
        self.makers.append(Maker(name, make, uses, warm))

    def without(self, name: str) -> Assembly:
        """The same assembly without one branch."""
        return replace(self, makers=[maker for maker in self.makers if maker.name != name])

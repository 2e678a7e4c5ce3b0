"""What rules may ask for: the netlist in words, its facts, computed quantities, and the builder of results."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from typing import Final, TypeVar, cast

from isolint.checking.analysis import Analysis
from isolint.checking.result_builder import ResultBuilder
from isolint.checking.rule import Rule
from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.interfaces.entities import Channel, Interfaces
from isolint.interfaces.walk import Walker
from isolint.netlist.cards import Note
from isolint.parts import PartRecord
from isolint.positions.found import NO_POSITIONS, Positions
from isolint.worstcase.budget import Meter
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.solve import Solver

TRIALS: Final = 20_000
"""What may be spent on trying cures for one channel, in solved points."""

T = TypeVar("T")


class Context(ResultBuilder):
    """One netlist as rules see it."""

    def __init__(
        self,
        netlist: str,
        circuit: Circuit,
        facts: Facts,
        interfaces: Interfaces,
        walker: Walker,
        settings_file: str,
        notes: Sequence[Note],
        record_for: Callable[[str, str | None], PartRecord | None],
        rules: Sequence[Rule],
        positions: Positions = NO_POSITIONS,
        solver: Solver | None = None,
    ) -> None:
        """solver: one that has solved networks of another netlist like this one."""
        super().__init__(netlist, circuit, facts, interfaces, settings_file, notes, rules)
        self._record_for = record_for
        self.positions = positions
        self._kept: dict[object, object] = {}
        self.lookup = Lookup(circuit, facts, walker, settings_file)
        self.analysis = Analysis(self.lookup, interfaces, solver=solver)
        self._couplings: Mapping[int, frozenset[int]] | None = None
        self._tried: dict[tuple[int, float], Context] = {}
        self._trials: Solver | None = None

    def resized(self, element: int, ohms: float) -> Context:
        """The same netlist with another value of one resistor, to try a cure; it says nothing of cures itself.

        Only what that resistor plays a part in is solved anew. What was tried with the last resistor is kept: several
        rules may ask for it.
        """
        if self._tried and next(iter(self._tried))[0] != element:
            self._tried.clear()
        if (element, ohms) not in self._tried:
            other = copy.copy(self)
            other.is_trial = True
            other._tried = {}
            other.lookup = self.lookup.resized({element: ohms})
            other.analysis = Analysis(other.lookup, self.interfaces, self.analysis, element, self.trials())
            self._tried[element, ohms] = other
        return self._tried[element, ohms]

    def trials(self) -> Solver:
        """What solves where a cure is tried: what is spent on that is not taken from what the channels may spend."""
        if self._trials is None:
            self._trials = Solver()
            self._trials.meter = Meter(own=TRIALS, channel=TRIALS, store=0)
        return self._trials

    def as_trial(self) -> Context:
        """The same netlist as it is, saying nothing of cures."""
        other = copy.copy(self)
        other.is_trial = True
        return other

    def kept(self, find: Callable[[Context], T]) -> T:
        """What a function finds in this netlist, worked out when first asked."""
        if find not in self._kept:
            self._kept[find] = find(self)
        return cast(T, self._kept[find])

    def supposing(self, interfaces: Interfaces, walker: Walker) -> Context:
        """The same netlist as if its parts were others."""
        rules = self.rulebook.rules
        return Context(
            self.netlist, self.circuit, self.facts, interfaces, walker, self.settings_file, (), self._record_for, rules
        )

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels in the order of the cards."""
        return self.interfaces.channels

    def record_of(self, element: int) -> PartRecord | None:
        """The part record that a part is known by, ordinary ones too; None where there is none."""
        return self._record_for(self.circuit.path(element), self.circuit.model_name(element))

    def coupled_to(self, inductor: int) -> frozenset[int]:
        """The inductors to which K cards couple an inductor; empty for one that stands alone."""
        if self._couplings is None:
            couplings: dict[int, frozenset[int]] = {}
            for element in self.circuit.elements_of("K"):
                prefix = self.circuit.instance_path(element)
                names = self.circuit.control_names(element)
                found = (self.circuit.find(f"{prefix}.{name}" if prefix else name) for name in names)
                windings = frozenset(winding for winding in found if winding is not None)
                for winding in windings:
                    couplings[winding] = couplings.get(winding, frozenset()) | windings - {winding}
            self._couplings = couplings
        return self._couplings.get(inductor, frozenset())

"""Nonlinear branches as the Newton iteration sees them: each linearises itself, and limits its own step.

A companion knows the slots of its nodes in the vector of unknowns. `stamp` adds its currents to the residual and
their derivatives to the matrix; `settle` takes the step that the linear system asked for, shortened where an
exponential would run away (junction limiting as in key `spice-1973`), and says nothing else. `mismatch` is how far,
in volts, the linearisation point is from the terminals: near 0 when the iteration is done.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from isolint.worstcase.devices import LedPiece

Matrix = list[list[float]]

LARGEST = 300.0
# Exponents are cut here: e^300 A is no operating point, and two of them still multiply without overflow.

_EASY = math.log(1e-5)
# Below this current an LED's logarithm may jump freely; above it the step follows the current.


class Companion(Protocol):
    """What the iteration needs of a nonlinear branch. State is a tuple of floats that `restore` takes back.

    steepness: the largest derivative of a current to a node voltage in siemens; what voltages are rounded to, times
    this, is how well the current is known.
    """

    mismatch: float

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None: ...

    def settle(self, x: list[float], step: Sequence[float]) -> None: ...

    def state(self) -> tuple[float, ...]: ...

    def restore(self, state: tuple[float, ...], x: list[float]) -> None: ...

    def currents(self) -> tuple[float, ...]: ...

    def steepness(self) -> float: ...


WEIGHT = 100.0
# The residual may be 1e-12 of the linear terms of its row, and 1e-10 of the currents of nonlinear branches.


class LedCompanion:
    """Unknown u = ln(I / 1 A) in slot `own`, equation v(anode) - v(cathode) = V(u)."""

    __slots__ = ("amps", "anode", "cathode", "mismatch", "own", "piece", "pieces", "u")

    def __init__(self, anode: int, cathode: int, own: int, pieces: tuple[LedPiece, ...], start: float) -> None:
        self.anode, self.cathode, self.own = anode, cathode, own
        self.pieces = pieces
        self.mismatch = 0.0
        self.amps = 0.0
        self.piece = 0
        self.u = start
        self._place()

    def _place(self) -> None:
        self.piece = next(i for i, piece in enumerate(self.pieces) if self.u <= piece.upper)
        self.amps = math.exp(self.u)

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None:
        anode, cathode, own = self.anode, self.cathode, self.own
        u = self.u
        _, constant, slope, ohms = self.pieces[self.piece]
        amps = self.amps
        volts = constant + slope * u + ohms * amps
        residual[anode] += amps
        residual[cathode] -= amps
        residual[own] += x[anode] - x[cathode] - volts
        scale[anode] += WEIGHT * amps
        scale[cathode] += WEIGHT * amps
        scale[own] += abs(x[anode]) + abs(x[cathode]) + abs(constant)
        matrix[anode][own] += amps
        matrix[cathode][own] -= amps
        row = matrix[own]
        row[anode] += 1.0
        row[cathode] -= 1.0
        row[own] -= slope + ohms * amps

    def settle(self, x: list[float], step: Sequence[float]) -> None:
        change = step[self.own]
        u = self.u
        # ln(1 + du) makes the step linear in the current, which is what a series resistor wants.
        new = u + (math.log1p(change) if change > -0.9999 else change)
        if u < _EASY and change > 0.0:
            new = max(new, min(u + change, _EASY))
        pieces, piece = self.pieces, self.piece
        if new > pieces[piece].upper:
            new = pieces[piece].upper
            self.piece = piece + 1
        elif piece and new < pieces[piece - 1].upper:
            new = pieces[piece - 1].upper
            self.piece = piece - 1
        self.u = x[self.own] = min(new, LARGEST)
        self.amps = math.exp(self.u)

    def state(self) -> tuple[float, ...]:
        return (self.u,)

    def restore(self, state: tuple[float, ...], x: list[float]) -> None:
        self.u = x[self.own] = state[0]
        self._place()

    def currents(self) -> tuple[float, ...]:
        return (self.amps,)

    def steepness(self) -> float:
        return 0.0


class PortCompanion:
    """Equation v(a) - v(ref) = f(i) of a piecewise-linear source; the linear part stands in the matrix already."""

    __slots__ = ("factor", "i", "mismatch", "own", "piece", "pieces")

    SLOPE = 1e-6
    # Ohms added to every segment: settles how equal ports in parallel share a current.

    def __init__(self, own: int, table: Sequence[tuple[float, float]]) -> None:
        self.own = own
        pieces: list[tuple[float, float, float]] = []
        for (i0, v0), (i1, v1) in pairwise(table):
            slope = (v1 - v0) / (i1 - i0)
            pieces.append((i1, v0 - slope * i0, slope - self.SLOPE))
        if not pieces:
            pieces.append((math.inf, table[0][1], -self.SLOPE))
        pieces[-1] = (math.inf, *pieces[-1][1:])
        self.pieces = pieces
        self.i = 0.0
        self.piece = 0
        self.mismatch = 0.0
        self.factor = 1.0
        self._place()

    def _place(self) -> None:
        self.piece = next(k for k, piece in enumerate(self.pieces) if self.i <= piece[0])

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None:
        own = self.own
        _, constant, slope = self.pieces[self.piece]
        constant *= self.factor
        # The unknown may lie past the end of the piece; it counts on the piece's line until `settle` moves on.
        residual[own] -= constant + slope * x[own]
        scale[own] += abs(constant)
        matrix[own][own] -= slope

    def settle(self, x: list[float], step: Sequence[float]) -> None:
        i, pieces, piece = x[self.own], self.pieces, self.piece
        self.mismatch = 0.0
        if i > pieces[piece][0]:
            self.piece = piece + 1
            i = pieces[piece][0]
        elif piece and i < pieces[piece - 1][0]:
            self.piece = piece - 1
            i = pieces[piece - 1][0]
        self.i = x[self.own] = i

    def state(self) -> tuple[float, ...]:
        return (self.i,)

    def restore(self, state: tuple[float, ...], x: list[float]) -> None:
        self.i = x[self.own] = state[0]
        self._place()

    def currents(self) -> tuple[float, ...]:
        return (self.i,)

    def steepness(self) -> float:
        return 0.0

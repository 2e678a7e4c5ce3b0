"""One line written otherwise that cures an item: offered only where it was tried and nothing else gets worse.

Only in a netlist that no schematic tool writes, and only the value of one resistor whose card is one line; the line
stays byte for byte but for the value.
"""

from __future__ import annotations

import copy
import re

from isolint.app import Options, judge
from isolint.errors import IsolintError
from isolint.netlist.card_values import read_value
from isolint.netlist.cards import Cards
from isolint.preparing import Instead
from isolint.reports.escape import is_harmful
from isolint.review.classing import WORSE, Classed
from isolint.review.findings import Finding, Revision
from isolint.review.values import COUNTING, Suggestion
from isolint.source import Tree
from isolint.worstcase.budget import Meter

MOST_TRIED = 4
"""Suggestions that are tried for one netlist."""
MOST_LINE = 200

_CURE = re.compile(r"(\S+) \([^()\s]+:\d+\): ([\d.]+) (m|k|M|G|)ohm or (?:more|less)\b")
_SCALES = {"m": (1e-3, "m"), "": (1.0, ""), "k": (1e3, "k"), "M": (1e6, "Meg"), "G": (1e9, "G")}
_TOKEN = re.compile(r"\S+")


class Suggestions:
    """Suggestions for the items of one netlist."""

    def __init__(self, new: Revision, tree: Tree, options: Options) -> None:
        self._new, self._tree, self._options = new, tree, options
        self._left = MOST_TRIED

    def of(self, item: Classed) -> Suggestion | None:
        """The line that cures an item, None where there is none, or none that may be offered."""
        after = item.after
        if item.state not in COUNTING or after is None or after.kind != "fail":
            return None
        exported = self._new.judged.context.facts.reading.exported
        if exported is not None and exported.value:
            return None  # the next export would undo it
        found = _CURE.match(after.result.remedy)
        element = None if found is None else self._new.judged.context.circuit.find(found[1])
        if found is None or element is None or self._new.judged.context.circuit.letter(element) != "R":
            return None
        factor, suffix = _SCALES[found[3]]
        line = self._line(element, f"{found[2]}{suffix}")
        if line is None or self._left == 0:
            return None
        self._left -= 1
        return line if self._cures(after, element, float(found[2]) * factor) else None

    def _line(self, element: int, value: str) -> Suggestion | None:
        """The line with another value, if the card is one plain line."""
        circuit = self._new.judged.context.circuit
        place = circuit.place(element)
        try:
            lines = self._tree.read(place.file).decode("utf-8").split("\n")
        except (IsolintError, UnicodeDecodeError):
            return None
        before = lines[place.line - 1] if place.line <= len(lines) else ""
        following = lines[place.line] if place.line < len(lines) else ""
        plain = before.rstrip("\r")
        words = list(_TOKEN.finditer(plain))
        if following.lstrip().startswith("+") or len(plain) > MOST_LINE or "`" in plain or len(words) < 4:
            return None
        named = words[0][0].casefold() == circuit.name(element).casefold()
        if not named or any(is_harmful(character) for character in plain):
            return None
        written, own = read_value(words[3][0]), circuit.value(element)
        if written is None or own is None or abs(written - own) > 1e-9 * abs(own):
            return None  # the value stands elsewhere, or something else than this line decides it
        after = f"{plain[: words[3].start()]}{value}{plain[words[3].end() :]}"
        return Suggestion(place.file, place.line, plain, after)

    def _cures(self, after: Finding, element: int, ohms: float) -> bool:
        """Judge the netlist with that value: the failure is gone, and nothing fails or is open that was not so bad."""
        context = self._new.judged.context
        solver = context.analysis.solver
        kept, solver.meter = solver.meter, Meter()
        try:
            cards = _with_value(self._new, element, ohms)
            judged = judge(self._tree, self._new.path, "", self._options, instead=Instead(cards, solver))
            trial = Revision(judged)
        except (IsolintError, LookupError, ValueError):
            return False
        finally:
            solver.meter = kept
        before = {_key(finding): finding for finding in self._new.findings if finding.kind in ("fail", "open")}
        now = {_key(finding): finding for finding in trial.findings if finding.kind in ("fail", "open")}
        return _key(after) not in now and all(
            key in before and before[key].kind == finding.kind and finding.harm <= WORSE * before[key].harm
            for key, finding in now.items()
        )


def _key(finding: Finding) -> tuple[str, str, str]:
    return finding.result.rule, finding.result.subject, finding.result.role


def _with_value(new: Revision, element: int, ohms: float) -> Cards:
    circuit = new.judged.context.circuit
    instance, index = circuit.locate(element)
    number = circuit.block(instance).scope
    scope = copy.copy(new.judged.cards.scopes[number])
    scope.values = list(scope.values)
    scope.values[index] = ohms
    scopes = list(new.judged.cards.scopes)
    scopes[number] = scope
    return new.judged.cards._replace(scopes=tuple(scopes))

"""Switches in series with resistors across each, which share the voltage among them while all are off.

In: an analysis and a channel. Out: the row that it lies in, or why its resistors share nothing; its share of a voltage
across the row as a figure. Only a row that one state switches off as a whole shares anything: while another switch of
it conducts, this one has all of the voltage. Capacitors count on alternating supplies, and must be alike.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from isolint.checking.once import once
from isolint.checking.switch_rows import Member, RowBranch, in_series
from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel, Pair
from isolint.results import Evidence
from isolint.worstcase.companions import pair_key
from isolint.worstcase.figures import Figure, total
from isolint.worstcase.topology import listed
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

if TYPE_CHECKING:
    from isolint.checking.analysis import Analysis

TIMES_LEAKAGE: Final = 10.0
"""By how much the current of resistors must exceed a leakage so that they share the voltage (common practice)."""

SHARE: Final = "V_share"

ALIKE: Final = 1e-6


class SwitchRow(NamedTuple):
    """Switches in series that are off together: the own one and the others."""

    own: Member
    others: tuple[Member, ...]

    @property
    def resistors(self) -> tuple[int, ...]:
        """The resistors across all of its switches."""
        return tuple(e for member in (self.own, *self.others) for e in member.resistors)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """The outputs of the others."""
        return tuple(pair for member in self.others for pair in own_pairs(member.channel))

    @property
    def keys(self) -> tuple[int, ...]:
        """What states call the outputs of the others."""
        return tuple(pair_key(pair) for pair in self.pairs)


class Unshared(NamedTuple):
    """Why the resistors across switches in series share no voltage, in words."""

    resistors: tuple[int, ...]
    why: str
    pairs: tuple[Pair, ...] = ()


Passing = Callable[[Channel, Setting], tuple[Figure, tuple[Term, ...]]]
"""Amperes that the output of a channel passes while it is off, and what they rest on."""


@once
def equalised(analysis: Analysis, channel: Channel) -> SwitchRow | Unshared | None:
    """The row of switches that a channel lies in; None where it lies in none, or nothing lies across any of them."""
    found = in_series(analysis, channel)
    if found is None or not any(member.resistors for member in found):
        return None
    own, *others = found
    row = SwitchRow(own, tuple(others))
    why = _obstacle(analysis, row)
    return Unshared(row.resistors, why, row.pairs) if why else row


def _obstacle(analysis: Analysis, row: SwitchRow) -> str:
    """Why the switches of a row do not share the voltage across it, in words; "" where they do."""
    members = (row.own, *row.others)
    for member in members:
        if not member.resistors:
            return f"no resistor lies across {member.channel.subject}"
    for other in row.others:
        if not _together(analysis, row.own.channel, other.channel):
            return f"{other.channel.subject} may conduct while it is off"
    farads = [sum(_farads(analysis, branch) for branch in member.across) for member in members]
    return "the capacitors across them are not alike" if max(farads) - min(farads) > ALIKE * max(farads) else ""


def pairs_in_series(analysis: Analysis, channel: Channel) -> Sequence[Pair]:
    """The outputs in series with that of a channel that have resistors across: it decides where all of them conduct."""
    found = equalised(analysis, channel)
    return () if found is None else found.pairs


def pairs_off_with(analysis: Analysis, channel: Channel) -> Sequence[Pair]:
    """Those that are off whenever the output of the channel is."""
    found = equalised(analysis, channel)
    return found.pairs if isinstance(found, SwitchRow) else ()


def shared(
    analysis: Analysis,
    row: SwitchRow,
    whole: Figure,
    passing: Passing,
    setting: Setting,
    alternating: bool = False,
    solved: Figure | None = None,
) -> tuple[Figure, tuple[Term, ...]]:
    """The largest voltage across the own switch of a row with `whole` across all of it, and what it rests on.

    All of it where the resistors carry less than ten times what one of the switches passes while it is off. solved: its
    share where that is known but for what the switches pass.
    """
    terms: list[Term] = []
    leaks: list[Figure] = []
    beside: list[Figure] = []
    small = True
    for member in (row.own, *row.others):
        most, spreads = ohms(analysis, member, setting, True)
        amps, rests = passing(member.channel, setting)
        terms += [*spreads, *rests]
        small = small and most * amps.si * TIMES_LEAKAGE <= whole.si
        if member is not row.own:
            least, _ = ohms(analysis, member, setting, False)
            beside.append(Figure(f"R_{member.channel.subject}", least, "ohm"))
            leaks.append(amps * beside[-1])
    if not small:
        return whole, unique(terms)
    own, _ = ohms(analysis, row.own, setting, True)
    name = " and ".join(analysis.lookup.circuit.path(e) for e in row.own.resistors)
    mine = Figure("R_own", own, "ohm", name)
    rest = total(beside).called("R_rest", "ohm", "resistors across the others")
    lost = total(leaks).called("V_leak", "V", "what the others pass, over their resistors")
    words = f"{whole.name}, its share among {1 + len(row.others)}"
    share = (whole + lost) * mine / (mine + rest) if solved is None else solved + lost * mine / (mine + rest)
    share = share.called(SHARE, "V", words, at=whole.at if solved is None else solved.at, source=whole.source)
    if alternating and row.own.across and any(branch.capacitors for branch in row.own.across):
        share, more = _by_capacitors(analysis, row, whole, share, setting)
        terms += more
    return (share if share.si < whole.si else whole), unique(terms)


def unshared_words(analysis: Analysis, row: SwitchRow | Unshared | None, figure: Figure) -> str:
    """Why resistors across switches in series leave a voltage as it is; "" where they do not, or there are none."""
    if row is None or share_evidence(figure):
        return ""
    resistors = row.resistors
    why = row.why if isinstance(row, Unshared) else "a switch may pass more than a tenth of their current"
    paths = [analysis.lookup.circuit.path(element) for element in resistors]
    verb = "shares" if len(paths) == 1 else "share"
    return f"; {listed(paths)} {verb} none of it: {why}"


def share_evidence(figure: Figure) -> tuple[Evidence, ...]:
    """How the share was computed that a figure rests on; nothing where it rests on none."""
    if figure.symbol == SHARE:
        return (figure.evidence(),)
    return next((found for operand in figure.operands if (found := share_evidence(operand))), ())


def _by_capacitors(
    analysis: Analysis, row: SwitchRow, whole: Figure, share: Figure, setting: Setting
) -> tuple[Figure, tuple[Term, ...]]:
    """The larger of the share by resistors and that by capacitors, which are alike but for their tolerance."""
    spreads = unique(
        analysis.lookup.tolerance(e) for member in (row.own, *row.others) for b in member.across for e in b.capacitors
    )
    low = Figure("", 1.0 + min(setting.low(term) for term in spreads))
    high = Figure("", 1.0 + max(setting.high(term) for term in spreads))
    others = Figure("", float(len(row.others)))
    parted = (whole * high / (high + others * low)).called(SHARE, "V", share.name, source=whole.source)
    return (parted if parted.si > share.si else share), spreads


def ohms(analysis: Analysis, member: Member, setting: Setting, largest: bool) -> tuple[float, tuple[Term, ...]]:
    """What lies across a switch of a row, all of it together; the tolerances that it rests on."""
    siemens, terms = 0.0, dict[Term, None]()
    for branch in member.across:
        if branch.capacitors:
            continue
        value = 0.0
        for element in branch.resistors:
            spread = analysis.lookup.tolerance(element)
            terms[spread] = None
            off = setting.high(spread) if largest else setting.low(spread)
            value += (analysis.lookup.ohms(element) or 0.0) * (1.0 + off)
        siemens += 1.0 / value
    return 1.0 / siemens, tuple(terms)


def _farads(analysis: Analysis, branch: RowBranch) -> float:
    values = [analysis.lookup.circuit.value(e) for e in branch.capacitors]
    return 1.0 / sum(1.0 / value for value in values if value) if values and all(values) else 0.0


def _together(analysis: Analysis, channel: Channel, other: Channel) -> bool:
    """Whether two LEDs are lit in the same states of what drives both, so that their outputs are off together."""
    if any("anode" not in each.pins for each in (channel, other)):
        return False
    try:
        drives = analysis.drives()
        states = drives.states(channel)
        if len(states) < 2 or {k for k, _ in drives.inputs(channel)} != {k for k, _ in drives.inputs(other)}:
            return False
        currents = [[drives.led_current(each, state) for state in states] for each in (channel, other)]
    except Lacking:
        return False
    lit = [[amps > max(row) / 2.0 for amps in row] for row in currents]
    return lit[0] == lit[1]

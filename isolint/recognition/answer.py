"""What is said of a subcircuit: answered, asked with a few alternatives, or none of these parts; with its text dump."""

from __future__ import annotations

from typing import Literal, NamedTuple

from isolint.recognition.typical_values import Typical
from isolint.types.form.constructions import Make

Channel = tuple[tuple[int, ...], tuple[int, ...]]
"""Input ports and output ports."""

Answer = Literal["answered", "asked", "none"]

ORDINARY = "ordinary"


class StructureVerdict(NamedTuple):
    """What the structure of a subcircuit says.

    answer: "answered" (type and all pins are known), "asked" (one of `choices` is right, the pins in `doubtful` are to
    be confirmed), "none" (no coupler or other barrier part by its structure). type: the answer, or the likeliest of the
    choices, "" where none is likelier. choices: types, with "ordinary" where it may be no barrier part. pins: for each
    port of the header a name as in a part record, "" where it can't be told, "nc" for one that nothing touches.
    groups: ports that conduct to each other, by index. channels: of couplers. sensing: how the light is sensed:
    "current", "voltage", "weak", "". bidirectional: the input is for alternating current. why: in words. make: how its
    output, or it as a whole, is made; None where no pattern fits.
    """

    answer: Answer
    type: str = ""
    choices: tuple[str, ...] = ()
    pins: tuple[str, ...] = ()
    groups: tuple[tuple[int, ...], ...] = ()
    channels: tuple[Channel, ...] = ()
    doubtful: tuple[int, ...] = ()
    sensing: str = ""
    bidirectional: bool = False
    typical: Typical = Typical()
    why: str = ""
    make: Make | None = None

    @property
    def is_answered(self) -> bool:
        """Whether type and pins are known."""
        return self.answer == "answered"

    @property
    def is_asked(self) -> bool:
        """Whether it may be a barrier part and somebody has to say."""
        return self.answer == "asked"

    def dump(self, names: tuple[str, ...]) -> str:
        """One screen of text for tests; `names` are those of the ports."""
        lines = [f"({self.answer} {self.type or '?'}{f' by {self.sensing}' if self.sensing else ''}"]
        if self.choices:
            lines.append(f"  choices: {', '.join(self.choices)}")
        if self.groups:
            lines.append("  groups: " + " | ".join(self._group(group, names) for group in self.groups))
        for inputs, outputs in self.channels:
            lines.append(f"  channel: {self._group(inputs, names)} -> {self._group(outputs, names)}")
        if self.doubtful:
            lines.append("  confirm: " + " ".join(names[port] for port in self.doubtful))
        if self.bidirectional:
            lines.append("  input for alternating current")
        if self.typical.forward_voltage is not None:
            lines.append(f"  VF {self.typical.forward_voltage:.3g} V")
        if self.typical.ratios:
            shown = ", ".join(f"{ratio:.3g} at {current * 1e3:g} mA" for current, ratio in self.typical.ratios)
            lines.append(f"  ratio {shown}")
        if self.why:
            lines.append(f"  because {self.why}")
        return "\n".join(lines) + ")"

    def _group(self, group: tuple[int, ...], names: tuple[str, ...]) -> str:
        return " ".join(f"{names[port]}={self.pins[port] or '?'}" if self.pins else names[port] for port in group)


def none(why: str) -> StructureVerdict:
    """Not a barrier part by its structure."""
    return StructureVerdict("none", why=why)

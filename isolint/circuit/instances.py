"""The instance tree: definitions with their nets numbered, and where each is placed."""

from __future__ import annotations

from dataclasses import dataclass, field

TOP = 0
"""The number of the highest instance."""


@dataclass(slots=True, eq=False, repr=False)
class Definition:
    """One scope with its nets numbered: ports first, then local nets.

    net_names: as first written. pins: local net numbers of each element. globals_used: local net number by global name;
    global_of: the net at the top by local net number. A port of that name hides a global net.
    """

    scope: int
    net_names: list[str]
    port_count: int
    pins: list[tuple[int, ...]]
    controls: dict[int, tuple[int, ...]]
    globals_used: dict[str, int]
    by_name: dict[str, int]
    net_by_name: dict[str, int]
    global_of: dict[int, int] = field(default_factory=dict)
    _at: list[list[int]] = field(default_factory=list)

    def at(self, net: int) -> list[int]:
        """The elements that touch a local net, ascending, twice where they do; worked out when first asked."""
        if not self._at:
            self._at = [[] for _ in self.net_names]
            for element, nets in enumerate(self.pins):
                for local in nets:
                    self._at[local].append(element)
        return self._at[net] if net < len(self._at) else []


@dataclass(slots=True, eq=False, repr=False)
class Instances:
    """The instance tree in columns; instance 0 is the top level. globals: net at the top by lower-case name."""

    definition: list[Definition] = field(default_factory=list)
    parent: list[int] = field(default_factory=list)
    element: list[int] = field(default_factory=list)
    element_base: list[int] = field(default_factory=list)
    net_base: list[int] = field(default_factory=list)
    children: dict[int, int] = field(default_factory=dict)
    by_scope: dict[int, list[int]] = field(default_factory=dict)
    globals: dict[str, int] = field(default_factory=dict)

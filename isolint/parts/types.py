"""What a part can be, as names for the words of the `type` key."""

from __future__ import annotations

from typing import Final

from isolint.tables import PART_TYPES

PHOTOTRANSISTOR: Final = "phototransistor"
PHOTODARLINGTON: Final = "photodarlington"
PHOTO_SCR: Final = "photo-scr"
PHOTOTRIAC: Final = "phototriac"
LINEAR: Final = "linear"
LOGIC_OUTPUT: Final = "logic-output"
GATE_DRIVER: Final = "gate-driver"
PHOTOVOLTAIC: Final = "photovoltaic"
MOSFET_OUTPUT: Final = "mosfet-output"
DIGITAL_ISOLATOR: Final = "digital-isolator"
ISOLATED_AMPLIFIER: Final = "isolated-amplifier"
RELAY: Final = "relay"
TRANSFORMER: Final = "transformer"
ISOLATED_SUPPLY: Final = "isolated-supply"
ORDINARY: Final = "ordinary"

TYPES = PART_TYPES
TRANSISTOR_TYPES = (PHOTOTRANSISTOR, PHOTODARLINGTON)
"""Types whose output follows a transfer ratio into a transistor."""

COUPLERS = tuple(kind for kind in TYPES if kind not in (TRANSFORMER, ISOLATED_SUPPLY, ORDINARY))
"""Types that pass a signal."""

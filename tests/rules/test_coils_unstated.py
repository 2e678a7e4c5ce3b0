"""What is said of a relay's coil of which nothing tells when it releases."""

from __future__ import annotations

from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[supplies."V24"]
voltage = "24 V"
tolerance = "2 %"
ground = "GND"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[outputs."SINK"]
supply = "V5"
drive = "open-drain"
low = { max = "0.2 V", at = "50 mA" }
sink_max = "50 mA"
off_leakage = "1 uA"
voltage_max = "60 V"
[environment]
ambient = ["0 degC", "60 degC"]
"""
RECORD = """
[parts.DEMO_KX]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_KX.coil]
resistance = "1440 ohm"
pull_in = "16 V"
voltage_max = "31 V"
internal_clamp = true
"""
BOARD = """* relay
XK1 V24 SINK VB NO DEMO_KX
R1 NO GNDB 1k
"""


def test_the_line_that_is_asked_for_is_what_the_sentence_says_is_missing() -> None:
    result = only(judge(BOARD, FACTS, parts__toml=RECORD), "drop-out-missed")
    assert result.kind == "open"
    assert [fact.key for fact in result.missing] == ["parts.DEMO_KX.coil.drop_out"]
    assert "drop-out voltage of XK1 is not stated" in result.message


def test_stating_it_judges_the_coil() -> None:
    stated = f'{RECORD}drop_out = "1.2 V"\n'
    result = only(judge(BOARD, FACTS, parts__toml=stated), "drop-out-missed")
    assert result.kind == "pass"

from __future__ import annotations

import pytest

from isolint.interfaces import Channel
from isolint.interfaces.interface_dump import dump
from tests.interfaces.finding import FoundBoard, board


def nets(found: FoundBoard, channel: Channel) -> dict[str, str]:
    """Net name by role."""
    return {role: found.circuit.net_name(net) for role, net in channel.pins.items()}


def test_a_board_as_text() -> None:
    found = board(
        """
        R1 DRIVE LED_A 470
        XU1 LED_A GND GNDF OUT DEMO_PT1
        R2 +24V OUT 10k
        XK1 +24V COIL +24V VALVE NC DEMO_K1
        XU9 OUT GNDF DEMO_MCU
        """,
        '[outputs."DRIVE"]\nsupply = "+5V"',
    )
    lines = dump(found.interfaces, found.circuit).splitlines()
    assert lines[:6] == [
        "(coupler XU1 phototransistor in=LED_A,GND out=OUT,GNDF @board.cir:3)",
        "  (drive R1: ground GND, output DRIVE)",
        "  (load R2: part OUT by XU9, ground GNDF, supply +24V)",
        "(part XU1 phototransistor by record: anode=LED_A,cathode=GND | emitter=GNDF,collector=OUT)",
        "(part XK1 relay by record: coil=+24V,coil=COIL | contact=+24V,contact=VALVE,contact=NC)",
        "(unknown XU9: no subcircuit and no part record say what it is)",
    ]
    assert any(line.startswith("(side ") for line in lines[6:])


def test_a_single_coupler_has_one_channel_without_a_name() -> None:
    found = board("XU1 a k e c DEMO_PT1")
    (channel,) = found.channels
    assert (channel.subject, channel.name) == ("XU1", "")
    assert nets(found, channel) == {"anode": "a", "cathode": "k", "emitter": "e", "collector": "c"}


def test_channels_stand_in_the_order_of_the_cards() -> None:
    found = board(
        "XU2 a k e c DEMO_PT1\nXs 1 2 3 4 s\nXU1 a k e c DEMO_PT1\n.subckt s a k e c\nXU9 a k e c DEMO_PT1\n.ends"
    )
    assert [channel.subject for channel in found.channels] == ["XU2", "XU1", "Xs.XU9"]


DUAL = """
[parts.DEMO_D8]
type = "phototransistor"
pins = ["anode1", "cathode1", "cathode2", "anode2", "emitter2", "collector2", "collector1", "emitter1"]
{channels}
"""
STATED = """
[[parts.DEMO_D8.channels]]
name = "up"
input = ["anode1", "cathode1"]
output = ["collector1", "emitter1"]
[[parts.DEMO_D8.channels]]
name = "down"
input = ["anode2", "cathode2"]
output = ["collector2", "emitter2"]
"""


@pytest.mark.parametrize(("channels", "names"), [(STATED, ("up", "down")), ("", ("1", "2"))])
def test_a_dual_coupler_has_two_channels_stated_or_told_by_its_pin_names(channels: str, names: tuple[str, str]) -> None:
    found = board("XU1 a1 k1 k2 a2 e2 c2 c1 e1 DEMO_D8", "", DUAL.format(channels=channels))
    assert [channel.subject for channel in found.channels] == [f"XU1 channel {name}" for name in names]
    assert nets(found, found.channels[0]) == {"anode": "a1", "cathode": "k1", "collector": "c1", "emitter": "e1"}
    assert nets(found, found.channels[1]) == {"anode": "a2", "cathode": "k2", "collector": "c2", "emitter": "e2"}


def test_a_dual_logic_coupler_shares_its_supply_pins() -> None:
    # anode1 cathode1 cathode2 anode2 gnd out2 out1 vcc
    found = board("XU1 a1 k1 k2 a2 g o2 o1 v DEMO_LO2")
    first, second = (nets(found, channel) for channel in found.channels)
    assert first == {"anode": "a1", "cathode": "k1", "output": "o1", "supply": "v", "ground": "g"}
    assert second == {"anode": "a2", "cathode": "k2", "output": "o2", "supply": "v", "ground": "g"}


def test_supply_pins_come_from_the_output_s_own_group() -> None:
    two = """
[parts.DEMO_L2]
type = "logic-output"
pins = ["anode1", "cathode1", "anode2", "cathode2", "vcc1", "out1", "gnd1", "vcc2", "out2", "gnd2"]
groups = [["anode1", "cathode1"], ["anode2", "cathode2"], ["vcc1", "out1", "gnd1"], ["vcc2", "out2", "gnd2"]]
[[parts.DEMO_L2.channels]]
input = ["anode1", "cathode1"]
output = ["out1"]
[[parts.DEMO_L2.channels]]
input = ["anode2", "cathode2"]
output = ["out2"]
"""
    found = board("XU1 a1 k1 a2 k2 v1 o1 g1 v2 o2 g2 DEMO_L2", "", two)
    assert [(n["supply"], n["ground"]) for n in (nets(found, c) for c in found.channels)] == [
        ("v1", "g1"),
        ("v2", "g2"),
    ]


def test_a_dual_coupler_without_a_record_is_paired_as_its_subcircuit_says() -> None:
    half = "D{n} A{n} N{n} DLED\nV{n} N{n} K{n} 0\nF{n} C{n} B{n} V{n} 2m\nQ{n} C{n} B{n} E{n} QDET\n"
    ports = "A1 K1 K2 A2 E2 C2 C1 E1"
    text = f".subckt DEMO_OPTO2 {ports}\n{half.format(n=1)}{half.format(n=2)}.model DLED D\n.model QDET NPN\n.ends"
    found = board(f"XU1 {ports.lower()} DEMO_OPTO2\n{text}")
    assert [nets(found, channel)["collector"] for channel in found.channels] == ["c1", "c2"]
    assert [nets(found, channel)["anode"] for channel in found.channels] == ["a1", "a2"]
    assert [channel.name for channel in found.channels] == ["1", "2"]


def test_parts_that_are_only_cut_have_no_channels() -> None:
    assert board("XK1 1 2 3 4 5 DEMO_K1\nXT1 1 2 3 4 DEMO_T1\nXP1 1 2 3 4 DEMO_IS1").channels == ()

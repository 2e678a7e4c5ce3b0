"""Pins are placed by their names, never by their position; what names don't tell is asked for."""

from __future__ import annotations

import random

import pytest

from isolint.parts import derive_channels, derive_groups, role_of

# type, pins, groups as text
PLACED = [
    ("phototransistor", "A K C E", "A K | C E"),
    ("phototransistor", "A K E C B", "A K | E C B"),
    ("phototransistor", "K A C E B NC", "K A | C E B | NC"),
    ("phototransistor", "A1 A2 C E", "A1 A2 | C E"),
    ("phototransistor", "A K C E A1 K1 C1 E1", "A K | C E | A1 K1 | C1 E1"),
    ("phototransistor", "A1 K1 A2 K2 C1 C2 E", "A1 K1 | A2 K2 | C1 C2 E"),
    ("photodarlington", "LED+ LED- Collector Emitter", "LED+ LED- | Collector Emitter"),
    ("phototriac", "A K MT2 MT1", "A K | MT2 MT1"),
    ("phototriac", "A C T2 T1", "A C | T2 T1"),
    ("photo-scr", "anode cathode scr_anode scr_cathode gate", "anode cathode | scr_anode scr_cathode gate"),
    ("mosfet-output", "A K D1 D2", "A K | D1 D2"),
    ("photovoltaic", "anode cathode out+ out-", "anode cathode | out+ out-"),
    ("logic-output", "A C VEE VO VCC", "A C | VEE VO VCC"),
    ("logic-output", "DA DK GND VO VE VCC", "DA DK | GND VO VE VCC"),
    ("logic-output", "a1 k1 k2 a2 gnd out2 out1 vcc", "a1 k1 | k2 a2 | gnd out2 out1 vcc"),
    ("linear", "A C A1 C1 A2 C2", "A C | A1 C1 | A2 C2"),
    ("linear", "LED- LED+ PD1- PD1+ PD2+ PD2-", "LED- LED+ | PD1- PD1+ | PD2+ PD2-"),
    ("gate-driver", "anode cathode vee vout vcc", "anode cathode | vee vout vcc"),
    (
        "gate-driver",
        "VIA VIB VDD1 GND1 GNDB VOB VDDB GNDA VOA VDDA",
        "VIA VIB VDD1 GND1 | GNDB VOB VDDB | GNDA VOA VDDA",
    ),
    ("gate-driver", "anode cathode vcc2 ve vee vout desat clamp", "anode cathode | vcc2 ve vee vout desat clamp"),
    ("gate-driver", "vdd1 in gnd1 gnd2 out clamp desat vdd2", "vdd1 in gnd1 | gnd2 out clamp desat vdd2"),
    ("isolated-amplifier", "VDD1 VI+ VI- GND1 GND2 VO- VO+ VDD2", "VDD1 VI+ VI- GND1 | GND2 VO- VO+ VDD2"),
    ("digital-isolator", "VDD1 INA INB GND1 GND2 OUTB OUTA VDD2", "VDD1 INA INB GND1 | GND2 OUTB OUTA VDD2"),
    ("digital-isolator", "VDD1 IN GND1 GND2 EN2 OUT VDD2", "VDD1 IN GND1 | GND2 EN2 OUT VDD2"),
    ("relay", "coil1 coil2 com no nc", "coil1 coil2 | com no nc"),
    ("relay", "A1 A2 11 12 14 21 22 24", "A1 A2 | 11 12 14 | 21 22 24"),
    ("relay", "coil+ coil- contact1 contact2", "coil+ coil- | contact1 contact2"),
    ("relay", "coil_1 coil_2 com1 no1 com2 no2", "coil_1 coil_2 | com1 no1 | com2 no2"),
    ("transformer", "primary1 primary2 secondary1 secondary2", "primary1 primary2 | secondary1 secondary2"),
    ("transformer", "p1 p2 s1 s2 s3", "p1 p2 | s1 s2 s3"),
    ("isolated-supply", "+IN -IN +OUT 0V -OUT", "+IN -IN | +OUT 0V -OUT"),
    ("isolated-supply", "+vin -vin +vout -vout", "+vin -vin | +vout -vout"),
    ("isolated-supply", "vin gnd vout 0v", "vin gnd | vout 0v"),
    ("isolated-supply", "vin gnd1 vout gnd2", "vin gnd1 | vout gnd2"),
    ("ordinary", "a b c", "a b c"),
]  # fmt: skip

IN_DOUBT = [
    ("phototransistor", "1 2 3 4", "1 2 3 4"),
    ("phototransistor", "anode cathode what emitter", "what"),
    ("isolated-supply", "vin gnd vout", "gnd"),
    ("isolated-supply", "vin+ vin- vout gnd", "gnd"),
    ("digital-isolator", "VDD1 INA OUTB GND1 GND2 INB OUTA VDD2", "VDD1 INA OUTB GND1 GND2 INB OUTA VDD2"),
    ("mosfet-output", "a1 k1 a2 k2 d1 d2 d3 d4", "d1 d2 d3 d4"),
    ("digital-isolator", "VDD GND IN OUT VDD2 GND2", "VDD GND"),
    ("digital-isolator", "VDD1 GND1 IN1 OUT2 VDD2 GND2 OUT1 IN2", "VDD1 GND1 IN1 OUT2 VDD2 GND2 OUT1 IN2"),
    ("isolated-amplifier", "VDD1 GND1 IN1 OUT2 VDD2 GND2 OUT1 IN2", "VDD1 GND1 IN1 OUT2 VDD2 GND2 OUT1 IN2"),
    ("gate-driver", "vcc1 gnd1 fault anode cathode vcc2 ve vee vout desat clamp", "vcc1 gnd1 fault"),
    ("gate-driver", "vcci gndi ready reset in anode cathode vcc2 gnd2 vout", "vcci gndi ready reset in"),
    ("gate-driver", "vcc gnd anode cathode vcc2 gnd2 vout", "vcc gnd"),
    ("gate-driver", "vdd1 in gnd1 rdy reset gnd2 out clamp desat vdd2", "rdy reset"),
    ("gate-driver", "a1 k1 a2 k2 vcc1 out1 gnd1 vcc2 out2 gnd2", "vcc1 gnd1"),
]


def grouped(pins: list[str], type_: str) -> set[frozenset[str]]:
    groups, _ = derive_groups(pins, type_)
    return {frozenset(pins[index] for index in group) for group in groups}


@pytest.mark.parametrize(("type_", "pins", "groups"), PLACED)
def test_names_tell_the_port_groups(type_: str, pins: str, groups: str) -> None:
    names = pins.split()
    found, doubtful = derive_groups(names, type_)
    assert doubtful == ()
    assert " | ".join(" ".join(names[index] for index in group) for group in found) == groups


@pytest.mark.parametrize(("type_", "pins", "groups"), PLACED)
def test_the_order_of_pins_does_not_matter_unless_sides_interleave(type_: str, pins: str, groups: str) -> None:
    names = pins.split()
    wanted = grouped(names, type_)
    shuffled = random.Random(1)
    for _ in range(10):
        shuffled.shuffle(names)
        assert grouped(names, type_) in (wanted, set())


@pytest.mark.parametrize(("type_", "pins", "doubtful"), IN_DOUBT)
def test_what_names_do_not_tell_is_not_guessed(type_: str, pins: str, doubtful: str) -> None:
    assert derive_groups(pins.split(), type_) == ((), tuple(doubtful.split()))


@pytest.mark.parametrize(
    ("pin", "type_", "role"),
    [
        ("Anode", "phototransistor", "anode"),
        ("LED_K", "logic-output", "cathode"),
        ("c", "phototransistor", "collector"),
        ("c", "phototriac", "cathode"),
        ("nc", "phototransistor", "none"),
        ("nc", "relay", "contact"),
        ("A1", "relay", "coil"),
        ("A1", "linear", "photodiode"),
        ("VCC2", "digital-isolator", "supply"),
        ("GNDA", "gate-driver", "ground"),
        ("FAULT", "gate-driver", "status"),
        ("RST", "gate-driver", "enable"),
        ("DESAT", "gate-driver", "sense"),
        ("EN", "logic-output", "enable"),
        ("INP", "isolated-amplifier", "input"),
        ("+VIN", "isolated-supply", "supply"),
        ("0V", "isolated-supply", "ground"),
        ("sec_1", "transformer", "winding"),
        ("7", "phototransistor", ""),
        ("7", "ordinary", "pin"),
    ],
)
def test_a_pin_has_a_role_by_name_and_type(pin: str, type_: str, role: str) -> None:
    assert role_of(pin, type_) == role


@pytest.mark.parametrize(
    ("type_", "pins", "channels"),
    [
        ("phototransistor", "A K E C B", [("1", "A K", "E C B")]),
        ("logic-output", "a1 k1 k2 a2 gnd vo2 vo1 vcc", [("1", "a1 k1", "vo1"), ("2", "k2 a2", "vo2")]),
        ("digital-isolator", "VDD1 INA INB GND1 GND2 OUTB OUTA VDD2", [("a", "INA", "OUTA"), ("b", "INB", "OUTB")]),
        ("digital-isolator", "VDD1 IN GND1 GND2 OUT VDD2", [("1", "IN", "OUT")]),
        ("isolated-amplifier", "VDD1 VI+ VI- GND1 GND2 VO- VO+ VDD2", [("1", "VI+ VI-", "VO- VO+")]),
        ("linear", "A C A1 C1 A2 C2", [("1", "A C", "A1 C1 A2 C2")]),
        ("relay", "A1 A2 11 14", [("1", "A1 A2", "11 14")]),
        ("transformer", "p1 p2 s1 s2", []),
        ("phototransistor", "A1 K1 A2 K2 C E", None),
        ("digital-isolator", "VDD1 INA INB GND1 GND2 OUT VDD2", None),
    ],
)
def test_names_tell_the_channels_or_nothing(type_: str, pins: str, channels: list[tuple[str, str, str]] | None) -> None:
    names = pins.split()
    groups, doubtful = derive_groups(names, type_)
    assert not doubtful
    found = derive_channels(names, type_, groups)
    shown = None if found is None else [(name, " ".join(into), " ".join(out)) for name, into, out in found]
    assert shown == channels

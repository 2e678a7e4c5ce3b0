from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.interfaces.netnames import GROUND_HINTS, is_ground_name, is_supply_name, own_name, voltage_of_name


@pytest.mark.parametrize(
    ("name", "volts"),
    [
        ("+5V", 5.0), ("5V", 5.0), ("12V", 12.0), ("-12V", -12.0), ("+3V3", 3.3), ("3V3", 3.3), ("1V8", 1.8),
        ("V3V3", 3.3), ("VCC3V3", 3.3), ("VCC_3V3", 3.3), ("VDD_3V3_IO", 3.3), ("3V3_AUX", 3.3),
        ("V24_FIELD", 24.0), ("FIELD_V24", 24.0), ("24V_IN", 24.0), ("24VDC", 24.0), ("+24V", 24.0), ("+5VL", 5.0),
        ("5V_ISO", 5.0), ("ISO_5V", 5.0), ("/MCU/+3V3", 3.3), ("/3V3", 3.3), ("Xch1.5V", 5.0), ("X1.X2.V5", 5.0),
        ("V5", 5.0), ("V12", 12.0), ("V24", 24.0), ("VCC5", 5.0), ("VDD33", 3.3), ("+3.3V", 3.3),
        ("VCC_3.3V", 3.3), ("V3.3", 3.3), ("P5V", 5.0), ("+5V_A", 5.0), ("VDD_2V5", 2.5), ("5V!", 5.0),
        ("+24V-FIELD", 24.0), ("SLUICE_24V", 24.0), ("+48V", 48.0), ("3V3A", 3.3), ("24V+", 24.0),
    ],
)  # fmt: skip
def test_a_supply_s_name_tells_its_voltage(name: str, volts: float) -> None:
    assert voltage_of_name(name) == volts
    assert is_supply_name(name)
    assert not is_ground_name(name)


@pytest.mark.parametrize(
    "name",
    [
        "VCC", "VDD", "vdd!", "VCC1", "VCC2", "VDDA", "VCCIO", "VCC_ISO", "ISO_VCC", "VBUS", "VBAT", "VEE", "AVDD",
        "VDD18", "VCC_A", "/FIELD/VCC", "Xch1.VDD1",
    ],
)  # fmt: skip
def test_a_supply_s_name_may_leave_its_voltage_open(name: str) -> None:
    assert voltage_of_name(name) is None
    assert is_supply_name(name)


@pytest.mark.parametrize(
    "name",
    [
        "V_SENSE", "VCC_OK", "VCCOK", "VBUS_SENSE", "VBAT_DIV", "VDD_GOOD", "VCC_EN", "EN_5V", "5V_EN", "3V3_PG",
        "PG_3V3", "24V_SENSE", "FB_12V", "12V_FB", "ADC_24V", "5V_DET", "5VOK", "IN_24V", "DI1_24V", "DO3_24V",
        "OUT2_24V", "RELAY_24V", "RESET_3V3", "TXD_5V", "VREF", "VREF_2V5", "VOUT", "VIN", "V1", "V2", "V7", "V33",
        "N001", "A", "LED_A", "OUT", "N5V", "24VAC", "230V", "230VAC", "400V", "MAINS_24V", "24V-", "Net-(U1-VCC)",
        "Net-_U2-VDD_", "unconnected-(U1-VCC-Pad3)", "NetU1_5V", "VIEW", "LEVEL5", "DRV5", "5V_3V3", "CLK_3V3",
        "VALVE", "PV", "V_CAP", "V", "", "+", "-", "COMP", "0V5",
    ],
)  # fmt: skip
def test_a_signal_is_no_supply_by_its_name(name: str) -> None:
    assert voltage_of_name(name) is None
    assert not is_supply_name(name)


@pytest.mark.parametrize(
    "name",
    [
        "0", "GND", "gnd!", "AGND", "DGND", "PGND", "SGND", "GND1", "GND2", "GNDA", "GNDF", "GND_ISO", "ISO_GND",
        "GND_FIELD", "GND_OUT", "FIELD_GND", "VSS", "VSSA", "VSS_IO", "COM", "0V", "0VA", "0V_FIELD", "EARTH",
        "/FIELD/GND", "Xch1.AGND", "GND24", "24V_GND", "24V_RTN", "24V_COM", "RTN", "GNDFIELD", "CHASSIS_GND",
        "GND-ISO",
    ],
)  # fmt: skip
def test_a_reference_is_known_by_its_name(name: str) -> None:
    assert is_ground_name(name)
    assert not is_supply_name(name)
    assert voltage_of_name(name) is None


@pytest.mark.parametrize(
    "name",
    [
        "COMP", "COMMS", "COM1", "RELAY_COM", "LED_COM", "EARTH_FAULT", "GND_SENSE", "GNDSENSE", "GNDSENSE_FB",
        "GND_FAULT", "GND_SW", "GND_DET", "VSSENSE", "VGND", "VIRTUAL_GND", "LED_RETURN", "LED_RTN", "00",
        "/ADDR/0", "D0", "10", "0V5", "0V9", "INCOM", "VCOM", "Net-(U1-GND)", "unconnected-(U1-GND-Pad1)",
        "Net-_D1-K_", "NetU1_GND", "GNDFAULT", "BGN", "X.0",
    ],
)  # fmt: skip
def test_a_signal_is_no_reference_by_its_name(name: str) -> None:
    assert not is_ground_name(name)


def test_a_path_is_cut_off_and_a_decimal_point_is_none() -> None:
    names = ("Xch1.n3", "x1.Xb.N3", "/MCU/n3", "Xch1./o", "V3.3", "+3.3V", "Q.1")
    assert [own_name(name) for name in names] == ["n3", "n3", "n3", "o", "v3.3", "+3.3v", "q.1"]


_WORDS = ("gnd", "GND", "agnd", "vss", "VSSA", "0v", "0V", "earth", "ground", "com", "rtn", "return", "ret", "common")
_PIECES = (*_WORDS, "24v", "5V", "_", "-", "/", "X1.", "!")
pieces = st.one_of(st.sampled_from(_PIECES), st.text("gndvs0e_", max_size=3))


@given(st.lists(pieces, max_size=5).map("".join))
def test_whatever_is_called_a_reference_holds_a_hint(name: str) -> None:
    if name != "0" and is_ground_name(name):
        assert any(hint in name.casefold() for hint in GROUND_HINTS)

"""Part records are read whole, checked against themselves, and every mistake comes at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from isolint import types
from isolint.errors import SettingsError
from isolint.parts import ChannelPins, Interval, Parts, builtin, groups_of, load, record_schema, records
from isolint.parts.show import dump
from isolint.source import MemoryTree

HEAD = 'type = "phototransistor"\npins = ["anode", "cathode", "collector", "emitter"]\n'
RATIO = 'ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }\n'


def read(text: str) -> Parts:
    return load(MemoryTree({"p.toml": text}), ["p.toml"])


def mistakes(text: str) -> list[str]:
    with pytest.raises(SettingsError) as error:
        read(text)
    return [str(mistake).removeprefix("p.toml: ") for mistake in error.value.mistakes]


def test_every_key_has_an_attribute_of_its_name_and_the_other_way_round() -> None:
    for name, (table, record) in record_schema.SECTIONS.items():
        assert set(record.ROWS) == set(table.keys), name
    attributes = set(records.PartRecord._fields)
    own = {"name", "file", "key", "channels", "supplies", "named"}
    assert attributes == {*record_schema.HEAD.keys, *record_schema.SECTIONS, *own}


def test_the_shipped_records_are_invented_and_sound() -> None:
    shipped = builtin()
    assert len(shipped) == 26
    for name in shipped:
        assert name.startswith("DEMO_")
        assert shipped[name].source == "invented for the demonstration"
        assert len(groups_of(shipped[name])) >= (2 if types.of(shipped[name].type).isolates else 1)
    assert shipped["DEMO_LO2"].channels == (
        ChannelPins("1", ("anode1", "cathode1"), ("out1",)),
        ChannelPins("2", ("anode2", "cathode2"), ("out2",)),
    )


def test_the_first_shipped_record_is_read_in_si_units() -> None:
    assert dump(builtin()["demo_pt1"]).splitlines() == [
        "(part DEMO_PT1 phototransistor @isolint:parts/records/DEMO_PT1.toml)",
        "(pins anode cathode emitter collector)",
        "(group anode cathode)",
        "(group emitter collector)",
        "(channel 1 in=anode,cathode out=emitter,collector)",
        "(led technology=GaAs forward_voltage=(typ=1.2 max=1.4 at=0.01) "
        "forward_current_max=0.05 reverse_voltage_max=6)",
        "(transfer ratio=(min=0.8 max=1.6 current=0.005 voltage=5) "
        "versus_current=0.0005:0.4 0.001:0.6 0.005:1 0.02:1.05 versus_temperature=-25:0.9 25:1 85:0.7)",
        "(output voltage_max=70 reverse_voltage_max=6 current_max=0.05 "
        "saturation_voltage=(max=0.3 at=0.0024 drive=0.008) dark_current=(max=1e-7 at=25))",
        "(insulation standard=IEC 60747-5-5 grade=reinforced withstand=5000 working_voltage=600 repetitive_peak=848 "
        "transient=8000 creepage=0.008 clearance=0.007 slew_immunity=1e10)",
        "(source invented for the demonstration)",
    ]


def test_an_absent_table_is_an_empty_record() -> None:
    record = read(f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.led]\ntechnology = 'GaAs'")["DEMO_A"]
    assert record.led.technology == "GaAs"
    assert list(record.output.items()) == []
    assert record.output.voltage_max is None
    assert record.key == "parts.DEMO_A"
    assert record.file == "p.toml"


def test_a_user_record_goes_before_a_shipped_one_and_names_ignore_case() -> None:
    parts = read(f"[parts.demo_k1]\n{HEAD}")
    found = parts.find("DEMO_K1")
    assert found is not None
    assert found.type == "phototransistor"
    shipped = parts.find("Demo_T1")
    assert shipped is not None
    assert shipped.type == "transformer"
    assert parts.find("DEMO_NONE") is None
    assert list(parts) == ["demo_k1"]


def test_further_keys_are_read() -> None:
    text = f"""[parts.DEMO_A]
{HEAD}
[parts.DEMO_A.led]
internal_resistor = ["900 ohm", "1.1 kohm"]
recommended_current_min = "1 mA"
threshold_current = "2 mA"
off_voltage = "0.8 V"
off_current = "100 uA"
pulse_current_max = "100 mA"
derating = {{ from = "25 degC", slope = "0.7 mA/K" }}
[parts.DEMO_A.transfer]
{RATIO}
versus_voltage = [["0.4 V", 0.7], ["5 V", 1.0]]
ageing = {{ loss = "0.8 %", time = "1000 h", current = "20 mA", temperature = "125 degC" }}
[parts.DEMO_A.output]
dark_current = {{ max = "100 nA", at = "25 degC", hot = ["50 uA", "100 degC"] }}
[parts.DEMO_A.timing]
turn_on = "3 us"
turn_off = {{ typ = "4 us" }}
"""
    record = read(text)["DEMO_A"]
    assert record.led.internal_resistor == Interval(900.0, 1100.0)
    assert record.led.derating == records.Derating(25.0, 0.7e-3)
    assert record.transfer.ageing == records.Ageing(None, 0.008, 3.6e6, 0.02, 125.0)
    assert record.output.dark_current == records.DarkCurrent(1e-7, 25.0, None, (50e-6, 100.0))
    assert record.timing.turn_on == records.Spec(max=3e-6)
    assert record.timing.turn_off == records.Spec(typ=4e-6)


CHANNELLESS = """[parts.DEMO_A]
type = "phototransistor"
pins = ["a1", "k1", "a2", "k2", "collector", "emitter"]
"""

ONE_MISTAKE = [
    (
        CHANNELLESS,
        "parts.DEMO_A.pins: which input drives which output can't be told from the names of the pins "
        '(write [[parts.DEMO_A.channels]] with input = ["..."] and output = ["..."])',
    ),
    ('[part.DEMO_A]\ntype = "relay"', "part: unknown key (a record starts with [parts.NAME])"),
    ("parts = 1", "parts: 1 is not a table (a record starts with [parts.NAME])"),
    (f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.lead]\n", "parts.DEMO_A.lead: unknown key (did you mean led?)"),
    (
        '[parts.DEMO_A]\npins = ["a", "b"]',
        'parts.DEMO_A: type is missing (write for example type = "phototransistor")',
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.led]\nforward_current = '5 mA'",
        "parts.DEMO_A.led.forward_current: unknown key (did you mean forward_current_max?)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.led]\nforward_voltage = {{ typ = '1.5 V', max = '1.4 V' }}",
        'parts.DEMO_A.led.forward_voltage: typ = "1.5 V" is above max = "1.4 V" '
        "(the values are swapped, or one has the wrong unit)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.led]\nrecommended_current_min = '90 mA'\nforward_current_max = '50 mA'",
        'parts.DEMO_A.led: recommended_current_min = "90 mA" is above forward_current_max = "50 mA" '
        "(the values are swapped, or one has the wrong unit)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.insulation]\ngrade = 'double'",
        'parts.DEMO_A.insulation.grade: "double" is not known here (known here: functional, basic, reinforced)',
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\n{RATIO}versus_current = [['1 mA', 0.6], ['10 mA', 1.0]]",
        "parts.DEMO_A.transfer.versus_current: a record error: the curve is 0.8796 at the test current of "
        "transfer.ratio, where it has to be 1.0 (normalise the curve)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\n{RATIO}versus_current = [['6 mA', 1.0], ['10 mA', 1.0]]",
        "parts.DEMO_A.transfer.versus_current: a record error: the curve does not reach the test current of "
        "transfer.ratio, where it has to be 1.0",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\nversus_temperature = [['0 degC', 1.0], ['50 degC', 0.9]]",
        "parts.DEMO_A.transfer.versus_temperature: a record error: the curve is 0.95 at 25 degC, where it has to be "
        "1.0 (normalise the curve)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\n{RATIO}versus_voltage = [['1 V', 0.9], ['5 V', 1.01]]",
        "parts.DEMO_A.transfer.versus_voltage: a record error: the curve is 1.01 at the test voltage of "
        "transfer.ratio, where it has to be 1.0 (normalise the curve)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\nversus_current = [['1 mA', 0.6], ['10 mA', 1.0]]",
        "parts.DEMO_A.transfer.versus_current: a curve needs transfer.ratio with current "
        "(state where the curve is 1.0)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\n{RATIO}versus_current = [['5 mA', 1.0], ['1 mA', 0.6]]",
        'parts.DEMO_A.transfer.versus_current[1]: ["1 mA", 0.6] does not lie above the point before it '
        "(sort the points by x)",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\n{RATIO}versus_current = [['1 mA', -0.6], ['5 mA', 1.0]]",
        "parts.DEMO_A.transfer.versus_current[0]: -0.6 must be more than 0",
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\nratio = {{ min = '80 %' }}",
        'parts.DEMO_A.transfer.ratio: current is missing (write for example current = "5 mA")',
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.transfer]\nageing = {{ loss = '1 %' }}",
        "parts.DEMO_A.transfer.ageing: a stress test lacks current, temperature, time "
        '(or write remaining = "80 %", the ratio left at the end of life)',
    ),
    (
        f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_A.output]\n"
        "dark_current = { max = '1 nA', at = '25 degC', hot = ['1 uA', '20 degC'] }",
        'parts.DEMO_A.output.dark_current: the hot point ["1 uA", "20 degC"] is not hotter than at = "25 degC" '
        "(the two points may be swapped)",
    ),
    (
        '[parts.DEMO_A]\ntype = "phototransistor"\npins = ["1", "2", "3", "4"]',
        "parts.DEMO_A.pins: which pins are joined inside can't be told from the names of 1, 2, 3, 4 "
        '(write for example groups = [["anode", "cathode"], ["collector", "emitter"]])',
    ),
    (
        '[parts.DEMO_A]\ntype = "relay"\npins = ["coil1", "coil2"]',
        "parts.DEMO_A.pins: all pins fall into one group, so the part separates nothing "
        '(state groups, or type = "ordinary")',
    ),
    (
        '[parts.DEMO_A]\ntype = "phototransistor"\npins = ["anode", "Anode", "collector", "emitter"]',
        'parts.DEMO_A.pins[1]: the pin "Anode" stands twice (number pins of the same name)',
    ),
    (
        f'[parts.DEMO_A]\n{HEAD}groups = [["anode", "cathode"], ["colector", "emitter"]]',
        'parts.DEMO_A.groups[1][0]: there is no pin "colector" (did you mean collector?)|'
        "parts.DEMO_A.groups: collector is in no group (a pin that is joined to no other has a group of its own)",
    ),
    (
        f'[parts.DEMO_A]\n{HEAD}groups = [["anode", "cathode"], ["anode", "collector", "emitter"]]',
        'parts.DEMO_A.groups[1]: the pin "anode" is in two groups (keep it in one)',
    ),
    (
        f'[parts.DEMO_A]\n{HEAD}[[parts.DEMO_A.channels]]\ninput = ["anode"]\noutput = ["cathode"]',
        "parts.DEMO_A.channels[0]: anode and cathode are joined inside, but one is input and one is output "
        "(correct channels or groups)",
    ),
    (
        f'[parts.DEMO_A]\n{HEAD}[[parts.DEMO_A.channels]]\ninput = ["anode"]',
        'parts.DEMO_A.channels[0]: output is missing (write for example output = ["collector1"])',
    ),
]


@pytest.mark.parametrize(("text", "expected"), ONE_MISTAKE, ids=range(len(ONE_MISTAKE)))
def test_a_mistake_names_key_reason_and_cure(text: str, expected: str) -> None:
    assert sorted(mistakes(text)) == sorted(expected.split("|"))


def test_all_mistakes_of_all_files_come_at_once_and_one_part_has_one_record() -> None:
    files = {
        "a.toml": f"[parts.DEMO_A]\n{HEAD}[parts.DEMO_B]\ntype = 'relais'\npins = ['x']",
        "b.toml": f"[parts.demo_a]\n{HEAD}",
        "c.toml": "x = ",
    }
    with pytest.raises(SettingsError) as error:
        load(MemoryTree(files), ["a.toml", "b.toml", "c.toml", "d.toml"])
    assert [(mistake.file, mistake.key) for mistake in error.value.mistakes] == [
        ("a.toml", "parts.DEMO_B.type"),
        ("b.toml", "parts.demo_a"),
        ("c.toml", ""),
        ("d.toml", ""),
    ]
    assert "this part has a record in a.toml too (parts.DEMO_A)" in str(error.value)


def test_stated_groups_and_channels_stand_for_pins_that_names_do_not_tell() -> None:
    text = """[parts.DEMO_A]
type = "phototransistor"
pins = ["1", "2", "3", "4", "nc"]
groups = [["4", "3"], ["1", "2"]]
[[parts.DEMO_A.channels]]
name = "only"
input = ["2", "1"]
output = ["4", "3"]
"""
    record = read(text)["DEMO_A"]
    assert groups_of(record) == ((0, 1), (2, 3), (4,))
    assert record.channels == (ChannelPins("only", ("2", "1"), ("4", "3")),)
    assert record.position("NC") == 4


def test_the_schema_knows_all_types() -> None:
    for kind in types.NAMES:
        assert mistakes(f"[parts.DEMO_A]\ntype = '{kind}'\npins = 1")[0].startswith("parts.DEMO_A.pins")


def test_shipped_records_hold_no_part_that_is_not_invented() -> None:
    for path in (Path(record_schema.__file__).parent / "records").glob("*.toml"):
        names = re.findall(r"^\[parts\.([^.\]]+)\]", path.read_text(encoding="utf-8"), re.MULTILINE)
        assert names
        assert all(name.startswith("DEMO_") for name in names)

"""isolint.toml is read whole: every key, every mistake, the nearest file per key."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from isolint.errors import SettingsError
from isolint.facts import (
    BarrierFacts,
    ElementFacts,
    Environment,
    Facts,
    GroupFacts,
    InputFacts,
    Interval,
    Level,
    Limits,
    LineFacts,
    LoadFacts,
    OutputFacts,
    Reading,
    SideFacts,
    SignalFacts,
    SupplyFacts,
    Waiver,
    dump,
    load,
    settings_paths,
    settings_schema,
)
from isolint.facts.stated import PairFacts
from isolint.rows import Rows
from isolint.source import MemoryTree

EXAMPLE = (Path(__file__).parent / "example.toml").read_text(encoding="utf-8")


def read(text: str, *, rules: tuple[str, ...] = (), **files: str) -> Facts:
    """Facts of a netlist beside one isolint.toml."""
    return load(MemoryTree({"isolint.toml": text, "board.cir": "", **files}), "board.cir", rules=rules)


def mistakes(text: str, *, rules: tuple[str, ...] = ()) -> list[str]:
    """What is wrong with a file, as `key: text (cure)`."""
    with pytest.raises(SettingsError) as error:
        read(text, rules=rules)
    return [str(mistake).removeprefix("isolint.toml: ") for mistake in error.value.mistakes]


def example() -> Facts:
    tree = MemoryTree({"isolint.toml": EXAMPLE, "parts/a.toml": "", "parts/b.toml": "", "parts/c.txt": ""})
    return load(tree, "board.cir")


def fields(record: Any) -> Iterable[str]:
    """The attributes of a table; `between` stands before the rows of a barrier."""
    own = ("between",) if record is BarrierFacts else ("channels",) if record is PairFacts else ()
    return (*own, *record.ROWS) if issubclass(record, Rows) else record._fields


def test_every_key_has_an_attribute_of_its_name_and_the_other_way_round() -> None:
    records: dict[str, Any] = {
        "reading": Reading,
        "environment": Environment,
        "limits": Limits,
        "elements": ElementFacts,
        "supplies": SupplyFacts,
        "outputs": OutputFacts,
        "groups": GroupFacts,
        "inputs": InputFacts,
        "lines": LineFacts,
        "signals": SignalFacts,
        "loads": LoadFacts,
        "sides": SideFacts,
        "barriers": BarrierFacts,
        "pairs": PairFacts,
        "waivers": Waiver,
    }
    tables = {**settings_schema.SINGLE, **settings_schema.NAMED, **settings_schema.LISTS}
    assert {*records, "bonds"} == set(tables)
    for name, record in records.items():
        attributes = {field.rstrip("_") for field in fields(record)} - {"file", "key"}
        assert attributes == set(tables[name].keys), name


def test_the_example_states_every_key_of_the_schema() -> None:
    facts = example()
    stated = {key.rpartition(".")[2] for key, _, _ in facts.statements()}
    for name, table in {**settings_schema.SINGLE, **settings_schema.NAMED, **settings_schema.LISTS}.items():
        if name != "waivers":
            assert set(table.keys) <= stated, name


def test_values_come_in_si_units_with_their_origin() -> None:
    facts = example()
    ambient = facts.environment.ambient
    assert ambient is not None
    assert ambient.value == Interval(-20.0, 60.0)
    assert (ambient.file, ambient.key) == ("isolint.toml", "environment.ambient")
    assert ambient.text == '["-20 degC", "60 degC"]'
    assert facts.environment.life is not None
    assert facts.environment.life.value == 87660 * 3600.0
    resistor = facts.element("Xch1.R1")
    assert resistor.tolerance is not None
    assert resistor.tolerance.value == Interval(-0.01, 0.01)
    assert resistor.tolerance.key == 'elements."R*".tolerance'
    assert resistor.tempco is not None
    assert resistor.tempco.value == Interval(-100e-6, 100e-6)
    supply = facts.supply("v24_field")
    assert supply is not None
    assert supply.voltage is not None
    assert supply.voltage.key == 'supplies."V24_FIELD".voltage'
    assert supply.tolerance is not None
    assert supply.tolerance.value == Interval(-0.15, 0.2)
    output = facts.output("MCU_LED")
    assert output is not None
    assert output.high is not None
    assert output.high.value == Level(min=2.9, at=4e-3)
    assert output.low is not None
    assert output.low.value == Level(max=0.4, at=4e-3)
    assert facts.waivers[0].until == date(2027, 6, 30)
    assert facts.bonds[0].between == ("logic", "earth")
    assert facts.part_files == ("parts/a.toml", "parts/b.toml")
    barrier = facts.barrier("LOGIC", "field")
    assert barrier is not None
    assert barrier.slew is not None
    assert barrier.slew.value == 5e9
    assert facts.levels["bypass-missing"].value == "note"


def test_nothing_stated_is_none_and_no_default_is_filled_in() -> None:
    facts = read("")
    assert facts.element("R1") == ElementFacts()
    assert facts.supply("VCC") is None
    assert facts.output("VCC") is None
    assert facts.environment == Environment()
    assert facts.limits == Limits()
    assert facts.open is None
    assert facts.statements() == []
    assert facts.files == ("isolint.toml",)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ('voltage = "24 V"\ntolerance = "5 %"', 22.8, 25.2),
        ('voltage = "24 V"\ntolerance = ["-15 %", "20 %"]', 20.4, 28.8),
        ('voltage = "-12 V"\ntolerance = "10 %"', -13.2, -10.8),
        ('voltage = ["20 V", "30 V"]', 20.0, 30.0),
    ],
)
def test_a_stated_range_of_a_supply_is_its_pair_or_its_tolerance(text: str, low: float, high: float) -> None:
    supply = read(f"[supplies.V]\n{text}").supply("V")
    assert supply is not None
    assert supply.stated_range is not None
    assert (supply.stated_range.low, supply.stated_range.high) == pytest.approx((low, high))


def test_a_voltage_without_tolerance_states_no_range() -> None:
    supply = read('[supplies.V]\nvoltage = "5 V"').supply("V")
    assert supply is not None
    assert supply.stated_range is None


ONE_MISTAKE = [
    ('opn = "error"', "opn: unknown key (did you mean open?)"),
    ('open = "eror"', 'open: "eror" is not known here (did you mean error?)'),
    ('[elements."R*"]\ntolerence = "1 %"', 'elements."R*".tolerence: unknown key (did you mean tolerance?)'),
    ('[element."R*"]\ntolerance = "1 %"', "element: unknown key (did you mean elements?)"),
    (
        '[supplies.V24]\nvoltage = "24 A"',
        'supplies."V24".voltage: "24 A" is a current: expected a voltage such as "24 V"',
    ),
    (
        "[supplies.V24]\nvoltage = 24",
        'supplies."V24".voltage: 24 is not a voltage (quantities are strings with a unit, for example "24 V")',
    ),
    (
        '[supplies.V24]\nvoltage = "24"',
        'supplies."V24".voltage: "24" has no unit: expected a voltage such as "24 V"',
    ),
    (
        '[environment]\nambient = ["60 degC", "-20 degC"]',
        'environment.ambient: the low end of ["60 degC", "-20 degC"] is above its high end '
        "(write the lower value first)",
    ),
    (
        '[environment]\nambient = ["1 degC"]',
        'environment.ambient: ["1 degC"] is not a pair (write for example ["-20 degC", "-20 degC"])',
    ),
    ("[environment]\nduty = 1.5", "environment.duty: 1.5 is more than 1"),
    ("[environment]\nduty = nan", "environment.duty: the number is not finite"),
    ("[environment]\npollution_degree = 9", "environment.pollution_degree: 9 is not a whole number from 1 to 4"),
    ("[environment]\npollution_degree = true", "environment.pollution_degree: true is not a whole number from 1 to 4"),
    ('[elements.R1]\npower = "-1 W"', 'elements."R1".power: -1 W must be more than 0 W'),
    (
        '[elements.U1]\npart = "A"\nordinary = true',
        'elements."U1": part and ordinary exclude each other (keep one of them)',
    ),
    ('[elements.U1]\ntype = "relais"', 'elements."U1".type: "relais" is not known here (did you mean relay?)'),
    (
        '[elements.U1]\nsheet = "yes"',
        'elements."U1".sheet: "yes" is not true or false (write true or false without quotes)',
    ),
    (
        '[supplies.V]\nvoltage = ["1 V", "2 V"]\ntolerance = "5 %"',
        'supplies."V": voltage is a pair and tolerance is stated too (keep the pair, or one voltage with a tolerance)',
    ),
    (
        '[supplies.V]\ntolerance = ["5 %", "10 %"]',
        'supplies."V".tolerance: the pair does not enclose 0 (write deviations, for example ["-15 %", "20 %"])',
    ),
    (
        '[outputs.P]\nhigh = { min = "2 V" }',
        'outputs."P".high: at is missing (write for example at = "5 mA")',
    ),
    (
        '[outputs.P]\nhigh = { max = "2 V", at = "1 mA" }',
        'outputs."P".high.max: unknown key (known here: min, at)|'
        'outputs."P".high: min is missing (write for example min = "24 V")',
    ),
    (
        '[outputs.P]\ngroup = "port"\n[groups."port A"]\ncurrent_max = "1 mA"',
        'outputs."P".group: there is no group "port" (did you mean "port A"?)',
    ),
    (
        '[inputs.P]\nlow_max = "2 V"\nhigh_min = "0.8 V"',
        'inputs."P": low_max = "2 V" is not below high_min = "0.8 V" (the two may be swapped)',
    ),
    (
        '[lines.P]\non = ["15 V", "30 V"]\noff = ["0 V", "16 V"]',
        'lines."P": on = ["15 V", "30 V"] and off = ["0 V", "16 V"] overlap (state the two ranges apart)',
    ),
    (
        '[sides.field]\nnets = ["GF"]\n[[barriers]]\nbetween = ["feild", "field"]',
        'barriers[0].between: there is no side "feild" (did you mean field?)',
    ),
    (
        '[sides.a]\nnets = ["A"]\n[[bonds]]\nbetween = ["a", "A"]',
        'bonds[0]: both names are "a" (name two sides)',
    ),
    (
        '[sides.a]\nnets = []',
        'sides.a.nets: [] holds 0 entries, expected 1 or more (write for example ["GND"])',
    ),
    (
        '[barriers]\nbetween = ["a", "b"]',
        'barriers: { between = ["a", "b"] } is not a list of tables (write [[barriers]] with double brackets)',
    ),
    (
        "[elements.R1]\n[elements.r1]",
        'elements."r1": this is the same name as elements."R1", case does not count (join the two tables)',
    ),
    ('parts = ["nowhere/*.toml"]', 'parts[0]: "nowhere/*.toml" matches no file (paths are relative to isolint.toml)'),
    ('parts = ["/etc/x.toml"]', 'parts[0]: "/etc/x.toml": the path is absolute (write a relative path)'),
    ("elements = 3", 'elements: 3 is not a table (write [elements."NAME"] and keys below it)'),
    ("[limits]\ndrive_headroom = 0", "limits.drive_headroom: 0 must be more than 0"),
    (
        "elements.R*.tolerance = 1",
        'line 1, column 11: expected \'=\' after a key in a key/value pair '
        '(quote quantities ("24 V") and names with signs in them ("R*"))',
    ),
    ("a = [", 'at the end: invalid value (quote quantities ("24 V") and names with signs in them ("R*"))'),
    ("a = " + "[" * 5000, "line 1: tables and lists stand more than 16 deep in each other (write them flat)"),
    ("a = " + "1" * 5000, "the text is nested too deeply or holds a number that is too long"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), ONE_MISTAKE, ids=range(len(ONE_MISTAKE)))
def test_a_mistake_names_key_reason_and_cure(text: str, expected: str) -> None:
    assert sorted(mistakes(text)) == sorted(expected.split("|"))


def test_all_mistakes_of_all_files_come_at_once() -> None:
    files = {
        "isolint.toml": "opn = 1\n[environment]\nduty = 2",
        "a/isolint.toml": "b = \n",
        "a/b/isolint.toml": "c = 1",
    }
    with pytest.raises(SettingsError) as error:
        load(MemoryTree(files), "a/b/x.cir")
    assert [(mistake.file, mistake.key) for mistake in error.value.mistakes] == [
        ("a/b/isolint.toml", "c"),
        ("a/isolint.toml", ""),
        ("isolint.toml", "environment.duty"),
        ("isolint.toml", "opn"),
    ]
    assert "a/isolint.toml: line 1, column 5: invalid value" in str(error.value)
    assert error.value.exit_status == 2


def test_text_that_is_not_utf_8_is_named_with_its_line() -> None:
    tree = MemoryTree({"isolint.toml": b'open = "error"\n# \xff\n'})
    with pytest.raises(SettingsError, match=r"line 2: the text is not UTF-8 \(save the file as UTF-8\)"):
        load(tree, "board.cir")


def test_a_file_that_is_too_large_is_not_parsed() -> None:
    tree = MemoryTree({"isolint.toml": b"#" * (1024 * 1024 + 1)})
    with pytest.raises(SettingsError, match="larger than 1024 KiB"):
        load(tree, "board.cir")


def test_a_byte_order_mark_and_windows_line_ends_are_fine() -> None:
    facts = load(MemoryTree({"isolint.toml": b'\xef\xbb\xbfopen = "note"\r\nfail_on = "error"\r\n'}), "x.cir")
    assert facts.open is not None
    assert facts.open.value == "note"


def test_levels_may_only_name_rules_that_exist() -> None:
    found = mistakes('[levels]\nslow-edges = "note"', rules=("slow-edge", "ground-tie"))
    assert found == ["levels.slow-edges: there is no such rule (did you mean slow-edge?)"]


WAIVER = '[[waivers]]\nrule = "ground-tie"\nwhere = "x"\nreason = "r"\nby = "b"\nuntil = 2027-01-01\n'


@pytest.mark.parametrize(
    ("change", "mistake"),
    [
        (('"ground-tie"', '"ground-ties"'), '[0].rule: there is no rule "ground-ties" (did you mean ground-tie?)'),
        (
            ("2027-01-01", '"2027-01-01"'),
            '[0].until: "2027-01-01" is not a date (write it without quotes, for example 2027-06-30)',
        ),
        (('reason = "r"', ""), '[0]: reason is missing (write for example reason = "...")'),
        (('reason = "r"', 'reason = " "'), '[0].reason: " " is not a text (write it in quotes and not empty)'),
        (
            ("until", 'bound = "current >= 2"\nuntil'),
            '[0].bound: "current >= 2" is not a bound (write for example "margin >= 1.1")',
        ),
        (
            ("until", 'bound = "margin >= "\nuntil'),
            '[0].bound: "margin >= " is not a bound (write for example "margin >= 1.1")',
        ),
        (
            ("until", 'netlist = "a"\nuntil'),
            "[0].netlist: unknown key (known here: rule, where, reason, by, until, bound)",
        ),
    ],
)
def test_a_malformed_waiver_stands_aside_and_stops_nothing(change: tuple[str, str], mistake: str) -> None:
    text = WAIVER.replace(*change) + WAIVER
    facts = load(MemoryTree({"isolint.toml": text}), "x.cir", rules=("ground-tie",))
    assert [str(each) for each in facts.malformed_waivers] == [f"isolint.toml: waivers{mistake}"]
    assert [waiver.key for waiver in facts.waivers] == ["waivers[1]"]


def test_a_waiver_may_have_a_bound() -> None:
    facts = load(MemoryTree({"isolint.toml": WAIVER + 'bound = "margin>=1.1"'}), "x.cir")
    assert facts.waivers[0].bound == 1.1
    assert "while margin >= 1.1" in facts.statements()[-1][1]


def test_files_are_looked_for_from_the_netlist_up_to_the_root() -> None:
    assert settings_paths("a/b/x.cir") == ("a/b/isolint.toml", "a/isolint.toml", "isolint.toml")
    assert settings_paths("a/b/x.cir", "a") == ("a/b/isolint.toml", "a/isolint.toml")
    assert settings_paths("x.cir") == ("isolint.toml",)
    assert settings_paths("other/x.cir", "a") == ("other/isolint.toml",)


def test_the_nearest_file_wins_per_key_and_lists_replace() -> None:
    far = (
        '[environment]\nambient = ["0 degC", "50 degC"]\nduty = 0.5\n[elements."R*"]\ntolerance = "5 %"\npower = "1 W"'
    )
    near = '[environment]\nduty = 0.25\n[elements."r*"]\ntolerance = "1 %"\n[reading]\nsimulation_only = ["A"]'
    far += '\n[reading]\nsimulation_only = ["B", "C"]'
    facts = load(MemoryTree({"isolint.toml": far, "a/isolint.toml": near}), "a/x.cir")
    assert facts.files == ("a/isolint.toml", "isolint.toml")
    assert facts.environment.duty is not None
    assert (facts.environment.duty.value, facts.environment.duty.file) == (0.25, "a/isolint.toml")
    assert facts.environment.ambient is not None
    assert facts.environment.ambient.file == "isolint.toml"
    resistor = facts.element("R1")
    assert resistor.tolerance is not None
    assert resistor.tolerance.value.high == 0.01
    assert resistor.power is not None
    assert resistor.power.file == "isolint.toml"
    assert facts.reading.simulation_only is not None
    assert facts.reading.simulation_only.value == ("A",)


def test_top_stops_the_search() -> None:
    files = {"isolint.toml": "[environment]\nduty = 0.5", "a/isolint.toml": "top = true"}
    assert load(MemoryTree(files), "a/x.cir").environment.duty is None


def test_nothing_above_the_root_is_read() -> None:
    files = {"isolint.toml": "broken =", "a/isolint.toml": ""}
    assert load(MemoryTree(files), "a/x.cir", "a").files == ("a/isolint.toml",)


def test_waivers_and_barriers_add_and_one_barrier_merges_per_key() -> None:
    sides = '[sides.a]\nnets = ["A"]\n[sides.b]\nnets = ["B"]\n[sides.c]\nnets = ["C"]\n'
    waiver = '[[waivers]]\nrule = "{}"\nwhere = "x"\nreason = "r"\nby = "b"\nuntil = 2027-01-01\n'
    far = sides + '[[barriers]]\nbetween = ["a", "b"]\ninsulation = "basic"\nmains = "230 V"\n' + waiver.format("one")
    near = '[[barriers]]\nbetween = ["B", "A"]\ninsulation = "reinforced"\n[[barriers]]\nbetween = ["a", "c"]\n'
    near += waiver.format("two")
    facts = load(MemoryTree({"isolint.toml": far, "n/isolint.toml": near}), "n/x.cir")
    assert [waived.rule for waived in facts.waivers] == ["two", "one"]
    assert [barrier.between for barrier in facts.barriers] == [("B", "A"), ("a", "c")]
    barrier = facts.barrier("a", "b")
    assert barrier is not None
    assert barrier.insulation is not None
    assert barrier.insulation.value == "reinforced"
    assert barrier.mains is not None
    assert barrier.mains.file == "isolint.toml"


def test_a_nearer_alternative_hides_a_farther_one() -> None:
    files = {"isolint.toml": '[elements.U1]\npart = "X"', "n/isolint.toml": "[elements.U1]\nordinary = true"}
    element = load(MemoryTree(files), "n/x.cir").element("U1")
    assert element.part is None
    assert element.ordinary is not None


def test_include_root_is_relative_to_its_file_and_can_only_narrow() -> None:
    files = {"a/isolint.toml": '[reading]\ninclude_root = "."'}
    root = load(MemoryTree(files), "a/x.cir").reading.include_root
    assert root is not None
    assert root.value == "a"
    files["isolint.toml"] = '[reading]\ninclude_root = "lib"'
    with pytest.raises(SettingsError, match="it can only narrow"):
        load(MemoryTree(files), "a/x.cir")
    with pytest.raises(SettingsError, match="leads out of the root"):
        read('[reading]\ninclude_root = ".."')


def test_part_files_are_found_relative_to_the_file_that_names_them() -> None:
    files = {"isolint.toml": 'parts = ["lib/[a]*.toml", "one.toml"]', "lib/ab.toml": "", "one.toml": "", "n/x.cir": ""}
    assert load(MemoryTree(files), "n/x.cir").part_files == ("lib/ab.toml", "one.toml")


def test_new_facts_belong_in_the_nearest_file_or_beside_the_netlist() -> None:
    assert load(MemoryTree({"a/isolint.toml": ""}), "a/b/x.cir").nearest_file("a/b/x.cir") == "a/isolint.toml"
    assert load(MemoryTree({}), "a/b/x.cir").nearest_file("a/b/x.cir") == "a/b/isolint.toml"


def test_a_dump_shows_every_fact_with_its_file() -> None:
    facts = read('open = "note"\n[elements."R*"]\ntolerance = "1 %"\n[sides.field]\nnets = ["GF"]')
    assert dump(facts) == (
        "facts from isolint.toml\n"
        '(open = "note" @isolint.toml)\n'
        '(sides.field.nets = ["GF"] @isolint.toml)\n'
        '(elements."R*".tolerance = "1 %" @isolint.toml)'
    )


def test_a_table_that_stands_twice_is_told_in_words() -> None:
    files = {"board.cir": "* t\n", "isolint.toml": '[lines."I N"]\non = "1 V"\n[lines."I N"]\noff = "0 V"\n'}
    with pytest.raises(SettingsError) as caught:
        load(MemoryTree(files), "board.cir")
    (mistake,) = caught.value.mistakes
    assert mistake.text == "line 3: the table lines.I N stands here a second time"
    assert "put its keys into the first one" in mistake.cure

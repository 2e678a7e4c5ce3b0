"""The keys of part records, declared once as data; each attribute of the records has its key here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from isolint.kinds import (
    FLAG,
    TEXT,
    ascending,
    choice,
    interval,
    magnitude,
    number,
    positive,
    quantity,
    record,
    texts,
    tolerance,
)
from isolint.parts import records
from isolint.tables import PART_TYPES, Entries, Kind, Site, Table, shortened

TECHNOLOGIES = ("GaAs", "AlGaAs", "GaAsP")
GRADES = ("functional", "basic", "reinforced")
OUTPUT_KINDS = ("transistor", "open-collector", "push-pull", "triac", "mosfet", "photodiode", "contact", "supply")


def _names(raw: object, site: Site) -> tuple[str, ...] | None:
    found: tuple[str, ...] | None = texts('["anode", "cathode"]', least=1).read(raw, site)
    return found


def _groups(raw: object, site: Site) -> tuple[tuple[str, ...], ...] | None:
    if not isinstance(raw, list):
        site.wrong(f"{shortened(raw)} is not a list of lists of pin names", f"write for example {GROUPS.example}")
        return None
    read = [_names(item, site.inner(index)) for index, item in enumerate(raw)]
    whole = tuple(group for group in read if group is not None)
    return whole if len(whole) == len(raw) else None


GROUPS = Kind(
    "a list of lists of pin names", '[["anode", "cathode"], ["collector", "emitter"]]', _groups, {"type": "array"}
)


def _curve(x: Kind, logarithmic: bool, example: str) -> Kind:
    """A list of [x, y] with ascending x and positive y."""
    y = number(above=0.0)

    def read(raw: object, site: Site) -> records.Curve | None:
        if not isinstance(raw, list) or not all(isinstance(point, list) and len(point) == 2 for point in raw):
            site.wrong(f"{shortened(raw)} is not a list of points [x, factor]", f"write for example {example}")
            return None
        if len(raw) < 2:
            site.wrong("a curve needs two points or more", f"write for example {example}")
            return None
        points = [(x.read(a, site.inner(n)), y.read(b, site.inner(n))) for n, (a, b) in enumerate(raw)]
        whole = [(a, b) for a, b in points if a is not None and b is not None]
        if len(whole) < len(raw):
            return None
        for n in range(1, len(whole)):
            if whole[n - 1][0] >= whole[n][0]:
                site.inner(n).wrong(
                    f"{shortened(raw[n])} does not lie above the point before it", "sort the points by x"
                )
                return None
        return records.Curve(tuple(whole), logarithmic)

    return Kind("a list of points", example, read, {"type": "array"})


def _spec(unit: str, at: Kind | None, example: str, plain_is_max: bool = False, ratio: bool = False) -> Kind:
    """A table of min, typ and max (ascending), with the test current `at`; a plain value is the maximum if allowed."""
    value = positive(unit)
    keys: dict[str, Kind] = {"min": value, "typ": value, "max": value}
    if at is not None:
        keys["at"] = at
    if ratio:
        keys |= {"current": positive("A"), "voltage": positive("V")}
    make: Callable[..., Any] = records.Ratio if ratio else records.Spec
    required = ("current",) if ratio else ()
    table = Table(keys, required=required, checks=(ascending("min", "typ", "max"), _some_value))
    inline = record(table, make, "a table with min, typ or max", example)

    def read(raw: object, site: Site) -> Any:
        if plain_is_max and isinstance(raw, str):
            maximum = value.read(raw, site)
            return None if maximum is None else records.Spec(max=maximum)
        return inline.read(raw, site)

    return Kind(
        inline.words, example, read, {"anyOf": [inline.form, {"type": "string"}]} if plain_is_max else inline.form
    )


def _some_value(entries: Entries, site: Site) -> None:
    if not {"min", "typ", "max"} & set(entries):
        site.wrong("it states neither min, typ nor max", "state one of them")


def _derating(unit: str, example: str) -> Kind:
    table = Table({"from": quantity("degC"), "slope": positive(unit)}, required=("from", "slope"))
    return record(table, records.Derating, "a table with from and slope", example, {"from": "from_"})


def _level(bound: str, example: str) -> Kind:
    table = Table({bound: quantity("V"), "at": magnitude("A")}, required=(bound, "at"))
    return record(table, records.Level, "a level with its current", example)


def _hot(raw: object, site: Site) -> tuple[float, float] | None:
    if not isinstance(raw, list) or len(raw) != 2:
        site.wrong(f"{shortened(raw)} is not a current and a temperature", 'write for example ["50 uA", "100 degC"]')
        return None
    current = positive("A").read(raw[0], site.inner(0))
    temperature = quantity("degC").read(raw[1], site.inner(1))
    return None if current is None or temperature is None else (current, temperature)


def _hot_is_hotter(entries: Entries, site: Site) -> None:
    hot, at = entries.get("hot"), entries.get("at")
    if hot and at and hot.value[1] <= at.value:
        site.wrong(f"the hot point {hot.text} is not hotter than at = {at.text}", "the two points may be swapped")


def _one_way_of_ageing(entries: Entries, site: Site) -> None:
    stress = {"loss", "time", "current", "temperature"}
    if "remaining" in entries and stress & set(entries):
        site.wrong("remaining and a stress test exclude each other", "keep one of them")
    elif "remaining" not in entries and set(entries) != stress:
        missing = ", ".join(sorted(stress - set(entries)))
        site.wrong(f"a stress test lacks {missing}", 'or write remaining = "80 %", the ratio left at the end of life')


_TIME = _spec("s", None, '{ typ = "3 us", max = "18 us" }', plain_is_max=True)

SECTIONS: Mapping[str, tuple[Table, type[Any]]] = {
    "led": (
        Table(
            {
                "technology": choice(*TECHNOLOGIES),
                "forward_voltage": _spec("V", positive("A"), '{ typ = "1.2 V", max = "1.4 V", at = "10 mA" }'),
                "forward_current_max": positive("A"),
                "pulse_current_max": positive("A"),
                "reverse_voltage_max": positive("V"),
                "internal_resistor": interval("ohm", above=0.0),
                "recommended_current_min": positive("A"),
                "recommended_current_max": positive("A"),
                "threshold_current": positive("A"),
                "off_voltage": positive("V"),
                "off_current": positive("A"),
                "derating": _derating("A/K", '{ from = "25 degC", slope = "0.7 mA/K" }'),
            },
            checks=(
                ascending("off_current", "threshold_current", "recommended_current_max"),
                ascending("recommended_current_min", "recommended_current_max", "forward_current_max"),
                ascending("forward_current_max", "pulse_current_max"),
            ),
        ),
        records.Led,
    ),
    "input": (
        Table(
            {"low_max": quantity("V"), "high_min": quantity("V"), "current": magnitude("A")},
            checks=(ascending("low_max", "high_min"),),
        ),
        records.Input,
    ),
    "transfer": (
        Table(
            {
                "ratio": _spec("1", None, '{ min = "80 %", current = "5 mA", voltage = "5 V" }', ratio=True),
                "versus_current": _curve(positive("A"), True, '[["1 mA", 0.60], ["5 mA", 1.00]]'),
                "versus_temperature": _curve(quantity("degC"), False, '[["25 degC", 1.0], ["85 degC", 0.70]]'),
                "versus_voltage": _curve(positive("V"), False, '[["0.4 V", 0.7], ["5 V", 1.0]]'),
                "photo_gain": positive("1"),
                "ageing": record(
                    Table(
                        {
                            "remaining": number(high=1.0, above=0.0),
                            "loss": number(0.0, 1.0),
                            "time": positive("s"),
                            "current": positive("A"),
                            "temperature": quantity("degC"),
                        },
                        checks=(_one_way_of_ageing,),
                    ),
                    records.Ageing,
                    "what remains at the end of life, or a stress test",
                    '{ remaining = "80 %" }',
                ),
            }
        ),
        records.Transfer,
    ),
    "output": (
        Table(
            {
                "kind": choice(*OUTPUT_KINDS),
                "voltage": interval("V"),
                "voltage_max": positive("V"),
                "reverse_voltage_max": positive("V"),
                "current_max": positive("A"),
                "power_max": positive("W"),
                "saturation_voltage": record(
                    Table(
                        {"max": positive("V"), "at": positive("A"), "drive": positive("A")},
                        required=("max", "at", "drive"),
                    ),
                    records.Saturation,
                    "the largest voltage at an output and an LED current",
                    '{ max = "0.3 V", at = "2.4 mA", drive = "8 mA" }',
                ),
                "dark_current": record(
                    Table(
                        {
                            "max": positive("A"),
                            "at": quantity("degC"),
                            "voltage": positive("V"),
                            "hot": Kind(
                                "a current and a temperature", '["50 uA", "100 degC"]', _hot, {"type": "array"}
                            ),
                        },
                        required=("max", "at"),
                        checks=(_hot_is_hotter,),
                    ),
                    records.DarkCurrent,
                    "the largest off current at a temperature",
                    '{ max = "100 nA", at = "25 degC" }',
                ),
                "low_level": _level("max", '{ max = "0.6 V", at = "13 mA" }'),
                "high_level": _level("min", '{ min = "4 V", at = "1 mA" }'),
                "leakage": magnitude("A"),
                "on_resistance": positive("ohm"),
                "derating": _derating("W/K", '{ from = "25 degC", slope = "2 mW/K" }'),
            }
        ),
        records.Output,
    ),
    "supply": (Table({"voltage": interval("V", above=0.0), "current": magnitude("A")}), records.Supply),
    "timing": (
        Table(
            {
                "rise": _TIME,
                "fall": _TIME,
                "turn_on": _TIME,
                "turn_off": _TIME,
                "delay_high": _TIME,
                "delay_low": _TIME,
                "storage": _TIME,
                "load": positive("ohm"),
            }
        ),
        records.Timing,
    ),
    "thermal": (
        Table(
            {
                "led_to_ambient": positive("K/W"),
                "output_to_ambient": positive("K/W"),
                "junction_max": quantity("degC"),
                "ambient": interval("degC"),
                "power_max": positive("W"),
                "derating": _derating("W/K", '{ from = "25 degC", slope = "2 mW/K" }'),
            }
        ),
        records.Thermal,
    ),
    "trigger": (
        Table(
            {
                "current_max": positive("A"),
                "holding_current": positive("A"),
                "surge_current": positive("A"),
                "blocking_voltage": positive("V"),
                "on_voltage": positive("V"),
                "inhibit_voltage": positive("V"),
                "slew": positive("V/s"),
                "zero_crossing": FLAG,
            }
        ),
        records.Trigger,
    ),
    "coil": (
        Table(
            {
                "resistance": positive("ohm"),
                "tolerance": tolerance("1", low=-1.0),
                "voltage": positive("V"),
                "pull_in": positive("V"),
                "drop_out": positive("V"),
                "inductance": positive("H"),
                "internal_clamp": FLAG,
                "temperature_coefficient": quantity("1/K"),
                "temperature": quantity("degC"),
            },
            checks=(ascending("drop_out", "pull_in", "voltage"),),
        ),
        records.Coil,
    ),
    "contact": (
        Table(
            {
                "form": TEXT,
                "voltage_max": positive("V"),
                "current_max": positive("A"),
                "current_min": magnitude("A"),
            },
            checks=(ascending("current_min", "current_max"),),
        ),
        records.Contact,
    ),
    "photodiodes": (
        Table(
            {
                "servo_gain": _spec("1", None, '{ min = 0.006, max = 0.017, current = "10 mA" }', ratio=True),
                "transfer_gain": _spec("1", None, "{ min = 0.85, max = 1.15 }"),
                "current_max": positive("A"),
                "reverse_voltage_max": positive("V"),
            }
        ),
        records.Photodiodes,
    ),
    "insulation": (
        Table(
            {
                "standard": TEXT,
                "grade": choice(*GRADES),
                "withstand": positive("V"),
                "working_voltage": positive("V"),
                "repetitive_peak": positive("V"),
                "transient": positive("V"),
                "creepage": positive("m"),
                "clearance": positive("m"),
                "slew_immunity": positive("V/s"),
            },
            checks=(
                ascending("working_voltage", "withstand"),
                ascending("working_voltage", "repetitive_peak", "transient"),
                ascending("clearance", "creepage"),
            ),
        ),
        records.Insulation,
    ),
}
"""Sub-tables of a record with the dataclass each becomes."""

HEAD = Table(
    {
        "type": choice(*PART_TYPES),
        "pins": texts('["anode", "cathode", "collector", "emitter"]', least=1),
        "groups": GROUPS,
        "source": TEXT,
    },
    required=("type", "pins"),
)
"""The keys of a record itself; `channels` is a list of tables beside them."""

CHANNEL = Table(
    {"name": TEXT, "input": texts('["anode1", "cathode1"]', least=1), "output": texts('["collector1"]', least=1)},
    required=("input", "output"),
)

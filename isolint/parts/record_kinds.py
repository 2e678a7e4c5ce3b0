"""The kinds of value that only part records hold, beside those of `isolint.kinds`."""

from __future__ import annotations

from isolint.curve import Curve
from isolint.kinds import ascending, magnitude, number, positive, quantity, record, texts
from isolint.parts import record_values as v
from isolint.tables import Entries, Kind, Site, Table, shortened


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


def curve(x: Kind[float], logarithmic: bool, example: str) -> Kind[Curve]:
    """A list of [x, y] with ascending x and positive y."""
    y = number(above=0.0)

    def read(raw: object, site: Site) -> Curve | None:
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
        return Curve(tuple(whole), logarithmic)

    return Kind("a list of points", example, read, {"type": "array"}, "1")


def spec(unit: str, example: str, at: Kind[float] | None = None) -> Kind[v.Spec]:
    """A table of min, typ and max (ascending), with the test current `at`."""
    keys = dict.fromkeys(("min", "typ", "max"), positive(unit))
    if at is not None:
        keys["at"] = at
    table = Table(keys, checks=(ascending("min", "typ", "max"),), whole=(_some_value,))
    return record(table, v.Spec, "a table with min, typ or max", example)._replace(unit=unit)


def time(example: str) -> Kind[v.Spec]:
    """A time with its spread; a plain value is the maximum."""
    inline, value = spec("s", example), positive("s")

    def read(raw: object, site: Site) -> v.Spec | None:
        if isinstance(raw, str):
            maximum = value.read(raw, site)
            return None if maximum is None else v.Spec(max=maximum)
        return inline.read(raw, site)

    return Kind(inline.words, example, read, {"anyOf": [inline.form, {"type": "string"}]}, "s")


def saturated(example: str) -> Kind[v.Saturated]:
    """Times of a saturated output, storage or turn-off at least, with the conditions of their test."""
    times = dict.fromkeys(("storage", "turn_on", "turn_off"), positive("s"))
    keys = {**times, "load": positive("ohm"), "drive": positive("A"), "supply": positive("V")}

    def some_time(entries: Entries, site: Site) -> None:
        if not {"storage", "turn_off"} & set(entries):
            site.wrong("it states neither storage nor turn_off", "state one of them")

    table = Table(keys, required=("load", "drive", "supply"), whole=(some_time,))
    return record(table, v.Saturated, "a table of times with load, drive and supply", example)


def ratio(example: str) -> Kind[v.Ratio]:
    """A ratio of currents with its spread, at a test current and voltage."""
    keys = {**dict.fromkeys(("min", "typ", "max"), positive("1")), "current": positive("A"), "voltage": positive("V")}
    table = Table(keys, required=("current",), checks=(ascending("min", "typ", "max"),), whole=(_some_value,))
    return record(table, v.Ratio, "a table with min, typ or max", example)._replace(unit="1")


def _some_value(entries: Entries, site: Site) -> None:
    if not {"min", "typ", "max"} & set(entries):
        site.wrong("it states neither min, typ nor max", "state one of them")


def derating(unit: str, example: str) -> Kind[v.Derating]:
    """Where a limit begins to fall, and how fast."""
    table = Table({"from": quantity("degC"), "slope": positive(unit)}, required=("from", "slope"))
    return record(table, v.Derating, "a table with from and slope", example, {"from": "from_"})


def level(bound: str, example: str) -> Kind[v.RecordLevel]:
    """A guaranteed level with its current."""
    table = Table({bound: quantity("V"), "at": magnitude("A")}, required=(bound, "at"))
    return record(table, v.RecordLevel, "a level with its current", example)


def leakage(example: str) -> Kind[v.Leakage]:
    """The largest current across the insulation at a voltage, rms."""
    table = Table({"max": magnitude("A"), "at": positive("V")}, required=("max", "at"))
    return record(table, v.Leakage, "a current with its voltage", example)._replace(unit="A")


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


def ageing(example: str) -> Kind[v.Ageing]:
    """What is left at the end of life, or a stress test."""
    keys = {
        "remaining": number(high=1.0, above=0.0),
        "loss": number(0.0, 1.0),
        "time": positive("s"),
        "current": positive("A"),
        "temperature": quantity("degC"),
    }
    table = Table(keys, whole=(_one_way_of_ageing,))
    return record(table, v.Ageing, "what remains at the end of life, or a stress test", example)._replace(unit="1")


def saturation(example: str) -> Kind[v.Saturation]:
    """The largest voltage left across an output that conducts."""
    table = Table({"max": positive("V"), "at": positive("A"), "drive": positive("A")}, required=("max", "at", "drive"))
    words = "the largest voltage at an output and an LED current"
    return record(table, v.Saturation, words, example)._replace(unit="V")


def dark_current(example: str) -> Kind[v.DarkCurrent]:
    """The largest off current, with a second point where it is hot."""
    hot = Kind("a current and a temperature", '["50 uA", "100 degC"]', _hot, {"type": "array"})
    table = Table(
        {"max": positive("A"), "at": quantity("degC"), "voltage": positive("V"), "hot": hot},
        required=("max", "at"),
        checks=(_hot_is_hotter,),
    )
    return record(table, v.DarkCurrent, "the largest off current at a temperature", example)._replace(unit="A")


def off_leakage(example: str) -> Kind[v.DarkCurrent]:
    """The largest off current at a temperature; a plain value holds at 25 degC."""
    table = Table({"max": positive("A"), "at": quantity("degC")}, required=("max", "at"))
    inline = record(table, v.DarkCurrent, "the largest off current at a temperature", example)
    value = positive("A")

    def read(raw: object, site: Site) -> v.DarkCurrent | None:
        if isinstance(raw, str):
            amperes = value.read(raw, site)
            return None if amperes is None else v.DarkCurrent(amperes, 25.0)
        return inline.read(raw, site)

    return Kind(inline.words, example, read, {"anyOf": [inline.form, {"type": "string"}]}, "A")


def short_current(example: str) -> Kind[v.ShortCurrent]:
    """The smallest current of a photovoltaic output into a short, with the LED current of its test."""
    table = Table({"min": positive("A"), "drive": positive("A")}, required=("min", "drive"))
    return record(table, v.ShortCurrent, "the smallest current with its LED current", example)._replace(unit="A")


def discharge(example: str) -> Kind[bool | float]:
    """Whether something inside discharges a gate, or the resistor that does."""
    ohms = positive("ohm")

    def read(raw: object, site: Site) -> bool | float | None:
        return raw if isinstance(raw, bool) else ohms.read(raw, site)

    return Kind("true, false or a resistance", example, read, {"type": ["boolean", "string"]})

"""Reading part records: TOML text to `PartRecord`, every mistake of every file at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from isolint import types
from isolint.errors import Mistake
from isolint.parts import record_schema
from isolint.parts.part_channels import derive_channels
from isolint.parts.pins import derive_groups, role_of
from isolint.parts.record_kinds import GROUPS
from isolint.parts.records import ChannelPins, Curve, PartRecord, Supply, SupplyOf
from isolint.rows import Rows
from isolint.tables import Entry, Site, dotted, nearest, parse, read_table, shortened, unstated, values

R = TypeVar("R", bound=Rows)

TEST_POINT = 1e-3
"""How far a curve may be from 1.0 at its test point."""


def read_records(
    data: bytes,
    file: str,
    mistakes: list[Mistake],
    waiting: list[str] | None = None,
    completed: Callable[[str], Mapping[str, Any]] | None = None,
) -> list[PartRecord]:
    """The sound records in one file; what is wrong goes to `mistakes`, the keys of placeholders to `waiting`.

    completed: what else is stated under a name; a record without type and pins is added to that.
    """
    document = parse(data, file, mistakes)
    top = Site(file, "", mistakes, waiting)
    for name in document:
        if name != "parts":
            top.inner(name).wrong("unknown key", "a record starts with [parts.NAME]")
    parts = document.get("parts", {})
    site = top.inner("parts")
    if not isinstance(parts, dict):
        site.wrong(f"{shortened(parts)} is not a table", "a record starts with [parts.NAME]")
        return []
    found = []
    for name, raw in parts.items():
        inner = site.inner(name)
        more = completed(name) if completed is not None and _is_part_of_one(raw) else {}
        record = _read_record(name, _joined(more, raw) if more else raw, inner)
        if record is not None:
            found.append(record)
    return found


def _is_part_of_one(raw: object) -> bool:
    """Whether a record says neither type nor pins: what it states completes one that is there."""
    return isinstance(raw, dict) and not any(key in raw and not unstated(raw[key]) for key in ("type", "pins"))


def _joined(first: Mapping[str, Any], second: Mapping[str, Any]) -> dict[str, Any]:
    """Two records as one, the second counting where both state something; a placeholder counts for nothing."""
    found = dict(first)
    for key, item in second.items():
        known = found.get(key)
        if isinstance(item, dict) and key in record_schema.SECTIONS and isinstance(known, dict):
            found[key] = {**known, **{name: value for name, value in item.items() if not unstated(value)}}
        elif key not in found or not unstated(item):
            found[key] = item
    return found


def _read_record(name: str, raw: object, site: Site) -> PartRecord | None:
    before = len(site.mistakes)
    if not isinstance(raw, dict):
        site.wrong(f"{shortened(raw)} is not a table", f"write [{site.key}] and keys below it")
        return None
    known = (*record_schema.HEAD.keys, *record_schema.SECTIONS, "channels", "supplies")
    head = read_table(
        {key: item for key, item in raw.items() if key in record_schema.HEAD.keys}, record_schema.HEAD, site
    )
    sections: dict[str, Any] = {}
    for key, item in raw.items():
        if key in record_schema.SECTIONS and unstated(item):
            site.inner(key).waits()
        elif key in record_schema.SECTIONS:
            table, make = record_schema.SECTIONS[key]
            entries = read_table(item, table, site.inner(key))
            sections[key] = make(**values(entries, {}))
            if key == "transfer":
                _check_curves(entries, site.inner(key))
        elif key not in known:
            site.inner(key).wrong("unknown key", nearest(key, known))
    if "type" not in head or "pins" not in head:
        return None
    type_, pins = head["type"].value, head["pins"].value
    _check_pins(pins, type_, site.inner("pins"))
    groups = _groups(head, pins, type_, site)
    # Channels follow from sound groups; with a mistake there, a second one would only be its echo.
    sound = len(site.mistakes) == before
    channels = _channels(raw.get("channels"), pins, type_, groups, site) if sound or "channels" in raw else ()
    supplies = _supplies(raw, pins, site)
    if len(site.mistakes) > before:
        return None
    return PartRecord(
        name=name,
        type=type_,
        pins=pins,
        channels=channels,
        groups=tuple(tuple(pins[index] for index in group) for group in groups),
        source=head["source"].value if "source" in head else "",
        file=site.file,
        key=site.key,
        named="groups" not in head,
        supplies=supplies,
        **sections,
    )


def _check_pins(pins: Sequence[str], type_: str, site: Site) -> None:
    seen: set[str] = set()
    for index, pin in enumerate(pins):
        if pin.casefold() in seen and role_of(pin, type_) != "none":
            site.inner(index).wrong(f'the pin "{pin}" stands twice', "number pins of the same name")
        seen.add(pin.casefold())


def _groups(head: Mapping[str, Entry], pins: Sequence[str], type_: str, site: Site) -> tuple[tuple[int, ...], ...]:
    """Port groups as pin positions: stated, else by the names of the pins.

    None of them where each name is known and they leave a choice all the same: what the part joins is then asked where
    it is used.
    """
    if "groups" in head:
        return _stated_groups(head["groups"], pins, type_, site)
    groups, doubtful = derive_groups(pins, type_)
    if doubtful and all(role_of(pin, type_) for pin in pins):
        return ()
    if doubtful:
        named = ", ".join(doubtful)
        example = f"groups = {GROUPS.example}"
        site.inner("pins").wrong(
            f"which pins are joined inside can't be told from the names of {named}", f"write for example {example}"
        )
    _check_isolation(groups, pins, type_, site.inner("pins"))
    return groups


def _stated_groups(entry: Entry, pins: Sequence[str], type_: str, site: Site) -> tuple[tuple[int, ...], ...]:
    here = site.inner("groups")
    positions = {pin.casefold(): index for index, pin in enumerate(pins)}
    groups: list[tuple[int, ...]] = []
    used: set[int] = set()
    for number, names in enumerate(entry.value):
        group = _positions(names, positions, pins, here.inner(number))
        twice = sorted(used & set(group))
        if twice:
            here.inner(number).wrong(f'the pin "{pins[twice[0]]}" is in two groups', "keep it in one")
        used |= set(group)
        groups.append(tuple(sorted(group)))
    free = [index for index in range(len(pins)) if index not in used]
    left = [pins[index] for index in free if role_of(pins[index], type_) != "none"]
    if left:
        here.wrong(f"{', '.join(left)} is in no group", "a pin that is joined to no other has a group of its own")
    whole = tuple(sorted((*(group for group in groups if group), *((index,) for index in free))))
    _check_isolation(whole, pins, type_, here)
    return whole


def _check_isolation(groups: Sequence[Sequence[int]], pins: Sequence[str], type_: str, site: Site) -> None:
    real = [group for group in groups if any(role_of(pins[index], type_) != "none" for index in group)]
    if len(real) == 1 and types.of(type_).isolates:
        site.wrong("all pins fall into one group, so the part separates nothing", 'state groups, or type = "ordinary"')


def _positions(names: Sequence[str], positions: Mapping[str, int], pins: Sequence[str], site: Site) -> tuple[int, ...]:
    """The positions of the named pins, in the order stated."""
    found = []
    for index, name in enumerate(names):
        position = positions.get(name.casefold())
        if position is None:
            site.inner(index).wrong(f'there is no pin "{name}"', nearest(name, tuple(pins)))
        else:
            found.append(position)
    return tuple(dict.fromkeys(found))


def _channels(
    raw: object, pins: Sequence[str], type_: str, groups: Sequence[Sequence[int]], site: Site
) -> tuple[ChannelPins, ...]:
    """Stated channels, else those that the names of the pins tell."""
    here = site.inner("channels")
    if raw is None or unstated(raw):
        derived = derive_channels(pins, type_, groups) if groups else ()
        if derived is None:
            cure = f'write [[{here.key}]] with input = ["..."] and output = ["..."]'
            site.inner("pins").wrong("which input drives which output can't be told from the names of the pins", cure)
            return ()
        return tuple(ChannelPins(*channel) for channel in derived)
    if not isinstance(raw, list):
        here.wrong(f"{shortened(raw)} is not a list of tables", f"write [[{here.key}]] with double brackets")
        return ()
    positions = {pin.casefold(): index for index, pin in enumerate(pins)}
    channels: list[ChannelPins] = []
    for number, item in enumerate(raw):
        inner = here.inner(number)
        entries = read_table(item, record_schema.CHANNEL, inner)
        if "input" in entries and "output" in entries:
            ends = [
                tuple(pins[index] for index in _positions(entries[end].value, positions, pins, inner.inner(end)))
                for end in ("input", "output")
            ]
            name = entries["name"].value if "name" in entries else str(number + 1)
            if name in (channel.name for channel in channels):
                inner.inner("name").wrong(f'there is a channel "{name}" before', "give each channel a name of its own")
            channels.append(ChannelPins(name, ends[0], ends[1]))
            _check_channel(channels[-1], pins, groups, inner)
    return tuple(channels)


def _supplies(whole: Mapping[str, Any], pins: Sequence[str], site: Site) -> tuple[SupplyOf, ...]:
    """Several supplies, each with its pins; beside them the short form for one would leave open whose it is."""
    raw, here = whole.get("supplies"), site.inner("supplies")
    if raw is None or unstated(raw):
        return ()
    if not isinstance(raw, list):
        here.wrong(f"{shortened(raw)} is not a list of tables", f"write [[{here.key}]] with double brackets")
        return ()
    if "supply" in whole:
        here.wrong("supply and supplies exclude each other", f"write each supply as [[{here.key}]] with its pins")
    positions = {pin.casefold(): index for index, pin in enumerate(pins)}
    found: list[SupplyOf] = []
    taken: set[int] = set()
    for number, item in enumerate(raw):
        inner = here.inner(number)
        entries = read_table(item, record_schema.SUPPLIES, inner)
        if "pins" not in entries:
            continue
        own = _positions(entries["pins"].value, positions, pins, inner.inner("pins"))
        if own and own[0] in taken:
            inner.inner("pins").wrong(f"the supply {pins[own[0]]} stands twice", "state each supply once")
        taken.update(own[:1])
        stated = {key: entry for key, entry in entries.items() if key != "pins"}
        found.append(SupplyOf(tuple(pins[index] for index in own), Supply(**values(stated, {}))))
    return tuple(found)


def _check_channel(channel: ChannelPins, pins: Sequence[str], groups: Sequence[Sequence[int]], site: Site) -> None:
    """A channel's input and output have to lie in different groups."""
    for group in groups:
        names = {pins[index] for index in group}
        both = names & set(channel.input), names & set(channel.output)
        if all(both):
            ends = f"{min(both[0])} and {min(both[1])}"
            site.wrong(f"{ends} are joined inside, but one is input and one is output", "correct channels or groups")
            return


def _check_curves(entries: Mapping[str, Entry], site: Site) -> None:
    """Each curve has to be 1.0 at the point where the ratio was measured."""
    ratio = entries["ratio"].value if "ratio" in entries else None
    current = ratio.current if ratio else None
    voltage = ratio.voltage if ratio else None
    for key, x, where, need in (
        ("versus_current", current, "the test current of transfer.ratio", "current"),
        ("versus_temperature", 25.0, "25 degC", ""),
        ("versus_voltage", voltage, "the test voltage of transfer.ratio", "voltage"),
    ):
        if key not in entries:
            continue
        here = site.inner(key)
        if x is None:
            if ratio is not None or "ratio" not in entries:
                here.wrong(f"a curve needs {dotted('transfer', 'ratio')} with {need}", "state where the curve is 1.0")
            continue
        curve: Curve = entries[key].value
        factor = curve.at(x)
        if factor is None:
            here.wrong(f"a record error: the curve does not reach {where}, where it has to be 1.0")
        elif abs(factor - 1.0) > TEST_POINT:
            here.wrong(
                f"a record error: the curve is {factor:.4g} at {where}, where it has to be 1.0", "normalise the curve"
            )


def from_names(name: str, type_: str, pins: Sequence[str]) -> PartRecord | None:
    """A record of a part of which only the type and the names of its pins are known; None when names don't tell."""
    groups, doubtful = derive_groups(pins, type_)
    channels = derive_channels(pins, type_, groups)
    if doubtful or channels is None or (len(groups) < 2 and types.of(type_).isolates):
        return None
    return PartRecord(
        name=name,
        type=type_,
        pins=tuple(pins),
        channels=tuple(ChannelPins(*channel) for channel in channels),
        groups=tuple(tuple(pins[index] for index in group) for group in groups),
        source=f"generic {type_}",
        file="",
    )

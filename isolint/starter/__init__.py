"""A first isolint.toml for a board that has none: what was inferred and from what, and what is missing as questions.

In: a netlist. Out: the text of its settings. Only what the circuit itself shows is written as a fact (which nets are
references of which side); numbers that a name or a source suggests stay comments, since a stated value outranks the
guess that it came from. Questions come as commented lines, the fact that settles most open results first.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.app import Options
from isolint.checking.context import Context
from isolint.checking.coverage import listed_words
from isolint.checking.engine import judged
from isolint.checking.record_lines import RecordLines
from isolint.errors import SettingsError
from isolint.facts import BarrierFacts, OutputFacts, Reading, SideFacts, SupplyFacts
from isolint.facts.paths import FILE_NAME
from isolint.interfaces.entities import Barrier, Side
from isolint.interfaces.netnames import voltage_of_name
from isolint.preparing import locate, prepare, shown
from isolint.results import Result, told_of_crashes
from isolint.rules import RULES
from isolint.source import Tree
from isolint.starter.lines import fresh, key_of, name_of, stands, tables
from isolint.tables import basic_string, dotted, quoted
from isolint.units import show

_MOST_NAMED = 6


class WrittenFile(NamedTuple):
    """A file to write: its name as the reader sees it, what it holds, and what it held (None: it is new)."""

    name: str
    text: str
    before: str | None


class Start(NamedTuple):
    """What `init` writes: the settings, then the part records if any are asked for.

    questions: how many are open. added: how many of them were not in the files. root: the folder of the tree.
    crashed: that isolint itself failed at some rules, so that questions may be missing; "" if it did not. wanted: the
    keys that open results ask for, one by one.
    """

    files: tuple[WrittenFile, ...]
    questions: int
    added: int
    root: str
    crashed: str = ""
    wanted: frozenset[str] = frozenset()


@dataclass(slots=True)
class _Question:
    """One fact that is missing: where it goes, the lines to write, and what waits for it."""

    file: str
    key: str
    example: str
    waiting: dict[str, None] = field(default_factory=dict)

    @property
    def is_of_record(self) -> bool:
        """Whether it goes into a file of part records."""
        return self.key.startswith("parts.")


def start(path: str, options: Options) -> Start:
    """Make the settings for a netlist, or add to them the questions that are not in them yet."""
    tree, inner, root = locate(path, options.root)
    file = posixpath.join(posixpath.dirname(inner), FILE_NAME)
    try:
        context, _ = prepare(tree, inner, root)
    except SettingsError as error:
        raise SettingsError([each._replace(file=shown(tree, each.file)) for each in error.mistakes]) from None
    results = judged(context, RULES)
    questions = _questions(RecordLines(context).placed(results))
    before = _read(tree, file)
    asked = [
        *_simulation_ground(context, questions),
        *_supplies(context),
        *_asked(context, questions),
        *_barriers(context, questions),
    ]
    records = context.facts.record_file(file)
    if before is None:
        text = _joined([*_head(context, inner, file, records, questions), *_sides(context), *asked])
        added = len(questions)
    else:
        blocks = [found for block in asked if (found := fresh(block, before))]
        text = _joined([before.rstrip("\n").split("\n") if before.strip() else [], *blocks])
        added = len(blocks)
    made = [WrittenFile(shown(tree, file), text if before is None or added else before, before)]
    of_records, new = _records(tree, records, questions)
    if of_records is not None:
        made.append(of_records._replace(name=shown(tree, records)))
    new_ones = added + (0 if before is None else new)
    wanted = frozenset(fact.key for result in results if result.kind == "open" for fact in result.missing)
    return Start(tuple(made), len(questions), new_ones, str(tree.root), told_of_crashes(results), wanted)


def _joined(blocks: Iterable[Sequence[str]]) -> str:
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _read(tree: Tree, file: str) -> str | None:
    """What stands in a file of the tree, None where there is none."""
    return tree.read(file).decode("utf-8-sig") if tree.exists(file) else None


def _head(context: Context, inner: str, file: str, records: str, questions: Sequence[_Question]) -> Iterator[list[str]]:
    """The beginning of new settings."""
    yield [
        _comment(f"Settings of {posixpath.basename(inner)}, begun by `isolint init`."),
        "# What stands here counts as stated: check it. Lines after `#` are guesses or questions: correct them and",
        '# take the `#` away. What you don\'t know yet stays "?": it states nothing, and the question stays.',
        "",
        "# An open result, one that lacks a fact, counts as an error.",
        'open = "error"',
    ]
    if any(question.is_of_record for question in questions) and context.facts.parts is None:
        name = posixpath.relpath(records, posixpath.dirname(file) or ".")
        yield ["# Part records, what data sheets say.", f"parts = [{basic_string(name)}]"]
    yield list(_found(context))


def _records(tree: Tree, file: str, questions: Sequence[_Question]) -> tuple[WrittenFile | None, int]:
    """The file of part records with the records and keys that it lacks, None if nothing is to be in it; how many
    blocks that adds."""
    before = _read(tree, file)
    text = before or ""
    added = 0
    for question in questions:
        if not question.is_of_record:
            continue
        block: list[str] = []
        for head, body in tables(question.example):
            block += _record_block(head, body, text)
        if block:
            text = _joined([text.rstrip("\n").split("\n") if text.strip() else [], [_settles([question]), *block]])
            added += 1
    return (WrittenFile(file, text, before) if added or before is not None else None), added


def _record_block(head: str, body: Sequence[str], text: str) -> list[str]:
    """A table of a record as it stands, where the file has none of it; else its new keys as comments."""
    if name_of(head, body) not in stands(text):
        return [head, *body]
    return fresh(_commented("\n".join((head, *body))), text)


# -- what was inferred --------------------------------------------------------------------------------------------


def _found(context: Context) -> Iterator[str]:
    """The couplers and other barrier parts, with what they were recognised by."""
    recognition = context.interfaces.recognition
    yield "# -- found in the netlist " + "-" * 60
    for part in recognition.parts.values():
        model = f" {part.model_name}" if part.model_name else ""
        yield _comment(f"{context.named(part.element)}: {part.type}{model}, recognised by its {part.recognised_by}")
    if not recognition.parts:
        yield "# No coupler and no other barrier part was recognised. A part record or a type says what a part is."
    for suspect in recognition.suspects:
        yield _comment(f"{context.named(suspect.element)}: not understood: {suspect.reason}")
    for line in listed_words(context):
        yield _comment(f"listed, not asked about: {line}")


def _referenced(context: Context) -> list[Side]:
    """The sides with a reference of their own, that of node 0 left out; the first of those that share one."""
    found: dict[str, Side] = {}
    for side in context.interfaces.separation.sides:
        if not side.stated and side.reference >= 0 and context.net(side.reference) != "0":
            found.setdefault(context.net(side.reference), side)
    return list(found.values())


def _sides(context: Context) -> Iterator[list[str]]:
    """Each side that has a reference of its own, as a fact."""
    for side in _referenced(context):
        told = f"# the reference of a side, from the structure and the name of the net; {side.element_count} elements"
        yield [
            told,
            f"[sides.{dotted(side.name)}]",
            SideFacts.nets.entry(f"[{basic_string(context.net(side.reference))}]"),
            f"# {SideFacts.kind.entry()}",
        ]


def _simulation_ground(context: Context, questions: Sequence[_Question]) -> Iterator[list[str]]:
    """The question whether node 0 is only the simulator's reference, where sides meet in it and no result asks it."""
    if any(Reading.simulation_ground.key in question.example for question in questions):
        return
    if context.facts.reading.simulation_ground is None and any(
        join.node_0_only for join in context.interfaces.separation.joins
    ):
        yield [
            "# Sides meet in node 0 only. If it is nothing but the simulator's reference:",
            *_commented(Reading.simulation_ground.line("", basic_string("0"))),
        ]


def _supplies(context: Context) -> Iterator[list[str]]:
    """The supplies that the channels meet and nobody stated, with what is assumed of them, as comments."""
    separation = context.interfaces.separation
    for net, element in _supply_nets(context).items():
        name = context.net(net)
        if context.facts.supply(name) is not None:
            continue
        value = context.circuit.value(element) if element >= 0 else None
        origin = f"source {context.named(element)}" if value is not None and element >= 0 else "the name of the net"
        if value is None:
            value = voltage_of_name(name)
        if value is None:
            continue
        lines = [
            _comment(f"assumed from {origin}, 5 % by default; uncomment what is right"),
            f"# [supplies.{quoted(name)}]",
            f"# {SupplyFacts.voltage.entry(basic_string(show(value, 'V')))}",
            f"# {SupplyFacts.tolerance.entry()}",
        ]
        side = separation.sides[separation.side_of_net[net]] if net in separation.side_of_net else None
        if side is not None and side.reference >= 0:
            lines.append(f"# {SupplyFacts.ground.entry(basic_string(context.net(side.reference)))}")
        yield lines


def _supply_nets(context: Context) -> dict[int, int]:
    """The supply nets around the channels in the order of their names, with the source that holds each (-1: none)."""
    networks = [network for channel in context.channels for network in (channel.drive, channel.load)]
    found = {
        boundary.net: boundary.element
        for network in networks
        for boundary in network.boundary
        if boundary.kind == "supply"
    }
    return dict(sorted(found.items(), key=lambda pair: context.net(pair[0])))


# -- what is missing ----------------------------------------------------------------------------------------------


def _questions(results: Iterable[Result]) -> list[_Question]:
    """Missing facts, the one that most results wait for first; of equal ones that of the earlier rule."""
    found: dict[tuple[str, str], _Question] = {}
    for result in results:
        if result.kind not in ("open", "fail"):
            continue
        for fact in result.missing:
            question = found.setdefault((fact.file, fact.key), _Question(fact.file, fact.key, fact.example))
            question.waiting[f"{result.rule} {result.subject}"] = None
    return sorted(found.values(), key=lambda question: -len(question.waiting))


def _asked(context: Context, questions: Sequence[_Question]) -> Iterator[list[str]]:
    """The questions as commented lines, one block a table so that all of them may be uncommented together."""
    asked_below = {f"{key}." for key in map(_barrier_key, _open_barriers(context))}
    own = [
        question
        for question in questions
        if not question.is_of_record and not question.key.startswith(tuple(asked_below))
    ]
    if own:
        yield ["# -- missing, the fact that settles most first: state what is right " + "-" * 18]
    referenced = {f"[sides.{dotted(side.name)}]" for side in _referenced(context)}
    members: dict[str, list[_Question]] = {}
    bodies: dict[str, list[str]] = {}
    for question in own:
        for head, body in tables(question.example):
            if head.startswith("[") and head not in referenced:
                name = name_of(head, body)
                members.setdefault(name, []).append(question)
                bodies.setdefault(name, [head]).extend(body)
    blocks = []
    for name, asking in members.items():
        head, *body = bodies[name]
        lines = [_settles(asking), f"# {head}"]
        seen: set[str] = set()
        for line in body:
            if key_of(line) not in seen:
                seen.add(key_of(line))
                lines.append(f"# {_hinted(context, head, line)}")
        blocks.append((len(_waiting(asking)), lines))
    for _, lines in sorted(blocks, key=lambda block: -block[0]):
        yield lines
    for question in own:
        if not question.example.startswith("["):
            place = f"in {posixpath.basename(question.file)}: {question.example.removeprefix('* ')}"
            yield [_settles([question]), _comment(place)]


def _hinted(context: Context, head: str, line: str) -> str:
    """An example line with what this circuit tells: the supply of the net's own side, what else a part may be."""
    if head.startswith("[lines.") and line.startswith("on = "):
        other = f"[outputs.{head.removeprefix('[lines.')}"
        return f"{line}; or, where a logic output drives it, {other} with supply, high, low"
    found = re.fullmatch(r'\[(?:outputs|inputs)\."(.*)"\]', head)
    if not line.startswith(f"{OutputFacts.supply.key} = ") or found is None:
        return line
    separation = context.interfaces.separation
    sides = {side for net, side in separation.side_of_net.items() if context.net(net) == found[1]}
    supplies = [context.net(net) for net in _supply_nets(context) if separation.side_of_net.get(net) in sides]
    if not supplies:
        return line
    others = f"; or {', '.join(supplies[1:])}" if supplies[1:] else ""
    return f"{OutputFacts.supply.entry(example=basic_string(supplies[0]))}{others}"


def _waiting(members: Sequence[_Question]) -> list[str]:
    """What waits for some facts."""
    return list(dict.fromkeys(name for question in members for name in question.waiting))


def _settles(members: Sequence[_Question]) -> str:
    waiting = _waiting(members)
    more = f" and {len(waiting) - _MOST_NAMED} more" if len(waiting) > _MOST_NAMED else ""
    return _comment(f"settles {len(waiting)} open: {', '.join(waiting[:_MOST_NAMED])}{more}")


def _barriers(context: Context, questions: Sequence[_Question]) -> Iterator[list[str]]:
    """What each barrier has to do, which no netlist can say; a side that has no table above gets one here."""
    named = {side.name for side in _referenced(context)}
    for barrier in _open_barriers(context):
        names = ", ".join(context.circuit.path(element) for element in barrier.parts[:_MOST_NAMED])
        pair = ", ".join(basic_string(side) for side in barrier.sides)
        lines = [_comment(f"what the barrier of {names} has to do")]
        waiting = [question for question in questions if question.key.startswith(f"{_barrier_key(barrier)}.")]
        if waiting:
            lines.append(_settles(waiting))
        for side in context.interfaces.separation.sides:
            if side.name in barrier.sides and not side.stated and side.name not in named:
                named.add(side.name)
                net = side.reference if side.reference >= 0 else min(side.nets, key=context.net)
                lines += [
                    f"# [sides.{dotted(side.name)}]",
                    f"# {SideFacts.nets.entry(f'[{basic_string(context.net(net))}]')}",
                ]
        lines += [
            "# [[barriers]]",
            f"# between = [{pair}]",
            f"# {BarrierFacts.insulation.entry()}",
            f"# {BarrierFacts.working_voltage.entry()}",
        ]
        known = {"between", "insulation", "working_voltage"}
        for line in (line for question in waiting for line in list(tables(question.example))[-1][1]):
            if key_of(line) not in known:
                known.add(key_of(line))
                lines.append(f"# {line}")
        yield lines


def _open_barriers(context: Context) -> list[Barrier]:
    """The barriers that nobody stated anything of and that the netlist can show; none where node 0 hides the sides."""
    separation = context.interfaces.separation
    if any(join.node_0_only for join in separation.joins):
        return []
    return [barrier for barrier in separation.barriers if barrier.stated < 0 and "0" not in barrier.sides]


def _barrier_key(barrier: Barrier) -> str:
    return f"barriers.{quoted(' | '.join(sorted(barrier.sides, key=str.casefold)))}"


def _commented(lines: str) -> list[str]:
    return [f"# {line}" for line in lines.split("\n")]


def _comment(text: str) -> str:
    """Text of any origin as one comment: a control character would end it or spoil the file."""
    return "# " + "".join(character if character.isprintable() else " " for character in text)

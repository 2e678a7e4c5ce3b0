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

from isolint.app import Options, locate, prepare, shown
from isolint.checking.context import Context
from isolint.checking.engine import judged
from isolint.errors import IsolintError, Place, SettingsError
from isolint.facts import BarrierFacts, ElementFacts, Reading, SideFacts, SupplyFacts
from isolint.facts.paths import FILE_NAME
from isolint.interfaces.entities import Barrier, Side
from isolint.interfaces.netnames import voltage_of_name
from isolint.results import Result
from isolint.rules import RULES
from isolint.tables import basic_string, dotted, quoted
from isolint.units import show

_MOST_NAMED = 6


class Start(NamedTuple):
    """A settings file to write: its name as the reader sees it, its text, the number of questions in it, its root."""

    file: str
    text: str
    questions: int
    root: str


@dataclass(slots=True)
class _Question:
    """One fact that is missing: where it goes, the lines to write, and what waits for it."""

    file: str
    key: str
    example: str
    waiting: dict[str, None] = field(default_factory=dict)


def start(path: str, options: Options) -> Start:
    """Make the settings for a netlist; raise `IsolintError` if there are some beside it already."""
    tree, inner, root = locate(path, options.root)
    file = posixpath.join(posixpath.dirname(inner), FILE_NAME)
    if tree.exists(file):
        raise IsolintError("there are settings already, and init never overwrites any", Place(shown(tree, file)))
    try:
        context, _ = prepare(tree, inner, root)
    except SettingsError as error:
        raise SettingsError([each._replace(file=shown(tree, each.file)) for each in error.mistakes]) from None
    questions = _questions(judged(context, RULES))
    blocks = [
        [
            _comment(f"Settings of {posixpath.basename(inner)}, begun by `isolint init`."),
            "# What stands here counts as stated: check it. Lines after `#` are guesses or questions: correct them and",
            "# take the `#` away.",
            "",
            "# An open result, one that lacks a fact, counts as an error.",
            'open = "error"',
        ],
        *([['# parts = ["parts.toml"]  # files of part records, see the end']] if _asks_for_records(questions) else []),
        list(_found(context)),
        *_sides(context),
        *_simulation_ground(context),
        *_supplies(context),
        *_asked(context, file, questions),
        *_barriers(context, questions),
    ]
    text = "\n\n".join("\n".join(block) for block in blocks if block) + "\n"
    return Start(shown(tree, file), text, len(questions), str(tree.root))


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
            f"# {SideFacts.kind.entry()}  # or mains, hazardous, earth, chassis",
        ]


def _simulation_ground(context: Context) -> Iterator[list[str]]:
    """The question whether node 0 is only the simulator's reference, where sides meet in it."""
    if context.facts.reading.simulation_ground is None and any(
        join.node_0_only for join in context.interfaces.separation.joins
    ):
        yield [
            "# Sides meet in node 0 only. If it is nothing but the simulator's reference:",
            *_commented(Reading.simulation_ground.line()),
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
    """Missing facts, the one that most open results wait for first; of equal ones that of the earlier rule."""
    found: dict[tuple[str, str], _Question] = {}
    for result in results:
        if result.kind != "open":
            continue
        for fact in result.missing:
            question = found.setdefault((fact.file, fact.key), _Question(fact.file, fact.key, fact.example))
            question.waiting[f"{result.rule} {result.subject}"] = None
    return sorted(found.values(), key=lambda question: -len(question.waiting))


def _asks_for_records(questions: Sequence[_Question]) -> bool:
    return any(question.example.startswith("[parts.") for question in questions)


def _asked(context: Context, file: str, questions: Sequence[_Question]) -> Iterator[list[str]]:
    """The questions as commented lines, one block a table so that all of them may be uncommented together."""
    asked_below = {f"{key}." for key in map(_barrier_key, _open_barriers(context))}
    own = [
        question
        for question in questions
        if not question.example.startswith("[parts.") and not question.key.startswith(tuple(asked_below))
    ]
    if own:
        yield ["# -- missing, the fact that settles most first: state what is right " + "-" * 18]
    written = {f"[sides.{dotted(side.name)}]" for side in _referenced(context)}
    tables: dict[str, list[_Question]] = {}
    bodies: dict[str, list[str]] = {}
    for question in own:
        for head, body in _tables_of(question.example):
            # A barrier is a table of its own each time.
            name = f"{head} {body[:1]}" if head.startswith("[[") else head
            if head not in written:
                tables.setdefault(name, []).append(question)
                bodies.setdefault(name, [head]).extend(body)
    for name, members in tables.items():
        head, *body = bodies[name]
        lines = [_settles(members), f"# {head}"]
        seen: set[str] = set()
        for line in body:
            key = line.partition("=")[0].strip()
            if key not in seen:
                seen.add(key)
                lines.append(f"# {_hinted(context, head, line)}")
        yield lines
    for question in questions:
        if question.example.startswith("[parts."):
            name = posixpath.relpath(question.file, posixpath.dirname(file) or ".")
            place = _comment(f"in {name}, which `parts` above must name:")
            yield [_settles([question]), place, *(f"# {line}" for line in question.example.split("\n"))]


def _tables_of(example: str) -> Iterator[tuple[str, list[str]]]:
    """The tables of an example, each with its head and its lines."""
    head = ""
    body: list[str] = []
    for line in example.split("\n"):
        if line.startswith("["):
            if head:
                yield head, body
            head, body = line, []
        else:
            body.append(line)
    yield head, body


def _hinted(context: Context, head: str, line: str) -> str:
    """An example line with what this circuit tells: the supply of the net's own side, what else a part may be."""
    if line == ElementFacts.ordinary.entry():
        return f'{line}  # or, where it isolates, type = "..." or a part record (isolint parts schema)'
    if head.startswith("[lines.") and line.startswith("on = "):
        other = f"[outputs.{head.removeprefix('[lines.')}"
        return f"{line}  # or, where a logic output drives it, {other} with supply, high, low"
    found = re.fullmatch(r'\[(?:outputs|inputs)\."(.*)"\]', head)
    if not line.startswith("supply = ") or found is None:
        return line
    separation = context.interfaces.separation
    sides = {side for net, side in separation.side_of_net.items() if context.net(net) == found[1]}
    supplies = [context.net(net) for net in _supply_nets(context) if separation.side_of_net.get(net) in sides]
    if not supplies:
        return line
    others = f"  # or {', '.join(supplies[1:])}" if supplies[1:] else ""
    return f"supply = {basic_string(supplies[0])}{others}"


def _settles(members: Sequence[_Question]) -> str:
    waiting = list(dict.fromkeys(name for question in members for name in question.waiting))
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
            f"# {BarrierFacts.insulation.entry()}  # or functional, supplementary, double, reinforced",
            f"# {BarrierFacts.working_voltage.entry()}  # rms",
        ]
        known = {"between", "insulation", "working_voltage"}
        for line in (line for question in waiting for line in list(_tables_of(question.example))[-1][1]):
            key = line.partition("=")[0].strip()
            if key not in known:
                known.add(key)
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

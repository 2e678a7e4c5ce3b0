"""An output that goes to the wrong level when the far side loses its supply or sends nothing.

## What it looks at

The outputs of digital isolators and of couplers at nets of which somebody states `signals."RUN".safe`, the level that
is wanted there while the input side has no supply, its cable is open or its LED is dark. Where none is stated, nothing
is asked.

## Why it matters

A brake is let go, a heater goes on or a valve opens when a cable is pulled. Isolators of one series come with either
default, told by a letter of their name.

## How it is computed

Of an isolator the level is `output.default`; where that is `hi-z`, or `high` of an output that only pulls down, the one
to which the net is pulled by a resistor or by its reader. Of a coupler with an LED it is `output.default` where the
record states it, else the level that its output leaves in the dark. It must be the one that is stated, at the net for
which it is stated.

Settings: driver, receiver, barrier.

```toml
[signals."OUT"]
safe = "low"
[signals."RUN"]
safe = "high"
```

## Fails

```netlist
* The isolator goes low and high is wanted (demonstration)
* expect: default-state-wrong
XU1 V5 DRIVE GND GNDB RUN VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
```

## Passes

```netlist
* A net of which low is wanted (demonstration)
XU1 V5 DRIVE GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
```

## Remedy

The part with the other default, or a receiver that takes the other level for the safe one.

## What it cannot see

The level while the supply of the output itself is missing, glitches while supplies rise, and levels behind parts that
nobody explained.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.context import Context
from isolint.checking.isolator_outputs import LogicOutput, logic_outputs, pulled, readers
from isolint.checking.rule import Rule
from isolint.errors import Place
from isolint.facts import InputFacts, SignalFacts
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Output
from isolint.results import Kind, Measure, Result
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Lacking


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a net that a channel's output sets and of which a safe level is stated."""
    for net in _nets(channel):
        safe = _safe(context, net)
        if safe is None:
            continue
        name = context.net(net)
        try:
            level, why = _dark(context, channel, net)
        except Lacking as reason:
            yield context.lacking(RULE, channel, reason, name)
            continue
        kind, text, remedy = _held(name, level, safe, why)
        yield context.channel_result(
            RULE, channel, kind, f"{channel.subject}: {text}", role=name,
            remedy=remedy, measure=Measure(0.0, larger_is_worse=False) if kind == "fail" else None,
        )  # fmt: skip


def concerns(context: Context, channel: Channel) -> bool:
    """Whether a safe level is stated of a net that a channel's output sets."""
    return any(_safe(context, net) is not None for net in _nets(channel))


def _nets(channel: Channel) -> Iterable[int]:
    """The nets whose level a channel's output sets."""
    own = [channel.pins["output"]] if "output" in channel.pins else []
    return dict.fromkeys((*own, *channel.load.inner, *(held.net for held in channel.load.boundary)))


def beside(context: Context) -> Iterable[Result]:
    """One result an output of an isolator and net behind it of which a safe level is stated, and one any other net."""
    if not any(row is SignalFacts.safe for row, _ in context.facts.entries()):
        return
    told = {net for channel in context.channels if RULE.asks_channels(channel.part.kind) for net in _nets(channel)}
    for output in logic_outputs(context):
        for net in dict.fromkeys((output.net, *readers(context, output))):
            safe = _safe(context, net)
            if safe is not None:
                told.add(net)
                yield from _isolator(context, output, net, safe)
    for net in context.circuit.nets():
        if net not in told and _safe(context, net) is not None:
            yield _unreached(context, net)


def _unreached(context: Context, net: int) -> Result:
    name, at = context.net(net), [element for element, _ in context.circuit.elements_at(net)]
    text = f"{name}: no output of an isolator or coupler sets it directly, its level without a signal is not computed"
    where = context.place(at[0]) if at else Place(context.netlist)
    return context.result(RULE, "open", text, where, name, related=context.related(at))


def _safe(context: Context, net: int) -> str | None:
    fact = context.facts.of(SignalFacts.safe, context.net(net))
    return None if fact is None else str(fact.value)


def _isolator(context: Context, output: LogicOutput, net: int, safe: str) -> Iterator[Result]:
    part, name = output.part, context.net(net)
    role = f"{output.name} at {name}"
    try:
        level, why = _default(context, output)
    except Lacking as reason:
        yield part_results.lacking(context, RULE, part, reason, role)
        return
    kind, text, remedy = _held(name, level, safe, f"output {output.name} {why}")
    made = context.result(
        RULE, kind, f"{part.path}: {text}", context.place(part.element), part.path, role=role, remedy=remedy,
        measure=Measure(0.0, larger_is_worse=False) if kind == "fail" else None,
        related=context.related([part.element]), element=part.element,
    )  # fmt: skip
    yield made._replace(part=part.path)


def _held(name: str, level: str, safe: str, why: str) -> tuple[Kind, str, str]:
    """What is said of a level at a net: empty where nothing sets it."""
    if level == safe:
        return "pass", f"net {name} is {level} without a signal, as is wanted: {why}", ""
    found = f"is {level}" if level else "is left at no level"
    remedy = f"a part whose output goes {safe}, or another level as the safe one of {name}"
    if not level:
        remedy = f"pull net {name} {'up' if safe == 'high' else 'down'} by a resistor"
    return "fail", f"net {name} {found} without a signal, {safe} is wanted: {why}", remedy


def _default(context: Context, output: LogicOutput) -> tuple[str, str]:
    """The level of an isolator's output without a signal, empty where nothing sets it, with why."""
    stated = fact_terms.recorded(output.part, Output.default)
    if stated is None:
        raise _missing(context, output.part)
    if not (stated == "hi-z" or (stated == "high" and output.pulls)):
        return str(stated), f"goes {stated}"
    up, down = pulled(context, output)
    if up and down:
        net = context.net(output.net)
        raise Lacking(
            f"output {output.name} lets go of net {net}, which is pulled both ways: its level is not computed"
        )
    if not up and not down:
        return "", "lets go and nothing pulls its net"
    return ("high", "lets go and its net is pulled up") if up else ("low", "lets go and its net is pulled down")


def _dark(context: Context, channel: Channel, net: int) -> tuple[str, str]:
    """The level of a net while the LED is dark, with why."""
    stated = fact_terms.recorded(channel.part, Output.default)
    if stated in ("low", "high"):
        return str(stated), f"its output goes {stated}"
    kind = fact_terms.recorded(channel.part, Output.kind)
    if channel.part.kind.output.conducts != "transistor" and kind != "open-collector":
        raise _missing(context, channel.part)
    for receiver in context.analysis.loads().receivers(channel):
        if receiver.kind == "input" and receiver.net == net:
            if receiver.inverted:
                return "high", "its output lets go in the dark and its net is pulled up"
            return "low", "its output lets go in the dark and its net is pulled down"
    name = context.net(net)
    missing = context.lookup.missing(InputFacts.high_min, name)
    raise Lacking(f"nothing is stated that reads net {name}, so that its level in the dark is not known", [missing])


def _missing(context: Context, part: Part) -> Lacking:
    name, record = fact_terms.named(part), part.record
    file = context.settings_file if record is None or not record.file else record.file
    return Lacking(
        f"the level of the output of {name} without supply or signal is not known",
        [fact_terms.missing(file, Output.default, name)],
    )


RULE = Rule(
    slug="default-state-wrong",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("transistor", "logic", "driver"),
    facts=("signals.*.safe", "inputs.*.high_min", "parts.*.output.default"),
    judge=judge,
    beside=beside,
    asked_beside=("levels",),
    needs=(),
    concerns=concerns,
)

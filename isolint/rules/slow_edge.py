"""An edge that lingers between the levels of an input without hysteresis.

## What it looks at

Stated inputs that read a coupler's output and have no hysteresis (`hysteresis = false`), or of which nobody says so
although a rate, a pulse or `edge_max` is stated: how long the edge stays between `low_max` and `high_min`.

## Why it matters

A plain CMOS input between its levels conducts through both transistors and follows every disturbance: one edge of a
phototransistor counts as several. A counter counts too much, a clock shifts twice.

## How it is computed

With the currents and time constants of `switching-too-slow` (amperes, seconds):

    rising   tau_A ln(I_1 / I_2)                     I_1 at low_max, I_2 at high_min
    falling  tau_A ln((I_a - I_2) / (I_a - I_1))

Behind further capacitors the sum of all R C is added to tau_A. A logic output has the edge of its pull-up. The limit is
`inputs."NET".edge_max`, else 10 ns a volt between both levels at worst and 500 ns at the kindest (from memory). The
margin is limit / edge and must be 1.00.

Settings: driver, receiver, conditions.

```toml
[inputs."OUT"]
hysteresis = false
```

## Fails

```netlist
* A phototransistor into a plain input (demonstration)
R1 DRIVE A 470
* expect: slow-edge
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 4.7k
```

## Passes

```netlist
* A logic output into the same input (demonstration)
R1 DRIVE A 330
XU1 A GND VB OUT GNDB DEMO_LO1
R2 VB OUT 470
C1 VB GNDB 100n
```

## Remedy

An input with hysteresis (a Schmitt trigger), or a faster output.

## What it cannot see

Noise on the edge, and what is behind the input: an input that is only sampled by software may take a slow edge.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.demanded_speed import demand
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.speed import slope
from isolint.checking.verdict import decide
from isolint.facts import InputFacts
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.rows import Usual, least
from isolint.worstcase import fact_terms
from isolint.worstcase.demands import logic_level
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

_LEAST_SECONDS = 1e-15
_UNKNOWN = Usual(0.0, 0.0, 1.0, 1.0, 1.0, "assumption, nobody says whether the input has hysteresis")


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result an input, with its first channel."""
    use = use_of(context, channel)
    nets = dict.fromkeys(held.net for held in channel.load.boundary if held.kind == "input")
    asked = [net for net in nets if not use and _is_asked(context, channel, net)]
    for net in asked:
        try:
            yield _judge(context, channel, net)
        except Lacking as reason:
            yield context.lacking(RULE, channel, reason, f"input {context.net(net)}")
    if not asked:
        text = f"{channel.subject}: no input without hysteresis reads it, or nothing is said of time"
        yield context.channel_result(RULE, channel, "notApplicable", text)


def _is_asked(context: Context, channel: Channel, net: int) -> bool:
    """Whether an edge matters at an input, and no channel before this one has it."""
    for other in context.channels:
        if other.subject == channel.subject:
            break
        if any(held.kind == "input" and held.net == net for held in other.load.boundary):
            return False
    facts = context.facts.input(context.net(net))
    if facts is None or (facts.hysteresis is not None and facts.hysteresis.value):
        return False
    if facts.hysteresis is not None or facts.edge_max is not None:
        return True
    asked = demand(context, channel)
    return asked is not None and not asked.stimulus


def _judge(context: Context, channel: Channel, net: int) -> Result:
    name = context.net(net)
    unknown = _hysteresis(context, name)

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        found = slope(analysis, channel, net, setting)
        limit = _limit(context, net)
        smooth = () if unknown is None else (unknown,)
        # With hysteresis no edge is too slow.
        decided = True if unknown is not None and setting.low(unknown) >= 1.0 else None
        return at_most(
            Figure("t_edge", found.seconds, "s", f"edge at input {name} between its levels"),
            Figure("t_edge_max", setting.low(limit), "s", "longest edge that it takes", source=limit.origin),
            (*found.terms, limit, *smooth),
            least=_LEAST_SECONDS,
            decided=decided,
        )

    verdict = decide(claim)
    told, found = verdict.worst, slope(context.analysis, channel, net, WORST)
    lingers, takes = told.beside
    return context.judged(
        RULE,
        channel,
        verdict,
        f"its edge at input {name} lingers for {lingers} between both levels, {takes} are allowed",
        role=f"input {name}",
        evidence=[*(figure.evidence() for figure in found.figures), *told.evidence()],
        remedy=f"an input with hysteresis at {name} (then state {InputFacts.hysteresis.key}), or a faster output",
        chain=channel.load.elements,
    )


def _hysteresis(context: Context, name: str) -> Term | None:
    """That an input may have hysteresis, where nobody says so."""
    facts = context.facts.input(name)
    if facts is not None and facts.hysteresis is not None:
        return None
    title = f"whether input {name} has hysteresis"
    return fact_terms.defaulted(InputFacts.hysteresis, name, _UNKNOWN, title=title, unit="1")


def _limit(context: Context, net: int) -> Term:
    """The longest edge: as stated, else by the volts between both levels."""
    name, lookup = context.net(net), context.lookup
    if context.facts.of(InputFacts.edge_max, name) is not None:
        return lookup.term(InputFacts.edge_max, name)
    usual = InputFacts.edge_max.counts
    volts = logic_level(lookup, net, False, WORST).level - logic_level(lookup, net, True, WORST).level
    shortest = min(max(volts, 0.0) * usual.low, usual.high)
    return fact_terms.defaulted(InputFacts.edge_max, name, least(shortest, usual.high, usual.origin))


RULE = Rule(
    slug="slow-edge",
    group="time, heat",
    level="warning",
    page=__doc__,
    asked_of=("output",),
    facts=("inputs.*.hysteresis", "inputs.*.edge_max", "inputs.*.capacitance", "signals.*.rate", "signals.*.pulse"),
    judge=judge,
    needs=("drive", "led-current", "transfer", "load", "level", "carrying", "off"),
    room="a faster part",
)

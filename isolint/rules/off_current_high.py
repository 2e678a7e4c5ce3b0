"""A switch that lets so much flow while it is off that its load is not.

## What it looks at

Outputs that switch loads: the largest current to the load while the LED is dark, against what that load still takes
for off.

## Why it matters

Snubbers carry a current as long as the supply is there. Small relays do not drop out, lamps glow, electronics start
and stop.

## How it is computed

    I_off = I_leak + 2 pi f C V + V / R     (amperes)

I_leak: of the output at the hottest ambient, `trigger.leakage` of phototriacs and photo-SCRs [0 to 100 uA],
`output.leakage` of solid-state relays [0 to 10 mA] and MOSFET outputs [0 to 1 uA at 25 degC, twice every 10 K]; a
stated one is twice as large every 10 K above its temperature at worst (from memory), which is 25 degC where nothing is
said; `trigger.leakage` takes it with its temperature, of a solid-state relay too. C and R lie across the output or the
thyristor that it fires; V is the largest supply, rms. The limit is the current at which the coil of a relay drops out,
drop_out / R, `loads.X.off_current_max`, or else 1 % to 10 % of the least current of the load; of lamps and electronics
nothing to 10 % (from memory). Logic inputs and LEDs as loads are asked about as levels and as LEDs.

Settings: driver, switched.

```toml
[loads."VALVE"]
kind = "resistive"
current = ["20 mA", "25 mA"]
return = "N"
off_current_max = "0.5 mA"
```

## Fails

```netlist
* 10 nF across the output let 1 mA flow (demonstration)
R1 DRIVE A 390
* expect: off-current-high margin=0.47
XU1 A GND VALVE L DEMO_TR1
R3 VALVE S 1k
C1 S L 10n
```

## Passes

```netlist
* 1 nF (demonstration)
R1 DRIVE A 390
XU1 A GND VALVE L DEMO_TR1
R3 VALVE S 1k
C1 S L 1n
```

## Remedy

A smaller capacitor, a resistor or capacitor across the load, or an output that leaks less.

## What it cannot see

What a load of its own does with little current: LED lamps glow from less than any stated figure.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import Switched, current, load_kind, powered, stated_load, switched, switches
from isolint.checking.switched_load import load_name
from isolint.checking.switched_off import past
from isolint.checking.verdict import decide
from isolint.facts import LoadFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Coil
from isolint.results import Result
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

SURE, GENEROUS = 0.01, 0.1
"""Shares of the least current of a load below which it is surely off, and may be."""

NEVER_SURE = frozenset(("lamp", "electronic"))
"""Kinds of loads that react to any current."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    found = switched(context, channel)
    powered(context, found)
    elsewhere = _asked_elsewhere(context, found)
    if elsewhere:
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {elsewhere}")
        return

    def claim(setting: Setting) -> Claim:
        flows = past(context, channel, found, setting)
        limit, terms = _limit(context, found, setting)
        return at_most(flows.amps, limit, (*flows.terms, *terms))

    verdict = decide(claim)
    told = verdict.worst
    flows, allowed = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"up to {flows} flow to its load while it is off, {told.limit.name} is {allowed}",
        evidence=told.evidence(),
        remedy="a smaller capacitor across it, something across the load that takes the current, or less leakage",
        chain=found.elements,
    )


def _asked_elsewhere(context: Context, found: Switched) -> str:
    """What else asks how its load takes what flows, "" where nothing does."""
    parts = context.interfaces.recognition.parts
    lit = [e for e in found.elements if e in parts and _through_led(context, found, e)]
    if lit:
        return f"what flows while it is off is asked of the LED of {context.circuit.path(lit[0])}"
    reads = {net for reached in found.reached for net in reached if context.facts.input(context.net(net)) is not None}
    if reads:
        return f"what flows while it is off is asked as the level of {context.net(min(reads))}"
    return ""


def _through_led(context: Context, found: Switched, element: int) -> bool:
    """Whether the current flows through the LED of a part, and not through its output."""
    part, nets = context.interfaces.recognition.parts[element], context.circuit.pins(element)
    anodes = [nets[pin] for pin, role in enumerate(part.roles) if role == "anode"]
    return any(net in reached for net in anodes for reached in found.reached)


def _limit(context: Context, found: Switched, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
    """What the load takes for off, in amperes."""
    parts, load = context.interfaces.recognition.parts, stated_load(context, found)
    if load is not None and load[1].off_current_max is not None:
        term = context.lookup.term(LoadFacts.off_current_max, load[0])
        return Figure("I_off_max", term.low, "A", "what its load takes for off", source=term.origin), (term,)
    coils = [parts[e] for e in found.coils if e in parts]
    for coil in coils:
        volts, ohms = (fact_terms.recorded(coil, row) for row in (Coil.drop_out, Coil.resistance))
        if volts is None or ohms is None:
            row = Coil.drop_out if ohms is not None else Coil.resistance
            lacking = fact_terms.missing(context.settings_file, row, fact_terms.named(coil))
            raise Lacking(f"at which current relay {coil.path} drops out is not known", [lacking])
        drops = Figure("V_do", volts, "V", f"drop-out voltage of {coil.path}") / Figure("R", ohms, "ohm")
        return drops.called("I_do", "A", f"the drop-out current of {coil.path}"), ()
    name, kind = load_name(context, found), load_kind(context, found)
    if kind is None:
        lacking = context.lookup.missing(LoadFacts.kind, name)
        raise Lacking(f"what kind of load {name} is nobody says", [lacking])
    amps, _, terms = current(context, found, setting)
    low = 0.0 if kind in NEVER_SURE else SURE
    usual = least(low, GENEROUS, "share of its least current (from memory)")
    share = fact_terms.defaulted(
        LoadFacts.off_current_max, name, usual, title=f"share of its current at which load {name} is off", unit="1"
    )
    allowed = Figure("k_off", setting.low(share)) * Figure("I_min", amps, "A", "least current of its load", end="min")
    return allowed.called("I_off_max", "A", "what its load takes for off"), (share, *terms)


RULE = Rule(
    slug="off-current-high",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("switch",),
    facts=(
        "loads.*.off_current_max",
        "loads.*.kind",
        "loads.*.current",
        "supplies.*.voltage",
        "supplies.*.phase",
        "supplies.*.tolerance",
        "supplies.*.frequency",
        "elements.*.tolerance",
        "environment.ambient",
        "parts.*.trigger.leakage",
        "parts.*.output.leakage",
        "parts.*.coil.drop_out",
        "parts.*.coil.resistance",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load", "carrying"),
)

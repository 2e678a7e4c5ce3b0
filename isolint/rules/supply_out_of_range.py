"""A supply pin of a coupler, isolator or driver that gets a voltage outside its operating range.

## What it looks at

Each supply pin of a barrier part against its own return: the voltage there at its lowest and highest, and the range in
which the part's record says that it works.

## Why it matters

Below its range the output of a gate driver keeps a transistor half on, which burns it, or an undervoltage lockout keeps
it off. Above its range the part is destroyed.

## How it is computed

V is the difference of the two nets by their own facts, tolerances kept: two rails with one supply in common move
together. In series with the pin R, L, D and Zener diodes are solved, with all supply currents of barrier parts on that
net, from none to the stated one (unstated 0 to 10 mA, from memory). A supply that stands on a moving net, of a
capacitor there and a diode from another supply of the same side, lies 0.5 to 3.2 V below that (from memory).
The margin is the smaller of V_min / lowest and highest / V_max, 1.00 is enough. A range that a gate driver's record
states without a side is that of its outputs. A gate driver's lowest supply is also
its `uvlo_on`, measured to `uvlo_return`. The absolute maximum counts only where a record states no range. A record
without both is open: there is no usual range.

Settings: driver, conditions, barrier, gate driver.

```toml
[elements."M1"]
gate_full_on = "9 V"
```

## Fails

```netlist
* A gate driver for 13 to 30 V behind a dropping resistor and a Zener diode (demonstration)
R1 DRIVE A 330
* expect: supply-out-of-range
XU1 A GND VCC OUT GNDB DEMO_GD1
R2 VG VCC 47
D1 GNDB VCC DZ12
C1 VCC GNDB 1u
R3 OUT G 10
M1 D G GNDB GNDB DEMO_NMOS
R4 G GNDB 10k
.model DZ12 D (BV=12 IBV=5m)
.model DEMO_NMOS NMOS (VTO=3 KP=20)
```

## Passes

```netlist
* The same straight from the supply (demonstration)
R1 DRIVE A 330
XU1 A GND VG OUT GNDB DEMO_GD1
C1 VG GNDB 1u
R3 OUT G 10
M1 D G GNDB GNDB DEMO_NMOS
R4 G GNDB 10k
.model DEMO_NMOS NMOS (VTO=3 KP=20)
```

## Remedy

Feed the pin from a rail of the part's range, or fit a part for the rail that is there.

## What it cannot see

Dips, ripple, the order in which supplies come up, and whether the supply is strong enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.feeding import feed_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import SupplyFacts
from isolint.parts import Supply
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import Bound
from isolint.worstcase.supply_pins import SupplyPin, supply_pins
from isolint.worstcase.uncertain import Lacking, Setting

_STARTS = "supply at which it starts"


def survey(context: Context) -> Iterable[Result]:
    """One result a supply pin of a barrier part."""
    for part in context.interfaces.recognition.parts.values():
        if "supplies" in part.kind.owns:
            for pin in supply_pins(part):
                yield from _judge(context, pin)


def _judge(context: Context, pin: SupplyPin) -> Iterator[Result]:
    nets = context.circuit.pins(pin.part.element)
    plus, minus = nets[pin.pin], nets[pin.back]
    role = pin.name(pin.pin)
    try:
        if plus == minus:
            yield _shorted(context, pin, plus)
            return
        if {feed_of(context, net).kind for net in (plus, minus)} <= {"none", "return"}:
            raise Lacking(f"nothing feeds its supply {context.net(plus)}", blocked_by="feed")
        _known(context, plus)
        _range(context, pin)
        verdict = decide(lambda setting: _claim(context, pin, plus, minus, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, pin.part, reason, role)
        return
    told = verdict.worst
    gets, limit = told.beside
    wanted = "needs at least" if told.sense == "at_least" else "stands"
    back = _start_return(context, pin, minus) if told.limit.name == _STARTS else minus
    ends = f"{context.net(plus)} against {context.net(back)}"
    yield part_results.judged(
        context,
        RULE,
        pin.part,
        verdict,
        f"supply {role} gets {gets} ({ends}{_corner(told)}) and {wanted} {limit} ({told.limit.name})",
        evidence=told.evidence(),
        remedy=f"feed {role} from a rail within its range, or fit a part for {gets}",
        chain=context.analysis.supplied(plus, minus).elements,
        role=role,
    )


def _known(context: Context, plus: int) -> None:
    """Refuse a net that only parts touch of which nobody says what they are."""
    feed = feed_of(context, plus)
    if feed.kind in ("perhaps", "takers") and not context.analysis.rails().holds(plus):
        fact = context.lookup.missing(SupplyFacts.voltage, context.net(plus), "", SupplyFacts.ground)
        raise Lacking(f"nobody states the voltage of {context.net(plus)}, where {feed.by} lies", [fact])


def _corner(told: Claim) -> str:
    return f", {told.found.corner}" if told.found.corner else ""


def _range(context: Context, pin: SupplyPin) -> None:
    """Refuse a part of which nobody states in what range it works."""
    stated = pin.stated
    if stated.voltage is None and stated.voltage_max is None and (stated.uvlo_on is None or stated.uvlo_on.max is None):
        name = fact_terms.named(pin.part)
        record = pin.part.record
        file = record.file if record is not None and record.file else context.settings_file
        fact = fact_terms.missing(file, Supply.voltage, name)
        if record is None or not (record.supplies or (any(record.supply.items()) and not any(stated.items()))):
            raise Lacking(f"the supply range of {name} is not known", [fact])
        # What the record says is of another pin: only its list of supplies has room for both.
        ends = ", ".join(f'"{pin.name(each)}"' for each in (pin.pin, pin.back))
        table = f"{Supply.voltage.head(name).removesuffix('supply')}supplies"
        lines = f"[[{table}]]\npins = [{ends}]\n{Supply.voltage.entry()}"
        text = f"the range of supply {pin.name(pin.pin)} of {name} is not known"
        how = "" if record.supplies else f" (write parts.{name}.supply in the same way, with its pins)"
        raise Lacking(f"{text}{how}", [fact._replace(example=lines)])


def _claim(context: Context, pin: SupplyPin, plus: int, minus: int, setting: Setting) -> Claim:
    stated, source = pin.stated, f"record {fact_terms.named(pin.part)}"
    rail = context.analysis.supplied(plus, minus, setting)
    claims = []
    if stated.voltage is not None:
        low = Figure("V_low", stated.voltage.low, "V", "lowest supply of the range", end="min", source=source)
        high = Figure("V_high", stated.voltage.high, "V", "highest supply of the range", source=source)
        if not stated.voltage.is_point:
            claims.append(at_least(_volts(rail.volts.low, "min"), low, rail.terms))
        claims.append(at_most(_volts(rail.volts.high, "max"), high, rail.terms))
    elif stated.voltage_max is not None:
        most = Figure("V_max", stated.voltage_max, "V", "absolute maximum supply", source=source)
        claims.append(at_most(_volts(rail.volts.high, "max"), most, rail.terms))
    if stated.uvlo_on is not None and stated.uvlo_on.max is not None:
        back = _start_return(context, pin, minus)
        to = rail if back == minus else context.analysis.supplied(plus, back, setting)
        start = Figure("V_UVLO", stated.uvlo_on.max, "V", _STARTS, end="min", source=source)
        claims.append(at_least(_volts(to.volts.low, "min"), start, to.terms))
    return tightest(claims)


def _start_return(context: Context, pin: SupplyPin, minus: int) -> int:
    """The net against which the part measures whether it starts."""
    back, record = pin.stated.uvlo_return, pin.part.record
    if back is not None and record is not None:
        names = [name.casefold() for name in record.pins]
        if back.casefold() in names:
            return context.circuit.pins(pin.part.element)[names.index(back.casefold())]
    return minus


def _volts(bound: Bound, end: str) -> Figure:
    return Figure(f"V_{end}", bound, "V", "voltage at the supply pin", end="min" if end == "min" else "max")


def _shorted(context: Context, pin: SupplyPin, net: int) -> Result:
    verdict = decide(
        lambda setting: at_least(
            Figure("V", 0.0, "V", "voltage at the supply pin", end="min"),
            Figure("V_low", 1.0, "V", "any supply at all", end="min"),
        )
    )
    name = pin.name(pin.pin)
    text = f"supply {name} and its return {pin.name(pin.back)} lie on one net, {context.net(net)}"
    return part_results.judged(
        context, RULE, pin.part, verdict, text, evidence=(), remedy="feed the supply pin", role=name
    )


RULE = Rule(
    slug="supply-out-of-range",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("supplies",),
    facts=(
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.ground",
        "elements.*.tolerance",
        "outputs.*.supply",
        "parts.*.supply.voltage",
        "parts.*.supply.current",
    ),
    survey=survey,
)

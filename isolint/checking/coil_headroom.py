"""Whether what drives the coil of a relay can give its current, and what transistors carry in words.

In: a context and the rule that asks. Out: results about the relay, one a source.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, bare, both_ends
from isolint.checking.coil_drive import FreePin, coil_drive, free_pins
from isolint.checking.context import Context
from isolint.checking.relay_coils import OneCoil, relay_coils
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import OutputFacts
from isolint.results import Evidence, Result
from isolint.worstcase.drive import PortLoad, SwitchDrive
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting

MOS_LIMIT = 1.0
"""The least of what a MOS switch gets at its gate over what turns it fully on."""

_LEAST_AMPS = 1e-6
_LEAST_VOLTS = 1e-9


def of_coils(context: Context, rule: Rule) -> Iterator[Result]:
    """One result a source of the coil of each relay."""
    for coil in relay_coils(context):
        try:
            drive = coil_drive(context, coil, Setting())
        except Lacking:
            # What the coil gets waits for the same fact.
            continue
        for port in drive.ports:
            if port.current.high.value > _LEAST_AMPS:
                yield _port(context, rule, coil, port)
        for switch in drive.switches:
            yield _switch(context, rule, coil, switch)


def pins_of_coils(context: Context, rule: Rule) -> Iterator[Result]:
    """One result an output that the coil of a relay lifts while it does not drive, or into which it pushes."""
    for coil in relay_coils(context):
        try:
            pins = free_pins(context, coil, Setting())
        except Lacking as reason:
            if reason.missing and any("voltage_max" in fact.key for fact in reason.missing):
                yield part_results.lacking(context, rule, coil.part, reason, coil.name)
            continue
        for pin in pins:
            yield _pin(context, rule, coil, pin)


def _pin(context: Context, rule: Rule, coil: OneCoil, pin: FreePin) -> Result:
    def claim(setting: Setting) -> Claim:
        same = next(other for other in free_pins(context, coil, setting) if other.net == pin.net)
        limit = setting.low(same.limit)
        return at_most(
            Figure("V_pin", same.volts, "V", f"output {same.name}, {same.words}"),
            Figure("voltage_max", limit, "V", f"what output {same.name} takes", end="min", source=same.limit.origin),
            same.terms,
            least=_LEAST_VOLTS,
        )

    verdict = decide(claim)
    told = verdict.worst
    return part_results.judged(
        context,
        rule,
        coil.part,
        verdict,
        f"with {pin.words} output {pin.name} sees {told.found} through {coil.name or 'its coil'} "
        f"({told.found.corner}), {told.limit} are allowed",
        evidence=told.evidence(bounded=True),
        remedy=f"a transistor between {pin.name} and the coil, or an output that takes {told.found}",
        chain=coil.around.elements,
        role=f"{coil.name} {pin.name} voltage_max".strip(),
    )


def _port(context: Context, rule: Rule, coil: OneCoil, port: PortLoad) -> Result:
    key = "source_max" if port.high else "sink_max"
    limit = port.model.limit
    if limit is None:
        row = OutputFacts.source_max if port.high else OutputFacts.sink_max
        text = f"the guaranteed operating current of output {port.name} is not stated"
        reason = Lacking(text, [context.lookup.missing(row, port.name)])
        return part_results.lacking(context, rule, coil.part, reason, port.name)

    def claim(setting: Setting) -> Claim:
        drive = coil_drive(context, coil, setting)
        current = next(other.current.high for other in drive.ports if other.net == port.net)
        return at_most(
            Figure("I_port_max", current, "A"),
            Figure(key, limit, "A", f"guaranteed current of output {port.name}", end="min", source="stated"),
            drive.terms,
            context.lookup.drive_headroom(),
            name="headroom",
        )

    verdict = decide(claim)
    told = verdict.worst
    return part_results.judged(
        context,
        rule,
        coil.part,
        verdict,
        f"for {coil.name or 'its coil'} output {port.name} must {'give' if port.high else 'take'} {told.found} "
        f"({told.found.corner}), {told.limit} are guaranteed: {told.words}",
        evidence=[
            both_ends(f"current of output {port.name}", "I_port", "A", port.current),
            told.limit.evidence(),
            told.margin.evidence(told.wanted, symbol=f"{key} / I_port", line="headroom"),
        ],
        remedy=f"a transistor between {port.name} and the coil, a larger base resistor, or a coil of less power",
        chain=coil.around.elements,
        role=f"{coil.name} {port.name}".strip(),
    )


def _switch(context: Context, rule: Rule, coil: OneCoil, switch: SwitchDrive) -> Result:
    required = context.lookup.drive_headroom() if switch.kind == "bjt" else MOS_LIMIT

    def claim(setting: Setting) -> Claim:
        drive = coil_drive(context, coil, setting)
        same = next((other for other in drive.switches if other.element == switch.element), None)
        if same is None:
            return bare(Figure("", 0.0, name="headroom"), drive.terms, required)
        can, must = Figure("available", same.available), Figure("required", same.required)
        return at_least(can, must, drive.terms, required, name="headroom")

    verdict = decide(claim)
    text, evidence = switch_words(context, switch)
    told, path = verdict.worst, context.circuit.path(switch.element)
    bipolar = f"a smaller resistor before the base of {path}, a transistor of more gain, or a coil of less power"
    return part_results.judged(
        context,
        rule,
        coil.part,
        verdict,
        f"for {coil.name or 'its coil'} {text}: {told.words}",
        switch.element,
        evidence=[*evidence, told.margin.evidence(told.wanted, line="headroom")],
        remedy=bipolar if switch.kind == "bjt" else "a transistor with a lower threshold, or a higher gate voltage",
        chain=coil.around.elements,
        role=f"{coil.name} {path}".strip(),
    )


def switch_words(context: Context, switch: SwitchDrive) -> tuple[str, list[Evidence]]:
    """What a transistor can and must carry, or gets and needs at its gate, with its evidence."""
    return _bipolar(context, switch) if switch.kind == "bjt" else _mos(context, switch)


def _bipolar(context: Context, switch: SwitchDrive) -> tuple[str, list[Evidence]]:
    path = context.circuit.path(switch.element)
    first, _, second = switch.corner.partition("; ")
    available = Figure("BF_min", switch.gain) * Figure("IB_min", switch.base_current, "A")
    carries = available.called("IC_available", "A", f"collector current that {path} can carry", end="min", at=first)
    asked = Figure("IC_max", switch.required, "A", f"collector current of {path} with the switch ideal", at=second)
    text = f"transistor {path} can carry {carries} ({first}) and must carry {asked} ({second})"
    return text, [carries.evidence(symbol="BF_min IB_min"), asked.evidence()]


def _mos(context: Context, switch: SwitchDrive) -> tuple[str, list[Evidence]]:
    path = context.circuit.path(switch.element)
    name, source = f"gate-source voltage at which {path} is fully on", "VTO + 1 V unless gate_full_on is stated"
    gets = Figure("VGS_min", switch.available, "V", f"gate-source voltage of {path}", end="min", at=switch.corner)
    needs = Figure("VGS_on", switch.required, "V", name, end="min", source=source)
    text = f"MOS {path} gets {gets} from gate to source at worst ({switch.corner}) and is fully on at {needs}"
    return text, [gets.evidence(), needs.evidence()]

"""What a calculation sheet says of time: both edges with the largest rate, and a period of a periodic drive.

In: a context and a channel. Out: titled sections of lines that can be redone by hand, with what a drawing shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from isolint.checking.context import Context
from isolint.checking.demanded_speed import SAMPLED, demand
from isolint.checking.evidence import line
from isolint.checking.loop import exact
from isolint.checking.preconditions import use_of
from isolint.checking.speed import Speed, speed
from isolint.interfaces.entities import Channel
from isolint.results import Plot, PlotCurve, WorksheetLine, WorksheetSection
from isolint.units import show
from isolint.worstcase import edges, waves
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import Lacking

_SAME = 1e-6
_SHOWN = 48


def time_sections(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    """The period where something repeats, then both edges; what can't be told of them stands in the title."""
    if use_of(context, channel):
        return
    for what, make in (("period", _period), ("edges", _edges)):
        try:
            yield from make(context, channel)
        except Lacking as reason:
            yield WorksheetSection(f"{channel.subject} {what}: not known: {reason.reason}", ())


# -- edges ------------------------------------------------------------------------------------------------------------


def _edges(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    found, asked = speed(context.analysis, channel), demand(context, channel)
    share = SAMPLED if asked is None else asked.share
    values = {figure.symbol: figure.si for figure in found.figures}
    lines = list(_transistor(values, found)) if "tau_A" in values else list(_logic(values, found))
    if not math.isfinite(found.distortion):
        raise Lacking("at worst it never gets there")
    lines.append(_line("D", *_distortion(values, found), found.distortion, "s", "by which a pulse grows or shrinks"))
    if found.settle > 0.0 or found.distortion > 0.0:
        numbers = f"1 / max({exact(found.settle)}, {exact(found.distortion)} / {exact(share)})"
        said = f"largest rate, pulses a second; {exact(share)} of a pulse may be lost"
        lines.append(_line("f_max", "1 / max(settle, D / q)", numbers, found.rate(share), "Hz", said))
    if asked is not None:
        settle, lost = max(found.settle, 1e-15), max(found.distortion, 1e-15)
        margin = min(asked.seconds / settle, share * asked.seconds / lost)
        pulse = exact(asked.seconds)
        numbers = f"min({pulse} / {exact(settle)}, {exact(share)} * {pulse} / {exact(lost)})"
        lines.append(
            _line("margin", "min(t_p / settle, q * t_p / D)", numbers, margin, "1", f"{asked.words}; wanted 1.00")
        )
    rate = show(found.rate(share), "Hz")
    plot = _edge_plot(values) if "tau_A" in values else None
    yield WorksheetSection(f"{channel.subject} edges at worst, largest rate {rate}", tuple(lines), plot=plot)


def _transistor(values: dict[str, float], found: Speed) -> Iterator[WorksheetLine]:
    """Where a formula does not give the number, capacitors behind the output were stepped with it, or edges differ."""
    v = {symbol: exact(value) for symbol, value in values.items()}
    tau = values["t_f"] / edges.TEN_TO_NINETY + values["C_e"] * max(values["R_o"] - values["R_t"], 0.0)
    tau += values["C_o"] * values["R_o"]
    numbers = f"{v['t_f']} / 2.2 + {v['C_e']} * max({v['R_o']} - {v['R_t']}, 0) + {v['C_o']} * {v['R_o']}"
    yield _line(
        "tau_A", "t_f / 2.2 + C_e * max(R_o - R_t, 0) + C_o * R_o", numbers, tau, "s", "time constant of the edge"
    )
    guard = values["guard"]
    least, on = values["I_a"], values["I_1"]
    rises = guard * (edges.CHARGE * values["C_e"] * edges.JUNCTION / least + tau * math.log(least / (least - on)))
    said = f"x {guard:g}: measured against a simulator"
    if abs(rises - found.on) <= _SAME * rises:
        formula = "x * (k * C_e * 0.65 / I_a + tau_A * ln(I_a / (I_a - I_1)))"
        numbers = (
            f"{exact(guard)} * ({exact(edges.CHARGE)} * {v['C_e']} * 0.65 / {v['I_a']} + {exact(tau)} * "
            f"ln({v['I_a']} / ({v['I_a']} - {v['I_1']})))"
        )
        yield _line("t_on", formula, numbers, found.on, "s", said)
    else:
        yield _line("t_on", "stepped", exact(found.on), found.on, "s", said)
    most, closed, off = values["I_A"], values["I_k"], values["I_2"]
    stored = values["tau_s"] * math.log(most / closed) if most > closed else 0.0
    falls = guard * (stored + tau * max(math.log(min(closed, most) / off), 0.0)) if off > 0.0 else math.inf
    if abs(falls - found.off) <= _SAME * falls and most > closed:
        decays = f"{exact(tau)} * ln({v['I_k']} / {v['I_2']})"
        numbers = f"{exact(guard)} * ({v['tau_s']} * ln({v['I_A']} / {v['I_k']}) + {decays})"
        formula = "x * (tau_s * ln(I_A / I_k) + tau_A * ln(I_k / I_2))"
        yield _line("t_off", formula, numbers, found.off, "s", said)
    elif math.isfinite(found.off):
        yield _line("t_off", "stepped", exact(found.off), found.off, "s", said)
    if math.isfinite(found.settle):
        numbers = f"max({exact(found.on)}, {exact(found.off)})"
        if abs(found.settle - max(found.on, found.off)) <= _SAME * found.settle:
            yield _line("settle", "max(t_on, t_off)", numbers, found.settle, "s", "after which a level is there")
        else:
            yield _line("settle", "solved", exact(found.settle), found.settle, "s", "with the couplers before it")


def _logic(values: dict[str, float], found: Speed) -> Iterator[WorksheetLine]:
    yield _line("settle", "solved", exact(found.settle), found.settle, "s", "added by its load")


def _distortion(values: dict[str, float], found: Speed) -> tuple[str, str]:
    if "PWD" in values and abs(values["PWD"] + values["t_RC"] - found.distortion) <= _SAME * found.distortion:
        return "PWD + t_RC", f"{exact(values['PWD'])} + {exact(values['t_RC'])}"
    for name, time, least in (("t_off", found.off, "least t_on"), ("t_on", found.on, "least t_off")):
        rest = time - found.distortion
        if math.isfinite(rest) and rest >= 0.0:
            return f"{name} - {least.replace('least ', 'least_')}", f"{exact(time)} - {exact(rest)}"
    return "solved", exact(found.distortion)


def _edge_plot(values: dict[str, float]) -> Plot | None:
    """Volts across the output at an on and an off of the LED, with those at the receiver's levels."""
    ohms, closed, tau, least = values["R_o"], values["I_k"], values["tau_A"], values["I_a"]
    open_volts = ohms * closed
    delay = edges.CHARGE * values["C_e"] * edges.JUNCTION / least
    stored = max(values["tau_s"] * math.log(max(values["I_A"], 1e-15) / closed), 0.0)
    span = max(values["t_on"], values["t_off"]) * 1.3
    if not math.isfinite(span) or span <= 0.0:
        return None
    on: list[tuple[float, float]] = []
    off: list[tuple[float, float]] = []
    for step in range(_SHOWN + 1):
        t = span * step / _SHOWN
        rising = least * -math.expm1(-max(t - delay, 0.0) / tau)
        falling = min(closed, values["I_A"]) * math.exp(-max(t - stored, 0.0) / tau)
        on.append((t, max(open_volts - ohms * min(rising, closed), 0.0)))
        off.append((t, max(open_volts - ohms * falling, 0.0)))
    marks = (
        (f"on level, {show(open_volts - ohms * values['I_1'], 'V')}", open_volts - ohms * values["I_1"]),
        (f"off level, {show(open_volts - ohms * values['I_2'], 'V')}", open_volts - ohms * values["I_2"]),
    )
    return Plot(
        "volts across the output after an edge of the LED at t = 0",
        (PlotCurve("turning on", "V", tuple(on), marks), PlotCurve("turning off", "V", tuple(off), marks)),
    )


# -- period -----------------------------------------------------------------------------------------------------------


def _period(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    analysis = context.analysis
    drive = analysis.drive(channel)
    if drive.stored is not None:
        falls, rises = drive.stored.volts
        held_up = (
            _line(
                "V_low", "stepped", exact(falls), falls, "V", f"volts of {drive.stored.path} before it is charged again"
            ),
            _line("V_high", "stepped", exact(rises), rises, "V", f"volts of {drive.stored.path} when it is charged"),
        )
        title = f"{channel.subject} period: {drive.stored.path} holds the LED current up between the crests"
        yield WorksheetSection(title, held_up)
        return
    source = analysis.periodic_source(channel)
    if source is None:
        return
    if source.hertz is None:
        raise Lacking(f"the frequency of {source.name} is not stated")
    worst = min(drive.by_temperature, key=lambda row: row.low.value)
    low = waves.wave(analysis.drives(), channel, drive, source, worst.low, high=False)
    high = waves.wave(analysis.drives(), channel, drive, source, worst.high, high=True)
    title = f"{channel.subject} period: {source.name} repeats after {show(source.period, 's')}"
    least, most = (0.0 if wave.mean < NO_CURRENT else wave.mean for wave in (low, high))
    lines = [
        _line("IF_mean_low", "stepped", exact(least), least, "A", f"LED current, mean; {worst.low.corner}"),
        _line("IF_mean_high", "stepped", exact(most), most, "A", f"LED current, mean; {worst.high.corner}"),
    ]
    curves = [
        PlotCurve("LED current, least", "A", _over_time(low, source.period)),
        PlotCurve("LED current, most", "A", _over_time(high, source.period)),
    ]
    if low.volts and not drive.fed:
        volts = low._replace(points=low.volts)
        curves.insert(0, PlotCurve(f"volts of {source.name}", "V", _over_time(volts, source.period)))
    if channel.part.kind.output.conducts == "transistor":
        held = analysis.held(channel)
        m, row = held.worst.margin, held.worst
        said = [f"factor by which the output current may shrink; {row.led_corner}"]
        if held.smoothing is not None:
            smooths = context.circuit.path(held.smoothing.element)
            said.append(f"{smooths} smooths with {show(held.smoothing.tau, 's')}")
            said += [f"capacitor {context.circuit.path(other)} left out" for other in held.smoothing.left_out]
        mark = (f"required, {show(row.required, 'A')}", row.required)
        same = next(each for each in drive.by_temperature if each.temperature == row.temperature)
        form = waves.wave(analysis.drives(), channel, drive, source, same.low, high=False)
        amps = _over_time(form._replace(points=row.amps), source.period)
        curves.append(PlotCurve("output current, least", "A", amps, (mark,)))
        lines.append(_line("I_crest", "stepped", exact(row.crest), row.crest, "A", "output current at the crest"))
        lines.append(_line("I_mean", "stepped", exact(row.mean), row.mean, "A", "output current, mean of the period"))
        lines.append(_line("I_required", "solved", exact(row.required), row.required, "A", row.required_corner))
        lines.append(_line("m", "stepped", exact(m), m, "1", "; ".join(said)))
    yield WorksheetSection(title, tuple(lines), plot=Plot("one period", tuple(curves)))


def _over_time(wave: waves.Wave, period: float) -> tuple[tuple[float, float], ...]:
    """A wave as seconds and values from its highest phase over the lowest back, or as two levels."""
    if wave.shape == "levels":
        on, off = wave.points
        edge = wave.share * period
        return ((0.0, on), (edge, on), (edge, off), (period, off))
    way = [*reversed(wave.points), *wave.points[1:]]
    return tuple((period * step / (len(way) - 1), value) for step, value in enumerate(way))


def _line(name: str, formula: str, numbers: str, value: float, unit: str, origin: str) -> WorksheetLine:
    return WorksheetLine(line(name, formula, numbers, value, unit), origin)

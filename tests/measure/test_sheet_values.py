"""What models give at rest, against closed forms that were written down by hand."""

from __future__ import annotations

import math

import pytest

from isolint.measure.body import Body, flatten
from isolint.measure.sheet_values import LEAST_DARK, LED_CURRENTS, ChannelNets, Values, measured
from isolint.netlist import read
from isolint.source import MemoryTree
from tests.measure.models import MODELS, VT, PortModel, library, solved

CARDS = read(MemoryTree({"demo.lib": library().encode()}), "demo.lib")


def body_of(name: str, text: str = "") -> Body:
    cards = read(MemoryTree({"demo.lib": text.encode()}), "demo.lib") if text else CARDS
    scope = cards.find_subcircuit(name, 0)
    assert scope is not None
    body = flatten(cards, scope)
    assert body is not None
    return body


def found(model: PortModel) -> Values:
    body = body_of(model.name)
    anode, cathode, collector, emitter, *supplies = body.ports
    return measured(body, ChannelNets(anode, cathode, collector, emitter, tuple(supplies)))


@pytest.fixture(scope="module")
def all_values() -> dict[str, Values]:
    return {model.name: found(model) for model in MODELS}


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.name)
def test_a_model_gives_what_its_closed_form_says(model: PortModel, all_values: dict[str, Values]) -> None:
    values = all_values[model.name]
    assert values.missing == ()
    assert [amps for amps, _ in values.forward] == list(LED_CURRENTS)
    for amps, volts in values.forward:
        assert volts == pytest.approx(model.forward(amps), rel=1e-3)
    for amps, ratio in values.over_current:
        assert ratio == pytest.approx(model.ratio(amps), rel=1e-3, abs=1e-6), amps
    assert values.dark is not None
    assert values.dark == pytest.approx(model.dark, rel=1e-3, abs=LEAST_DARK)


@pytest.mark.parametrize("model", [model for model in MODELS if model.saturated], ids=lambda model: model.name)
def test_a_transistor_saturates_as_its_closed_form_says(model: PortModel, all_values: dict[str, Values]) -> None:
    saturated = all_values[model.name].saturated
    assert saturated is not None
    assert model.saturated is not None
    amps = saturated.at - model.dark if model.name == "DEMO_LEAKY" else saturated.at
    assert saturated.volts == pytest.approx(model.saturated(amps, saturated.drive), rel=2e-3)


def test_the_ratio_falls_where_the_output_voltage_is_too_small(all_values: dict[str, Values]) -> None:
    curve = all_values["DEMO_SENSED"].over_voltage
    assert [volts for volts, _ in curve] == sorted(volts for volts, _ in curve)
    assert dict(curve)[5.0] == pytest.approx(dict(curve)[1.0], rel=1e-3)
    # Reverse gain 2: at 0.1 V and below the transistor is saturated; at 0.2 V little is missing.
    low = curve[0][1]
    exact = _at(0.2, 5e-3)
    assert low == pytest.approx(exact, rel=1e-3)
    assert exact < 0.999 * dict(curve)[5.0]


def _at(volts: float, amps: float) -> float:
    """DEMO_SENSED at an output voltage: base 3e-3 of the LED current, IS 1e-14, gains 300 and 2."""
    base = 3e-3 * amps

    def left(vbe: float) -> float:
        forward, back = 1e-14 * math.expm1(vbe / VT), 1e-14 * math.expm1((vbe - volts) / VT)
        return forward / 300 + back / 2 - base

    vbe = solved(left, 0.0, 1.0)
    forward, back = 1e-14 * math.expm1(vbe / VT), 1e-14 * math.expm1((vbe - volts) / VT)
    return (forward - back - back / 2 + base) / amps

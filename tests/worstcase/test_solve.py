"""Operating points against closed forms, against numpy and scipy, and the words where there is none."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.optimize import root
from scipy.special import lambertw

from isolint.worstcase.devices import Bipolar, Diode, LedCurve, Mos, Switch, thermal_voltage
from isolint.worstcase.network import (
    BipolarBranch,
    Blocked,
    Branch,
    BranchNetwork,
    CurrentSource,
    DiodeBranch,
    LedBranch,
    MosBranch,
    NotSolvable,
    Port,
    Resistor,
    SwitchBranch,
    Unlimited,
    VoltageSource,
    nodes_of,
)
from isolint.worstcase.point import point_of
from isolint.worstcase.solve import Point, solve, step_leakage, step_sources
from isolint.worstcase.topology import analyse
from tests.worstcase.networks import KINDS, drive_network
from tests.worstcase.reference import Array, operating_point

LED = LedCurve(1.2, 0.01, 1.8, 2.0, -1.5e-3)
IDEAL = LedCurve(1.2, 0.01, 1.8, 0.0, -1.5e-3)


def network(*branches: Branch) -> BranchNetwork:
    """Nodes are called 0, A, B, C ... in the order of their numbers."""
    last = max(node for branch in branches for node in nodes_of(branch))
    return BranchNetwork(("0", *"ABCDEFGHIJ"[:last]), branches)


def point(*branches: Branch, temperature: float = 25.0) -> Point:
    return solve(network(*branches), temperature)


def words(*branches: Branch) -> str:
    with pytest.raises(NotSolvable) as caught:
        point(*branches)
    return caught.value.text


# Closed forms


@pytest.mark.parametrize("decade", [e / 3 for e in range(-18, -2)])
@pytest.mark.parametrize("temperature", [-40.0, 27.0, 100.0])
def test_diode_with_series_resistor_agrees_with_lambert_w(decade: float, temperature: float) -> None:
    """Key `banwell-2000`: I = n Vt / R W(IS R / n Vt exp((V + IS R) / n Vt)) - IS, 1 uA to 100 mA."""
    wanted = 10**decade
    diode = Diode(IS=1e-14, N=1.3)
    nvt, saturation = 1.3 * thermal_voltage(temperature), diode.saturation(temperature)
    ohms = 2.0 / wanted
    volts = nvt * math.log(wanted / saturation + 1) + 2.0
    exact = nvt / ohms * lambertw(saturation * ohms / nvt * math.exp((volts + saturation * ohms) / nvt)).real
    found = point(
        VoltageSource("V1", 1, 0, volts),
        Resistor("R1", 1, 2, ohms),
        DiodeBranch("D1", 2, 0, diode),
        temperature=temperature,
    )
    assert found.current("D1") == pytest.approx(exact - saturation, rel=1e-5)
    assert found.current("D1") == pytest.approx(wanted, rel=1e-3)


@pytest.mark.parametrize("series", [0.0, 10.0])
def test_resistance_inside_a_diode_acts_like_one_outside(series: float) -> None:
    inside = point(
        VoltageSource("V1", 1, 0, 3.0),
        Resistor("R1", 1, 2, 90.0 + 10.0 - series),
        DiodeBranch("D1", 2, 0, Diode(RS=series)),
    )
    outside = point(VoltageSource("V1", 1, 0, 3.0), Resistor("R1", 1, 2, 100.0), DiodeBranch("D1", 2, 0, Diode()))
    assert inside.current("D1") == pytest.approx(outside.current("D1"), rel=1e-9)


@pytest.mark.parametrize("decade", [e / 3 for e in range(-18, -2)])
def test_led_with_series_resistor_agrees_with_lambert_w(decade: float) -> None:
    """Key `banwell-2000`, solved for VF0 + n Vt ln(I / I0) + (Rs + R) I - Rs I0 = V."""
    wanted = 10**decade
    nvt = 1.8 * thermal_voltage(25.0)
    volts = LED.forward(wanted, 25.0) + 3.0
    total = 3.0 / wanted + 2.0
    scale = 0.01 * math.exp((volts - 1.2 + 2.0 * 0.01) / nvt)
    exact = nvt / total * lambertw(total * scale / nvt).real if math.isfinite(scale) else wanted
    found = point(VoltageSource("V1", 1, 0, volts), Resistor("R1", 1, 2, 3.0 / wanted), LedBranch("D1", 2, 0, LED))
    assert found.current("D1") == pytest.approx(exact, rel=1e-5)
    assert found.voltage("B") == pytest.approx(LED.forward(wanted, 25.0), abs=1e-5)


def test_floored_led_takes_what_the_resistor_leaves() -> None:
    curve = LedCurve.highest(1.4, 0.01, (1.5, 2.0), (1.0, 5.0), -1.5e-3)
    found = point(
        VoltageSource("V1", 1, 0, 3.3), Resistor("R1", 1, 2, 1000.0), LedBranch("D1", 2, 0, curve), temperature=-20
    )
    assert found.current("D1") == pytest.approx((3.3 - 1.4 - 45 * 1.5e-3) / 1000.0, rel=1e-6)


def test_port_holds_its_level_up_to_its_current_and_then_gives_way_on_a_line() -> None:
    table = ((0.0, 2.9), (4e-3, 2.9), (8e-3, 2.5))
    for ohms, amps in ((1000.0, 2.9e-3), (400.0, 3.3 / 500.0), (100.0, 3.3 / 200.0)):
        found = point(Port("U1", 1, 0, table), Resistor("R1", 1, 0, ohms))
        assert found.current("U1") == pytest.approx(amps, rel=1e-6)
    sinking = ((-8e-3, 0.8), (-4e-3, 0.4), (0.0, 0.4))
    found = point(VoltageSource("V1", 1, 0, 5.0), Resistor("R1", 1, 2, 660.0), Port("U1", 2, 0, sinking))
    assert found.current("U1") == pytest.approx(-5.0 / 760.0, rel=1e-6)


def test_zener_string_drops_its_breakdown_voltage() -> None:
    found = point(
        VoltageSource("V1", 1, 0, 24.0),
        Resistor("R1", 1, 2, 2200.0),
        DiodeBranch("D1", 3, 2, Diode(BV=10.0, IBV=5e-3)),
        LedBranch("D2", 3, 0, LED),
    )
    assert found.voltage("B") - found.voltage("C") == pytest.approx(10.0, abs=0.05)
    assert found.current("D2") == pytest.approx((24 - 10 - 1.18) / 2200, rel=0.01)
    assert found.current("D1") == pytest.approx(-found.current("D2"), rel=1e-6)


# scipy on equations written here


def test_transistor_switch_agrees_with_equations_of_its_definition() -> None:
    """Transport form of Ebers and Moll, key `spice-1973`: LED and resistor in the collector, 10 kohm at the base."""
    vt, saturation, bf, br = thermal_voltage(27.0), 1e-14, 150.0, 2.0
    nvt = 1.8 * vt

    def equations(x: list[float]) -> list[float]:
        vb, vc, u = x
        forward, reverse = saturation * math.expm1(vb / vt), saturation * math.expm1((vb - vc) / vt)
        led, base = math.exp(u), (3.3 - vb) / 10e3
        vf = 1.2 + nvt * (u - math.log(0.01)) + 2.0 * (led - 0.01) + -1.5e-3 * 2
        return [
            1e3 * (base - forward / bf - reverse / br),
            1e3 * (led - (forward - reverse * (1 + 1 / br))),
            5.0 - 330.0 * led - vf - vc,
        ]

    exact = root(equations, [0.72, 0.05, math.log(0.011)], tol=1e-13)
    assert exact.success
    found = solve(
        network(
            VoltageSource("V1", 1, 0, 5.0),
            VoltageSource("V2", 2, 0, 3.3),
            Resistor("R1", 2, 3, 10e3),
            Resistor("R2", 1, 4, 330.0),
            LedBranch("D1", 4, 5, LED),
            BipolarBranch("Q1", 5, 3, 0, Bipolar(BF=bf, BR=br)),
        ),
        27.0,
    )
    assert found.voltage("C") == pytest.approx(exact.x[0], rel=1e-3)
    assert found.voltage("E") == pytest.approx(exact.x[1], rel=1e-3)
    assert found.current("D1") == pytest.approx(math.exp(exact.x[2]), rel=1e-3)
    assert found.current("Q1", "collector") == pytest.approx(found.current("D1"), rel=1e-6)
    assert sum(found.current("Q1", pin) for pin in ("collector", "base", "emitter")) == pytest.approx(0.0, abs=1e-12)


def test_two_leds_in_series_agree_with_equations_of_their_definition() -> None:
    other = LedCurve(1.6, 0.016, 2.0, 3.0, -1.9e-3)
    vt = thermal_voltage(70.0)

    def equation(x: list[float]) -> list[float]:
        i = math.exp(x[0])
        first = 1.2 - 1.5e-3 * 45 + 1.8 * vt * math.log(i / 0.01) + 2.0 * (i - 0.01)
        second = 1.6 - 1.9e-3 * 45 + 2.0 * vt * math.log(i / 0.016) + 3.0 * (i - 0.016)
        return [5.0 - first - second - 220.0 * i]

    exact = root(equation, [math.log(0.01)], tol=1e-13)
    assert exact.success
    found = point(
        VoltageSource("V1", 1, 0, 5.0),
        LedBranch("D1", 1, 2, LED),
        LedBranch("D2", 2, 3, other),
        Resistor("R1", 3, 0, 220.0),
        temperature=70.0,
    )
    assert found.current("D1") == pytest.approx(math.exp(exact.x[0]), rel=1e-3)
    assert found.current("R1") == pytest.approx(found.current("D2"), rel=1e-9)


@pytest.mark.parametrize("first", range(0, 306, 9))
def test_random_drive_networks_agree_with_scipy(first: int) -> None:
    """306 seeded networks, all kinds of switch, equations of keys `spice-1973` and `shichman-hodges-1968`."""
    for seed in range(first, first + len(KINDS)):
        drive, temperature = drive_network(seed), [-20.0, 25.0, 85.0][seed % 3]
        found = solve(drive, temperature)
        assert found.residual <= 1e-9, seed
        volts, currents = operating_point(drive, temperature, found, seed)
        for name, amps in currents.items():
            assert found.current(name) == pytest.approx(amps, rel=1e-3, abs=1e-11), (seed, name)
        assert found.voltages == pytest.approx(volts, rel=1e-3, abs=1e-6), seed


def test_random_drive_networks_hold_all_kinds_of_branches_on_and_off() -> None:
    kinds = {type(branch) for seed in range(180) for branch in drive_network(seed).branches}
    assert {LedBranch, DiodeBranch, BipolarBranch, MosBranch, Port, SwitchBranch, CurrentSource, VoltageSource} <= kinds
    leds = []
    for seed in range(45):
        drive = drive_network(seed)
        found = solve(drive, 25.0)
        leds += [found.current(branch.name) for branch in drive.branches if isinstance(branch, LedBranch)]
    assert sum(amps > 1e-3 for amps in leds) > 15
    assert sum(amps < 1e-6 for amps in leds) > 15


# numpy on linear networks


def nodal(linear: BranchNetwork) -> Array:
    """Modified nodal analysis by numpy: voltages of nodes 1.. and currents delivered by voltage sources."""
    n = len(linear.nodes) - 1
    sources = [branch for branch in linear.branches if isinstance(branch, VoltageSource)]
    a, b = np.zeros((n + len(sources), n + len(sources))), np.zeros(n + len(sources))
    for branch in linear.branches:
        i, j = (node - 1 for node in nodes_of(branch))
        if isinstance(branch, Resistor):
            for p, q in ((i, j), (j, i)):
                if p >= 0:
                    a[p, p] += 1 / branch.ohms
                    if q >= 0:
                        a[p, q] -= 1 / branch.ohms
        elif isinstance(branch, CurrentSource):
            for p, sign in ((i, -1), (j, 1)):
                if p >= 0:
                    b[p] += sign * branch.amps
        elif isinstance(branch, VoltageSource):
            k = n + sources.index(branch)
            b[k] = branch.volts
            for p, sign in ((i, 1), (j, -1)):
                if p >= 0:
                    a[k, p] += sign
                    a[p, k] -= sign
    return np.asarray(np.linalg.solve(a, b))


def resistor_network(seed: int) -> BranchNetwork:
    """A random spanning tree of resistors and voltage sources, further resistors and current sources on top."""
    rng = random.Random(seed)
    count = rng.randint(2, 14)
    branches: list[Branch] = []
    for node in range(1, count + 1):
        other = rng.randrange(node)
        if rng.random() < 0.3:
            a, b = rng.sample([node, other], 2)
            branches.append(VoltageSource(f"V{node}", a, b, rng.uniform(-24, 24)))
        else:
            branches.append(Resistor(f"R{node}", node, other, 10 ** rng.uniform(1, 5)))
    for i in range(rng.randint(1, 2 * count)):
        a, b = rng.sample(range(count + 1), 2)
        if rng.random() < 0.15:
            branches.append(CurrentSource(f"I{i}", a, b, rng.uniform(-0.01, 0.01)))
        else:
            branches.append(Resistor(f"RX{i}", a, b, 10 ** rng.uniform(1, 5)))
    rng.shuffle(branches)
    return BranchNetwork(tuple(str(i) for i in range(count + 1)), tuple(branches))


@pytest.mark.parametrize("seed", range(60))
def test_resistor_networks_agree_with_numpy(seed: int) -> None:
    linear = resistor_network(seed)
    found, exact = solve(linear, 25.0), nodal(linear)
    count = len(linear.nodes) - 1
    scale = max(1.0, float(np.max(np.abs(exact[:count]))))
    assert found.voltages[1:] == pytest.approx(exact[:count], rel=1e-9, abs=1e-9 * scale)
    assert found.iterations == 0
    sources = [branch for branch in linear.branches if isinstance(branch, VoltageSource)]
    currents = [found.current(branch.name) for branch in sources]
    most = max([1e-6, *np.abs(exact[count:])])
    assert currents == pytest.approx(exact[count:], rel=1e-9, abs=1e-9 * most)


# Properties


def test_a_point_does_not_depend_on_where_the_iteration_started() -> None:
    for seed in range(0, 90, 2):
        drive = drive_network(seed)
        cold, hot = solve(drive, -20.0), solve(drive, 85.0)
        assert solve(drive, 85.0, start=cold).voltages == pytest.approx(hot.voltages, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("fall_back", [step_leakage, step_sources])
def test_both_fall_backs_of_the_iteration_reach_the_same_point(fall_back: Callable[..., Any]) -> None:
    reached = 0
    for seed in range(45):
        drive = drive_network(seed)
        structure = analyse(drive)
        found = fall_back(drive, structure, 25.0)
        if found is not None:
            reached += 1
            system, x, count = found
            expected = solve(drive, 25.0)
            there = point_of(drive, structure, 25.0, system, x, count)
            assert there.voltages == pytest.approx(expected.voltages, rel=1e-6, abs=1e-6), seed
    assert reached >= 43


def test_a_start_from_another_network_is_ignored() -> None:
    found = solve(drive_network(4), 25.0, start=solve(drive_network(3), 25.0))
    assert found.voltages == pytest.approx(solve(drive_network(4), 25.0).voltages)


def test_the_order_of_branches_changes_nothing() -> None:
    for seed in range(45):
        drive = drive_network(seed)
        turned = BranchNetwork(drive.nodes, drive.branches[::-1])
        assert solve(turned, 25.0).voltages == pytest.approx(solve(drive, 25.0).voltages, rel=1e-6, abs=1e-6)


def test_the_resistor_may_stand_in_either_leg() -> None:
    anode = point(VoltageSource("V1", 1, 0, 5.0), Resistor("R1", 1, 2, 680.0), LedBranch("D1", 2, 0, LED))
    cathode = point(VoltageSource("V1", 1, 0, 5.0), LedBranch("D1", 1, 2, LED), Resistor("R1", 2, 0, 680.0))
    assert anode.current("D1") == pytest.approx(cathode.current("D1"), rel=1e-9)


def test_wires_join_nets_and_carry_their_current() -> None:
    found = point(
        VoltageSource("V1", 1, 0, 5.0),
        Resistor("R1", 1, 2, 0.0),
        SwitchBranch("S1", 2, 3, Switch(RON=0.0, on=True)),
        Resistor("R2", 3, 4, 1000.0),
        VoltageSource("VAM", 4, 5, 0.0),
        Resistor("R3", 5, 0, 1000.0),
    )
    assert found.voltages == pytest.approx((0.0, 5.0, 5.0, 5.0, 2.5, 2.5))
    assert [found.current(name) for name in ("V1", "R1", "S1", "R2")] == pytest.approx([2.5e-3] * 4)
    assert found.current("VAM") == pytest.approx(-2.5e-3)


def test_sources_of_the_same_voltage_in_parallel_are_no_conflict() -> None:
    found = point(VoltageSource("V1", 1, 0, 5.0), VoltageSource("V2", 1, 0, 5.0), Resistor("R1", 1, 0, 100.0))
    assert found.current("V1") + found.current("V2") == pytest.approx(0.05)


def test_equal_ports_in_parallel_share_the_current() -> None:
    table = ((0.0, 2.9), (4e-3, 2.9), (8e-3, 2.5))
    found = point(Port("U1", 1, 0, table), Port("U2", 1, 0, table), Resistor("R1", 1, 0, 470.0))
    assert found.current("U1") == pytest.approx(found.current("U2"), rel=1e-3)


def test_a_reversed_led_carries_nothing() -> None:
    found = point(VoltageSource("V1", 1, 0, 24.0), Resistor("R1", 1, 2, 1000.0), LedBranch("D1", 0, 2, LED))
    assert abs(found.current("D1")) < 1e-10
    assert found.voltage("B") == pytest.approx(24.0)


def test_a_blocked_transistor_leaves_the_led_off() -> None:
    found = point(
        VoltageSource("V1", 1, 0, 24.0),
        Resistor("R1", 1, 2, 1000.0),
        LedBranch("D1", 2, 3, LED),
        MosBranch("M1", 3, 4, 0, Mos(VTO=2.0, KP=0.5)),
        Resistor("R2", 4, 0, 1e5),
    )
    assert found.current("D1") < 1e-10
    assert found.current("M1", "gate") == 0.0


def test_every_printed_loop_closes() -> None:
    """Within 0.1 %: source, resistor and LED of one loop; the transistor's pins balance."""
    found = point(VoltageSource("V1", 1, 0, 3.3), Resistor("R1", 1, 2, 330.0), LedBranch("D1", 2, 0, LED))
    amps = found.current("D1")
    assert 330.0 * amps + LED.forward(amps, 25.0) == pytest.approx(3.3, rel=1e-9)


def test_a_network_prints_as_one_line_a_branch() -> None:
    drive = network(
        Port("U1", 1, 0, ((0.0, 2.9), (4e-3, 2.9))),
        Resistor("R1", 1, 2, 330.0),
        LedBranch("XU1", 2, 0, LED, 10.0),
        BipolarBranch("Q1", 1, 2, 0, Bipolar()),
        Blocked("C3", (2, 0)),
    )
    assert drive.dump() == (
        "(network 0 A B)\n"
        "(port U1 A 0 (0 A 2.9 V) (0.004 A 2.9 V))\n"
        "(resistor R1 A B 330 ohm)\n"
        "(led XU1 B 0 1.2 V at 0.01 A + 10 ohm)\n"
        "(bipolar Q1 A B 0 npn IS=1e-14 BF=100 BR=1)\n"
        "(blocked C3 B 0)\n"
    )


# Failure in circuit words

SUPPLY = VoltageSource("V1", 1, 0, 5.0)


def test_a_net_without_a_dc_path_is_named_with_what_touches_it() -> None:
    text = words(SUPPLY, Resistor("R1", 1, 0, 100.0), Blocked("C3", (1, 2)), Blocked("U2's output", (2,)))
    assert text == "no DC path from net B to a reference: only C3 and U2's output connect it"


def test_a_floating_group_is_named_with_what_leads_out_of_it() -> None:
    text = words(SUPPLY, Resistor("R1", 2, 3, 100.0), Blocked("C3", (1, 2)), Resistor("R2", 1, 0, 1.0))
    assert text == "no DC path from nets B, C to a reference: only C3 connects them"


def test_a_gate_or_a_current_source_is_no_dc_path() -> None:
    assert "from net B to a reference: only M1 connects it" in words(SUPPLY, MosBranch("M1", 1, 2, 0, Mos()))
    assert "from net B to a reference: only I1 connects it" in words(SUPPLY, CurrentSource("I1", 1, 2, 1e-3))


def test_sources_in_conflict_are_named() -> None:
    text = words(SUPPLY, VoltageSource("V2", 1, 0, 3.3), Resistor("R1", 1, 0, 100.0))
    assert text == "sources V1 and V2 are in conflict: round their loop 1.7 V remain"
    text = words(SUPPLY, VoltageSource("V2", 2, 0, 3.3), Resistor("R1", 1, 2, 0.0))
    assert text == "sources V1 and V2 are in conflict, joined by R1: round their loop 1.7 V remain"
    text = words(SUPPLY, VoltageSource("V2", 2, 1, 3.0), VoltageSource("V3", 2, 0, 9.0))
    assert "V1, V2 and V3 are in conflict: round their loop 1 V remain" in text


def test_a_short_circuit_of_a_source_is_named() -> None:
    assert words(SUPPLY, Resistor("R1", 1, 0, 0.0)) == "source V1 is short-circuited through R1"


def test_ports_of_different_levels_on_one_net_are_in_conflict() -> None:
    text = words(Port("U1", 1, 0, ((0.0, 3.3),)), Port("U2", 1, 0, ((0.0, 0.4),)))
    assert text.startswith("sources U1 and U2 are in conflict")
    assert words(Port("U1", 1, 0, ((0.0, 3.3),)), VoltageSource("V2", 1, 0, 5.0)).startswith("sources U1 and V2")


def test_a_current_that_nothing_takes_has_no_operating_point() -> None:
    text = words(CurrentSource("I1", 0, 1, 5e-3), LedBranch("D1", 0, 1, LED))
    assert text == "the network has no operating point: nothing takes the current of I1"


@pytest.mark.parametrize("volts", [3.3, 5.0, 24.0, 325.0])
def test_an_led_without_any_resistance_is_not_limited(volts: float) -> None:
    with pytest.raises(Unlimited) as caught:
        point(VoltageSource("V1", 1, 0, volts), LedBranch("D1", 1, 0, IDEAL))
    assert (caught.value.text, caught.value.branch) == ("nothing limits the current through D1", "D1")


def test_a_negative_resistance_is_refused() -> None:
    assert words(SUPPLY, Resistor("R1", 1, 0, -100.0)) == "R1 has a resistance of -100 ohm; it must be 0 or more"


def test_a_port_must_fall_and_names_must_differ() -> None:
    for table in (((0.0, 1.0), (0.0, 0.5)), ((0.0, 1.0), (1.0, 2.0)), ()):
        with pytest.raises(ValueError, match="U1"):
            point(Port("U1", 1, 0, table), Resistor("R1", 1, 0, 1.0))
    with pytest.raises(ValueError, match="R1"):
        point(SUPPLY, Resistor("R1", 1, 0, 1.0), Resistor("R1", 1, 0, 1.0))


def test_more_supply_never_means_less_led_current() -> None:
    amps = [
        point(VoltageSource("V1", 1, 0, volts / 4), Resistor("R1", 1, 2, 470.0), LedBranch("D1", 2, 0, LED)).current(
            "D1"
        )
        for volts in range(40)
    ]
    assert all(low < high for low, high in pairwise(amps))

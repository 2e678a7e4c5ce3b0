"""The small changes that the tests must notice, each with the tests that are to notice it."""

from __future__ import annotations

from tests.mutations.change import Change

HEAT = "rules/test_coupler_heat.py"
STRESS = "rules/test_output_stress.py"
OFF = "worstcase/test_off.py"
DEVICES = "worstcase/test_devices.py"
CORNERS = "worstcase/test_corners.py"
TRANSFER = "worstcase/test_transfer.py"
AGEING = "worstcase/test_ageing.py"
LOOKUP = "worstcase/test_lookup.py"
STATES = "rules/test_drive_states.py"
JUNCTIONS = "worstcase/test_junctions.py"
JOINED = "checking/test_joined_channels.py"
JOINTS = "interfaces/test_joints.py"
MEASURED = "checking/test_measured.py"
SOLVE = "worstcase/test_solve.py"
GROUNDS = "interfaces/test_grounds.py"
SIDES = "interfaces/test_sides.py"
WALK = "interfaces/test_walk.py"
BRIDGES = "interfaces/test_bridges.py"
RESISTANCE = "interfaces/test_resistance.py"
CAPACITORS = "rules/test_barrier_capacitors.py"
BY_HAND = "rules/test_barriers_by_hand.py"
BESIDE = "rules/test_switches_beside.py"
LIMITERS = "rules/test_current_limiters.py"
ENGINE = "checking/test_engine.py"
VERDICT = "checking/test_verdict.py"
WAIVERS = "checking/test_waivers.py"
BOUNDS = "checking/test_waiver_bounds.py"
BASELINES = "checking/test_baselines.py"
OPENS = "checking/test_opens.py"
VALUES = "netlist/test_card_values.py"
DEFINITIONS = "netlist/test_definitions.py"
LOST = "netlist/test_lost_lines.py"

LISTED = (
    # -- ends and terms that were once left out unseen
    Change("worstcase/heat.py", "total = led + output + supply", "total = led + output", (HEAT,)),
    Change("worstcase/heat.py", "actual = output + supply if stated else output", "actual = output", (HEAT,)),
    Change(
        "worstcase/heat.py",
        "thermal.output_to_ambient, output + supply)",
        "thermal.output_to_ambient, output)",
        (HEAT,),
    ),
    Change("worstcase/heat.py", "if volts is None:", "if volts is not None:", (HEAT,)),
    Change(
        "checking/analysis.py",
        'held.kind != "supply":\n            return None',
        'held.kind == "supply":\n            return None',
        (HEAT,),
    ),
    Change(
        "checking/bridge_network.py",
        "(is_earth_name(name) or is_ground_name(name))",
        "is_earth_name(name)",
        (CAPACITORS,),
    ),
    Change(
        "interfaces/walk.py",
        '"push-pull" or (fact.unpowered is not None and fact.unpowered.value)',
        '"push-pull"',
        (WALK,),
    ),
    Change(
        "worstcase/drive.py",
        'fact.unpowered.value and "hi-z" not in found',
        'fact.unpowered.value and "hi-z" in found',
        (STATES,),
    ),
    Change("worstcase/off.py", "(term,), self.setting.low(term)", "(term,), self.setting.high(term)", (OFF,)),
    Change("rules/led_reversed.py", "LIT_AMPS = 1e-4", "LIT_AMPS = 1e-6", ("rules/test_led_reversed.py",)),
    # -- devices and the operating point
    Change("worstcase/devices.py", "MODEL_TEMPERATURE = 27.0", "MODEL_TEMPERATURE = 25.0", (DEVICES,)),
    Change(
        "worstcase/devices.py",
        "temperature_coefficient * (temperature - 25.0)",
        "temperature_coefficient * (25.0 - temperature)",
        (DEVICES,),
    ),
    Change(
        "worstcase/devices.py",
        "math.exp(-(junction + self.BV) / nvt)",
        "math.exp(-(junction - self.BV) / nvt)",
        (DEVICES,),
    ),
    Change("worstcase/devices.py", "(self.TNOM + KELVIN), -1.5)", "(self.TNOM + KELVIN), 1.5)", (DEVICES,)),
    Change("worstcase/devices.py", "self.XTI / self.N, self.EG / self.N", "self.XTI, self.EG", (DEVICES,)),
    Change("worstcase/devices.py", "shape * (1.0 + self.LAMBDA * vds)", "shape", (DEVICES,)),
    Change("worstcase/junctions.py", "self.volts = v + self.series * amps", "self.volts = v", (SOLVE,)),
    Change(
        "worstcase/junctions.py",
        "(forward - reverse * (1.0 + 1.0 / self.reverse_gain))",
        "(forward - reverse)",
        (SOLVE,),
    ),
    Change("worstcase/junctions.py", "= 0.5 * over * over, over, 0.0", "= over * over, over, 0.0", (JUNCTIONS,)),
    Change("worstcase/junctions.py", "slope / (1.0 + self.series * slope)", "slope", (JUNCTIONS,)),
    Change(
        "worstcase/solve.py",
        "temperature if network.is_warm else None)",
        "25.0 if network.is_warm else None)",
        ("worstcase/test_solver.py",),
    ),
    Change("checking/once.py", "if owner.changed not in each.sources", "if owner.changed", ("checking/test_once.py",)),
    Change(
        "checking/once.py",
        "            owner.watch.note_all(found.sources)\n",
        "            pass\n",
        ("checking/test_once.py",),
    ),
    Change(
        "worstcase/watch.py", "            self.note_all(known[1])\n", "            pass\n", ("checking/test_once.py",)
    ),
    # -- corners
    Change("worstcase/corners.py", "if not any(along):", "if along is None:", ("worstcase/test_slopes.py",)),
    Change("worstcase/corners.py", "if up and up == down:", "if up and up != down:", (CORNERS,)),
    Change("worstcase/corners.py", "= up or -down", "= up or down", (CORNERS,)),
    Change("worstcase/box.py", "where = 1.0 - where", "where = where + 0.0", (CORNERS,)),
    # -- transfer ratio, its ageing and its margin
    Change(
        "worstcase/transfer.py",
        "min(at_led.value / at_drive.value, 1.0)",
        "max(at_led.value / at_drive.value, 1.0)",
        (TRANSFER,),
    ),
    Change("worstcase/transfer.py", "best = max(bounds,", "best = min(bounds,", (TRANSFER,)),
    Change(
        "worstcase/transfer.py",
        "self.setting.high(life) * self.setting.high(duty)",
        "self.setting.high(life)",
        (TRANSFER,),
    ),
    Change(
        "worstcase/transfer.py",
        "(forced, scaled, self._temperature_factor(temperature), self._life_factor(stress))",
        "(forced, scaled, self._temperature_factor(temperature))",
        (TRANSFER,),
    ),
    Change(
        "worstcase/transfer.py", "return max(volts, self.part.kind.output.least_volts)", "return volts", (TRANSFER,)
    ),
    Change("worstcase/transfer.py", "hot = self.setting.high(ambient)", "hot = self.setting.low(ambient)", (TRANSFER,)),
    Change("checking/analysis.py", "return drive.current.high.value", "return drive.current.low.value", (TRANSFER,)),
    Change(
        "worstcase/margin.py",
        "worst = min(rows, key=lambda row: row.margin)",
        "worst = max(rows, key=lambda row: row.margin)",
        (TRANSFER,),
    ),
    Change("worstcase/ageing.py", "POWER_LAW = (0.25, 0.5)", "POWER_LAW = (0.25, 0.25)", (AGEING,)),
    Change("worstcase/ageing.py", "use_hours / factor / stress.hours", "use_hours * factor / stress.hours", (AGEING,)),
    # -- heat
    Change("worstcase/heat.py", "max(hot - derating.from_, 0.0)", "max(derating.from_ - hot, 0.0)", (HEAT,)),
    Change("worstcase/heat.py", "max(most - hot, 0.0) / ohms", "max(most, 0.0) / ohms", (HEAT,)),
    Change("worstcase/heat.py", "max(left(given), on_volts), given", "on_volts, given", (STRESS,)),
    # -- the off state
    Change(
        "worstcase/leakage.py",
        "self.setting.low(kelvins) if temperature >= at else kelvins.high",
        "self.setting.low(kelvins)",
        (OFF,),
    ),
    Change("worstcase/leakage.py", "if temperature > hottest:", "if temperature < hottest:", (OFF,)),
    Change("worstcase/leakage.py", "factors = (most, at_led, across, heat)", "factors = (most, at_led, heat)", (OFF,)),
    Change("worstcase/off.py", "abs(device.VTO) / 2.0", "abs(device.VTO)", (OFF,)),
    Change("worstcase/states.py", 'if drive != "high-side":', 'if drive == "open-drain":', (STATES,)),
    Change("worstcase/output.py", "product((1.0, -1.0), repeat", "product((1.0,), repeat", (STRESS,)),
    Change("worstcase/lookup.py", "start = setting.low(supply)", "start = setting.high(supply)", (LOOKUP,)),
    Change("worstcase/lookup.py", "[0] == net else -1.0", "[0] == net else 1.0", (LOOKUP,)),
    # -- sides, grounds, bridges
    Change("interfaces/grounds.py", "TIE_OHMS = 10.0", "TIE_OHMS = 100.0", (GROUNDS,)),
    Change("interfaces/grounds.py", "if stated or side in self.absent():", "if stated:", (GROUNDS,)),
    Change("interfaces/sides.py", "if found.removed or found.without != NONE:", "if found.removed:", (JOINTS,)),
    Change(
        "interfaces/islands.py",
        "if ohms < self.limit and one in strong",
        "if ohms <= self.limit and one in strong",
        (SIDES,),
    ),
    Change("interfaces/islands.py", "if kind == RESISTOR and ohms > 0.0:", "if kind == RESISTOR:", (SIDES,)),
    Change(
        "interfaces/resistance.py",
        "self.add(one, other, share * second)",
        "self.add(one, other, second)",
        (RESISTANCE,),
    ),
    Change(
        "interfaces/resistance.py",
        "row.get(there, 0.0) + conductance",
        "max(row.get(there, 0.0), conductance)",
        (RESISTANCE,),
    ),
    Change(
        "interfaces/bridges.py",
        "found = min(found, network.effective(*ends))",
        "found = max(0.0, network.effective(*ends))",
        (BRIDGES,),
    ),
    # -- verdicts, waivers, baselines
    Change("checking/direct_current.py", "setting.range(term)[0]", "setting.range(term)[1]", (BY_HAND,)),
    Change("checking/barrier_strength.py", "both <= near or both <= far", "both <= far", (BY_HAND,)),
    Change("checking/switches_beside.py", "LEAST_OF_MOST * len(alike)", "len(alike)", (BESIDE,)),
    Change("worstcase/current_limiters.py", "2.0 * vector[amps]", "vector[amps]", (LIMITERS,)),
    Change(
        "checking/touch_current.py", "DrivingVoltage(mains * touch.MAINS_RISE,", "DrivingVoltage(mains,", (CAPACITORS,)
    ),
    Change("checking/engine.py", 'if join.unknown or join.level == "note":', "if join.unknown:", (JOINED,)),
    Change("checking/engine.py", 'return result._replace(kind="open", blocked_by="")', "return result", (ENGINE,)),
    Change(
        "checking/verdict.py",
        "if kindest is not None and not kindest.holds:",
        "if kindest is not None and kindest.holds:",
        (VERDICT,),
    ),
    Change("checking/waivers.py", "today <= waiver.until", "today < waiver.until", (WAIVERS,)),
    Change(
        "checking/waivers.py", "result.margin.value >= waiver.bound", "result.margin.value <= waiver.bound", (BOUNDS,)
    ),
    Change(
        "checking/baselines.py", "fell = now < before if falls else now > before", "fell = now < before", (MEASURED,)
    ),
    Change("checking/baselines.py", "if 2 * common < max(1, len(failing)) or exists(", "if exists(", (BASELINES,)),
    Change("checking/opens.py", "level = max((first.counts_as", "level = min((first.counts_as", (OPENS,)),
    # -- reading
    Change(
        "netlist/card_values.py",
        'exponent = 6 if low.startswith("meg")',
        'exponent = -3 if low.startswith("meg")',
        (VALUES,),
    ),
    Change("netlist/card_values.py", 'if letters[:1] == "A" or', "if", (VALUES,)),
    Change(
        "netlist/conditions.py",
        "level.active = level.taken = value != 0",
        "level.active = level.taken = value == 0",
        (DEFINITIONS,),
    ),
    Change("netlist/lost.py", "if len(names) > 1:", "if len(names) > 2:", (LOST,)),
    Change("netlist/lost.py", "and not (numbers and position in _NODES)", "and numbers", (LOST,)),
    Change("netlist/ends.py", "if not depth and word[0]", "if depth and word[0]", (LOST,)),
    Change(
        "netlist/expressions.py",
        "yes if condition != 0 else no",
        "no if condition != 0 else yes",
        ("netlist/test_expressions.py",),
    ),
    Change(
        "checking/driven_stage.py",
        "apart = (second - first) * device.polarity",
        "apart = (first - second) * device.polarity",
        ("rules/test_transistor_stages.py",),
    ),
    Change(
        "checking/stage_loads.py",
        "amps = volts.high / (_ROOT if volts.alternating else 1.0) / (rest + ohms)",
        "amps = volts.high / (_ROOT if volts.alternating else 1.0) / (rest - ohms)",
        ("rules/test_transistor_stages.py",),
    ),
    Change(
        "checking/driver_heat.py",
        'Figure("share", share / 2.0)',
        'Figure("share", share)',
        ("worked", "rules/test_driver_outputs.py"),
    ),
    Change(
        "checking/driver_outputs.py",
        "if not backwards or own:",
        "if not backwards or not own:",
        ("rules/test_driver_outputs.py",),
    ),
    Change(
        "checking/speed_up.py", "if charge.si <= HARMLESS:", "if charge.si > HARMLESS:", ("checking/test_speed_up.py",)
    ),
    Change(
        "checking/bridge_strength.py",
        "            if resists:\n                return way\n",
        "            return way\n",
        ("rules/test_barriers_by_hand.py",),
    ),
    Change("review/reviewing.py", "        if crashed:\n", "        if not crashed:\n", ("cli/test_crashes.py",)),
    Change(
        "rules/supply_contradicted.py",
        "if upright == (stated.nominal > 0.0):",
        "if upright != (stated.nominal > 0.0):",
        ("rules/test_fixtures.py", "rules/test_pages.py"),
    ),
)

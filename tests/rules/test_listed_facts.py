"""The facts that a rule lists are those that its results ask for, and each of them is asked for."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from isolint.checking.engine import run
from isolint.checking.rule import Rule
from isolint.facts.stated import TABLES
from isolint.parts.records import SECTIONS
from isolint.preparing import prepare
from isolint.results import NetlistReport
from isolint.rules import RULES
from isolint.source import FolderTree, MemoryTree, Tree
from tests.checking.asking import watched_rows
from tests.rules.test_pages import examples, of_example
from tests.support import BOARD, FIXTURES, judge_example, judge_fixture, of_netlist, without_cures

ROOT = FIXTURES / "rules"
NETLISTS = sorted(ROOT.rglob("*.cir"))
LISTED = {rule.slug: set(rule.facts) for rule in RULES}
NAMED = ("elements", "supplies", "outputs", "inputs", "lines", "signals", "sides", "groups")
ROWS = {
    f"{table.replace('parts', 'parts.*')}{'.*' if table in NAMED else ''}.{key}": (table, key)
    for table, key in ((row.table, row.key) for rows in (*TABLES, *SECTIONS) for row in rows.ROWS.values())
}
"""Facts and values of records as rules list them; the heads of records and waivers are none."""

ELSEWHERE = {
    ("converter-overloaded", "parts.*.supply.current"),
    ("dark-current-high", "parts.*.output.leakage"),
    ("gate-drive-low", "parts.*.supply.current"),
    ("gate-resistor-low", "parts.*.supply.current"),
    ("gate-voltage-exceeded", "parts.*.supply.current"),
    ("blocking-voltage-low", "parts.*.output.leakage"),
    ("coupler-overheated", "supplies.*.phase"),
    ("gate-leakage-high", "supplies.*.phase"),
    ("off-current-high", "parts.*.coil.drop_out"),
    ("off-current-high", "parts.*.coil.resistance"),
    ("off-current-high", "parts.*.output.leakage"),
    ("off-current-high", "supplies.*.phase"),
    ("surge-unclamped", "supplies.*.phase"),
    ("input-thresholds-missed", "parts.*.led.threshold_current"),
    ("output-level-invalid", "inputs.*.high_min"),
    ("gate-path-resistor-low", "supplies.*.phase"),
    ("load-current-low", "supplies.*.phase"),
    ("output-current-exceeded", "parts.*.thyristor.surge_current"),
    ("output-current-exceeded", "supplies.*.phase"),
    ("output-voltage-exceeded", "parts.*.coil.clamp_voltage"),
    ("output-voltage-exceeded", "parts.*.output.leakage"),
    ("output-voltage-exceeded", "supplies.*.phase"),
    ("snubber-missing", "supplies.*.phase"),
    ("switching-too-slow", "parts.*.coil.clamp_voltage"),
    ("switching-too-slow", "parts.*.coil.drop_out"),
    ("switching-too-slow", "parts.*.coil.inductance"),
    ("transfer-margin-low", "lines.*.frequency"),
    ("transfer-margin-low", "signals.*.duty"),
    ("transfer-margin-low", "signals.*.rate"),
    ("transfer-margin-low", "supplies.*.frequency"),
    ("triac-fires-late", "supplies.*.phase"),
    ("trigger-margin-low", "parts.*.trigger.gate_resistor"),
}
"""Asked for in netlists that stand with other rules: logic outputs, outputs that pull up, clamps, sines, drivers fed
through a resistor, switches between two phases, relays and MOSFET outputs that leak, also in series."""

WORD = re.compile(r'"(?:[^"\\]|\\.)*"|[\w-]+')


def general(key: str) -> str:
    """A key as rules list it, whatever it is stated of: `elements.*.tolerance`; "" for a whole part record."""
    table, *words = WORD.findall(key)
    if table in ("barriers", "pairs"):
        return f"{table}.{words[-1] if words else 'dead_time'}"
    if len(words) == 1:
        return "" if table == "parts" else key
    return ".".join((table, "*", *words[1:3]))


def unlisted(report: NetlistReport) -> set[tuple[str, str]]:
    """Rules with keys that their results ask for and that they don't list."""
    asked = {(result.rule, general(fact.key)) for result in report.results for fact in result.missing}
    return {(slug, key) for slug, key in asked if key and key not in LISTED[slug]}


def test_a_key_is_listed_whatever_it_is_stated_of() -> None:
    assert general('elements."R4".tolerance') == "elements.*.tolerance"
    assert general("parts.DEMO_PT1.led.off_current") == "parts.*.led.off_current"
    assert general("parts.DEMO_PT1.output.dark_current.hot") == "parts.*.output.dark_current"
    assert general("parts.DEMO_PT1.groups") == "parts.*.groups"
    assert general("parts.DEMO_PT1") == ""
    assert general("barriers[2].mains") == general('barriers."a | b".mains') == "barriers.mains"
    assert general("environment.life") == "environment.life"


@pytest.mark.parametrize("path", [of_netlist(path, ROOT) for path in NETLISTS])
def test_what_the_results_of_a_netlist_ask_for_is_listed_by_their_rules(path: Path) -> None:
    assert unlisted(judge_fixture(path)) == set()


@pytest.mark.parametrize(("slug", "section", "netlist", "settings"), [*map(of_example, examples())])
def test_what_the_results_of_an_example_ask_for_is_listed_by_their_rules(
    slug: str, section: str, netlist: str, settings: str
) -> None:
    assert unlisted(judge_example(netlist, settings)) == set()


def boards(slug: str) -> list[tuple[Tree, str]]:
    """The examples of a rule's page and the netlists of its folder."""
    pages = [
        (MemoryTree({BOARD: netlist, "isolint.toml": f"top = true\n{settings}"}), BOARD)
        for name, _, netlist, settings in examples()
        if name == slug
    ]
    own = [(FolderTree(ROOT), path.relative_to(ROOT).as_posix()) for path in sorted((ROOT / slug).rglob("*.cir"))]
    return [*pages, *own]


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.facts], ids=lambda rule: rule.slug)
def test_each_fact_that_a_rule_lists_is_asked_for_where_it_alone_judges(rule: Rule) -> None:
    left = {key for key in rule.facts if key in ROWS} - {key for slug, key in ELSEWHERE if slug == rule.slug}
    for tree, netlist in boards(rule.slug):
        if left:
            with watched_rows() as asked, without_cures():
                results = run(prepare(tree, netlist, "")[0], [rule], False, date(2026, 1, 1))
            left -= {key for key, row in ROWS.items() if row in asked}
            left -= {general(fact.key) for result in results for fact in result.missing}
    assert left == set()

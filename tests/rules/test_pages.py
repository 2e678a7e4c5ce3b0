"""Rule pages: complete, true of the code, and their examples run."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet

from isolint import rules
from isolint.checking.demonstration import SHARED, whole
from isolint.checking.rule import Rule
from isolint.facts import settings_schema as facts_schema
from isolint.parts import record_schema as parts_schema
from isolint.rules import LISTED, RULE_SET, RULES
from tests.support import differences, judge_example, of_page

SECTIONS = (
    "What it looks at",
    "Why it matters",
    "How it is computed",
    "Fails",
    "Passes",
    "Remedy",
    "What it cannot see",
)


def sections(rule: Rule) -> dict[str, str]:
    """The sections of a page by heading."""
    return dict(re.findall(r"^## ([^\n]+)\n+(.*?)(?=^## |\Z)", rule.record.page, re.DOTALL | re.MULTILINE))


def blocks(text: str, language: str) -> list[str]:
    """The fenced blocks of one language."""
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def examples() -> list[tuple[str, str, str, str]]:
    """(slug, section, netlist, settings) of every example."""
    found: list[tuple[str, str, str, str]] = []
    for rule in RULES:
        settings = "\n".join(blocks(rule.record.page, "toml"))
        for section in ("Fails", "Passes"):
            found += [(rule.slug, section, netlist, settings) for netlist in blocks(sections(rule)[section], "netlist")]
    return found


def of_example(example: tuple[str, str, str, str]) -> ParameterSet:
    """An example as a parameter of tests."""
    slug, section, netlist, _ = example
    title = netlist.partition("\n")[0].removeprefix("* ")
    return of_page(slug, f"{slug}-{section}-{title[:30]}", *example)


@pytest.mark.parametrize(("slug", "section", "netlist", "settings"), [*map(of_example, examples())])
def test_an_example_gives_what_its_comments_say(slug: str, section: str, netlist: str, settings: str) -> None:
    text = netlist
    if section == "Passes":
        assert not re.search(rf"expect(-open)?: {slug}\b", netlist)
        text = netlist if "* expect" in netlist else f"* expect: none\n{netlist}"
    else:
        assert re.search(rf"expect(-open)?: {slug}\b", netlist)
    assert differences(judge_example(netlist, settings), text) == []


def test_a_page_shows_the_settings_that_it_names_with_its_own_in_their_places() -> None:
    own = '[inputs."OUT"]\nlow_max = "1.8 V"\n[signals."OUT"]\nuse = "linear"\n'
    page = whole(f"Before.\n\nSettings: receiver, conditions.\n\n```toml\n{own}```\n\nAfter.\n")
    (shown,) = blocks(page, "toml")
    assert page == f"Before.\n\n```toml\n{shown}```\n\nAfter.\n"
    stated = tomllib.loads(shown)
    assert stated["inputs"]["OUT"] == {**tomllib.loads(SHARED["receiver"])["inputs"]["OUT"], "low_max": "1.8 V"}
    assert stated["environment"] == tomllib.loads(SHARED["conditions"])["environment"]
    assert stated["signals"] == {"OUT": {"use": "linear"}}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_a_page_writes_down_no_setting_that_it_shares(rule: Rule) -> None:
    (names,) = re.findall(r"^Settings: (.*)\.$", rule.page, re.MULTILINE) or [""]
    own = rows("".join(blocks(rule.page, "toml")))
    for name, shared in SHARED.items():
        if name in names.split(", "):
            assert not rows(shared) & own
        else:
            assert not rows(shared) <= own, f"Settings: {name}"
    assert "Settings: " not in rule.record.page


def rows(settings: str) -> set[tuple[str, str]]:
    """The lines of settings, each with the head of its table."""
    head, found = "", set()
    for line in settings.splitlines():
        head = line if line.startswith("[") else head
        found.add((head, line))
    return {(head, line) for head, line in found if head != line}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_a_page_has_all_its_sections_in_order(rule: Rule) -> None:
    wanted = (*SECTIONS, "Caution") if rule.group == "barrier" else SECTIONS
    assert tuple(sections(rule)) in (wanted, (*SECTIONS, "Caution"))
    assert all(text.strip() for text in sections(rule).values())
    assert blocks(sections(rule)["Fails"], "netlist")
    assert blocks(sections(rule)["Passes"], "netlist")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_the_first_sentence_of_a_page_is_its_summary(rule: Rule) -> None:
    assert rule.page.startswith(f"{rule.summary}\n")
    assert re.fullmatch(r"[A-Z][^.]*\.", rule.summary)
    assert rule.record.summary == rule.summary


def test_every_rule_file_is_registered_once() -> None:
    folder = Path(rules.__file__).parent
    files = {path.stem.replace("_", "-") for path in folder.glob("*.py") if path.stem != "__init__"}
    slugs = [rule.slug for rule in RULES]
    assert sorted(slugs) == sorted(files)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", slug) for slug in slugs)


def test_each_rule_has_the_slug_by_which_it_is_listed() -> None:
    assert tuple(rule.slug for rule in RULES) == LISTED
    assert RULE_SET[: len(LISTED)] == LISTED
    assert len(RULE_SET) == len(set(RULE_SET))


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_default_levels_are_those_of_the_rule_set(rule: Rule) -> None:
    warnings = {"leds-share-resistor", "slow-edge", "bypass-missing", "base-resistor-low", "side-unpowered"}
    warnings |= {"triac-fires-late", "resistor-overloaded", "include-missing", "waiver-stale"}
    warnings |= {"surge-unclamped", "gate-leakage-high", "load-capacitance-high", "miller-turn-on"}
    assert rule.level == ("warning" if rule.slug in warnings else "error")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_the_facts_that_a_rule_may_need_exist_in_the_schema(rule: Rule) -> None:
    for key in rule.facts:
        assert known(key), key


def known(key: str) -> bool:
    """Whether a key of `Rule.facts` is one of isolint.toml or of a part record."""
    table, *rest = key.split(".")
    if table == "parts":
        assert rest[0] == "*"
        if len(rest) == 2:
            return rest[1] in parts_schema.HEAD.keys
        return rest[2] in parts_schema.SECTIONS[rest[1]][0].keys
    if table in facts_schema.NAMED:
        return rest[0] == "*" and rest[1] in facts_schema.NAMED[table].keys
    if table in facts_schema.LISTS:
        return rest[0] in facts_schema.LISTS[table].keys
    return table in facts_schema.SINGLE and rest[0] in facts_schema.SINGLE[table].keys

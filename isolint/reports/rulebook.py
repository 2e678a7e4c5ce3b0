"""The rules as text: the list, and whole pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.results import RuleRecord, TypeRecord


def listing(rules: Sequence[RuleRecord]) -> str:
    """List all rules by group, in their own order: slug, default level, summary."""
    width = max((len(rule.slug) for rule in rules), default=0)
    groups = dict.fromkeys(rule.group for rule in rules)
    blocks = []
    for group in groups:
        members = [rule for rule in rules if rule.group == group]
        lines = [group, *(f"  {rule.slug:<{width}}  {rule.level:<7}  {rule.summary}" for rule in members)]
        blocks.append("\n".join(lines) + "\n")
    return "\n".join(blocks)


def pages(rules: Iterable[RuleRecord]) -> str:
    """Write the whole page of each rule under its slug, group and default level."""
    return "\n\n".join(_page(rule) for rule in rules)


def _page(rule: RuleRecord) -> str:
    facts = f"\n## Facts that decide\n\n{', '.join(rule.facts)}\n" if rule.facts else ""
    asked = f"\n## Asked of\n\n{', '.join(rule.asked_of)}\n" if rule.asked_of else ""
    return f"{rule.slug} ({rule.group}, {rule.level})\n\n{rule.page.strip()}\n{facts}{asked}"


def asked_of(kind: TypeRecord, rules: Sequence[RuleRecord]) -> str:
    """List what is asked of the parts of a type, and what nothing judges of them yet."""
    asked = [rule for rule in rules if kind.name in rule.asked_of]
    head = f"{kind.name}: {len(asked)} rules are asked of it, by {', '.join(kind.traits)}\n"
    gaps = f"nothing answers yet, so that it stays open: {', '.join(kind.gaps)}\n" if kind.gaps else ""
    gaps += f"never asked: {', '.join(kind.blind)}\n"
    return f"{head}{gaps}\n{listing(asked)}"

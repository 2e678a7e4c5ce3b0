"""Slugs stand in the files of rules and nowhere below them; what others need of a rule they find by what it judges."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import get_args

from isolint import rules
from isolint.checking.rule import Rulebook
from isolint.interfaces.entities import JointKind
from isolint.netlist.cards import NoteKind
from isolint.rules import RULE_SET, RULES
from isolint.worstcase.uncertain import Aspect

FOLDER = Path(rules.__file__).parent
SLUG = re.compile(rf"(?<![\w-])({'|'.join(RULE_SET)})(?![\w-])")


def named(file: Path, leave: str = "") -> list[str]:
    """The lines of a file that name a rule other than the one left out."""
    lines = file.read_text(encoding="utf-8").splitlines()
    return [
        f"{file.name}:{at}: {slug}" for at, line in enumerate(lines, 1) for slug in SLUG.findall(line) if slug != leave
    ]


def test_no_slug_stands_outside_the_folder_of_rules_but_where_types_say_what_is_asked_of_them() -> None:
    asked = FOLDER.parent / "types"
    files = sorted(path for path in FOLDER.parent.rglob("*.py") if not {FOLDER, asked} & {*path.parents})
    assert len(files) > 100
    assert [line for file in files for line in named(file)] == []


def test_the_code_of_a_rule_names_no_other_rule(tmp_path: Path) -> None:
    code = tmp_path / "code.py"
    for rule in RULES:
        text = (FOLDER / f"{rule.slug.replace('-', '_')}.py").read_text(encoding="utf-8")
        assert text.startswith('"""')
        code.write_text(text.split('"""', 2)[2], encoding="utf-8")
        assert named(code, rule.slug) == [], rule.slug


def test_every_matter_has_one_rule_that_judges_it() -> None:
    wanted = [
        *get_args(Aspect),
        *get_args(JointKind),
        *get_args(NoteKind),
        "identity",
        "pins",
        "waivers",
        "insulation",
        "feed",
    ]
    judged = Counter(matter for rule in RULES for matter in rule.judges)
    assert judged == Counter(wanted)
    book = Rulebook(RULES)
    assert all(matter in book.judge_of(matter).judges for matter in wanted)


def test_what_a_rule_needs_or_blocks_is_an_aspect_and_somebody_blocks_what_is_needed() -> None:
    blocked = {aspect for rule in RULES for aspect in rule.blocks}
    for rule in RULES:
        assert {*rule.needs, *rule.blocks} <= set(get_args(Aspect))
        assert set(rule.needs) <= blocked

"""The last section of a calculation sheet: which questions about a channel are answered, and what is never asked."""

from __future__ import annotations

from isolint import types
from isolint.answered import Answers
from isolint.results import WorksheetLine, WorksheetSection
from isolint.types.form.part_type import ALWAYS_BLIND


def question_sheet(answers: Answers) -> WorksheetSection:
    """What is answered, unanswered, without a rule, not asked, and what nothing here ever asks of the type."""
    kind = types.of(answers.type)
    without = set(answers.lacking)
    rows = (
        ("answered", answers.answered),
        ("unanswered", tuple(slug for slug in answers.unanswered if slug not in without)),
        ("unanswered, without a rule", answers.lacking),
        ("not asked, its facts are not stated", answers.not_asked),
        ("never asked", (*kind.blind, *ALWAYS_BLIND)),
    )
    lines = tuple(WorksheetLine(f"{what}: {', '.join(words)}") for what, words in rows if words)
    title = f"{answers.subject} questions about a {answers.type.replace('-', ' ')}: {answers.state}"
    return WorksheetSection(title, lines if answers.state != "unused" else ())

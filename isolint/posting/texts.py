"""What comments say. All foreign text stands in code and is made harmless here, whoever wrote the file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from isolint.posting.forge import Form
from isolint.reports.escape import is_harmful, markdown, markdown_block, markdown_code
from isolint.review.review_words import because, headline, label, numbers, remarks
from isolint.review.values import Item, Suggestion
from isolint.tables import basic_string

MOST_BYTES = 16_000
_MOST_CHAIN = 30
_PART = "\u200b"


def code(text: str) -> str:
    """Foreign text as code; marks of comments are parted, so that none is hidden or read as ours."""
    return markdown_code(_parted(text)) or markdown_code("-")


def block(lines: Sequence[str]) -> list[str]:
    """Lines of foreign text as a code block."""
    # A line that begins with a slash may be an order to a forge, wherever it stands.
    return markdown_block([f" {_parted(line)}" if line[:1] == "/" else _parted(line) for line in lines])


def _parted(text: str) -> str:
    return text.replace("<!--", f"<{_PART}!--").replace("-->", f"--{_PART}>")


def comment(item: Item, others: Sequence[Item], form: Form, untrusted: bool, place: tuple[str, int]) -> str:
    """The body of the comment on a line: its worst item, up to two more as single lines.

    place: file and line where it stands. A line is written otherwise only on that line.
    """
    head = [*_untrusted(untrusted), f"**{markdown(item.rule)}** ({markdown(label(item))}): {code(headline(item))}"]
    told = [numbers(item), because(item.cause, item.where), *remarks(item)]
    lines = [*head, *(f"{code(line)}" for line in told if line)]
    lines.append(f"At {code(f'{item.where.file}:{item.where.line}')}.")
    if item.cure:
        lines.append(f"Cure: {code(item.cure)}")
    lines = [f"{line}  " for line in lines]
    made = item.suggestion
    if made is not None and not untrusted and (made.file, made.line) == place and _is_plain(made):
        lines += ["", *_suggestion(made, form)]
    more = [
        f"- also {markdown(other.rule)} ({markdown(label(other))}): {code(headline(other))}" for other in others[:2]
    ]
    accept = ["", "To accept it:", "", *block(list(_waiver(item)))]
    details = []
    if item.details:
        details = [
            "",
            "<details><summary>Chain and numbers</summary>",
            "",
            *block(item.details[:_MOST_CHAIN]),
            "",
            "</details>",
        ]
    if more:
        more = ["", *more]
    for parts in ([*lines, *more, *details, *accept], [*lines, *more, *accept], lines):
        body = "\n".join(parts)
        if len(body.encode("utf-8", "replace")) <= MOST_BYTES:
            return body
    return _cut([*head, f"At {code(f'{item.where.file}:{item.where.line}')}."])


def _cut(lines: Iterable[str]) -> str:
    kept, room = [], MOST_BYTES - 100
    for line in lines:
        room -= len(line.encode("utf-8", "replace")) + 1
        if room < 0:
            kept.append("(the rest is too long to show)")
            break
        kept.append(line)
    return "\n".join(kept)


def _untrusted(untrusted: bool) -> list[str]:
    return ["As the request's own run reports:"] if untrusted else []


def _waiver(item: Item) -> Iterator[str]:
    yield "[[waivers]]"
    yield f"rule = {basic_string(item.rule)}"
    yield f"where = {basic_string(item.subject)}"
    yield 'reason = "?"'
    yield 'by = "?"'
    yield 'until = "?"'


def _is_plain(made: Suggestion) -> bool:
    """Whether a line can stand in a suggestion as it is: nothing hidden in it, nothing that ends the block."""
    bad = any(part in made.after for part in ("`", "<!--", "-->")) or made.after.startswith("/")
    return len(made.after) <= 200 and not bad and not any(map(is_harmful, made.after))


def _suggestion(made: Suggestion, form: Form) -> list[str]:
    fence = {"github": "suggestion", "gitlab": "suggestion:-0+0", "gitea": "text"}[form]
    lead = ["Write instead:", ""] if form == "gitea" else []
    return [*lead, f"```{fence}", made.after, "```"]


def fixed(item: Item, head: str, untrusted: bool) -> str:
    """The body of a comment on what is put right."""
    now = item.after
    told = f": {headline(item)}" if now.kind != "absent" else ": what it spoke of is gone"
    return "\n".join([*_untrusted(untrusted), f"fixed in `{head[:12]}`{_coded(told)}"])


def _coded(told: str) -> str:
    return f": {code(told.removeprefix(': '))}"


def gone(head: str) -> str:
    """The body of a comment on what is not there any more, without any word of the review on it."""
    return f"fixed in `{head[:12]}`"


def quiet(why: str) -> str:
    """The body of a comment on what is neither there nor fixed."""
    return code(why) if why else "not judged any more"


def is_worse(now: float, before: float) -> bool:
    """Whether harm grew since somebody dismissed it."""
    if math.isinf(now):
        return not math.isinf(before)
    return now > 1.02 * before

from __future__ import annotations

import re

from hypothesis import given, settings

from isolint.reports import annotations as workflow
from isolint.results import Report
from tests.reports import sample
from tests.reports.names import hostile
from tests.reports.sample import OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, of

# The published grammar: `::name key=value,key=value::message`; in values `%`, CR, LF, `:` and `,` are escaped.
COMMAND = re.compile(r"::(error|warning|notice) ((?:\w+=[^,:\r\n]*)(?:,\w+=[^,:\r\n]*)*)::([^\r\n]*)")


def commands(report: Report) -> tuple[list[tuple[str, dict[str, str], str]], list[str]]:
    """What a runner makes of the text: the commands, and the other lines."""
    found: list[tuple[str, dict[str, str], str]] = []
    other: list[str] = []
    for line in workflow.render(report).splitlines():
        match = COMMAND.fullmatch(line)
        if match is None:
            assert not line.lstrip().startswith("::")
            assert "##[" not in line
            other.append(line)
            continue
        assert not re.search(r"%(?!25|0D|0A|3A|2C)", line), "a bare per cent sign"
        properties = dict(each.split("=", 1) for each in match[2].split(","))
        found.append((match[1], properties, match[3]))
    return found, other


def test_a_failure_is_an_error_at_its_line_with_its_cure() -> None:
    (found, *_), other = commands(of(UNDERDRIVEN))
    assert found[0] == "error"
    assert found[1] == {
        "file": "board.cir", "line": "12", "endLine": "12", "col": "1", "endColumn": "2", "title": "led-underdriven",
    }  # fmt: skip
    assert found[2].startswith("XU1: the LED gets 0.82 mA at worst (V3V3 -5 %25, -20 degC)")
    assert found[2].endswith("Cure: R4 (board.cir:12): 1.8 kohm or less")
    assert other == [
        "isolint: 1 netlist: 1 failure, 0 open, 0 waived; "
        "2 channels: 2 held, 0 failed, 0 open; 2 of 2 parts explained; 100 % of cards read"
    ]  # fmt: skip


def test_levels_have_their_commands_and_accepted_failures_none() -> None:
    known = UNDERDRIVEN._replace(baseline_state="unchanged")
    warning = UNDERDRIVEN._replace(level="warning")
    found, _ = commands(of(OPEN, PASS, WAIVED, known, warning, UNDERDRIVEN))
    assert [(name, properties["title"]) for name, properties, _ in found] == [
        ("error", "led-underdriven"),
        ("warning", "led-underdriven"),
        ("notice", "open led-unlimited"),
    ]


def test_no_more_than_the_service_shows_are_written_and_the_totals_are_printed() -> None:
    errors = [UNDERDRIVEN._replace(subject=f"XU{number}") for number in range(13)]
    warnings = [each._replace(level="warning") for each in errors[:11]]
    found, other = commands(of(*warnings, *errors))
    assert [name for name, _, _ in found] == ["error"] * 10 + ["warning"] * 10
    assert "24 failures (13 errors, 11 warnings)" in other[0]
    assert other[1].startswith("isolint: 20 of 24 are shown as annotations")


def test_a_job_that_was_not_done_is_told() -> None:
    _, other = commands(REPORT._replace(errors=("gone.cir: there is no such file",)))
    assert "isolint: not done: gone.cir: there is no such file" in other
    assert other[-1].startswith("isolint: caution: isolint supports a review")


@given(hostile)
@settings(max_examples=40)
def test_no_name_becomes_a_command(name: str) -> None:
    found, _ = commands(sample.hostile(name))
    assert [kind for kind, _, _ in found] == ["error", "error"]

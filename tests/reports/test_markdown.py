from __future__ import annotations

import re

from hypothesis import given, settings

from isolint.reports import markdown
from isolint.results import Report
from tests.reports import sample
from tests.reports.names import hostile
from tests.reports.sample import OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, of


def shown(report: Report) -> str:
    """The document as a reader sees its prose: without the backslashes."""
    return re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", markdown.render(report))


def test_failures_stand_in_a_table_with_margin_and_cure() -> None:
    text = shown(of(UNDERDRIVEN))
    assert "| error | `board.cir:12` | `led-underdriven` | XU1: the LED gets 0.82 mA at worst" in text
    assert "<br>Cure: R4 (board.cir:12): 1.8 kohm or less | 0.82 of 1 |" in text
    assert "<details><summary>led-underdriven <code>XU1</code></summary>" in text


def test_opens_name_the_fact_to_write_and_passes_are_left_out() -> None:
    text = shown(of(OPEN, PASS))
    row = "| note | `board.cir:20` | `led-unlimited` | XU2: the supply of net DRIVE is not known | "
    assert f'{row}`outputs."DRIVE".supply` |' in text
    assert "R4 limits" not in text


def test_waived_and_old_failures_stay_visible() -> None:
    known = UNDERDRIVEN._replace(baseline_state="unchanged")
    gone = sample.BLOCKED._replace(blocked_by="", message="gone", baseline_state="absent")
    text = shown(of(WAIVED, known, gone))
    row = "| `board.cir:30` | `ground-tie` | GND and GND_FIELD are joined | 2027-06-30 | hardware lead | "
    assert f"{row}bench fixture only |" in text
    assert "In the baseline, not looked at yet: 1.\n\n- `board.cir:12` `led-underdriven` XU1\n" in text
    assert "In the baseline and no longer found: 1.\n" in text
    assert "0 failures, 0 open, 1 waived, 1 in the baseline, 1 stale there" in text


def test_notes_errors_and_the_caution_are_told() -> None:
    text = shown(REPORT._replace(errors=("gone.cir: there is no such file",)))
    assert "**Not done:** gone.cir: there is no such file" in text
    assert "simulation only, left out: VCM1" in text
    assert "> isolint supports a review, it certifies nothing" in text
    assert "No netlist was checked." in shown(Report(version="0", netlists=(), rules=()))


@given(hostile)
@settings(max_examples=40)
def test_no_line_begins_with_an_order_and_every_table_stays_a_table(name: str) -> None:
    text = markdown.render(sample.hostile(name))
    columns = 0
    fence = ""
    for line in text.split("\n"):
        assert not line.startswith("/")
        if fence or line.startswith("```"):
            fence = re.match("`*", line)[0] if not fence else "" if line == fence else fence  # type: ignore[index]
            continue
        assert not re.search("<(?!/?(?:details|summary|code|br)>)", re.sub(r"(`+).*?(?<!`)\1(?!`)|\\.", "", line))
        if line.startswith("| ---"):
            columns = line.count("|")
        elif line.startswith("| ") and columns:
            assert len([bar for bar in re.findall(r"\\.|\|", line) if bar == "|"]) == columns
        elif not line:
            columns = 0
    assert not fence


@given(hostile)
@settings(max_examples=40)
def test_mentions_stand_in_code_or_are_parted(name: str) -> None:
    text = markdown.render(sample.hostile(f"@team {name}"))
    prose = re.sub(r"(?ms)^(`{3,})text\n.*?^\1$", "", text)
    prose = re.sub(r"<code>.*?</code>", "", prose)
    prose = re.sub(r"\\.|(`+).*?(?<!`)\1(?!`)", lambda found: found[0][1] if found[0][0] == "\\" else "", prose)
    assert "team" in prose
    assert "@team" not in prose


def test_a_long_report_keeps_totals_and_caution_and_says_what_it_left_out() -> None:
    many = of(*[UNDERDRIVEN] * 40)
    many = many._replace(netlists=(many.netlists[0]._replace(barriers=REPORT.netlists[0].barriers),))
    long = many._replace(netlists=many.netlists * 20)
    text = markdown.render(long)
    assert len(text.encode()) <= markdown.LIMIT
    assert text.splitlines()[2].startswith("800 failures")
    rows = sum(line.startswith("| error") for line in text.splitlines())
    assert 0 < rows < 800
    assert f"and {800 - rows} failures and open results of those counted at the top" in text
    assert text.splitlines()[-1].startswith("> isolint supports a review\\, it certifies nothing")


def test_the_evidence_is_what_a_long_report_leaves_out_first() -> None:
    number = next(n for n in range(1, 400) if "Shortened" in markdown.render(of(*[UNDERDRIVEN] * n)))
    text = markdown.render(of(*[UNDERDRIVEN] * number))
    assert sum(line.startswith("| error") for line in text.splitlines()) == number
    assert "<details>" not in text
    assert "<details>" in markdown.render(of(*[UNDERDRIVEN] * (number - 1)))


def test_errors_without_end_do_not_push_the_caution_out() -> None:
    text = markdown.render(REPORT._replace(errors=("x" * 1000,) * 100))
    assert len(text.encode()) <= markdown.LIMIT
    assert text.splitlines()[-1].startswith("> isolint supports a review\\, it certifies nothing")

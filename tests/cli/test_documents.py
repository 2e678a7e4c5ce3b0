"""What the command line writes for the demonstration boards."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from isolint.reports import json as format_json
from tests.conftest import environment

BOARD = "fixtures/boards/sluice-gate/{version}/board.cir"


def written(version: str, form: str, folder: Path, seed: str = "0") -> str:
    done = subprocess.run(
        [sys.executable, "-m", "isolint", "check", "--format", form, BOARD.format(version=version)],
        cwd=folder,
        env={**environment(), "PYTHONHASHSEED": seed},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("version", ["sound", "broken"])
def test_the_document_of_a_board_is_valid_and_sorted(version: str, repository: Path) -> None:
    document = json.loads(written(version, "json", repository))
    jsonschema.Draft202012Validator(json.loads(format_json.schema())).validate(document)
    places = [(each["where"]["file"], each["where"]["line"]) for each in document["results"]]
    assert len(places) > 10
    assert places == sorted(places)
    assert {each["kind"] for each in document["results"]} >= {"pass"}


@pytest.mark.parametrize("form", ["text", "json"])
def test_the_same_input_gives_the_same_bytes(form: str, repository: Path) -> None:
    assert written("broken", form, repository, seed="1") == written("broken", form, repository, seed="2")

"""The command line on input that can't be checked: a message with file and cure, never a traceback."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.conftest import Run

SOUND = """\
* a resistor divider, invented
V1 in 0 5
R1 in out 1k
R2 out 0 1k
"""


def write(folder: Path, **files: str | bytes) -> None:
    for name, content in files.items():
        data = content if isinstance(content, bytes) else content.encode()
        (folder / name.replace("__", ".")).write_bytes(data)


@pytest.mark.parametrize(
    ("name", "content"),
    [("gone.cir", None), ("empty.cir", b""), ("picture.cir", b"\x89PNG\r\n\x1a\n" + bytes(range(256)))],
    ids=["missing", "empty", "binary"],
)
def test_a_path_that_is_no_netlist_is_status_two_with_its_name(
    run_isolint: Run, tmp_path: Path, name: str, content: bytes | None
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    done = run_isolint("check", name, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("isolint: ")
    assert name in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_is_an_error_that_says_to_name_a_netlist(run_isolint: Run, tmp_path: Path) -> None:
    (tmp_path / "boards").mkdir()
    done = run_isolint("check", "boards", cwd=tmp_path)
    assert done.returncode == 2
    assert "boards" in done.stderr
    assert "folder" in done.stderr
    assert "netlist" in done.stderr


def test_the_others_are_judged_when_one_path_cannot_be_read(run_isolint: Run, tmp_path: Path) -> None:
    write(tmp_path, sound__cir=SOUND)
    done = run_isolint("check", "gone.cir", "sound.cir", cwd=tmp_path)
    assert done.returncode == 2
    assert "gone.cir" in done.stderr
    assert "sound.cir: nothing to judge" in done.stdout


def test_a_wrong_unit_in_the_settings_names_file_and_key(run_isolint: Run, tmp_path: Path) -> None:
    write(tmp_path, sound__cir=SOUND, isolint__toml='[supplies."in"]\nvoltage = "5 A"\n')
    done = run_isolint("check", "sound.cir", cwd=tmp_path)
    assert done.returncode == 2
    assert "isolint.toml" in done.stderr
    assert "voltage" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_bad_card_is_a_result_and_the_rest_is_still_read(run_isolint: Run, tmp_path: Path) -> None:
    write(tmp_path, sound__cir=SOUND + "R4 out\n")
    done = run_isolint("check", "sound.cir", cwd=tmp_path)
    assert done.returncode == 1
    assert re.search(r"^sound\.cir:5:\d+: error: ", done.stdout, re.MULTILINE)
    assert "[netlist-malformed]" in done.stdout
    assert "R4" in done.stdout


@pytest.mark.parametrize(
    ("tail", "rule"),
    [
        (".include missing.lib\n", "include-missing"),
        (".include ../../etc/passwd\n", "include-refused"),
        (".include sound.cir\n", "netlist-malformed"),
        ("X1 in out loop\n.subckt loop a b\nX1 a b loop\n.ends\n", "netlist-malformed"),
    ],
    ids=["missing include", "include that leaves", "include loop", "subcircuit inside itself"],
)
def test_what_a_netlist_gets_wrong_is_a_result(run_isolint: Run, tmp_path: Path, tail: str, rule: str) -> None:
    write(tmp_path, sound__cir=SOUND + tail)
    done = run_isolint("check", "sound.cir", cwd=tmp_path)
    assert done.returncode in (0, 1)
    assert f"[{rule}]" in done.stdout
    assert "Traceback" not in done.stderr
    assert "root:" not in done.stdout


def test_a_missing_model_never_ends_in_a_traceback(run_isolint: Run, tmp_path: Path) -> None:
    write(tmp_path, sound__cir=SOUND + "X1 in out NOWHERE\nQ1 in out 0 NOWHERE2\n")
    done = run_isolint("check", "sound.cir", cwd=tmp_path)
    assert done.returncode in (0, 1)
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", ["worksheet", "facts"])
def test_other_commands_name_a_missing_file_too(run_isolint: Run, tmp_path: Path, command: str) -> None:
    done = run_isolint(command, "gone.cir", cwd=tmp_path)
    assert done.returncode == 2
    assert "gone.cir" in done.stderr
    assert "Traceback" not in done.stderr

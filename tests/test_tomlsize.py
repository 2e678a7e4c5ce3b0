"""Files that people write are bounded in depth, size and number of entries before anything parses them."""

from __future__ import annotations

import subprocess
import sys
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint import facts, parts
from isolint.checking import baselines
from isolint.errors import MOST_TOLD, SettingsError
from isolint.source import MemoryTree
from isolint.tomlsize import DEPTH, too_much
from tests.conftest import REPOSITORY, environment

MOST = 1 << 20

HOSTILE = {
    "a dotted key": "a" + ".a" * 50_000 + " = 1\n",
    "a dotted key with blanks": "a" + " . a" * 25_000 + " = 1\n",
    "a dotted key of quoted parts": "a" + '."b.c"' * 16_000 + " = 1\n",
    "the name of a table": "[" + "a." * 50_000 + "a]\n",
    "lists in lists": "a = " + "[" * 50_000,
    "tables in tables": "a = " + "{a=" * 33_000,
    "a dotted key behind a text": 'x = """\\""""\na' + ".a" * 50_000 + " = 1\n",
}

LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (400 << 20, 400 << 20))
from isolint import facts, parts
from isolint.checking import baselines
from isolint.errors import SettingsError
from isolint.source import MemoryTree
text = sys.stdin.read()
tree = MemoryTree({"board.cir": "", "isolint.toml": text, "p.toml": text})
for read in (
    lambda: facts.load(tree, "board.cir"),
    lambda: parts.load(tree, ["p.toml"]),
    lambda: baselines.read(text.encode(), "isolint-baseline.toml"),
):
    try:
        read()
    except SettingsError as error:
        print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="limits of memory are of POSIX")
@pytest.mark.parametrize("what", HOSTILE)
def test_a_small_file_that_would_take_gigabytes_is_refused_in_words(what: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LIMITED],
        cwd=REPOSITORY,
        env=environment(),
        input=HOSTILE[what],
        capture_output=True,
        encoding="utf-8",
        timeout=20,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert [line.partition(":")[0] for line in done.stdout.splitlines()] == [
        "isolint.toml",
        "p.toml",
        "isolint-baseline.toml",
    ]
    assert all(words in done.stdout for words in ("line ", f" {DEPTH} "))


def test_the_number_of_entries_is_bounded() -> None:
    assert too_much("a = [" + "1, " * (MOST // 10) + "]", MOST) == (
        "line 1: the file holds more than 104,857 entries",
        "split it",
    )
    assert too_much("\n".join(f"a{n} = 1" for n in range(104_858)), MOST) is not None
    assert too_much("\n".join(f"a{n} = 1" for n in range(104_000)), MOST) is None


def test_what_stands_in_texts_and_comments_does_not_count() -> None:
    dots = "." * 100 + "[" * 100
    lines = [
        f"# {dots}",
        f'a = "{dots}\\"{dots}"',
        f"b = '{dots}'",
        f'c = """{dots}\n"{dots}"""',
        f"d = '''{dots}\n{dots}'''",
        "",
    ]
    text = "\n".join(lines)
    assert set(tomllib.loads(text)) == {"a", "b", "c", "d"}
    assert too_much(text, MOST) is None


def test_files_as_people_write_them_are_far_below_the_bounds() -> None:
    paths = [path for folder in ("fixtures", "isolint", "tests") for path in (REPOSITORY / folder).rglob("*.toml")]
    assert len(paths) > 10
    for path in paths:
        text = path.read_text(encoding="utf-8")
        assert too_much(text, MOST) is None, path


@given(st.text(alphabet="a.=\"'[]{},#\\\n ", max_size=80))
def test_whatever_can_be_parsed_and_is_shallow_is_let_through(text: str) -> None:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    if text.count(".") < DEPTH and text.count("[") + text.count("{") < DEPTH:
        assert too_much(text, MOST) is None


@pytest.mark.parametrize("text", ['\\"""\n' * 100_000 + "\\", "'''" * 200_001, '"""' * 200_001, '\\"' * 300_000])
def test_the_time_grows_with_the_length_only(text: str) -> None:
    code = "import sys\nfrom isolint.tomlsize import too_much\ntoo_much(sys.stdin.read(), 1 << 20)"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=REPOSITORY,
        env=environment(),
        input=text,
        encoding="utf-8",
        timeout=20,
        check=False,
    )
    assert done.returncode == 0


def test_of_very_many_mistakes_the_first_are_told_and_the_rest_is_counted() -> None:
    tree = MemoryTree({"board.cir": "", "isolint.toml": "".join(f"key{n} = 1\n" for n in range(1000))})
    with pytest.raises(SettingsError) as caught:
        facts.load(tree, "board.cir")
    assert len(str(caught.value).splitlines()) == MOST_TOLD + 1
    assert str(caught.value).endswith("and 800 more mistakes (begin with these)")


def test_the_number_of_files_with_part_records_is_bounded() -> None:
    many = {f"parts/p{n}.toml": "" for n in range(1001)}
    tree = MemoryTree({"board.cir": "", "isolint.toml": 'parts = ["parts/*.toml"]\n', **many})
    with pytest.raises(SettingsError, match="more than 1000 files with part records"):
        facts.load(tree, "board.cir")
    names = ", ".join('"parts/p1.toml"' for _ in range(1001))
    with pytest.raises(SettingsError, match="more than 1000 names"):
        facts.load(MemoryTree({"board.cir": "", "isolint.toml": f"parts = [{names}]\n"}), "board.cir")


def test_a_baseline_may_be_larger_than_settings_and_is_bounded_too() -> None:
    subjects = [f"XU{n} | " + "x" * 300 for n in range(3000)]
    made = baselines.text(
        baselines.KnownFailure("board.cir", "ground-tie", subject, f"{n:032x}", "error", 0.5)
        for n, subject in enumerate(subjects)
    ).encode()
    assert len(made) > MOST
    assert len(baselines.read(made, "isolint-baseline.toml").entries) == 3000
    with pytest.raises(SettingsError, match="larger than 8192 KiB"):
        baselines.read(b"#" * (baselines.MOST_BYTES + 1), "isolint-baseline.toml")
    with pytest.raises(SettingsError, match="larger than 1024 KiB"):
        parts.load(MemoryTree({"p.toml": b"#" * (MOST + 1)}), ["p.toml"])


@pytest.mark.parametrize("name", [".env", ".git/config", "a/.b/c.toml", ".*"])
def test_a_hidden_file_is_no_part_record_and_nothing_of_it_is_quoted(name: str) -> None:
    files = {".env": "TOKEN = 'secret'\n", ".git/config": "[core]\nsecret = 1\n", "a/.b/c.toml": "secret = 1\n"}
    with pytest.raises(SettingsError, match="the file is hidden") as caught:
        facts.load(MemoryTree({"board.cir": "", "isolint.toml": f'parts = ["{name}"]\n', **files}), "board.cir")
    assert "secret" not in str(caught.value)
    assert "TOKEN" not in str(caught.value)

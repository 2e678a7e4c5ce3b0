"""Archives with known faults, made from the examples of the rules: in folders by year, with includes, blocks, doubles
and damage. What each board must give stands in its own comments."""

from __future__ import annotations

import os
import shutil
import zlib
from dataclasses import dataclass, field
from pathlib import Path

from tests.conftest import REPOSITORY

RULES = REPOSITORY / "fixtures/rules"


@dataclass
class Archive:
    """A folder of netlists. boards: text by path; states: what every other file is; doubles: copy by original."""

    folder: Path
    boards: dict[str, str] = field(default_factory=dict)
    states: dict[str, str] = field(default_factory=dict)
    doubles: dict[str, str] = field(default_factory=dict)


def examples(slugs: tuple[str, ...] = ()) -> list[Path]:
    """The netlists of the rules' examples that say what they give, those that fail first."""
    found = [path for path in sorted(RULES.rglob("*.cir")) if not slugs or path.relative_to(RULES).parts[0] in slugs]
    # What is wrong with a waiver is told once for all boards that share it; what leads elsewhere can't be copied alone.
    text = {path: path.read_text(encoding="utf-8") for path in found if "waiver-stale" not in path.parts}
    told = [path for path in text if "* expect" in text[path] and "../" not in text[path]]
    return sorted(told, key=lambda path: (path.stem != "fails", path))


QUICK = ("led-unlimited", "ground-tie", "load-missing", "led-reversed", "supply-shared", "part-unknown")
"""Rules whose examples are judged in no time."""


def archive(folder: Path, number: int, slugs: tuple[str, ...] = ()) -> Archive:
    """Make an archive of so many boards, with damage and doubles besides. Beyond as many as there are examples, boards
    stand again in another folder under another name, as old archives keep them: each is found in its own place, and
    judging all of them takes no longer than judging the examples."""
    made = Archive(folder)
    shutil.copytree(RULES / "parts", folder / "parts")
    settings = (RULES / "isolint.toml").read_text(encoding="utf-8")
    (folder / "isolint.toml").write_text(settings, encoding="utf-8")
    made.states |= {path.relative_to(folder).as_posix(): "other" for path in folder.rglob("*.toml")}
    drawn = examples(slugs)
    for at in range(number):
        _board(made, drawn[at % len(drawn)], at, at % len(drawn))
    first = next(iter(made.boards))
    for at in range(max(1, number // 20)):
        path = f"again{at}/{os.path.basename(first)}"
        shutil.copytree((folder / first).parent, folder / f"again{at}", dirs_exist_ok=True)
        for other in (folder / f"again{at}").iterdir():
            name = other.relative_to(folder).as_posix()
            if name != path:
                made.states[name] = made.states[f"{os.path.dirname(first)}/{other.name}"]
        made.boards[path] = made.boards[first]
        made.doubles[path] = first
    _damage(made, first)
    return made


def _board(made: Archive, source: Path, at: int, number: int) -> None:
    """A board in a folder of its own, in one of three ways by its number: as it is, its models apart, all of it a block
    that is called; under one of several endings."""
    text = source.read_text(encoding="utf-8")
    # One card alone makes no netlist of a file whose ending leaves that open.
    alone = sum(line[:1].isalpha() for line in text.split("\n")) < 2
    ending = "cir" if alone else ("cir", "sp", "txt", "cir", "net")[at % 5]
    inner = source.parent.relative_to(RULES).parts[1:]
    folder = (made.folder / f"{2005 + at % 20}-b{at:04}").joinpath(*inner)
    path = folder / f"main.{ending}"
    folder.mkdir(parents=True)
    _neighbours(made, source, path)
    lines = text.rstrip("\n").split("\n")
    models = [line for line in lines if line.lower().startswith(".model ")]
    if models and number % 3 == 1 and not any(line.startswith("+") for line in lines):
        # The place of each card stays: what is included stands where the first model stood.
        (folder / "models.lib").write_text("* models apart\n" + "\n".join(models) + "\n", encoding="utf-8")
        made.states[(folder / "models.lib").relative_to(made.folder).as_posix()] = "library"
        lines = [line if line not in models else "*" for line in lines]
        lines.append(".include models.lib")
    if number % 3 == 2 and not (source.parent / "isolint.toml").exists():
        lines = as_block(lines)
    lines.append(f"* board {number} of an archive, invented")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    made.boards[path.relative_to(made.folder).as_posix()] = path.read_text(encoding="utf-8")


_NODES = {"R": 2, "C": 2, "L": 2, "D": 2, "V": 2, "I": 2, "M": 4, "Q": 3, "J": 3}
"""How many nets the cards of a letter begin with."""


def as_block(lines: list[str]) -> list[str]:
    """A board with all its cards in a definition that is called once, each net a port of it: names of nets stay.

    The same lines where it has cards of other letters or definitions of its own.
    """
    nets: dict[str, str] = {}
    inner, models = [], []
    for line in lines[1:]:
        words = line.split()
        letter = line[:1].upper()
        if line.lower().startswith(".model "):
            models.append(line)
            continue
        if letter == "X":
            name = next((at for at, word in enumerate(words) if "=" in word), len(words)) - 1
            nodes = words[1:name]
        elif letter in _NODES:
            nodes = words[1 : 1 + _NODES[letter]]
            if letter == "Q" and len(words) != 5:
                return lines
        elif letter in ("*", "") or line.lower() == ".end":
            nodes = []
        else:
            return lines
        nets |= {node.lower(): node for node in nodes if node != "0" and node.lower() not in nets}
        if line.lower() != ".end":
            inner.append(line)
    ports = " ".join(nets.values())
    return [lines[0], f".subckt WHOLE {ports}", *inner, ".ends", *models, f"XBOARD {ports} WHOLE"]


def _neighbours(made: Archive, source: Path, path: Path) -> None:
    """Copy what counts beside an example: its settings, and what it includes."""
    chain = [each for each in (source.parent, *source.parent.parents) if RULES in each.parents]
    for each, target in zip(chain, (path.parent, *path.parent.parents), strict=False):
        for other in sorted(each.iterdir()):
            if other.is_file() and other.suffix != ".cir":
                shutil.copy(other, target / other.name)
                name = (target / other.name).relative_to(made.folder).as_posix()
                made.states[name] = (
                    "library" if ".model" in other.read_text(encoding="utf-8", errors="replace") else "other"
                )


def _damage(made: Archive, first: str) -> None:
    """Files that are no sound netlists, each with the state that it must get."""
    text = made.boards[first]
    odd = made.folder / "odd"
    odd.mkdir()
    found: dict[str, tuple[str, bytes]] = {
        "empty.cir": ("unreadable", b""),
        "noise.cir": ("unreadable", bytes((17 * n * n + 3 * n) % 251 for n in range(5_000))),
        "packed.cir.gz": ("unreadable", b"\x1f\x8b" + zlib.compress(text.encode())[:40]),
        "apart.cir": ("unreadable", b"version https://git-lfs.github.com/spec/v1\noid sha256:0\nsize 1\n"),
        "packed.sp": ("unreadable", b"\x1f\x8b" + zlib.compress(text.encode())),
        "secret.cir": ("unreadable", b"* encrypted\n" + b"\n".join(b"4A7f" * 20 for _ in range(40)) + b"\n"),
        "letter.txt": ("other", b"Dear colleague,\nthe relay R1 of the old board has been replaced.\nRegards\n"),
        "letter.cir": ("unreadable", b"Dear colleague,\nthe old board has been replaced by a new one.\nRegards\n"),
        "plan.csv": ("other", b"name,value\nR1,10k\nR2,4k7\n"),
        "models.txt": ("library", b"* models\n.model QA NPN(BF=100)\n.model DB D(IS=1e-14)\n"),
        "wrong.cir": ("failed", b"* a board\nR1 a b 1k\nR2 b 0 1k\n.end\n"),
    }
    for name, (state, data) in found.items():
        folder = odd / name.replace(".", "-")
        folder.mkdir()
        (folder / name).write_bytes(data)
        made.states[f"odd/{folder.name}/{name}"] = state
    (odd / "wrong-cir/isolint.toml").write_text("opne = 3\n", encoding="utf-8")
    made.states["odd/wrong-cir/isolint.toml"] = "other"

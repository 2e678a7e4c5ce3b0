"""Repositories made for tests: files in, commits out."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from pathlib import Path

IDENTITY = ("-c", "user.name=tests", "-c", "user.email=tests@example.org", "-c", "commit.gpgsign=false")


def git(folder: Path, *arguments: str, environment: Mapping[str, str] | None = None) -> str:
    """Run git in a folder; give what it prints."""
    command = ["git", *IDENTITY, "-c", "protocol.file.allow=always", *arguments]
    made = {**os.environ, **(environment or {})}
    done = subprocess.run(command, cwd=folder, check=True, capture_output=True, env=made)
    return done.stdout.decode().strip()


def begin(folder: Path) -> Path:
    """An empty repository whose branch is `main`."""
    folder.mkdir(parents=True, exist_ok=True)
    git(folder, "init", "--quiet", "--initial-branch=main")
    return folder


def commit(folder: Path, files: Mapping[str, str | bytes | None], message: str = "invented") -> str:
    """Write files, delete those of which None is given, and commit all; give the id."""
    for name, text in files.items():
        path = folder / name
        if text is None:
            path.unlink()
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode() if isinstance(text, str) else text)
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--allow-empty", "--message", message)
    return git(folder, "rev-parse", "HEAD")

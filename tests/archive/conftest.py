from __future__ import annotations

from pathlib import Path

import pytest

from tests.archive.boards import QUICK, Archive, archive
from tests.archive.stores import run


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """A small archive with all that an archive may hold; nobody changes it."""
    folder = tmp_path_factory.mktemp("archive") / "boards"
    folder.mkdir()
    return archive(folder, 20, QUICK)


@pytest.fixture(scope="session")
def store(made: Archive) -> Path:
    """Its store."""
    path = made.folder.parent / "store.db"
    run(made.folder, path)
    return path

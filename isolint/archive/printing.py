"""The pages of a record as PDF, printed by a Chromium that is found on the machine; no network is asked for."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

from isolint.errors import IsolintError, Place

_NAMES = ("chromium", "chromium-browser", "chrome", "google-chrome")
_PATIENCE = 180


def printer() -> str:
    """The browser that prints; raise `IsolintError` where there is none."""
    found = next((path for name in _NAMES if (path := shutil.which(name))), None)
    if found is None:
        raise IsolintError("no Chromium is found, which prints the pages", cure="print them from any browser")
    return found


def print_pages(folder: str, tell: Callable[[str], None]) -> int:
    """Print every page of a record beside it; the number of pages printed."""
    browser = printer()
    pages = sorted(Path(folder).glob("index*.html")) + sorted(Path(folder).glob("boards/*.html"))
    for page in pages:
        tell(page.name)
        _print(browser, page)
    return len(pages)


def _print(browser: str, page: Path) -> None:
    target = page.with_suffix(".pdf")
    with tempfile.TemporaryDirectory() as profile:
        words = [browser, "--headless", "--disable-gpu", "--no-first-run", f"--user-data-dir={profile}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            words.append("--no-sandbox")  # it refuses to start for root otherwise
        words += ["--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer", f"--print-to-pdf={target}"]
        try:
            done = subprocess.run(
                [*words, page.absolute().as_uri()],
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=_PATIENCE,
                check=False,
            )
        except (OSError, subprocess.TimeoutExpired):
            done = None
    if done is None or done.returncode or not target.is_file():
        raise IsolintError("the page could not be printed", Place(str(page)), "print it from a browser")

"""The record of a made archive in a real Chromium: it renders, asks for nothing, runs nothing of a stranger, prints."""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from isolint.archive.printing import print_pages
from isolint.archive.recording import record
from tests.archive.boards import QUICK, archive
from tests.archive.stores import run

pytestmark = pytest.mark.outside

EVIL = "<img src=x onerror=alert(1)><script>alert(1)</script>"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The record of an archive of 12 boards, one of them with names that would like to do something."""
    where = tmp_path_factory.mktemp("browser")
    (where / "boards").mkdir()
    archive(where / "boards", 12, QUICK)
    text = (
        f"* {EVIL}\nXU1 {EVIL.replace(' ', '/')} 0 a b {EVIL.replace(' ', '')}\nR1 a {EVIL.replace(' ', '')} 1k\n.end\n"
    )
    (where / "boards" / "<svg onload=alert(1)>.cir").write_text(text, encoding="utf-8")
    run(where / "boards", where / "store.db")
    assert record(str(where / "store.db"), str(where / "record")) == ""
    return where / "record"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api")
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no Chromium is installed")
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


class WatchedPage:
    """A page with what it said, asked for and tried to show."""

    def __init__(self, browser: Any, path: Path, scripts: bool = True) -> None:
        self.context = browser.new_context(java_script_enabled=scripts)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", self._dialog)
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())

    def _dialog(self, dialog: Any) -> None:
        self.said.append("a dialog")
        dialog.dismiss()

    def __enter__(self) -> WatchedPage:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


def pages(folder: Path) -> list[Path]:
    return [folder / "index.html", *sorted((folder / "boards").glob("*.html"))]


def test_every_page_renders_in_silence_and_asks_for_nothing(browser: Any, folder: Path) -> None:
    for path in pages(folder):
        with WatchedPage(browser, path) as watched:
            assert watched.page.locator("h1").count() == 1, path.name
            assert watched.page.locator("text=Sign-off").count() >= 1
            assert watched.said == [], path.name
            assert watched.asked == [path.as_uri()], path.name


def test_everything_is_there_without_javascript(browser: Any, folder: Path) -> None:
    with WatchedPage(browser, folder / "index.html", scripts=False) as without:
        plain = without.page.locator("table[data-sorts] tbody tr").count()
        assert without.page.locator("input").count() == 0
        text = without.page.locator("main").inner_text()
    with WatchedPage(browser, folder / "index.html") as with_scripts:
        assert with_scripts.page.locator("table[data-sorts] tbody tr").count() == plain
        shown = with_scripts.page.locator("main").inner_text()
    assert plain == 12 + 1 + 1 + 8
    assert set(text.split()) <= set(shown.split())


def test_lines_are_filtered_and_sorted(browser: Any, folder: Path) -> None:
    with WatchedPage(browser, folder / "index.html") as watched:
        page = watched.page
        rows = page.locator("table[data-sorts] tbody tr")
        everything = rows.count()
        page.locator("input[type=search]").fill("unreadable")
        assert page.locator("table[data-sorts] tbody tr:visible").count() == 8
        page.locator("input[type=search]").fill("")
        assert page.locator("table[data-sorts] tbody tr:visible").count() == everything
        head = page.locator("table[data-sorts] th").nth(2)
        head.locator("button").click()
        assert head.get_attribute("aria-sort") == "ascending"
        numbers = [int(each) for each in page.locator("table[data-sorts] tbody td:nth-child(3)").all_inner_texts()]
        assert numbers == sorted(numbers) and len(set(numbers)) > 1
        head.locator("button").click()
        numbers = [int(each) for each in page.locator("table[data-sorts] tbody td:nth-child(3)").all_inner_texts()]
        assert numbers == sorted(numbers, reverse=True)
        assert watched.said == []


BROKEN = """() => {
  const found = [], walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (node.parentElement.closest("svg, pre, td.long")) continue;
    for (const word of node.data.matchAll(/[A-Za-z0-9_]+/g)) {
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const tops = new Set([...range.getClientRects()].map(each => Math.round(each.top)));
      if (word[0].length <= 16 && tops.size > 1) found.push(word[0]);
    }
  }
  return found;
}"""


@pytest.mark.parametrize(("media", "width"), [("screen", 1250), ("print", 718)])
def test_no_short_word_is_broken_and_nothing_lies_beyond_the_paper(
    browser: Any, folder: Path, media: str, width: int
) -> None:
    for path in pages(folder):
        if path.name.startswith(("svg", "index")):
            continue  # names of strangers without a blank may be broken anywhere
        with WatchedPage(browser, path) as watched:
            watched.page.set_viewport_size({"width": width, "height": 1000})
            watched.page.emulate_media(media=media)
            assert watched.page.evaluate(BROKEN) == [], path.name
            assert watched.page.evaluate("document.documentElement.scrollWidth") <= width, path.name


def test_no_page_breaks_a_rule_of_accessibility(browser: Any, folder: Path) -> None:
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or not found.submodule_search_locations:
        pytest.skip("axe-core is not installed")
    rules = (Path(found.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")
    kinds = ("index*", "boards/2005*", "boards/2007*", "boards/svg*", "boards/odd-wrong*")
    for path in (next(folder.glob(kind + ".html")) for kind in kinds):
        with WatchedPage(browser, path) as watched:
            watched.page.evaluate(f"{rules}; null")
            told = watched.page.evaluate(
                "async () => (await axe.run()).violations.map(each => [each.id, each.nodes.map(node => node.html)])"
            )
            assert told == [], path.name


def test_pages_are_printed(folder: Path, tmp_path: Path) -> None:
    pypdf = pytest.importorskip("pypdf")
    if shutil.which("chromium") is None:
        pytest.skip("no Chromium is installed")
    few = tmp_path / "record"
    (few / "boards").mkdir(parents=True)
    shutil.copy(folder / "index.html", few)
    board = sorted((folder / "boards").glob("2005*.html"))[0]
    shutil.copy(board, few / "boards")
    assert print_pages(str(few), lambda name: None) == 2
    for path, words in (
        (few / "index.pdf", "What several boards"),
        (few / "boards" / f"{board.stem}.pdf", "Worst-case"),
    ):
        text = "".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
        assert words in text
        assert "Sign-off" in text

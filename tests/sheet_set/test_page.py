"""The sheet set in a real browser and without one: whole, self-contained, escaped, and fit to be read and printed."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

from targets.target import CAUTION
from tests.sheet_set.made import NASTY, ONE_LINE, page_of

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(
    BROWSER is None and "CI" not in os.environ, reason="NOT CHECKED: no chromium to load the page in"
)


@pytest.fixture(scope="module")
def smallest() -> str:
    return page_of(ONE_LINE)


@pytest.fixture(scope="module")
def nasty() -> str:
    return page_of(NASTY)


class Seen(HTMLParser):
    """Ids, links, sources, headings and elements of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.sources: list[str] = []
        self.headings: list[int] = []
        self.tags: set[str] = set()
        self.pictures_without_words = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.add(tag)
        self.ids += [found["id"]] if found.get("id") else []  # type: ignore[list-item]
        self.links += [found["href"]] if found.get("href") else []  # type: ignore[list-item]
        self.sources += [found["src"]] if found.get("src") else []  # type: ignore[list-item]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        self.pictures_without_words += tag == "img" and not found.get("alt")


@pytest.mark.parametrize("page", ["smallest", "nasty"])
def test_the_page_holds_everything_itself(page: str, request: pytest.FixtureRequest) -> None:
    text: str = request.getfixturevalue(page)
    seen = Seen(text)
    assert "script" not in seen.tags
    assert all(source.startswith("data:image/svg+xml;base64,") for source in seen.sources)
    assert seen.sources
    assert len(set(seen.ids)) == len(seen.ids)
    assert all(link.startswith("#") and link[1:] in seen.ids for link in seen.links)
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org)", text.split("</style>")[0])
    assert text.count(CAUTION) >= 2


@pytest.mark.parametrize("page", ["smallest", "nasty"])
def test_headings_go_down_one_at_a_time_and_pictures_are_told(page: str, request: pytest.FixtureRequest) -> None:
    """WCAG 2.1 1.1.1 and 1.3.1 (from memory)."""
    seen = Seen(request.getfixturevalue(page))
    assert seen.headings[0] == 1
    assert all(after <= before + 1 for before, after in zip(seen.headings, seen.headings[1:], strict=False))
    assert not seen.pictures_without_words


def test_names_stay_text(nasty: str) -> None:
    assert "<script>" not in nasty
    assert "<b>&" not in nasty
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#39;quotes&#39; {{ braces }} שלום 😀" in nasty


def browsed(text: str, folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    assert BROWSER is not None, "CI must have chromium"
    file = folder / "page.html"
    file.write_text(text, encoding="utf-8")
    quiet = ("--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync")
    command = [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", *quiet, "--enable-logging=stderr", "--v=0"]
    command += [f"--user-data-dir={folder / 'profile'}", *arguments, file.as_uri()]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)


@needs_browser
@pytest.mark.parametrize("page", ["smallest", "nasty"])
@pytest.mark.parametrize("width", [360, 1280])
def test_a_browser_shows_it_without_errors_or_sideways_scrolling(
    page: str, width: int, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """The page in a frame of that width, measured by a page around it."""
    text: str = request.getfixturevalue(page)
    probe = (
        "<script>addEventListener('load', () => { const e = document.documentElement; "
        "const broken = [...document.images].filter(i => !i.naturalWidth).length; "
        "document.title = `measured ${e.scrollWidth} ${e.clientWidth} ${broken}` })</script>"
    )
    shown = browsed(text.replace("</body>", probe + "</body>"), tmp_path, f"--window-size={width},800", "--dump-dom")
    found = re.search(r"<title>measured (\d+) (\d+) (\d+)", shown.stdout)
    assert found, shown.stdout[:400]
    scroll, client, broken = map(int, found.groups())
    assert scroll <= client
    assert client <= max(width, 500)
    assert not broken
    assert "CONSOLE" not in shown.stderr


@needs_browser
def test_it_prints(smallest: str, tmp_path: Path) -> None:
    pdf = tmp_path / "page.pdf"
    browsed(smallest, tmp_path, f"--print-to-pdf={pdf}")
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))
    sections = len(re.findall("<h2", smallest))
    assert sections - 1 <= pages <= 6 * sections

"""The sheet set in a real browser and without one: whole, self-contained, escaped, and fit to be read and printed."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html import escape, unescape
from html.parser import HTMLParser
from pathlib import Path

import axe_core_python
import pypdfium2
import pytest

from targets.target import CAUTION
from tests.sheet_set.made import EXAMPLES, NASTY, ONE_LINE, page_of, sheets_of

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
    """Ids, links, sources, headings and elements of a page, and whether each drawing says what it is."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.sources: list[str] = []
        self.headings: list[int] = []
        self.tags: set[str] = set()
        self.drawings: list[bool] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.add(tag)
        self.ids += [found["id"]] if found.get("id") else []  # type: ignore[list-item]
        self.links += [found["href"]] if found.get("href") else []  # type: ignore[list-item]
        self.sources += [found["src"]] if found.get("src") else []  # type: ignore[list-item]
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "svg":
            self.drawings.append(found.get("role") == "img" and bool(found.get("aria-label")))


@pytest.mark.parametrize("page", ["smallest", "nasty"])
def test_the_page_holds_everything_itself(page: str, request: pytest.FixtureRequest) -> None:
    text: str = request.getfixturevalue(page)
    seen = Seen(text)
    assert "script" not in seen.tags
    assert not seen.sources
    assert "svg" in seen.tags
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
    assert all(seen.drawings)


def test_it_says_all_there_is_to_say(smallest: str) -> None:
    """Every verdict, every section and sentence of each walk-through, every rung, and every cell of every list; and a
    drawing of everything that is drawn."""
    sheets, said = sheets_of(ONE_LINE), " ".join(unescape(re.sub("<[^>]*>", " ", smallest)).split())
    wanted = [*sheets.program.splitlines(), *sheets.told, sheets.claim, *(line for line, _ in sheets.proved)]
    wanted += [words for v in sheets.verdicts for words in (v.name, v.standing, v.verdict, v.parts)]
    wanted += [words for refused in sheets.refused for words in refused]
    for circuit in sheets.circuits:
        wanted += [circuit.name, circuit.verdict, circuit.alike, *circuit.rungs.splitlines()]
        wanted += [str(cell) for one in circuit.lists for row in ((one.title,), one.heads, *one.rows) for cell in row]
        told = [passage for section in circuit.told.sections for passage in section.passages]
        wanted += [section.title for section in circuit.told.sections]
        assert all(" ".join(one.text.split()) in _close(said) for passage in told for one in passage.sentences)
    wanted += [line for text in sheets.texts for line in (text.name, *text.text.splitlines())]
    assert [words for words in wanted if " ".join(words.split()) not in said] == []
    drawn = len(sheets.drawings) + len(sheets.motion)
    drawn += sum(1 + len(next(iter(circuit.sheets.values()))) for circuit in sheets.circuits)
    drawn += sum(one.drawing is not None for verdict in sheets.verdicts for one in verdict.outside)
    assert smallest.count("<svg ") == drawn


def _close(said: str) -> str:
    """Words without the spaces that tags between them, and signs after them, leave."""
    return re.sub(r" (?=[,.:;)])", "", said)


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
    """In a frame of that width, for a window of the browser is never narrower than 500 pixels."""
    text: str = request.getfixturevalue(page)
    around = (
        f'<title>waiting</title><iframe style="width:{width}px; height:800px; border:0" srcdoc="{escape(text)}">'
        "</iframe>"
        "<script>addEventListener('load', () => { const e = frames[0].document.documentElement; "
        "document.title = `measured ${e.scrollWidth} ${e.clientWidth}` })</script>"
    )
    shown = browsed(around, tmp_path, "--window-size=1400,900", "--dump-dom")
    found = re.search(r"<title>measured (\d+) (\d+)", shown.stdout)
    assert found, shown.stdout[:400]
    scroll, client = map(int, found.groups())
    assert scroll <= client
    assert width - 20 <= client <= width  # less the bar for scrolling down
    assert "CONSOLE" not in shown.stderr


def probed(text: str, folder: Path, script: str, *arguments: str) -> str:
    """What a script puts into the title of a page, or into an element of the id "found"."""
    shown = browsed(text.replace("</body>", f"<script>{script}</script></body>"), folder, *arguments, "--dump-dom")
    assert "CONSOLE" not in shown.stderr
    found = re.search(r'<pre id="found">(.*?)</pre>', shown.stdout, re.DOTALL)
    assert found, shown.stdout[-400:]
    return unescape(found[1])


AXE = (
    (Path(axe_core_python.__file__).parent / "axe.min.js")
    .read_text(encoding="utf-8")
    .replace("</script", "<\\/script")
)
TELL = "const tell = found => { const p = document.createElement('pre'); p.id = 'found';"
TELL += " p.textContent = JSON.stringify(found); document.body.append(p) };"


@needs_browser
@pytest.mark.parametrize(("dark", "symbols"), [(False, "symbols-iec"), (True, "symbols-north-american")])
def test_nothing_stands_in_the_way_of_whoever_cannot_see_it(
    dark: bool, symbols: str, smallest: str, tmp_path: Path
) -> None:
    """The rules of WCAG 2.1, levels A and AA, and axe's own good practice, contrast of colours included."""
    script = f"{AXE}; {TELL} document.getElementById('{symbols}').checked = true;" + (
        " addEventListener('load', () => axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa',"
        " 'best-practice']}).then(r => tell({dark: matchMedia('(prefers-color-scheme: dark)').matches,"
        " passes: r.passes.map(p => p.id), wrong: r.violations.map(v => [v.id, v.impact, v.nodes[0].html])})))"
    )
    waits = ("--virtual-time-budget=60000", f"--blink-settings=preferredColorScheme={0 if dark else 1}")
    found = json.loads(probed(smallest, tmp_path, script, *waits))
    assert found["dark"] is dark
    assert {"color-contrast", "svg-img-alt", "heading-order", "region"} <= set(found["passes"])
    assert found["wrong"] == []


@pytest.mark.parametrize("example", ["one-line", "crate-stamp", "log-winch"])
def test_every_rung_and_moment_that_is_told_of_is_linked_to_in_its_drawing(example: str) -> None:
    """An open-loop stroke ends at a moment at which nothing changes, and a motor has no stroke at all."""
    seen = Seen(page := page_of((EXAMPLES / f"{example}.seq").read_text(encoding="utf-8")))
    inside = Seen("".join(re.findall("<svg.*?</svg>", page, re.DOTALL))).ids
    links = {link for link in seen.links if re.search(r"-(rung|moment)-\d", link)}
    assert any("-rung-" in link for link in links)
    assert any("-moment-" in link for link in links)
    assert links <= {f"#{name}" for name in inside}
    assert len(set(seen.ids)) == len(seen.ids)


@needs_browser
def test_a_link_leads_to_what_is_then_seen_in_its_drawing(smallest: str, tmp_path: Path) -> None:
    """Every place in a drawing that is linked to is in it, outlined when it is come to, and then in sight,
    whichever symbols are shown."""
    script = TELL + (
        " addEventListener('load', () => { const found = [];"
        " for (const style of ['symbols-iec', 'symbols-north-american'])"
        " for (const place of document.querySelectorAll('svg [id]')) {"
        "  document.getElementById(style).checked = true;"
        "  location.hash = place.id; const s = place.getBoundingClientRect();"
        "  const i = place.ownerSVGElement.getBoundingClientRect();"
        "  found.push([place.id, getComputedStyle(place).outlineStyle, s.height > 5,"
        "   s.left >= i.left - 1 && s.right <= i.right + 1 && s.top >= i.top - 1 && s.bottom <= i.bottom + 1,"
        "   s.bottom > 0 && s.top < innerHeight && s.right > 0 && s.left < innerWidth]) }"
        " tell(found) })"
    )
    found = json.loads(probed(smallest, tmp_path, script, "--window-size=1280,800"))
    assert len(found) > 10
    for name, outline, seen, inside, in_sight in found:
        assert (outline, seen, inside, in_sight) == ("solid", True, True, True), name


@needs_browser
def test_words_in_drawings_are_found_and_each_looks_as_it_says(smallest: str, tmp_path: Path) -> None:
    """A search of the page finds the name of a relay in a ladder sheet, and goes on to the next. What has one class
    in a GRAFCET and in a ladder sheet looks as each of them says: a transition is drawn bolder than a contact."""
    script = TELL + (
        " addEventListener('load', () => { const found = {places: [], bars: {}};"
        " document.getElementById('symbols-north-american').checked = true;"
        " while (found.places.length < 500 && window.find('CR2')) {"
        "  const node = getSelection().anchorNode; found.places.push(node.parentElement.closest('svg') !== null) }"
        " for (const bar of document.querySelectorAll('svg line.bar')) {"
        "  const name = bar.closest('section').getAttribute('aria-labelledby');"
        "  (found.bars[name] ??= []).push(getComputedStyle(bar).strokeWidth) }"
        " found.hidden = [...document.querySelectorAll('.IEC')].filter(e => e.getBoundingClientRect().width).length;"
        " tell(found) })"
    )
    found = json.loads(probed(smallest, tmp_path, script))
    assert True in found["places"]
    assert set(found["bars"]["grafcet"]) == {"3.4px"}
    assert set(found["bars"]["one-hot-chain"]) == {"2px"}
    assert not found["hidden"]


@needs_browser
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_it_prints(size: str, smallest: str, tmp_path: Path) -> None:
    printed(smallest, sheets_of(ONE_LINE).title, size, tmp_path)


@needs_browser
@pytest.mark.campaign
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_the_largest_example_prints(size: str, tmp_path: Path) -> None:
    program = (EXAMPLES / "large/tray-transfer.seq").read_text(encoding="utf-8")
    printed(page_of(program), sheets_of(program).title, size, tmp_path)


def printed(page: str, title: str, size: str, folder: Path) -> None:
    """Hold the print of a page to this: what begins with a heading of its own begins a page, and no word stands over
    the edge of one. Of what is long there are as many pages as there is to say, of nothing more than that."""
    pdf = folder / "page.pdf"
    sized = page.replace("@page {", f"@page {{ size: {size};").replace("size: landscape", f"size: {size} landscape")
    browsed(sized, folder, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
    pages = list(pypdfium2.PdfDocument(pdf))
    words = [page.get_textpage().get_text_bounded() for page in pages]
    assert pages[0].get_size() == pytest.approx((595, 842) if size == "A4" else (612, 792), abs=1)
    sections = [unescape(name) for name in re.findall(r"<h2 id=[^>]*>([^<]*)</h2>", page) if name != "Contents"]
    opened = [(said.strip().splitlines() or [""])[0].strip() for said in words]
    assert opened[0] == title  # and the first section stands below it
    assert [name for name in opened if name in sections] == sections[1:]
    drawings = len(re.findall('<div class="plate', page))
    lines = page.count("\n")
    assert len(sections) <= len(pages) <= len(sections) + drawings + lines // 20
    assert all(said.strip() for said in words)  # none is empty
    assert len(set(words)) == len(words)  # none is there twice
    for sheet in pages:
        wide, high = sheet.get_size()
        text = sheet.get_textpage()
        for k in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(k)
            assert 20 <= left <= right <= wide - 20
            assert 20 <= bottom <= top <= high - 20


def test_what_is_assumed_stands_on_the_page(smallest: str) -> None:
    """Stroke times that nobody stated are drawn to scale in every chart."""
    assert "<h3>Advice</h3>" in smallest
    assert "the time CYLINDER takes to extend and to retract is assumed: 1 s to 4 s" in smallest

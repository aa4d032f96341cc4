"""Texts are no wider in a real browser than the layout takes them to be, in every kind of lettering."""

from __future__ import annotations

import html
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from targets.choices import Style
from targets.drawing.figure import Text
from targets.ladder_sheet import Heading, ladder_sheets
from targets.ladder_sheet.lettering import SIZES, width
from targets.ladder_sheet.sheets import laid_out
from targets.wiring.nets import wired
from tests.wiring.seal_in import SEAL_IN, circuit_of

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_a_browser = pytest.mark.skipif(
    BROWSER is None and "CI" not in os.environ, reason="NOT CHECKED: no chromium to measure texts in"
)
needs_the_face = pytest.mark.skipif(
    shutil.which("fc-match") is None
    or "Liberation" not in subprocess.run(["fc-match", "Liberation Sans"], capture_output=True, text=True).stdout,
    reason="NOT CHECKED: no Liberation Sans, which has the widths of Arial and Helvetica",
)
_WORDS = (
    "WMWMWM",
    "iiiiii",
    "PARTS_PRESENT_1",
    "0123456789",
    "größe",
    "ŁÓDŹ",
    "寸法",
    "مفتاح البداية",
    "🦀🦀",
    "/12.36",
)


@needs_a_browser
@needs_the_face
def test_no_text_is_wider_than_the_layout_takes_it_to_be(tmp_path: Path) -> None:
    assert BROWSER is not None, "CI must have chromium"
    made, heading = wired(circuit_of(SEAL_IN)), Heading("Press", "dwell", "same")
    (sheet,) = laid_out(made, heading, style=Style.IEC, held=frozenset())
    drawn = [i for i in (*sheet.frame, *(i for part in sheet.parts for i in part.items)) if isinstance(i, Text)]
    texts = sorted({(i.text, i.kind) for i in drawn if i.text} | {(word, kind) for word in _WORDS for kind in SIZES})
    (svg,) = ladder_sheets(made, heading, style=Style.IEC, held=frozenset())
    look = svg[svg.index("<style>") : svg.index("</style>") + len("</style>")]
    elements = "".join(f'<text class="{kind}">{html.escape(text)}</text>' for text, kind in texts)
    page = tmp_path / "texts.html"
    page.write_text(
        f'<meta charset="utf-8"><svg xmlns="http://www.w3.org/2000/svg">{look}{elements}</svg><pre id="found"></pre>'
        '<script>document.getElementById("found").textContent = JSON.stringify('
        '[...document.querySelectorAll("text")].map(text => text.getComputedTextLength()))</script>',
        encoding="utf-8",
    )
    command = [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}", "--dump-dom"]
    shown = subprocess.run([*command, str(page)], capture_output=True, text=True, check=True, timeout=60).stdout
    found = json.loads(shown.partition('<pre id="found">')[2].partition("<")[0])
    assert len(found) == len(texts)
    wider = {(text, kind): real for (text, kind), real in zip(texts, found, strict=True) if real > width(text, kind)}
    assert wider == {}
    assert min(found) > 0
